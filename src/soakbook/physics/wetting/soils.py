"""Retention and conductivity of texture classes, as two tables have them.

Class means of R. F. Carsel and R. S. Parrish, Water Resour. Res. 24:755-769, 1988, and of M. G. Schaap, F. J. Leij and M. Th. van Genuchten,
J. Hydrol. 251:163-176, 2001. They differ by two to six times in how far a soil draws water sideways, as soils of one name do: what is said of a texture is
said for both.
"""

from __future__ import annotations

from soakbook.errors import InputError
from soakbook.physics.wetting.curves import VanGenuchten

#: Texture class: theta_r, theta_s, alpha [1/cm], n, Ks [cm/day].
CARSEL_PARRISH: dict[str, tuple[float, float, float, float, float]] = {
    "sand": (0.045, 0.43, 0.145, 2.68, 712.8),
    "loamy_sand": (0.057, 0.41, 0.124, 2.28, 350.2),
    "sandy_loam": (0.065, 0.41, 0.075, 1.89, 106.1),
    "loam": (0.078, 0.43, 0.036, 1.56, 24.96),
    "silt_loam": (0.067, 0.45, 0.020, 1.41, 10.8),
    "silt": (0.034, 0.46, 0.016, 1.37, 6.0),
    "sandy_clay_loam": (0.100, 0.39, 0.059, 1.48, 31.44),
    "clay_loam": (0.095, 0.41, 0.019, 1.31, 6.24),
    "silty_clay_loam": (0.089, 0.43, 0.010, 1.23, 1.68),
    "silty_clay": (0.070, 0.36, 0.005, 1.09, 0.48),
    "sandy_clay": (0.100, 0.38, 0.027, 1.23, 2.88),
    "clay": (0.068, 0.38, 0.008, 1.09, 4.80),
}
CLASS_AVERAGE: dict[str, tuple[float, float, float, float, float]] = {
    "sand": (0.053, 0.375, 0.03524, 3.177, 642.69),
    "loamy_sand": (0.049, 0.390, 0.03475, 1.746, 105.20),
    "sandy_loam": (0.039, 0.387, 0.02667, 1.449, 38.28),
    "loam": (0.061, 0.399, 0.01112, 1.472, 12.05),
    "silt_loam": (0.065, 0.439, 0.00506, 1.663, 18.24),
    "silt": (0.050, 0.489, 0.00658, 1.679, 43.75),
    "sandy_clay_loam": (0.063, 0.384, 0.02109, 1.330, 13.18),
    "clay_loam": (0.079, 0.442, 0.01581, 1.416, 8.18),
    "silty_clay_loam": (0.090, 0.482, 0.00839, 1.521, 11.12),
    "silty_clay": (0.111, 0.481, 0.01622, 1.321, 9.62),
    "sandy_clay": (0.117, 0.385, 0.03342, 1.208, 11.35),
    "clay": (0.098, 0.459, 0.01496, 1.253, 14.76),
}


def class_soils(texture: str) -> tuple[VanGenuchten, VanGenuchten]:
    """A texture class as each of the two tables has it.

    Raises
    ------
    InputError
        No such class.
    """
    if texture not in CARSEL_PARRISH:
        raise InputError(
            f"The soil must be a texture class (got {texture}).", hint="See 'soakbook soils'.", code="soil.texture", field="soil",
        )  # fmt: skip
    one, other = (
        VanGenuchten(r, s, alpha, n, ks / 24.0)
        for r, s, alpha, n, ks in (CARSEL_PARRISH[texture], CLASS_AVERAGE[texture])
    )
    return one, other
