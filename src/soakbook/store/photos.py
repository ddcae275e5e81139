"""Pictures of entries, kept in the database without where they were taken."""

from __future__ import annotations

import hashlib

from sqlalchemy import Connection, func, insert, select

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import tables as t
from soakbook.store.gardens import need_garden
from soakbook.store.log import bump, need_entry
from soakbook.store.open import Database
from soakbook.store.pictures import cleaned
from soakbook.store.words import check_line

MAX_BYTES = 6_000_000
MOST = 10


def add_photo(db: Database, key: str, entry_id: str, data: bytes, *, by: str) -> str:
    """Keep a picture with an entry; its id, the SHA-256 of what is kept."""
    check_line(by, "by", 200)
    if len(data) > MAX_BYTES:
        raise InputError(
            say("The picture has {size:.1f} MB; at most {most:g} MB.", size=len(data) / 1e6, most=MAX_BYTES / 1e6),
            code="photo.too_large",
            field="photo",
            hint=say("Make it smaller and try again."),
        )
    media_type, kept = cleaned(data)
    photo_id = hashlib.sha256(kept).hexdigest()
    with db.write() as c:
        need_garden(c, key)
        need_entry(c, key, entry_id)
        have = _of_entry(c, key, entry_id)
        if photo_id in have:
            return photo_id
        if len(have) >= MOST:
            raise InputError(
                say("The entry has {n} pictures already, which is the most.", n=len(have)),
                code="photo.many",
                field="photo",
            )
        _keep(c, key, photo_id, media_type, kept)
        c.execute(
            insert(t.entry_photos).values(garden=key, entry_id=entry_id, photo_id=photo_id, made_utc=db.now(), by=by)
        )
        bump(c, key)
    return photo_id


def _of_entry(c: Connection, key: str, entry_id: str) -> set[str]:
    linked = t.entry_photos.c
    rows = c.execute(select(linked.photo_id).where(linked.garden == key, linked.entry_id == entry_id))
    return set(rows.scalars())


def _keep(c: Connection, key: str, photo_id: str, media_type: str, data: bytes) -> None:
    known = select(func.count()).select_from(t.photos).where(t.photos.c.garden == key, t.photos.c.id == photo_id)
    if not c.execute(known).scalar_one():
        c.execute(insert(t.photos).values(garden=key, id=photo_id, media_type=media_type, data=data))


def photo(db: Database, key: str, photo_id: str) -> tuple[str, bytes]:
    """Media type and bytes."""
    with db.read() as c:
        need_garden(c, key)
        found = c.execute(
            select(t.photos.c.media_type, t.photos.c.data).where(t.photos.c.garden == key, t.photos.c.id == photo_id)
        ).one_or_none()
    if found is None:
        raise InputError(say("There is no such picture."), code="photo.unknown", field="photo")
    return str(found.media_type), bytes(found.data)
