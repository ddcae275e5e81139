"""The timer over the days away: what it gives is flow times time by the calendar, what it does not reach is as with nobody, a plan keeps the rules."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.advice.belief import believe
from soakbook.delivery.timer_model import problems
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Line, Supply
from soakbook.garden.timer import Days, KeptTimer, Programme, Rules, Timer
from soakbook.season.away import Away, plan_away
from soakbook.season.away_words import away_json, total_text
from tests.practice.sites import bed, steady
from tests.unit.advice.made import garden_of
from tests.unit.season.away_scene import FIRST, LAST, MEMBERS, ON, PEPPER, sky

BEANS = replace(bed("bean_bush", "loam", means="drip_line", planted=False), name="beans", line="beans line")
CABBAGES = replace(bed("cabbage", "sandy_loam", means="drip_line"), name="cabbages", line="other line")
LINES = (
    Line("beans line", "drip_line", flow_lph=60.0, flow_is_measured=True),
    Line("other line", "drip_line", flow_lph=30.0),
)
WEEKLY = Programme("A", Days("weekdays", (0, 2)), (300, 1200), (("beans line", 15), ("other line", 10)))


def lived(*timers: KeptTimer, last: date = LAST) -> Away:
    garden: Garden = replace(garden_of(BEANS, CABBAGES, PEPPER), lines=LINES, timers=timers)
    weather = steady("warm")
    beliefs = [believe(garden, place, weather, (), ON, count=MEMBERS) for place in garden.places]
    return plan_away(garden, (), weather, sky(), ON, FIRST, last, timer=True, beliefs=beliefs)


@pytest.fixture(scope="module")
def tapped() -> Away:
    rules = Rules(weekdays=(0, 2, 4, 6), hours=((300, 420),), avoid=(), pause_minutes=0)
    return lived(KeptTimer("tap", Timer(step_minutes=5), rules, (), (WEEKLY,)))


def test_what_is_set_gives_flow_times_time_on_its_days(tapped: Away) -> None:
    """By hand: 60 L/h for twice 15 min is 30 L, 30 L/h for twice 10 min is 10 L, on Mondays and Wednesdays by the calendar."""
    days = [FIRST + timedelta(days=k) for k in range((LAST - FIRST).days + 1)]
    on = np.array([day.isoweekday() in (1, 3) for day in days])
    for place, litres in zip(tapped.places, (30.0, 10.0), strict=False):
        assert place.timer_now is not None
        assert place.timer_now.litres == pytest.approx(np.where(on, litres, 0.0))


def test_a_place_on_no_line_is_as_with_nobody(tapped: Away) -> None:
    pepper = tapped.places[2]
    assert pepper.timer_now is pepper.nobody
    assert pepper.timer_planned is pepper.nobody


def test_what_is_planned_keeps_the_rules_and_is_best_of_the_three(tapped: Away) -> None:
    """In dry weather, for places that are kept moist; what is set gives less than they use."""
    (one,) = tapped.planned
    rules = Rules(weekdays=(0, 2, 4, 6), hours=((300, 420),), avoid=(), pause_minutes=0)
    flows = {"beans line": 60.0, "other line": 30.0}
    assert one.programmes
    assert problems(one.programmes, Timer(step_minutes=5), rules, flows, FIRST, 10) == ()
    lost = [tapped.lost(what) or 0.0 for what in ("timer_planned", "timer_now", "nobody")]
    assert lost == sorted(lost)
    assert lost[0] < lost[2]


def test_it_is_told_in_words_and_as_data(tapped: Away) -> None:
    assert "the timer as it is set" in total_text(tapped)
    assert "the timer set for those days" in total_text(tapped)
    data = away_json(tapped, ())
    assert data["timers_now"] == [
        {"timer": "tap", "programmes": ["mon,wed 05:00 20:00 beans line 15 min, other line 10 min"]}
    ]
    assert data["lost_with_timer_now"] == pytest.approx(tapped.lost("timer_now"))


def test_each_timer_opens_its_own_lines_and_none_may_be_set() -> None:
    """A programme of the first timer names both lines, but it opens one; of the second nothing is said to be set."""
    soon = FIRST + timedelta(days=6)
    made = lived(
        KeptTimer("tap", opens=("beans line",), setting=(WEEKLY,), rules=Rules(avoid=())),
        KeptTimer("shed", opens=("other line",), rules=Rules(avoid=())),
        last=soon,
    )
    beans, cabbages, _ = made.places
    assert beans.timer_now is not None
    assert beans.timer_now.litres.sum() > 0.0
    assert cabbages.timer_now is cabbages.nobody
    assert {line for one in made.planned[1].programmes for line, _ in one.minutes} == {"other line"}


def test_a_plan_counts_on_no_more_than_the_tank_of_the_garden_holds() -> None:
    """Water comes in every day and may be used on Mondays: of a week's 700 L a tank of 100 L keeps 100."""
    rules = Rules(weekdays=(0,), hours=((240, 600),), avoid=(), tank_l=100.0, refill_lpd=100.0)
    garden = replace(
        garden_of(BEANS), lines=LINES, timers=(KeptTimer("tap", rules=rules),), supply=Supply(tank_l=100.0)
    )
    weather = steady("warm")
    beliefs = [believe(garden, BEANS, weather, (), ON, count=MEMBERS)]
    made = plan_away(garden, (), weather, sky(), ON, FIRST, LAST, timer=True, beliefs=beliefs)
    (one,) = made.planned
    assert one.programmes
    drawn = [60.0 * minutes / 60.0 * len(p.starts) for p in one.programmes for _, minutes in p.minutes]
    assert sum(drawn) <= 100.0


def test_without_a_timer_that_is_kept_only_the_plan_is_told() -> None:
    made = lived(last=FIRST + timedelta(days=6))
    assert made.places[0].timer_now is None
    assert made.lost("timer_now") is None
    assert made.places[0].timer_planned is not None


def test_a_garden_without_a_line_has_nothing_a_timer_could_open() -> None:
    garden = garden_of(PEPPER)
    weather = steady("warm")
    beliefs = [believe(garden, PEPPER, weather, (), ON, count=MEMBERS)]
    with pytest.raises(InputError) as caught:
        plan_away(garden, (), weather, sky(), ON, FIRST, LAST, timer=True, beliefs=beliefs)
    assert caught.value.code == "timer.lines"
