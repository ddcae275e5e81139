"""Water in small pipes: friction, emitters, and the supply they hang on.

Heads in m of water, flows of emitters and lines in L/h, bores (inside diameters) in m. 1 bar is 10.2 m.

References
----------
.. [1] J. Keller and R. D. Bliesner, "Sprinkle and Trickle Irrigation", 1990, ch. 17-24 (from memory).
.. [2] L. A. Rossman et al., "EPANET 2.2 User Manual", US EPA, EPA/600/R-20/133, 2020, ch. 3 and 12 (formulas from memory; a test compares
   the numbers).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

FloatArray = NDArray[np.float64]

GRAVITY_M_S2 = 9.80665
#: Kinematic viscosity of water at 20 °C (from memory). [m²/s]
VISCOSITY_M2_S = 1.004e-6
#: L/h in one m³/s.
LPH_PER_M3_S = 3.6e6
#: Pressure of one metre of water, 1000 kg/m³ at standard gravity. [kPa]
KPA_PER_M = GRAVITY_M_S2
#: Part of what a tap gives that is planned with: the rest is for a filter growing dirty and someone washing up. Common practice.
PLANNED_PART = 0.8
#: Blasius holds up to here (from memory).
RE_BLASIUS_MAX = 1e5
#: Hazen-Williams in SI, from 4.727 with ft and ft³/s and bore to the power 4.871 [2]_: 10.67.
HAZEN_SI = 4.727 * 0.3048 ** (4.871 - 3 * 1.852)
#: Hazen-Williams' C of smooth polyethylene (common practice, from memory); 130 to 140 for drip tube of 12 to 16 mm.
HAZEN_C = 150.0
EXPONENT_MIN, EXPONENT_MAX = 0.2, 2.0
#: An emitter with a check opens from this part below its opening head up to it (judged).
CHECK_GIVES = 0.05


def above_zero(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(
                f"{name} must be above 0 (got {value:g}).", code="pipes.not_above_zero", field=name
            )  # fmt: skip


def friction_factor(reynolds: ArrayLike) -> FloatArray:
    """Darcy's friction factor of smooth pipe.

    Parameters
    ----------
    reynolds
        Reynolds number, above 0.

    Notes
    -----
    64/Re up to 2000 (Hagen and Poiseuille); 0.316 Re^-0.25 from 4000 (Blasius, to about 1e5); between the two a cubic that meets both with
    their slopes, as [2]_ does after Dunlop, so that the loss has no jump. Formulas from memory. NaN in, NaN out.

    Examples
    --------
    >>> [round(float(f), 4) for f in friction_factor([1000, 2000, 4000, 10000])]
    [0.064, 0.032, 0.0397, 0.0316]
    """
    re = np.asarray(reynolds, dtype=float)
    f1, f2 = 64.0 / 2000.0, 0.316 / 4000.0**0.25
    s1, s2 = -f1, -0.125 * f2
    t = re / 2000.0 - 1.0
    between = f1 + t * (s1 + t * ((3.0 * (f2 - f1) - 2.0 * s1 - s2) + t * (2.0 * (f1 - f2) + s1 + s2)))
    return np.asarray(np.where(re <= 2000.0, 64.0 / re, np.where(re < 4000.0, between, 0.316 * re**-0.25)))


def reynolds_number(flow_lph: ArrayLike, bore_m: ArrayLike) -> FloatArray:
    """4 Q / (pi D nu), water at 20 °C."""
    flow = np.asarray(flow_lph, dtype=float) / LPH_PER_M3_S
    return np.asarray(4.0 * flow / (math.pi * np.asarray(bore_m, dtype=float) * VISCOSITY_M2_S))


def darcy_loss_m(flow_lph: ArrayLike, length_m: ArrayLike, bore_m: ArrayLike) -> FloatArray:
    """Head lost along a smooth pipe that carries all its flow to its end, Darcy and Weisbach: f (L/D) V²/(2 g). [m]"""
    flow, length, bore = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (flow_lph, length_m, bore_m)))
    re = reynolds_number(flow, bore)
    speed = flow / LPH_PER_M3_S / (0.25 * math.pi * bore**2)
    loss = friction_factor(np.where(re > 0.0, re, 1.0)) * length / bore * speed**2 / (2.0 * GRAVITY_M_S2)
    return np.asarray(np.where(re == 0.0, 0.0, loss))


def hazen_williams_loss_m(
    flow_lph: ArrayLike, length_m: ArrayLike, bore_m: ArrayLike, c: float = HAZEN_C
) -> FloatArray:
    """The same by Hazen and Williams, for comparison: 10.67 L Q^1.852 / (C^1.852 D^4.871), Q in m³/s [2]_. [m]"""
    flow = np.asarray(flow_lph, dtype=float) / LPH_PER_M3_S
    bore = np.asarray(bore_m, dtype=float)
    return np.asarray(HAZEN_SI * np.asarray(length_m, dtype=float) * (flow / c) ** 1.852 / bore**4.871)


@dataclass(frozen=True)
class Emitter:
    """q = k h^x up to ``full_m``, constant above it, nothing below ``shut_m``; ``k_lph`` is L/h at a head of 1 m."""

    k_lph: float
    x: float
    full_m: float = math.inf
    shut_m: float = 0.0

    def __post_init__(self) -> None:
        above_zero(k_lph=self.k_lph)
        if not EXPONENT_MIN <= self.x <= EXPONENT_MAX:
            raise InputError(
                f"The emitter's exponent must be between {EXPONENT_MIN:g} and {EXPONENT_MAX:g} (got {self.x:g}).", code="pipes.exponent", field="x",
                hint="About 0.5 for most drippers, near 1 for soaker hose; a compensating one has none.",
            )  # fmt: skip
        if not 0.0 <= self.shut_m < self.full_m:
            raise InputError(
                f"An emitter opens at 0 m or more and below the head from which it is constant (got {self.shut_m:g} m).",
                code="pipes.opens", field="shut_m",
            )  # fmt: skip

    @property
    def most_lph(self) -> float:
        """What it lets through at most; endless where it does not compensate."""
        return float(self.k_lph * self.full_m**self.x)


def dripper(flow_lph: float, head_m: float = 10.0, x: float = 0.5) -> Emitter:
    """An emitter by its flow at one head and its exponent: 0.4 vortex, 0.5 orifice or labyrinth, 0.6-0.8 mixed, 1 laminar (from memory)."""
    above_zero(flow_lph=flow_lph, head_m=head_m)
    return Emitter(flow_lph / head_m**x, x)


def dripper_from_two(flow1_lph: float, head1_m: float, flow2_lph: float, head2_m: float) -> Emitter:
    """An emitter by its flow at two heads: x = ln(q1/q2) / ln(h1/h2), k = q1 / h1^x.

    Examples
    --------
    >>> dripper_from_two(2.0, 10.0, 1.0, 2.5).x
    0.5
    """
    above_zero(flow1_lph=flow1_lph, head1_m=head1_m, flow2_lph=flow2_lph, head2_m=head2_m)
    if head1_m == head2_m:
        raise InputError(
            f"Two different heads are needed (got {head1_m:g} m twice).",
            code="pipes.two_heads",
            field="head2_m",
        )
    return dripper(flow1_lph, head1_m, math.log(flow1_lph / flow2_lph) / math.log(head1_m / head2_m))


def compensating(flow_lph: float, full_m: float = 10.0, shut_m: float = 0.0, x_below: float = 0.5) -> Emitter:
    """A pressure-compensating emitter: ``flow_lph`` from ``full_m`` up; below, that of an orifice which gives as much at ``full_m``.

    With ``shut_m`` it has a check that stays shut up to that head. Most need 3 to 10 m to compensate (from memory); what they do below is
    judged.
    """
    above_zero(flow_lph=flow_lph, full_m=full_m)
    return Emitter(flow_lph / full_m**x_below, x_below, full_m, shut_m)


def emitter_flow_lph(emitter: Emitter, head_m: ArrayLike) -> FloatArray:
    """What an emitter gives at a pressure head; nothing at 0 and below. A check opens over the last twentieth below ``shut_m`` (judged). [L/h]

    Examples
    --------
    >>> emitter_flow_lph(dripper(2.0, 10.0), [0.0, 2.5, 10.0]).tolist()
    [0.0, 1.0, 2.0]
    """
    head = np.asarray(head_m, dtype=float)
    flow = emitter.k_lph * np.clip(head, emitter.shut_m, emitter.full_m) ** emitter.x
    if emitter.shut_m > 0.0:
        return np.asarray(flow * np.clip(1.0 - (emitter.shut_m - head) / (CHECK_GIVES * emitter.shut_m), 0.0, 1.0))
    return np.asarray(np.where(head <= 0.0, 0.0, flow))


@dataclass(frozen=True)
class Feed:
    """Where the water comes from: ``head_m`` above the outlet with nothing flowing, lost by ``drop_m_per_lph2`` Q² as it flows.

    ``set_m`` is a pressure reducer's head behind it, endless without one. ``is_tank``: it stands by itself, joined to no main.
    """

    head_m: float
    drop_m_per_lph2: float = 0.0
    set_m: float = math.inf
    is_tank: bool = False

    def __post_init__(self) -> None:
        above_zero(head_m=self.head_m)
        if not (math.isfinite(self.drop_m_per_lph2) and self.drop_m_per_lph2 >= 0.0 and self.set_m > 0.0):
            raise InputError(
                "A supply loses head as it flows, and a reducer is set above 0.", code="pipes.feed", field="feed"
            )


def tank(head_m: float) -> Feed:
    """A barrel or tank whose water stands ``head_m`` above the line's start; its hose belongs to the pipes."""
    return Feed(head_m, is_tank=True)


def held(head_m: float) -> Feed:
    """A pressure held at the line's start, as by a reducer, whatever flows."""
    return Feed(head_m)


def tap(static_m: float, flow_lph: float, head_m: float = 0.0, set_m: float = math.inf) -> Feed:
    """A tap by its head when shut and one measured point: ``flow_lph`` at ``head_m`` (0: running freely into a bucket).

    The loss on the way to it is taken to grow with the square of the flow, as in fittings and rough pipe (judged; smooth pipe alone: 1.75).
    """
    above_zero(static_m=static_m, flow_lph=flow_lph)
    if not 0.0 <= head_m < static_m:
        raise InputError(
            f"The head while it flows must be 0 or more and below that of the shut tap, {static_m:g} m (got {head_m:g} m).",
            code="pipes.tap", field="head_m",
        )  # fmt: skip
    return Feed(static_m, (static_m - head_m) / flow_lph**2, set_m)


def feed_head_m(feed: Feed, flow_lph: ArrayLike) -> FloatArray:
    """Head at the outlet at a flow; below 0 where that much cannot flow. [m]"""
    flow = np.asarray(flow_lph, dtype=float)
    return np.asarray(np.minimum(feed.set_m, feed.head_m - feed.drop_m_per_lph2 * flow**2))


def feed_flow_lph(feed: Feed, head_m: float) -> float:
    """The most that flows while ``head_m`` is kept: 0 above what it can do, endless for a tank. [L/h]"""
    if head_m > min(feed.head_m, feed.set_m):
        return 0.0
    if feed.drop_m_per_lph2 == 0.0:
        return math.inf
    return math.sqrt((feed.head_m - head_m) / feed.drop_m_per_lph2)
