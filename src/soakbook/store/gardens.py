"""Gardens as documents in the shape of the garden file, every version kept.

A document is what stands in the file, with two differences: dates are text such as ``2026-05-20``, and each line, soil,
place and planting has an ``id``, so that it can be renamed and moved and is still the same.
"""

from __future__ import annotations

import json
import re
import unicodedata
import zlib
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, insert, select, update

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import tables as t
from soakbook.store.documents import as_file, from_file, names_of_places, tidy
from soakbook.store.open import Database, as_time
from soakbook.store.words import check_line

__all__ = ["GardenRow", "Version", "as_file", "from_file"]

Document = dict[str, Any]
MAX_BYTES = 2_000_000


@dataclass(frozen=True)
class GardenRow:
    """A garden as the list shows it. The versions tell whether anything of it, or of its log, has changed."""

    key: str
    name: str
    version: int
    log_version: int
    made_utc: datetime


@dataclass(frozen=True)
class Version:
    """Who made which version when, and what for."""

    version: int
    at_utc: datetime
    by: str
    what: str


def gardens(db: Database, *, removed: bool) -> list[GardenRow]:
    """Gardens in sight, or else those removed, by name."""
    is_removed = t.gardens.c.removed_utc.is_not(None) if removed else t.gardens.c.removed_utc.is_(None)
    with db.read() as c:
        rows = c.execute(select(t.gardens).where(is_removed)).mappings().all()
    return sorted(map(_row, rows), key=lambda row: (row.name.casefold(), row.key))


def garden(db: Database, key: str) -> GardenRow:
    """One garden in sight."""
    with db.read() as c:
        return need_garden(c, key)


def need_garden(c: Connection, key: str) -> GardenRow:
    """The garden, or InputError ``garden.unknown``."""
    found = c.execute(select(t.gardens).where(t.gardens.c.key == key)).mappings().one_or_none()
    if found is None or found["removed_utc"] is not None:
        raise _unknown(key)
    return _row(found)


def _unknown(key: str) -> InputError:
    shown = "".join(ch if ch.isprintable() else "?" for ch in key[:60])
    return InputError(say('There is no garden "{key}".', key=shown), code="garden.unknown", field="garden")


def _row(found: RowMapping) -> GardenRow:
    return GardenRow(found["key"], found["name"], found["version"], found["log_version"], as_time(found["made_utc"]))


def add_garden(db: Database, document: Document, *, by: str, key: str | None) -> GardenRow:
    """Keep a new garden under a key of its own."""
    _check_who(by)
    kept, body = _prepared(document)
    name = _name(kept)
    with db.write() as c:
        taken = set(c.execute(select(t.gardens.c.key)).scalars())
        key = _fresh_key(name, taken) if key is None else _given_key(key, taken)
        at = db.now()
        c.execute(insert(t.gardens).values(key=key, name=name, version=1, log_version=0, made_utc=at))
        _keep_version(c, key, 1, kept, body, at=at, by=by, what="")
        return need_garden(c, key)


def _given_key(key: str, taken: set[str]) -> str:
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]{0,59}", key):
        raise InputError(
            say("A garden's key is 1 to 60 small letters, digits and hyphens."), code="garden.key", field="key"
        )
    if key in taken:
        raise InputError(say('There is a garden "{key}" already.', key=key), code="garden.key.taken", field="key")
    return key


def _fresh_key(name: str, taken: set[str]) -> str:
    ascii_name = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", ascii_name).strip("-")[:40].strip("-") or "garden"
    key, n = slug, 1
    while key in taken:
        n += 1
        key = f"{slug}-{n}"
    return key


def _prepared(document: Document) -> tuple[Document, bytes]:
    """The document as it is kept, and its bytes."""
    kept = tidy(document)
    try:
        body = json.dumps(kept, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    except (TypeError, ValueError, RecursionError) as exc:  # ValueError: NaN, and half characters that UTF-8 has not
        raise InputError(say("The garden cannot be kept: {why}.", why=exc), code="garden.form", field="garden") from exc
    if len(body) > MAX_BYTES:
        raise InputError(
            say("The garden has {size:.1f} MB; at most {most:g} MB.", size=len(body) / 1e6, most=MAX_BYTES / 1e6),
            code="garden.too_large",
            field="garden",
        )
    return kept, body


def _name(document: Document) -> str:
    head = document.get("garden")
    name = head.get("name") if isinstance(head, dict) else None
    if not isinstance(name, str):
        raise InputError(say("The garden has no name."), code="key.missing", field="garden.name")
    check_line(name, "garden.name", 200, empty=False)
    return name.strip()


def _keep_version(
    c: Connection, key: str, version: int, kept: Document, body: bytes, *, at: str, by: str, what: str
) -> None:
    row = {"garden": key, "version": version, "body": zlib.compress(body), "at_utc": at, "by": by, "what": what}
    c.execute(insert(t.garden_versions).values(**row))
    c.execute(update(t.gardens).where(t.gardens.c.key == key).values(version=version, name=_name(kept)))
    names = t.place_names
    known = {row.place_id: row.name for row in c.execute(select(names).where(names.c.garden == key))}
    for place_id, name in names_of_places(kept).items():
        if place_id not in known:
            c.execute(insert(names).values(garden=key, place_id=place_id, name=name))
        elif known[place_id] != name:
            c.execute(update(names).where(names.c.garden == key, names.c.place_id == place_id).values(name=name))


def _check_who(by: str, what: str = "") -> None:
    check_line(by, "by", 200)
    check_line(what, "what", 500)


def document(db: Database, key: str, version: int | None) -> Document:
    """The garden as it is, or as it was."""
    with db.read() as c:
        return _document(c, need_garden(c, key), version)


def _document(c: Connection, row: GardenRow, version: int | None) -> Document:
    wanted = row.version if version is None else version
    kept = t.garden_versions.c
    body = c.execute(select(kept.body).where(kept.garden == row.key, kept.version == wanted)).scalar_one_or_none()
    if body is None:
        raise InputError(
            say("The garden has no version {n}; its versions are 1 to {last}.", n=wanted, last=row.version),
            code="garden.version",
            field="version",
        )
    found: Document = json.loads(zlib.decompress(body))
    return found


def change(
    db: Database,
    key: str,
    edit: Callable[[Document], Document],
    *,
    check: Callable[[Document], None],
    by: str,
    what: str,
) -> GardenRow:
    """A new version from the latest; none when ``edit`` changed nothing, and none when it or ``check`` raises."""
    _check_who(by, what)
    with db.write() as c:
        row = need_garden(c, key)
        before = _document(c, row, None)
        kept, body = _prepared(edit(deepcopy(before)))
        check(deepcopy(kept))
        if json.dumps(kept, sort_keys=True) == json.dumps(before, sort_keys=True):
            return row
        _keep_version(c, key, row.version + 1, kept, body, at=db.now(), by=by, what=what)
        return need_garden(c, key)


def go_back(db: Database, key: str, version: int, *, check: Callable[[Document], None], by: str) -> GardenRow:
    """An earlier document as the newest version."""
    then = document(db, key, version)
    return change(db, key, lambda _: then, check=check, by=by, what=f"back to version {version}")


def versions(db: Database, key: str) -> list[Version]:
    """Newest first."""
    kept = t.garden_versions.c
    with db.read() as c:
        need_garden(c, key)
        rows = c.execute(
            select(kept.version, kept.at_utc, kept.by, kept.what)
            .where(kept.garden == key)
            .order_by(kept.version.desc())
        ).all()
    return [Version(row.version, as_time(row.at_utc), row.by, row.what) for row in rows]


def remove_garden(db: Database, key: str, *, by: str) -> None:
    """Out of sight."""
    _check_who(by)
    with db.write() as c:
        need_garden(c, key)
        c.execute(update(t.gardens).where(t.gardens.c.key == key).values(removed_utc=db.now(), removed_by=by))


def restore_garden(db: Database, key: str) -> GardenRow:
    """Back in sight; nothing happens to one that is."""
    with db.write() as c:
        c.execute(update(t.gardens).where(t.gardens.c.key == key).values(removed_utc=None, removed_by=None))
        return need_garden(c, key)


def place_names(db: Database, key: str) -> dict[str, str]:
    """Of places there are and of places there were."""
    names = t.place_names.c
    with db.read() as c:
        need_garden(c, key)
        rows = c.execute(select(names.place_id, names.name).where(names.garden == key)).all()
    return {row.place_id: row.name for row in rows}
