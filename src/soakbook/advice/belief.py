"""What is held of a place this morning: members that are all alike likely, after all that was read there.

Without readings they are drawn from the spread of how each thing about the place was come by. With readings they are resampled
from the members weighed by them (:mod:`soakbook.learning.filter`). Everything follows from the log as it stands: an entry taken
out is as if it had never been, and the order in which entries came does not matter.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.start import Start, start_of, unless_it_rains
from soakbook.balance.place import PlaceDays, place_days, with_members
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Garden, Line, LogEntry, Place
from soakbook.weather.series import WeatherSeries

if TYPE_CHECKING:
    from soakbook.balance.columns import State
    from soakbook.balance.layout import Members
    from soakbook.learning.filter import Learnt

FloatArray = NDArray[np.float64]

#: Members of a belief: as many as the search for the best act rolls forward.
MEMBERS = 50
#: The band shown of the past, as shares of the members.
LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Belief:
    """A place with all its members alike likely.

    ``days`` is the place laid out with the members; ``today`` the index of this morning in it; ``now`` what each holds then, before
    anything of today. ``past_low``, ``past_mid``, ``past_high`` (today,): the fraction used at the end of each past day that 10, 50
    and 90 % of the weight lie below. ``learnt`` has the weighed members where there are readings, else None; readings of today
    count in it, and ``is_read_today`` says whether there are any.
    """

    days: PlaceDays
    today: int
    now: State
    past_low: FloatArray
    past_high: FloatArray
    past_mid: FloatArray
    learnt: Learnt | None
    is_read_today: bool = False


def believe(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], on: date, *,
    count: int = MEMBERS, seed: int = 1,
) -> Belief:  # fmt: skip
    """What is held of a place on the morning of a day.

    Parameters
    ----------
    garden, place
        The place must be of the garden.
    weather
        Daily with gaps filled, from before ``on`` to after it (:func:`soakbook.advice.sky.weather_for`).
    log
        All entries. Waterings before ``on`` make the balance; readings up to the end of ``on`` count, those of today at their time.
    on
        The day.
    count
        Members wanted.
    seed
        Where chance starts; each place has its own chance under one seed.
    """
    start = start_of(garden, place, unless_it_rains(weather, on), on, log)
    days = place_days(garden, place, start.weather, start.log, until=on)
    return belief_from(days, start, log, on, count=count, seed=seed)


def belief_from(
    days: PlaceDays, start: Start, log: Sequence[LogEntry], on: date, *, count: int = MEMBERS, seed: int = 1
) -> Belief:
    """As :func:`believe`, for a place that is laid out already (with any members)."""
    learnt = learnt_from(days, start, log, on, seed=seed)
    if learnt is not None:
        return after_readings(days, learnt, on, count)
    members = draw_members(days.place, count, _rng(days.place, seed), line_of(days.garden, days.place))
    laid = with_members(days, members)
    today = laid.index(on)
    run = laid.run(laid.start(), 0, today, keep=_nights(laid, today), fluxes=False)
    low, mid, high = np.quantile(laid.used_by_day(run, 0), (LOW, 0.5, HIGH), axis=1)
    return Belief(laid, today, run.end, low, high, mid, None)


def learnt_from(
    days: PlaceDays, start: Start, log: Sequence[LogEntry], on: date, *, seed: int = 1
) -> Learnt | None:  # fmt: skip
    """The members of a place weighed by its readings up to the end of ``on``; None without any that count.

    With readings of today they are weighed at this evening, today's waterings given; else this morning.
    """
    from soakbook.learning.filter import learn
    from soakbook.learning.reading import readings_of

    so_far = [e for e in {e.id: e for e in log}.values() if e.at.date() <= on]
    readings = readings_of(so_far, days.place)
    if not readings:
        return None
    is_today = any(r.at.date() == on for r in readings) and days.index(on) + 1 < len(days.days)
    until = on + timedelta(days=1) if is_today else on
    begun = [e for e in start.log if e.id not in {e.id for e in so_far}]
    entries = [*(e for e in so_far if e.at.date() < until), *begun]
    learnt = learn(days.garden, days.place, start.weather, entries, readings, until, seed=seed)
    return learnt if learnt.readings else None


def after_readings(days: PlaceDays, learnt: Learnt, on: date, count: int) -> Belief:
    """Members resampled, and run to this morning: what they hold follows from what they are."""
    from soakbook.learning.filter import pick

    members, _ = pick(learnt, count)
    laid = with_members(days, members)
    today = laid.index(on)
    now = laid.run(laid.start(), 0, today, keep=False).end
    low, high = learnt.band(LOW, HIGH)
    mid, _ = learnt.band(0.5, 0.5)
    is_read_today = any(r.at.date() == on for r in learnt.readings)
    return Belief(laid, today, now, low[:today], high[:today], mid[:today], learnt, is_read_today)


def members_of(belief: Belief, *, seed: int = 1) -> Members:
    """The members a belief rests on, for laying its place out again in another state; ``seed`` as it was believed with."""
    count = belief.now.water_mm.shape[-1]
    if belief.learnt is None:
        place = belief.days.place
        return draw_members(place, count, _rng(place, seed), line_of(belief.days.garden, place))
    from soakbook.learning.filter import pick

    return pick(belief.learnt, count)[0]


def mean_members(learnt: Learnt) -> Members:
    """One member: everything about the place as its readings leave it on average, no single day off."""
    from soakbook.learning.draws import members_from

    place = learnt.days.place
    one = members_from((learnt.weights @ learnt.z)[None], place, line_of(learnt.days.garden, place))
    return replace(one, paths=None)


def _nights(days: PlaceDays, today: int) -> NDArray[np.int64]:
    """The last step of each day before today."""
    n = days.steps_a_day
    return np.arange(n - 1, today * n, n)


def line_of(garden: Garden, place: Place) -> Line | None:
    """The line that feeds a place, None where none does."""
    return next((line for line in garden.lines if line.name == place.line), None)


def _rng(place: Place, seed: int) -> np.random.Generator:
    """Chance of one place: its name is in the seed, so that two places are not off in the same way."""
    return np.random.default_rng([seed, zlib.crc32(place.name.encode())])
