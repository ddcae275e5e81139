"""Faults in hidden gardens: how many are found, named right and how soon, and how many sound gardens are told of one.

The truth is the hidden garden of ``soakbook.season.truth`` (one-dimensional Richards, soils, roots, probe and faults of its own), under
weather measured at stations of the U.S. Climate Reference Network in 2020. It shares no soil physics with the balance that is asked. The
grower waters by a plain budget, writes everything down as meant, and once a week reads a dial probe and writes whether water came
out below (pots) or ran off (beds) that day; who looks closely also writes whether leaves hang at 4 pm and what a bucket at the tap finds
the flow to be. What a fault does, when it begins and how bad it is, is drawn by the hidden garden.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import count

import numpy as np

from soakbook.catalog import read as catalog
from soakbook.garden.model import Garden, Line, LogEntry, Place
from soakbook.learning.faults import weigh
from soakbook.learning.reading import Reading
from soakbook.season.trial.case import Case
from soakbook.season.trial.proof import CLIMATES, Setup, proof_case
from soakbook.season.truth.day import DayWeather
from soakbook.season.truth.draw import Fault, Hidden, Probe, Spread
from soakbook.season.truth.garden import Truth
from soakbook.weather.series import OWN_GAUGE, WeatherSeries
from tests.measured.kept import keep, kept
from tests.measured.scores import FloatArray

NAMES = {
    Fault.BLOCKED: "blocked", Fault.LEAK: "leak", Fault.NEVER_OPENED: "never opened", Fault.LEFT_ON: "left on",
    Fault.GAUGE_IN_SHADOW: "gauge in rain shadow", Fault.COMPACTED: "compacted", Fault.REPELS: "repels",
}  # fmt: skip
SETUPS = (
    Setup("tomato_tall", "loamy_sand", "drip_line", "coarse"),
    Setup("zucchini", "sandy_loam", "emitters", "moderately coarse"),
    Setup("bean_bush", "loam", "sprinkler", "medium"),
    Setup("tomato_bush", "silt_loam", "drip_line", "medium"),
    Setup("cabbage", "clay_loam", "soaker", "fine"),
    Setup("pepper_sweet", "multipurpose", "emitters", "pot", 0.30, 0.080),
    Setup("lettuce_leaf", "peat_perlite", "emitters", "pot", 0.20, 0.035),
)
#: A bed is looked at every third day and watered from so much missing, a pot every day. [mm]
BED_EVERY, BED_FROM_MM, POT_FROM_MM = 3, 8.0, 3.0
#: Beside the crop's coefficient, for bare ground. Judged.
GROUND_KC = 0.10
#: A week between readings, from this day on; seasons are followed for at most so long.
FIRST_READING, READ_EVERY, MOST_DAYS = 5, 7, 120
LOOK_AT, WATER_AT = time(23), time(7)
#: Flow of each line as the grower believes it, and a watch and a bucket's error in the logarithm (judged).
FLOW_LPH, BUCKET_SD = 60.0, 0.05
#: Leaves hang at 4 pm on days on which plants get less than this part of what they want. Judged.
HANGS_BELOW = 0.5
#: What is written down every week; a close look adds the rest.
PLAIN_LOOK = ("dial", "came out below", "ran off")
LOOKS = {"plain": PLAIN_LOOK, "close": (*PLAIN_LOOK, "wilted at 4 pm", "flow")}
#: Weeks between two times of asking, and the first of them; seasons of each sort; where their chance starts (the settings were tuned on others).
ASK_EVERY, LEAST_WEEKS, SEED = 5, 4, 210_000
SEASONS = {"sound": 28, "faulty": 42}


@dataclass(frozen=True)
class Lived:
    """A season as the grower has it, and what was wrong (``fault`` empty for nothing) from day ``since`` on."""

    garden: Garden
    weather: WeatherSeries
    log: tuple[LogEntry, ...]
    readings: tuple[Reading, ...]
    first: date
    fault: str
    since: int

    @property
    def place(self) -> Place:
        """The one place."""
        return self.garden.places[0]


def lived(seasons: int, seed: int, *, faulty: bool) -> list[Lived]:
    """So many seasons over the setups and climates in turn, all sound, or all faulty with each kind of fault in turn."""
    climates = list(CLIMATES)
    kinds = list(NAMES) if faulty else [Fault.NONE]
    cases = []
    for k in range(seasons):
        kind = kinds[k % len(kinds)]
        setups = [s for s in SETUPS if _can_have(s, kind)]
        setup = setups[(k // len(kinds)) % len(setups)]
        cases.append(_drawn(climates[(k + k // len(SETUPS)) % len(climates)], setup, seed + k, kind))
    hidden = _together([c.hidden for c in cases], seed)
    return _live(cases, hidden)


def _can_have(setup: Setup, kind: Fault) -> bool:
    """Pots have no compacted layer, and soil does not repel water as a dry mix does."""
    if kind is Fault.COMPACTED:
        return setup.group != "pot"
    return kind is not Fault.REPELS or setup.group == "pot"


def _drawn(wban: str, setup: Setup, seed: int, kind: Fault) -> Case:
    """A case with this fault (or none): chance is asked again until it draws it."""
    spread = Spread(faults=0.0 if kind is Fault.NONE else 1.0)
    for more in count():
        case = _on_a_line(proof_case(wban, setup, seed + 1000 * more, spread))
        if Fault(int(case.hidden.fault[0])) is kind:
            return case
    raise AssertionError(kind)


def _on_a_line(case: Case) -> Case:
    """The place on a line of its own, whose flow stands on its packet."""
    place = replace(case.place, line="line")
    line = Line("line", case.place.means, flow_lph=FLOW_LPH)
    return replace(case, garden=replace(case.garden, places=(place,), lines=(line,)))


def _together(parts: Sequence[Hidden], seed: int) -> Hidden:
    """Many true places in one, so that they are lived through side by side."""
    found: dict[str, object] = {}
    for name, value in vars(parts[0]).items():
        values = [getattr(p, name) for p in parts]
        if isinstance(value, tuple):
            found[name] = sum(values, ())
        elif isinstance(value, Probe):
            found[name] = Probe(*(np.concatenate([getattr(v, f) for v in values]) for f in vars(value)))
        elif isinstance(value, np.ndarray):
            found[name] = np.concatenate(values)
    return Hidden(**(found | {"seed": seed}))  # type: ignore[arg-type]


def _live(cases: Sequence[Case], hidden: Hidden) -> list[Lived]:
    truth, size = Truth(hidden), len(cases)
    pot = np.array([c.place.kind == "pot" for c in cases])
    length = np.array([min(c.days, MOST_DAYS) for c in cases])
    every, least = np.where(pot, 1, BED_EVERY), np.where(pot, POT_FROM_MM, BED_FROM_MM)
    depth = np.array([0.4 * c.place.pot.height_m if c.place.pot is not None else 0.15 for c in cases])
    efficiency = np.array([float(catalog.means()[c.place.means].efficiency) for c in cases])
    missing = np.zeros(size)
    gauge = [c.season.get("rain_mm").copy() for c in cases]
    log: list[list[LogEntry]] = [[] for _ in cases]
    readings: list[list[Reading]] = [[] for _ in cases]
    for day in range(int(length.max())):
        eto, rain, kc = (np.array([_at(v, day) for v in _by_day(cases, what)]) for what in ("eto", "rain", "kc"))
        due = (day % every == 0) & (missing >= least)
        asked = np.where(due, missing / efficiency, 0.0)
        if day == 0:
            asked = np.array([c.watered_in_mm for c in cases])
        missing = np.where(asked > 0.0, 0.0, missing)
        seen = truth.step(DayWeather(eto, rain), asked)
        missing = np.maximum(missing + eto * kc - seen.gauge_mm, 0.0)
        shown = truth.probe(100.0 * depth) if day % READ_EVERY == FIRST_READING else None
        flow = _flow_seen(hidden, day)
        for k, case in enumerate(cases):
            if day >= length[k]:
                continue
            gauge[k][day] = seen.gauge_mm[k]
            on = case.day(day)
            if asked[k] > 0.0:
                log[k].append(LogEntry(f"w{day}", datetime.combine(on, WATER_AT), "water", case.place.name, litres=case.litres(float(asked[k]))))  # fmt: skip
            if shown is not None:
                at = datetime.combine(on, LOOK_AT)
                readings[k].append(Reading(f"d{day}", at, "dial", float(shown[k]), float(depth[k]), "probe"))
                wet = seen.drained_below[k] if pot[k] else seen.ran_off[k]
                readings[k].append(Reading(f"s{day}", at, "came out below" if pot[k] else "ran off", float(wet)))
                last = truth.days[-1]
                hangs = last.transpiration[k] < HANGS_BELOW * last.wanted[k]
                readings[k].append(Reading(f"h{day}", at, "wilted at 4 pm", float(hangs)))
                readings[k].append(Reading(f"f{day}", at, "flow", FLOW_LPH * float(flow[k])))
    return [
        Lived(
            c.garden, _gauged(c.season, gauge[k], int(length[k])), tuple(log[k]), tuple(readings[k]), c.first,
            NAMES.get(Fault(int(hidden.fault[k])), ""), int(hidden.fault_day[k]),
        )
        for k, c in enumerate(cases)
    ]  # fmt: skip


def _flow_seen(hidden: Hidden, day: int) -> FloatArray:
    """What a bucket and a watch find at the tap, over the flow believed: true flow, blocked or leaking as the hidden garden has it. A
    shut tap is opened for it."""
    flow, begun = hidden.flow_factor.copy(), day >= hidden.fault_day
    flow = np.where((hidden.fault == Fault.BLOCKED) & begun, flow * (0.1 + 0.5 * hidden.fault_size), flow)
    flow = np.where((hidden.fault == Fault.LEAK) & begun, flow * (1.1 + 0.4 * hidden.fault_size), flow)
    chance = np.random.default_rng([hidden.seed, day, 9])
    return np.asarray(flow * np.exp(BUCKET_SD * chance.standard_normal(len(flow))))


def _by_day(cases: Sequence[Case], what: str) -> list[FloatArray]:
    if what == "kc":
        return [np.asarray(c.laid.crops.kcb + GROUND_KC) for c in cases]
    return [c.eto_mm if what == "eto" else c.rain_mm for c in cases]


def _at(values: FloatArray, day: int) -> float:
    return float(values[min(day, len(values) - 1)])


def _gauged(series: WeatherSeries, rain: FloatArray, days: int) -> WeatherSeries:
    """The season's weather with the grower's own gauge in it."""
    flags = np.zeros(len(series), dtype=np.uint8)
    flags[:days] = OWN_GAUGE
    return replace(series, columns={**series.columns, "rain_mm": rain}, flags={**series.flags, "rain_mm": flags})


@dataclass(frozen=True)
class Told:
    """What became of one season: ``day`` of the first warning that could be right (None: never told), what was ``named`` then, and
    whether the grower was ever warned of nothing (``early``: before the fault began; in a sound garden: at all)."""

    fault: str
    since: int
    kind: str
    day: int | None
    named: tuple[str, ...]
    early: bool


@dataclass(frozen=True)
class FaultFindings:
    """By look (plain, close): what every sound and every faulty season was told."""

    sound: dict[str, tuple[Told, ...]]
    faulty: dict[str, tuple[Told, ...]]


def told(season: Lived, kinds: Sequence[str]) -> Told:
    """Ask after every :data:`ASK_EVERY`-th week, the last one included."""
    weeks = sorted({r.at for r in season.readings})
    early = False
    for at in sorted(weeks[: LEAST_WEEKS - 2 : -ASK_EVERY]):
        day = (at.date() - season.first).days
        named = _named(season, [r for r in season.readings if r.at <= at and r.kind in kinds], at)
        if named and season.fault and day >= season.since:
            return Told(season.fault, season.since, season.place.kind, day, named, early)
        early |= bool(named)
    return Told(season.fault, season.since, season.place.kind, None, (), early)


def _named(season: Lived, readings: Sequence[Reading], at: datetime) -> tuple[str, ...]:
    done = [e for e in season.log if e.at <= at]
    found = weigh(season.garden, season.place, season.weather, done, readings, at.date() + timedelta(days=1))
    return () if found is None else found.told()


def seasons_of(sort: str) -> list[Lived]:
    """All "sound" or all "faulty" seasons."""
    is_faulty = sort == "faulty"
    return lived(SEASONS[sort], SEED + 500_000 * is_faulty, faulty=is_faulty)


def keep_faults() -> None:
    """So many sound and so many faulty seasons, looked at plainly and closely; what was found is kept."""
    seasons = {sort: seasons_of(sort) for sort in ("sound", "faulty")}
    keep(
        "faults",
        {
            f"{sort}, {look}": [told(s, kinds) for s in some]
            for sort, some in seasons.items()
            for look, kinds in LOOKS.items()
        },
    )


def fault_findings() -> FaultFindings:
    """What was kept of all seasons."""
    found = kept("faults", Told)
    sound, faulty = ({look: found[f"{sort}, {look}"] for look in LOOKS} for sort in ("sound", "faulty"))
    return FaultFindings(sound, faulty)
