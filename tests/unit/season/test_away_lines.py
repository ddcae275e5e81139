"""Visits to places that share a line: what is on the list is what the line gives in the time told, and what is lost is lost with that."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from soakbook.advice.belief import believe
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Line, Place
from soakbook.season.away import Away
from soakbook.season.away_run import Leaving, leaving_of, live
from tests.practice.sites import bed, pot, steady
from tests.unit.advice.made import garden_of
from tests.unit.season.away_scene import FIRST, LAST, MEMBERS, ON, away, sky

BEANS = replace(bed("bean_bush", "loam", means="drip_line", planted=False), name="beans", line="north", line_share=0.8)
BASIL = replace(pot("basil", 5), name="basil", means="emitters", line="north", line_share=0.2)
GARDEN = garden_of(BEANS, BASIL, lines=(Line("north", "drip_line", 60.0),))


def morning(place: Place) -> Leaving:
    """The place as it stands in this garden on the morning of leaving."""
    weather = steady("warm")
    belief = believe(GARDEN, place, weather, (), ON, count=MEMBERS)
    return leaving_of(GARDEN, belief, weather, (), sky(), ON, FIRST, LAST)


@pytest.fixture(scope="module")
def made() -> Away:
    return away(GARDEN, visits=2)


def test_minutes_and_litres_on_the_list_agree(made: Away) -> None:
    """A line gives its flow times the time, to each place its share of it."""
    assert made.visits
    for visit in made.visits:
        assert [gift.place for gift in visit.gifts] == ["beans", "basil"]
        minutes = {gift.job.minutes for gift in visit.gifts}
        assert max(minutes) == pytest.approx(min(minutes))  # type: ignore[type-var]
        for gift in visit.gifts:
            assert gift.job.minutes is not None
            assert gift.litres == pytest.approx(
                60.0 * {"beans": 0.8, "basil": 0.2}[gift.place] * gift.job.minutes / 60.0
            )
            assert "opened once" in gift.job.note


def test_what_is_lost_is_lost_with_what_the_line_gives(made: Away) -> None:
    for place in (BEANS, BASIL):
        told = next(one for one in made.places if one.place == place.name).visited
        alone = morning(place)
        put_mm = {}
        for visit in made.visits:
            day = (visit.on - made.first).days
            (litres,) = (gift.litres for gift in visit.gifts if gift.place == place.name)
            put_mm[day] = alone.days.depth_mm(litres, alone.first + day)
        assert told is not None
        assert live(alone, put_mm).mean == pytest.approx(told.mean, rel=1e-6)
        assert math.fsum(told.brought) == pytest.approx(math.fsum(told.litres))


def test_the_time_is_between_what_the_places_ask_for(made: Away) -> None:
    """On the first visit, where nothing of the line was given before."""
    day = (made.visits[0].on - made.first).days
    asks = []
    for place in (BEANS, BASIL):
        flow = flow_lph(place, GARDEN)
        assert flow is not None
        asks.append(60.0 * float(live(morning(place), visits=(day,)).brought[day]) / flow)
    told = made.visits[0].gifts[0].job.minutes
    assert told is not None
    assert min(asks) * 0.95 <= told <= max(asks) * 1.05
