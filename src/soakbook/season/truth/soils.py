"""True soils, drawn around what a texture class or a mix usually is.

Class means of R. F. Carsel and R. S. Parrish, Water Resour. Res. 24:755-769, 1988, and of M. G. Schaap, F. J. Leij and
M. Th. van Genuchten, J. Hydrol. 251:163-176, 2001 (class averages): a draw takes its centre somewhere between the two,
because soils of one name differ as much as those two tables do. Sand is the exception (:data:`SAND`). The standard deviations are those of Carsel and Parrish, from
memory; correlations of the logarithms (alpha with n 0.6, alpha with Ks 0.8, n with Ks 0.7) are rounded from theirs, from
memory.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from soakbook.catalog.read import mixes
from soakbook.errors import InputError
from soakbook.season.truth.curves import Soil

#: theta_r, theta_s, alpha [1/cm], n, Ks [cm/day] of Carsel and Parrish.
CARSEL_PARRISH: dict[str, tuple[float, float, float, float, float]] = {
    "sand": (0.045, 0.43, 0.145, 2.68, 712.8),
    "loamy_sand": (0.057, 0.41, 0.124, 2.28, 350.2),
    "sandy_loam": (0.065, 0.41, 0.075, 1.89, 106.1),
    "loam": (0.078, 0.43, 0.036, 1.56, 24.96),
    "silt_loam": (0.067, 0.45, 0.02, 1.41, 10.8),
    "silt": (0.034, 0.46, 0.016, 1.37, 6.0),
    "sandy_clay_loam": (0.1, 0.39, 0.059, 1.48, 31.44),
    "clay_loam": (0.095, 0.41, 0.019, 1.31, 6.24),
    "silty_clay_loam": (0.089, 0.43, 0.01, 1.23, 1.68),
    "silty_clay": (0.07, 0.36, 0.005, 1.09, 0.48),
    "sandy_clay": (0.1, 0.38, 0.027, 1.23, 2.88),
    "clay": (0.068, 0.38, 0.008, 1.09, 4.8),
}
#: The same of the middle of the class sand (88 % sand, 5 % clay) by the third set of coefficients of M. G. Schaap's neural networks, Y. Zhang and
#: M. G. Schaap, J. Hydrol. 547:39-53, 2017, as computed with their program. It stands for the sand of Carsel and Parrish, which holds 0.004
#: between 100 and 15,000 cm and hardly lets water up to the air: gardens on sand by FAO-56 Table 19 hold 0.05 to 0.11 (0.09 by this row),
#: and lose 6 to 12 mm to the air.
SAND = (0.0548, 0.3693, 0.02819, 2.102, 242.81)
#: The same of the class averages of Schaap, Leij and van Genuchten.
CLASS_AVERAGE: dict[str, tuple[float, float, float, float, float]] = {
    "sand": (0.053, 0.375, 0.03524, 3.177, 642.69),
    "loamy_sand": (0.049, 0.39, 0.03475, 1.746, 105.20),
    "sandy_loam": (0.039, 0.387, 0.02667, 1.449, 38.28),
    "loam": (0.061, 0.399, 0.01112, 1.472, 12.05),
    "silt_loam": (0.065, 0.439, 0.00506, 1.663, 18.24),
    "silt": (0.05, 0.489, 0.00658, 1.679, 43.75),
    "sandy_clay_loam": (0.063, 0.384, 0.02109, 1.330, 13.18),
    "clay_loam": (0.079, 0.442, 0.01581, 1.416, 8.18),
    "silty_clay_loam": (0.09, 0.482, 0.00839, 1.521, 11.12),
    "silty_clay": (0.111, 0.481, 0.01622, 1.321, 9.62),
    "sandy_clay": (0.117, 0.385, 0.03342, 1.208, 11.35),
    "clay": (0.098, 0.459, 0.01496, 1.253, 14.76),
}
#: Standard deviations of theta_r, theta_s, alpha, n, Ks [cm/h] in Carsel and Parrish. From memory.
SPREAD: dict[str, tuple[float, float, float, float, float]] = {
    "sand": (0.010, 0.06, 0.029, 0.29, 15.6),
    "loamy_sand": (0.015, 0.09, 0.043, 0.27, 11.4),
    "sandy_loam": (0.017, 0.09, 0.037, 0.17, 5.63),
    "loam": (0.013, 0.10, 0.021, 0.11, 1.82),
    "silt_loam": (0.015, 0.08, 0.012, 0.12, 1.23),
    "silt": (0.010, 0.11, 0.007, 0.05, 0.33),
    "sandy_clay_loam": (0.006, 0.07, 0.038, 0.13, 2.74),
    "clay_loam": (0.010, 0.09, 0.015, 0.09, 0.70),
    "silty_clay_loam": (0.009, 0.07, 0.006, 0.06, 0.19),
    "silty_clay": (0.023, 0.07, 0.005, 0.06, 0.11),
    "sandy_clay": (0.013, 0.05, 0.017, 0.10, 0.28),
    "clay": (0.034, 0.09, 0.012, 0.09, 0.42),
}
_TIED = np.linalg.cholesky(np.array([[1.0, 0.6, 0.8], [0.6, 1.0, 0.7], [0.8, 0.7, 1.0]]))
#: Widest spread of a logarithm that is drawn: some classes have standard deviations of twice the mean, which no garden has.
_WIDEST = 0.7
#: Narrowest n: bare clay below it stays without air for as long as it drains; beds have the crumb of dug soil. Judged.
_LEAST_N = 1.2

#: Slowest dug soil [cm/h]: the conductivity of clay in K. E. Saxton and W. J. Rawls, Soil Sci. Soc. Am. J. 70:1569-1578, 2006.
_LEAST_KS = 0.11


def draw_soil(ground: str, rng: np.random.Generator) -> Soil:
    """A true soil for a texture class or a mix of the catalogue."""
    if ground in CARSEL_PARRISH:
        return _mineral(ground, rng)
    if ground in mixes():
        return _mix(ground, rng)
    raise InputError(
        f"Ground must be a texture class or a mix of the catalogue (got {ground!r}).",
        code="truth.ground",
        field="ground",
    )


def usual_soil(ground: str) -> Soil:
    """The middle of the draws: halfway between the two rows, or the catalogue's mix."""
    if ground in mixes():
        mix = mixes()[ground]
        theta_r, theta_s, alpha, n = (float(v) for v in (mix.theta_r, mix.theta_s, mix.alpha_per_cm, mix.n))
        return Soil(theta_r, theta_s, alpha, n, float(mix.ks_mm_h) / 10.0)
    return _centre(ground, 0.5)


def subsoil(top: Soil, rng: np.random.Generator) -> Soil:
    """What lies under a dug layer: the same earth, denser and slower. Shares judged."""
    return replace(
        top,
        theta_s=top.theta_s - (top.theta_s - top.theta_r) * rng.uniform(0.02, 0.12),
        alpha_per_cm=top.alpha_per_cm * rng.uniform(0.6, 1.0),
        ks_cm_h=top.ks_cm_h * np.exp(rng.uniform(np.log(0.3), 0.0)),
    )


def packed(soil: Soil, rng: np.random.Generator) -> Soil:
    """A compacted layer: large pores gone, a tenth to a hundredth of the conductivity. Shares judged."""
    return replace(
        soil,
        theta_s=soil.theta_s - (soil.theta_s - soil.theta_r) * rng.uniform(0.15, 0.3),
        alpha_per_cm=soil.alpha_per_cm * 0.5,
        ks_cm_h=soil.ks_cm_h * np.exp(rng.uniform(np.log(0.01), np.log(0.1))),
    )


def _centre(ground: str, share: float) -> Soil:
    a, b = np.array(SAND if ground == "sand" else CARSEL_PARRISH[ground]), np.array(CLASS_AVERAGE[ground])
    logs = np.exp(np.log(a) + share * (np.log(b) - np.log(a)))
    plain = a + share * (b - a)
    n = 1.0 + np.exp(np.log(a[3] - 1.0) + share * (np.log(b[3] - 1.0) - np.log(a[3] - 1.0)))
    return Soil(float(plain[0]), float(plain[1]), float(logs[2]), float(n), float(logs[4] / 24.0))


def _mineral(ground: str, rng: np.random.Generator) -> Soil:
    centre = _centre(ground, rng.uniform())
    sd, mean = np.array(SPREAD[ground]), np.array(CARSEL_PARRISH[ground])
    relative = np.array([sd[2] / mean[2], sd[3] / (mean[3] - 1.0), 24.0 * sd[4] / mean[4]])
    log_sd = np.minimum(_WIDEST, np.sqrt(np.log1p(relative**2)))
    alpha, n, ks = _TIED @ rng.standard_normal(3) * log_sd
    # Half the published spread of porosity: it covers subsoils and bare fields as well.
    porosity = _within(centre.theta_s + 0.5 * sd[1] * rng.standard_normal(), centre.theta_r + 0.2, 0.6)
    return Soil(
        theta_r=_within(centre.theta_r + sd[0] * rng.standard_normal(), 0.0, 0.15),
        theta_s=porosity,
        alpha_per_cm=_within(centre.alpha_per_cm * np.exp(alpha), 0.003, 0.3),
        n=max(_LEAST_N, 1.0 + (centre.n - 1.0) * float(np.exp(n))),
        ks_cm_h=_within(centre.ks_cm_h * np.exp(ks), _LEAST_KS, 100.0),
    )


def _mix(ground: str, rng: np.random.Generator) -> Soil:
    """Spreads judged from what bags of one name are found to hold."""
    usual = usual_soil(ground)
    return Soil(
        theta_r=usual.theta_r * float(np.exp(0.15 * rng.standard_normal())),
        theta_s=_within(usual.theta_s + 0.03 * rng.standard_normal(), usual.theta_r + 0.3, 0.96),
        alpha_per_cm=usual.alpha_per_cm * float(np.exp(0.3 * rng.standard_normal())),
        n=max(_LEAST_N, 1.0 + (usual.n - 1.0) * float(np.exp(0.12 * rng.standard_normal()))),
        ks_cm_h=usual.ks_cm_h * float(np.exp(0.5 * rng.standard_normal())),
    )


def _within(value: float, low: float, high: float) -> float:
    """The end of the range for a draw beyond it: soils outside are not gardened."""
    return float(min(max(value, low), high))
