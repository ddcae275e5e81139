"""A planned setting gone over: minutes are near the best of all by living through, and never out of the rules."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soakbook.advice.belief import believe
from soakbook.delivery.timer_model import problems
from soakbook.delivery.timer_place import TimerPlace, timer_places
from soakbook.garden.timer import Days, KeptTimer, Programme, Rules, Timer
from soakbook.season.away_days import litre_price
from soakbook.season.away_minutes import brought, gone_over, timed
from soakbook.season.away_run import Leaving, leaving_of, live
from tests.practice.sites import steady
from tests.unit.advice.made import garden_of
from tests.unit.season.away_scene import FIRST, LAST, MEMBERS, ON, sky
from tests.unit.season.test_away_timer import BEANS, LINES

FLOWS = {"beans line": 60.0}


@pytest.fixture(scope="module")
def beans() -> tuple[Leaving, TimerPlace]:
    garden, weather, ahead = replace(garden_of(BEANS), lines=LINES), steady("warm"), sky()
    belief = believe(garden, BEANS, weather, (), ON, count=MEMBERS)
    span = ahead.between(np.datetime64(FIRST), np.datetime64(LAST))
    (one,) = timer_places(garden, span)
    return leaving_of(garden, belief, weather, (), ahead, ON, FIRST, LAST), one


def daily(minutes: int) -> tuple[Programme, ...]:
    return (Programme("A", Days("weekdays", tuple(range(7))), (300,), (("beans line", minutes),)),)


def found_from(minutes: int, beans: tuple[Leaving, TimerPlace], kept: KeptTimer) -> int:
    place, one = beans
    (programme,) = gone_over([place], [one], kept, daily(minutes), FLOWS, FIRST)
    return programme.minutes_of("beans line")


@pytest.mark.parametrize("start", [12, 60])
def test_minutes_are_near_the_best_of_all(beans: tuple[Leaving, TimerPlace], start: int) -> None:
    """By hand: every run of 5 to 100 minutes lived through, with litres of flow times time at the price of the advice."""
    place, _ = beans
    costs = {}
    for minutes in range(5, 100, 3):
        litres = np.full(place.count, 60.0 * minutes / 60.0)
        costs[minutes] = live(timed(place, litres)).mean + litre_price(place) * float(litres.sum())
    found = found_from(start, beans, KeptTimer("tap", rules=Rules(avoid=())))
    litres = np.full(place.count, float(found))
    cost = live(timed(place, litres)).mean + litre_price(place) * float(litres.sum())
    assert cost <= min(costs.values()) + 0.3
    assert cost < costs[start if start in costs else start - 1] - 0.3


def test_what_is_brought_is_flow_times_time_and_no_more_than_the_soil_takes(beans: tuple[Leaving, TimerPlace]) -> None:
    _, one = beans
    slow = replace(one, takes_mm=10.0 * one.depth_per_minute_mm)
    assert brought(daily(25), one, 10) == (pytest.approx(np.full(10, 25.0)), 0.0)
    litres, off = brought(daily(25), slow, 10)
    assert litres == pytest.approx(np.full(10, 10.0))
    assert off == pytest.approx(150.0)


def test_minutes_keep_hours_and_steps(beans: tuple[Leaving, TimerPlace]) -> None:
    rules, timer = Rules(hours=((300, 316),), avoid=()), Timer(step_minutes=4)
    found = found_from(8, beans, KeptTimer("tap", timer, rules))
    assert found == 16
    assert problems(daily(found), timer, rules, FLOWS, FIRST, 10) == ()
    assert problems(daily(20), timer, rules, FLOWS, FIRST, 10) != ()
