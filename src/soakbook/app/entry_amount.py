"""Amounts between the page and the log: a number as the reader writes it, and a unit word of the log."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soakbook.app.reader import Reader


def amount_text(number: str, unit: str) -> str:
    """The amount as the log has it, from a number as the reader writes it and a unit word of the log.

    A number that brings its own unit is left as it is. ``1,5`` becomes ``1.5``; ``1,500`` stays, for the log to ask which
    of the two is meant. Without a number there is no amount.
    """
    number = " ".join(number.split())
    if any(c.isalpha() for c in number) or not number:
        return number
    if re.fullmatch(r"\d*,\d+", number) and not re.fullmatch(r"[1-9]\d{0,2},\d{3}", number):
        number = number.replace(",", ".")
    return f"{number} {unit.strip()}".strip()


def amount_parts(amount: str, reader: Reader) -> tuple[str, str]:
    """Number as the reader writes it and unit of an amount in the log; one that is more than that stays whole."""
    found = re.fullmatch(r"([\d.,]+)\s*([^\W\d_]+)", amount.strip())
    if not found:
        return amount, ""
    number = found[1] if re.fullmatch(r"[1-9]\d{0,2},\d{3}", found[1]) else found[1].replace(",", ".")
    return number.replace(".", reader.decimal), {"can": "cans"}.get(found[2], found[2])
