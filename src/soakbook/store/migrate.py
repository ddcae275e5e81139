"""A new database is made, and an old one brought up to date, by the same steps; both whole or not at all."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection

from soakbook.errors import InputError
from soakbook.garden.disk import locked
from soakbook.said import say
from soakbook.store.open import make_engine, unwritable, writing_alone

MIGRATIONS = Path(__file__).parent / "migrations"
#: Every state the tables were ever in, oldest first; the last is what this program works with.
REVISIONS: tuple[str, ...] = ("0001",)


def bring_up_to_date(file: Path, clock: Callable[[], datetime], wait_s: float) -> None:
    """Make the database if there is none, or take it to the last revision, with a copy of the old one put by first."""
    if revision_of(file, wait_s) == REVISIONS[-1]:
        return
    try:
        with locked(file):  # two programs may be started at once
            found = revision_of(file, wait_s)
            if found != REVISIONS[-1]:
                _upgrade(file, clock, wait_s)
    except InputError as error:
        if error.code != "log.unwritable":
            raise
        raise InputError(error.message, code="store.unwritable", hint=error.hint) from error


def revision_of(file: Path, wait_s: float) -> str | None:
    """The revision the tables are at; None for a database without tables, or none at all. Changes nothing.

    Raises
    ------
    InputError
        ``store.newer`` for a revision this program does not know, ``store.foreign`` for tables of something else.
    """
    if not file.exists():
        return None
    with closing(_look_into(file, wait_s)) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not tables:
            return None
        rows = connection.execute("SELECT version_num FROM alembic_version").fetchall() if _ours(tables) else []
    if not rows:
        raise InputError(
            say("{file} is a database, but not one of Soakbook.", file=file),
            code="store.foreign",
            hint=say("It is left as it is. Name another folder in SOAKBOOK_DATA."),
        )
    revision = str(rows[0][0])
    if revision not in REVISIONS:
        raise InputError(
            say(
                "The data in {folder} was written by a newer Soakbook (its tables are at {revision}; "
                "this one knows them up to {last}).",
                folder=file.parent,
                revision=revision,
                last=REVISIONS[-1],
            ),
            code="store.newer",
            hint=say(
                "It is left as it is. Start the newer program again, or put a file of {backups} in the place of {name} "
                "and take away {name}-wal and {name}-shm.",
                backups=file.parent / "backups",
                name=file.name,
            ),
        )
    return revision


def _look_into(file: Path, wait_s: float) -> sqlite3.Connection:
    """A connection that leaves the file, and what lies beside it, as they are.

    One that may write takes its empty companions away again when it closes; but it would also bring in the changes that
    a program which was killed left in them.
    """
    pending = file.with_name(f"{file.name}-wal")
    mode = "ro" if pending.exists() and pending.stat().st_size else "rw"
    return sqlite3.connect(f"{file.absolute().as_uri()}?mode={mode}", uri=True, timeout=wait_s)


def _ours(tables: set[str]) -> bool:
    return {"alembic_version", "gardens"} <= tables


def _upgrade(file: Path, clock: Callable[[], datetime], wait_s: float) -> None:
    """Copy the database, if there is one, and run the steps that are missing, in one transaction."""
    # Changing a table means making it anew and dropping the old one, which must not take with it the rows that refer to it.
    _make_private(file)
    engine = make_engine(file, wait_s, foreign_keys=False)
    try:
        with writing_alone(engine) as connection:
            found = revision_of(file, wait_s)
            if found is not None:
                back_up(file, found, clock())
            run_steps(connection)
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            if broken:
                raise RuntimeError(f"the new tables refer to rows that are not there: {broken[:3]}")
    finally:
        engine.dispose()


def _make_private(file: Path) -> None:
    """An empty file for the owner's eyes only, if there is none; what SQLite puts beside it is like it."""
    try:
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT, 0o600))
    except OSError as exc:
        raise unwritable(file.parent, exc) from exc


def run_steps(connection: Connection) -> None:
    """Run Alembic's steps up to the last on a connection whose transaction has begun."""
    from alembic import command
    from alembic.config import Config

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    command.upgrade(config, REVISIONS[-1])


def back_up(file: Path, revision: str, at: datetime) -> Path:
    """Put a copy of the database by; whole under its name, or not there."""
    folder = file.parent / "backups"
    copy = folder / f"{file.stem}-{revision}-{at.astimezone(UTC):%Y%m%dT%H%M%S%fZ}.db"
    temp = copy.with_name(f".{copy.name}.new")
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        _copy(file, temp)
        os.replace(temp, copy)
    except OSError as exc:
        raise unwritable(folder, exc) from exc
    return copy


def _copy(file: Path, temp: Path) -> None:
    """Through SQLite, which knows what of the file is in its companion."""
    with closing(sqlite3.connect(file)) as source, closing(sqlite3.connect(temp)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")  # one file, without companions
    with temp.open("rb+") as stream:
        os.fsync(stream.fileno())
