"""Faults named from readings: our own balance with one fault put in is the truth, and the readings are taken of it.

That shows that each fault can be told apart when the balance is right. How often it is in a world the balance does not know is in
``tests/measured/faults.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.balance.place import PlaceDays, place_days
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Garden, Line, LogEntry, Place, PotShape
from soakbook.learning import faults, observe
from soakbook.learning.faults import Suspicion, Weighed, suspicions, weigh
from soakbook.learning.faults_cases import Run, runs_and_cases, sound
from soakbook.learning.faults_run import signals_of, stretches
from soakbook.learning.faults_see import FloatArray, Sight, log_evidence
from soakbook.learning.reading import Kind, Reading, layer_at, moment_of, water_at
from soakbook.weather.series import OWN_GAUGE, WeatherSeries
from tests.unit.learning.scene import BED, POT, TODAY, at, garden, log, reading, weather

LINE = Line("drip", "drip_line", flow_lph=60.0, flow_is_measured=True)
ON_LINE = replace(BED, means="drip_line", line="drip", wetted_fraction=None)
MIX_POT = replace(POT, means="emitters", line="drip", pot=PotShape(0.3, 0.07, 0.05))
FROM = date(2017, 5, 16)
DATES = [FROM + timedelta(2 * k) for k in range(26)]


def scene(place: Place) -> Garden:
    return replace(garden(), places=(place,), lines=(LINE,))


def dry_spell(place: Place, part: float = 1.0) -> tuple[LogEntry, ...]:
    """Waterings every third day to the line's bed, every day to the pot; ``part`` of what they need."""
    litres = part * (60.0 if place.pot is None else 1.5)
    every = 3 if place.pot is None else 1
    days = range(0, 54, every)
    return tuple(LogEntry(f"w{k}", at(FROM + timedelta(k), 7.0), "water", place.name, litres=litres) for k in days)


def sky(rain: float = 1.0) -> WeatherSeries:
    """The scene's weather with so much rain by the own gauge on every ninth day. [mm]"""
    series = weather()
    flags = np.full(len(series), OWN_GAUGE, dtype=np.uint8)
    wet = (series.times - np.datetime64(FROM)).astype(int) % 9 == 4
    columns = {**series.columns, "rain_mm": np.where(wet, rain, 0.0)}
    return replace(series, columns=columns, flags={**series.flags, "rain_mm": flags})


def seen(
    place: Place, run: Run, series: WeatherSeries, part: float = 1.0, deeper_m: float | None = None, log: Sequence[LogEntry] | None = None
) -> list[Reading]:  # fmt: skip
    """A good sensor every other evening in a truth with the fault ``run``: the best guess of the place; ``deeper_m`` a second one."""
    rng, log = np.random.default_rng(3), dry_spell(place, part) if log is None else log
    days = place_days(scene(place), place, series, log, draw_members(place, 2, np.random.default_rng(5), LINE), until=TODAY)  # fmt: skip
    depth = 0.15 if place.pot is None else 0.10
    asked = [reading(f"s{k}", d, "sensor", 0.2, depth, "grey") for k, d in enumerate(DATES)]
    if deeper_m is not None:
        asked += [reading(f"d{k}", d, "sensor", 0.2, deeper_m, "blue") for k, d in enumerate(DATES)]
    held = looked_at(days, run, asked, log)
    noise = 0.5 * observe.SENSOR_SD * rng.standard_normal(len(held))
    return [replace(r, value=float(np.clip(h + e, 0.0, 1.0))) for r, h, e in zip(asked, held, noise, strict=True)]


def looked_at(days: PlaceDays, run: Run, asked: Sequence[Reading], log: Sequence[LogEntry]) -> FloatArray:
    """What readings look at in a truth with the fault ``run``."""
    sights = [Sight(r, moment_of(days, r.at, log), 1.0) for r in asked]
    end = days.index(TODAY)
    return signals_of(days, [sound(end), _for_two(run, end)], sights, [run.first], end)[:, 1, 0]


def below(run: Run, part: float) -> list[Reading]:
    """Whether water came out below the pot that day, looked at every other evening."""
    log = dry_spell(MIX_POT, part)
    days = place_days(scene(MIX_POT), MIX_POT, sky(), log, draw_members(MIX_POT, 2, np.random.default_rng(5), LINE), until=TODAY)  # fmt: skip
    asked = [reading(f"b{k}", d, "came out below", 0) for k, d in enumerate(DATES)]
    passed = looked_at(days, run, asked, log)
    return [replace(r, value=float(mm > observe.SEEN_BELOW_MM)) for r, mm in zip(asked, passed, strict=True)]


def _for_two(run: Run, end: int) -> Run:
    def two(values: np.ndarray | None) -> np.ndarray | None:
        return None if values is None else np.repeat(values, 2)

    return replace(run, last=end, delivered=two(run.delivered), rain=two(run.rain))


def start() -> int:
    """Day of the run on which a fault is put in: four weeks after the first reading."""
    return int((np.datetime64(FROM + timedelta(27)) - weather().times[0]) / np.timedelta64(1, "D"))


def weighed(
    place: Place, run: Run, *, rain: float = 1.0, part: float = 1.0, readings: Sequence[Reading] | None = None
) -> Weighed:
    series = sky(rain)
    taken = readings if readings is not None else seen(place, run, series, part)
    found = weigh(scene(place), place, series, dry_spell(place, part), taken, TODAY)
    assert found is not None
    return found


def test_nothing_wrong_is_told_of_a_sound_place() -> None:
    for place in (ON_LINE, MIX_POT):
        found = weighed(place, sound(999))
        assert found.told() == ()
        assert found.wrong < 0.3


def test_a_blocked_emitter_is_found_and_dated() -> None:
    found = weighed(ON_LINE, Run(start(), 999, delivered=np.array([0.15])))
    assert found.told()[0] == "blocked"
    since = found.likeliest("blocked").first
    assert since is not None
    assert abs(since - start()) <= 8


def test_waterings_that_never_happened_are_found() -> None:
    run = Run(start(), 999, shut_until=start() + 12)
    assert weighed(ON_LINE, run).told()[0] == "never opened"


def test_a_line_left_on_is_found_where_the_bed_was_dry() -> None:
    run = Run(start(), 999, extra=(start(), 90.0))
    assert weighed(ON_LINE, run, part=0.3).told()[0] == "left on"


def test_a_gauge_in_a_rain_shadow_is_found() -> None:
    found = weighed(ON_LINE, Run(0, 999, rain=np.array([2.6])), rain=9.0, part=0.3)
    assert found.told()[0] == "gauge in rain shadow"
    assert found.likeliest("gauge in rain shadow").more


def test_a_compacted_layer_is_found() -> None:
    run = Run(0, 999, pan_m=0.20)
    found = weighed(ON_LINE, run, rain=15.0, readings=seen(ON_LINE, run, sky(15.0), deeper_m=0.30))
    assert found.told()[0] == "compacted"
    assert found.likeliest("compacted").first is None


@pytest.mark.parametrize(("bypass", "part"), [(0.9, 0.5), (0.8, 1.0)])
def test_a_mix_that_repels_is_found_where_water_comes_out_below_a_dry_pot(bypass: float, part: float) -> None:
    run = Run(0, 999, bypass=bypass)
    soil = seen(MIX_POT, run, sky(), part)
    assert weighed(MIX_POT, run, part=part, readings=soil).of("repels") < 0.7
    found = weighed(MIX_POT, run, part=part, readings=[*soil, *below(run, part)])
    assert found.told() == ("repels",)
    assert found.of("repels") > 0.95


def test_a_pot_from_which_nothing_comes_is_blocked_and_does_not_repel() -> None:
    run = Run(start(), 999, delivered=np.array([0.2]))
    found = weighed(MIX_POT, run, readings=[*seen(MIX_POT, run, sky()), *below(run, 1.0)])
    assert found.of("blocked") > 20.0 * found.of("repels")


def test_flow_tells_a_leak_from_a_blocked_emitter() -> None:
    run = Run(start(), 999, delivered=np.array([0.5]))
    soil = seen(ON_LINE, run, sky())
    late = [d for d in DATES if d > FROM + timedelta(28)]
    early = [d for d in DATES if d < FROM + timedelta(26)]
    for factor, fault in ((0.5, "blocked"), (1.3, "leak")):
        flows = [reading(f"f{k}", d, "flow", 60.0) for k, d in enumerate(early[::4])]
        flows += [reading(f"g{k}", d, "flow", 60.0 * factor) for k, d in enumerate(late[::4])]
        found = weighed(ON_LINE, run, readings=[*soil, *flows])
        assert found.told()[0] == fault
        assert found.of(found.told()[0]) > 0.9


def test_the_order_of_readings_does_not_matter_and_one_sent_twice_counts_once() -> None:
    taken = seen(ON_LINE, Run(start(), 999, delivered=np.array([0.3])), sky())
    plain = weighed(ON_LINE, sound(999), readings=taken)
    for other in (taken[::-1], [*taken[10:], *taken[:10], taken[4]]):
        assert weighed(ON_LINE, sound(999), readings=other).odds == pytest.approx(plain.odds, abs=1e-12)


def test_few_readings_point_to_nothing_and_cost_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*args: object, **kwargs: object) -> None:
        raise AssertionError("the balance was run")

    monkeypatch.setattr(faults, "place_days", never)
    two = [reading("a", DATES[0], "dial", 5.0), reading("b", DATES[3], "dial", 1.0)]
    assert suspicions(scene(ON_LINE), ON_LINE, weather(), dry_spell(ON_LINE), two, TODAY) == ()
    assert suspicions(scene(ON_LINE), ON_LINE, weather(), dry_spell(ON_LINE), [], TODAY) == ()


def test_readings_from_today_on_do_not_count() -> None:
    late = [reading(f"l{k}", TODAY + timedelta(k), "dial", 0.0) for k in range(4)]
    assert suspicions(scene(ON_LINE), ON_LINE, weather(), dry_spell(ON_LINE), late, TODAY) == ()


def test_a_can_cannot_be_blocked() -> None:
    days = place_days(garden(), BED, weather(), log(), draw_members(BED, 4, np.random.default_rng(1)), until=TODAY)
    assert {c.fault for c in runs_and_cases(days, weather(), [120, 130], 150, np.random.default_rng(1))[1]} == {
        "gauge in rain shadow",
        "compacted",
    }


def test_without_waterings_a_long_run_of_surprises_still_counts() -> None:
    """A bed that lives on rain and gets far less of it than is counted, looked at in three depths."""
    run = Run(0, 999, rain=np.array([0.25]))
    series, place = sky(40.0), replace(BED, name="rain-fed")
    days = place_days(scene(place), place, series, (), draw_members(place, 2, np.random.default_rng(5)), until=TODAY)
    asked = [
        reading(f"{by}{k}", d, "sensor", 0.2, deep, by)
        for by, deep in (("grey", 0.15), ("blue", 0.25), ("red", 0.40))
        for k, d in enumerate(DATES)
    ]
    held = looked_at(days, run, asked, ())
    taken = [replace(r, value=float(h)) for r, h in zip(asked, held, strict=True)]
    for seed in (1, 2, 3, 4):
        found = weigh(scene(place), place, series, (), taken, TODAY, seed=seed)
        assert found is not None
        assert found.told() == ("gauge in rain shadow",)
        assert not found.likeliest("gauge in rain shadow").more


def test_one_hand_that_feels_and_squeezes_has_one_bias() -> None:
    """Felt dry and squeezed dry in soil that is wet: by one hand that is likelier than by two hands that are both so far off."""
    place = BED
    days = place_days(garden(), place, weather(), log(), draw_members(place, 2, np.random.default_rng(5)), until=TODAY)

    def odds(by: str, kind: Kind) -> FloatArray:
        asked = [reading("a", DATES[2], "feel", 0), reading("b", DATES[9], kind, 0, by=by)]
        sights = [Sight(r, moment_of(days, r.at, ()), 1.0) for r in asked]
        return log_evidence(days, sights, np.full((2, 1, 2), 0.6))

    assert (odds("", "squeeze") > odds("hers", "squeeze")).all()
    assert odds("", "squeeze") == pytest.approx(odds("", "feel"), abs=0.2)


def test_what_is_said_names_the_fault_and_a_check() -> None:
    run = Run(start(), 999, delivered=np.array([0.1]))
    taken = seen(ON_LINE, run, sky())
    told = suspicions(scene(ON_LINE), ON_LINE, sky(), dry_spell(ON_LINE), taken, TODAY)
    assert isinstance(told[0], Suspicion)
    assert told[0].fault == "blocked"
    assert "blocked" in told[0].text
    assert "cup" in told[0].check
    assert told[0].place == ON_LINE.name
    assert 0.5 < told[0].odds <= 1.0
    assert told[0].since is not None
    assert [s.odds for s in told] == sorted((s.odds for s in told), reverse=True)


def test_a_run_is_the_sound_one_until_its_first_day_and_when_it_is_over() -> None:
    days = place_days(scene(ON_LINE), ON_LINE, sky(), dry_spell(ON_LINE), draw_members(ON_LINE, 3, np.random.default_rng(1)), until=TODAY)  # fmt: skip
    asked = [reading(f"s{k}", d, "sensor", 0.2, 0.15, "grey") for k, d in enumerate(DATES)]
    sights = [Sight(r, moment_of(days, r.at, dry_spell(ON_LINE)), 1.0) for r in asked]
    end, first = days.index(TODAY), start()
    run = Run(first, first + 15, delivered=np.zeros(3))
    found = signals_of(days, [sound(end), run], sights, [first, first + 15], end)
    on = np.array([s.moment.step for s in sights])
    away = (on >= first) & (on < first + 15)
    assert np.array_equal(found[~away, 0], found[~away, 1])
    assert (found[away, 1] < found[away, 0]).mean() > 0.5
    plain, layer = days.run(days.start(), 0, end), layer_at(days, 0.15)
    for k, sight in enumerate(sights):
        held = water_at(days, plain, sight.moment)[layer] / days.laid.columns.thickness_mm[0, layer]
        assert found[k, 0] == pytest.approx(held, abs=1e-9)


def test_stretches_cover_all_days_once_and_keep_those_of_readings() -> None:
    days = place_days(scene(ON_LINE), ON_LINE, weather(), (), draw_members(ON_LINE, 2, np.random.default_rng(1)), until=TODAY)  # fmt: skip
    sights = [Sight(r, moment_of(days, r.at, ()), 1.0) for r in (reading("a", DATES[2], "dial", 4.0), reading("b", DATES[9], "dial", 4.0))]  # fmt: skip
    found = stretches([130, 140], sights, 1, 0, days.index(TODAY))
    assert [s.first for s in found[1:]] == [s.last for s in found[:-1]]
    assert (found[0].first, found[-1].last) == (0, days.index(TODAY))
    kept = {d for s in found if s.keep for d in range(s.first, s.last)}
    assert kept == {d for s in sights for d in (s.moment.step - 1, s.moment.step)}
