"""The two sums of learning that stand beside the runs themselves in time, compiled: how likely readings of a dial are, and by which power of
the likelihoods enough members stand behind a band. Neither holds the interpreter, so that places can be weighed on several threads.

Exponentials do not vectorise in compiled code without a vendor's library: a polynomial for a sixty-fourth of the exponent is squared six times instead, and what is
divided by is never 0, which the compiler is told so that loops become vectors. All is single precision and good to about 1e-5, some hundred-thousandths of a logarithm.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit

from soakbook.machine_code import use_cache

use_cache()

#: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.2.17: the upper tail of the normal distribution, good to 7.5e-8.
_P = np.float32(0.2316419)
_B0, _B1, _B2, _B3, _B4 = (
    np.float32(b / np.sqrt(2.0 * np.pi)) for b in (0.319381530, -0.356563782, 1.781477937, -1.821255978, 1.330274429)
)
_ONE, _HALF, _TENTH, _TEN, _LEAST = (np.float32(x) for x in (1.0, 0.5, 0.1, 10.0, -80.0))
_SMALL = np.float32(1.0 / 64.0)
_C2, _C3, _C4, _C5, _C6, _C7 = (np.float32(1.0 / k) for k in (2, 6, 24, 120, 720, 5040))
_njit: Callable[[Callable[..., Any]], Callable[..., Any]] = njit(
    fastmath={"contract", "arcp", "nsz", "reassoc"}, error_model="numpy", cache=True, nogil=True
)
_exactly: Callable[[Callable[..., Any]], Callable[..., Any]] = njit(error_model="numpy", cache=True, nogil=True)
_INVERSE_ROOT_2PI = np.float32(1.0 / np.sqrt(2.0 * np.pi))


@_njit
def _exp(x: Any) -> Any:
    """The exponential, -80 to 80."""
    y = min(max(x, _LEAST), -_LEAST) * _SMALL
    e = _ONE + y * (_ONE + y * (_C2 + y * (_C3 + y * (_C4 + y * (_C5 + y * (_C6 + y * _C7))))))
    e *= e
    e *= e
    e *= e
    e *= e
    e *= e
    return e * e


@_njit
def _above(z: Any) -> Any:
    """Probability of more than ``z``, which is not negative."""
    t = _ONE / (_ONE + _P * z)
    return _exp(-_HALF * z * z) * t * (_B0 + t * (_B1 + t * (_B2 + t * (_B3 + t * _B4))))


@_njit
def dial_density(
    shown: Any, wetness: Any, shift: Any, steep: Any, hand_var: Any, model_var: Any, out: Any
) -> None:  # fmt: skip
    """Density of each reading in each member, (R, M), all in single precision: see :func:`soakbook.learning.observe.dial`."""
    readings, members = wetness.shape
    for r in range(readings):
        hand = shown[r]
        for m in range(members):
            middle = _TEN / (_ONE + _exp(-(shift[m] + steep[m] * (wetness[r, m] - _HALF))))
            rises = steep[m] * middle * (_ONE - _TENTH * middle)
            inverse = _ONE / np.sqrt(hand_var + model_var * rises * rises)
            off = (hand - middle) * inverse
            within = _ONE - _above((_TEN - middle) * inverse) - _above(middle * inverse)
            out[r, m] = _INVERSE_ROOT_2PI * inverse * _exp(-_HALF * off * off) / within


@_exactly
def _effective(base: Any, log_likely: Any, power: float, out: Any) -> float:
    """Weights of members, adding to 1, and of how many equal ones they are worth."""
    members = len(base)
    top = -np.inf
    for m in range(members):
        out[m] = base[m] + power * log_likely[m] if np.isfinite(base[m]) and power > 0.0 else base[m]
        top = max(top, out[m])
    whole = 0.0
    for m in range(members):
        out[m] = np.exp(out[m] - top)
        whole += out[m]
    squares = 0.0
    for m in range(members):
        out[m] /= whole
        squares += out[m] * out[m]
    return 1.0 / squares


@_exactly
def temper(base: Any, log_likely: Any, least: float, near: float, out: Any) -> None:
    """Weights of members: see :func:`soakbook.learning.filter.tempered`."""
    before = _effective(base, log_likely, 0.0, out)
    least = min(least, 0.5 * before)
    found = _effective(base, log_likely, 1.0, out)
    low, at_low, high, at_high, side = 0.0, np.log(before / least), 1.0, np.log(found / least), 0
    while at_high < 0.0 and high - low > 1e-9:
        power = low + (high - low) * at_low / (at_low - at_high)
        over = np.log(_effective(base, log_likely, power, out) / least)
        if 0.0 <= over <= near:
            break
        if over > 0.0:
            low, at_low, side, at_high = power, over, 1, at_high * (0.5 if side > 0 else 1.0)
        else:
            high, at_high, side, at_low = power, over, -1, at_low * (0.5 if side < 0 else 1.0)
