"""Bands: what is ahead of a place, and how well the bands have held so far for a garden."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import State
from soakbook.balance.member_weather import eto_and_rain
from soakbook.balance.place import PlaceDays
from soakbook.balance.run import run_columns
from soakbook.balance.wander import demand_factor, rain_factor
from soakbook.garden.model import Garden, LogEntry, Place
from soakbook.learning import observe
from soakbook.learning.draws import weighed
from soakbook.learning.filter import Explored, Group, explore, standing_for
from soakbook.learning.reading import RANGES, WHOLE, Reading, flow_meant, likely, readings_of
from soakbook.weather.members import WeatherMembers
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]

#: Ends of the 80 % band, as shares of what was expected of a reading.
LOW, HIGH = 0.1, 0.9
#: Values at which a reading that is a number is compared with what was expected of it.
POINTS = 61
#: Members a reading is held against: as many as stand for all by their weights before it.
STAND = 256


@dataclass(frozen=True)
class Held:
    """One reading held against what was expected of it. ``pit`` is the share of what was expected that lies below it (of a class:
    half of its own share with it); ``inside``: 1 when it lies within the middle 80 %, else 0; of a class the part of its own share
    that lies within, so that the mean is 0.8 where what was expected is right."""

    day: date
    reading: Reading
    inside: float
    pit: float


def part_inside(below: float, up_to: float) -> float:
    """What part of a reading lies within the middle 80 % of what was expected of it.

    A class, or a number beyond which an instrument tells no difference, is all that lies between two shares of what was expected:
    where that is right it may be anywhere between them, each alike likely (the distribution of the non-randomised PIT, [1]_). Over all classes
    the part within then adds up to the width of the band, however coarse they are; counted by its middle, a class that reaches from
    inside far beyond would be wholly inside.

    Parameters
    ----------
    below, up_to
        Shares of what was expected below the lower and the upper edge of the class, 0 to 1; the same for a number.

    References
    ----------
    .. [1] C. Czado, T. Gneiting, L. Held, "Predictive Model Assessment for Count Data", Biometrics 65:1254-1261, 2009 (from
       memory).

    Examples
    --------
    >>> part_inside(0.5, 0.5), part_inside(0.95, 0.95), part_inside(0.0, 0.2)
    (1.0, 0.0, 0.5)
    """
    if up_to <= below:
        return float(LOW <= below <= HIGH)
    return max(0.0, min(up_to, HIGH) - max(below, LOW)) / (up_to - below)


def fan(days: PlaceDays, now: State, ahead: WeatherMembers, puts: Sequence[tuple[int, float]] = ()) -> FloatArray:
    """What the days ahead may bring a place.

    Parameters
    ----------
    days
        The place with its members, all alike likely; it must reach to the first day of ``ahead``.
    now
        What each holds on the morning of that day.
    ahead
        Weather that may come. A member of the place meets one of the weather, in turn; its errors of single days go on.
    puts
        Day (index in ``days``) and depth over the wetted part of what is put on. [mm] Nothing else is, whatever the log says.

    Returns
    -------
    array
        Used fraction at the end of each day, (days, M): as far as both ``days`` and ``ahead`` go.
    """
    first = days.index(ahead.times[0].astype(date))
    count, n = min(len(ahead.times), len(days.days) - first), days.steps_a_day
    members = days.laid.columns.shape[2]
    some = ahead.between(ahead.times[0], ahead.times[count - 1]).pick(np.arange(members) % len(ahead))
    eto, rain = eto_and_rain(days.place, some)
    if days.paths is not None:
        eto = eto * np.repeat(demand_factor(some.times, days.paths), n, axis=0)
        rain = rain * np.repeat(rain_factor(some.times, days.paths), n, axis=0)
    part = replace(
        days.part(first, first + count, [p for p in puts if first <= p[0] < first + count], logged=False),
        eto_mm=np.ascontiguousarray(eto[None]), rain_mm=np.ascontiguousarray(rain[None]),
    )  # fmt: skip
    ends = np.arange(n - 1, count * n, n)
    return days.used_by_day(run_columns(days.laid.columns, part, now, keep=ends, fluxes=False), first)


def held_so_far(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], today: date, *, seed: int = 1
) -> list[Held]:
    """Each reading of a place against what was expected of it without itself and all later ones, by time.

    Members are drawn once, where all readings together want them, and weighed anew before each reading; those weights are right
    wherever they were drawn.

    Parameters
    ----------
    garden, place, weather, log, today, seed
        As for :func:`soakbook.learning.filter.learn`; readings are taken from the log, those that are forgotten left out.
    """
    readings = readings_of(log, place)
    if not readings:
        return []
    e = explore(garden, place, weather, log, readings, today, seed=seed)
    groups = {int(k): g for g in e.groups for k in g.at}
    found, so_far = [], np.zeros(len(e.base))
    for k, (reading, _) in enumerate(e.sights):
        below, up_to = _shares(e, k, groups[k], so_far)
        found.append(Held(reading.at.date(), reading, part_inside(below, up_to), 0.5 * (below + up_to)))
        so_far = so_far + e.counts[k] * e.each[k]
    return found


def _shares(e: Explored, k: int, group: Group, so_far: FloatArray) -> tuple[float, float]:
    """Shares of what was expected of a reading below its lower and below its upper edge: of a class two, of a number twice the same."""
    at = standing_for(weighed(e.base, so_far), STAND)
    reading = e.sights[k][0]
    values, widths = _values(reading, e.days)
    odds = np.exp(likely(reading, values[:, None], e.seen[k][at], e.days, e.z[at][:, group.stays].T))
    mass = widths * odds.mean(axis=1)
    mine = int(np.argmin(np.abs(values - reading.value)))
    if reading.kind in WHOLE or (reading.kind == "tension" and not values[0] < reading.value < values[-1]):
        below = float(mass[:mine].sum())
        return below / float(mass.sum()), (below + float(mass[mine])) / float(mass.sum())
    upper = np.cumsum(mass) - 0.5 * mass
    at_it = float(np.interp(reading.value, values, upper) / mass.sum())
    return at_it, at_it


def _values(reading: Reading, days: PlaceDays) -> tuple[FloatArray, FloatArray]:
    """Values that a reading of this kind could have had, and the width of each as its density is measured; 1 where it has odds."""
    kind, (low, high) = reading.kind, RANGES[reading.kind]
    if kind in WHOLE:
        whole = np.arange(low, high + 1.0)
        return whole, np.ones(len(whole))
    if kind == "tension":
        values = np.geomspace(observe.TENSION_LEAST_KPA, observe.TENSION_MOST_KPA, POINTS)
        widths = np.gradient(np.log(values))
        widths[[0, -1]] = 1.0
        return values, widths
    if kind == "dial":
        values = np.linspace(low, high, POINTS)
    elif kind == "sensor":
        values = np.linspace(0.0, 0.7, POINTS)
    else:
        middle = flow_meant(days, reading) if kind == "flow" else reading.value
        assert middle is not None
        values = middle * np.geomspace(observe.FLOW_LEAST, 1.0 / observe.FLOW_LEAST, 4 * POINTS)
        return values, np.gradient(np.log(values))
    return values, np.gradient(values)
