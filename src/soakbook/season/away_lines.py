"""Visits where several places hang on one line: who comes opens it once, and each place gets what the line gives it in that time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden
from soakbook.season.away_days import Round, litre_price, round_on
from soakbook.season.away_run import FloatArray, Leaving, live


def by_lines(garden: Garden, places: Sequence[Leaving], coming: Round) -> tuple[tuple[Leaving, ...], Round]:
    """The visits of a round as shared lines let them be.

    The days stay. On each of them, in turn, a line that several places share is opened once: for the shortest, the longest or the mean of the times that
    they ask for, whichever costs least in harvest and in water at the advice's price, with what is topped up on the visits after it.

    Parameters
    ----------
    garden
        The garden.
    places
        All of its places on the morning of leaving.
    coming
        The round, each place topped up as it asks.

    Returns
    -------
    tuple of Leaving, Round
        The places, those on shared lines with what the line gives them (``line_mm``), and what becomes of all.
    """
    out = list(places)
    for at in _shared(garden, places, coming):
        given = [np.zeros(place.count) for place in places]
        for n, day in enumerate(coming.days):
            later = coming.days[n + 1 :]
            asked = [_minutes(garden, places[i], given[i], coming.days[n:]) for i in at]
            times = sorted({min(asked), math.fsum(asked) / len(asked), max(asked)})
            puts = [{i: _with(garden, places[i], given[i], day, minutes) for i in at} for minutes in times]
            costs = [math.fsum(_cost(places[i], mm, later) for i, mm in put.items()) for put in puts]
            for i, mm in puts[int(np.argmin(costs))].items():
                given[i] = mm
        for i in at:
            out[i] = replace(places[i], line_mm=given[i], by_hand=False)
    return tuple(out), round_on(out, coming.days)


def _shared(garden: Garden, places: Sequence[Leaving], coming: Round) -> list[list[int]]:
    """Which places share a line that a visit opens, by line; a place that its timer waters is brought what it lacks by can."""
    by_line: dict[str, list[int]] = {}
    for i, place in enumerate(places):
        if place.place.line and place.timer_mm is None and place.by_hand and flow_lph(place.place, garden):
            by_line.setdefault(place.place.line, []).append(i)
    return [at for at in by_line.values() if len(at) > 1 and any(coming.outcomes[i].brought.any() for i in at)]


def _minutes(garden: Garden, place: Leaving, given_mm: FloatArray, visits: Sequence[int]) -> float:
    """For how long a place asks on the first of these visits. [min]"""
    lived = live(replace(place, line_mm=given_mm), visits=visits)
    return 60.0 * float(lived.brought[visits[0]]) / _flow_lph(garden, place)


def _with(garden: Garden, place: Leaving, given_mm: FloatArray, day: int, minutes: float) -> FloatArray:
    mm = given_mm.copy()
    mm[day] = place.days.depth_mm(_flow_lph(garden, place) * minutes / 60.0, place.first + day)
    return mm


def _cost(place: Leaving, given_mm: FloatArray, visits: Sequence[int]) -> float:
    """Harvest lost, and water at its price, with what the line gives and these visits after it. [hundredths]"""
    lived = live(replace(place, line_mm=given_mm), visits=visits)
    return lived.mean + litre_price(place) * float(lived.litres.sum())


def _flow_lph(garden: Garden, place: Leaving) -> float:
    flow = flow_lph(place.place, garden)
    assert flow is not None
    return flow
