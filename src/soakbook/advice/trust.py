"""How far a place's figures can be trusted: what may be wrong with it, and how its bands have held so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from soakbook.advice.start import start_of, unless_it_rains
from soakbook.garden.model import Garden, LogEntry, Place
from soakbook.said import Said, say
from soakbook.weather.series import WeatherSeries

if TYPE_CHECKING:
    from soakbook.advice.standing import Standing
    from soakbook.learning.bands import Held
    from soakbook.learning.faults import Suspicion


@dataclass(frozen=True)
class Trust:
    """What is held of a place this morning. ``low`` and ``high`` are the 80 % band of ``used``; ``told`` is what readings taught."""

    used: float
    low: float
    high: float
    unread: float | None
    readings: int
    told: tuple[str, ...]
    suspicions: tuple[Suspicion, ...]
    held: tuple[Held, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain data, described in docs/json.md."""
        return {
            "used": self.used, "used_low": self.low, "used_high": self.high, "used_unread": self.unread,
            "readings": self.readings, "told": list(self.told), "suspicions": [suspicion_json(s) for s in self.suspicions],
            "held": {"inside": sum(h.inside for h in self.held), "readings": len(self.held)},
        }  # fmt: skip


def suspicion_json(one: Suspicion) -> dict[str, Any]:
    """A suspicion as plain data, described in docs/json.md."""
    since = one.since.isoformat() if one.since is not None else None
    return {"fault": one.fault, "odds": one.odds, "since": since, "text": one.text, "check": one.check}


def suspicion_said(one: Suspicion) -> Said:
    """A suspicion in one piece: what may be wrong, how likely that is, since when, and what would settle it."""
    from soakbook.learning.faults_words import odds_said

    odds = odds_said(one.odds)
    if one.since is None:
        return say(
            "Something may be wrong: {text} This is {odds}. What would settle it: {check}",
            text=one.text, odds=odds, check=one.check,
        )  # fmt: skip
    return say(
        "Something may be wrong: {text} This is {odds}, perhaps since {day:tiny}. What would settle it: {check}",
        text=one.text, odds=odds, day=one.since, check=one.check,
    )  # fmt: skip


def suspected_in(
    garden: Garden, weather: WeatherSeries, log: Sequence[LogEntry], on: date
) -> tuple[Suspicion, ...]:  # fmt: skip
    """Faults that the readings of any place point to on a day, in walking order, of each place the likeliest first."""
    return tuple(one for place in garden.places for one in suspected(garden, place, weather, log, on))


def trust_in(standing: Standing, suspicions: tuple[Suspicion, ...], held: tuple[Held, ...]) -> Trust:
    """What is held of a place, with the faults suspected and how its bands have held."""
    from soakbook.advice.belief import HIGH, LOW
    from soakbook.learning.learnt import told

    belief = standing.belief
    used = belief.days.used_fraction(belief.now.water_mm[0], belief.today)
    low, high = (float(v) for v in np.quantile(used, (LOW, HIGH)))
    readings = len(belief.learnt.readings) if belief.learnt is not None else 0
    taught = told(belief.learnt) if belief.learnt is not None else ()
    return Trust(standing.rule.used, low, high, standing.unread, readings, taught, suspicions, held)


def suspected(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], on: date
) -> tuple[Suspicion, ...]:
    """Faults that the readings of a place point to on a day, the likeliest first.

    Parameters are those of :func:`soakbook.advice.belief.believe`; waterings and readings of ``on`` itself count.
    """
    from soakbook.learning.faults import LEAST_READINGS, suspicions
    from soakbook.learning.reading import readings_of

    if len(readings_of(log, place)) < LEAST_READINGS:  # nothing will be weighed, so the place need not be run
        return ()
    here, entries = _start(garden, place, weather, log, on)
    return suspicions(garden, place, here, entries, readings_of(entries, place), on + timedelta(days=1))


def held(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], on: date
) -> tuple[Held, ...]:  # fmt: skip
    """Each reading of a place up to the day ``on`` against the band there was before it, by time."""
    from soakbook.learning.bands import held_so_far
    from soakbook.learning.reading import readings_of

    here, entries = _start(garden, place, weather, log, on)
    if not readings_of(entries, place):
        return ()
    return tuple(held_so_far(garden, place, here, entries, on + timedelta(days=1)))


def _start(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], on: date
) -> tuple[WeatherSeries, list[LogEntry]]:
    """Weather and entries that the place is run over, those of the day itself with them."""
    start = start_of(garden, place, unless_it_rains(weather, on), on, log)
    today = [e for e in {e.id: e for e in log}.values() if e.at.date() == on]
    return start.weather, [*start.log, *today]
