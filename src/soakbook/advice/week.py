"""The coming week as it would go if each morning did what costs least, on what is held today.

Each member goes on with its own weather, and every morning is decided as today is: from all members together. Nobody looks in
between, so the days farther off rest on less and less: it is a forecast of the round, for comparing wishes, not a round.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.costs import HARM, PARTS, Weights, parts_of, priced, prices
from soakbook.advice.plan import Plan, plan_round
from soakbook.balance.member_weather import eto_and_rain
from soakbook.balance.place import PlaceDays
from soakbook.balance.rollout import Ahead, reduce, roll
from soakbook.balance.rollout_names import SUMS
from soakbook.balance.run import run_columns
from soakbook.balance.wander import demand_factor, rain_factor
from soakbook.garden.model import Garden
from soakbook.weather.members import WeatherMembers

if TYPE_CHECKING:
    from soakbook.advice.belief import Belief

FloatArray = NDArray[np.float64]
#: Days looked at.
WEEK_DAYS = 7
#: A multiple of its limit at which nobody waters: the day brings what was put on in the morning and no more.
_NEVER = 1e9


@dataclass(frozen=True)
class PlaceWeek:
    """A place over the days: ``litres`` put on each morning, (days,); ``loss`` what is expected to be lost of its harvest in them by all that the
    decision counts as harm to it (:data:`soakbook.advice.costs.HARM`), whatever it weighs. [hundredths of the harvest]"""

    place: str
    litres: tuple[float, ...]
    loss: float


@dataclass(frozen=True)
class Week:
    """Every place of a garden over the days from ``first`` on, in walking order."""

    first: date
    places: tuple[PlaceWeek, ...]

    @property
    def litres(self) -> float:
        """Put on in all."""
        return sum(sum(one.litres) for one in self.places)

    @property
    def soaks(self) -> int:
        """How many times some place is watered."""
        return sum(amount > 0.0 for one in self.places for amount in one.litres)

    @property
    def mornings(self) -> int:
        """On how many mornings there is something to water."""
        return sum(any(day) for day in zip(*(one.litres for one in self.places), strict=True))


def coming_week(
    garden: Garden, beliefs: Sequence[Belief], ahead: WeatherMembers, on: date, weights: Weights, *,
    given: Mapping[str, float] | None = None, days: int = WEEK_DAYS,
) -> Week:  # fmt: skip
    """The week under some weights.

    Parameters
    ----------
    garden, beliefs, ahead, on
        As for :func:`soakbook.advice.plan.plan_round`.
    weights
        What matters to the grower.
    given
        Litres put on today already, by place.
    days
        Mornings looked at.
    """
    forcing = [demand_and_rain(belief.days, ahead) for belief in beliefs]
    offset = int((np.datetime64(on) - ahead.times[0]) / np.timedelta64(1, "D"))
    begun = beliefs
    had = [belief.days.depth_mm((given or {}).get(belief.days.place.name, 0.0), belief.today) for belief in beliefs]
    litres, sums = np.zeros((days, len(beliefs))), [np.zeros((len(SUMS), _members(b))) for b in beliefs]
    for k in range(days):
        morning = on + timedelta(days=k)
        weather = ahead.between(np.datetime64(morning), ahead.times[-1])
        plans = plan_round(garden, beliefs, weather, morning, weights, reasons=False)
        nights = []
        for i, (belief, plan) in enumerate(zip(beliefs, plans, strict=True)):
            put = max(_put_mm(plan), had[i]) if k == 0 else _put_mm(plan)
            litres[k, i] = belief.days.litres(put - had[i] if k == 0 else put, belief.today)
            day = _of_day(belief, forcing[i], offset + k)
            sums[i] += _suffered(belief, day, put)
            nights.append(_next(belief, day, put))
        beliefs = nights
    return Week(
        on,
        tuple(
            PlaceWeek(b.days.place.name, tuple(litres[:, i].tolist()), _loss(garden, b, forcing[i], sums[i]))
            for i, b in enumerate(begun)
        ),
    )


def _members(belief: Belief) -> int:
    return int(belief.days.laid.columns.shape[2])


def _of_day(belief: Belief, forcing: tuple[FloatArray, FloatArray], day: int) -> Ahead:
    """The weather of one day, counted as ``forcing`` is."""
    n = belief.days.steps_a_day
    eto, rain = (np.ascontiguousarray(values[day * n : (day + 1) * n]) for values in forcing)
    return Ahead(eto, rain)


def _suffered(belief: Belief, day: Ahead, put_mm: float) -> FloatArray:
    """What the decision adds up over the day (:data:`soakbook.balance.rollout_names.SUMS`) with what is put on, by member, (len(SUMS), M)."""
    reduced = reduce(belief.days, belief.today, belief.now, day, horizon=1)
    reduced = priced(reduced, belief.days, belief.today)
    return np.asarray(roll(reduced, np.array([put_mm]), np.array([_NEVER]), np.ones(1))[0])


def _loss(garden: Garden, belief: Belief, forcing: tuple[FloatArray, FloatArray], sums: FloatArray) -> float:
    """What of the harvest those sums come to, each wish weighing as usual. [hundredths of the harvest]"""
    reduced = reduce(belief.days, belief.today, belief.now, Ahead(*forcing), horizon=1)
    price = prices(garden, belief.days, reduced, belief.today, Weights())
    parts = parts_of(sums[None], price)[:, 0].mean(axis=1)
    return float(sum(parts[PARTS.index(name)] for name in HARM))


def demand_and_rain(days: PlaceDays, ahead: WeatherMembers) -> tuple[FloatArray, FloatArray]:
    """Demand and rain of each step at a place, with the members' errors of single days, (steps, M). [mm]

    A member of the place meets one of the weather, in turn.
    """
    members = days.laid.columns.shape[2]
    eto, rain = eto_and_rain(days.place, ahead.pick(np.arange(members) % len(ahead)))
    paths, n = days.paths, days.steps_a_day
    if paths is None:
        return eto, rain
    return (
        eto * np.repeat(demand_factor(ahead.times, paths), n, axis=0),
        rain * np.repeat(rain_factor(ahead.times, paths), n, axis=0),
    )


def _put_mm(plan: Plan) -> float:
    """What is put on: where it would be probed first, the act that is best without the probe. [mm]"""
    return plan.unread_mm if plan.verdict == "probe first" else plan.depth_mm


def _next(belief: Belief, day: Ahead, put_mm: float) -> Belief:
    """The belief a morning later."""
    today = belief.today
    part = belief.days.part(today, today + 1, [(today, put_mm)] if put_mm > 0.0 else [], logged=False)
    forced = replace(part, eto_mm=day.eto_mm[None], rain_mm=day.rain_mm[None])
    run = run_columns(belief.days.laid.columns, forced, belief.now, keep=False)
    return replace(belief, today=today + 1, now=run.end)
