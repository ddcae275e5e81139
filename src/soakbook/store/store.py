"""The store as its users see it: one object, its methods named for what they do, each on the disk when it returns."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Any

from soakbook.store import gardens, log, people, photos, whole
from soakbook.store.gardens import GardenRow, Version
from soakbook.store.log import Entry, NewEntry, PastEntry
from soakbook.store.open import Database, default_folder, open_database, utc_now
from soakbook.store.people import Link, LinkKind, Person, Session

Document = dict[str, Any]


def open_store(
    folder: Path | str | None = None, *, clock: Callable[[], datetime] = utc_now, wait_s: float = 10.0
) -> Store:
    """Open the store in a folder, making both on first use, and bringing an older database up to date.

    Parameters
    ----------
    folder
        Where the database lies; :func:`default_folder` when left out.
    clock
        Tells the time, with its zone.
    wait_s
        How long to wait for another program that writes. [s]

    Raises
    ------
    InputError
        ``store.newer``: a newer program wrote it. ``store.unwritable``, ``store.damaged``, ``store.foreign``.
    SourceDown
        ``store.locked``, ``store.full``.
    """
    return Store(open_database(Path(folder) if folder is not None else default_folder(), clock, wait_s))


class Store:
    """Gardens, logs, pictures and people. Safe to use from many threads and several processes at once.

    Reading never waits for writing. Functions handed to :meth:`change` and :meth:`go_back` run while writing is locked:
    they may read from the store and must not write to it.
    """

    def __init__(self, database: Database) -> None:
        self._db = database

    @property
    def folder(self) -> Path:
        """Where everything lies."""
        return self._db.folder

    def close(self) -> None:
        """Let go of the file. Nothing is pending: every write was on the disk when it returned."""
        self._db.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- gardens -----------------------------------------------------------------------------------------------------
    def gardens(self, *, removed: bool = False) -> list[GardenRow]:
        """The gardens by name; ``removed`` gives those taken away instead."""
        return gardens.gardens(self._db, removed=removed)

    def garden(self, key: str) -> GardenRow:
        """One garden; InputError ``garden.unknown``."""
        return gardens.garden(self._db, key)

    def add_garden(self, document: Document, *, by: str = "", key: str | None = None) -> GardenRow:
        """Keep a new garden. Check it first: only its form is looked at here."""
        return gardens.add_garden(self._db, document, by=by, key=key)

    def document(self, key: str, version: int | None = None) -> Document:
        """The garden as a document with ids, the latest or an earlier version."""
        return gardens.document(self._db, key, version)

    def change(
        self,
        key: str,
        edit: Callable[[Document], Document],
        *,
        check: Callable[[Document], None],
        by: str = "",
        what: str = "",
    ) -> GardenRow:
        """``edit`` a copy of the latest document, ``check`` it, and keep it as a new version if anything changed."""
        return gardens.change(self._db, key, edit, check=check, by=by, what=what)

    def versions(self, key: str) -> list[Version]:
        """Every version there was, newest first."""
        return gardens.versions(self._db, key)

    def go_back(self, key: str, version: int, *, check: Callable[[Document], None], by: str = "") -> GardenRow:
        """Keep an earlier document as a new version."""
        return gardens.go_back(self._db, key, version, check=check, by=by)

    def remove_garden(self, key: str, *, by: str = "") -> None:
        """Take a garden out of sight. Nothing is deleted and its key stays taken."""
        gardens.remove_garden(self._db, key, by=by)

    def restore_garden(self, key: str) -> GardenRow:
        """Bring a removed garden back."""
        return gardens.restore_garden(self._db, key)

    def place_names(self, key: str) -> dict[str, str]:
        """The last name of every place there ever was, by its id."""
        return gardens.place_names(self._db, key)

    # --- log ---------------------------------------------------------------------------------------------------------
    def entries(self, key: str, *, removed: bool = False) -> list[Entry]:
        """The log by time and id; with the removed ones too when ``removed``."""
        return log.entries(self._db, key, removed=removed)

    def entry(self, key: str, entry_id: str) -> Entry:
        """One entry, removed or not; InputError ``log.unknown``."""
        return log.entry(self._db, key, entry_id)

    def put(self, key: str, entry: NewEntry, *, by: str = "") -> tuple[Entry, bool]:
        """Keep an entry; True when it was new. Posted again it counts once, whatever became of it since."""
        return log.put_many(self._db, key, [entry], by=by)[0]

    def put_many(self, key: str, entries: Iterable[NewEntry], *, by: str = "") -> list[tuple[Entry, bool]]:
        """As :meth:`put`, all or none."""
        return log.put_many(self._db, key, list(entries), by=by)

    def edit(self, key: str, entry_id: str, new: NewEntry, *, by: str = "") -> Entry:
        """Give an entry other values; the old ones stay in its past."""
        return log.edit(self._db, key, entry_id, new, by=by)

    def remove(self, key: str, entry_id: str, *, by: str = "") -> Entry:
        """Take an entry out of the log. It can be brought back."""
        return log.set_removed(self._db, key, [entry_id], True, by=by)[0]

    def restore(self, key: str, entry_id: str, *, by: str = "") -> Entry:
        """Bring a removed entry back."""
        return log.set_removed(self._db, key, [entry_id], False, by=by)[0]

    def remove_many(self, key: str, entry_ids: Iterable[str], *, by: str = "") -> list[Entry]:
        """As :meth:`remove`, all or none."""
        return log.set_removed(self._db, key, entry_ids, True, by=by)

    def restore_many(self, key: str, entry_ids: Iterable[str], *, by: str = "") -> list[Entry]:
        """As :meth:`restore`, all or none."""
        return log.set_removed(self._db, key, entry_ids, False, by=by)

    def removals(self, key: str) -> dict[str, datetime]:
        """When each entry that is out of the log was taken out, by id; those taken out at once have the same time."""
        return log.removals(self._db, key)

    def past(self, key: str, entry_id: str) -> list[PastEntry]:
        """What an entry was before each change, newest change first."""
        return log.past(self._db, key, entry_id)

    # --- photos ------------------------------------------------------------------------------------------------------
    def add_photo(self, key: str, entry_id: str, data: bytes, *, by: str = "") -> str:
        """Keep a picture with an entry, without where it was taken; its id. The same picture twice counts once."""
        return photos.add_photo(self._db, key, entry_id, data, by=by)

    def photo(self, key: str, photo_id: str) -> tuple[str, bytes]:
        """Media type and bytes of a picture; InputError ``photo.unknown``."""
        return photos.photo(self._db, key, photo_id)

    # --- people ------------------------------------------------------------------------------------------------------
    def person(self, person_id: str) -> Person | None:
        """A person by id."""
        return people.person(self._db, person_id)

    def people(self) -> list[Person]:
        """Everybody, the owner first."""
        return people.people(self._db)

    def add_person(self, name: str) -> Person:
        """Somebody new."""
        return people.add_person(self._db, name)

    def rename_person(self, person_id: str, name: str) -> Person:
        """Give a person another name."""
        return people.change_person(self._db, person_id, name=name)

    def set_prefs(self, person_id: str, prefs: dict[str, Any]) -> Person:
        """What a person prefers, in place of what was kept before."""
        return people.change_person(self._db, person_id, prefs=prefs)

    def open_session(self, person_id: str, device: str = "") -> str:
        """Sign a device in; the token to hand to it. Only a digest of the token is kept."""
        return people.open_session(self._db, person_id, device)

    def session(self, token: str) -> Session | None:
        """The session of a token; None when unknown, ended or unused for 90 days."""
        return people.session(self._db, token)

    def sessions(self) -> list[Session]:
        """Every session that is open, last used first."""
        return people.sessions(self._db)

    def end_session(self, session_id: str) -> None:
        """Sign one device out."""
        people.end_sessions(self._db, only_id=session_id)

    def end_all_sessions(self, except_id: str | None = None) -> None:
        """Sign every device out, or every other one."""
        people.end_sessions(self._db, except_id=except_id)

    def make_link(self, key: str, kind: LinkKind, on: date | None = None, *, by: str = "", name: str = "") -> str:
        """A link that opens one thing without a sign-in; its token. Only a digest of the token is kept."""
        return people.make_link(self._db, key, kind, on, by=by, name=name)

    def link(self, token: str) -> Link | None:
        """The link of a token; None when unknown, ended, or its garden was removed."""
        return people.link(self._db, token)

    def links(self, key: str) -> list[Link]:
        """The garden's links that still open, newest first."""
        return people.links(self._db, key)

    def end_link(self, link_id: str) -> None:
        """Let a link open nothing any more."""
        people.end_link(self._db, link_id)

    def setting(self, name: str) -> str | None:
        """A setting of the whole program."""
        return people.setting(self._db, name)

    def set_setting(self, name: str, value: str | None) -> None:
        """Keep a setting; None takes it away."""
        people.set_setting(self._db, name, value)

    # --- whole -------------------------------------------------------------------------------------------------------
    def export_zip(self, key: str) -> bytes:
        """Everything of a garden as plain files in one archive."""
        return whole.export_zip(self._db, key)

    def weather_folder(self, key: str) -> Path:
        """Where a garden's own weather files lie; the folder is made with the first file."""
        return whole.weather_folder(self._db, key)

    def keep_weather_file(self, key: str, name: str, data: bytes) -> Path:
        """Keep a weather file, whole or not at all, in place of one of the same name."""
        return whole.keep_weather_file(self._db, key, name, data)
