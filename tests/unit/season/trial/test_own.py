"""A grower's own garden in the trial."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soakbook.demo import demo_garden
from soakbook.errors import InputError
from soakbook.season.trial.own import own_cases


def test_places_of_a_garden_become_what_truths_are_drawn_around() -> None:
    garden, _, folder = demo_garden()
    cases, left_out = own_cases(garden, 2, folder=folder)
    names = {c.place.name for c in cases}
    assert names
    assert len(cases) == 2 * len(names)
    assert len({c.key for c in cases}) == len(cases)
    assert len(names) + len(left_out) == len(garden.places)
    for case in cases:
        assert case.days >= 40
        assert case.believed.plant == case.place.plantings[0].plant
        assert case.weather.times[0] < case.weather.times[case.at]


def test_a_garden_without_weather_of_its_own_gets_years_made_by_chance() -> None:
    garden, _, folder = demo_garden()
    first, second = own_cases(replace(garden, weather="normals"), 2, folder=folder)[0][:2]
    assert first.weather.get("rain_mm").sum() != second.weather.get("rain_mm").sum()


def test_a_garden_with_nothing_to_try_says_so() -> None:
    garden, _, folder = demo_garden()
    bare = replace(garden, places=tuple(replace(p, plantings=()) for p in garden.places))
    with pytest.raises(InputError, match="no place"):
        own_cases(bare, 1, folder=folder)
