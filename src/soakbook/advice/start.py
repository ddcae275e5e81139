"""Where a place's run begins: from which day, over which weather, and how it was watered before anybody kept a log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

import numpy as np

from soakbook.advice.season import water_by_rule
from soakbook.balance.place import place_days
from soakbook.garden.model import Garden, LogEntry, Place
from soakbook.said import Said, say
from soakbook.weather.series import EXPECTED, WeatherSeries

#: A place is run over so many days before today, no more and no fewer where the weather reaches that far.
MOST_DAYS, LEAST_DAYS = 150, 10


@dataclass(frozen=True)
class Start:
    """What a place is laid out over: weather from its first day on, entries of the log before ``on``, and notes on what was
    taken for granted about the days that no log tells of."""

    weather: WeatherSeries
    log: tuple[LogEntry, ...]
    notes: tuple[Said, ...]


def start_of(garden: Garden, place: Place, weather: WeatherSeries, on: date, log: Sequence[LogEntry]) -> Start:
    """What a place is laid out over for the morning of ``on``.

    Parameters
    ----------
    garden, place
        The place must be of the garden.
    weather
        Daily with gaps filled, rain that is merely usual already taken out of the days ahead (:func:`unless_it_rains`).
    on
        The day; entries of that day and later are not among those returned.
    log
        All entries, in any order; an id that comes twice counts once.
    """
    here = starting(garden, place, weather, on)
    known = [e for e in {e.id: e for e in log}.values() if e.at.date() < on]
    before = before_start(garden, place, here, on, known)
    notes = (say("until {day} watered by the rule", day=followed(garden, place)),) if before else ()
    return Start(here, (*known, *before), notes)


def followed(garden: Garden, place: Place) -> date | None:
    """The day from which the log of a place is whole; None when nobody said."""
    return max((day for day in (garden.start, place.followed) if day is not None), default=None)


def before_start(
    garden: Garden, place: Place, weather: WeatherSeries, on: date, log: Sequence[LogEntry]
) -> list[LogEntry]:
    """Waterings by the rule on the days before the garden is followed, unless the log has some of the place: nobody has
    said how it was watered, and a place that somebody grows in was not left dry."""
    since = followed(garden, place)
    start = min(since or on, on)
    if since is None or np.datetime64(start) <= weather.times[0]:
        return []
    if any(e.kind == "water" and e.place == place.name and e.at.date() < start for e in log):
        return []
    days = place_days(garden, place, weather, until=on)
    soaks = water_by_rule(days, 0, days.index(start)).soaks
    return [
        LogEntry(f"before-start-{n}", datetime.combine(s.on, time(7)), "water", place.name, s.litres)
        for n, s in enumerate(soaks)
    ]


def unless_it_rains(weather: WeatherSeries, on: date) -> WeatherSeries:
    """The series without the rain that is merely usual from ``on`` on: dates fall due unless it rains. A forecast stays."""
    usual = (weather.kind == EXPECTED) & (weather.times >= np.datetime64(on))
    rain = np.where(usual, 0.0, weather.get("rain_mm"))
    return replace(weather, columns={**weather.columns, "rain_mm": rain})


def starting(garden: Garden, place: Place, weather: WeatherSeries, on: date) -> WeatherSeries:
    """The part of the weather a place is run over: from the garden's start, or the earliest of its plantings, but at
    most :data:`MOST_DAYS` and at least :data:`LEAST_DAYS` back where the series has them. The soil is taken as full on the first
    day. A place followed for less than :data:`LEAST_DAYS` begins with its plantings, as the first answer does."""
    shortest = np.datetime64(on) - np.timedelta64(LEAST_DAYS, "D")
    first = np.datetime64(on) - np.timedelta64(MOST_DAYS, "D")
    begun = [p.planted_out or p.sown for p in place.plantings if p.cleared is None or p.cleared > on]
    dates = [np.datetime64(d) for d in begun if d is not None]
    since = followed(garden, place)
    is_new = since is not None and np.datetime64(since) > shortest
    if since is not None and not (is_new and dates):
        first = max(first, np.datetime64(since))
    elif dates and len(dates) == len(begun):
        first = max(first, min(dates))
    first = min(first, shortest)
    return weather.between(max(first, weather.times[0]), weather.times[-1])
