"""How well anybody could water the places of the trial: those who know what no grower can, lived through beside the others.

*Knows the place* has the true place, with all its water, every morning; *knows how places come about* has what our advice has (one
reading a week, the description of the place), and besides them the very laws and spreads by which the true places were drawn: of some hundred
places drawn alike, those that bear out the readings. Neither knows the weather to come beyond the forecast that our advice gets. Each
morning the two roll the true laws forward, over members of that forecast, and take the act of least expected cost. What they leave of the way to the
oracle is what the weather leaves, and what weekly readings leave. A third looks for the least water (:mod:`tests.measured.trial_sparing`).

``python -m tests.measured.trial_bounds`` lives all of it through (an hour and a half of two processors), going on where it was stopped.
"""

from __future__ import annotations

import csv
import io
import json
import math
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, field
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.costs import HAND_VISIT, LINE_VISIT, POT_VISIT, WATER_MM
from soakbook.advice.decide import probe_depth_m
from soakbook.balance.member_weather import members_at
from soakbook.balance.site import SURROUNDINGS, site_factor
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import BY_HAND, BY_HAND_H, DRY_KG_L, DRY_LOG_SD, Copies, Eyes, live
from soakbook.season.trial.oracle import FULL_CM, SLOW_H
from soakbook.season.trial.ours import FIRST_LOOK, MOIST_FROM, WEEK, WET_FROM
from soakbook.season.trial.score import Outcome, outcome
from soakbook.season.trial.told import Sky, members_told, sky
from soakbook.season.truth import uptake
from soakbook.season.truth.day import DayWeather
from soakbook.season.truth.draw import Hidden, Probe
from soakbook.season.truth.garden import FEEL_SD, content_at
from soakbook.weather.normals import normals_at
from tests.measured.trial_cases import KEPT_BOUNDS, LAWS, PLACE, cases, kept_results, least_water
from tests.measured.trial_sparing import SPARED, spared

FloatArray = NDArray[np.float64]

#: Members of the weather, and of what the place may be, that acts are rolled forward over (fewer where the place is known), and days. A pot is through with a soak sooner.
MEMBERS, DAYS_AHEAD, DAYS_AHEAD_POT = {"place": 6, "laws": 12}, 10, 7
#: Places drawn alike of which the readings pick.
CLOUD = 240
#: Amounts looked at, as parts of what is missing; amounts as days of what leaves want and the soil loses, where those are more: sand holds hardly anything against its
#: drainage, and yet is watered; and ways of going on: from which part of the water easily drawn on, back by which part.
PARTS, OF_DEMAND, GOES_ON = (
    (0.45, 0.75, 1.05, 1.5),
    (1.3, 2.5),
    ((0.3, 1.0), (0.5, 1.0), (0.75, 1.0), (1.1, 1.0), (0.5, 0.6), (0.5, 1.4)),
)
#: The ways of going on that are best after doing nothing are tried after watering as well.
WAYS_KEPT = 2
#: Part of the water easily drawn on that must be gone before watering is looked at.
LEAST_PART = 0.2
#: Of the difference between what is thought missing and what a member lacks, so much is noticed each day later on by one who reads weekly.
NOTICED = 0.3
#: Error of a pot's weight, as a part of its water: wider than the scales', since so few places are drawn.
WEIGHT_SD = 0.05
_DRY_Z = np.linspace(-3.0, 3.0, 61)


@dataclass(frozen=True)
class Sight:
    """What members lack within their roots, and what of it they draw on easily. (members,) [mm over the place]"""

    missing: FloatArray
    easily: FloatArray


def sight(truth: Copies, eto_mm: FloatArray | float) -> Sight:
    """All the water there is, against a place that has drained."""
    hidden = truth.hidden
    wanted = np.asarray(eto_mm) * hidden.kc
    turning = uptake.turning_head_cm(hidden.heads_cm, wanted)[:, None]
    most = np.maximum(hidden.root_start_cm, hidden.root_most_cm)
    full_day = hidden.stage_days[:, :2].sum(axis=1)
    depth = np.minimum(uptake.root_depth_cm(truth.day + 0.5, full_day, hidden.root_start_cm, most), hidden.root_stop_cm)
    missing, easily = np.zeros(len(truth)), np.zeros(len(truth))
    for f, foot in enumerate(truth.feet):
        rows, thick = foot.rows[foot.soil], foot.thick_cm
        height = np.cumsum(thick[:, ::-1], axis=1)[:, ::-1] - 0.5 * thick
        full = content_at(rows, np.where(hidden.is_pot[:, None], -height, FULL_CM))
        bottom = np.cumsum(thick, axis=1)
        reach = 10.0 * thick * np.clip((depth[:, None] - (bottom - thick)) / np.maximum(thick, 1e-9), 0.0, 1.0)
        share = hidden.foot_share[:, f] * (hidden.foot_dose[:, f] > 0.0)
        short = np.nan_to_num(np.maximum(full - foot.water_content(), 0.0))
        missing += share * (short * reach).sum(axis=1)
        easily += share * (np.maximum(full - content_at(rows, turning), 0.0) * reach).sum(axis=1)
    return Sight(missing, np.maximum(easily, 0.5))


def picked(hidden: Hidden, which: NDArray[np.int64]) -> Hidden:
    """Some of the places, as often as they are named."""

    def some(value: object) -> object:
        if isinstance(value, tuple):
            return tuple(value[k] for k in which.tolist())
        return value[which] if isinstance(value, np.ndarray) else value

    made = {name: some(value) for name, value in vars(hidden).items() if name != "probe"}
    return Hidden(probe=Probe(*(v[which] for v in vars(hidden.probe).values())), **made)  # type: ignore[arg-type]


def _like(case: Case, hidden: Hidden) -> Copies:
    return Copies(hidden, BY_HAND_H if case.place.means in BY_HAND else 0.0)


@dataclass
class Knower:
    """One who takes the act of least expected cost by the true laws.

    ``cloud`` holds what the place may be, lived through beside the truth, ``log_weights`` how likely each is by the readings. Without a cloud the true
    place is known. Today's demand, and the season's in all, are taken from the weather that came: they set scales, and tell nothing of days to come.
    """

    case: Case
    above: Sky
    cloud: Copies | None = None
    looks: int = 0
    log_weights: FloatArray = field(default_factory=lambda: np.zeros(CLOUD))
    _dry: FloatArray = field(default_factory=lambda: np.tile(-0.5 * _DRY_Z**2, (CLOUD, 1)))

    def decide(self, day: int, truth: Copies) -> tuple[FloatArray, FloatArray]:
        """The morning's act."""
        if day == 0:
            self._live_on(day, self.case.watered_in_mm, 0.0)
            return np.zeros(1), np.zeros(1)
        if self.cloud is not None and day % WEEK == FIRST_LOOK:
            self.read(day, truth)
        amount = self._best(day, truth)
        self._live_on(day, amount, SLOW_H)
        return np.array([amount]), np.array([SLOW_H])

    def _live_on(self, day: int, amount_mm: float, hours: float) -> None:
        if self.cloud is not None:
            asked = np.full(len(self.cloud), amount_mm)
            self.cloud.spread_over(asked, np.full(len(asked), hours))
            self.cloud.step(DayWeather(float(self.case.eto_mm[day]), float(self.case.rain_mm[day])), asked)

    def read(self, day: int, truth: Copies) -> None:
        """A reading, and how well each place of the cloud bears it out."""
        assert self.cloud is not None
        case, eyes = self.case, Eyes(truth, 0)
        self.looks += 1
        if case.place.pot is None:
            depth = 100.0 * probe_depth_m(case.laid, case.laid.index(case.day(day)))
            felt = int(np.digitize(eyes.feel(depth / 100.0), [MOIST_FROM, WET_FROM]))
            share = self.cloud.feel_mean(depth)
            below = [np.array([_normal((edge - s) / FEEL_SD) for s in share]) for edge in (0.25, 0.75)]
            odds = (below[0], below[1] - below[0], 1.0 - below[1])[felt]
            self.log_weights += np.log(np.maximum(odds, 1e-6))
            return
        weight = eyes.weight_kg(case.place)
        water = self.cloud.stored_mm() * case.place.area_m2 / case.place.pot.count
        dry = DRY_KG_L * case.place.pot.volume_l * np.exp(DRY_LOG_SD * _DRY_Z)
        off = (weight - water[:, None] - dry) / (WEIGHT_SD * water[:, None])
        self._dry += -0.5 * off**2 - np.log(water[:, None])
        self.log_weights = np.logaddexp.reduce(self._dry, axis=1)

    def _members(self, day: int, truth: Copies) -> Copies:
        """What the place may be, for each member of the weather: the truth itself, or places of the cloud by their weights."""
        if self.cloud is None:
            which, source = np.zeros(MEMBERS["place"], dtype=np.int64), truth
        else:
            weights = np.exp(self.log_weights - self.log_weights.max())
            weights /= weights.sum()
            rng = np.random.default_rng([self.case.seed, day, 31])
            count = MEMBERS["laws"]
            at = (np.arange(count) + rng.uniform()) / count
            which = rng.permutation(np.minimum(np.searchsorted(np.cumsum(weights), at), len(weights) - 1))
            source = self.cloud
        made = _like(self.case, picked(source.hidden, which))
        made.stand_as(source, which)
        return made

    def _best(self, day: int, truth: Copies) -> float:
        case = self.case
        here = self._members(day, truth)
        now = sight(here, float(case.eto_mm[day]))
        missing, easily = float(now.missing.mean()), float(now.easily.mean())
        if missing < LEAST_PART * easily:
            return 0.0
        through = float((here.hidden.flow_factor * (1.0 - here.hidden.lost_share)).mean())
        wait = self._rolled(day, here, now, np.array([(0.0, *way) for way in GOES_ON]))
        ways = [GOES_ON[k] for k in np.argsort(wait)[:WAYS_KEPT].tolist()]
        amounts = [p * missing / through for p in PARTS]
        lived = (truth if self.cloud is None else self.cloud).days[-1]
        use = float((lived.wanted + lived.evaporation).mean())
        amounts += [p * use / through for p in OF_DEMAND if p * use > PARTS[-1] * missing]
        tried = [(amount, *way) for amount in amounts for way in ways]
        costs = self._rolled(day, here, now, np.array(tried))
        return tried[int(np.argmin(costs))][0] if float(costs.min()) < float(wait.min()) else 0.0

    def _rolled(self, day: int, here: Copies, now: Sight, tried: FloatArray) -> FloatArray:
        """Expected cost of each candidate: an amount today, and a way of going on."""
        case, known = self.case, 1.0 if self.cloud is None else NOTICED
        c, m = len(tried), len(here)
        member = np.tile(np.arange(m), c)
        amount, trigger, fill = np.repeat(tried, m, axis=0).T
        rolled = _like(case, picked(here.hidden, member))
        rolled.stand_as(here, member)
        ahead = members_told(self.above, case.at + day, 50).pick(np.arange(m) * 50 // m)
        usual = SURROUNDINGS["pot" if case.place.kind == "pot" else "bed"]["garden"]
        at_place = members_at(case.place, ahead)
        eto = at_place.eto_mm() * (site_factor(case.place) / usual)
        rain = at_place.get("rain_mm")
        last = min(DAYS_AHEAD_POT if case.place.kind == "pot" else DAYS_AHEAD, case.days - day, eto.shape[1])
        thought = np.full(c * m, now.missing.mean())
        through = float((here.hidden.flow_factor * (1.0 - here.hidden.lost_share)).mean())
        put, visits = np.zeros(c * m), np.zeros(c * m)
        after = now
        for k in range(last):
            today = eto[member, k]
            after = sight(rolled, today)
            thought += known * (after.missing - thought)
            easily = known * after.easily + (1.0 - known) * float(after.easily.mean())
            if k == 0:
                asked = amount
            else:
                lived = rolled.days[-1]
                wants = np.maximum(fill * thought, OF_DEMAND[0] * (lived.wanted + lived.evaporation)) - rain[member, k]
                asked = np.where((thought >= trigger * easily) & (wants > 0.5), wants / through, 0.0)
            rolled.spread_over(asked, np.full(c * m, SLOW_H))
            rolled.step(DayWeather(today, rain[member, k]), asked)
            put += rolled.days[-1].put_on
            visits += asked > 0.0
            if known < 1.0:
                gone = rolled.days[-1].transpiration + rolled.days[-1].evaporation
                factor = float(here.hidden.demand_factor.mean()) / rolled.hidden.demand_factor
                thought = np.maximum(thought + gone * factor - rain[member, k] - asked * through, 0.0)
        end = sight(rolled, eto[member, last - 1])
        harvest = 100.0 * self._loss(rolled, np.tile(wanted_by_stage(case, here.hidden), (c, 1)))
        per_mm = 1.0 / (WATER_MM * max(float(np.max(case.laid.crops.base)), 1.0))
        visit = LINE_VISIT if case.place.line else HAND_VISIT if case.place.kind == "bed" else POT_VISIT
        owed = np.zeros(c * m)
        if day + last < case.days:
            use = eto * float(here.hidden.kc.mean())
            filled = float(np.mean(np.cumsum(rain - use, axis=1).max(axis=1) > 0.5 * after.easily.mean()))
            owed = (1.0 - filled) * end.missing * (per_mm / through + visit / np.maximum(end.easily, 1.0))
        cost = harvest + per_mm * put + visit * visits + owed
        return np.asarray(cost.reshape(c, m).mean(axis=1))

    def _loss(self, rolled: Copies, wanted: FloatArray) -> FloatArray:
        """Harvest lost by the season's end if nothing more were lost after what has been rolled: a day counts for what it is of its whole stage."""
        hidden = rolled.hidden
        lacking = rolled.lacking_mm()
        return uptake.yield_loss(wanted - lacking, wanted, hidden.ky, hidden.ky_season)


def wanted_by_stage(case: Case, hidden: Hidden) -> FloatArray:
    """What leaves would draw in each stage, never lacking anything, in the weather that comes. (places, 4) [mm]"""
    ends, made = np.cumsum(hidden.stage_days, axis=1), np.zeros((len(hidden), 4))
    places = np.arange(len(hidden))
    for day in range(case.days):
        age = np.full(len(hidden), day + 0.5)
        lai = uptake.leaf_area(age, hidden.stage_days, hidden.lai_most, hidden.lai_last)
        fade = np.clip((age - ends[:, 2]) / hidden.stage_days[:, 3], 0.0, 1.0)
        here = case.eto_mm[day] * hidden.demand_factor
        leaves, _ = uptake.split(here * (hidden.kc + fade * (hidden.kc_end - hidden.kc)), lai, hidden.extinction)
        stage = np.minimum((day + 0.5 > ends).sum(axis=1), 3)
        made[places, stage] += np.where(day < ends[:, 3], leaves * hidden.leaf_factor, 0.0)
    return made


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def sky_of(case: Case) -> Sky:
    """What forecasts of a season are made from, as our advice gets them."""
    garden = case.garden
    return sky(case.weather, normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m), case.seed)


def lived(case: Case, name: str) -> Outcome:
    """One of the two who know, through a season."""
    cloud = _like(case, case.drawn(CLOUD, case.seed + 500_000)) if name == LAWS else None
    knower = Knower(case, sky_of(case), cloud)
    return outcome(case, live(case, 1, knower.decide), 0, name, knower.looks)


def _part(task: tuple[Case, str, dict[str, float]]) -> list[Outcome]:
    case, name, losses = task
    return [lived(case, name)] if name else spared(case, losses)


def live_bounds(finished: Path, jobs: int) -> None:
    """All seasons of the proof by each of them; a season that stands in ``finished`` is not lived through again."""
    done: dict[tuple[str, str], Outcome] = {}
    if finished.exists():
        for line in finished.read_text(encoding="utf-8").splitlines():
            key, found = json.loads(line)
            done[key, found["policy"]] = Outcome(**found)
    results = {r.key: r for r in kept_results()}
    every: list[tuple[Case, str, dict[str, float]]] = [(case, LAWS, {}) for case in cases()]
    for case in cases():
        lost = {rule: o.loss_pct for rule in SPARED if (o := results[case.key].of(rule)) is not None}
        every.append((case, "", lost))
    every += [(case, PLACE, {}) for case in cases()]
    left = [t for t in every if any((t[0].key, name) not in done for name in _names(t))]
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        for (case, _, _), found in zip(left, pool.map(_part, left), strict=True):
            for one in found:
                done[case.key, one.policy] = one
                with finished.open("a", encoding="utf-8") as file:
                    file.write(json.dumps((case.key, asdict(one))) + "\n")
    rows = [(t[0].key, done[t[0].key, name]) for t in every for name in _names(t)]
    KEPT_BOUNDS.write_text(to_csv(rows), encoding="utf-8")


def _names(task: tuple[Case, str, dict[str, float]]) -> list[str]:
    return [task[1]] if task[1] else [least_water(rule) for rule in task[2]]


def to_csv(rows: Sequence[tuple[str, Outcome]]) -> str:
    """A row for each season, its place first."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["key", *Outcome.__dataclass_fields__])
    for key, found in rows:
        name, *figures = asdict(found).values()
        writer.writerow([key, name, *(f"{v:.2f}" for v in figures)])
    return out.getvalue()


def from_csv(text: str) -> list[tuple[str, Outcome]]:
    """Rows as :func:`to_csv` wrote them."""
    rows = list(csv.reader(io.StringIO(text)))[1:]
    return [(key, Outcome(name, *(float(v) for v in figures))) for key, name, *figures in rows]


def kept_bounds() -> list[tuple[str, Outcome]]:
    """As kept; none before the first run."""
    return from_csv(KEPT_BOUNDS.read_text(encoding="utf-8")) if KEPT_BOUNDS.exists() else []


if __name__ == "__main__":
    live_bounds(Path("trial-bounds.jsonl"), int(sys.argv[1]) if len(sys.argv) > 1 else 1)
