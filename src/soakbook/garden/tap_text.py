"""A tap as people write it, "3 bar, 12 L/min": its pressure when shut, and what runs freely into a bucket."""

from __future__ import annotations

import math
import re

from soakbook.errors import InputError
from soakbook.physics.pipes import KPA_PER_M, PLANNED_PART, Feed, feed_flow_lph, tap
from soakbook.said import say
from soakbook.units import parse_one_of, parse_quantity

#: Head that drip lines are run at where nothing is said: 1 bar, common practice. [m]
WORKING_M = 100.0 / KPA_PER_M


def head_m(text: str, field: str) -> float:
    """A pressure, or the height of a column of water. [m]"""
    kind, value = parse_one_of(text, ("pressure", "length"), field=field)
    return value / KPA_PER_M if kind == "pressure" else value


def tap_from(text: str, field: str, *, set_m: float = math.inf) -> Feed:
    """A tap; ``set_m`` is the head of a pressure reducer behind it.

    Raises
    ------
    InputError
        When it is not a pressure and a flow with a comma between.
    """
    halves = re.split(r",\s+|(?<!\d),", text.strip(), maxsplit=1)
    if len(halves) != 2:
        raise InputError(
            say('a tap needs a pressure and a flow (got "{got}").', got=text[:40]), code="supply.tap", field=field,
            hint=say('Such as "3 bar, 12 L/min".'),
        )  # fmt: skip
    return tap(head_m(halves[0], field), parse_quantity(halves[1], "flow", field=field), set_m=set_m)


def flow_cap_lph(text: str, field: str) -> float:
    """The most that may flow at once: a flow, or what a tap gives while it keeps :data:`WORKING_M`, less a reserve. [L/h]

    The reserve is that of :data:`soakbook.physics.pipes.PLANNED_PART`. With more lines open than that, the pressure falls below what they need.

    Raises
    ------
    InputError
        When it is neither, or the tap does not keep that pressure.
    """
    try:
        return parse_quantity(text, "flow", field=field)
    except InputError:
        if "," not in text:
            raise
    cap = PLANNED_PART * feed_flow_lph(tap_from(text, field), WORKING_M)
    if cap <= 0.0:
        raise InputError(
            say("this tap does not keep the pressure that drip lines need ({got}).", got=text[:40]), code="timer.flow", field=field,
            hint=say("It takes 1 bar and some flow; for a barrel or a weak supply give the flow that its lines get, such as 60 L/h."),
        )  # fmt: skip
    return cap
