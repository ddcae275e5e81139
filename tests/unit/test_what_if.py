"""What would change a first answer most."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import pytest

from soakbook.advice.ask import answer, season_dates, usual_weather
from soakbook.advice.question import Question, garden_of
from soakbook.advice.season import Season, water_by_rule
from soakbook.advice.what_if import (
    BIGGER_POT,
    LEAST,
    NEIGHBOURS,
    alterations,
    bigger_pot,
    what_changes_most,
)
from soakbook.balance.place import place_days
from soakbook.garden.model import Garden, Place
from soakbook.weather.normals import normals_at

DAY = date(2017, 7, 8)
BED = Question("45.75, 4.85", "tomato", "loam", planted="2017-05-20", bed="3 m x 1.2 m", count=6)
POTS = Question("45.75, 4.85", "tomato", "multipurpose", planted="2017-05-20", pot="15 L", pots=2)


def season_of(garden: Garden, place: Place) -> Season:
    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    weather = usual_weather(garden, normals, *season_dates(place.plantings[0], DAY))
    return water_by_rule(place_days(replace(garden, places=(place,)), place, weather))


@pytest.mark.parametrize(
    ("plant", "litres"),
    [
        ("tomato", "3 L"),
        ("tomato", "8 L"),
        ("tomato", "15 L"),
        ("tomato", "30 L"),
        ("basil", "1 L"),
        ("basil", "3 L"),
        ("basil", "8 L"),
    ],
)
def test_a_bigger_pot_never_needs_water_more_often(plant: str, litres: str) -> None:
    """As long as the plant fills it; the bare mix of one far too large dries at its surface under small plants."""
    garden = garden_of(replace(POTS, pot=litres, plant=plant), DAY)
    place = garden.places[0]
    assert place.pot is not None
    pot = bigger_pot(place.pot)
    bigger = replace(place, pot=pot, area_m2=pot.top_area_m2 * pot.count)
    assert len(season_of(garden, bigger).soaks) <= len(season_of(garden, place).soaks)


def test_the_bigger_pot_has_the_same_proportions() -> None:
    pot = garden_of(POTS, DAY).places[0].pot
    assert pot is not None
    bigger = bigger_pot(pot)
    assert bigger.volume_l == pytest.approx(BIGGER_POT * pot.volume_l)
    assert bigger.height_m**2 / bigger.top_area_m2 == pytest.approx(pot.height_m**2 / pot.top_area_m2)


def test_shade_and_mulch_save_water_and_demand_costs_it() -> None:
    garden = garden_of(BED, DAY)
    season = answer(garden, DAY).season
    got = what_changes_most(garden, DAY, season, count=9)
    assert got is not None
    litres = {c.kind: c.litres for c in got.most}
    assert litres["shade"] < got.litres < litres["hotter"]
    assert litres["mulch"] < got.litres


def test_the_season_is_the_sum_of_its_months_and_of_its_waterings() -> None:
    garden = garden_of(BED, DAY)
    season = answer(garden, DAY).season
    got = what_changes_most(garden, DAY, season)
    assert got is not None
    assert got.litres == pytest.approx(sum(s.litres for s in season.soaks))
    assert got.litres == pytest.approx(sum(m.litres for m in season.months))
    assert got.waterings == len(season.soaks)


def test_the_largest_come_first_and_small_ones_are_left_out() -> None:
    garden = garden_of(POTS, DAY)
    got = what_changes_most(garden, DAY, answer(garden, DAY).season, count=9)
    assert got is not None
    sizes = [c.size for c in got.most]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] >= math.log1p(LEAST)
    assert len(what_changes_most(garden, DAY, answer(garden, DAY).season, count=2).most) == 2  # type: ignore[union-attr]


def test_what_is_there_already_is_taken_away() -> None:
    place = garden_of(replace(BED, mulch="straw", half_shade=True, wide="40 cm"), DAY).places[0]
    kinds = {altered.kind for altered in alterations(place)}
    assert {"no mulch", "sun", "bigger plants", "lighter", "heavier"} <= kinds
    assert not kinds & {"mulch", "shade", "bigger pot"}


def test_one_thing_is_altered_at_a_time() -> None:
    place = garden_of(BED, DAY).places[0]
    for altered in alterations(place):
        differing = [
            f
            for f in ("soil", "mulch", "exposure", "plantings", "pot")
            if getattr(altered.place, f) != getattr(place, f)
        ]
        assert len(differing) + (altered.demand != 1.0) == 1, altered.kind


def test_each_soil_has_neighbours_in_the_catalogue() -> None:
    from soakbook.catalog import read as catalog

    assert set(NEIGHBOURS) == set(catalog.textures())
    sand = {name: t.sand_pct.value for name, t in catalog.textures().items()}
    clay = {name: t.clay_pct.value for name, t in catalog.textures().items()}
    for name, (lighter, heavier) in NEIGHBOURS.items():
        if lighter is not None:
            assert sand[lighter] > sand[name] or clay[lighter] < clay[name], name
        if heavier is not None:
            assert clay[heavier] > clay[name] or sand[heavier] < sand[name], name


def test_nothing_to_compare_where_no_water_is_needed() -> None:
    garden = garden_of(BED, DAY)
    empty = Season((), (), 0.0, 0.0, 0.0, 0.0)
    assert what_changes_most(garden, DAY, empty) is None
