"""Where readings of sensors are written: into the log of a garden file, or into a garden of the app."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.errors import InputError
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.garden.log import LogRow
    from soakbook.garden.model import Garden, LogEntry

InApp = Annotated[str, typer.Option("--app", help="A garden of the app, by its name, instead of a garden file.")]
Folder = Annotated[
    Path | None, typer.Option("--folder", help="Where the app's data lies; else $SOAKBOOK_DATA.", show_default=False)
]
#: Writes rows down, all or none; True for those that were not there yet. Rows that are there stay as they are.
Keep = Callable[["list[LogRow]"], "list[tuple[LogEntry, bool]]"]


@contextmanager
def opened(path: Path | None, in_app: str, folder: Path | None) -> Iterator[tuple[Garden, Keep]]:
    """The garden, of a file or of the app, and what writes rows into its log."""
    if in_app and path is not None:
        raise InputError(say("give either a garden file or a garden of the app."), code="log.both", field="app")
    if not in_app:
        from soakbook.cli.log_parts import open_log

        found, garden = open_log(path)
        yield garden, lambda rows: _to_file(found, rows)
        return
    from soakbook.app.desk import Desk
    from soakbook.app.entry_in import keep_rows
    from soakbook.store import open_store

    with open_store(folder) as store:
        desk, name = Desk(store), in_app.strip().casefold()
        gardens = store.gardens()
        row = next((one for one in gardens if in_app == one.key or one.name.casefold() == name), None)
        if row is None:
            raise InputError(
                say('the app has no garden "{name}".', name=in_app[:80]),
                code="garden.unknown",
                field="app",
                hint=say("Its gardens: {names}.", names=", ".join(one.name for one in gardens) or "-"),
            )
        yield desk.known(row.key).garden, lambda rows: keep_rows(desk, row.key, rows)


def _to_file(path: Path, rows: list[LogRow]) -> list[tuple[LogEntry, bool]]:
    """The garden is read anew each time: it may have been changed since."""
    from soakbook.advice.open import open_garden
    from soakbook.garden.log import append_entries, log_path

    return append_entries(log_path(path), rows, open_garden(path), known_stay=True)
