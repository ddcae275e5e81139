"""A line, or several off a header, judged: what comes out where, how even that is, and what limits it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from soakbook.delivery.solved import solved
from soakbook.delivery.tap import CAUTIONS, GRAVITY_M, NOMINAL_M, Means, fittings, longest_line, such_lines_at_once
from soakbook.errors import InputError
from soakbook.physics.pipes import KPA_PER_M, Feed, compensating, dripper, emitter_flow_lph
from soakbook.physics.pipes_tree import Friction, Lateral, Manifold, network, porous_hose
from soakbook.physics.uniformity import (
    ACCEPTABLE_VARIATION,
    GOOD_VARIATION,
    emission_uniformity_pct,
    flow_variation,
    low_quarter_uniformity_pct,
)
from soakbook.said import Measure, say

#: Emitters that give by pressure, those that give the same from a pressure up, and hose that leaks all along.
Kind = Literal["plain", "compensating", "soaker"]
MAKER_CV = 0.05
#: Head lost on the way that is worth a word, of what the supply has. Judged.
MUCH_LOST = 0.10
#: The part of the flow at 1 bar below which little comes out. Judged.
LITTLE = 0.6


@dataclass(frozen=True)
class Outlet:
    """One emitter: its line from 1, how far along it stands, what it gives and at which head."""

    line: int
    at_m: float
    flow_lph: float
    head_m: float


@dataclass(frozen=True)
class Judged:
    """Lines solved. Losses in m of head: in the supply, in the header to the worst line, along the worst line; ``climb_m`` to the worst emitter."""

    outlets: tuple[Outlet, ...]
    total_lph: float
    supply_head_m: float
    supply_loss_m: float
    header_loss_m: float
    line_loss_m: float
    climb_m: float
    variation: float
    eu_pct: float
    du_pct: float
    dry: int
    longest_count: int
    longest_m: float
    at_once: int | None
    balance_error_lph: float
    verdict: str
    limits: tuple[str, ...]
    fittings: tuple[str, ...]
    cautions: tuple[str, ...]


def lateral_of(
    kind: Kind, length_m: float, every_m: float, flow_lph: float, at_head_m: float, bore_m: float, *, exponent: float | None = None,
    rise: float = 0.0,
) -> Lateral:  # fmt: skip
    """A line by what is printed on it.

    Parameters
    ----------
    kind
        Of its emitters.
    length_m, every_m
        Of the line; from emitter to emitter (not for soaker hose). [m]
    flow_lph, at_head_m
        What one emitter, or a metre of soaker hose, gives at a head. [L/h], [m]
    bore_m
        Inside width. [m]
    exponent
        How flow follows head; 0.5, of hose 1, when left out.
    rise
        Of the ground along it, m per m.

    Raises
    ------
    InputError
        Emitters farther apart than the line is long; an exponent for emitters that compensate.
    """
    if kind == "soaker":
        return porous_hose(flow_lph, at_head_m, length_m, bore_m, 1.0 if exponent is None else exponent, rise)
    if kind == "compensating" and exponent is not None:
        raise InputError(
            say("Compensating emitters give the same from a pressure up: leave out how flow follows it."), code="pipes.exponent", field="exponent"
        )  # fmt: skip
    if not 0.0 < every_m <= length_m:
        raise InputError(
            say("Emitters must stand closer than the line is long (got {every} and {long}).", every=Measure(every_m, "length"), long=Measure(length_m, "length")),
            code="pipes.every", field="every",
        )  # fmt: skip
    plain = 0.5 if exponent is None else exponent
    law = compensating(flow_lph, at_head_m) if kind == "compensating" else dripper(flow_lph, at_head_m, plain)
    return Lateral(law, math.floor(length_m / every_m + 1e-9), every_m, bore_m, rise)


def judge_lines(
    lateral: Lateral, lines: int, manifold: Manifold, feed: Feed, *, means: Means = "drip", friction: Friction = "darcy"
) -> Judged:
    """Solve ``lines`` alike off a manifold and say how they do; the longest line is one alone at the supply's head."""
    if not 1 <= lines <= 200:
        raise InputError(say("There may be 1 to 200 lines (got {n}).", n=lines), code="lines.count", field="lines")
    tree = network([lateral] * lines, manifold)
    flows = solved(tree, feed, friction)
    where = np.flatnonzero(tree.has_emitter)
    each, heads = flows.flow_lph[where], flows.head_m[where]
    if not each.max() > 0.0:
        raise InputError(
            say("No water comes out: the supply is lower than the lines."), code="lines.no_water", field="supply"
        )
    outlets = tuple(
        Outlet(int(tree.line[i]) + 1, float(a), float(q), float(h))
        for i, a, q, h in zip(where, np.tile(lateral.at_m, lines), each, heads, strict=True)
    )
    worst = int(where[np.argmin(each)])
    first = int(np.flatnonzero(tree.line == tree.line[worst])[0])
    energy = flows.head_m + tree.elevation_m
    top = min(feed.head_m, feed.set_m)
    lost = (
        top - float(flows.head_m[0]),
        float(energy[0] - energy[tree.parent[first]]),
        float(energy[tree.parent[first]] - energy[worst]),
    )
    variation = flow_variation(each)
    head = float(flows.head_m[0])
    longest = longest_line(lateral, head, GOOD_VARIATION, friction) if head > 0.0 else 0
    climb = float(tree.elevation_m[worst])
    falls = climb - float(tree.elevation_m[where[np.argmax(each)]])
    can_compensate = means == "drip" and math.isinf(lateral.emitter.full_m)
    return Judged(
        outlets, flows.total_lph, head, *lost, climb, variation, emission_uniformity_pct(each, MAKER_CV),
        low_quarter_uniformity_pct(each), int(np.sum(each <= 0.0)), longest, lateral.start_m + (longest - 1) * lateral.spacing_m if longest else 0.0,
        such_lines_at_once(feed, lateral, friction), flows.balance_error_lph, _verdict(variation, float(each.mean()) / float(emitter_flow_lph(lateral.emitter, NOMINAL_M))),
        tuple(_limits(lost, climb, top, variation, falls, can_compensate)), tuple(fittings(feed, means)), CAUTIONS,
    )  # fmt: skip


def _verdict(variation: float, of_nominal: float) -> str:
    """How a design stands by its flow variation (from memory: a tenth is good, a fifth acceptable), and by what it gives of the flow at
    :data:`NOMINAL_M`."""
    if of_nominal < LITTLE and variation <= ACCEPTABLE_VARIATION:
        return say("even, but they give only {part:.0f} % of what they do at 1 bar", part=100.0 * of_nominal)
    if variation <= GOOD_VARIATION:
        return say("good: the least gives within a tenth of the most")
    if variation <= ACCEPTABLE_VARIATION:
        return say("acceptable: the least gives within a fifth of the most")
    return say("poor: the least gives less than four fifths of the most")


def _limits(
    lost: Sequence[float], climb_m: float, top_m: float, variation: float, falls_m: float, can_compensate: bool
) -> list[str]:
    """What takes the pressure, the largest first; nothing where all is well. ``falls_m``: how far the emitter that gives most stands below the one that gives least."""
    is_weak = top_m <= GRAVITY_M
    compensates = can_compensate and not is_weak
    climb = (
        say("Lay lines level, or take compensating emitters.") if compensates
        else say("Lay lines level, or raise the tank.") if is_weak else say("Lay lines level.")
    )  # fmt: skip
    line = (
        say("Shorter lines, a wider bore, or compensating emitters.")
        if compensates
        else say("Shorter lines, or a wider bore.")
    )
    words = (
        (lost[0], say("The supply itself: {lost} are lost on the way to the outlet at this flow. Run fewer lines at once.", lost=_kpa(lost[0]))),
        (lost[1], say("The header: {lost} are lost in it. A wider pipe, or feed it from its middle.", lost=_kpa(lost[1]))),
        (lost[2], say("The line: {lost} are lost along it. {do}", lost=_kpa(lost[2]), do=line)),
        (climb_m, say("The climb: the driest emitter stands {up} above the supply. {do}", up=Measure(max(climb_m, 0.0), "length"), do=climb)),
    )  # fmt: skip
    found: list[str] = [text for much, text in sorted(words, key=lambda w: -w[0]) if much > MUCH_LOST * top_m]
    if found or variation <= GOOD_VARIATION:
        return found
    # What the supply loses makes all of them give less, not one less than another.
    much, text = max(words[1:], key=lambda w: w[0])
    if falls_m <= much:
        return [text]
    if can_compensate:
        return [say("The slope: the ground falls along the line, so that its lower end gives more. Lay it level or take compensating emitters.")]  # fmt: skip
    return [say("The slope: the ground falls along the line, so that its lower end gives more. Lay it level.")]


def _kpa(head_m: float) -> Measure:
    return Measure(head_m * KPA_PER_M, "pressure", 0 if head_m >= 0.5 else 1)
