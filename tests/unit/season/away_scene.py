"""Invented places on the morning of leaving, in the middle of a steady dry season, and what weather may come."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

from soakbook.advice.belief import believe
from soakbook.garden.model import Garden, Place
from soakbook.season.away import Away, plan_away
from soakbook.season.away_run import Leaving, leaving_of
from soakbook.weather.members import WeatherMembers
from tests.practice.sites import START, bed, pot, steady
from tests.unit.advice.made import coming, garden_of

AT = 60
ON = START + timedelta(days=AT)
MEMBERS = 16
#: Days away: from the second day on, ten of them.
FIRST, LAST = ON + timedelta(days=2), ON + timedelta(days=11)

BEANS = replace(bed("bean_bush", "loam", means="can", planted=False), name="beans")
CABBAGES = replace(bed("cabbage", "sandy_loam"), name="cabbages")
PEPPER = replace(pot("pepper", 10), name="pepper")
PLACES = (BEANS, CABBAGES, PEPPER)
GARDEN = garden_of(*PLACES)


def sky(chance: float = 0.0, mean_mm: float = 8.0) -> WeatherMembers:
    """Steady weather, dry or with showers by chance."""
    return coming(at=AT, members=MEMBERS, chance=chance, mean_mm=mean_mm)


@cache
def leaving(place: Place, chance: float = 0.0, first: date = FIRST, last: date = LAST, mean_mm: float = 8.0) -> Leaving:
    garden, weather = garden_of(place), steady("warm")
    belief = believe(garden, place, weather, (), ON, count=MEMBERS)
    return leaving_of(garden, belief, weather, (), sky(chance, mean_mm), ON, first, last)


@cache
def away(garden: Garden = GARDEN, chance: float = 0.0, visits: int = 0, every: int = 0) -> Away:
    weather = steady("warm")
    beliefs = [believe(garden, place, weather, (), ON, count=MEMBERS) for place in garden.places]
    return plan_away(
        garden, (), weather, sky(chance), ON, FIRST, LAST, visits=visits, every=every, beliefs=beliefs
    )  # fmt: skip
