"""A process that starts writers, so that tests can kill them: each is a fork that has everything loaded already.

Reads lines ``what seed folder`` and answers with the writer's process id; the writers themselves print ``done <id>`` for
what the store has acknowledged. When a writer has ended, ``ended <id> <signal>`` follows.
"""

from __future__ import annotations

import itertools
import os
import sys
import traceback
from pathlib import Path
from typing import Any

import alembic.command  # loaded here so that no fork has to
import sqlalchemy.dialects.sqlite  # noqa: F401

from soakbook.store import NewEntry, Store, migrate, open_store

AT = "2026-06-01T07:30"
#: How long a writer waits for another. The database wakes those who wait now and then, in no order: where the disk is slow and the other writes without
#: a pause, one may be passed over for longer than a person should wait.
PATIENT_S = 60.0


def say(text: str) -> None:
    os.write(1, f"{text}\n".encode())  # one write, so that a kill leaves no half line


def text_of(name: str) -> str:
    """What is written for an id: long enough to be torn."""
    return f"text of {name} " + name * 40


def write_log(store: Store, run: str) -> None:
    """Groups of three, all or none, and a change to the first of each."""
    (row,) = store.gardens()
    for n in itertools.count():
        group = [NewEntry(f"{run}-{n}-{part}", AT, "note", text=text_of(f"{run}-{n}-{part}")) for part in "abc"]
        store.put_many(row.key, group, by=run)
        say(f"done {run}-{n}")
        store.edit(row.key, f"{run}-{n}-a", NewEntry(f"{run}-{n}-a", AT, "note", text="changed"), by=run)
        say(f"edited {run}-{n}")


def write_garden(store: Store, run: str) -> None:
    """Versions that count up."""
    (row,) = store.gardens()

    def add(document: dict[str, Any]) -> dict[str, Any]:
        document["count"] = document.get("count", 0) + 1
        document["text"] = text_of(str(document["count"]))
        return document

    while True:
        say(f"done {store.change(row.key, add, check=lambda _: None, by=run).version}")


def write_some(store: Store, run: str) -> None:
    """A hundred entries and ten versions, to the end."""
    (row,) = store.gardens()
    for n in range(100):
        store.put(row.key, NewEntry(f"{run}-{n}", AT, "note", text=text_of(f"{run}-{n}")), by=run)
        if n % 10 == 0:
            store.change(
                row.key, lambda d: {**d, "count": d.get("count", 0) + 1}, check=lambda _: None, by=run, what=str(n)
            )


def work(what: str, run: str, folder: str) -> None:
    if what == "migrate":
        migrate.MIGRATIONS = Path(folder).parent / "steps"
        migrate.REVISIONS = (*migrate.REVISIONS, "0002test")
        say("begun")
        open_store(folder).close()
        say("done")
        return
    say("begun")
    with open_store(folder, wait_s=PATIENT_S) as store:
        {"log": write_log, "garden": write_garden, "some": write_some}[what](store, run)


def main() -> None:
    assert alembic.command
    for line in sys.stdin:
        if line.startswith("wait "):
            _, status = os.waitpid(int(line.split()[1]), 0)
            say(f"ended {os.waitstatus_to_exitcode(status)}")
            continue
        what, run, folder = line.rstrip("\n").split(" ", 2)
        pid = os.fork()
        if pid == 0:
            code = 1
            try:
                work(what, run, folder)
                code = 0
            finally:
                if code:
                    traceback.print_exc()  # nobody sees it otherwise: the fork ends at once
                os._exit(code)
        say(f"pid {pid}")


if __name__ == "__main__":
    main()
