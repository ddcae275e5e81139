"""What the JSON readers share: loading, and walking down, with messages that name the line or the path."""

from __future__ import annotations

import json
import math
from typing import Any

from soakbook.errors import InputError
from soakbook.said import say


def load(text: str, name: str) -> dict[str, Any]:
    """The JSON object in a text; InputError with the line where it breaks off."""
    try:
        data = json.loads(text.removeprefix("\ufeff"))
    except json.JSONDecodeError as exc:
        raise InputError(
            say("{name}, line {lineno}: not whole JSON ({msg}).", name=name, lineno=exc.lineno, msg=exc.msg),
            code="weather.json",
            field=name,
        ) from exc
    except (RecursionError, ValueError) as exc:
        raise InputError(say("{name}: JSON that cannot be read.", name=name), code="weather.json", field=name) from exc
    if not isinstance(data, dict):
        raise InputError(say("{name}: a JSON object is expected.", name=name), code="weather.json", field=name)
    return data


_KINDS: dict[type, str] = {dict: say("an object"), list: say("a list"), str: say("a text")}


def part(data: dict[str, Any], key: str, kind: type, path: str) -> Any:
    """A member of the wanted kind; InputError that names its path."""
    value = data.get(key)
    if not isinstance(value, kind):
        raise InputError(
            say(
                "{path}{key} is {state}; {kind} is expected.",
                path=path,
                key=key,
                state=say("missing") if value is None else say("of another kind"),
                kind=_KINDS[kind],
            ),
            code="weather.json",
            field=f"{path}{key}",
        )
    return value


def as_number(value: Any, path: str) -> float:
    """A number, NaN for null; InputError that names its path."""
    if value is None:
        return float("nan")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(
            say("{path} is {value}; a number or null is expected.", path=path, value=repr(str(value)[:30])),
            code="weather.json",
            field=path,
        )
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    return number


def finite(value: Any, path: str) -> float | None:
    """A finite number, or None."""
    number = as_number(value, path)
    return number if math.isfinite(number) else None
