"""Members of a place weighed by its readings, all at once.

Each member is a set of standard normal numbers (how far store, demand, rain caught, delivery and drainage are off, and what
stays the same with each hand, probe or pot) and a path of day-to-day errors of demand and rain (:mod:`soakbook.balance.wander`). A
member's past follows from them, so its weight is the likelihood of all readings: whatever order they came in, late ones too, and a
reading taken out is as if it had never been.

When few members carry the weight, more are drawn about the weighted mean and covariance, run from the first day, and all
draws weighed together against the mixture they came from (adaptive importance sampling with a deterministic mixture:
O. Cappé et al., J. Comput. Graph. Stat. 13:907-929, 2004; J.-M. Cornuet et al., Scand. J. Stat. 39:798-812, 2012, both from memory). The weights are right whatever the draws; but where few members carry them, bands come out too narrow. ``effective`` says how
many members stand behind a band.

What the balance gets wrong at the spot of a reading is part of a member too where it stays all season, shared by all instruments.
What lasts for some days is shared by all that look at water in those days: each counts the less the more there are
(:func:`how_much`). And where readings fit no member well, they all count less, so far that :data:`LEAST` members stand behind a band:
a model that is surprised knows less than it thought (a power of the likelihood below 1; P. Grünwald and T. van Ommen, Bayesian Anal.
12:1069-1103, 2017, from memory).
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import Result, State
from soakbook.balance.layout import Members
from soakbook.balance.place import PlaceDays, place_days, with_members
from soakbook.balance.spread import draw_members
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Line, LogEntry, Place
from soakbook.learning import observe
from soakbook.learning.draws import (
    PARAMETERS,
    Proposal,
    about,
    draw,
    effective,
    inside,
    latent,
    log_base,
    members_from,
    weighed,
)
from soakbook.learning.metered import as_flows
from soakbook.learning.normal import weighted_quantile
from soakbook.learning.reading import STAYS, Moment, Reading, flow_meant, likely, looked_at, moment_of, steps_for
from soakbook.learning.sensors import weigh_sensors
from soakbook.said import say
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Sight = tuple[Reading, Moment]

#: Members of one draw. A pot has twenty-four steps a day, and a memory of days, not weeks.
BED_MEMBERS, POT_MEMBERS = 384, 128
#: Draws at most, the first included; and the effective number of members, as a share of one draw, that needs no more.
MOST_DRAWS, ENOUGH_SHARE = 8, 0.3
#: Part of a reading's error that it shares with others of the same days. Judged.
TIED = 0.5
#: Effective members that stand behind a band at least. Judged.
LEAST = 40.0
#: How near that is met, in the logarithm.
NEAR = 0.005
#: The number that says how much wetter the spots looked at are than the balance has them.
SPOT = "spot"
#: Members that a band is read from: as many as stand for all by their weights.
BAND_MEMBERS = 400


@dataclass(frozen=True)
class Learnt:
    """A place as its readings have it.

    ``z`` (N, K): the members' standard normal numbers, ``names`` their columns; ``paths`` (N,) their day-to-day errors. ``weights`` (N,)
    add to 1. ``end`` is what each holds on the morning of ``today``; ``used`` (T, N) the fraction used at the end of each day before it;
    ``store_mm`` (N,) what the roots' reach holds when full. The first ``drawn`` members are the prior, each alike. ``effective`` is the
    effective number of members, ``first_effective`` that of the first draw; ``readings`` were counted, ``left_out`` lie outside the days
    or measure a flow of which the garden file says nothing.
    """

    days: PlaceDays
    today: int
    names: tuple[str, ...]
    z: FloatArray
    paths: IntArray
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
        return members_from(self.z, self.days.place, line_of(self.days.garden, self.days.place), self.paths)

    def band(self, low: float = 0.1, high: float = 0.9) -> tuple[FloatArray, FloatArray]:
        """The fraction used at the end of each past day, between two shares of the weight: two arrays (T,)."""
        even, used = np.ones(BAND_MEMBERS), self.used[:, standing_for(self.weights, BAND_MEMBERS)]
        return weighted_quantile(used, even, low), weighted_quantile(used, even, high)


@dataclass(frozen=True)
class Group:
    """Readings of one kind, instrument and depth: ``at`` their places among all, ``stays`` the columns of the numbers that
    stay with the instrument."""

    sights: tuple[Sight, ...]
    at: IntArray
    values: FloatArray
    stays: tuple[int, ...]


@dataclass(frozen=True)
class Explored:
    """All draws of a place side by side: ``base`` (N,) what members weigh before any reading (logarithm), ``each`` (R, N) the
    logarithm of how likely each reading is in each, ``seen`` (R, N) what it looked at there; ``counts`` (R,) how much each counts."""

    days: PlaceDays
    index: int
    names: tuple[str, ...]
    sights: tuple[Sight, ...]
    groups: tuple[Group, ...]
    counts: FloatArray
    left_out: tuple[Reading, ...]
    z: FloatArray
    paths: IntArray
    base: FloatArray
    each: FloatArray
    seen: FloatArray
    end: State
    used: FloatArray
    store_mm: FloatArray
    count: int
    draws: int
    first_effective: float

    def weights(self, until: int | None = None) -> FloatArray:
        """Weights after the first so many readings, after all when not given."""
        return tempered(self.base, self.counts[:until] @ self.each[:until])


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
    e = explore(garden, place, weather, log, readings, today, count=count, most_draws=most_draws, seed=seed)
    weights = e.weights()
    return Learnt(
        e.days, e.index, e.names, inside(e.z), e.paths, weights, e.end, e.used, e.store_mm, e.count, e.draws,
        effective(weights), e.first_effective, tuple(r for r, _ in e.sights), e.left_out,
    )  # fmt: skip


def explore(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], readings: Sequence[Reading],
    today: date, *, count: int | None = None, most_draws: int = MOST_DRAWS, seed: int = 1,
) -> Explored:  # fmt: skip
    """Draw members until enough of them carry the weight of all readings; parameters as for :func:`learn`."""
    count = count or (BED_MEMBERS if place.kind == "bed" else POT_MEMBERS)
    line = line_of(garden, place)
    rng = np.random.default_rng(seed)
    members = draw_members(place, count, rng, line)
    days = place_days(garden, place, weather, log, members, until=today)
    index = days.index(today)
    sights, out = _placed(days, readings, log, index)
    names = (*PARAMETERS, *_stay_names([r for r, _ in sights]))
    groups = grouped(sights, names)
    counts = how_much(sights)
    extra = [
        np.random.default_rng([seed, zlib.crc32(n.encode())]).standard_normal(count) for n in names[len(PARAMETERS) :]
    ]
    z = np.column_stack([latent(members, place, line), *extra])
    paths = np.zeros(count, dtype=np.int64) if members.paths is None else members.paths
    draws = [_seen(days, z, paths, groups, index, names)]
    proposals: list[Proposal] = []
    while True:
        base = log_base([d.z for d in draws], proposals)
        weights = weighed(base, np.concatenate([counts @ d.each for d in draws]))
        if not proposals:
            first_effective = effective(weights)
        if len(draws) >= most_draws or effective(weights) >= ENOUGH_SHARE * count:
            break
        proposals.append(about(_joined([d.z for d in draws], 0), weights))
        z, paths = draw(proposals[-1], count, rng)
        draws.append(
            _seen(with_members(days, members_from(inside(z), place, line, paths)), z, paths, groups, index, names)
        )
    return Explored(
        days, index, names, tuple(sights), groups, counts, tuple(out), _joined([d.z for d in draws], 0),
        _joined([d.paths for d in draws], 0), base, _joined([d.each for d in draws]), _joined([d.seen for d in draws]),
        _beside([d.end for d in draws]), _joined([d.used for d in draws]), _joined([d.store_mm for d in draws]), count,
        len(draws), first_effective,
    )  # fmt: skip


def pick(learnt: Learnt, count: int) -> tuple[Members, State]:
    """So many members, all alike, with what they hold this morning: systematic resampling (J. Carpenter et al., 1999).

    Two picks of one member are the same twice; nothing is jittered, for a member's state follows from its numbers and its path.
    """
    at = standing_for(learnt.weights, count)
    s = learnt.end

    def of(values: FloatArray) -> FloatArray:
        return np.ascontiguousarray(values[..., at])

    held = State(
        of(s.water_mm), of(s.surface_mm), of(s.held_mm), of(s.saucer_mm), of(s.airless), s.area_wet.copy()
    )  # fmt: skip
    line = line_of(learnt.days.garden, learnt.days.place)
    return members_from(learnt.z[at], learnt.days.place, line, learnt.paths[at]), held


def standing_for(weights: FloatArray, count: int) -> IntArray:
    """So many members, each as often as its weight has it."""
    edges = np.cumsum(weights)
    at = np.searchsorted(edges, (np.arange(count) + 0.5) / count * edges[-1])
    return np.asarray(np.minimum(at, len(edges) - 1), dtype=np.int64)


def line_of(garden: Garden, place: Place) -> Line | None:
    """The line that feeds a place."""
    return next((line for line in garden.lines if line.name == place.line), None)


def grouped(sights: Sequence[Sight], names: Sequence[str]) -> tuple[Group, ...]:
    """Readings that can be looked at together."""
    found: dict[object, list[int]] = {}
    for k, (reading, _) in enumerate(sights):
        found.setdefault((reading.kind, reading.by, reading.depth_m, reading.line), []).append(k)
    made = []
    for at in found.values():
        some = tuple(sights[k] for k in at)
        first = some[0][0]
        mine = tuple(k for k, n in enumerate(names) if n.startswith("/".join(first.by) + "/"))
        made.append(Group(some, np.array(at), np.array([[r.value] for r, _ in some]), mine))
    return tuple(made)


def how_much(sights: Sequence[Sight]) -> FloatArray:
    """How much each reading counts: those of one instrument at one depth and moment share one, and all that look at water share what the
    balance gets wrong in those days, whichever instrument they are of."""
    if not sights:
        return np.empty(0)
    same = [(r.by, r.depth_m, r.line, m) for r, m in sights]
    alike = np.array([same.count(one) for one in same], dtype=float)
    at_spot = np.array([r.kind in observe.AT_SPOT for r, _ in sights])
    day = np.array([(r.at - datetime(2000, 1, 1, tzinfo=r.at.tzinfo)).total_seconds() / 86400.0 for r, _ in sights])
    near = np.exp(-np.abs(day[:, None] - day) / observe.MODEL_DAYS) * at_spot
    shared = np.maximum((near / alike).sum(1) - 1.0, 0.0)
    return np.asarray(1.0 / alike / np.where(at_spot, 1.0 + TIED * shared, 1.0))


def tempered(base: FloatArray, log_likely: FloatArray) -> FloatArray:
    """Weights of members; where fewer than :data:`LEAST` would carry them, of the highest power of the likelihood by which as many do.

    That power is found along the chord of the logarithm, an end that stays put counting for half (the Illinois rule: M. Dowell and
    P. Jarratt, BIT 11:168-174, 1971, from memory).
    """
    from soakbook.learning._kernel import temper

    weights = np.empty(len(base))
    temper(np.ascontiguousarray(base), np.ascontiguousarray(log_likely, dtype=float), LEAST, NEAR, weights)
    return weights


@dataclass(frozen=True)
class _Draw:
    """One draw run and looked at: numbers, log-likelihood by reading, and what is kept of the run."""

    z: FloatArray
    paths: IntArray
    each: FloatArray
    seen: FloatArray
    end: State
    used: FloatArray
    store_mm: FloatArray


def _placed(
    days: PlaceDays, readings: Sequence[Reading], log: Sequence[LogEntry], index: int
) -> tuple[list[Sight], list[Reading]]:
    """Readings by time with their moments, and those outside the days."""
    by_id: dict[str, Reading] = {}
    for reading in readings:
        if by_id.setdefault(reading.id, reading) != reading:
            raise InputError(say('"{id}" is the id of another entry.', id=reading.id), code="log.id.twice", field="id")
    used, out = [], []
    poured = [e for e in log if e.kind == "water" and e.place == days.place.name]
    for reading in sorted(as_flows(days, list(by_id.values()), log), key=lambda r: (r.at, r.id)):
        try:
            moment = moment_of(days, reading.at, poured)
        except IndexError:
            out.append(reading)
            continue
        is_known = reading.kind != "flow" or flow_meant(days, reading) is not None
        if moment.step < index * days.steps_a_day and is_known:
            used.append((reading, moment))
        else:
            out.append(reading)
    return used, out


def _stay_names(readings: Sequence[Reading]) -> list[str]:
    kinds = sorted({r.by for r in readings})
    spot = [SPOT] if any(kind in observe.AT_SPOT for kind, _ in kinds) else []
    return spot + [f"{kind}/{which}/{i}" for kind, which in kinds for i in range(STAYS.get(kind, 0))]


def _seen(
    days: PlaceDays, z: FloatArray, paths: IntArray, groups: Sequence[Group], index: int, names: Sequence[str]
) -> _Draw:  # fmt: skip
    """Run a draw to this morning and see what its readings say."""
    start = days.start()
    sights = [s for g in groups for s in g.sights]
    if index:
        flows = any(r.kind in _FLOWS for r, _ in sights)
        run = days.run(start, 0, index, keep=steps_for(sights, days.steps_a_day, index), fluxes=flows)
    else:
        run = Result(start, np.empty(0), 0.0)
    each, seen = np.zeros((2, len(sights), len(z)))
    spot = observe.SPOT_SD * z[:, names.index(SPOT)] if SPOT in names else 0.0
    for group in groups:
        first = group.sights[0][0]
        if first.kind == "sensor":
            seen[group.at] = looked_at(group.sights, days, run)
        else:
            seen[group.at] = looked_at(group.sights, days, run, spot)
            each[group.at] = likely(first, group.values, seen[group.at], days, z[:, group.stays].T)
    if sensors := [g for g in groups if g.sights[0][0].kind == "sensor"]:
        weigh_sensors(days, z, sensors, seen, each)
    past = days.used_by_day(run, 0) if index else np.empty((0, len(z)))
    return _Draw(z, paths, each, seen, run.end, past, days.store_mm(min(index, len(days.days) - 1)))


#: Kinds that look at what flowed, not at what is held.
_FLOWS = ("came out below", "ran off", *observe.WILT_KS)


def _joined(several: Sequence[NDArray[Any]], axis: int = -1) -> NDArray[Any]:
    """Draws side by side."""
    return np.concatenate(several, axis=axis)


def _beside(states: Sequence[State]) -> State:
    """States of several draws side by side."""

    def of(name: str) -> FloatArray:
        return np.concatenate([getattr(s, name) for s in states], axis=-1)

    return State(of("water_mm"), of("surface_mm"), of("held_mm"), of("saucer_mm"), of("airless"), states[0].area_wet)
