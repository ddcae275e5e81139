"""What gardeners find, coming out of the physics. Everything here is common practice, no measurement.

The weather is the same dry day over and over (tests/practice/sites.py), so that intervals are those of soil, roots and
demand alone.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from statistics import median

import numpy as np
import pytest

from soakbook.advice.decide import advise, run_to
from soakbook.advice.members import nine
from soakbook.balance.crops import FRUITING, SEEDBED
from soakbook.balance.place import place_days
from soakbook.catalog.read import plants, textures
from soakbook.garden.model import Garden
from tests.practice.sites import START, bed, days_of, full_grown_interval, pot, season, steady

VEGETABLES = ("bean_bush", "carrot", "cabbage", "sweet_corn")


@cache
def interval(plant: str, texture: str, weather: str) -> tuple[float, float]:
    return full_grown_interval(bed(plant, texture, planted=not plants()[plant].sown_in_place), weather)


@pytest.mark.parametrize("weather", ["cool", "warm"])
def test_sand_is_watered_more_often_than_clay_and_less_at_a_time(weather: str) -> None:
    sand = {p: interval(p, "sand", weather) for p in VEGETABLES}
    clay = {p: interval(p, "clay", weather) for p in VEGETABLES}
    assert all(sand[p][0] <= clay[p][0] and sand[p][1] < clay[p][1] for p in VEGETABLES)
    assert median(s for s, _ in sand.values()) < median(c for c, _ in clay.values())


@pytest.mark.parametrize("plant", VEGETABLES)
@pytest.mark.parametrize("texture", ["sand", "loam", "clay"])
def test_hot_weeks_are_watered_more_often_than_cool_ones(plant: str, texture: str) -> None:
    hot, warm, cool = (interval(plant, texture, w)[0] for w in ("hot", "warm", "cool"))
    assert hot < warm < cool


def test_sand_every_two_to_three_days_in_warm_dry_weather() -> None:
    assert 2.0 <= median(interval(p, "sand", "warm")[0] for p in VEGETABLES) <= 3.0


def test_sand_every_four_to_five_days_in_cool_weather() -> None:
    assert 4.0 <= median(interval(p, "sand", "cool")[0] for p in VEGETABLES) <= 5.5


def test_a_deep_rooted_crop_on_clay_comes_out_near_weekly() -> None:
    every, _ = full_grown_interval(bed("tomato_tall", "clay", count=6), "warm")
    assert 5.0 <= every <= 9.0


@pytest.mark.parametrize("weather", ["warm", "hot"])
def test_a_large_fruiting_plant_takes_two_to_four_litres_a_day(weather: str) -> None:
    laid, got = season(bed("tomato_tall", "loam", means="can", count=6), weather)
    full = laid.days[laid.crops.phase == FRUITING]
    soaks = [s for s in got.soaks if full[0] <= np.datetime64(s.on) <= full[-1]]
    days = (soaks[-1].on - soaks[0].on).days
    arrives = float(laid.laid.columns.delivery[0, 0])
    daily = arrives * sum(s.litres for s in soaks[:-1]) / days / 6
    assert 2.0 <= daily <= 4.5


@pytest.mark.parametrize(("plant", "weather"), [("tomato_tall", "cool"), ("cabbage", "cool"), ("pepper_sweet", "cool")])
def test_a_small_seedling_takes_about_a_cup(plant: str, weather: str) -> None:
    """A US cup is 0.24 L; between half a cup and two and a half, daily or every other day, in the first days."""
    _, got = season(bed(plant, "loam", means="can", count=6), weather, days=9)
    assert len(got.soaks) >= 3
    assert all(0.12 <= s.litres / 6 <= 0.6 for s in got.soaks)


@pytest.mark.parametrize("plant", ["tomato_tall", "cabbage", "carrot", "bean_bush", "zucchini"])
@pytest.mark.parametrize("texture", sorted(textures()))
def test_established_plants_with_four_fifths_of_their_water_get_none(plant: str, texture: str) -> None:
    """Plants that stress early (p of 0.3 and less: onion, lettuce, spinach, celery, strawberry) are the exception FAO-56 Table 22 makes."""
    place = bed(plant, texture, planted=not plants()[plant].sown_in_place)
    laid = days_of(place, "warm", days=130)
    full = int(np.argmax(laid.crops.phase == FRUITING))
    on = START + timedelta(days=full)
    assert _advice(place, "warm", on, 0.82).verdict == "hold"


def test_a_pot_in_hot_weather_is_watered_daily_and_a_bed_is_not() -> None:
    _, in_pot = season(pot("tomato_bush", 15.0), "hot")
    _, in_bed = season(bed("tomato_bush", "loam", count=4), "hot")
    july = [s for s in in_pot.soaks if s.on.month == 7]
    assert len(july) == 31
    assert len([s for s in in_bed.soaks if s.on.month == 7]) < 16


def test_a_clay_pot_needs_more_than_a_plastic_one() -> None:
    clay = season(pot("basil", 4.0, wall="clay"), "warm")[1]
    plastic = season(pot("basil", 4.0), "warm")[1]
    assert sum(s.litres for s in clay.soaks) > 1.1 * sum(s.litres for s in plastic.soaks)


def test_no_watering_of_a_pot_is_more_than_it_holds() -> None:
    place = pot("tomato_bush", 15.0)
    laid, got = season(place, "hot")
    holds = laid.laid.ground_m2 * float(np.sum(laid.laid.columns.fc_mm - laid.laid.columns.wp_mm))
    efficiency = float(laid.laid.columns.delivery[0, 0])
    assert max(s.litres for s in got.soaks) * efficiency <= holds


def test_a_seedbed_is_kept_moist_with_little_at_a_time() -> None:
    place = bed("carrot", "sandy_loam", planted=False)
    laid, got = season(place, "warm", days=20)
    not_up = [s for s in got.soaks if laid.crops.phase[laid.index(s.on)] == SEEDBED]
    days = int(np.sum(laid.crops.phase == SEEDBED))
    assert len(not_up) >= 0.5 * days
    assert max(s.depth_mm for s in not_up) <= 13.0


def test_mulch_makes_waterings_fewer() -> None:
    from soakbook.garden.model import Mulch

    bare = bed("tomato_tall", "loam", count=6, means="sprinkler")
    covered = replace(bare, mulch=Mulch("straw"))
    assert len(season(covered, "warm")[1].soaks) < len(season(bare, "warm")[1].soaks)


def test_shade_makes_waterings_fewer() -> None:
    from soakbook.garden.model import Exposure

    open_bed = bed("lettuce_leaf", "loam")
    shaded = replace(open_bed, exposure=Exposure(horizon=((180.0, 50.0), (270.0, 50.0), (0.0, 10.0), (90.0, 10.0))))
    assert len(season(shaded, "warm", 80)[1].soaks) < len(season(open_bed, "warm", 80)[1].soaks)


def _advice(place, weather, on: date, available: float, rain=(), chance: float = 90.0):  # type: ignore[no-untyped-def]
    """Advice on a day for a place whose every layer holds ``available`` of its available water that morning."""
    from soakbook.weather.series import FORECAST

    series = steady(weather, 150)
    at = (on - START).days
    kind = series.kind.copy()
    kind[at : at + 10] = FORECAST
    mm = series.columns["rain_mm"].copy()
    mm[at : at + len(rain)] = rain
    series = replace(
        series, kind=kind, columns={**series.columns, "rain_mm": mm, "rain_chance_pct": np.full(150, chance)}
    )
    garden = Garden("test", 40.0, 0.0, 100.0, "UTC", (place,))
    days = place_days(garden, place, series, members=nine())
    known = run_to(days, on)
    columns = days.laid.columns
    known.now.water_mm[0] = columns.wp_mm[0] + available * (columns.fc_mm[0] - columns.wp_mm[0])
    return advise(known, series)


DAY = START + timedelta(days=95)


def test_the_five_verdicts() -> None:
    tomato = bed("tomato_tall", "loam", count=6)
    assert _advice(tomato, "warm", DAY, 0.30).verdict == "soak"
    drying = [_advice(tomato, "warm", DAY, float(a)).verdict for a in np.linspace(0.95, 0.20, 150)]
    assert list(dict.fromkeys(drying)) == ["hold", "probe first", "soak"]
    assert _advice(tomato, "warm", DAY, 0.50, rain=[0.0, 40.0, 25.0]).verdict == "rain will do"
    assert _advice(tomato, "warm", DAY, 0.50, rain=[0.0, 40.0, 25.0], chance=20.0).verdict == "soak"
    wet = _advice(tomato, "cool", DAY, 2.6)
    assert wet.verdict == "let drain"
    assert wet.litres == 0


def test_a_seedbed_does_not_wait_for_rain() -> None:
    seedbed = bed("carrot", "sandy_loam", planted=False)
    assert _advice(seedbed, "warm", START + timedelta(days=5), 0.2, rain=[0.0, 20.0, 20.0]).verdict == "soak"


def test_a_soak_refills_to_field_capacity_down_to_the_roots() -> None:
    tomato = bed("tomato_tall", "loam", count=6)
    got = _advice(tomato, "warm", DAY, 0.30)
    # Half a metre and more of loam at 30 % of its water lacks 70 % of 137 mm a metre (Saxton & Rawls 2006, Table 3: 14 %).
    assert got.missing_mm == pytest.approx(0.70 * 140.0 * got.reach_m, rel=0.05)
    assert got.litres == pytest.approx(got.missing_mm * 4.0 * 1.0 / got.efficiency, rel=1e-6)
    assert got.reach_m == pytest.approx(0.7, abs=0.01)  # FAO-56 Table 22: tomato 0.7 m, the value for scheduling
