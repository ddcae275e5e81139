"""Conversions against the tables of NIST, and text as gardeners write it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.unit_tables import KINDS
from soakbook.units import format_quantity, parse_one_of, parse_quantity, parse_sides

# NIST Special Publication 811 (2008), Appendix B.8, factors to SI as printed (rounded to 7 figures unless exact).
NIST_SP811 = [
    ("1 in", "length", 0.0254, 0),
    ("1 ft", "length", 0.3048, 0),
    ("1 yd", "length", 0.9144, 0),
    ("1 in", "depth", 25.4, 0),
    ("1 sq ft", "area", 9.290304e-2, 0),
    ("1 sq in", "area", 6.4516e-4, 0),
    ("1 sq yd", "area", 8.361274e-1, 5e-8),
    ("1 ha", "area", 1.0e4, 0),
    ("1 gal", "volume", 3.785412, 5e-7),
    ("1 qt", "volume", 9.463529e-1, 5e-8),
    ("1 pt", "volume", 4.731765e-1, 5e-8),
    ("1 cup", "volume", 2.365882e-1, 5e-8),
    ("1 fl oz", "volume", 2.957353e-2, 5e-9),
    ("1 imp gal", "volume", 4.54609, 0),
    ("1 imp pt", "volume", 5.682613e-1, 5e-8),
    ("1 ft3", "volume", 28.31685, 5e-6),
    ("1 gpm", "flow", 6.309020e-2 * 3600, 5e-9 * 3600),
    ("1 mph", "speed", 0.44704, 0),
    ("1 kn", "speed", 5.144444e-1, 5e-8),
    ("1 km/h", "speed", 2.777778e-1, 5e-8),
    ("1 psi", "pressure", 6.894757, 5e-7),
    ("1 bar", "pressure", 100.0, 0),
    ("1 mbar", "pressure", 0.1, 0),
    ("1 lb", "mass", 4.535924e-1, 5e-8),
    ("1 oz", "mass", 2.834952e-2, 5e-9),
    ("1 cm", "suction", 9.80665e-2, 0),
    ("1 rad", "angle", 57.29578, 5e-6),
    ("212 °F", "temperature", 100.0, 1e-12),
    ("32 F", "temperature", 0.0, 1e-12),
    ("273.15 K", "temperature", 0.0, 1e-12),
]


@pytest.mark.parametrize(("text", "kind", "expected", "half_digit"), NIST_SP811)
def test_factor_is_the_one_nist_prints(text: str, kind: str, expected: float, half_digit: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(expected, abs=max(half_digit, 1e-12 * expected))


def test_the_acre_is_43560_square_feet() -> None:
    # NIST Handbook 44 (2024), Appendix C: the international acre, 43 560 square feet.
    assert parse_quantity("1 acre", "area") == pytest.approx(43560 * parse_quantity("1 sq ft", "area"))


@pytest.mark.parametrize(
    ("text", "kind", "same_as"),
    [
        ("1,5 m", "length", "1.5 m"),
        ("1 ft 6 in", "length", "18 in"),
        ("1'6\"", "length", "18 in"),
        ("3'", "length", "36 in"),
        ("2″", "length", "2 in"),
        ("5’ 2”", "length", "62 in"),
        ("1½ in", "length", "1.5 in"),
        ("1 1/2 inches", "length", "1.5 in"),
        ("½ gal", "volume", "0.5 gal"),
        ("1/2 gal/h", "flow", "0.5 gph"),
        ("2 gallons per hour", "flow", "2 gal/h"),
        ("0.5 L/min", "flow", "30 L/h"),
        ("3 m²", "area", "3 m2"),
        ("3 m^2", "area", "3 sq m"),
        ("4 sq. ft.", "area", "4 ft²"),
        ("12 l/m²", "depth", "12 mm"),
        ("1 h 30 min", "duration", "90 min"),
        ("2 days", "duration", "48 h"),
        ("1 lb 8 oz", "mass", "24 oz"),
        ("20 ℃", "temperature", "20 degC"),
        ("−5 °C", "temperature", "-5 C"),
        ("30°", "angle", "30 deg"),
        ("30 cb", "suction", "30 kPa"),
        (".5 m", "length", "50 cm"),
        ("  45cm ", "length", "45 cm"),
        ("500 ML", "volume", "0.5 L"),
    ],
)
def test_spelling_does_not_matter(text: str, kind: str, same_as: str) -> None:
    assert parse_quantity(text, kind) == pytest.approx(parse_quantity(same_as, kind), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "code", "says"),
    [
        ("20 x 12 cm", "length", "quantity.several", "more than one"),
        ("5 cmm", "length", "unit.unknown", 'Did you mean "mm"'),
        ("5 galons", "volume", "unit.unknown", 'Did you mean "gal"'),
        ("5 kg", "length", "unit.wrong_kind", "a mass"),
        ("20 m", "duration", "unit.wrong_kind", "a length"),
        (3, "length", "unit.missing", "mm, cm, m"),
        ("3", "volume", "unit.missing", "has no unit"),
        ("120 %", "percent", "percent.range", "between 0 and 100"),
        (-1, "percent", "percent.range", "between 0 and 100"),
        ("1,500 L", "volume", "number.ambiguous", "1500 or 1.5"),
        ("5-6 m", "length", "quantity.number", "cannot be read"),
        ("", "length", "quantity.empty", "cannot be read"),
        ("nan m", "length", "quantity.number", "cannot be read"),
        (math.nan, "angle", "number.not_finite", "nan"),
        (math.inf, "angle", "number.not_finite", "inf"),
        (10**400, "angle", "number.not_finite", "inf"),
        (True, "angle", "quantity.number", "True"),
        ("1/0 m", "length", "quantity.number", "divides by zero"),
        ("6 in 1 ft", "length", "quantity.several", "one length"),
        ("3 m 20", "length", "quantity.several", "one length"),
        ("4 kPa 3 Pa", "pressure", "quantity.several", "one pressure"),
        ("m", "length", "quantity.number", "cannot be read"),
        ("9" * 200 + " m", "length", "quantity.number", "too long"),
        ("5 m", "colour", "unit.kind", "not a kind"),
    ],
)
def test_what_cannot_be_read_says_why(text: str | float, kind: str, code: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_quantity(text, kind, field="here")
    assert caught.value.code == code
    assert says in str(caught.value)
    assert caught.value.field in ("here", "")


def test_a_bare_number_takes_the_unit_it_is_told() -> None:
    assert parse_quantity(45, "length", bare="cm") == pytest.approx(0.45)
    assert parse_quantity("45", "length", bare="cm") == pytest.approx(0.45)


def test_percent_and_angle_need_no_unit() -> None:
    assert parse_quantity(80, "percent") == parse_quantity("80 %", "percent") == 80.0
    assert parse_quantity(-12.5, "angle") == -12.5


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3 m x 1.2 m", (3.0, 1.2)),
        ("3 x 1.2 m", (3.0, 1.2)),
        ("60×20 cm", (0.6, 0.2)),
        ("10 by 4 ft", (3.048, 1.2192)),
        ("10' x 4'", (3.048, 1.2192)),
        ("3 m * 120 cm", (3.0, 1.2)),
    ],
)
def test_two_sides(text: str, expected: tuple[float, float]) -> None:
    assert parse_sides(text) == pytest.approx(expected)


@pytest.mark.parametrize("text", ["3 m", "3 m x", "x", "1 m x 2 m x 3 m", "3 x 2", "3 m x 2 kg", ""])
def test_sides_that_are_none(text: str) -> None:
    with pytest.raises(InputError):
        parse_sides(text)


def test_the_unit_tells_the_kind() -> None:
    kinds = ("volume", "duration", "depth")
    assert parse_one_of("12 L", kinds) == ("volume", 12.0)
    assert parse_one_of("30 min", kinds) == ("duration", 0.5)
    assert parse_one_of("14 mm", kinds) == ("depth", 14.0)
    with pytest.raises(InputError, match='Did you mean "min"'):
        parse_one_of("20 mins.x", kinds)


@pytest.mark.parametrize(
    ("value", "kind", "system", "shown"),
    [
        (0.75, "volume", "metric", "750 mL"),
        (0.9999, "volume", "metric", "1 L"),
        (1.26, "volume", "metric", "1.3 L"),
        (12.34, "volume", "metric", "12 L"),
        (123.4, "volume", "metric", "123 L"),
        (0.0, "volume", "metric", "0 mL"),
        (3.785411784, "volume", "US", "1 gal"),
        (0.473176, "volume", "US", "2 cups"),
        (0.29, "volume", "US", "1¼ cups"),
        (0.03, "volume", "US", "1 fl oz"),
        (0.45, "length", "metric", "45 cm"),
        (0.004, "length", "metric", "4 mm"),
        (1.2, "length", "metric", "1.2 m"),
        (0.4572, "length", "US", "18 in"),
        (3.048, "length", "US", "10 ft"),
        (4.2, "depth", "metric", "4.2 mm"),
        (12.7, "depth", "US", "0.5 in"),
        (3.6, "area", "metric", "3.6 m²"),
        (0.0929, "area", "US", "1 sq ft"),
        (7.5708, "flow", "US", "2 gal/h"),
        (2.0, "flow", "metric", "2 L/h"),
        (-40.0, "temperature", "US", "-40 °F"),
        (-0.3, "temperature", "metric", "0 °C"),
        (100.0, "pressure", "US", "15 psi"),
        (0.5, "duration", "metric", "30 min"),
        (2.25, "duration", "metric", "2 h 15 min"),
        (0.999, "duration", "metric", "1 h"),
        (0.01, "duration", "metric", "36 s"),
        (80.0, "percent", "metric", "80 %"),
        (180.0, "angle", "metric", "180°"),
        (math.nan, "volume", "metric", "not known"),
    ],
)
def test_written_as_gardeners_read_it(value: float, kind: str, system: str, shown: str) -> None:
    assert format_quantity(value, kind, "US" if system == "US" else "metric") == shown


def test_digits_are_obeyed() -> None:
    assert format_quantity(1.23456, "volume", "metric", digits=2) == "1.23 L"
    assert format_quantity(0.3, "volume", "US", digits=1) == "1.3 cups"


@given(
    kind=st.sampled_from(["length", "depth", "area", "volume", "flow", "rate", "pressure", "mass", "speed"]),
    value=st.floats(0.05, 5e4),
    system=st.sampled_from(["metric", "US"]),
)
def test_what_is_shown_reads_back_within_its_rounding(kind: str, value: float, system: str) -> None:
    shown = format_quantity(value, kind, "US" if system == "US" else "metric", digits=6)
    back = parse_quantity(shown.replace("cups", "cup"), kind)
    # Six decimals of the largest unit of a kind are at most 1e-6 bar, gallon, inch: a thousandth of the smallest value here.
    assert back == pytest.approx(value, rel=1e-3)


@given(kind=st.sampled_from(sorted(set(KINDS) - {"percent", "temperature"})), number=st.floats(0.001, 999.0))
def test_every_unit_scales_as_its_factor_says(kind: str, number: float) -> None:
    for unit in KINDS[kind].units:
        read = parse_quantity(f"{number:.6f} {unit.name}", kind)
        assert read == pytest.approx(float(f"{number:.6f}") * unit.factor, rel=1e-9)
