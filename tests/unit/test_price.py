"""Prices of water as they stand on bills."""

from __future__ import annotations

import pytest

from soakbook.advice.account import cost
from soakbook.errors import InputError
from soakbook.garden.file import parse_garden
from soakbook.garden.model import Supply
from soakbook.garden.price import parse_price
from tests.known import KNOWN, find_town

GALLON_L = 3.785411784  # NIST Handbook 44, Appendix C
CUBIC_FOOT_L = 28.316846592


@pytest.mark.parametrize(
    ("text", "price", "currency"),
    [
        ("2.40 EUR per m3", 2.40, "EUR"),
        ("2,40 € per m³", 2.40, "€"),
        ("$6.10 per 1000 gal", 6.10 / GALLON_L, "$"),
        ("6.10 USD / kgal", 6.10 / GALLON_L, "USD"),
        ("4.20 USD per CCF", 4.20 / (0.1 * CUBIC_FOOT_L), "USD"),
        ("0.3 cents per L", 300.0, "cents"),
        ("1 new peso per 10 L", 100.0, "new peso"),
    ],
)
def test_a_price_of_a_cubic_metre(text: str, price: float, currency: str) -> None:
    assert parse_price(text) == (pytest.approx(price), currency)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "price.form"), ("2.40", "price.form"), ("2.40 per m3", "price.form"), ("EUR per m3", "price.form"),
        ("2.40 EUR per kg", "unit.wrong_kind"), ("1,200 EUR per m3", "number.ambiguous"), ("2 EUR per 0 L", "price.range"),
        ("900 EUR per L", "price.range"), ("-2 EUR per m3", "price.form"),
    ],
)  # fmt: skip
def test_no_price(text: str, code: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_price(text)
    assert refused.value.code == code


def garden(supply: str) -> str:
    return f"""
[garden]
name = "Small"
where = "Little Sedge"
[supply]
{supply}
[[places]]
name = "Bed"
kind = "bed"
soil = "loam"
size = "4 m x 1 m"
"""


def test_the_garden_file_has_the_price() -> None:
    supply = parse_garden(garden('price = "2.40 EUR per m3"'), KNOWN, find_town).garden.supply
    assert (supply.price_per_m3, supply.currency) == (2.40, "EUR")
    assert parse_garden(garden('can = "9 L"'), KNOWN, find_town).garden.supply.price_per_m3 is None


@pytest.mark.parametrize("entry", ['price = "dear"', "price = 2.40", 'price = ["2 EUR per m3"]'])
def test_the_error_names_the_entry(entry: str) -> None:
    with pytest.raises(InputError, match=r"supply\.price"):
        parse_garden(garden(entry), KNOWN, find_town)


def test_only_water_from_the_mains_costs() -> None:
    assert cost(Supply("mains", price_per_m3=2.40), 1500.0) == pytest.approx(3.60)
    assert cost(Supply("rain_barrel", price_per_m3=2.40), 1500.0) is None
    assert cost(Supply("mains"), 1500.0) is None
