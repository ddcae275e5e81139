"""What the answer for the weeks away must do whatever the garden: visits, dryness, order, area."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.garden.model import Place
from soakbook.season.away_days import best_visits, round_on, run_programme
from soakbook.season.away_run import live
from tests.unit.advice.made import garden_of
from tests.unit.season.away_scene import GARDEN, PLACES, away, leaving

chances = st.sampled_from([0.0, 0.1, 0.3])
visit_days = st.lists(st.integers(1, 9), max_size=4, unique=True).map(sorted)


@settings(max_examples=6)
@given(chances)
def test_more_visits_never_cost_more(chance: float) -> None:
    places = [leaving(place, chance) for place in PLACES]
    costs = [best_visits(places, n).cost for n in range(5)]
    assert all(more <= fewer + 1e-9 for fewer, more in pairwise(costs))


@settings(max_examples=15)
@given(visit_days, st.sampled_from(PLACES))
def test_nobody_is_never_better_than_watering_when_it_is_dry(days: list[int], place: Place) -> None:
    one = leaving(place)
    assert live(one, visits=days).mean <= live(one).mean + 1e-9


@settings(max_examples=10)
@given(visit_days, chances)
def test_visits_on_chosen_days_are_no_dearer_than_on_any_days(days: list[int], chance: float) -> None:
    """But for what the table of stretches leaves out: half a hundredth of the harvest."""
    places = [leaving(place, chance) for place in PLACES]
    assert best_visits(places, len(days)).cost <= round_on(places, days).cost + 0.5


def test_the_order_of_places_does_not_matter() -> None:
    turned = garden_of(*reversed(PLACES))
    one, other = away(GARDEN, 0.1, 2, 3), away(turned, 0.1, 2, 3)
    assert [v.on for v in one.visits] == [v.on for v in other.visits]
    for what in ("nobody", "visited", "programme"):
        assert one.lost(what) == pytest.approx(other.lost(what), abs=1e-9)
    assert [r.measure for r in one.measures] == [r.measure for r in other.measures]
    litres = {g.place: g.litres for v in one.visits for g in v.gifts}
    assert {g.place: g.litres for v in other.visits for g in v.gifts} == pytest.approx(litres)


@pytest.mark.parametrize("times", [2, 5])
@pytest.mark.parametrize("days", [(), (4,), (3, 7)])
def test_litres_scale_with_the_area(times: int, days: tuple[int, ...]) -> None:
    """Beds so many times as large with as many times the plants, and so many times as many pots: the same depths, the same loss."""
    for place in PLACES:
        planting = replace(place.plantings[0], count=10 if place.pot is None else 1)
        one = replace(place, plantings=(planting,), area_m2=place.area_m2)
        shape = replace(one.pot, count=times) if one.pot is not None else None
        many = replace(
            one,
            pot=shape,
            area_m2=times * one.area_m2,
            plantings=(replace(planting, count=times * (planting.count or 1)),),
        )
        here, there = live(leaving(one, 0.1), visits=days), live(leaving(many, 0.1), visits=days)
        assert there.litres == pytest.approx(times * here.litres, rel=1e-6, abs=1e-6)
        assert there.loss == pytest.approx(here.loss, rel=1e-6, abs=1e-6)


@settings(max_examples=10)
@given(st.sampled_from(PLACES), st.integers(1, 5), st.floats(0.5, 20.0))
def test_a_programme_puts_on_what_it_says(place: Place, every: int, litres: float) -> None:
    outcome = run_programme(leaving(place, 0.1), every, litres)
    assert outcome.litres.sum() == pytest.approx(litres * len(range(0, 10, every)))
