"""Odds on rain, in words: how likely a day is to bring any, and how much if it does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from soakbook.errors import InputError
from soakbook.said import Measure, Said, join_said, say
from soakbook.weather.generator import WET_MM
from soakbook.weather.members import WeatherMembers

#: Rain that counts for a bed: less hardly gets below the leaves. Judged. [mm]
GOOD_RAIN_MM = 5.0
#: Days ahead over which odds on rain are told with a round; only those from so many tenths on, and the few that matter most. Judged.
RAIN_DAYS, LEAST_TENTHS, MOST_RAIN_DAYS = 7, 3, 3


@dataclass(frozen=True)
class Odds:
    """What a day may bring: the share of members with :data:`WET_MM` and with :data:`GOOD_RAIN_MM` or more, the middle
    amount of those with rain (0 where none has any) [mm], and all that in words."""

    day: date
    chance: float
    good_chance: float
    amount_mm: float
    text: Said

    @property
    def in_ten(self) -> int:
        """The chance in tenths: people take in *7 in 10* more easily than *0.68*, and fifty members show no more."""
        return tenths(self.chance)


def tenths(chance: float) -> int:
    """A chance in tenths, halves upwards."""
    return int(10.0 * chance + 0.5)


def rain_odds(members: WeatherMembers, days: Sequence[date] | None = None) -> tuple[Odds, ...]:
    """Odds on rain for each day.

    Parameters
    ----------
    members
        Members that cover the days, each as likely as any other.
    days
        Days wanted; None takes all that the members have.

    Returns
    -------
    tuple of Odds
        In the order of ``days``.

    Raises
    ------
    InputError
        A day that the members do not have.
    """
    rain = members.get("rain_mm")
    wanted = [d.item() for d in members.times] if days is None else list(days)
    return tuple(_of_day(day, rain[:, _column(members, day)]) for day in wanted)


def rain_ahead(members: WeatherMembers, on: date) -> tuple[Odds, ...]:
    """The days from ``on`` on whose rain is worth telling with a round, by time; empty where there is none to reckon with.

    Looks at :data:`RAIN_DAYS` days, or as many as the members have.
    """
    days = [on + timedelta(days=k) for k in range(RAIN_DAYS)]
    last = members.times[-1].item()
    odds = rain_odds(members, [day for day in days if day <= last])
    told = [one for one in odds if one.in_ten >= LEAST_TENTHS]
    most = sorted(told, key=lambda one: -one.chance * one.amount_mm)[:MOST_RAIN_DAYS]
    return tuple(sorted(most, key=lambda one: one.day))


def told_ahead(odds: Sequence[Odds], day_words: Callable[[date], str]) -> Said:
    """What :func:`rain_ahead` found, in words that may want a capital and a full stop; ``day_words`` writes a day."""
    if not odds:
        return say("No rain to reckon with in the next {n} days.", n=RAIN_DAYS)
    return join_said([say(o.text.template, **{**o.text.values, "day": day_words(o.day)}) for o in odds], "; ")


def _column(members: WeatherMembers, day: date) -> int:
    at = int((np.datetime64(day, "D") - members.times[0]).astype(int))
    if not 0 <= at < len(members.times):
        raise InputError(
            say(
                "the weather members have no {day}; they go from {first} to {last}.",
                day=day,
                first=members.times[0].item(),
                last=members.times[-1].item(),
            ),
            code="members.days",
            field="days",
        )
    return at


def _of_day(day: date, rain_mm: np.ndarray) -> Odds:
    wet = rain_mm >= WET_MM
    amount = float(np.median(rain_mm[wet])) if wet.any() else 0.0
    chance = float(wet.mean())
    return Odds(day, chance, float((rain_mm >= GOOD_RAIN_MM).mean()), amount, in_words(day, chance, amount))


def in_words(day: date, chance: float, amount_mm: float) -> Said:
    """Odds as a sentence.

    Parameters
    ----------
    day
        The day meant.
    chance
        Of :data:`WET_MM` or more, 0 to 1.
    amount_mm
        The middle amount where it rains. [mm]

    Notes
    -----
    The words by tenths are judged: none *no rain in sight*, 1 and 2 *unlikely*, 3 and 4 *may come*, 5 and 6 *as likely as not*,
    7 and 8 *likely*, 9 and 10 *very likely*. They agree with the calibrated scale of [1]_ (likely from 66 %, very likely from
    90 %, about as likely as not 33 to 66 %, unlikely below 33 %) but for 3 and 4, where *as likely as not* would say too much to
    somebody with a can in hand. Neither 0 nor 10 in 10 is ever said: members do not know that much.

    References
    ----------
    .. [1] M. D. Mastrandrea et al., "Guidance Note for Lead Authors of the IPCC Fifth Assessment Report on Consistent
       Treatment of Uncertainties", IPCC, 2010, Table 1 (from memory).

    Examples
    --------
    >>> in_words(date(2024, 7, 4), 0.68, 6.2)
    'rain likely on 2024-07-04 (7 in 10), about 6 mm if it comes'
    """
    n, mm = tenths(chance), Measure(_rounded(amount_mm), "depth")
    if n == 0:
        return say("no rain in sight on {day}", day=day)
    if n <= 2:
        return say("rain unlikely on {day} ({n} in 10), about {mm} if it comes", day=day, n=n, mm=mm)
    if n <= 4:
        return say("rain may come on {day} ({n} in 10), about {mm} if it does", day=day, n=n, mm=mm)
    if n <= 6:
        return say("rain as likely as not on {day} ({n} in 10), about {mm} if it comes", day=day, n=n, mm=mm)
    if n <= 8:
        return say("rain likely on {day} ({n} in 10), about {mm} if it comes", day=day, n=n, mm=mm)
    return say("rain very likely on {day} (9 in 10 or more), about {mm}", day=day, mm=mm)


def _rounded(mm: float) -> float:
    """Whole millimetres, from 20 on in fives: nothing finer can be known ahead."""
    return float(5 * round(mm / 5.0)) if mm >= 20.0 else float(max(round(mm), 1))
