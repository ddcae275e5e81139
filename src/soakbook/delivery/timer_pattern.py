"""Days and goes a programme may have: the few things a timer stores, listed, each with the steps in which it waters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from itertools import combinations, pairwise

import numpy as np

from soakbook.delivery.timer_model import Days, Rules, Timer
from soakbook.delivery.timer_need import FloatArray, Need, Span
from soakbook.garden.timer_text import is_daily

#: Weekdays are looked at in every combination up to so many allowed days, beyond it only where the gaps are as even as may be.
ALL_SUBSETS_UP_TO = 4
#: Days over which a pattern has to keep the watering-day rules: a year and a leap day's worth, so that month ends are among them.
RULE_DAYS = 400


@dataclass(frozen=True)
class Pattern:
    """Days, and how many starts lie in each window of the day; ``goes`` (T,): starts in each step of the span."""

    days: Days
    starts: tuple[int, ...]
    goes: FloatArray

    @property
    def count(self) -> int:
        """Starts on a day."""
        return sum(self.starts)


def patterns_of(timer: Timer, rules: Rules, span: Span, needs: Sequence[Need]) -> tuple[Pattern, ...]:
    """Every pattern a plan looks at, that keeps the watering-day rules."""
    all_days = [days for days in days_of(timer, rules, span) if _keeps(days, rules, span)]
    splits = starts_in_windows(timer, rules, span, needs)
    made = []
    for days in all_days:
        on = np.array([days.runs_on(span.first + timedelta(days=d)) for d in range(span.days)], dtype=float)
        more = [one for one in little_and_often(timer, rules, span) if one not in splits] if is_daily(days) else []
        if on.any():
            made += [Pattern(days, split, np.outer(on, split).ravel()) for split in (*splits, *more)]
    return tuple(made)


def _keeps(days: Days, rules: Rules, span: Span) -> bool:
    free = len(rules.weekdays) == 7 and rules.parity == "any"
    return free or all(
        rules.allows(day) for day in (span.first + timedelta(days=d) for d in range(RULE_DAYS)) if days.runs_on(day)
    )


def days_of(timer: Timer, rules: Rules, span: Span) -> list[Days]:
    """Days by each kind the timer knows; those that fall on the same days of any calendar are listed once."""
    made: list[Days] = []
    if "weekdays" in timer.day_kinds:
        made += [Days("weekdays", chosen) for chosen in week_masks(tuple(sorted(set(rules.weekdays))))]
    if "every" in timer.day_kinds:
        daily = "weekdays" in timer.day_kinds
        for every in range(2 if daily else 1, timer.longest_interval + 1):
            made += [Days("every", every=every, first=span.first + timedelta(days=k)) for k in range(every)]
    if "parity" in timer.day_kinds:
        made += [Days("parity", parity="odd"), Days("parity", parity="even")]
        if "weekdays" not in timer.day_kinds and "every" not in timer.day_kinds:
            made.append(Days("parity"))
    return made


@lru_cache(maxsize=64)
def week_masks(allowed: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
    """Sets of weekdays: all of few allowed days, else for each number of days those whose longest gap is least."""
    masks: list[tuple[int, ...]] = []
    for k in range(1, len(allowed) + 1):
        every = list(combinations(allowed, k))
        if len(allowed) > ALL_SUBSETS_UP_TO:
            least = min(_unevenness(mask) for mask in every)
            every = [mask for mask in every if _unevenness(mask) == least]
        masks += every
    return tuple(masks)


def _unevenness(mask: tuple[int, ...]) -> tuple[int, ...]:
    gaps = [(b - a) % 7 or 7 for a, b in zip(mask, (*mask[1:], mask[0]), strict=True)]
    return tuple(sorted(gaps, reverse=True))


def starts_in_windows(timer: Timer, rules: Rules, span: Span, needs: Sequence[Need]) -> list[tuple[int, ...]]:
    """How many starts in which window: one in each window alone, one in each of all (where they lie a pause apart), and as many as
    soils ask for that take little at once."""
    n = len(span.windows)
    alone = [tuple(int(w == v) for v in range(n)) for w in range(n)]
    made = list(alone)
    apart = all(b[0] - a[1] >= rules.pause_minutes for a, b in pairwise(span.windows))
    if 1 < n <= timer.starts and apart:
        made.append((1,) * n)
    goes = min(timer.starts, _goes_asked(needs))
    if goes > 1:
        made += [tuple(goes * s for s in split) for split in alone]
        if n > 1 and goes * n <= timer.starts and apart:
            made.append((goes,) * n)
    return made


def little_and_often(timer: Timer, rules: Rules, span: Span) -> list[tuple[int, ...]]:
    """Three starts and more, spread over the windows as evenly as may be, the first of them first: for places that hold little."""
    n = len(span.windows)
    apart = all(b[0] - a[1] >= rules.pause_minutes for a, b in pairwise(span.windows))
    if not apart:
        return []
    return [tuple(k // n + (w < k % n) for w in range(n)) for k in range(3, timer.starts + 1)]


def _goes_asked(needs: Sequence[Need]) -> int:
    """Goes that bring what any place can hold easily into it."""
    asked = [np.ceil(need.easy_mm / need.takes_mm) for need in needs if np.isfinite(need.takes_mm)]
    return int(min(max(asked, default=1.0), 4.0))
