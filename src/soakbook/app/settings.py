"""How one run of the app is set up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path


@dataclass(frozen=True)
class Settings:
    """``folder`` holds the database. ``hosts`` are the names the app may be asked by, beside those of the machine itself.

    ``lan`` when other devices may come: then everyone but the machine itself signs in. ``today`` holds the day still (the
    demo). ``https`` marks cookies as fit for HTTPS only.
    """

    folder: Path
    port: int = 8765
    lan: bool = False
    hosts: tuple[str, ...] = ()
    https: bool = False
    today: date | None = None
    demo: bool = False
    fetch_in_background: bool = True
