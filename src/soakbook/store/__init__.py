"""The database: gardens, their logs, pictures and people in one SQLite file, and out again as plain files."""

from __future__ import annotations

from soakbook.store.gardens import GardenRow, Version, as_file, from_file
from soakbook.store.log import Entry, NewEntry, PastEntry, entries_from_rows, gone_csv, log_csv, rows_from_csv
from soakbook.store.open import default_folder
from soakbook.store.people import Link, Person, Session
from soakbook.store.store import Store, open_store

__all__ = [
    "Entry",
    "GardenRow",
    "Link",
    "NewEntry",
    "PastEntry",
    "Person",
    "Session",
    "Store",
    "Version",
    "as_file",
    "default_folder",
    "entries_from_rows",
    "from_file",
    "gone_csv",
    "log_csv",
    "open_store",
    "rows_from_csv",
]
