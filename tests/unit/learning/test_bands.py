"""The days ahead as a fan, and how well the bands have held so far."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest

from soakbook.balance import wander
from soakbook.balance.place import place_days
from soakbook.balance.spread import draw_members
from soakbook.garden.model import LogEntry, Place
from soakbook.learning.bands import HIGH, LOW, Held, fan, held_so_far, part_inside
from soakbook.learning.filter import learn, pick
from soakbook.learning.reading import Reading, readings_of
from soakbook.weather.eto import series_vapour_pressure
from soakbook.weather.members import MEMBER_COLUMNS, WeatherMembers
from tests.unit.learning.scene import BED, POT, TODAY, FloatArray, at, garden, log, taken, truths, weather


def alike(days: int, count: int = 3) -> WeatherMembers:
    """The days from today on as they are in the series, several times over."""
    part = weather().between(np.datetime64(TODAY), np.datetime64(TODAY) + np.timedelta64(days - 1, "D"))
    vapour = series_vapour_pressure(part)
    columns = {k: np.tile(vapour if k == "vapour_pressure_kpa" else part.get(k), (count, 1)) for k in MEMBER_COLUMNS}
    return WeatherMembers(part.times, columns, part.lat_deg, part.lon_deg, part.elevation_m, "a series")


@pytest.mark.parametrize("place", [BED, POT], ids=["bed", "pot"])
def test_a_fan_of_one_weather_is_the_run_itself(place: Place) -> None:
    members, now = pick(learn(garden(), place, weather(), log(), [], TODAY, count=40), 30)
    days = place_days(garden(), place, weather(), log(), members, until=TODAY)
    got, index = fan(days, now, alike(9)), days.index(TODAY)
    run = days.run(now, index, index + 9, logged=False)
    assert got.shape == (9, 30)
    assert got == pytest.approx(
        days.used_by_day(run, index), abs=2e-3
    )  # demand is worked out from members' columns again


def test_a_fan_takes_what_is_put_on_and_ends_with_the_place() -> None:
    members, now = pick(learn(garden(), BED, weather(), log(), [], TODAY, count=40), 20)
    days = place_days(garden(), BED, weather(), log(), members, until=TODAY)
    index = days.index(TODAY)
    dry, wet = fan(days, now, alike(9)), fan(days, now, alike(9), [(index + 2, 15.0)])
    assert wet[:2] == pytest.approx(dry[:2])
    assert (wet[2:] <= dry[2:] + 1e-9).all()
    assert wet[2].mean() < dry[2].mean()
    short = place_days(
        garden(), BED, weather().between(weather().times[0], alike(4).times[-1]), log(), members, until=TODAY
    )
    assert fan(short, now, alike(9)) == pytest.approx(dry[:4])


def entries(readings: list[Reading], place: Place) -> list[LogEntry]:
    return [
        LogEntry(r.id, r.at, "reading", place.name, reading=r.kind, value=r.value, depth_m=r.depth_m, instrument=r.instrument)
        for r in readings
    ]  # fmt: skip


def held(place: Place, readings: list[Reading]) -> list[Held]:
    return held_so_far(garden(), place, weather(), [*log(), *entries(readings, place)], TODAY)


def test_most_readings_of_truths_from_the_prior_lie_inside() -> None:
    """Eight in ten should, of classes as of marks. By the binomial distribution of 120 readings hardly fewer than 82 or more than 108 (one in
    a thousand either way), of the 60 of one kind 38 to 57; of classes counted in parts the sum spreads less: 40 to 55 (one in a hundred)."""
    rng = np.random.default_rng(4)
    truth = truths(BED, draw_members(BED, 13, rng))
    dates = [TODAY - timedelta(40 - 8 * k) for k in range(5)]
    every = [h for k in range(1, 13) for h in held(BED, taken(truth, k, rng, dates))]
    assert len(every) == 120
    assert 82 <= sum(h.inside for h in every) <= 108
    assert 40 <= sum(h.inside for h in every if h.reading.kind == "feel") <= 55
    assert 38 <= sum(h.inside for h in every if h.reading.kind == "dial") <= 57
    assert all(0.0 <= h.pit <= 1.0 for h in every)


@pytest.mark.parametrize("classes", [1, 2, 3, 6, 40])
def test_however_coarse_classes_are_eight_in_ten_of_them_lie_inside(classes: int) -> None:
    """The mean of the part inside over classes, each as likely as it is wide, is the width of the band: arithmetic."""
    edges = np.concatenate([[0.0], np.sort(np.random.default_rng(classes).random(classes - 1)), [1.0]])
    parts = [part_inside(a, b) for a, b in pairwise(edges)]
    assert float(np.diff(edges) @ parts) == pytest.approx(HIGH - LOW)
    assert all(0.0 <= part <= 1.0 for part in parts)


def test_where_a_tensiometer_ends_all_beyond_is_one_class() -> None:
    """At 80 kPa water breaks: in soil dry for weeks nearly all that was expected lies there, and eight in ten of it within."""
    dry = Reading("a", at(TODAY - timedelta(1), 18.0), "tension", 80.0, 0.15, "one")
    bare = [e for e in log() if e.kind != "water"]
    (one,) = held_so_far(garden(), BED, weather(), [*bare, *entries([dry], BED)], TODAY)
    assert 0.0 < one.inside < 1.0


def test_a_band_knows_nothing_of_its_own_reading_nor_of_later_ones() -> None:
    first = Reading("a", at(date(2017, 6, 1), 18.0), "dial", 5.0, 0.15, "one")
    later = Reading("b", at(date(2017, 6, 20), 18.0), "dial", 6.0, 0.15, "one")
    alone, both = held(BED, [first]), held(BED, [first, later])
    assert [h.reading.id for h in both] == ["a", "b"]
    assert both[0].pit == pytest.approx(alone[0].pit, abs=0.06)
    rising = [held(BED, [replace(first, value=v)])[0].pit for v in (1.0, 5.0, 9.0)]
    assert rising == sorted(rising)
    assert rising[0] < 0.2 < 0.8 < rising[2]


def test_no_reading_no_record() -> None:
    assert held(BED, []) == []
    assert readings_of(log(), BED) == []


def test_thirty_readings_are_held_against_their_bands_in_a_second() -> None:
    """A second on a quiet machine; five on a busy one."""
    rng = np.random.default_rng(4)
    readings = taken(truths(BED, draw_members(BED, 2, rng)), 1, rng, [TODAY - timedelta(2 + 2 * k) for k in range(15)])
    held(BED, readings)
    begun = time.process_time()
    assert len(held(BED, readings)) == 30
    assert time.process_time() - begun < 5.0


def factors(first: date, count: int) -> FloatArray:
    days = np.datetime64(first) + np.arange(count)
    return wander.demand_factor(days, np.array([0, 5, 900]))


def test_a_day_is_off_in_the_same_way_wherever_a_run_begins() -> None:
    long, short = factors(date(2016, 11, 1), 120), factors(date(2016, 12, 20), 30)
    assert np.array_equal(long[49:79], short)
    assert (long[:, 0] == 1.0).all()


def test_errors_of_days_have_the_stated_size_and_last_as_stated() -> None:
    paths = np.arange(1, wander.PATHS)
    days = np.datetime64("2018-03-01") + np.arange(200)
    logs, rain = np.log(wander.demand_factor(days, paths)), np.log(wander.rain_factor(days, paths))
    size = wander.DEMAND_SD**2 + wander.SLOW_SD**2
    assert logs.var() == pytest.approx(size, rel=0.05)
    assert np.exp(logs).mean() == pytest.approx(1.0, abs=0.01)
    together = (wander.DEMAND_LAG * wander.DEMAND_SD**2 + wander.SLOW_LAG * wander.SLOW_SD**2) / size
    assert np.corrcoef(logs[:-1].ravel(), logs[1:].ravel())[0, 1] == pytest.approx(together, abs=0.02)
    assert rain.std() == pytest.approx(wander.RAIN_SD, rel=0.02)
    new_year = np.log(wander.demand_factor(np.datetime64("2018-12-31") + np.arange(2), paths))
    assert np.corrcoef(new_year)[0, 1] == pytest.approx(together, abs=0.05)


def test_paths_of_members_differ() -> None:
    paths = wander.draw_paths(400, np.random.default_rng(1))
    assert paths[0] == 0
    assert len(set(paths.tolist())) == 400
    assert len(wander.draw_paths(1500, np.random.default_rng(1))) == 1500
