"""The log as the page shows it: what was asked for, newest first, day by day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime
from itertools import groupby
from typing import TYPE_CHECKING

from soakbook.app.entry_form import entry_words
from soakbook.app.entry_in import local_time
from soakbook.errors import InputError
from soakbook.garden.words import plain
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.app.desk import Known
    from soakbook.app.reader import Reader
    from soakbook.store import Entry, PastEntry

#: Entries on one page.
ON_A_PAGE = 100


@dataclass(frozen=True)
class Wanted:
    """What the reader asks to see; empty is everything. Days as ``2017-07-08``."""

    place: str = ""
    kind: str = ""
    who: str = ""
    since: str = ""
    until: str = ""
    words: str = ""
    removed: str = ""
    page: str = ""

    @property
    def number(self) -> int:
        """The page, from 1."""
        return max(1, int(self.page)) if self.page.isascii() and self.page.isdigit() and len(self.page) < 7 else 1

    @property
    def is_all(self) -> bool:
        """Whether nothing is left out."""
        return not any(getattr(self, f.name) for f in fields(self) if f.name not in ("page", "removed"))

    def query(self, **other: str) -> dict[str, str]:
        """What is set, for an address."""
        return {name: value for name, value in (vars(self) | other).items() if value}


def wanted_from(values: Mapping[str, str]) -> Wanted:
    """From an address or a form; anything else in it is left alone."""
    return Wanted(**{f.name: values.get(f.name, "").strip()[:200] for f in fields(Wanted)})


@dataclass(frozen=True)
class Shown:
    """An entry written out."""

    entry: Entry | PastEntry
    at: datetime
    place: str
    words: str
    counted: date | None = None


@dataclass(frozen=True)
class Listed:
    """One page of the log."""

    days: list[tuple[date, list[Shown]]]
    n: int
    total: int
    number: int
    pages: int


def listed(entries: Iterable[Entry], wanted: Wanted, known: Known, reader: Reader, gone: Mapping[str, str]) -> Listed:
    """The page of the log that is asked for. InputError when a day cannot be read."""
    every = list(entries)
    found = matching(every, wanted, known, gone)
    pages = max(1, -(-len(found) // ON_A_PAGE))
    number = min(wanted.number, pages)
    some = found[(number - 1) * ON_A_PAGE : number * ON_A_PAGE]
    shown = [shown_entry(entry, known, reader, gone) for _, entry in some]
    days = [(day, list(group)) for day, group in groupby(shown, key=lambda one: one.at.date())]
    return Listed(days, len(found), len(every), number, pages)


def matching(
    entries: Iterable[Entry], wanted: Wanted, known: Known, gone: Mapping[str, str]
) -> list[tuple[datetime, Entry]]:
    """The entries that are asked for with their local times, newest first. InputError when a day cannot be read."""
    since, until = _day(wanted.since, "since"), _day(wanted.until, "until")
    every = [(local_time(entry.at, known.garden), entry) for entry in entries]
    found = [
        (at, entry)
        for at, entry in every
        if (not wanted.place or entry.place_id == wanted.place)
        and (not wanted.kind or entry.kind == wanted.kind or (wanted.kind == "photo" and entry.photos))
        and (not wanted.who or entry.by == wanted.who)
        and (since is None or at.date() >= since)
        and (until is None or at.date() <= until)
        and _says(entry, wanted.words, gone)
    ]
    return sorted(found, key=lambda pair: (pair[0], pair[1].id), reverse=True)


def shown_entry(entry: Entry | PastEntry, known: Known, reader: Reader, gone: Mapping[str, str]) -> Shown:
    """One entry written out."""
    at = local_time(entry.at, known.garden)
    words = entry_words(entry, known, reader, gone)
    place = known.names.get(entry.place_id) or gone.get(entry.place_id, "")
    return Shown(entry, at, place, words[:1].upper() + words[1:], gauge_date(at) if entry.kind == "rain" else None)


def gauge_date(at: datetime) -> date:
    """The day for which a gauge read at that time counts."""
    from soakbook.advice.sky import gauge_day
    from soakbook.garden.model import LogEntry

    return gauge_day(LogEntry("x", at, "rain"))


def _day(text: str, field: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(say('"{text}" is not a date.', text=text[:40]), code="log.time", field=field) from None


def _says(entry: Entry, words: str, gone: Mapping[str, str]) -> bool:
    """Whether every word stands somewhere in the entry."""
    if not words:
        return True
    text = plain(f"{gone.get(entry.place_id, '')} {entry.text} {entry.amount} {entry.by}")
    return all(plain(word) in text for word in words.split())
