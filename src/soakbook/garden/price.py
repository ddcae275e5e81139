"""What water costs, as it stands on a bill: ``"2.40 EUR per m3"``, ``"6.10 USD per 1000 gal"``."""

from __future__ import annotations

import re

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.units import parse_quantity

_PER = r"\s*(?:\bper\b|/)\s*"
#: The price before or after its currency, and what it is for.
_FORMS = (
    re.compile(rf"(?P<number>[\d.,]+)\s*(?P<currency>[^\d\s.,/][^\d/]{{0,11}}?){_PER}(?P<amount>.+)", re.IGNORECASE),
    re.compile(rf"(?P<currency>[^\d\s.,/][^\d/]{{0,11}}?)\s*(?P<number>[\d.,]+){_PER}(?P<amount>.+)", re.IGNORECASE),
)
#: Names on American bills that are no units elsewhere.
_BILLED = {"ccf": "100 ft3", "hcf": "100 ft3", "kgal": "1000 gal"}
#: Dearer water than this is a slip of the pen.
MOST_PER_M3 = 10_000.0


def parse_price(text: str, *, field: str = "price") -> tuple[float, str]:
    """Price of a cubic metre, and the currency as written.

    Parameters
    ----------
    text
        A number, a currency in the writer's own word or sign, and for how much water.

    Returns
    -------
    tuple
        (price of a m³, currency).

    Raises
    ------
    InputError
        When it is no price, or one beyond reason.

    Examples
    --------
    >>> parse_price("2.40 EUR per m3")
    (2.4, 'EUR')
    >>> price, currency = parse_price("$6.10 per 1000 gal")
    >>> round(price, 4), currency
    (1.6114, '$')
    """
    text = " ".join(text.split())
    found = next((m for m in (form.fullmatch(text) for form in _FORMS) if m), None)
    if found is None:
        raise InputError(
            say('"{value}" is not a price of water.', value=text[:40]), code="price.form", field=field,
            hint=say('Write "2.40 EUR per m3" or "6.10 USD per 1000 gal".'),
        )  # fmt: skip
    # read as litres only to have the number read as all numbers of the file are
    number = parse_quantity(f"{found['number']} L", "volume", field=field)
    amount = found["amount"].strip()
    amount = _BILLED.get(amount.casefold(), amount)
    litres = parse_quantity(amount if amount[0].isdigit() else f"1 {amount}", "volume", field=field)
    price = 1000.0 * number / litres if litres > 0.0 else MOST_PER_M3 * 2.0
    if price > MOST_PER_M3:
        raise InputError(
            say("{value} comes to more than {most:g} for a cubic metre.", value=text[:40], most=MOST_PER_M3),
            code="price.range",
            field=field,
        )
    return price, found["currency"].strip()
