"""Green-Ampt, Mein-Larson and Philip against worked examples and against independent solutions.

Examples 1-3: V. T. Chow, D. R. Maidment and L. W. Mays, "Applied Hydrology", 1988, Ex. 4.3.1 and 5.4.1 (from memory,
recomputed). 4-6: an open hydrology textbook, problems 6.5-1 to 6.5-3 (inputs read, answers computed apart). 7: loam
of Rawls et al. 1983 under a sprinkler (computed apart). Tolerance 0.5 %: roots of an implicit equation. Depths here
in mm, there in cm.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from soakbook.physics import infiltration as inf

HALF_PERCENT = 5e-3
SILT_LOAM = (6.5, 167.0 * 0.340)
PONDED_SILT_LOAM = (6.5, (25.0 + 170.0) * 0.34)
LOAM = (3.4, 88.9 * 0.20)
DATA = Path(__file__).parents[1] / "data" / "soil"
with (DATA / "rawls_1983_green_ampt.csv").open(newline="", encoding="utf-8") as handle:
    RAWLS = list(csv.DictReader(handle))


def exact_depth(k_mm_h: float, s_mm: float, hours: float) -> float:
    """Another road to the root: bracketing in y = F / S."""
    tau = k_mm_h * hours / s_mm
    return s_mm * float(brentq(lambda y: y - np.log1p(y) - tau, 0.0, tau + 3.0 * tau**0.5 + 1e-12, xtol=1e-14))


def test_example_1_ponded_silt_loam() -> None:
    depth = inf.green_ampt_depth_mm(*SILT_LOAM, 1.0)
    assert depth == pytest.approx(31.67, rel=HALF_PERCENT)
    assert inf.green_ampt_rate_mm_h(*SILT_LOAM, depth) == pytest.approx(18.16, rel=HALF_PERCENT)


def test_example_2_slow_rain_ponds_late() -> None:
    assert inf.ponding_time_h(10.0, *SILT_LOAM) == pytest.approx(10.55, rel=HALF_PERCENT)
    assert inf.ponding_depth_mm(10.0, *SILT_LOAM) == pytest.approx(105.5, rel=HALF_PERCENT)


def test_example_3_fast_rain() -> None:
    assert inf.ponding_time_h(50.0, *SILT_LOAM) == pytest.approx(0.170, rel=HALF_PERCENT)
    assert inf.ponding_depth_mm(50.0, *SILT_LOAM) == pytest.approx(8.49, rel=HALF_PERCENT)
    after = inf.rain_intake(50.0, *SILT_LOAM, 1.0)
    assert after.infiltrated_mm == pytest.approx(30.18, rel=HALF_PERCENT)
    assert after.rate_mm_h == pytest.approx(18.74, rel=HALF_PERCENT)
    assert after.runoff_mm == pytest.approx(50.0 - 30.18, rel=HALF_PERCENT)


def test_example_4_ponded_front_at_30_cm() -> None:
    assert inf.green_ampt_rate_mm_h(*PONDED_SILT_LOAM, 102.0) == pytest.approx(10.725, rel=HALF_PERCENT)
    assert inf.green_ampt_depth_mm(*PONDED_SILT_LOAM, 6.190) == pytest.approx(102.0, rel=HALF_PERCENT)


@pytest.mark.parametrize(
    ("k_mm_h", "depth_mm", "hours", "front_cm"), [(6.5, 44.2, 2.947, 13.0), (3.25, 15.99, 1.066, 4.70)]
)
def test_examples_5_and_6_rain_on_silt_loam(k_mm_h: float, depth_mm: float, hours: float, front_cm: float) -> None:
    suction_deficit = 170.0 * 0.34
    depth = inf.ponding_depth_mm(15.0, k_mm_h, suction_deficit)
    assert depth == pytest.approx(depth_mm, rel=HALF_PERCENT)
    assert depth / 0.34 / 10.0 == pytest.approx(front_cm, rel=HALF_PERCENT)
    assert inf.ponding_time_h(15.0, k_mm_h, suction_deficit) == pytest.approx(hours, rel=HALF_PERCENT)


def test_example_7_sprinkler_on_loam() -> None:
    assert 60.0 * inf.ponding_time_h(20.0, *LOAM) == pytest.approx(10.9, rel=HALF_PERCENT)
    assert inf.ponding_depth_mm(20.0, *LOAM) == pytest.approx(3.64, rel=HALF_PERCENT)
    intake = inf.rain_intake(20.0, *LOAM, [0.5, 1.0])
    np.testing.assert_allclose(intake.infiltrated_mm, [8.05, 12.68], rtol=HALF_PERCENT)
    np.testing.assert_allclose(intake.runoff_mm, [1.95, 7.32], rtol=HALF_PERCENT)
    assert intake.rate_mm_h[1] == pytest.approx(8.17, rel=HALF_PERCENT)


def test_example_8_philip() -> None:
    assert inf.philip_depth_mm(50.0, 4.0, 0.5) == pytest.approx(37.36, rel=HALF_PERCENT)
    assert inf.philip_rate_mm_h(50.0, 4.0, 0.5) == pytest.approx(39.36, rel=HALF_PERCENT)


def test_early_infiltration_is_sorptivity_times_root_time() -> None:
    """Philip 1957: the first term rules as t goes to 0."""
    hours = 1e-6
    early = inf.philip_depth_mm(inf.green_ampt_sorptivity(*LOAM), 0.0, hours)
    assert inf.green_ampt_depth_mm(*LOAM, hours) == pytest.approx(float(early), rel=1e-3)


@pytest.mark.parametrize("tau", [1e-8, 1e-3, 0.1, 1.0, 10.0, 1e3, 1e5])
def test_newton_against_bracketing(tau: float) -> None:
    assert inf.green_ampt_depth_mm(tau * 20.0, 20.0, 1.0) == pytest.approx(exact_depth(tau * 20.0, 20.0, 1.0), rel=1e-7)


def test_newton_on_arrays_and_edges() -> None:
    depth = inf.green_ampt_depth_mm([3.4, 3.4, 3.4], [0.0, 17.8, 17.8], [2.0, 0.0, np.nan], [5.0, 5.0, 5.0])
    np.testing.assert_allclose(depth[:2], [5.0 + 6.8, 5.0])
    assert np.isnan(depth[2])


def test_slow_rain_never_ponds() -> None:
    intake = inf.rain_intake(3.4, *LOAM, 100.0)
    assert intake.infiltrated_mm == pytest.approx(340.0)
    assert intake.runoff_mm == 0.0
    assert np.isinf(intake.ponding_h)


@pytest.mark.parametrize(
    ("most_tau", "tolerance"), [(2.0, 0.03), (6.0, 0.06), (1e6, 0.006)], ids=["to 2", "to 6", "to 1e6"]
)
def test_explicit_depth_against_the_implicit_root(most_tau: float, tolerance: float) -> None:
    for tau in np.geomspace(1e-6, most_tau, 60):
        assert inf.ponded_depth_explicit_mm(tau, 1.0, 1.0) == pytest.approx(exact_depth(tau, 1.0, 1.0), rel=tolerance)


def test_explicit_depth_starts_with_the_series_of_green_ampt() -> None:
    """y = s + s^2/3 + s^3/36 - s^4/270 + ... (Lambert W about its branch point); the s^4 term may differ."""
    for s in (1e-3, 1e-2, 3e-2):
        y = inf.ponded_depth_explicit_mm(0.5 * s * s, 1.0, 1.0)
        assert abs(y - (s + s**2 / 3 + s**3 / 36)) < 0.01 * s**4


def test_explicit_depth_without_suction_is_gravity() -> None:
    assert inf.ponded_depth_explicit_mm(12.0, 0.0, 2.0) == pytest.approx(24.0, rel=1e-14)
    assert inf.ponded_depth_explicit_mm(12.0, 0.0, 0.0) == 0.0
    assert inf.ponded_depth_explicit_mm(12.0, 30.0, 0.0) == 0.0


def test_kernel_functions_compile_and_take_arrays() -> None:
    numba = pytest.importorskip("numba")
    for function, arguments in (
        (inf.ponded_depth_explicit_mm, (3.4, 17.8, 1.5)),
        (inf.drained_excess, (0.8, 0.5, 3.0)),
    ):
        plain = function(*arguments)
        assert numba.njit(function)(*arguments) == pytest.approx(plain, rel=1e-14)
        many = function(*(np.full(3, a) for a in arguments))
        np.testing.assert_allclose(many, plain, rtol=1e-14)


@pytest.mark.parametrize(("start", "rate"), [(1.0, 0.05), (0.6, 2.0), (0.1, 30.0)])
def test_draining_against_an_ode_solver(start: float, rate: float) -> None:
    solved = solve_ivp(lambda _, e: -rate * e**3, (0.0, 24.0), [start], rtol=1e-10, atol=1e-13)
    assert inf.drained_excess(start, rate, 24.0) == pytest.approx(float(solved.y[0, -1]), rel=1e-7)


@pytest.mark.parametrize("row", RAWLS, ids=lambda r: r["texture_class"])
def test_suction_from_conductivity_lies_in_the_range_of_each_class(row: dict[str, str]) -> None:
    """Rawls, Brakensiek & Miller 1983: one standard deviation about the class."""
    suction_cm = float(inf.wetting_front_suction_mm(10.0 * float(row["k_cm_h"]))) / 10.0
    assert float(row["suction_low_cm"]) < suction_cm < float(row["suction_high_cm"])
