"""Members of a place weighed by its readings, all at once.

Each member is a set of standard normal numbers: how far store, demand, rain caught, delivery and drainage are off, and what
stays the same with each hand, probe or pot. A member's past follows from them, so its weight is the likelihood of all readings:
whatever order they came in, late ones too, and a reading taken out is as if it had never been.

When few members carry the weight, more are drawn about the weighted mean and covariance, run from the first day, and all
draws weighed together against the mixture they came from (adaptive importance sampling with a deterministic mixture:
O. Cappé et al., J. Comput. Graph. Stat. 13:907-929, 2004; J.-M. Cornuet et al., Scand. J. Stat. 39:798-812, 2012, both from
memory). The weights are right whatever the draws; but where few members carry them, bands come out too narrow. That is so
with two readings a day for a month: of truths drawn from the prior, 80 % bands then hold about 73 % (a bed; five pairs of
readings, a week apart: 80 to 87 %). ``effective`` says how many members stand behind a band.

A member's only unknowns are its parameters: what the weather of single days, or a crop unlike the book's, adds to the error is
not drawn here.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import Result, State
from soakbook.balance.layout import Members
from soakbook.balance.place import PlaceDays, place_days
from soakbook.balance.spread import draw_members
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Line, LogEntry, Place
from soakbook.learning.draws import PARAMETERS, Proposal, about, draw, effective, inside, latent, members_from, weighed
from soakbook.learning.normal import weighted_quantile
from soakbook.learning.reading import STAYS, Moment, Reading, log_likelihood, moment_of
from soakbook.said import say
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]

#: Members of one draw. A pot has twenty-four steps a day, and a memory of days, not weeks.
BED_MEMBERS, POT_MEMBERS = 400, 100
#: Draws at most, the first included; and the effective number of members, as a share of one draw, that needs no more.
MOST_DRAWS, ENOUGH_SHARE = 8, 0.3


@dataclass(frozen=True)
class Learnt:
    """A place as its readings have it.

    ``z`` (N, K): the members' standard normal numbers, ``names`` their columns. ``weights`` (N,) add to 1. ``end`` is what
    each holds on the morning of ``today``; ``used`` (T, N) the fraction used at the end of each day before it; ``store_mm`` (N,)
    what the roots' reach holds when full. The first ``drawn`` members are the prior, each alike. ``effective`` is the effective
    number of members, ``first_effective`` that of the first draw; ``readings`` were counted, ``left_out`` lie outside the days.
    """

    days: PlaceDays
    today: int
    names: tuple[str, ...]
    z: FloatArray
    weights: FloatArray
    end: State
    used: FloatArray
    store_mm: FloatArray
    drawn: int
    draws: int
    effective: float
    first_effective: float
    readings: tuple[Reading, ...]
    left_out: tuple[Reading, ...]

    def mean_sd(self, name: str) -> tuple[float, float]:
        """Mean and standard deviation of a number after the readings; 0 and about 1 before."""
        z = self.z[:, self.names.index(name)]
        mean = float(self.weights @ z)
        return mean, math.sqrt(max(float(self.weights @ (z - mean) ** 2), 0.0))

    def members(self) -> Members:
        """All members, by weight to be used with :attr:`weights`."""
        return members_from(self.z, self.days.place, _line(self.days.garden, self.days.place))

    def band(self, low: float = 0.1, high: float = 0.9) -> tuple[FloatArray, FloatArray]:
        """The fraction used at the end of each past day, between two shares of the weight: two arrays (T,)."""
        return weighted_quantile(self.used, self.weights, low), weighted_quantile(self.used, self.weights, high)


def learn(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], readings: Sequence[Reading],
    today: date, *, count: int | None = None, most_draws: int = MOST_DRAWS, seed: int = 1,
) -> Learnt:  # fmt: skip
    """Weigh members of a place by all its readings up to this morning.

    Parameters
    ----------
    garden, place, weather, log
        As for :func:`soakbook.balance.place.place_days`.
    readings
        In any order. Those after ``today`` or before the first day are left out; an id that comes twice counts once; those of one
        instrument at one depth and moment count as one, each with an equal share.
    today
        The day on whose morning the members stand.
    count
        Members of one draw.
    most_draws
        Draws at most.
    seed
        Where chance starts; the same readings and seed give the same members.

    Raises
    ------
    InputError
        One id with two different readings.
    """
    count = count or (BED_MEMBERS if place.kind == "bed" else POT_MEMBERS)
    line = _line(garden, place)
    rng = np.random.default_rng(seed)
    first = latent(draw_members(place, count, rng, line), place, line)
    many = place_days(garden, place, weather, log, members_from(first, place, line), until=today)
    index = many.index(today)
    used, out = _placed(many, readings, log, index)
    names = (*PARAMETERS, *_stay_names([r for r, _ in used]))
    extra = [np.random.default_rng([seed, zlib.crc32(n.encode())]).standard_normal(count) for n in names[5:]]
    z = np.column_stack([first, *extra])
    draws = [_seen(many, z, used, names, index)]
    proposals: list[Proposal] = []
    weights = weighed([d.z for d in draws], [d.likely for d in draws], proposals)
    first_effective = effective(weights)
    while len(draws) < most_draws and effective(weights) < ENOUGH_SHARE * count:
        proposals.append(about(np.concatenate([d.z for d in draws]), weights))
        z = draw(*proposals[-1], count, rng)
        days = place_days(garden, place, weather, log, members_from(inside(z), place, line), until=today)
        draws.append(_seen(days, z, used, names, index))
        weights = weighed([d.z for d in draws], [d.likely for d in draws], proposals)
    return Learnt(
        many, index, names, inside(np.concatenate([d.z for d in draws])), weights, _joined([d.end for d in draws]),
        np.concatenate([d.used for d in draws], axis=1), np.concatenate([d.store_mm for d in draws]), count, len(draws),
        effective(weights), first_effective, tuple(r for r, _ in used), tuple(out),
    )  # fmt: skip


def pick(learnt: Learnt, count: int) -> tuple[Members, State]:
    """So many members, all alike, with what they hold this morning: systematic resampling (J. Carpenter et al., 1999).

    Two picks of one member are the same twice; nothing is jittered, for a member's state follows from its parameters.
    """
    edges = np.cumsum(learnt.weights)
    at = np.minimum(np.searchsorted(edges, (np.arange(count) + 0.5) / count * edges[-1]), len(edges) - 1)
    s = learnt.end

    def of(values: FloatArray) -> FloatArray:
        return np.ascontiguousarray(values[..., at])

    held = State(
        of(s.water_mm), of(s.surface_mm), of(s.held_mm), of(s.saucer_mm), of(s.airless), s.area_wet.copy()
    )  # fmt: skip
    return members_from(learnt.z[at], learnt.days.place, _line(learnt.days.garden, learnt.days.place)), held


@dataclass(frozen=True)
class _Draw:
    """One draw run and looked at: numbers, log-likelihood, and what is kept of the run."""

    z: FloatArray
    likely: FloatArray
    end: State
    used: FloatArray
    store_mm: FloatArray


def _line(garden: Garden, place: Place) -> Line | None:
    return next((line for line in garden.lines if line.name == place.line), None)


def _placed(
    days: PlaceDays, readings: Sequence[Reading], log: Sequence[LogEntry], index: int
) -> tuple[list[tuple[Reading, Moment]], list[Reading]]:
    """Readings by time with their moments, and those outside the days."""
    by_id: dict[str, Reading] = {}
    for reading in readings:
        if by_id.setdefault(reading.id, reading) != reading:
            raise InputError(say('"{id}" is the id of another entry.', id=reading.id), code="log.id.twice", field="id")
    used, out = [], []
    for reading in sorted(by_id.values(), key=lambda r: (r.at, r.id)):
        try:
            moment = moment_of(days, reading.at, log)
        except IndexError:
            out.append(reading)
            continue
        if moment.step < index * days.steps_a_day:
            used.append((reading, moment))
        else:
            out.append(reading)
    return used, out


def _stay_names(readings: Sequence[Reading]) -> list[str]:
    kinds = sorted({r.by for r in readings})
    return [f"{kind}/{which}/{i}" for kind, which in kinds for i in range(STAYS.get(kind, 0))]


def _seen(
    days: PlaceDays, z: FloatArray, used: Sequence[tuple[Reading, Moment]], names: Sequence[str], index: int
) -> _Draw:
    """Run a draw to this morning and add up what its readings say."""
    start = days.full()
    run = days.run(start, 0, index) if index else Result(start, np.empty(0), 0.0)
    likely = np.zeros(len(z))
    together: dict[object, list[FloatArray]] = {}
    for reading, moment in used:
        mine = [k for k, n in enumerate(names) if n.startswith(f"{reading.kind}/{reading.instrument}/")]
        one = log_likelihood(reading, moment, days, run, z[:, mine].T)
        together.setdefault((reading.by, reading.depth_m, moment), []).append(one)
    for several in together.values():
        likely += sum(several) / len(several)
    past = days.used_by_day(run, 0) if index else np.empty((0, len(z)))
    return _Draw(z, likely, run.end, past, days.store_mm(min(index, len(days.days) - 1)))


def _joined(states: Sequence[State]) -> State:
    """States of several draws side by side."""

    def of(name: str) -> FloatArray:
        return np.concatenate([getattr(s, name) for s in states], axis=-1)

    return State(of("water_mm"), of("surface_mm"), of("held_mm"), of("saucer_mm"), of("airless"), states[0].area_wet)
