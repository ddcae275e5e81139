"""The garden file written anew from what stands in it, to be read and changed by hand."""

from __future__ import annotations

import json
import re
from datetime import date, datetime, time
from typing import Any

from soakbook.errors import InputError
from soakbook.said import say

_HEAD = """\
# A garden file. Change it with any text editor; look it over with: soakbook garden check
# Lengths, volumes and the like carry their unit in quotes: "45 cm", "3 ft", "10 L", "2 gal".
"""
_ORDER = ("garden", "supply", "wishes", "lines", "timers", "soils", "places")
_LONG = 100


def garden_text(raw: dict[str, Any]) -> str:
    """The TOML text that reads back as ``raw``, each table under its header, small tables on one line.

    Raises
    ------
    InputError
        Something in it has no form in TOML.

    Examples
    --------
    >>> print(garden_text({"supply": {"can": "9 L"}}).split("\\n\\n")[1].strip())
    [supply]
    can = "9 L"
    """
    keys = sorted(raw, key=lambda key: _ORDER.index(key) if key in _ORDER else len(_ORDER))
    plain = [f"{_key(key)} = {_value(raw[key])}\n" for key in keys if not _is_headed(raw[key])]
    blocks = ["".join(plain)] if plain else []
    for key in keys:
        if isinstance(raw[key], dict):
            blocks.append(f"[{_key(key)}]\n{_entries(raw[key])}")
        elif _is_headed(raw[key]):
            blocks += [_element(key, item) for item in raw[key]]
    return "\n".join([_HEAD, *blocks])


def _is_headed(value: Any) -> bool:
    """Whether it is written under a header of its own: a table, or a list of tables."""
    if isinstance(value, list):
        return bool(value) and all(isinstance(item, dict) for item in value)
    return isinstance(value, dict)


def _element(key: str, table: dict[str, Any]) -> str:
    """One of a list of tables, with the plantings of a place below it."""
    below = table.get("plantings") if key == "places" else None
    if not _is_headed(below) or not isinstance(below, list):
        return f"[[{_key(key)}]]\n{_entries(table)}"
    own = {name: value for name, value in table.items() if name != "plantings"}
    plantings = [f"[[{_key(key)}.plantings]]\n{_entries(planting)}" for planting in below]
    return f"[[{_key(key)}]]\n{_entries(own)}" + "".join(plantings)


def _entries(table: dict[str, Any]) -> str:
    return "".join(f"{_key(key)} = {_entry_value(key, value)}\n" for key, value in table.items())


def _entry_value(key: str, value: Any) -> str:
    """A value; a long list of tables or texts, such as the layers of a soil or the programmes of a timer, one a line."""
    text = _value(value)
    if isinstance(value, list) and len(key) + 3 + len(text) > _LONG and (_is_headed(value) or _is_texts(value)):
        return "[\n" + "".join(f"    {_value(item)},\n" for item in value) + "]"
    return text


def _is_texts(value: list[Any]) -> bool:
    return all(isinstance(item, str) for item in value)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _quoted(key)


def _quoted(text: str) -> str:
    """A basic string: JSON's, and the one control character JSON leaves as it is."""
    if any(0xD800 <= ord(char) <= 0xDFFF for char in text):
        raise _no_form(text)
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(_value(item) for item in value)}]"
    if isinstance(value, dict):
        inside = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    raise _no_form(value)


def _no_form(value: Any) -> InputError:
    return InputError(
        say("{value} cannot be written in a garden file.", value=ascii(value)[:60]), code="garden.form", field="garden"
    )
