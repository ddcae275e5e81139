"""Garden documents: ids for what stands in them, and the way from and to the garden file."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import date, datetime
from typing import Any

from soakbook.errors import InputError
from soakbook.said import say

Document = dict[str, Any]
_MAX_DEPTH = 16
_LISTS = ("lines", "timers", "soils", "places")
_GARDEN_DATES = ("start",)
_PLACE_DATES = ("followed",)
_WETTED_DATES = ("seen",)
_SPELL_DATES = ("since", "until")
_PLANTING_DATES = ("sown", "planted", "cleared", "measured")


def new_id(taken: set[str]) -> str:
    """Eight hexadecimal digits that are not taken yet."""
    while (fresh := uuid.uuid4().hex[:8]) in taken:
        pass
    return fresh


def as_file(document: Document) -> Document:
    """The document as the garden file has it: dates as dates, no ids. What it holds is not checked."""
    raw = deepcopy(document)
    for table in _tables(raw):
        table.pop("id", None)
    _each_date(raw, _to_date)
    return raw


def from_file(raw: Document) -> Document:
    """What a garden file holds as a document: dates as text, an id for everything that has one."""
    return tidy(raw)


def tidy(document: Document) -> Document:
    """A copy as it is kept: no empty entries, dates as text, and an id, its own, wherever one belongs."""
    kept = _plain(document)
    if not isinstance(kept, dict):
        return {}
    taken: set[str] = set()
    fresh: list[Document] = []
    for table in _tables(kept):
        given = table.get("id")
        if isinstance(given, str) and re.fullmatch(r"[0-9a-f]{8}", given) and given not in taken:
            taken.add(given)
        else:
            fresh.append(table)
    for table in fresh:
        table["id"] = new_id(taken)
        taken.add(table["id"])
    return kept


def _plain(value: Any, depth: int = 0) -> Any:
    """A copy with dates as text and without entries that hold nothing."""
    if depth > _MAX_DEPTH:
        raise InputError(say("it is nested too deep."), code="table.depth", field="garden")
    if isinstance(value, dict):
        return {key: _plain(item, depth + 1) for key, item in value.items() if item is not None}
    if isinstance(value, list | tuple):
        return [_plain(item, depth + 1) for item in value]
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    return value


def names_of_places(document: Document) -> dict[str, str]:
    """Names by id."""
    return {
        str(place["id"]): str(place.get("name", "")).strip()
        for place in _tables_in(document, "places")
        if place.get("id")
    }


def _tables_in(table: Document, key: str) -> list[Document]:
    found = table.get(key)
    return [item for item in found if isinstance(item, dict)] if isinstance(found, list) else []


def _tables(document: Document) -> Iterator[Document]:
    """Everything that has an id."""
    for key in _LISTS:
        yield from _tables_in(document, key)
    for place in _tables_in(document, "places"):
        yield from _tables_in(place, "plantings")


def _each_date(document: Document, turn: Callable[[Any], Any]) -> None:
    head = document.get("garden")
    dated: list[tuple[Document, tuple[str, ...]]] = [(head, _GARDEN_DATES)] if isinstance(head, dict) else []
    for timer in _tables_in(document, "timers"):
        dated += [(table, _SPELL_DATES) for table in (timer, *_tables_in(timer, "earlier"))]
    for place in _tables_in(document, "places"):
        dated.append((place, _PLACE_DATES))
        if isinstance(place.get("wetted"), dict):
            dated.append((place["wetted"], _WETTED_DATES))
        dated += [(planting, _PLANTING_DATES) for planting in _tables_in(place, "plantings")]
    for table, keys in dated:
        for key in keys:
            if key in table:
                table[key] = turn(table[key])


def _to_date(value: Any) -> Any:
    """The date a text stands for; what is none is left for the check to refuse."""
    if not isinstance(value, str) or not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value.strip()):
        return value
    try:
        return date.fromisoformat(value.strip())
    except ValueError:
        return value
