"""What a tap or tank can feed: lines at once, the longest line, filter and pressure reducer, and the cautions that go with them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from soakbook.delivery.solved import solved
from soakbook.physics.pipes import KPA_PER_M, PLANNED_PART, Feed, feed_flow_lph, tank
from soakbook.physics.pipes_tree import Friction, Lateral, network
from soakbook.physics.uniformity import flow_variation
from soakbook.said import Measure, say

Means = Literal["drip", "soaker"]

#: Working pressure, common practice: drip 10-30 psi, soaker hose 10-15 psi. [m of water]
WORKING_M: dict[Means, tuple[float, float]] = {"drip": (7.0, 21.0), "soaker": (7.0, 10.5)}
#: Head by which emitters are sold and lines are run, 1 bar (common practice). [m]
NOMINAL_M = 100.0 / KPA_PER_M
#: Below this a supply is as weak as a barrel on a stand. Judged. [m]
GRAVITY_M = 3.0
#: Finest opening that passes a filter for drippers, common practice: 120 mesh. [mm]
FILTER_MM = 0.125
LONGEST_EMITTERS = 2000

CAUTIONS = (
    say("Before any line on drinking water: a backflow preventer at the tap, with nothing that shuts off behind it, as your local code asks."),
    say("Never join a barrel, a well or greywater to the drinking water. An air gap, or a device your code accepts."),
    say("Fittings blow off under house pressure: turn the tap on slowly, and shut it at the tap, not at the end of the line."),
    say("Before frost: drain lines, filter, reducer and timer, and take in what holds water."),
    say("Local plumbing rules and a licensed plumber come first."),
)  # fmt: skip


def kept_m(feed: Feed, lateral: Lateral) -> float:
    """The head that a supply should keep at the start of its lines: :data:`NOMINAL_M`, or from where emitters give the same if that is more; no more than a reducer is
    set to, nor than nearly all that a weak supply has (judged). [m]"""
    full = lateral.emitter.full_m
    wanted = max(NOMINAL_M, full if math.isfinite(full) else 0.0)
    return min(wanted, feed.set_m, 0.8 * feed.head_m)


def such_lines_at_once(feed: Feed, lateral: Lateral, friction: Friction = "darcy") -> int | None:
    """How many lines like one a supply feeds together by its flow, at the head that it should keep, whatever runs now; None for a tank. What the pipes to them lose is left out."""
    head = kept_m(feed, lateral)
    if math.isinf(feed_flow_lph(feed, head)):
        return None
    return lines_at_once(feed, solved(network([lateral]), tank(head), friction).total_lph, head)


def lines_at_once(feed: Feed, line_lph: float, head_m: float) -> int | None:
    """How many lines that take ``line_lph`` run together while ``head_m`` is kept; None for a tank, whose pipes set the limit. 0 where a line takes nothing there."""
    flow = feed_flow_lph(feed, head_m)
    if line_lph <= 0.0:
        return 0
    return None if math.isinf(flow) else math.floor(PLANNED_PART * flow / line_lph + 1e-9)


def longest_line(lateral: Lateral, head_m: float, variation: float = 0.10, friction: Friction = "darcy") -> int:
    """Emitters on the longest line like ``lateral`` whose flows differ by no more than ``variation`` (1 - least / most); 0 if not even two do.

    ``head_m`` at its start. Where the ground falls, lengths are tried one by one: a longer line may be more even than a short one, and the
    first that is not ends the search. At most :data:`LONGEST_EMITTERS`.
    """

    def is_even(count: int) -> bool:
        tree = network([replace(lateral, count=count)])
        flows = solved(tree, tank(head_m), friction).flow_lph[tree.has_emitter]
        return bool(flows.max() > 0.0) and flow_variation(flows) <= variation

    if not is_even(2):
        return 0
    if lateral.rise < 0.0:
        return next((n - 1 for n in range(3, LONGEST_EMITTERS + 1) if not is_even(n)), LONGEST_EMITTERS)
    good, bad = 2, 4
    while bad <= LONGEST_EMITTERS and is_even(bad):
        good, bad = bad, 2 * bad
    bad = min(bad, LONGEST_EMITTERS + 1)
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if is_even(middle) else (good, middle)
    return good


def needs_reducer(feed: Feed, means: Means = "drip") -> bool:
    """Whether the shut tap's pressure, which the line feels when little flows, is above what the means stands."""
    return min(feed.head_m, feed.set_m) > WORKING_M[means][1]


def fittings(feed: Feed, means: Means = "drip") -> list[str]:
    """What belongs between the supply and the line, and why. Common practice."""
    out: list[str] = [
        say(
            "A filter of {fine} openings (120 mesh) or finer, cleaned twice a month: drippers clog.",
            fine=Measure(FILTER_MM / 1000, "length", 3),
        )
        if means == "drip"
        else say("A filter washer or screen: soaker hose clogs from inside."),
    ]
    low, high = WORKING_M[means]
    head = min(feed.head_m, feed.set_m)
    if needs_reducer(feed, means):
        out.append(
            say(
                "A pressure reducer set between {low} and {high}: the supply stands at {head}.",
                low=_kpa(low), high=_kpa(high), head=_kpa(head),
            )
        )  # fmt: skip
    elif math.isfinite(feed.set_m):
        out.append(say("The pressure reducer stays: it holds {head}.", head=_kpa(head)))
    elif head <= GRAVITY_M:
        out.append(
            say(
                "No reducer. Drippers give far less than their label at so little pressure; compensating ones do not open: take plain ones made for barrels."
            )
            if means == "drip"
            else say("No reducer. Soaker hose gives far less than its label at so little pressure: let it run longer.")
        )
    else:
        out.append(say("No reducer: {head} is within what the line stands.", head=_kpa(head)))
    return out


def _kpa(head_m: float) -> Measure:
    return Measure(head_m * KPA_PER_M, "pressure", 0)
