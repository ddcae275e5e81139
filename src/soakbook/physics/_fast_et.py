"""The daily equation compiled, for millions of station-days at once.

Imported only for large arrays: the compiler takes longer to load than a garden's weather takes to compute.
Two threads run over rows (or over stretches of a flat array) with the interpreter lock released; the
compiler's own threading is not used because its simplest layer must not be entered from two threads of a
server.

The exponentials do not vectorise in compiled code without a vendor's library, so within -35 to 55 °C the
vapour pressure and its slope are polynomials through Chebyshev points (errors below 1e-12 kPa and 1e-12
kPa/°C), and the sunset hour angle is folded into one function of x = -tan(latitude) tan(declination). With it
Eq. 21 of FAO-56 reads

    Ra = 24·60/π Gsc dr cos(φ) cos(δ) g(x),   g(x) = sqrt(1 - x²) - x arccos(x),   g(x) = g(-x) - π x

and g(x) / (1 - x)^1.5 is smooth on [0, 1]. A stretch with any temperature outside the range is computed again
with the exponential itself.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import pairwise
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.machine_code import use_cache
from soakbook.physics import air, sun
from soakbook.physics.evapotranspiration import (
    ALBEDO,
    CLOUD_RATIO_MAX,
    CLOUD_RATIO_MIN,
    DARK_MJ_M2,
    MM_PER_MJ_M2,
    negative_input,
)

use_cache()

FloatArray = NDArray[np.float64]
F = TypeVar("F", bound=Callable[..., Any])

THREADS = min(2, os.cpu_count() or 1)
#: More parts than threads, so that a thread held up by another program does not hold up the rest.
PARTS = 8 * THREADS
#: Elements worked on at once; seven arrays of it fit the second-level cache.
BLOCK = 1024
#: Range of the polynomials. [°C]
T_LOW, T_HIGH = -35.0, 55.0
_T_SCALE = 2.0 / (T_HIGH - T_LOW)
_T_SHIFT = (T_HIGH + T_LOW) / (T_HIGH - T_LOW)
#: Cloud factor 1.35 Rs/Rso - 0.35 at the limits of Rs/Rso.
SKY_LOW, SKY_HIGH = 1.35 * CLOUD_RATIO_MIN - 0.35, 1.35 * CLOUD_RATIO_MAX - 0.35
_CLEAR = -1


def _fit(function: Callable[[FloatArray], FloatArray], degree: int, low: float, high: float) -> tuple[float, ...]:
    """Power coefficients, in the variable scaled to [-1, 1], of the polynomial through Chebyshev points."""
    mid, half = 0.5 * (low + high), 0.5 * (high - low)
    nodes = chebyshev.chebpts1(degree + 1)
    through = chebyshev.chebfit(nodes, function(mid + half * nodes), degree)
    return tuple(float(c) for c in chebyshev.cheb2poly(through))


def _path_shape(x: FloatArray) -> FloatArray:
    return np.asarray((np.sqrt(1.0 - x * x) - x * np.arccos(x)) / (1.0 - x) ** 1.5)


def _half_vapour_pressure(t: FloatArray) -> FloatArray:
    return 0.5 * air.saturation_vapour_pressure_kpa(t)


def _slope_of_mean(t: FloatArray) -> FloatArray:
    return np.asarray(np.exp(17.27 * t / (t + 237.3)) / (t + 237.3) ** 2)


E = _fit(_half_vapour_pressure, 13, T_LOW, T_HIGH)
#: In the sum of two scaled temperatures, hence the powers of a half.
S = tuple(c * 0.5**n for n, c in enumerate(_fit(_slope_of_mean, 12, T_LOW, T_HIGH)))
Q = _fit(_path_shape, 11, 0.0, 1.0)


def _compiled(function: F) -> F:
    return cast(F, njit(nogil=True, cache=True, error_model="numpy", fastmath={"contract"})(function))


@_compiled
def _half_e0(x: float) -> float:
    """Half of 0.6108 exp(17.27 T / (T + 237.3)), Horner form in the scaled temperature."""
    high = E[6] + x * (E[7] + x * (E[8] + x * (E[9] + x * (E[10] + x * (E[11] + x * (E[12] + x * E[13]))))))
    return E[0] + x * (E[1] + x * (E[2] + x * (E[3] + x * (E[4] + x * (E[5] + x * high)))))


@_compiled
def _slope(x: float) -> float:
    """exp(17.27 T / (T + 237.3)) / (T + 237.3)², Horner form in the sum of both scaled temperatures."""
    high = S[6] + x * (S[7] + x * (S[8] + x * (S[9] + x * (S[10] + x * (S[11] + x * S[12])))))
    return S[0] + x * (S[1] + x * (S[2] + x * (S[3] + x * (S[4] + x * (S[5] + x * high)))))


@_compiled
def _q(x: float) -> float:
    high = Q[6] + x * (Q[7] + x * (Q[8] + x * (Q[9] + x * (Q[10] + x * Q[11]))))
    return Q[0] + x * (Q[1] + x * (Q[2] + x * (Q[3] + x * (Q[4] + x * (Q[5] + x * high)))))


@_compiled
def _combine(a: Any, b: Any, es: Any, d: Any, v: Any, r: Any, w: Any, g: Any, cloud: Any, k: Any) -> Any:
    """Eqs. 38-40 and 6 of FAO-56 with one division.

    Slope ``d`` and psychrometric constant ``g`` are both divided by the numerator of the slope; ``cloud`` is
    1.35 / Rso; the constants of ``k`` come from :func:`_folded`.
    """
    dry, humid, sunny, soil, cn, cd = k
    ka = a + 273.16
    kb = b + 273.16
    ka = ka * ka
    kb = kb * kb
    sky = min(max(r * cloud - 0.35, SKY_LOW), SKY_HIGH)
    energy = sunny * r - soil - (ka * ka + kb * kb) * (dry - humid * np.sqrt(v)) * sky
    tk = 0.5 * (a + b) + 273.0
    gw = g * w
    return (d * energy * tk + cn * (es - v) * gw) / ((d + (g + cd * gw)) * tk)


def _folded(constants: Any, soil: float) -> tuple[float, ...]:
    """Constants of a convention with what can be multiplied beforehand multiplied."""
    half_sigma_mm = 0.5 * constants.sigma_day * MM_PER_MJ_M2
    sunny = (1.0 - ALBEDO) * MM_PER_MJ_M2
    return (
        0.34 * half_sigma_mm,
        0.14 * half_sigma_mm,
        sunny,
        MM_PER_MJ_M2 * soil,
        constants.cn_day,
        constants.cd_day,
    )


@_compiled
def _stretch(tx: Any, tn: Any, ea: Any, rs: Any, u2: Any, cloud: Any, gamma: Any, out: Any, k: Any) -> Any:
    """One stretch of elements; returns how many were negative where they must not be."""
    off = 0
    negative = 0
    for i in range(out.size):
        a, b, v, r, w = tx[i], tn[i], ea[i], rs[i], u2[i]
        x = a * _T_SCALE - _T_SHIFT
        y = b * _T_SCALE - _T_SHIFT
        off += (abs(x) > 1.0) | (abs(y) > 1.0)
        negative += (v < 0.0) | (r < 0.0) | (w < 0.0)
        out[i] = _combine(a, b, _half_e0(x) + _half_e0(y), _slope(x + y), v, r, w, gamma[i], cloud[i], k)
    if off > 0:
        for i in range(out.size):
            a, b = tx[i], tn[i]
            warm = 0.5 * (a + b) + 237.3
            d = np.exp(17.27 * (warm - 237.3) / warm) / (warm * warm)
            es = 0.3054 * (np.exp(17.27 * a / (a + 237.3)) + np.exp(17.27 * b / (b + 237.3)))
            out[i] = _combine(a, b, es, d, ea[i], rs[i], u2[i], gamma[i], cloud[i], k)
    return negative


@_compiled
def _cloud_row(tan_lat: Any, clear_scale: Any, tan_decl: Any, day_scale: Any, out: Any) -> Any:
    """1.35 / Rso of one day at many stations, from the path function above."""
    for j in range(out.size):
        x = -tan_lat[j] * tan_decl
        rest = max(1.0 - abs(x), 0.0)
        path = rest * np.sqrt(rest) * _q(2.0 * abs(x) - 1.0) + np.pi * max(-x, 0.0)
        out[j] = 1.35 / max(day_scale * clear_scale[j] * path, DARK_MJ_M2)


@_compiled
def _table(tan_lat: Any, clear_scale: Any, tan_decl: Any, day_scale: Any, out: Any) -> Any:
    for i in range(out.shape[0]):
        _cloud_row(tan_lat, clear_scale, tan_decl[i], day_scale[i], out[i])
    return 0


@_compiled
def _rows(
    tx: Any,
    tn: Any,
    ea: Any,
    rs: Any,
    u2: Any,
    table: Any,
    code: Any,
    tan_lat: Any,
    clear_scale: Any,
    tan_decl: Any,
    day_scale: Any,
    gamma: Any,
    out: Any,
    k: Any,
) -> Any:
    """Days down, stations across. 1.35 / Rso comes from the table's row ``code``, or is computed where there
    is none."""
    negative = 0
    scratch = np.empty(BLOCK)
    for i in range(out.shape[0]):
        for j in range(0, out.shape[1], BLOCK):
            s = slice(j, min(j + BLOCK, out.shape[1]))
            end = s.stop - s.start
            if code[i] == _CLEAR:
                cloud = scratch[:end]
                _cloud_row(tan_lat[s], clear_scale[s], tan_decl[i], day_scale[i], cloud)
            else:
                cloud = table[code[i], s]
            negative += _stretch(tx[i, s], tn[i, s], ea[i, s], rs[i, s], u2[i, s], cloud, gamma[s], out[i, s], k)
    return negative


@_compiled
def _flat(tx: Any, tn: Any, ea: Any, rs: Any, u2: Any, cloud: Any, gamma: Any, out: Any, k: Any) -> Any:
    negative = 0
    for j in range(0, out.size, BLOCK):
        s = slice(j, min(j + BLOCK, out.size))
        negative += _stretch(tx[s], tn[s], ea[s], rs[s], u2[s], cloud[s], gamma[s], out[s], k)
    return negative


def daily(
    weather: list[FloatArray], site: list[FloatArray], soil: float, constants: Any, out: FloatArray
) -> FloatArray:
    """What :func:`soakbook.physics.evapotranspiration.reference_et_daily` computes, written to ``out``
    (contiguous)."""
    elevation, lat, day = site
    shape = out.shape
    full = [np.ascontiguousarray(np.broadcast_to(a, shape)) for a in weather]
    k = _folded(constants, soil)
    gamma = air.psychrometric_constant_kpa_c(air.pressure_kpa(elevation)) / constants.slope
    is_by_row = day.ndim == 0 or day.shape == (shape[0], 1)
    if len(shape) == 2 and is_by_row and _across(elevation) and _across(lat):
        negative = _run_grid(full, gamma, elevation, lat, np.broadcast_to(day, (shape[0], 1))[:, 0], out, k)
    else:
        clear = sun.clear_sky_mj_m2(sun.extraterrestrial_daily_mj_m2(lat, day), elevation)
        negative = _run_flat([*full, 1.35 / np.maximum(clear, DARK_MJ_M2), gamma], out, k)
    if negative:
        raise _which_negative(weather)
    return out


def _across(a: FloatArray) -> bool:
    """Whether values differ along the last axis only."""
    return a.ndim < 2 or a.shape[0] == 1


def _run_grid(
    full: list[FloatArray],
    gamma: FloatArray,
    elevation: FloatArray,
    lat_deg: FloatArray,
    day: FloatArray,
    out: FloatArray,
    k: Any,
) -> int:
    n, m = out.shape
    lat = np.broadcast_to(sun.latitude_rad(lat_deg).reshape(-1), m)
    z = np.broadcast_to(elevation.reshape(-1), m)
    by_station = np.ascontiguousarray(np.broadcast_to(gamma.reshape(-1), m))
    place = (np.tan(lat), np.cos(lat) * (0.75 + 2e-5 * z))
    days, code = np.unique(day, return_inverse=True)
    decl = sun.declination_rad(days)
    scale = 1440.0 / np.pi * sun.SOLAR_CONSTANT_MJ_M2_MIN * sun.inverse_relative_distance(days) * np.cos(decl)
    season = (np.tan(decl), scale)
    with ThreadPoolExecutor(THREADS) as pool:
        table = np.empty((len(days) if 2 * len(days) <= n else 0, m))
        if len(table):
            _total([_start(pool, _table, *place, season[0][s], scale[s], table[s]) for s in _slices(len(days))])
        else:
            season, code = (season[0][code], scale[code]), np.full(n, _CLEAR)
        parts = []
        for s in _slices(n):
            by_day = season if len(table) else (season[0][s], season[1][s])
            rows = [a[s] for a in full]
            parts.append(_start(pool, _rows, *rows, table, code[s], *place, *by_day, by_station, out[s], k))
        return _total(parts)


def _start(pool: ThreadPoolExecutor, function: Callable[..., Any], *arguments: Any) -> Future[Any]:
    return pool.submit(function, *arguments)


def _total(parts: list[Future[Any]]) -> int:
    return sum(int(p.result()) for p in parts)


def _run_flat(terms: list[FloatArray], out: FloatArray, k: Any) -> int:
    flat = [np.ascontiguousarray(np.broadcast_to(a, out.shape)).reshape(-1) for a in terms]
    flat.append(out.reshape(-1))
    with ThreadPoolExecutor(THREADS) as pool:
        return _total([_start(pool, _flat, *[a[s] for a in flat], k) for s in _slices(out.size)])


def _slices(n: int) -> list[slice]:
    edges = np.linspace(0, n, PARTS + 1).astype(int)
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]


def _which_negative(weather: list[FloatArray]) -> InputError:
    names = ("vapour_pressure_kpa", "solar_mj_m2", "wind_2m_ms")
    name, lowest = min(
        ((n, float(np.nanmin(a))) for n, a in zip(names, weather[2:], strict=True)), key=lambda pair: pair[1]
    )
    return negative_input(name, lowest)
