"""The tree of pipes compiled: all that it needs stands in this file, so that its cache is stale only when it changes.

Minimised is the content of the network (Collins et al. 1978, from memory): the sum over pipes of the integral of their loss and over
emitters of the integral of the head they ask for. It is convex in the emitters' flows, which lie between nothing and what a compensating
emitter lets through. A Newton step costs two sweeps over the tree, for the flow of a branch is a straight line in the change of the head it
hangs on. Flows in m³/s, heads in m.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit

from soakbook.machine_code import use_cache

use_cache()

F = TypeVar("F", bound=Callable[..., Any])

RE_LAMINAR, RE_TURBULENT = 2000.0, 4000.0
BLASIUS = 0.316
HAZEN_EXPONENT = 1.852
#: Below this head an emitter's law is a straight line to zero: its slope would be none or endless there. [m]
LITTLE_M = 1e-4
#: An emitter with a check opens from this part below its opening head up to it (judged).
CHECK_GIVES = 0.05
_F1, _F2 = 64.0 / RE_LAMINAR, BLASIUS / RE_TURBULENT**0.25
_S1, _S2 = -_F1, -0.25 * _F2 / 2.0  # slopes over Re / 2000
_C2, _C3 = 3.0 * (_F2 - _F1) - 2.0 * _S1 - _S2, 2.0 * (_F1 - _F2) + _S1 + _S2


def _compiled(function: F) -> F:
    return cast(F, njit(nogil=True, cache=True, error_model="numpy")(function))


@_compiled
def emitted(head: Any, k: Any, x: Any, full: Any, shut: Any, out: Any) -> None:
    """What emitters give at a pressure, see :func:`soakbook.physics.pipes.emitter_flow_lph`."""
    for i in range(head.size):
        h = min(head[i], full[i])
        if k[i] == 0.0 or not h > 0.0:
            out[i] = 0.0
            continue
        share = 1.0
        if h < shut[i]:
            share = max(1.0 - (shut[i] - h) / (CHECK_GIVES * shut[i]), 0.0)
            h = shut[i]
        if h < LITTLE_M:
            share, h = h / LITTLE_M, LITTLE_M
        out[i] = share * k[i] * (np.sqrt(h) if x[i] == 0.5 else h ** x[i])


@_compiled
def _darcy(flow: Any, scale: Any, reynolds: Any, loss: Any, slope: Any) -> None:
    """Loss = scale f Q² and its slope, pipe by pipe; ``reynolds`` is Re / Q."""
    for i in range(1, flow.size):
        q = flow[i]
        r = reynolds[i] * q
        if r <= RE_LAMINAR:
            slope[i] = 64.0 * scale[i] / reynolds[i]
            loss[i] = slope[i] * q
        elif r >= RE_TURBULENT:
            loss[i] = scale[i] * q * q * BLASIUS / np.sqrt(np.sqrt(r))
            slope[i] = 1.75 * loss[i] / q
        else:
            t = r / RE_LAMINAR - 1.0
            f = _F1 + t * (_S1 + t * (_C2 + t * _C3))
            df = (_S1 + t * (2.0 * _C2 + t * 3.0 * _C3)) * reynolds[i] / RE_LAMINAR
            loss[i] = scale[i] * q * q * f
            slope[i] = scale[i] * q * (2.0 * f + q * df)


@_compiled
def _hazen(flow: Any, scale: Any, loss: Any, slope: Any) -> None:
    for i in range(1, flow.size):
        part = scale[i] * flow[i] ** (HAZEN_EXPONENT - 1.0)
        loss[i] = part * flow[i]
        slope[i] = HAZEN_EXPONENT * part


@_compiled
def _asked(q: float, k: float, x: float, shut: float) -> Any:
    """The head an emitter asks for to let ``q`` through, and its slope."""
    low = k * 0.01 if x == 0.5 else k * LITTLE_M**x
    if q <= low:
        head, steep = LITTLE_M * q / low, LITTLE_M / low
    elif x == 0.5:
        head = (q / k) * (q / k)
        steep = 2.0 * q / (k * k)
    else:
        head = (q / k) ** (1.0 / x)
        steep = head / (x * q)
    if head < shut:
        ramp = CHECK_GIVES * shut / (k * shut**x)
        return shut * (1.0 - CHECK_GIVES) + ramp * q, ramp
    return head, steep


@_compiled
def _heads(net: Any, source_m: float, source_drop: float, q: Any, flow: Any, loss: Any, slope: Any, head: Any) -> None:
    """Flows in the pipes of a tree whose emitters let ``q`` through, then losses, their slopes, and heads."""
    parent, is_darcy, scale, reynolds = net
    n = parent.size
    for i in range(n):
        flow[i] = q[i]
    for i in range(n - 1, 0, -1):
        flow[parent[i]] += flow[i]
    if is_darcy:
        _darcy(flow, scale, reynolds, loss, slope)
    else:
        _hazen(flow, scale, loss, slope)
    slope[0] = 2.0 * source_drop * flow[0]
    head[0] = source_m - source_drop * flow[0] * flow[0]
    for i in range(1, n):
        head[i] = head[parent[i]] - loss[i]


@_compiled
def _misses(law: Any, most: Any, head: Any, q: Any, gap: Any, give: Any) -> float:
    """By how much each emitter's head is above what it asks for (``gap``, less the gradient of the content), its flow per head where it
    is free to change (``give``, else 0), and the largest gap of a free one."""
    elevation, k, x, shut = law
    worst = 0.0
    for i in range(q.size):
        give[i] = 0.0
        gap[i] = 0.0
        if k[i] > 0.0:
            asked, steep = _asked(q[i], k[i], x[i], shut[i])
            gap[i] = head[i] - elevation[i] - asked
            if not ((q[i] <= 0.0 and gap[i] <= 0.0) or (q[i] >= most[i] and gap[i] >= 0.0)):
                give[i] = 1.0 / steep
                worst = max(worst, abs(gap[i]))
    return worst


@_compiled
def _newton(parent: Any, slope: Any, gap: Any, give: Any, a: Any, b: Any, change: Any) -> None:
    """The change of head at each node that a Newton step brings: ``a + b`` (change above) is the change of flow in a pipe."""
    n = parent.size
    for i in range(n):
        a[i] = give[i] * gap[i]
        b[i] = give[i]
    for i in range(n - 1, 0, -1):
        shared = 1.0 / (1.0 + b[i] * slope[i])
        a[i] *= shared
        b[i] *= shared
        a[parent[i]] += a[i]
        b[parent[i]] += b[i]
    change[0] = -slope[0] * a[0] / (1.0 + b[0] * slope[0])
    for i in range(1, n):
        above = change[parent[i]]
        change[i] = above - slope[i] * (a[i] + b[i] * above)


@_compiled
def solve_tree(
    net: Any,
    law: Any,
    most: Any,
    source_m: float,
    source_drop: float,
    tolerance_m: float,
    steps: int,
    q: Any,
    flow: Any,
    head: Any,
) -> Any:
    """Newton from the flows in ``q``; fills ``q`` (emitters), ``flow`` (pipes) and ``head`` (above the datum).

    ``net``: parents (``parent[i] < i``), whether Darcy's law holds, and each pipe's scale and Re / Q; pipe ``i`` ends at node ``i``, pipe 0
    is the supply, which loses ``source_drop`` Q². ``law``: elevation, k, x, opening head of the emitters. ``most`` is what an emitter lets
    through at most. Returns the steps taken and the largest miss of an emitter's law in m.

    A step is taken whole if the content still falls at its end (for a convex function then it fell all the way) or nearly so; else it is
    shortened.
    """
    parent = net[0]
    n = parent.size
    loss, slope, gap, give, a, b, change, was, grade = np.zeros((9, n))
    _heads(net, source_m, source_drop, q, flow, loss, slope, head)
    worst = _misses(law, most, head, q, gap, give)
    for step in range(steps):
        if worst <= tolerance_m:
            return step, worst
        _newton(parent, slope, gap, give, a, b, change)
        for i in range(n):
            was[i] = q[i]
            grade[i] = gap[i]
            a[i] = give[i] * (gap[i] + change[i])
        share = 1.0
        for _ in range(60):
            fell, falls = 0.0, 0.0
            for i in range(n):
                q[i] = min(max(was[i] + share * a[i], 0.0), most[i])
                fell += grade[i] * (q[i] - was[i])
            _heads(net, source_m, source_drop, q, flow, loss, slope, head)
            worst = _misses(law, most, head, q, gap, give)
            for i in range(n):
                falls += gap[i] * (q[i] - was[i])
            if worst <= tolerance_m or (fell >= 0.0 and falls >= -0.25 * fell):
                break
            share *= min(max(fell / (fell - falls), 0.1), 0.7) if fell > 0.0 else 0.5
    return steps, worst
