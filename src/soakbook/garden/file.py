"""The garden file: TOML with units in it, written by hand. Read here, checked, and turned into a garden.

Every error names the file, the line, the entry, what was given, what is allowed and the nearest word; all
errors of a file come at once.
"""

from __future__ import annotations

import math
import re
import tomllib
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from soakbook.errors import InputError
from soakbook.garden.build import build_garden
from soakbook.garden.disk import read_text
from soakbook.garden.locate import Lines, Path
from soakbook.garden.model import Garden
from soakbook.garden.problems import Problems
from soakbook.garden.words import FindElevation, FindPlace, KnownWords, Spot
from soakbook.said import say

__all__ = [
    "Checked",
    "FindElevation",
    "FindPlace",
    "KnownWords",
    "Spot",
    "check_garden",
    "check_raw",
    "parse_garden",
    "read_garden",
]

MAX_BYTES = 1_000_000
_MAX_DEPTH = 8


@dataclass(frozen=True)
class Checked:
    """A garden, and in plain sentences what was assumed because the file does not say it."""

    garden: Garden
    assumed: tuple[str, ...]


def read_garden(
    path: str | FilePath,
    known: KnownWords,
    find_place: FindPlace | None = None,
    find_elevation: FindElevation | None = None,
) -> Garden:
    """Read a garden file.

    Parameters
    ----------
    path
        The TOML file.
    known
        The words of the catalogue the file may use.
    find_place
        Turns a town's name into a :class:`Spot`; without it the file must give latitude and longitude.
    find_elevation
        Height of a spot whose height the file does not give; without it 0 m is assumed.

    Raises
    ------
    InputError
        Naming file, line and entry; :class:`~soakbook.errors.InputErrors` when there are several.
    """
    return check_garden(path, known, find_place, find_elevation).garden


def check_garden(
    path: str | FilePath,
    known: KnownWords,
    find_place: FindPlace | None = None,
    find_elevation: FindElevation | None = None,
) -> Checked:
    """As :func:`read_garden`, with what was assumed."""
    file = FilePath(path)
    text = read_text(file, "garden", MAX_BYTES)
    return parse_garden(text, known, find_place, find_elevation, file_name=file.name, folder=file.parent)


def parse_garden(
    text: str,
    known: KnownWords,
    find_place: FindPlace | None = None,
    find_elevation: FindElevation | None = None,
    *,
    file_name: str = "garden.toml",
    folder: FilePath | None = None,
) -> Checked:
    """Check the text of a garden file and build the garden; a weather file is looked for in ``folder``."""
    raw = _parse_toml(text, file_name)
    problems = Problems(file_name, Lines(text), known)
    _refuse_odd_numbers(raw, (), problems)
    garden, assumed = build_garden(raw, problems, find_place, find_elevation, folder)
    return Checked(garden, assumed)


def check_raw(
    raw: dict[str, Any],
    known: KnownWords,
    find_place: FindPlace | None = None,
    find_elevation: FindElevation | None = None,
    *,
    file_name: str = "garden",
    folder: FilePath | None = None,
) -> Checked:
    """As :func:`parse_garden`, from what stands in the file and not from its text.

    Errors name the entry in ``field``, counted from 1 (``places.2.plantings.1.sown``); their messages do not repeat it.
    """
    problems = Problems(file_name, None, known)
    try:
        raw = deepcopy(raw)
    except RecursionError as exc:
        raise InputError(say("it is nested too deep."), code="table.depth", field="garden") from exc
    _refuse_odd_numbers(raw, (), problems)
    garden, assumed = build_garden(raw, problems, find_place, find_elevation, folder)
    return Checked(garden, assumed)


def _refuse_odd_numbers(value: Any, path: Path, problems: Problems) -> None:
    """NaN, infinity, whole numbers beyond 64 bits and needless nesting, anywhere in the file."""
    if len(path) > _MAX_DEPTH:
        problems.add(path[:_MAX_DEPTH], say("it is nested too deep."), code="table.depth")
        problems.raise_if_any()
    if isinstance(value, dict | list):
        pairs = list(value.items() if isinstance(value, dict) else enumerate(value))
        for key, item in pairs:
            number = isinstance(item, int | float)
            if number and not (math.isfinite(item) if isinstance(item, float) else abs(item) < 2**63):
                problems.add((*path, key), say("it is not a number that can be used."), code="number.not_finite")
                value[key] = 0
            else:
                _refuse_odd_numbers(item, (*path, key), problems)


#: What the TOML reader says, and what it most likely means to someone who writes a garden file.
_MEANINGS = (
    ("Invalid value", say("the value is missing, or text without quotes"), say('Text goes in quotes, such as "3 m".')),
    ("Expected newline", say("something follows the value"), say('Text goes in quotes, such as "3 m".')),
    ("Expected '='", say("there is no = after the name"), say('Write it as: name = "value".')),
    ("Illegal character '\\n'", say("a quotation mark is not closed"), ""),
    ("Unterminated string", say("a quotation mark is not closed"), ""),
    ("Cannot overwrite a value", say("this entry or table is there twice"), ""),
    ("Duplicate inline table key", say("this entry is there twice"), ""),
    ("Cannot declare", say("this table is there twice"), say("A list of tables has double brackets: [[places]].")),
    ("Cannot mutate", say("this table was closed before"), ""),
    ("Unclosed array", say("a list is not closed with ]"), ""),
    ("Unclosed inline table", say("a table is not closed with }}"), ""),
    ("Expected ']'", say("a header is not closed with ]"), ""),
    ("Invalid initial character for a key", say("the name of an entry cannot start like this"), ""),
    ("Invalid statement", say("this is not a name = value line"), ""),
    ("Invalid date", say("there is no such day or time"), ""),
    ("Unescaped", say("a backslash in quotes must be doubled"), say("Use / in paths.")),
    ("Illegal character", say("it holds a character that is not allowed"), ""),
)


def _parse_toml(text: str, file_name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError as exc:
        raise InputError(
            say("{file_name} is nested too deep.", file_name=file_name), code="toml.depth", field="file"
        ) from exc
    except ValueError as exc:
        message = str(exc)
        line = _syntax_line(message, text)
        shown = "".join(c if c.isprintable() else " " for c in text.split("\n")[line - 1]).strip()
        meaning, hint = next(
            ((m, h) for start, m, h in _MEANINGS if message.startswith(start)), (say("it is not valid TOML"), "")
        )
        raise InputError(
            say(
                "{file_name}, line {line}: {meaning}: {shown}",
                file_name=file_name,
                line=line,
                meaning=meaning,
                shown=shown[:100] or say("(end of the file)"),
            ),
            code="toml.syntax",
            field=f"line {line}",
            hint=hint,
        ) from exc


def _syntax_line(message: str, text: str) -> int:
    found = re.search(r"\(at line (\d+), column \d+\)", message)
    last = text.rstrip().count("\n") + 1
    return min(int(found[1]), text.count("\n") + 1) if found else last
