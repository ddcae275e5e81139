"""Units as weather files write them, and what brings each to the unit of the series."""

from __future__ import annotations

import re
import unicodedata

# Exact by definition: NIST Handbook 44 (2024), Appendix C, and NIST Special Publication 811 (2008), Appendix B.
_INCH_MM = 25.4
_MILE_M = 1609.344
_FOOT_M = 0.3048
_KNOT_MS = 1852.0 / 3600.0
_INHG_KPA = 3.386389
_MMHG_KPA = 0.1333224

#: For each quantity the unit spellings and (factor, offset): value in the series' unit = factor × value + offset.
#: Radiation as a flux (W/m²) is a mean over the step and is multiplied by its length; see `per_step`.
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "temperature": {
        "c": (1.0, 0.0),
        "degc": (1.0, 0.0),
        "celsius": (1.0, 0.0),
        "f": (5.0 / 9.0, -160.0 / 9.0),
        "degf": (5.0 / 9.0, -160.0 / 9.0),
        "fahrenheit": (5.0 / 9.0, -160.0 / 9.0),
        "k": (1.0, -273.15),
        "kelvin": (1.0, -273.15),
    },
    "percent": {"%": (1.0, 0.0), "pct": (1.0, 0.0), "percent": (1.0, 0.0), "fraction": (100.0, 0.0)},
    "speed": {
        "m/s": (1.0, 0.0),
        "ms": (1.0, 0.0),
        "mps": (1.0, 0.0),
        "km/h": (1.0 / 3.6, 0.0),
        "kmh": (1.0 / 3.6, 0.0),
        "kph": (1.0 / 3.6, 0.0),
        "mph": (_MILE_M / 3600.0, 0.0),
        "mp/h": (_MILE_M / 3600.0, 0.0),
        "mi/h": (_MILE_M / 3600.0, 0.0),
        "kn": (_KNOT_MS, 0.0),
        "kt": (_KNOT_MS, 0.0),
        "kts": (_KNOT_MS, 0.0),
        "kt/h": (_KNOT_MS, 0.0),
        "knots": (_KNOT_MS, 0.0),
        "ft/s": (_FOOT_M, 0.0),
        "km/d": (1.0 / 86.4, 0.0),
    },
    "depth": {
        "mm": (1.0, 0.0),
        "l/m2": (1.0, 0.0),
        "kg/m2": (1.0, 0.0),
        "mm/d": (1.0, 0.0),
        "cm": (10.0, 0.0),
        "m": (1000.0, 0.0),
        "in": (_INCH_MM, 0.0),
        "inch": (_INCH_MM, 0.0),
        "inches": (_INCH_MM, 0.0),
        '"': (_INCH_MM, 0.0),
        "in/d": (_INCH_MM, 0.0),
    },
    "energy": {
        "mj/m2": (1.0, 0.0),
        "mj/m2/d": (1.0, 0.0),
        "mj/m2/h": (1.0, 0.0),
        "wh/m2": (0.0036, 0.0),
        "kwh/m2": (3.6, 0.0),
        "kwh/m2/d": (3.6, 0.0),
        "j/cm2": (0.01, 0.0),
        "kj/m2": (0.001, 0.0),
        "j/m2": (1e-6, 0.0),
        "cal/cm2": (0.04184, 0.0),
        "ly": (0.04184, 0.0),
        "langley": (0.04184, 0.0),
        "w/m2": (1e-6, 0.0),
        "wm2": (1e-6, 0.0),
    },
    "duration": {"h": (1.0, 0.0), "min": (1.0 / 60.0, 0.0), "s": (1.0 / 3600.0, 0.0)},
    "pressure": {
        "kpa": (1.0, 0.0),
        "hpa": (0.1, 0.0),
        "mb": (0.1, 0.0),
        "mbar": (0.1, 0.0),
        "pa": (0.001, 0.0),
        "bar": (100.0, 0.0),
        "inhg": (_INHG_KPA, 0.0),
        "mmhg": (_MMHG_KPA, 0.0),
        "torr": (_MMHG_KPA, 0.0),
    },
    "length": {"m": (1.0, 0.0), "ft": (_FOOT_M, 0.0), "feet": (_FOOT_M, 0.0), "km": (1000.0, 0.0)},
}

#: Which quantity a column is.
QUANTITY = {
    "t_max_c": "temperature",
    "t_min_c": "temperature",
    "t_mean_c": "temperature",
    "dew_point_c": "temperature",
    "rh_max_pct": "percent",
    "rh_min_pct": "percent",
    "rh_mean_pct": "percent",
    "rain_chance_pct": "percent",
    "vapour_pressure_kpa": "pressure",
    "pressure_kpa": "pressure",
    "wind_2m_ms": "speed",
    "solar_mj_m2": "energy",
    "sunshine_h": "duration",
    "rain_mm": "depth",
    "eto_mm": "depth",
}


_WORDS = (
    (r"\s+per\s+", "/"),
    (r"\^|\*\*", ""),
    (r"\bdegrees?\b|\bdeg\b\.?|°|º", ""),
    (r"\b(hours?|hrs?)\b", "h"),
    (r"\b(minutes?|mins)\b", "min"),
    (r"\b(seconds?|secs?)\b", "s"),
    (r"\bdays?\b", "d"),
    (r"\b(metres?|meters?)\b", "m"),
    (r"\bsq\.?\s?m\b", "m2"),
    (r"\s*/\s*", "/"),
    # "mj m-2 d-1" to "mj/m2/d", "km_h-1" to "km/h"
    (r"[\s._·]*([a-z]+)-1\b", r"/\1"),
    (r"[\s._·]*([a-z]+)-2\b", r"/\g<1>2"),
)


def plain_unit(text: str) -> str:
    """A unit in one spelling: ``"MJ m-2 d-1"``, ``"W.m⁻²"`` and ``"wmoUnit:km_h-1"`` as mj/m2/d, w/m2 and km/h."""
    unit = unicodedata.normalize("NFKC", text).strip().lower().replace("−", "-")
    unit = unit.rsplit(":", 1)[-1]
    for pattern, plain in _WORDS:
        unit = re.sub(pattern, plain, unit)
    return unit.strip(" .")


def conversion(column: str, unit_text: str, step_s: float) -> tuple[float, float] | None:
    """(factor, offset) that bring a column in that unit to the unit of the series; None where the unit is not one.

    ``step_s`` is the length of a row's step in seconds, which turns a mean flux in W/m² into energy.
    """
    unit = plain_unit(unit_text)
    if unit in {"f", "k"} and QUANTITY[column] != "temperature":
        return None
    table = UNITS[QUANTITY[column]]
    found = table.get(unit) or table.get(unit.replace(" ", ""))
    if found is None:
        return None
    if QUANTITY[column] == "energy" and unit.replace(" ", "") in {"w/m2", "wm2"}:
        return found[0] * step_s, 0.0
    return found
