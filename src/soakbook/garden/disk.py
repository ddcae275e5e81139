"""Small text files read and replaced whole, with plain words for what can go wrong."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from soakbook.errors import InputError
from soakbook.said import say

#: The files there are, in messages.
_FILES = {"garden": say("garden"), "log": say("log"), "sensor": say("sensor")}


def read_text(path: Path, what: str, max_bytes: int) -> str:
    """The UTF-8 text of a file, without a byte order mark; InputError when it cannot be read as that."""
    try:
        with path.open("rb") as stream:
            data = stream.read(max_bytes + 1)
    except FileNotFoundError as exc:
        raise InputError(
            say("There is no {what} file {file}.", what=_FILES[what], file=path),
            code=f"{what}.missing",
            field="file",
            hint=say("Write one with: soakbook garden new.") if what == "garden" else "",
        ) from exc
    except (OSError, ValueError) as exc:
        reason = exc.strerror if isinstance(exc, OSError) and exc.strerror else str(exc)
        raise InputError(
            say("{file} cannot be read: {why}.", file=path, why=reason), code=f"{what}.unreadable", field="file"
        ) from exc
    if len(data) > max_bytes:
        raise InputError(
            say(
                "{name} is larger than {most:g} MB; a {what} file is far smaller.",
                name=path.name,
                most=max_bytes / 1e6,
                what=_FILES[what],
            ),
            code=f"{what}.too_large",
            field="file",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        line = data.count(b"\n", 0, exc.start) + 1
        raise InputError(
            say("{name}, line {line}: a character is not in UTF-8.", name=path.name, line=line),
            code=f"{what}.encoding",
            field="file",
            hint=say("Save the file as UTF-8."),
        ) from exc


def replace_text(file: Path, text: str) -> None:
    """Put a new text in the file's place, whole and on the disk, or not at all."""
    temp = file.with_name(f".{file.name}.new")
    try:
        with temp.open("wb") as stream:
            stream.write(text.encode())
            stream.flush()
            os.fsync(stream.fileno())
        if file.exists():
            os.chmod(temp, file.stat().st_mode & 0o7777)
        os.replace(temp, file)
        _sync_folder(file.parent)
    except OSError as exc:
        temp.unlink(missing_ok=True)
        raise InputError(
            say("{file} cannot be written: {why}.", file=file, why=exc.strerror or exc),
            code="log.unwritable",
            field="file",
        ) from exc


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":  # folders cannot be opened there, and renames are journalled
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def locked(file: Path) -> Iterator[None]:
    """Only one writer at a time; the system frees the lock when its holder dies."""
    try:
        stream = file.with_name(f".{file.name}.lock").open("a+b")
    except OSError as exc:
        raise InputError(
            say("{file} cannot be written: {why}.", file=file, why=exc.strerror or exc),
            code="log.unwritable",
            field="file",
        ) from exc
    with stream:
        _lock(stream)
        yield


def _lock(stream: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(stream.fileno(), msvcrt.LK_LOCK, 1)
    else:
        import fcntl

        fcntl.flock(stream, fcntl.LOCK_EX)
