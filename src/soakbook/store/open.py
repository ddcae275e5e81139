"""The file: where it lies, how it is opened, how it is read and written, and plain words for what can go wrong.

Every write is one transaction that takes SQLite's write lock at its start and is on the disk when it ends. Readers see
what was there when they began and never wait. Python's driver would begin transactions by itself, late and not for
every statement; that is turned off and each is begun here.
"""

from __future__ import annotations

import os
import sqlite3
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError

from soakbook.errors import InputError, SoakbookError, SourceDown
from soakbook.said import say

FILE_NAME = "soakbook.db"
FOLDER_MODE = 0o700
_BEGIN = "soakbook_begin"


def utc_now() -> datetime:
    """The time, in UTC."""
    return datetime.now(tz=UTC)


def default_folder() -> Path:
    """``$SOAKBOOK_DATA``, or else the system's place for a program's data."""
    home = Path.home()
    if own := os.environ.get("SOAKBOOK_DATA"):
        return Path(own).expanduser()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "Soakbook"
    if xdg := os.environ.get("XDG_DATA_HOME"):
        return Path(xdg).expanduser() / "soakbook"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "Soakbook"
    return home / ".local" / "share" / "soakbook"


@dataclass(frozen=True)
class Database:
    """An open database file, as the other files of this room use it."""

    folder: Path
    engine: Engine
    writing: threading.RLock
    clock: Callable[[], datetime]

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Look at one state of the database."""
        with plain_words(self.folder), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Change the database, whole or not at all; on the disk when the block ends."""
        with self.writing, plain_words(self.folder), _immediate(self.engine).begin() as connection:
            yield connection

    def now(self) -> str:
        """The time as the tables keep it."""
        return as_text(self.clock())

    def close(self) -> None:
        """Let go of the file."""
        with plain_words(self.folder):
            self.engine.dispose()


def as_text(at: datetime) -> str:
    """A time as the tables keep it: such texts sort by time."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def as_time(text: str) -> datetime:
    """The reverse of :func:`as_text`."""
    return datetime.fromisoformat(text)


_locks: dict[Path, threading.RLock] = {}
_locks_lock = threading.Lock()


def _lock_of(file: Path) -> threading.RLock:
    """One lock for all who write to a file from this process."""
    with _locks_lock:
        return _locks.setdefault(file.resolve(), threading.RLock())


def open_database(folder: Path, clock: Callable[[], datetime], wait_s: float) -> Database:
    """Open the database in a folder; both are made when missing, and an older database is brought up to date."""
    from soakbook.store.migrate import bring_up_to_date

    _make_folder(folder)
    file = folder / FILE_NAME
    lock = _lock_of(file)
    with lock, plain_words(folder):
        bring_up_to_date(file, clock, wait_s)
    return Database(folder, make_engine(file, wait_s), lock, clock)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    except OSError as exc:
        raise unwritable(folder, exc) from exc


def make_engine(file: Path, wait_s: float, *, foreign_keys: bool = True) -> Engine:
    """An engine whose transactions begin when they are begun, and whose writes reach the disk."""
    engine = create_engine(
        URL.create("sqlite+pysqlite", database=str(file)),
        connect_args={"timeout": wait_s},
        pool_size=10,
        max_overflow=-1,  # a reader waits for nobody
    )

    def prepare(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # the driver begins nothing by itself
        cursor = connection.cursor()
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA fullfsync=ON")
        cursor.execute(f"PRAGMA foreign_keys={'ON' if foreign_keys else 'OFF'}")
        cursor.close()

    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(f"BEGIN {connection.get_execution_options().get(_BEGIN, 'DEFERRED')}")

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", begin)
    return engine


def _immediate(engine: Engine) -> Engine:
    """The same engine and connections, with transactions that take the write lock at once."""
    return engine.execution_options(**{_BEGIN: "IMMEDIATE"})


@contextmanager
def writing_alone(engine: Engine) -> Iterator[Connection]:
    """One transaction that nobody else writes beside."""
    with _immediate(engine).begin() as connection:
        yield connection


@contextmanager
def plain_words(folder: Path) -> Iterator[None]:
    """Say what the disk or the database refuses in plain words."""
    try:
        yield
    except DBAPIError as exc:
        if isinstance(exc.orig, sqlite3.Error) and (said := _said(exc.orig, folder)) is not None:
            raise said from exc
        raise
    except sqlite3.Error as exc:
        if (said := _said(exc, folder)) is not None:
            raise said from exc
        raise


def _said(error: sqlite3.Error, folder: Path) -> SoakbookError | None:
    """What an error of the database means; None when it is a mistake of ours."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return SourceDown(
            say("The data in {folder} is being written by another program and did not come free.", folder=folder),
            code="store.locked",
            hint=say("Nothing was changed. Close the other program, or try again in a moment."),
        )
    if code == sqlite3.SQLITE_FULL:
        return SourceDown(
            say("The disk with {folder} is full.", folder=folder),
            code="store.full",
            hint=say("Nothing was changed. Make room and try again."),
        )
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_IOERR):
        return unwritable(folder, error)
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return InputError(
            say("{file} is damaged or is no database of ours: {why}.", file=folder / FILE_NAME, why=error),
            code="store.damaged",
            hint=say(
                "Move it and the files beside it aside, and put the newest file of {backups} in its place, if there is one.",
                backups=folder / "backups",
            ),
        )
    return None


def unwritable(folder: Path, error: Exception) -> InputError:
    """The disk, or who owns it, does not let us."""
    reason = error.strerror if isinstance(error, OSError) and error.strerror else error
    return InputError(
        say("The data in {folder} cannot be read or written: {why}.", folder=folder, why=reason),
        code="store.unwritable",
        hint=say("Nothing was changed. Look to the folder's permissions, or name another in SOAKBOOK_DATA."),
    )
