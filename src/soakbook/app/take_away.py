"""A garden's round in one file that works without any network, and the list of what was written down in it, handed back."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

from soakbook.app.entry_form import entry_words
from soakbook.app.learnt_view import fault_cards
from soakbook.app.paper_view import PLACE_DAYS, DueWords, cut_of, due_words, dues_by_place, facts_of, reasons_words
from soakbook.app.reader import Reader
from soakbook.app.round_view import Row, rows_of
from soakbook.errors import InputError
from soakbook.garden.log import water_litres
from soakbook.garden.words import plain
from soakbook.said import say
from soakbook.store import NewEntry

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.store import Entry

KIND, VERSION = "soakbook_list", 1
MAX_BYTES, MAX_ENTRIES = 1_000_000, 2_000
#: A phone's clock may run ahead of ours.
AHEAD = timedelta(minutes=15)
_FIELDS = ("id", "at", "kind", "place", "place_name", "amount", "text")


# --- out -------------------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class PlaceAway:
    """A place in the file: its job, the cut and the sum, and the units to write down water in, each with its litres."""

    row: Row
    cut: str
    reasons: tuple[tuple[str, str, str], ...]
    total: tuple[str, str]
    since: str
    facts: tuple[tuple[str, str], ...]
    dues: tuple[DueWords, ...]
    units: tuple[tuple[str, str, float], ...]
    asked_litres: float


def places_away(desk: Desk, known: Known, r: Reader) -> list[PlaceAway]:
    """Every place in walking order."""
    dues = dues_by_place(desk, known, PLACE_DAYS)
    made = []
    rows = rows_of(desk, known, desk.round(known), r, fault_cards(desk, known, r))
    for row, standing in zip(rows, desk.standings(known), strict=True):
        place, advice = known.place(row.place_id), row.job.advice
        made.append(
            PlaceAway(
                row=row,
                cut=cut_of(standing, advice, r),
                reasons=reasons_words(advice, r),
                total=(r.quantity(advice.missing_mm, "depth"), r.amount(advice.missing_litres)),
                since=r.day(advice.since),
                facts=facts_of(known, row, r),
                dues=tuple(due_words(due, r) for due in dues[row.place_id]),
                units=tuple((u, words, water_litres(f"1 {u}", place, known.garden)[0]) for u, words in row.units),
                asked_litres=advice.litres or advice.if_dry_litres,
            )
        )
    return made


# --- back ------------------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class BackEntry:
    """One entry of a list: what it says, and what becomes of it. ``entry`` is None when it cannot be used at all."""

    written: dict[str, Any]
    entry: NewEntry | None
    state: Literal["new", "known", "wrong"]
    words: str
    at: datetime | None
    error: InputError | None = None


@dataclass(frozen=True)
class BackList:
    """A list as it was handed in, and its entries looked at one by one. ``is_other`` when it is of another garden."""

    garden: str
    garden_name: str
    is_other: bool
    made: str
    by: str
    entries: tuple[BackEntry, ...]

    def of(self, state: str) -> list[BackEntry]:
        """The entries in a state."""
        return [one for one in self.entries if one.state == state]


def read_list(text: str, desk: Desk, known: Known, r: Reader) -> BackList:
    """Look at a list. InputError (field ``list``) when it is none; what is wrong with an entry stands beside that entry."""
    data = _parsed(text)
    garden, name, made, by = (_short(data.get(key)) for key in ("garden", "garden_name", "made", "by"))
    is_other = garden != known.key
    there = {e.id: e for e in desk.store.entries(known.key, removed=True)}
    seen: dict[str, NewEntry] = {}
    entries = tuple(_looked(one, desk, known, r, is_other, there, seen) for one in data["entries"])
    return BackList(garden, name, is_other, made, by, entries)


def _short(value: Any) -> str:
    """A short line of plain text; anything else is none."""
    return value.strip()[:80] if isinstance(value, str) and value.isprintable() else ""


def _parsed(text: str) -> dict[str, Any]:
    """The list in a text that may have other words before and after it, as a mail does."""
    if len(text.encode("utf-8", "replace")) > MAX_BYTES:
        raise InputError(say("The list is too long; at most 1 MB is taken."), code="take_back.size", field="list")
    start, end = text.find("{"), text.rfind("}")
    if start < 0 or end < start:
        raise _no_list()
    try:
        data = json.loads(text[start : end + 1])
    except (ValueError, RecursionError):
        raise _no_list() from None
    if not isinstance(data, dict) or data.get("kind") != KIND or not isinstance(data.get("entries"), list):
        raise _no_list()
    if data.get("version") != VERSION:
        raise InputError(say("This list is of a kind that is not known here."), code="take_back.version", field="list")
    if len(data["entries"]) > MAX_ENTRIES:
        raise InputError(
            say(
                "The list has {n} entries; at most {most} are taken at once.", n=len(data["entries"]), most=MAX_ENTRIES
            ),
            code="take_back.many",
            field="list",
        )
    return data


def _no_list() -> InputError:
    return InputError(
        say("This is not a list from a take-away page, or not all of it."),
        code="take_back.form",
        field="list",
        hint=say("Choose the file that was saved there, or copy its whole text."),
    )


def _looked(
    one: Any, desk: Desk, known: Known, r: Reader, is_other: bool, there: dict[str, Entry], seen: dict[str, NewEntry]
) -> BackEntry:
    """One entry checked; ``seen`` gathers those before it in the list."""
    if not isinstance(one, dict) or any(not isinstance(one.get(name, ""), str) for name in _FIELDS):
        error = InputError(say("This is not an entry."), code="take_back.entry")
        return BackEntry(one if isinstance(one, dict) else {"text": str(one)[:200]}, None, "wrong", "", None, error)
    entry, at = None, None
    try:
        place_id = _place_id(one, known, is_other)
        text = {name: one.get(name, "") for name in ("id", "at", "kind", "amount", "text")}
        entry = NewEntry(**text, place_id=place_id)
        at = desk.read_entry(known, entry).at
        if at > desk.now(known.garden) + AHEAD:
            raise InputError(say("That has not come yet."), code="log.future", field="at")
        if seen.setdefault(entry.id, entry) != entry:
            raise _twice(entry.id)
        state = _state(entry, there)
    except InputError as error:
        return BackEntry(one, None, "wrong", _raw_words(one), at, error)
    return BackEntry(one, entry, state, entry_words(entry, known, r), at)


def _state(entry: NewEntry, there: dict[str, Entry]) -> Literal["new", "known"]:
    old = there.get(entry.id)
    if old is None:
        return "new"
    same = (old.at, old.kind, old.place_id, old.amount.strip()) == (
        entry.at,
        entry.kind,
        entry.place_id,
        entry.amount.strip(),
    )
    if not same and not old.edits:
        raise _twice(entry.id)
    return "known"


def _twice(entry_id: str) -> InputError:
    return InputError(say('"{id}" is the id of another entry.', id=entry_id), code="log.id.twice", field="id")


def _place_id(one: dict[str, Any], known: Known, is_other: bool) -> str:
    """The place by its id; by its name where the list is of another garden or the id is not known any more."""
    wanted, name = one.get("place", ""), one.get("place_name", "")
    if not wanted and not name:
        return ""
    if wanted in known.names and not is_other:
        return str(wanted)
    for place_id, its_name in known.names.items():
        if name and plain(its_name) == plain(name):
            return place_id
    raise InputError(
        say('there is no place "{name}".', name=(name or wanted)[:80]), code="log.place.unknown", field="place"
    )


def _raw_words(one: dict[str, Any]) -> str:
    """What an entry that cannot be used says, as it stands."""
    parts = (
        one.get("place_name") or one.get("place", ""),
        one.get("amount", ""),
        one.get("text", ""),
        one.get("at", ""),
    )
    return ", ".join(part[:200] for part in parts if part)


def write_list(made: BackList, desk: Desk, known: Known, by: str) -> tuple[int, int, tuple[BackEntry, ...]]:
    """Keep every good entry by itself. How many were new, how many were here, and those that could not be kept."""
    fresh = known_before = 0
    wrong = []
    for one in made.entries:
        if one.entry is None:
            wrong.append(one)
            continue
        try:
            fresh += desk.store.put(known.key, one.entry, by=made.by or by)[1] if one.state == "new" else 0
            known_before += one.state == "known"
        except InputError as error:
            wrong.append(BackEntry(one.written, None, "wrong", one.words, one.at, error))
    return fresh, known_before, tuple(wrong)


def list_text(made: BackList, entries: Iterable[BackEntry]) -> str:
    """Some of its entries as a list again."""
    data = {
        "kind": KIND, "version": VERSION, "garden": made.garden, "garden_name": made.garden_name, "made": made.made,
        "by": made.by, "entries": [one.written for one in entries],
    }  # fmt: skip
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))
