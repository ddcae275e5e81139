"""A garden's own files: its weather beside the database, and everything of it in one archive."""

from __future__ import annotations

import csv
import io
import os
import re
import sys
import tempfile
import zipfile
from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import select

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import tables as t
from soakbook.store.documents import as_file
from soakbook.store.gardens import document, garden, place_names
from soakbook.store.log import Entry, entries, gone_csv, log_csv
from soakbook.store.open import Database
from soakbook.store.pictures import ENDINGS

MAX_WEATHER_BYTES = 50_000_000
_OURS = {"garden.toml", "garden.log.csv", "garden.log.gone.csv", "photos.csv", "people.csv"}
#: Names that mean a device on some systems, whatever their ending.
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def weather_folder(db: Database, key: str) -> Path:
    """``gardens/<key>`` in the store's folder."""
    return db.folder / "gardens" / garden(db, key).key


def keep_weather_file(db: Database, key: str, name: str, data: bytes) -> Path:
    """Write the file whole and put it in place of one of the same name."""
    folder = weather_folder(db, key)
    _check_name(name)
    if len(data) > MAX_WEATHER_BYTES:
        raise InputError(
            say(
                "The file has {size:.0f} MB; at most {most:.0f} MB.", size=len(data) / 1e6, most=MAX_WEATHER_BYTES / 1e6
            ),
            code="weather.too_large",
            field="file",
        )
    file = folder / name
    with db.writing:
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            _replace(file, data)
        except OSError as exc:
            raise InputError(
                say("{file} cannot be written: {why}.", file=file, why=exc.strerror or exc),
                code="store.unwritable",
                field="file",
            ) from exc
    return file


def _check_name(name: str) -> None:
    """A plain name with an ending, the same on every system, that is not one of the archive's own."""
    formed = re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 _-]*(\.[A-Za-z0-9_-]+)+", name) and len(name) <= 100
    if not formed or _DEVICES.fullmatch(name) or name.lower() in _OURS:
        raise InputError(
            say("The file's name cannot be kept."),
            code="weather.name",
            field="file",
            hint=say('Letters, digits, - and _, with an ending, such as "weather.csv".'),
        )


def _replace(file: Path, data: bytes) -> None:
    handle, temp = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".new", dir=file.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temp, file)
    except OSError:
        Path(temp).unlink(missing_ok=True)
        raise
    if sys.platform != "win32":  # folders cannot be opened there, and renames are journalled
        folder = os.open(file.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def export_zip(db: Database, key: str) -> bytes:
    """The garden file, its log, pictures, who wrote what, and the weather files."""
    from soakbook.garden.write import garden_text

    kept = document(db, key, None)
    every = entries(db, key, removed=False)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("garden.toml", garden_text(as_file(kept)))
        archive.writestr("garden.log.csv", log_csv(every, kept))
        if gone := gone_csv(every, kept, place_names(db, key)):
            archive.writestr("garden.log.gone.csv", gone)
        archive.writestr("people.csv", _table(("id", "by"), [(entry.id, entry.by) for entry in every]))
        _add_photos(db, key, archive, every)
        folder = weather_folder(db, key)
        for file in sorted(folder.iterdir()) if folder.is_dir() else []:
            if not file.name.startswith("."):
                archive.write(file, file.name)
    return out.getvalue()


def _add_photos(db: Database, key: str, archive: zipfile.ZipFile, every: list[Entry]) -> None:
    names: dict[str, str] = {}
    photos = t.photos.c
    for photo_id in sorted({photo for entry in every for photo in entry.photos}):
        with db.read() as c:
            row = c.execute(
                select(photos.media_type, photos.data).where(photos.garden == key, photos.id == photo_id)
            ).one()
        names[photo_id] = f"photos/{photo_id}.{ENDINGS[row.media_type]}"
        archive.writestr(names[photo_id], row.data, zipfile.ZIP_STORED)
    rows = [(entry.id, names[photo]) for entry in every for photo in entry.photos]
    archive.writestr("photos.csv", _table(("entry", "file"), rows))


def _table(header: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([header, *rows])
    return out.getvalue()
