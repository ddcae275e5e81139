"""Smooth daily values from monthly ones, with every month's mean kept exactly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from soakbook.weather.series import FloatArray

#: Months added before and after, so that the ends do not show.
_MARGIN = 3


def daily_from_months(
    monthly: FloatArray,
    first: np.datetime64,
    last: np.datetime64,
    *,
    is_total: bool = False,
    at_least: float | None = None,
) -> FloatArray:
    """A value for each day from ``first`` to ``last``.

    Parameters
    ----------
    monthly
        Twelve values, January first: means over the days of the month, or totals when ``is_total``.
    first, last
        Days, both included.
    at_least
        A bound that no day may pass below, where the monthly values keep to it too (0 for rain).

    Returns
    -------
    FloatArray
        Daily values whose mean (total) over each calendar month is that of the month.

    Notes
    -----
    The running total of the daily values is known at the ends of the months. It is interpolated by a cubic spline, and
    the day's value is its growth over the day, which keeps each month exactly. Where a bound is given, the slopes of
    the spline are limited as J. M. Hyman, SIAM Journal on Scientific and Statistical Computing 4 (1983) 645-654,
    limits them, so that the running total (less the bound) never falls.
    """
    months = np.arange(
        first.astype("datetime64[M]") - _MARGIN, last.astype("datetime64[M]") + _MARGIN + 1, dtype="datetime64[M]"
    )
    edges = np.append(months, months[-1] + 1).astype("datetime64[D]")
    x = (edges - edges[0]).astype(float)
    lengths = np.diff(x)
    values = monthly[months.astype(int) % 12]
    means = values / lengths if is_total else values
    base = 0.0 if at_least is None else at_least
    y = np.concatenate([[0.0], np.cumsum((means - base) * lengths)])
    slopes = _spline_slopes(x, y)
    if at_least is not None:
        slopes = _limited(x, y, slopes)
    days = np.arange(first, last + np.timedelta64(2, "D"), dtype="datetime64[D]")
    at = (days - edges[0]).astype(float)
    result: FloatArray = np.diff(_hermite(x, y, slopes, at)) + base
    return result if at_least is None else np.maximum(result, at_least)


def _spline_slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Slopes at the knots of the natural cubic spline."""
    h, d = np.diff(x), np.diff(y) / np.diff(x)
    n = len(x)
    matrix = np.zeros((n, n))
    right = np.zeros(n)
    matrix[0, :2], right[0] = (2.0, 1.0), 3.0 * d[0]
    matrix[-1, -2:], right[-1] = (1.0, 2.0), 3.0 * d[-1]
    for i in range(1, n - 1):
        matrix[i, i - 1 : i + 2] = h[i], 2.0 * (h[i - 1] + h[i]), h[i - 1]
        right[i] = 3.0 * (h[i] * d[i - 1] + h[i - 1] * d[i])
    return np.asarray(np.linalg.solve(matrix, right))


def _limited(x: FloatArray, y: FloatArray, slopes: FloatArray) -> FloatArray:
    d = np.diff(y) / np.diff(x)
    before, after = np.append(d[0], d), np.append(d, d[-1])
    return np.clip(slopes, 0.0, 3.0 * np.minimum(before, after))


def _hermite(x: FloatArray, y: FloatArray, slopes: FloatArray, at: FloatArray) -> FloatArray:
    i: NDArray[np.intp] = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    h = x[i + 1] - x[i]
    t = (at - x[i]) / h
    return np.asarray(
        y[i] * (1 + 2 * t) * (1 - t) ** 2
        + slopes[i] * h * t * (1 - t) ** 2
        + y[i + 1] * t**2 * (3 - 2 * t)
        + slopes[i + 1] * h * t**2 * (t - 1)
    )
