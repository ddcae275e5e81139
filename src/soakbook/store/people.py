"""People, the devices they signed in, links that open one thing, and the program's settings."""

from __future__ import annotations

import contextlib
import hashlib
import json
import secrets
import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Literal, get_args

from sqlalchemy import Connection, Row, delete, insert, select, update

from soakbook.errors import InputError, SoakbookError
from soakbook.said import say
from soakbook.store import tables as t
from soakbook.store.gardens import need_garden
from soakbook.store.open import Database, as_text, as_time
from soakbook.store.words import check_line

LinkKind = Literal["round", "calendar"]
OWNER = "owner"
UNUSED = timedelta(days=90)
SEEN_EVERY = timedelta(hours=1)
MAX_PREFS = 20_000


@dataclass(frozen=True)
class Person:
    """Somebody who uses the program, and what they prefer."""

    id: str
    name: str
    prefs: dict[str, Any]
    made_utc: datetime


@dataclass(frozen=True)
class Session:
    """A device that is signed in."""

    id: str
    person_id: str
    device: str
    made_utc: datetime
    seen_utc: datetime


@dataclass(frozen=True)
class Link:
    """What a link opens."""

    id: str
    key: str
    kind: LinkKind
    on: date | None
    by: str
    name: str
    made_utc: datetime


def _person(row: Row[Any]) -> Person:
    return Person(row.id, row.name, json.loads(row.prefs), as_time(row.made_utc))


def person(db: Database, person_id: str) -> Person | None:
    """By id."""
    with db.read() as c:
        return _find(c, person_id)


def _find(c: Connection, person_id: str) -> Person | None:
    found = c.execute(select(t.people).where(t.people.c.id == person_id)).one_or_none()
    return _person(found) if found is not None else None


def _need(c: Connection, person_id: str) -> Person:
    found = _find(c, person_id)
    if found is None:
        raise InputError(say("There is no such person."), code="person.unknown", field="person")
    return found


def people(db: Database) -> list[Person]:
    """The owner first, then by name."""
    with db.read() as c:
        found = [_person(row) for row in c.execute(select(t.people))]
    return sorted(found, key=lambda p: (p.id != OWNER, p.name.casefold(), p.id))


def add_person(db: Database, name: str) -> Person:
    """Somebody new."""
    check_line(name, "name", 80, empty=False)
    fresh = uuid.uuid4().hex[:12]
    with db.write() as c:
        c.execute(insert(t.people).values(id=fresh, name=name.strip(), prefs="{}", made_utc=db.now()))
        return _need(c, fresh)


def change_person(
    db: Database, person_id: str, *, name: str | None = None, prefs: dict[str, Any] | None = None
) -> Person:
    """Another name or other preferences."""
    values: dict[str, str] = {}
    if name is not None:
        check_line(name, "name", 80, empty=False)
        values["name"] = name.strip()
    if prefs is not None:
        values["prefs"] = _prefs(prefs)
    with db.write() as c:
        _need(c, person_id)
        c.execute(update(t.people).where(t.people.c.id == person_id).values(**values))
        return _need(c, person_id)


def _prefs(prefs: dict[str, Any]) -> str:
    try:
        text = json.dumps(prefs, allow_nan=False)
    except (TypeError, ValueError, RecursionError) as exc:
        message = say("The preferences cannot be kept: {why}.", why=exc)
        raise InputError(message, code="prefs.form", field="prefs") from exc
    if len(text) > MAX_PREFS:
        raise InputError(say("The preferences are too long."), code="prefs.too_large", field="prefs")
    return text


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()


def open_session(db: Database, person_id: str, device: str) -> str:
    """A token for a device."""
    check_line(device, "device", 200)
    token, at = secrets.token_urlsafe(32), db.now()
    with db.write() as c:
        _need(c, person_id)
        c.execute(
            insert(t.sessions).values(
                id=uuid.uuid4().hex[:12],
                token_sha256=_digest(token),
                person_id=person_id,
                device=device,
                made_utc=at,
                seen_utc=at,
            )
        )
    return token


def _session(row: Row[Any]) -> Session:
    return Session(row.id, row.person_id, row.device, as_time(row.made_utc), as_time(row.seen_utc))


def session(db: Database, token: str) -> Session | None:
    """The session of a token, if it is open."""
    kept = t.sessions.c
    with db.read() as c:
        row = c.execute(select(t.sessions).where(kept.token_sha256 == _digest(token))).one_or_none()
    now = db.clock()
    if row is None or row.ended_utc is not None or now - as_time(row.seen_utc) > UNUSED:
        return None
    if now - as_time(row.seen_utc) < SEEN_EVERY:
        return _session(row)
    with contextlib.suppress(SoakbookError), db.write() as c:  # a full disk must not sign anybody out
        c.execute(update(t.sessions).where(kept.id == row.id).values(seen_utc=as_text(now)))
    return Session(row.id, row.person_id, row.device, as_time(row.made_utc), now)


def sessions(db: Database) -> list[Session]:
    """Those that are open, last used first."""
    kept = t.sessions.c
    since = as_text(db.clock() - UNUSED)
    with db.read() as c:
        rows = c.execute(
            select(t.sessions).where(kept.ended_utc.is_(None), kept.seen_utc >= since).order_by(kept.seen_utc.desc())
        ).all()
    return [_session(row) for row in rows]


def end_sessions(db: Database, *, only_id: str | None = None, except_id: str | None = None) -> None:
    """End one, or all but one, or all."""
    kept = t.sessions.c
    wanted = update(t.sessions).where(kept.ended_utc.is_(None))
    if only_id is not None:
        wanted = wanted.where(kept.id == only_id)
    if except_id is not None:
        wanted = wanted.where(kept.id != except_id)
    with db.write() as c:
        c.execute(wanted.values(ended_utc=db.now()))


def make_link(db: Database, key: str, kind: LinkKind, on: date | None, *, by: str, name: str) -> str:
    """A token that opens one thing."""
    check_line(by, "by", 200)
    check_line(name, "name", 80)
    if kind not in get_args(LinkKind):
        raise InputError(
            say('"{kind}" must be one of {kinds}.', kind=str(kind)[:40], kinds=", ".join(get_args(LinkKind))),
            code="link.kind",
            field="kind",
        )
    token = secrets.token_urlsafe(32)
    with db.write() as c:
        need_garden(c, key)
        c.execute(
            insert(t.links).values(
                id=uuid.uuid4().hex[:12],
                token_sha256=_digest(token),
                garden=key,
                kind=kind,
                on=on.isoformat() if on else None,
                name=name.strip(),
                by=by,
                made_utc=db.now(),
            )
        )
    return token


def _link(row: Row[Any]) -> Link:
    on = date.fromisoformat(row.on) if row.on else None
    return Link(row.id, row.garden, row.kind, on, row.by, row.name, as_time(row.made_utc))


def link(db: Database, token: str) -> Link | None:
    """The link of a token, if it still opens."""
    kept = t.links.c
    in_sight = t.links.join(t.gardens, (kept.garden == t.gardens.c.key) & t.gardens.c.removed_utc.is_(None))
    wanted = select(t.links).select_from(in_sight).where(kept.token_sha256 == _digest(token), kept.ended_utc.is_(None))
    with db.read() as c:
        row = c.execute(wanted).one_or_none()
    return _link(row) if row is not None else None


def links(db: Database, key: str) -> list[Link]:
    """Those that still open, newest first."""
    kept = t.links.c
    with db.read() as c:
        need_garden(c, key)
        rows = c.execute(
            select(t.links).where(kept.garden == key, kept.ended_utc.is_(None)).order_by(kept.made_utc.desc())
        ).all()
    return [_link(row) for row in rows]


def end_link(db: Database, link_id: str) -> None:
    """It opens nothing any more."""
    with db.write() as c:
        c.execute(
            update(t.links).where(t.links.c.id == link_id, t.links.c.ended_utc.is_(None)).values(ended_utc=db.now())
        )


def setting(db: Database, name: str) -> str | None:
    """A setting."""
    with db.read() as c:
        found: str | None = c.execute(select(t.settings.c.value).where(t.settings.c.name == name)).scalar_one_or_none()
    return found


def set_setting(db: Database, name: str, value: str | None) -> None:
    """Keep it, or take it away."""
    check_line(name, "name", 80, empty=False)
    with db.write() as c:
        c.execute(delete(t.settings).where(t.settings.c.name == name))
        if value is not None:
            c.execute(insert(t.settings).values(name=name, value=value))
