"""Faults in hidden gardens: how many are found, named right and how soon, and how many sound gardens are told of one.

The truth is the hidden garden of ``soakbook.season.truth`` (one-dimensional Richards, soils, roots, probe and faults of its own), under
weather measured at stations of the U.S. Climate Reference Network in 2020. It shares no soil physics with the balance that is asked. The
grower waters by a plain budget, writes everything down as meant, and once a week reads a dial probe and writes whether water came
out below (pots) or ran off (beds) that day; who looks closely also writes whether leaves hang at 4 pm and what a bucket at the tap finds
the flow to be; who looks thoroughly also reads a water meter, pushes the probe into beds at a second depth and weighs pots. What a fault does, when it begins and how bad it is, is drawn by the hidden garden.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import count

import numpy as np

from soakbook.garden.model import Garden, Line, LogEntry, Place
from soakbook.learning.faults import weigh
from soakbook.learning.reading import Reading
from soakbook.season.trial.case import Case
from soakbook.season.trial.proof import CLIMATES, Setup, proof_case
from soakbook.season.truth.draw import Fault, Hidden, Probe, Spread
from soakbook.season.truth.garden import Truth
from soakbook.weather.series import OWN_GAUGE, WeatherSeries
from tests.measured.budget import Budget
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
#: A week between readings, from this day on; seasons are followed for at most so long.
FIRST_READING, READ_EVERY, MOST_DAYS = 5, 7, 120
#: The second depth of the probe over the first, in beds.
DEEPER = 2.0
LOOK_AT, WATER_AT = time(23), time(7)
#: Flow of each line as the grower believes it, and a watch and a bucket's error in the logarithm (judged).
FLOW_LPH, BUCKET_SD = 60.0, 0.05
#: A water meter's own error, the same all season; what a pot weighs without its water and what its plant puts on by the harvest, each over
#: the mix in it (judged). [kg/L]
METER_SD, DRY_KG_L, GROWS_KG_L = 0.02, (0.15, 0.6), 0.05
#: Leaves hang at 4 pm on days on which plants get less than this part of what they want. Judged.
HANGS_BELOW = 0.5
#: What is written down every week (the deep dial is the probe at a second depth); a close and a thorough look add the rest.
DEEP_DIAL = "deep dial"
PLAIN_LOOK = ("dial", "came out below", "ran off")
CLOSE_LOOK = (*PLAIN_LOOK, "wilted at 4 pm", "flow")
LOOKS = {"plain": PLAIN_LOOK, "close": CLOSE_LOOK, "thorough": (*CLOSE_LOOK, "meter", DEEP_DIAL, "weight")}
#: Rain of a source some kilometres off: its error all season and that of a day's shower in the logarithm, the share of wet days that it misses,
#: and of dry ones on which it alone has some, by so much in the mean. Judged. [mm]
SOURCE_SD, SHOWER_SD, MISSED, ALONE, ALONE_MM = 0.20, 0.7, 0.15, 0.05, 4.0
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
    kinds = list(NAMES) if faulty else [Fault.NONE]
    cases = []
    for k in range(seasons):
        kind = kinds[k % len(kinds)]
        cases.append(drawn(k // len(kinds), k + k // len(SETUPS), seed + k, kind))
    hidden = together([c.hidden for c in cases], seed)
    return _live(cases, hidden)


def _can_have(setup: Setup, kind: Fault) -> bool:
    """Pots have no compacted layer, and soil does not repel water as a dry mix does."""
    if kind is Fault.COMPACTED:
        return setup.group != "pot"
    return kind is not Fault.REPELS or setup.group == "pot"


def drawn(setup_at: int, climate_at: int, seed: int, kind: Fault) -> Case:
    """A case with this fault (or none), of setups that can have it and climates each in turn: chance is asked again until it draws it."""
    setups, climates = [s for s in SETUPS if _can_have(s, kind)], list(CLIMATES)
    setup, climate = setups[setup_at % len(setups)], climates[climate_at % len(climates)]
    spread = Spread(faults=0.0 if kind is Fault.NONE else 1.0)
    for more in count():
        case = _on_a_line(proof_case(climate, setup, seed + 1000 * more, spread))
        if Fault(int(case.hidden.fault[0])) is kind:
            return case
    raise AssertionError(kind)


def _on_a_line(case: Case) -> Case:
    """The place on a line of its own, whose flow stands on its packet."""
    place = replace(case.place, line="line")
    line = Line("line", case.place.means, flow_lph=FLOW_LPH)
    return replace(case, garden=replace(case.garden, places=(place,), lines=(line,)))


def together(parts: Sequence[Hidden], seed: int) -> Hidden:
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


def depths_m(cases: Sequence[Case]) -> FloatArray:
    """Depth of the probe in each place."""
    return np.array([0.4 * c.place.pot.height_m if c.place.pot is not None else 0.15 for c in cases])


def _live(cases: Sequence[Case], hidden: Hidden) -> list[Lived]:
    truth, size = Truth(hidden), len(cases)
    pot = np.array([c.place.kind == "pot" for c in cases])
    length = np.array([min(c.days, MOST_DAYS) for c in cases])
    depth, budget = depths_m(cases), Budget(cases)
    gauge = [c.season.get("rain_mm").copy() for c in cases]
    log: list[list[LogEntry]] = [[] for _ in cases]
    readings: list[list[Reading]] = [[] for _ in cases]
    chance = np.random.default_rng([hidden.seed, 10])
    counts, tare = np.exp(METER_SD * chance.standard_normal(size)), chance.uniform(*DRY_KG_L, size)
    through_l = np.zeros(size)
    for day in range(int(length.max())):
        asked = budget.asked(day)
        seen = truth.step(budget.weather(day), asked)
        budget.caught(day, seen.gauge_mm)
        shown = truth.probe(100.0 * depth) if day % READ_EVERY == FIRST_READING else None
        deep = truth.probe(100.0 * DEEPER * depth, 1) if shown is not None else None
        flow, held_mm = _flow_seen(hidden, day), truth.weigh()
        through_l += counts * np.array([c.litres(mm) for c, mm in zip(cases, truth.days[-1].put_on, strict=True)])
        for k, case in enumerate(cases):
            if day >= length[k]:
                continue
            gauge[k][day] = seen.gauge_mm[k]
            on = case.day(day)
            if asked[k] > 0.0:
                log[k].append(LogEntry(f"w{day}", datetime.combine(on, WATER_AT), "water", case.place.name, litres=case.litres(float(asked[k]))))  # fmt: skip
            if shown is not None and deep is not None:
                at = datetime.combine(on, LOOK_AT)
                readings[k].append(Reading(f"d{day}", at, "dial", float(shown[k]), float(depth[k]), "probe"))
                wet = seen.drained_below[k] if pot[k] else seen.ran_off[k]
                readings[k].append(Reading(f"s{day}", at, "came out below" if pot[k] else "ran off", float(wet)))
                last = truth.days[-1]
                hangs = last.transpiration[k] < HANGS_BELOW * last.wanted[k]
                readings[k].append(Reading(f"h{day}", at, "wilted at 4 pm", float(hangs)))
                readings[k].append(Reading(f"f{day}", at, "flow", FLOW_LPH * float(flow[k])))
                readings[k].append(Reading(f"m{day}", at, "meter", float(np.round(through_l[k])), line="line"))
                if pot[k]:
                    dry = tare[k] + GROWS_KG_L * day / length[k]
                    readings[k].append(Reading(f"k{day}", at, "weight", _kg(case, dry, held_mm[k])))
                else:
                    readings[k].append(
                        Reading(f"{DEEP_DIAL} {day}", at, "dial", float(deep[k]), DEEPER * float(depth[k]), "probe")
                    )
    return [
        Lived(
            c.garden, _gauged(c.season, gauge[k], int(length[k]), c.seed), tuple(log[k]), tuple(readings[k]), c.first,
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


def _kg(case: Case, dry_kg_l: float, water_mm: float) -> float:
    """What one pot weighs."""
    pot = case.place.pot
    assert pot is not None
    return pot.volume_l * dry_kg_l + case.litres(water_mm) / pot.count


def _gauged(series: WeatherSeries, rain: FloatArray, days: int, seed: int) -> WeatherSeries:
    """The season's weather with the grower's own gauge in it, beside the rain of a source some kilometres off."""
    flags = np.zeros(len(series), dtype=np.uint8)
    flags[:days] = OWN_GAUGE
    source = _source_mm(series.get("rain_mm"), np.random.default_rng([seed, 12]))
    columns = {**series.columns, "rain_mm": rain, "rain_source_mm": np.where(flags == OWN_GAUGE, source, np.nan)}
    return replace(series, columns=columns, flags={**series.flags, "rain_mm": flags})


def _source_mm(rain: FloatArray, chance: np.random.Generator) -> FloatArray:
    """Rain of the source: off all season and day by day, with showers that only one of the two has. Judged."""
    size = len(rain)
    off = np.exp(SOURCE_SD * chance.standard_normal() + SHOWER_SD * chance.standard_normal(size) - 0.5 * SHOWER_SD**2)
    missed = chance.random(size) < MISSED
    alone = np.where(chance.random(size) < ALONE, chance.exponential(ALONE_MM, size), 0.0)
    return np.asarray(np.where(rain > 0.0, np.where(missed, 0.0, rain * off), alone))


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
    """By look (:data:`LOOKS`): what every sound and every faulty season was told."""

    sound: dict[str, tuple[Told, ...]]
    faulty: dict[str, tuple[Told, ...]]


def told(season: Lived, kinds: Sequence[str]) -> Told:
    """Ask after every :data:`ASK_EVERY`-th week, the last one included."""
    weeks = sorted({r.at for r in season.readings})
    early = False
    for at in sorted(weeks[: LEAST_WEEKS - 2 : -ASK_EVERY]):
        day = (at.date() - season.first).days
        named = _named(season, [r for r in season.readings if r.at <= at and _what(r) in kinds], at)
        if named and season.fault and day >= season.since:
            return Told(season.fault, season.since, season.place.kind, day, named, early)
        early |= bool(named)
    return Told(season.fault, season.since, season.place.kind, None, (), early)


def _what(reading: Reading) -> str:
    """What :data:`LOOKS` call it."""
    return DEEP_DIAL if reading.id.startswith(DEEP_DIAL) else reading.kind


def _named(season: Lived, readings: Sequence[Reading], at: datetime) -> tuple[str, ...]:
    done = [e for e in season.log if e.at <= at]
    found = weigh(season.garden, season.place, season.weather, done, readings, at.date() + timedelta(days=1))
    return () if found is None else found.told()


def seasons_of(sort: str) -> list[Lived]:
    """All "sound" or all "faulty" seasons."""
    is_faulty = sort == "faulty"
    return lived(SEASONS[sort], SEED + 500_000 * is_faulty, faulty=is_faulty)


def keep_faults() -> None:
    """So many sound and so many faulty seasons, looked at in every way; what was found is kept."""
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
