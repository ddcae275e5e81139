"""A plan in words: what would turn it round, and why it differs from the plain rule."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.costs import CAUSES, PARTS
from soakbook.advice.decide import Advice, Verdict
from soakbook.advice.flip import FeelTurn, RainTurn
from soakbook.said import Measure, say

FloatArray = NDArray[np.float64]

WEEKDAYS = (
    say("Monday"), say("Tuesday"), say("Wednesday"), say("Thursday"), say("Friday"), say("Saturday"), say("Sunday"),
)  # fmt: skip
#: Costs that differ by less than this are told as about the same. [hundredths of the harvest]
WORTH_SAYING = 0.05
#: Litres that differ by less than this are the same to a grower.
SAME_SHARE = 0.25


def turn_text(turn: RainTurn | FeelTurn, waters: bool, on: date, probe_depth_m: float) -> str:
    """What would turn the advice round."""
    if isinstance(turn, FeelTurn):
        depth = Measure(probe_depth_m, "length")
        if turn.is_dry:
            return say("water if it feels dry at {depth}", depth=depth)
        return say("leave it if it feels wet at {depth}", depth=depth)
    day, rain = day_words(on, turn.days_on), Measure(turn.rain_mm, "depth")
    if waters:
        return say("leave it if {day} brings more than {rain}", day=day, rain=rain)
    return say("water if {day} brings less than {rain}", day=day, rain=rain)


def day_words(on: date, days_on: int) -> str:
    """A day near today."""
    if days_on == 0:
        return say("today")
    if days_on == 1:
        return say("tomorrow")
    return WEEKDAYS[(on + timedelta(days=days_on)).weekday()]


def differs_text(
    advice: Advice, verdict: Verdict, litres: float, saved: FloatArray | None, spared: Sequence[str] = PARTS
) -> str:
    """Why a plan is not what the plain rule says; empty where it is the same.

    ``saved`` holds, by part, the cost of what the rule would do less that of the plan.
    """
    rule_waters, waters = advice.verdict == "soak", verdict == "soak"
    if advice.verdict == verdict and (not waters or abs(litres - advice.litres) <= SAME_SHARE * advice.litres):
        return ""
    if not waters and not rule_waters:
        if verdict == "probe first":
            return say("the plain rule would not probe; here a reading would save more than the walk to it costs")
        if advice.verdict == "probe first":
            return say("the plain rule would probe first; no answer would change enough to be worth the walk")
        return say("the plain rule says {rule}; both put on nothing today", rule=VERDICTS[advice.verdict])
    rule = _rule_does(advice)
    if saved is None or float(saved.sum()) < WORTH_SAYING:
        return say("the plain rule would {rule}; the two cost about the same", rule=rule)
    most = spared[int(np.argmax(saved))]
    return say(
        "the plain rule would {rule}; this is expected to cost less by what {saved:.1f} % of the harvest is worth, most of it: {cause}",
        rule=rule, saved=float(saved.sum()), cause=CAUSES[most],
    )  # fmt: skip


VERDICTS: dict[Verdict, str] = {
    "soak": say("soak"),
    "probe first": say("probe first"),
    "hold": say("hold"),
    "let drain": say("let drain"),
    "rain will do": say("rain will do"),
}


def _rule_does(advice: Advice) -> str:
    if advice.verdict == "soak":
        return say("give {litres}", litres=Measure(advice.litres, "volume"))
    if advice.verdict == "probe first":
        return say("probe first and give {litres} if dry", litres=Measure(advice.if_dry_litres, "volume"))
    return say("put on nothing today")
