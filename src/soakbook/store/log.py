"""The log in the database: entries as they were written, what they were before, and to and from CSV.

Only the form of an entry is looked at here. Whether it makes sense in the garden is for
:func:`soakbook.garden.log.parse_row` to say, before it comes here.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, insert, select, update

from soakbook.errors import InputError
from soakbook.garden import log as garden_log
from soakbook.garden.log import COLUMNS, KINDS, LogRow
from soakbook.garden.words import plain
from soakbook.said import say
from soakbook.store import tables as t
from soakbook.store.documents import names_of_places
from soakbook.store.gardens import need_garden
from soakbook.store.open import Database, as_time
from soakbook.store.words import check_line

LONGEST = 2000
_CONTENT = ("at", "kind", "place_id", "amount", "text")
#: Values bound in one statement; SQLite allows more, but not without end.
_AT_ONCE = 500


@dataclass(frozen=True)
class NewEntry:
    """An entry as it is handed in. ``at`` is local, such as ``2026-06-01T07:30``; ``amount`` carries its unit."""

    id: str
    at: str
    kind: str
    place_id: str = ""
    amount: str = ""
    text: str = ""


@dataclass(frozen=True)
class Entry:
    """An entry as it is kept, who wrote it, and the ids of its pictures."""

    id: str
    at: str
    kind: str
    place_id: str
    amount: str
    text: str
    by: str
    made_utc: datetime
    removed: bool
    edits: int
    photos: tuple[str, ...]


@dataclass(frozen=True)
class PastEntry:
    """What an entry was until it was changed, and who changed it when."""

    id: str
    at: str
    kind: str
    place_id: str
    amount: str
    text: str
    removed: bool
    at_utc: datetime
    by: str


def entries(db: Database, key: str, *, removed: bool) -> list[Entry]:
    """By time; of the same time, as they were written down."""
    with db.read() as c:
        need_garden(c, key)
        wanted = select(t.log).where(t.log.c.garden == key)
        if not removed:
            wanted = wanted.where(t.log.c.removed.is_(False))
        rows = c.execute(wanted).mappings().all()
        photos = _photos(c, key)
    return sorted((_entry(row, photos) for row in rows), key=lambda e: (e.at.replace(" ", "T"), e.made_utc, e.id))


def _photos(c: Connection, key: str, entry_id: str | None = None) -> dict[str, tuple[str, ...]]:
    """Ids of pictures by entry, in the order they came."""
    linked = t.entry_photos.c
    wanted = select(linked.entry_id, linked.photo_id).where(linked.garden == key)
    if entry_id is not None:
        wanted = wanted.where(linked.entry_id == entry_id)
    found: dict[str, tuple[str, ...]] = {}
    for row in c.execute(wanted.order_by(linked.made_utc, linked.photo_id)):
        found[row.entry_id] = (*found.get(row.entry_id, ()), row.photo_id)
    return found


def _entry(row: RowMapping, photos: Mapping[str, tuple[str, ...]]) -> Entry:
    kept = {name: row[name] for name in ("id", *_CONTENT, "by", "removed", "edits")}
    return Entry(**kept, made_utc=as_time(row["made_utc"]), photos=photos.get(row["id"], ()))


def entry(db: Database, key: str, entry_id: str) -> Entry:
    """One entry, removed or not."""
    with db.read() as c:
        need_garden(c, key)
        return need_entry(c, key, entry_id)


def need_entry(c: Connection, key: str, entry_id: str) -> Entry:
    """The entry, or InputError ``log.unknown``."""
    found = _rows_by_id(c, key, [entry_id]).get(entry_id)
    if found is None:
        shown = "".join(ch if ch.isprintable() else "?" for ch in entry_id[:64])
        raise InputError(say('There is no entry "{id}".', id=shown), code="log.unknown", field="id")
    return _entry(found, _photos(c, key, entry_id))


def _rows_by_id(c: Connection, key: str, ids: list[str]) -> dict[str, RowMapping]:
    found: dict[str, RowMapping] = {}
    for start in range(0, len(ids), _AT_ONCE):
        some = select(t.log).where(t.log.c.garden == key, t.log.c.id.in_(ids[start : start + _AT_ONCE]))
        found.update({row["id"]: row for row in c.execute(some).mappings()})
    return found


def bump(c: Connection, key: str) -> None:
    """Say that the garden's log has changed."""
    c.execute(update(t.gardens).where(t.gardens.c.key == key).values(log_version=t.gardens.c.log_version + 1))


def put_many(db: Database, key: str, new: list[NewEntry], *, by: str) -> list[tuple[Entry, bool]]:
    """Keep what is not there yet; all or none."""
    check_line(by, "by", 200)
    wanted = [_formed(entry) for entry in new]
    with db.write() as c:
        need_garden(c, key)
        there = _rows_by_id(c, key, [entry.id for entry in wanted])
        fresh: dict[str, NewEntry] = {}
        for entry in wanted:
            if entry.id in there:
                _check_same(c, key, entry, there[entry.id])
            elif fresh.setdefault(entry.id, entry) != entry:
                raise _twice(entry.id)
        if fresh:
            at = db.now()
            common = {"garden": key, "by": by, "made_utc": at, "removed": False, "edits": 0}
            c.execute(insert(t.log), [{**asdict(entry), **common} for entry in fresh.values()])
            bump(c, key)
            there |= _rows_by_id(c, key, list(fresh))
        photos = _photos(c, key)
    unseen = set(fresh)
    out = []
    for entry in wanted:
        out.append((_entry(there[entry.id], photos), entry.id in unseen))
        unseen.discard(entry.id)
    return out


def _check_same(c: Connection, key: str, entry: NewEntry, row: RowMapping) -> None:
    """An entry posted again is the same as it is now, or as it was before somebody edited it."""
    content = _content(asdict(entry))
    if content == _content(row):
        return
    before = select(t.log_past).where(t.log_past.c.garden == key, t.log_past.c.id == entry.id)
    if not any(content == _content(past) for past in c.execute(before).mappings()):
        raise _twice(entry.id)


def _content(row: Mapping[str, Any] | RowMapping) -> tuple[str, ...]:
    return tuple(row[name] for name in _CONTENT)


def _twice(entry_id: str) -> InputError:
    return InputError(say('"{id}" is the id of another entry.', id=entry_id), code="log.id.twice", field="id")


def _formed(entry: NewEntry) -> NewEntry:
    """The entry as it is kept, without blanks at the ends, as the CSV has it; InputError when its form is wrong."""
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", entry.id):
        raise InputError(
            say('"{id}" must be 1 to 64 letters, digits, - or _.', id=entry.id[:64]), code="log.id", field="id"
        )
    for name in _CONTENT:
        check_line(getattr(entry, name), name, LONGEST, empty=name != "at", code="log.text")
    if entry.kind not in KINDS:
        raise InputError(
            say('"{kind}" must be one of {kinds}.', kind=entry.kind[:40], kinds=", ".join(KINDS)),
            code="log.kind",
            field="kind",
        )
    return NewEntry(entry.id, **{name: getattr(entry, name).strip() for name in _CONTENT})


def edit(db: Database, key: str, entry_id: str, new: NewEntry, *, by: str) -> Entry:
    """Other values; nothing happens when they are the same."""
    check_line(by, "by", 200)
    wanted = _formed(new)
    if wanted.id != entry_id:
        raise InputError(say("an entry keeps its id."), code="log.id", field="id")
    with db.write() as c:
        need_garden(c, key)
        old = need_entry(c, key, entry_id)
        if old.removed:
            raise InputError(
                say("the entry was removed."), code="log.removed", field="id", hint=say("Bring it back first.")
            )
        values = {name: getattr(wanted, name) for name in _CONTENT}
        if values != {name: getattr(old, name) for name in _CONTENT}:
            _change(c, db.now(), key, old, by, {**values, "edits": old.edits + 1})
        return need_entry(c, key, entry_id)


def set_removed(db: Database, key: str, entry_ids: Iterable[str], removed: bool, *, by: str) -> list[Entry]:
    """Out of the log or back in, all or none; nothing happens to those for which it is so already."""
    check_line(by, "by", 200)
    ids = list(dict.fromkeys(entry_ids))
    with db.write() as c:
        need_garden(c, key)
        before, photos = _rows_by_id(c, key, ids), _photos(c, key)
        there = [_entry(before[i], photos) if i in before else need_entry(c, key, i) for i in ids]
        turned = [old for old in there if old.removed != removed]
        if turned:
            at = db.now()
            c.execute(insert(t.log_past), [_old_row(key, old, at, by) for old in turned])
            for start in range(0, len(turned), _AT_ONCE):
                some = [old.id for old in turned[start : start + _AT_ONCE]]
                c.execute(update(t.log).where(t.log.c.garden == key, t.log.c.id.in_(some)).values(removed=removed))
            bump(c, key)
    return [replace(old, removed=removed) for old in there]


def _change(c: Connection, at: str, key: str, old: Entry, by: str, values: Mapping[str, Any]) -> None:
    """Put the old values by and the new ones in their place."""
    c.execute(insert(t.log_past).values(**_old_row(key, old, at, by)))
    c.execute(update(t.log).where(t.log.c.garden == key, t.log.c.id == old.id).values(**values))
    bump(c, key)


def _old_row(key: str, old: Entry, at: str, by: str) -> dict[str, Any]:
    before = {name: getattr(old, name) for name in ("id", *_CONTENT, "removed")}
    return {"garden": key, **before, "changed_utc": at, "changed_by": by}


def past(db: Database, key: str, entry_id: str) -> list[PastEntry]:
    """Newest change first."""
    before = t.log_past
    with db.read() as c:
        need_garden(c, key)
        need_entry(c, key, entry_id)
        wanted = select(before).where(before.c.garden == key, before.c.id == entry_id).order_by(before.c.n.desc())
        rows = c.execute(wanted).mappings().all()
    return [
        PastEntry(
            **{name: row[name] for name in ("id", *_CONTENT, "removed")},
            at_utc=as_time(row["changed_utc"]),
            by=row["changed_by"],
        )
        for row in rows
    ]


def removals(db: Database, key: str) -> dict[str, datetime]:
    """When each entry that is out of the log was taken out, by id. Those taken out at once have the same time."""
    before = t.log_past
    with db.read() as c:
        need_garden(c, key)
        wanted = (
            select(before.c.id, before.c.changed_utc)
            .join(t.log, (t.log.c.garden == before.c.garden) & (t.log.c.id == before.c.id))
            .where(before.c.garden == key, t.log.c.removed.is_(True))
            .order_by(before.c.n)
        )
        return {row.id: as_time(row.changed_utc) for row in c.execute(wanted)}  # the last change is the removal


def log_csv(entries: Iterable[Entry], document: Mapping[str, Any]) -> str:
    """The log as the file beside the garden file has it: entries of the garden as a whole and of the places it has.

    Entries of places that the garden no longer has are in :func:`gone_csv`: the file would not be read with them.
    """
    names = names_of_places(dict(document))
    return _csv(entry_row(entry, names) for entry in entries if not entry.place_id or entry.place_id in names)


def gone_csv(entries: Iterable[Entry], document: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """Entries of places that are gone, with the last ``names`` of those places; empty when there are none."""
    here = names_of_places(dict(document))
    rows = [entry_row(entry, names) for entry in entries if entry.place_id and entry.place_id not in here]
    return _csv(rows) if rows else ""


def entry_row(entry: Entry | NewEntry, names: Mapping[str, str]) -> LogRow:
    """An entry as a line of the log, the place by its name: also what ``parse_row`` checks."""
    place = names.get(entry.place_id, entry.place_id)
    return LogRow(entry.at, entry.kind, place, entry.amount, entry.text, entry.id)


def _csv(rows: Iterable[LogRow]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(row.cells() for row in rows)
    return out.getvalue()


def rows_from_csv(text: str, file_name: str = "garden.log.csv") -> list[LogRow]:
    """The lines of a log file as they are written; InputError when it is not one."""
    return [row for _, row in garden_log.rows_in(text.removeprefix("\ufeff"), file_name)]


def entries_from_rows(rows: Iterable[LogRow], document: Mapping[str, Any]) -> list[NewEntry]:
    """Lines of a log as entries: places by their ids. InputError ``log.place.unknown`` names the line in ``field``."""
    ids = {plain(name): place_id for place_id, name in names_of_places(dict(document)).items()}
    out = []
    for number, row in enumerate(rows, start=1):
        place_id = ids.get(plain(row.place), "") if row.place else ""
        if row.place and not place_id:
            raise InputError(
                say('there is no place "{name}".', name=row.place[:80]),
                code="log.place.unknown",
                field=f"rows.{number}.place",
            )
        out.append(NewEntry(row.id, row.at, row.kind, place_id, row.amount, row.text))
    return out
