"""The units a quantity may be given in, with their factors to the one unit used inside.

The factors are exact by definition: BIPM, "The International System of Units", 9th ed., 2019, for the metric
units, and NIST Handbook 44 (2024), Appendix C, "General Tables of Units of Measurement", for the others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Exact by definition (NIST Handbook 44, Appendix C).
INCH_M = 0.0254
FOOT_M = 0.3048
US_GALLON_L = 3.785411784
IMPERIAL_GALLON_L = 4.54609
POUND_KG = 0.45359237
STANDARD_GRAVITY_M_S2 = 9.80665
#: Pound-force per square inch. [kPa]
PSI_KPA = POUND_KG * STANDARD_GRAVITY_M_S2 / INCH_M**2 / 1000.0
#: Conventional column of water, 1000 kg/m³ at standard gravity. [kPa per cm]
WATER_CM_KPA = STANDARD_GRAVITY_M_S2 / 100.0


@dataclass(frozen=True)
class Unit:
    """One unit of a kind: canonical = factor * value + offset."""

    name: str
    factor: float
    aliases: tuple[str, ...] = ()
    offset: float = 0.0


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: the unit used inside, and the units it may be given in."""

    name: str
    canonical: str
    units: tuple[Unit, ...]
    compound: bool = False
    bare: str | None = None
    low: float = -math.inf
    high: float = math.inf

    def names(self) -> tuple[str, ...]:
        """The units as they are shown in messages."""
        return tuple(unit.name for unit in self.units)


_LENGTHS = (
    Unit("mm", 0.001, ("millimetre", "millimeter")),
    Unit("cm", 0.01, ("centimetre", "centimeter")),
    Unit("m", 1.0, ("metre", "meter")),
    Unit("km", 1000.0, ("kilometre", "kilometer")),
    Unit("in", INCH_M, ("inch", "inches", '"')),
    Unit("ft", FOOT_M, ("foot", "feet", "'")),
    Unit("yd", 3 * FOOT_M, ("yard",)),
)
_VOLUMES = (
    Unit("mL", 0.001, ("millilitre", "milliliter", "cc", "cm3")),
    Unit("cL", 0.01, ("centilitre", "centiliter")),
    Unit("dL", 0.1, ("decilitre", "deciliter")),
    Unit("L", 1.0, ("litre", "liter", "lt", "ltr", "dm3")),
    Unit("m3", 1000.0, ("cubic metre", "cubic meter", "cu m")),
    Unit("gal", US_GALLON_L, ("gallon", "us gal", "us gallon")),
    Unit("qt", US_GALLON_L / 4, ("quart",)),
    Unit("pt", US_GALLON_L / 8, ("pint",)),
    Unit("cup", US_GALLON_L / 16),
    Unit("fl oz", US_GALLON_L / 128, ("floz", "fluid ounce")),
    Unit("imp gal", IMPERIAL_GALLON_L, ("imperial gal", "imperial gallon", "uk gal", "uk gallon")),
    Unit("imp pt", IMPERIAL_GALLON_L / 8, ("imperial pt", "imperial pint", "uk pt", "uk pint")),
    Unit("ft3", FOOT_M**3 * 1000.0, ("cubic foot", "cubic feet", "cu ft")),
)
_TIMES = (
    Unit("s", 1.0 / 3600.0, ("sec", "second")),
    Unit("min", 1.0 / 60.0, ("minute",)),
    Unit("h", 1.0, ("hr", "hour")),
    Unit("d", 24.0, ("day",)),
)


def _scaled(units: tuple[Unit, ...], by: float) -> tuple[Unit, ...]:
    return tuple(Unit(u.name, u.factor * by, u.aliases) for u in units)


def _per_time(units: tuple[Unit, ...], short: dict[str, tuple[str, ...]]) -> tuple[Unit, ...]:
    """Every unit over every time, ``gal/h`` and its spelled-out forms; ``short`` adds such as gph."""
    out = []
    for unit in units:
        for time in _TIMES:
            name = f"{unit.name}/{time.name}"
            spelled = [f"{a}/{b}" for a in (unit.name, *unit.aliases) for b in (time.name, *time.aliases)]
            aliases = (*(s for s in spelled if s != name), *short.get(name, ()))
            out.append(Unit(name, unit.factor / time.factor, aliases))
    return tuple(out)


_FLOWS = _per_time(
    tuple(u for u in _VOLUMES if u.name in {"mL", "L", "m3", "gal", "fl oz", "imp gal"}),
    {
        "L/h": ("lph",),
        "L/min": ("lpm",),
        "gal/h": ("gph",),
        "gal/min": ("gpm",),
        "imp gal/h": ("imp gph",),
        "imp gal/min": ("imp gpm",),
    },
)
_RATES = _per_time(_scaled(tuple(u for u in _LENGTHS if u.name in {"mm", "cm", "in"}), 1000.0), {})

KINDS: dict[str, Kind] = {
    k.name: k
    for k in (
        Kind("length", "m", _LENGTHS, compound=True),
        Kind(
            "depth",
            "mm",
            (*_scaled(_LENGTHS[:3] + _LENGTHS[4:6], 1000.0), Unit("L/m2", 1.0, ("l/sq m",))),
        ),
        Kind(
            "area",
            "m2",
            (
                Unit("m2", 1.0, ("sq m", "sqm", "square metre", "square meter")),
                Unit("cm2", 1e-4, ("sq cm", "square centimetre", "square centimeter")),
                Unit("ha", 1e4, ("hectare",)),
                Unit("sq ft", FOOT_M**2, ("ft2", "sqft", "square foot", "square feet")),
                Unit("sq in", INCH_M**2, ("in2", "sqin", "square inch", "square inches")),
                Unit("sq yd", (3 * FOOT_M) ** 2, ("yd2", "square yard")),
                Unit("acre", 43560 * FOOT_M**2),
            ),
        ),
        Kind("volume", "L", _VOLUMES, compound=True),
        Kind("flow", "L/h", _FLOWS),
        Kind(
            "temperature",
            "°C",
            (
                Unit("°C", 1.0, ("c", "degc", "deg c", "celsius", "degrees celsius")),
                Unit("°F", 5 / 9, ("f", "degf", "deg f", "fahrenheit", "degrees fahrenheit"), -160 / 9),
                Unit("K", 1.0, ("kelvin",), -273.15),
            ),
        ),
        Kind(
            "speed",
            "m/s",
            (
                Unit("m/s", 1.0, ("m/sec", "metre/second", "meter/second")),
                Unit("km/h", 1 / 3.6, ("kph", "kmh", "km/hr", "kilometre/hour", "kilometer/hour")),
                Unit("mph", 1609.344 / 3600, ("mi/h", "mile/hour")),
                Unit("kn", 1852 / 3600, ("kt", "knot")),
                Unit("ft/s", FOOT_M, ("ft/sec", "foot/second")),
            ),
        ),
        Kind("rate", "mm/h", _RATES),
        Kind(
            "pressure",
            "kPa",
            (
                Unit("kPa", 1.0, ("kilopascal",)),
                Unit("Pa", 0.001, ("pascal",)),
                Unit("hPa", 0.1, ("hectopascal",)),
                Unit("mbar", 0.1, ("millibar",)),
                Unit("bar", 100.0),
                Unit("psi", PSI_KPA, ("lb/in2", "lbf/in2")),
            ),
        ),
        Kind("duration", "h", (*_TIMES, Unit("week", 168.0, ("wk",))), compound=True),
        Kind(
            "mass",
            "kg",
            (
                Unit("g", 0.001, ("gram", "gramme")),
                Unit("kg", 1.0, ("kilo", "kilogram", "kilogramme")),
                Unit("oz", POUND_KG / 16, ("ounce",)),
                Unit("lb", POUND_KG, ("lbs", "pound")),
            ),
            compound=True,
        ),
        Kind(
            "angle",
            "°",
            (Unit("deg", 1.0, ("°", "degree")), Unit("rad", 180 / math.pi, ("radian",))),
            bare="deg",
        ),
        Kind("percent", "%", (Unit("%", 1.0, ("percent", "pct", "per cent")),), bare="%", low=0.0, high=100.0),
        Kind(
            "suction",
            "kPa",
            (
                Unit("kPa", 1.0, ("kilopascal",)),
                Unit("cbar", 1.0, ("cb", "centibar")),
                Unit("hPa", 0.1, ("hectopascal",)),
                Unit("mbar", 0.1, ("millibar",)),
                Unit("bar", 100.0),
                Unit("cm", WATER_CM_KPA, ("cm water", "centimetre", "centimeter")),
            ),
        ),
    )
}
