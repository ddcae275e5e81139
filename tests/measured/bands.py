"""Do the bands hold? Truth known, 80 % bands of the fraction used counted, before and after readings, at several days ahead.

Two truths. *Ours*: the balance itself, its parameters drawn from their spread and each day's demand and rain off by errors of their own
(another chance than the members' paths). *Hidden*: the garden of :mod:`soakbook.season.truth`, solved by Richards' equation, which
is not our model; real weather of 2020, soils and crops of the proof, watered as the best guess had it, no faults. The days ahead
bring the weather that came: bands are of what is not known of the place.

What the hidden place has used is taken by its own soil's two ends: what two days of drainage leave, and 1,500 kPa; other upper ends that
one could take (:data:`OTHER_FULL_CM`) are counted beside it. Its hand calls "wet" what is wetter than at 200 cm of suction, and "dry" the
driest quarter.

Gardens are of seeds from :data:`FRESH` on. No size in the balance or in the observation models was chosen on those; whoever changes a size
with an eye on these figures takes other seeds to choose by.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.season import water_by_rule
from soakbook.balance.place import PlaceDays, place_days, with_members
from soakbook.balance.spread import draw_members
from soakbook.balance.wander import DEMAND_LAG, DEMAND_SD, RAIN_SD, SLOW_LAG, SLOW_SD
from soakbook.garden.model import LogEntry, Place
from soakbook.learning.filter import Learnt, learn, pick
from soakbook.learning.reading import Reading
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import Copies, Eyes, live
from soakbook.season.trial.proof import CLIMATES, SETUPS, proof_case
from soakbook.season.truth.columns import advance, columns
from soakbook.season.truth.curves import Soil
from soakbook.season.truth.kinds import FREE, SEEPAGE
from tests.measured.kept import keep, kept
from tests.unit.learning.scene import BED, POT, TODAY, Truth, garden, log, taken, weather

FloatArray = NDArray[np.float64]

LEADS = (0, 1, 3, 7, 14)
#: Days of the season on whose mornings bands are made, and days between readings.
MORNINGS, WEEK = (34, 55, 76), 7
#: Members behind a band; how far a truth may lie beyond its edge and count as inside (both are rounded to that anywhere they are shown).
COUNT, SLACK = 300, 0.005
#: Truths of our own model and place (the first is the best guess and left out).
OWN = 121
#: Readings that bands are made with: none, and each set that a place is looked at with.
OWN_READ = {"bed": "dial and hand, weekly", "pot": "scales and hand, every fourth day"}
HIDDEN_READ: dict[str, dict[str, tuple[str, ...]]] = {
    "bed": {"none": (), "dial, weekly": ("dial",), "dial and hand, weekly": ("dial", "feel")},
    "pot": {"none": (), "dial, weekly": ("dial",), "dial and scales, weekly": ("dial", "weight")},
}
DEPTH_M = 0.12
#: Hours after saturation at which a soil counts as drained.
DRAINED_H = 48
#: Suctions at which a soil could be called full instead: 100 cm, 200 cm, 33 kPa. [cm]
OTHER_FULL_CM = (100.0, 200.0, 336.5)
#: First seed of the hidden gardens, and how many of a pot there are in each climate (of a bed one; there are four times as many kinds).
FRESH, POTS = 47_000_000, 3
#: Dry weight of a litre of mix with its plant and pot, in the hidden garden. [kg]
DRY_KG_L = 0.3


@dataclass(frozen=True)
class Seen:
    """One band against one truth."""

    truth: str
    kind: str
    ground: str
    after: str
    lead: int
    low: float
    high: float
    was: float
    was_else: tuple[float, ...] = ()

    @property
    def inside(self) -> bool:
        """Whether the truth lies in the band."""
        return self._holds(self.was)

    @property
    def inside_else(self) -> tuple[bool, ...]:
        """The same by the other definitions of full."""
        return tuple(self._holds(was) for was in self.was_else)

    def _holds(self, was: float) -> bool:
        return self.low - SLACK <= was <= self.high + SLACK


def bands_seen() -> tuple[Seen, ...]:
    """All bands of both truths, as they were kept."""
    return tuple(seen for group in kept("bands", Seen).values() for seen in group)


def keep_bands() -> None:
    """Find all bands of both truths, and keep them by place."""
    own = {f"ours, {place.kind}": own_seen(place) for place in (BED, POT)}
    keep("bands", own | {name: hidden_seen(case) for name, case in hidden_cases().items()})


def hidden_cases() -> dict[str, Case]:
    """Hidden gardens by name: in each climate of the proof one of each of its beds, and :data:`POTS` of each of its pots."""
    return {
        f"{wban}, {setup.plant}, {k}": proof_case(wban, setup, FRESH + 100 * w + 10 * s + k)
        for w, wban in enumerate(CLIMATES)
        for s, setup in enumerate(SETUPS)
        for k in range(1 if setup.group != "pot" else POTS)
    }


def own_seen(place: Place, most: int = OWN) -> list[Seen]:
    """Bands where the balance itself is the truth, with real weather: a bed read weekly or a pot read every fourth day, of the first
    ``most`` truths."""
    every, rng, found = 7 if place is BED else 4, np.random.default_rng(33), []
    truth = _own_truths(place, rng)
    index = truth.days.index(TODAY)
    was = truth.days.used_by_day(truth.run, 0)[[index - 1 + lead for lead in LEADS]]
    dates = [TODAY - timedelta(days=5 + every * k) for k in range(5 if place is BED else 3)]
    prior = _own_band(place, [])
    for k in range(1, most):
        for after, band in (("none", prior), (OWN_READ[place.kind], _own_band(place, taken(truth, k, rng, dates)))):
            found += [
                Seen("ours", place.kind, "", after, lead, band[0, i], band[1, i], was[i, k])
                for i, lead in enumerate(LEADS)
            ]
    return found


def _own_truths(place: Place, rng: np.random.Generator) -> Truth:
    """Truths with errors of single days that are of no member's path."""
    members = replace(draw_members(place, OWN, rng), paths=None)
    days = place_days(garden(), place, weather(), log(), members, until=TODAY)
    shape = (len(days.days), OWN)
    off = DEMAND_SD * _lasting(shape, DEMAND_LAG, rng) + SLOW_SD * _lasting(shape, SLOW_LAG, rng)
    demand = np.exp(off - 0.5 * (DEMAND_SD**2 + SLOW_SD**2))
    rain = np.exp(RAIN_SD * rng.standard_normal(shape) - 0.5 * RAIN_SD**2)
    f, n = days.forcing, days.steps_a_day
    forcing = replace(f, eto_mm=f.eto_mm * np.repeat(demand, n, axis=0), rain_mm=f.rain_mm * np.repeat(rain, n, axis=0))
    days = replace(days, forcing=forcing)
    return Truth(days, days.run(days.start(), 0, len(days.days)))


def _lasting(shape: tuple[int, int], lag: float, rng: np.random.Generator) -> FloatArray:
    out = rng.standard_normal(shape)
    for t in range(1, shape[0]):
        out[t] = lag * out[t - 1] + np.sqrt(1.0 - lag**2) * out[t]
    return out


def _own_band(place: Place, readings: Sequence[Reading]) -> FloatArray:
    return _band(learn(garden(), place, weather(), log(), readings, TODAY), log())


@dataclass(frozen=True)
class Lived:
    """A hidden garden lived through: what it had used at the end of each day, ``used`` (days,) and by the other definitions ``used_else``
    (definitions, days); what was poured, and what was read."""

    case: Case
    used: FloatArray
    used_else: FloatArray
    log: tuple[LogEntry, ...]
    readings: tuple[Reading, ...]


def lived(case: Case, every: int = WEEK) -> Lived:
    """Live through a case, watered as the best guess has it, with a look at it every so many mornings."""
    asked = _asked(case)
    fulls, dry, part = _true_store(case)
    used = np.full((len(fulls), case.days), np.nan)
    readings: list[Reading] = []

    def decide(day: int, truth: Copies) -> tuple[FloatArray, FloatArray]:
        if day:
            reach = part(case.laid.crops.reach_m[day - 1])
            held = truth.water_content()[1][0, 0]
            used[:, day - 1] = np.minimum(np.maximum(fulls - held, 0.0) @ reach / ((fulls - dry) @ reach), 1.0)
        if day % every == 3 % every:
            readings.extend(_taken(case, day, Eyes(truth, 0)))
        return np.array([asked[day]]), np.zeros(1)

    live(case, 1, decide)
    log = [_poured(case, day, mm) for day, mm in enumerate(asked) if mm > 0.0]
    return Lived(case, used[0], used[1:], tuple(log), tuple(readings))


def hidden_seen(case: Case) -> list[Seen]:
    """Bands of one hidden garden, on each morning, after each set of readings."""
    one = lived(case)
    found = []
    for morning in MORNINGS:
        if morning + LEADS[-1] < case.days:
            so_far = [r for r in one.readings if r.at.date() < case.day(morning)]
            for after, kinds in HIDDEN_READ[case.place.kind].items():
                band = band_at(case, one.log, [r for r in so_far if r.kind in kinds], case.day(morning))
                found += [
                    Seen(
                        "hidden",
                        case.place.kind,
                        case.ground,
                        after,
                        lead,
                        band[0, k],
                        band[1, k],
                        one.used[morning - 1 + lead],
                        tuple(one.used_else[:, morning - 1 + lead].tolist()),
                    )
                    for k, lead in enumerate(LEADS)
                ]
    return found


def _asked(case: Case) -> FloatArray:
    """Waterings as the best guess asks for them, over the whole place, knowing the weather. [mm]"""
    asked = np.zeros(case.days)
    for soak in water_by_rule(case.laid, 0, case.days).soaks:
        asked[(soak.on - case.first).days] = soak.litres / case.laid.laid.ground_m2
    asked[0] = case.watered_in_mm
    return asked


def _poured(case: Case, day: int, mm: float) -> LogEntry:
    at = datetime.combine(case.day(day), time(7), ZoneInfo("UTC"))
    return LogEntry(f"w{day}", at, "water", case.place.name, case.litres(mm if day else case.watered_in_mm))


def _taken(case: Case, day: int, eyes: Eyes) -> list[Reading]:
    """A dial and a hand; a pot is weighed and tried with the dial. At 6 in the morning, before anything is put on."""
    at = datetime.combine(case.day(day), time(6), ZoneInfo("UTC"))
    found = [Reading(f"d{day}", at, "dial", eyes.dial(DEPTH_M), DEPTH_M, "one")]
    pot = case.place.pot
    if pot is None:
        felt = (0, 1, 1, 2, 2, 2)[eyes.feel(DEPTH_M)]
        return [*found, Reading(f"f{day}", at, "feel", felt, DEPTH_M)]
    kg = eyes.water_mm() * case.laid.laid.ground_m2 + DRY_KG_L * pot.volume_l
    return [*found, Reading(f"k{day}", at, "weight", kg)]


def _true_store(case: Case) -> tuple[FloatArray, FloatArray, Callable[[float], FloatArray]]:
    """What each cell of the true place holds when full, (definitions, cells), the first drained, and when wilted [m³/m³]; and the part
    of it (in cm) within a depth.

    Drained is what is left two days after saturation with nothing drawn, by the true soil's own equation (field capacity as F. J. Veihmeyer
    and A. H. Hendrickson, Soil Sci. 32:181-193, 1931, have it, from memory: two or three days after a soaking); a pot, which drains to
    its base, likewise. Wilted is 1,500 kPa.
    """
    hidden = case.hidden
    thick, soils = hidden.thick_cm[0], hidden.layers[0]
    below = SEEPAGE if case.place.kind == "pot" else FREE
    drained = columns([thick], [soils], [np.full(len(thick), -0.5)], kind=below)
    advance(drained, np.ones(DRAINED_H), 0.0, 0.0, 0.0)
    dry = np.array([_theta(s, 15_300.0) for s in soils])
    edges = np.append(0.0, np.cumsum(thick))

    def part(reach_m: float) -> FloatArray:
        return np.clip(100.0 * reach_m - edges[:-1], 0.0, thick)

    others = [[_theta(s, suction) for s in soils] for suction in OTHER_FULL_CM]
    return np.array([drained.water_content()[0], *others]), dry, part


def _theta(soil: Soil, suction_cm: float) -> float:
    """Water content at a suction (van Genuchten)."""
    held = (1.0 + (soil.alpha_per_cm * suction_cm) ** soil.n) ** (1.0 / soil.n - 1.0)
    return float(soil.theta_r + (soil.theta_s - soil.theta_r) * held)


def band_at(case: Case, poured: Sequence[LogEntry], readings: Sequence[Reading], today: date) -> FloatArray:
    """Lower and upper edge of the 80 % band at :data:`LEADS`, (2, leads)."""
    until = [e for e in poured if e.at.date() < today]
    return _band(learn(case.garden, case.place, case.season, until, readings, today), poured)


def _band(learnt: Learnt, poured: Sequence[LogEntry]) -> FloatArray:
    """Members that stand for what was learnt, run through what was poured before and after."""
    members, _ = pick(learnt, COUNT)
    d, today = learnt.days, learnt.days.days[learnt.today].astype(date)
    put = with_poured(d, poured, today)
    whole = with_members(put, members)
    n, last = whole.steps_a_day, learnt.today + LEADS[-1]
    run = whole.run(whole.start(), 0, last, keep=np.arange(n - 1, last * n, n), fluxes=False)
    used = whole.used_by_day(run, 0)[[learnt.today - 1 + lead for lead in LEADS]]
    return np.quantile(used, (0.1, 0.9), axis=1)


def with_poured(days: PlaceDays, poured: Sequence[LogEntry], today: date) -> PlaceDays:
    """The place with what was put on after today as well."""
    put, n = days.forcing.irrigation_mm.copy(), days.steps_a_day
    for entry in poured:
        if entry.litres is not None and entry.place == days.place.name and entry.at.date() >= today:
            day = days.index(entry.at.date())
            put[0, day * n + (entry.at.hour if n > 1 else 0), 0] += days.depth_mm(entry.litres, day)
    return replace(days, forcing=replace(days.forcing, irrigation_mm=put))
