"""The lasting error of the balance at a sensor's spot, against the textbook answer for normal numbers."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.learning.lasting import FRESH_SD, LASTING_SD, LASTS_DAYS, follow

DAYS = np.array([0.0, 5.0, 5.0, 19.0])
MISSED = np.array([[0.10, -0.05], [0.08, 0.0], [0.12, 0.02], [0.02, 0.04]])
NOISE = np.array([0.05, 0.05, 0.10, 0.05])
NEVER = np.zeros(4)


def covariance(days: np.ndarray) -> np.ndarray:
    """Of the lasting error between days."""
    return LASTING_SD**2 * np.exp(-np.abs(days[:, None] - days) / LASTS_DAYS)


def test_it_is_the_conditional_normal_of_the_readings_before() -> None:
    """Without slips: mean and variance of each from the joint normal distribution, worked out at once (any textbook of multivariate
    statistics: mean C₂₁ C₁₁⁻¹ x, variance C₂₂ - C₂₁ C₁₁⁻¹ C₁₂)."""
    found = follow(DAYS, MISSED, NOISE, NEVER)
    lasting, seen = covariance(DAYS), covariance(DAYS) + np.diag(NOISE**2 + FRESH_SD**2)
    for k in range(len(DAYS)):
        to = lasting[k, :k] @ np.linalg.inv(seen[:k, :k]) if k else np.empty(0)
        np.testing.assert_allclose(found.mean[k], to @ MISSED[:k] if k else 0.0, atol=1e-12)
        var = LASTING_SD**2 - (to @ lasting[:k, k] if k else 0.0) + FRESH_SD**2
        np.testing.assert_allclose(found.sd[k], np.sqrt(var), rtol=1e-12)


def test_readings_one_by_one_are_as_likely_as_all_at_once() -> None:
    """The product of what each brings is the density of the joint normal distribution."""
    found = follow(DAYS, MISSED, NOISE, NEVER)
    var = found.sd**2 + NOISE[:, None] ** 2
    one_by_one = (-0.5 * (MISSED - found.mean) ** 2 / var - 0.5 * np.log(2.0 * np.pi * var)).sum(0)
    seen = covariance(DAYS) + np.diag(NOISE**2 + FRESH_SD**2)
    at_once = -0.5 * np.einsum("rm,rs,sm->m", MISSED, np.linalg.inv(seen), MISSED)
    at_once -= 0.5 * np.linalg.slogdet(2.0 * np.pi * seen)[1]
    np.testing.assert_allclose(one_by_one, at_once, rtol=1e-10)


def test_what_lasts_fades_to_what_was_known_before_any_reading() -> None:
    found = follow(DAYS, MISSED, NOISE, NEVER)
    mean, sd = found.later(np.array([0.0, LASTS_DAYS, 100.0 * LASTS_DAYS]))
    np.testing.assert_allclose(mean[0], found.now)
    np.testing.assert_allclose(mean[1], found.now / np.e)
    np.testing.assert_allclose(mean[2], 0.0, atol=1e-12)
    np.testing.assert_allclose(sd[2], np.hypot(LASTING_SD, FRESH_SD))
    assert (np.diff(sd, axis=0) > 0.0).all()


def test_a_reading_that_fits_nothing_moves_little() -> None:
    """Half a wetness off is a slip; a tenth is not."""
    slip = np.array([0.05])
    off, near = (follow(DAYS[:1], np.array([[miss]]), NOISE[:1], slip).now[0] for miss in (0.5, 0.1))
    assert abs(off) < 0.01
    assert near == pytest.approx(0.1 * LASTING_SD**2 / (LASTING_SD**2 + FRESH_SD**2 + NOISE[0] ** 2), rel=0.1)
