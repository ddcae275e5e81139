"""The form of what is written down: lengths, one line, no odd characters."""

from __future__ import annotations

from soakbook.errors import InputError
from soakbook.said import say


def check_line(text: str, field: str, most: int, *, empty: bool = True, code: str = "text") -> None:
    """InputError unless it is one line of printable text, not too long and, unless allowed, not empty."""
    if not empty and not text.strip():
        raise InputError(say('"{field}" is empty.', field=field), code=f"{code}.empty", field=field)
    if len(text) > most:
        message = say('"{field}" has {n} characters; at most {most}.', field=field, n=len(text), most=most)
        raise InputError(message, code=f"{code}.long", field=field)
    if not text.isprintable():
        raise InputError(
            say('"{field}" must be plain text on one line.', field=field), code=f"{code}.plain", field=field
        )
