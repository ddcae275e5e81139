"""Killed at any moment, the store loses nothing it has acknowledged and leaves nothing half-written."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from soakbook.store import NewEntry, open_store
from tests.unit.store.gardens import small_garden
from tests.unit.store.second_step import SECOND, second_step, use_second_step
from tests.unit.store.writers import text_of

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks and SIGKILL are of Unix")
ROUNDS = 25


class Starter:
    """Starts writers and ends them."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.unit.store.writers"]
        root = Path(__file__).parents[3]
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1, cwd=root
        )

    def _ask(self, line: str) -> None:
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def lines_until(self, start: str) -> list[str]:
        """What comes up to a line that begins so, with that line last."""
        lines: list[str] = []
        while not lines or not lines[-1].startswith(start):
            line = self._process.stdout.readline()
            assert line, f"the writers stopped; they said {lines}"
            lines.append(line.strip())
        return lines

    def start(self, what: str, run: str, folder: Path) -> tuple[int, list[str]]:
        self._ask(f"{what} {run} {folder}")
        lines = self.lines_until("pid ")
        return int(lines.pop().split()[1]), lines

    def end(self, pid: int, *, kill: bool = True) -> tuple[int, list[str]]:
        """Its exit code (negative: the signal), and what it said."""
        if kill:
            os.kill(pid, signal.SIGKILL)
        self._ask(f"wait {pid}")
        lines = self.lines_until("ended ")
        return int(lines.pop().split()[1]), lines

    def close(self) -> None:
        self._process.stdin.close()
        assert self._process.wait(timeout=30) == 0
        self._process.stdout.close()


@pytest.fixture(scope="module")
def starter() -> Iterator[Starter]:
    made = Starter()
    yield made
    made.close()


def is_whole(file: Path) -> bool:
    with closing(sqlite3.connect(file)) as c:
        checks = ("integrity_check", "foreign_key_check")
        return [c.execute(f"PRAGMA {check}").fetchall() for check in checks] == [[("ok",)], []]


def new_store(folder: Path, entries: int = 0) -> str:
    with open_store(folder) as store:
        key = store.add_garden(small_garden()).key
        store.put_many(
            key, [NewEntry(f"s{n}", "2026-06-01T07:30", "note", text=text_of(f"s{n}")) for n in range(entries)]
        )
    return key


def run_and_kill(starter: Starter, what: str, run: str, folder: Path, wait_s: float) -> list[str]:
    """What a writer said before it was killed, ``wait_s`` after it began."""
    pid, lines = starter.start(what, run, folder)
    if "begun" not in lines:
        lines += starter.lines_until("begun")
    time.sleep(wait_s)
    code, more = starter.end(pid)
    assert code == -signal.SIGKILL
    return lines + more


def test_no_acknowledged_entry_is_lost_and_none_is_half(starter: Starter, tmp_path: Path) -> None:
    rng = random.Random(3)
    folder = tmp_path / "data"
    key = new_store(folder)
    done: set[str] = set()
    edited: set[str] = set()
    for run in range(ROUNDS):
        said = run_and_kill(starter, "log", f"r{run}", folder, rng.uniform(0.01, 0.2))
        done |= {line.split()[1] for line in said if line.startswith("done ")}
        edited |= {line.split()[1] for line in said if line.startswith("edited ")}
        with open_store(folder) as store:
            kept = {entry.id: entry for entry in store.entries(key, removed=True)}
            assert {f"{name}-{part}" for name in done for part in "abc"} <= kept.keys()
            groups = {name.rpartition("-")[0] for name in kept}
            assert len(groups) <= len(done) + run + 1  # at most one a round was kept and not yet acknowledged
            assert kept.keys() == {f"{name}-{part}" for name in groups for part in "abc"}
            assert all(kept[f"{name}-a"].edits == 1 for name in edited)
            for entry in kept.values():
                assert entry.text == ("changed" if entry.edits else text_of(entry.id))
        assert is_whole(folder / "soakbook.db")
    with open_store(folder) as store:
        changed = [entry.id for entry in store.entries(key) if entry.edits]
        assert [[p.text for p in store.past(key, name)] for name in changed] == [[text_of(name)] for name in changed]
        assert store.garden(key).log_version == len(groups) + len(changed)
    assert len(done) > ROUNDS // 4  # few on a busy machine, but some


def test_no_acknowledged_version_is_lost_and_none_is_half(starter: Starter, tmp_path: Path) -> None:
    rng = random.Random(4)
    folder = tmp_path / "data"
    key = new_store(folder)
    last = 1
    for run in range(ROUNDS):
        said = run_and_kill(starter, "garden", f"r{run}", folder, rng.uniform(0.01, 0.15))
        acknowledged = max([last, *(int(line.split()[1]) for line in said if line.startswith("done "))])
        with open_store(folder) as store:
            found = store.garden(key).version
            assert acknowledged <= found <= acknowledged + 1
            assert [v.version for v in store.versions(key)] == list(range(found, 0, -1))
            for version in range(last + 1, found + 1):
                document = store.document(key, version)
                assert (document["count"], document["text"]) == (version - 1, text_of(str(version - 1)))
        assert is_whole(folder / "soakbook.db")
        last = found
    assert last > ROUNDS // 4  # few on a busy machine, but some


def test_killed_between_two_revisions_it_is_one_or_the_other(
    starter: Starter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = random.Random(5)
    second_step(tmp_path)
    master = tmp_path / "master"
    new_store(master, entries=2000)
    takes_s = min(_migration_s(starter, _copy(master, tmp_path / f"timed{n}")) for n in range(3))
    found = []
    for run in range(ROUNDS):
        folder = _copy(master, tmp_path / f"r{run}")
        pid, lines = starter.start("migrate", f"r{run}", folder)
        if "begun" not in lines:
            starter.lines_until("begun")
        time.sleep(rng.uniform(0.0, 1.2) * takes_s)
        starter.end(pid)
        found.append(_state_after_kill(folder))
    assert "0001" in found  # some were killed before the end, or this has shown nothing
    (tmp_path / "again").mkdir()
    use_second_step(monkeypatch, tmp_path / "again")
    for run in range(ROUNDS):
        with open_store(tmp_path / f"r{run}") as store:
            (row,) = store.gardens()
            assert len(store.entries(row.key)) == 2000
        assert _state_after_kill(tmp_path / f"r{run}") == SECOND


def _migration_s(starter: Starter, folder: Path) -> float:
    pid, lines = starter.start("migrate", "x", folder)
    if "begun" not in lines:
        starter.lines_until("begun")
    start = time.perf_counter()
    starter.lines_until("done")
    took_s = time.perf_counter() - start
    assert starter.end(pid, kill=False)[0] == 0
    return took_s


def _copy(master: Path, folder: Path) -> Path:
    folder.mkdir()
    (folder / "soakbook.db").write_bytes((master / "soakbook.db").read_bytes())
    return folder


def _state_after_kill(folder: Path) -> str:
    """The revision; asserts that everything is there in it, and the copy of before beside it."""
    assert is_whole(folder / "soakbook.db")
    with closing(sqlite3.connect(folder / "soakbook.db")) as c:
        ((revision,),) = c.execute("SELECT version_num FROM alembic_version").fetchall()
        assert c.execute("SELECT count(*) FROM log").fetchall() == [(2000,)]
        has_mood = "mood" in c.execute("SELECT sql FROM sqlite_master WHERE name = 'log'").fetchone()[0]
        assert has_mood == (revision == SECOND)
    copies = list((folder / "backups").glob("soakbook-*.db"))
    assert copies or revision == "0001"  # never without a copy of before
    for copy in copies:
        assert is_whole(copy)
        with closing(sqlite3.connect(copy)) as c:
            assert c.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
            assert c.execute("SELECT count(*) FROM log").fetchall() == [(2000,)]
    return str(revision)


def test_killed_while_it_is_made_it_is_made_the_next_time(starter: Starter, tmp_path: Path) -> None:
    rng = random.Random(6)
    for run in range(10):
        folder = tmp_path / f"r{run}"
        pid, lines = starter.start("some", "x", folder)
        if "begun" not in lines:
            starter.lines_until("begun")
        time.sleep(rng.uniform(0.0, 0.06))
        starter.end(pid)
        with open_store(folder) as store:
            assert [person.id for person in store.people()] == ["owner"]
        assert is_whole(folder / "soakbook.db")


def test_two_processes_writing_at_once_lose_nothing(starter: Starter, tmp_path: Path) -> None:
    key = new_store(tmp_path)
    pids = [starter.start("some", run, tmp_path)[0] for run in ("one", "two")]
    assert [starter.end(pid, kill=False)[0] for pid in pids] == [0, 0]
    with open_store(tmp_path) as store:
        kept = {entry.id: entry.text for entry in store.entries(key)}
        assert kept == {f"{run}-{n}": text_of(f"{run}-{n}") for run in ("one", "two") for n in range(100)}
        assert store.garden(key).log_version == 200
        assert store.garden(key).version == 21
        assert store.document(key)["count"] == 20
    assert is_whole(tmp_path / "soakbook.db")
