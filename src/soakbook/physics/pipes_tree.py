"""Laterals and manifolds as a tree of pipes: flow and pressure at every emitter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics.pipes import (
    GRAVITY_M_S2,
    HAZEN_C,
    HAZEN_SI,
    LPH_PER_M3_S,
    VISCOSITY_M2_S,
    Emitter,
    Feed,
    FloatArray,
    above_zero,
    feed_head_m,
)

IntArray = NDArray[np.int64]
Friction = Literal["darcy", "hazen_williams"]

TOLERANCE_M = 1e-9
STEPS_MAX = 1000
NODES_MAX = 200_000
#: Pieces into which hose that leaks all along is cut.
HOSE_PIECES = 100


@dataclass(frozen=True)
class Network:
    """A tree of ``n`` nodes: node 0 is the supply's outlet, pipe ``i`` leads from ``parent[i]`` (below ``i``) to node ``i``.

    All arrays (n,): ``length_m`` and ``bore_m`` of the pipe, ``elevation_m`` of the node above the outlet, the law of its emitter as in
    :class:`Emitter` (``k_lph`` 0 where there is none), and ``line``: the number of the lateral it belongs to, -1 for none.
    """

    parent: IntArray
    length_m: FloatArray
    bore_m: FloatArray
    elevation_m: FloatArray
    k_lph: FloatArray
    x: FloatArray
    full_m: FloatArray
    shut_m: FloatArray
    line: IntArray

    @property
    def has_emitter(self) -> NDArray[np.bool_]:
        return np.asarray(self.k_lph > 0.0)


@dataclass(frozen=True)
class Lateral:
    """A line with emitters ``spacing_m`` apart, the first ``first_m`` from its start (None: one spacing).

    ``rise`` is how far the ground rises per metre along it, below 0 where it falls. A hose that leaks all along is cut into short pieces,
    each with an emitter in its middle: see :func:`porous_hose`.
    """

    emitter: Emitter
    count: int
    spacing_m: float
    bore_m: float
    rise: float = 0.0
    first_m: float | None = None

    def __post_init__(self) -> None:
        above_zero(spacing_m=self.spacing_m, bore_m=self.bore_m)
        if self.first_m is not None:
            above_zero(first_m=self.first_m)
        if not 1 <= self.count <= NODES_MAX:
            raise InputError(
                f"A line has between 1 and {NODES_MAX} emitters (got {self.count}).",
                code="pipes.count",
                field="count",
            )
        if not abs(self.rise) < 1.0:
            raise InputError(
                f"The ground may rise or fall by less than 1 m per metre (got {self.rise:g}).",
                code="pipes.rise",
                field="rise",
            )

    @property
    def start_m(self) -> float:
        return self.spacing_m if self.first_m is None else self.first_m

    @property
    def at_m(self) -> FloatArray:
        """Where its emitters are, from its start. (count,) [m]"""
        return np.asarray(self.start_m + self.spacing_m * np.arange(self.count))


def porous_hose(
    flow_lph_m: float, head_m: float, length_m: float, bore_m: float, x: float = 1.0, rise: float = 0.0
) -> Lateral:
    """Soaker hose: so much for each metre at a head, by a power of the head (1: through pores; from memory).

    Cut into :data:`HOSE_PIECES` pieces; the error falls with the square of their number.
    """
    above_zero(flow_lph_m=flow_lph_m, head_m=head_m, length_m=length_m)
    piece = length_m / HOSE_PIECES
    return Lateral(Emitter(flow_lph_m * piece / head_m**x, x), HOSE_PIECES, piece, bore_m, rise, piece / 2.0)


@dataclass(frozen=True)
class Manifold:
    """The pipe from the supply to the laterals: ``lead_m`` to the first one, ``apart_m`` from each to the next."""

    bore_m: float
    apart_m: float = 0.5
    lead_m: float = 0.0
    rise: float = 0.0
    lead_rise_m: float = 0.0

    def __post_init__(self) -> None:
        above_zero(bore_m=self.bore_m, apart_m=self.apart_m)
        if self.lead_m < 0.0:
            raise InputError(
                f"The way to the first line must be 0 or more (got {self.lead_m:g} m).",
                code="pipes.lead",
                field="lead_m",
            )


def network(laterals: Sequence[Lateral], manifold: Manifold | None = None) -> Network:
    """A tree of laterals off a manifold; without one there is a single lateral, at the supply itself."""
    if not laterals or (manifold is None and len(laterals) > 1):
        raise InputError(
            "Several lines need a manifold, and a tree needs a line.", code="pipes.lines", field="laterals"
        )
    made = _Growing()
    if manifold is None:
        made.branch(0, laterals[0], 0.0, 0)
        return made.network()
    foot, height = 0, manifold.lead_rise_m
    for j, lateral in enumerate(laterals):
        length = manifold.lead_m if j == 0 else manifold.apart_m
        height += 0.0 if j == 0 else manifold.rise * manifold.apart_m
        foot = made.add([foot], [length], manifold.bore_m, [height])
        made.branch(foot, lateral, height, j)
    return made.network()


class _Growing:
    """Nodes put one after another."""

    def __init__(self) -> None:
        self.size = 0
        self.parts: list[tuple[FloatArray, ...]] = []
        self.add([0], [0.0], 1.0, [0.0])

    def add(self, parent: Sequence[int] | IntArray, length_m: Sequence[float] | FloatArray, bore_m: float,
            elevation_m: Sequence[float] | FloatArray, emitter: Emitter | None = None, line: int = -1) -> int:  # fmt: skip
        """Nodes with one bore and one kind of emitter; the number of the last."""
        law = (
            (0.0, 1.0, math.inf, 0.0) if emitter is None else (emitter.k_lph, emitter.x, emitter.full_m, emitter.shut_m)
        )
        rows = np.broadcast_arrays(parent, length_m, bore_m, elevation_m, *law, line)
        self.parts.append(tuple(np.asarray(row, dtype=float) for row in rows))
        self.size += len(rows[0])
        return self.size - 1

    def branch(self, foot: int, lateral: Lateral, height_m: float, line: int) -> None:
        parents = np.arange(self.size - 1, self.size - 1 + lateral.count)
        parents[0] = foot
        lengths = np.full(lateral.count, lateral.spacing_m)
        lengths[0] = lateral.start_m
        self.add(parents, lengths, lateral.bore_m, height_m + lateral.rise * lateral.at_m, lateral.emitter, line)

    def network(self) -> Network:
        columns = [np.concatenate(column) for column in zip(*self.parts, strict=True)]
        parent, length, bore, elevation, k, x, full, shut, line = columns
        return Network(parent.astype(np.int64), length, bore, elevation, k, x, full, shut, line.astype(np.int64))


@dataclass(frozen=True)
class Flows:
    """What flows where. Arrays (n,): ``flow_lph`` of emitters, ``pipe_lph``, pressure ``head_m`` at nodes.

    ``balance_error_lph``: what leaves by the emitters' own laws at these heads, less what the supply gives. ``miss_m``: the largest
    difference between the head at an emitter and the one its flow asks for. Not to be used unless ``converged``.
    """

    flow_lph: FloatArray
    pipe_lph: FloatArray
    head_m: FloatArray
    total_lph: float
    converged: bool
    iterations: int
    balance_error_lph: float
    miss_m: float
    is_reduced: bool
    "Whether a reducer holds its head; where not, the tap gives less than it is set to."


def solve(tree: Network, feed: Feed, friction: Friction = "darcy", hazen_c: float = HAZEN_C) -> Flows:
    """Flow and pressure at every emitter.

    Parameters
    ----------
    tree
        From :func:`network`, or any arrays that fit :class:`Network`.
    feed
        The supply at node 0.
    friction
        ``"darcy"`` (Darcy and Weisbach, smooth pipe) or ``"hazen_williams"``; losses in fittings are left out.

    Notes
    -----
    Kirchhoff's two laws with q = k h^x, as the minimum of the content of the network (see the compiled kernel). Where the pressure
    would be below 0, nothing comes out; no air or water is taken in. Above Re = 1e5 Blasius is stretched.
    """
    reducing = feed.set_m < feed.head_m
    flows = _solved(tree, Feed(feed.set_m) if reducing else replace(feed, set_m=math.inf), friction, hazen_c)
    if reducing and float(feed_head_m(feed, flows.total_lph)) >= feed.set_m:
        return replace(flows, is_reduced=True)
    return _solved(tree, replace(feed, set_m=math.inf), friction, hazen_c) if reducing else flows


def _solved(tree: Network, feed: Feed, friction: Friction, hazen_c: float) -> Flows:
    from soakbook.physics._pipes_kernel import emitted, solve_tree

    n = tree.parent.size
    k = tree.k_lph * (1.0 / LPH_PER_M3_S)
    bore = tree.bore_m
    if friction == "darcy":
        scale = (8.0 / (GRAVITY_M_S2 * math.pi**2)) * tree.length_m / ((bore * bore) * (bore * bore) * bore)
    else:
        scale = HAZEN_SI * tree.length_m / (hazen_c**1.852 * bore**4.871)
    reynolds = 4.0 / (math.pi * VISCOSITY_M2_S) / bore
    most, q, flow, head, by_law = np.empty((5, n))
    emitted(tree.full_m, k, tree.x, tree.full_m, tree.shut_m, most)
    emitted(feed.head_m - tree.elevation_m, k, tree.x, tree.full_m, tree.shut_m, q)
    net = (tree.parent, friction == "darcy", scale, reynolds)
    law = (tree.elevation_m, k, tree.x, tree.shut_m)
    drop = feed.drop_m_per_lph2 * LPH_PER_M3_S**2
    steps, miss = solve_tree(net, law, most, feed.head_m, drop, TOLERANCE_M, STEPS_MAX, q, flow, head)
    pressure = head - tree.elevation_m
    emitted(pressure, k, tree.x, tree.full_m, tree.shut_m, by_law)
    error = float(by_law.sum() - flow[0]) * LPH_PER_M3_S
    total = float(flow[0]) * LPH_PER_M3_S
    return Flows(q * LPH_PER_M3_S, flow * LPH_PER_M3_S, pressure, total, miss <= TOLERANCE_M, steps, error, miss, False)


def warm_up() -> None:
    """Solve a tiny tree, so that the kernel is compiled and its cache written."""
    solve(network([Lateral(Emitter(1.0, 0.5), 2, 0.3, 0.013)]), Feed(10.0))
