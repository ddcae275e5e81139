"""Answers of weather services kept on disk, so that they are asked seldom and the tool works offline."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from soakbook.said import say, say_n

_VERSION = 1


@dataclass(frozen=True)
class Kept:
    """An answer kept earlier."""

    text: str
    fetched_utc: datetime


def default_cache_dir() -> Path:
    """``$XDG_CACHE_HOME/soakbook/weather``, or below ``~/.cache`` (XDG Base Directory Specification)."""
    base = os.environ.get("XDG_CACHE_HOME", "")
    root = Path(base) if base and Path(base).is_absolute() else Path.home() / ".cache"
    return root / "soakbook" / "weather"


class Cache:
    """One file per question, named by a hash so that no place shows in a file name."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def get(self, question: str) -> Kept | None:
        """The answer kept to a question; None where there is none that can be read whole."""
        try:
            data = json.loads(self._path(question).read_text(encoding="utf-8"))
            if data["version"] != _VERSION or not isinstance(data["text"], str):
                return None
            fetched = datetime.fromisoformat(data["fetched_utc"])
            return Kept(data["text"], fetched) if fetched.tzinfo is not None else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def put(self, question: str, text: str, now_utc: datetime) -> str:
        """Keep an answer; a reader at the same time sees the old one or the new one, whole.

        Returns a sentence for the notes where it could not be kept, else nothing: the weather itself is there.
        """
        data = {"version": _VERSION, "fetched_utc": now_utc.astimezone(UTC).isoformat(), "text": text}
        draft = ""
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, draft = tempfile.mkstemp(dir=self.folder, suffix=".part")
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(data, file)
            os.replace(draft, self._path(question))
        except OSError as exc:
            if draft:
                Path(draft).unlink(missing_ok=True)
            return say("The weather could not be kept for later ({why}).", why=exc.strerror)
        return ""

    def _path(self, question: str) -> Path:
        return self.folder / (hashlib.sha256(question.encode()).hexdigest()[:40] + ".json")


def age_words(age: timedelta) -> str:
    """An age as people say it: ``40 minutes``, ``5 hours``, ``3 days``."""
    minutes = max(0, round(age.total_seconds() / 60.0))
    if minutes < 90:
        return say_n("{n} minute", "{n} minutes", minutes)
    hours = round(minutes / 60.0)
    if hours < 48:
        return say_n("{n} hour", "{n} hours", hours)
    return say_n("{n} day", "{n} days", round(hours / 24.0))
