"""The tank that a timer draws on: what it gives to each run of a setting, and what is taken to be known of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from soakbook.delivery.timer_model import Programme, Rules, runs_of
from soakbook.delivery.timer_need import FloatArray
from soakbook.said import Measure, Said, join_said, say


def tank_shares(
    setting: Sequence[Programme], opened: Sequence[Sequence[str]], rules: Rules, flows_lph: Mapping[str, float], first: date, days: int
) -> dict[str, FloatArray]:  # fmt: skip
    """The part of what each line is set to get that the tank gives, by day, (days,): runs draw on it one after another until it is empty.

    It is as full as it is said to be at first, and its refill comes in overnight, up to what it holds. Empty without a tank.
    """
    if rules.tank_l is None:
        return {}
    lines = {line for p in setting for line, minutes in p.minutes if minutes}
    asked, given = ({line: np.zeros(days) for line in lines} for _ in range(2))
    left = rules.tank_l
    for d in range(days):
        for run in runs_of(setting, opened, first + timedelta(days=d)):
            wants = (run.end - run.start) / 60.0 * flows_lph.get(run.line, 0.0)
            gives = min(wants, left)
            left -= gives
            asked[run.line][d] += wants
            given[run.line][d] += gives
        left = min(left + rules.refill_lpd, np.inf if rules.tank_full_l is None else rules.tank_full_l)
    return {line: np.where(asked[line] > 0.0, given[line] / np.maximum(asked[line], 1e-12), 1.0) for line in lines}


def tank_text(rules: Rules) -> Said | None:
    """With what tank a setting is judged, and what of it is not known; None without one."""
    if rules.tank_l is None:
        return None
    parts = [
        say("The tank is taken to hold {now} now; where it is empty its lines get nothing.", now=Measure(rules.tank_l, "volume")),
        say("{refill} come in a day.", refill=Measure(rules.refill_lpd, "volume")) if rules.refill_lpd > 0.0
        else say("No refill is given, so nothing comes in."),
        say("What it holds when full is not given, so nothing runs over.") if rules.refill_lpd > 0.0 and rules.tank_full_l is None else "",
    ]  # fmt: skip
    return join_said(parts)
