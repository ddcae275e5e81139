"""Opening: the folder, the file, older and newer databases, and plain words for what goes wrong."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from soakbook.errors import InputError, SoakbookError, SourceDown
from soakbook.store import NewEntry, Store, default_folder, migrate, open_store
from soakbook.store.open import make_engine
from soakbook.store.tables import metadata
from tests.pace import within
from tests.unit.store.gardens import fine, small_garden
from tests.unit.store.second_step import SECOND, use_second_step

NOTE = NewEntry("a1", "2026-06-01T07:30", "note", text="look")


def raw(store_or_folder: Store | Path) -> closing[sqlite3.Connection]:
    folder = store_or_folder if isinstance(store_or_folder, Path) else store_or_folder.folder
    return closing(sqlite3.connect(folder / "soakbook.db", isolation_level=None, timeout=0))


# --- the folder ------------------------------------------------------------------------------------------------------


def test_the_folder_is_the_systems_or_your_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SOAKBOOK_DATA", str(tmp_path / "own"))
    assert default_folder() == tmp_path / "own"
    monkeypatch.delenv("SOAKBOOK_DATA")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "xdg"))
    monkeypatch.setattr(sys, "platform", "linux")
    assert default_folder() == tmp_path / "xdg" / "soakbook"
    monkeypatch.delenv("XDG_DATA_HOME")
    assert default_folder() == tmp_path / ".local" / "share" / "soakbook"
    monkeypatch.setattr(sys, "platform", "darwin")
    assert default_folder() == tmp_path / "Library" / "Application Support" / "Soakbook"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert default_folder() == tmp_path / "local" / "Soakbook"


@pytest.mark.skipif(sys.platform == "win32", reason="modes are of Unix")
def test_the_folder_and_the_file_are_for_their_owner_alone(store: Store) -> None:
    assert store.folder.stat().st_mode & 0o777 == 0o700
    assert (store.folder / "soakbook.db").stat().st_mode & 0o777 == 0o600


def test_odd_folder_names_work(tmp_path: Path) -> None:
    folder = tmp_path / "a b%41?#ü" / "x"
    with open_store(folder) as store:
        store.add_garden(small_garden())
    with open_store(folder) as store:
        assert len(store.gardens()) == 1


def test_a_new_store_is_there_quickly(tmp_path: Path) -> None:
    """0.5 s with loading what migrates, allowed twice for busy machines."""
    code = f"import soakbook.store as s, time; t = time.perf_counter(); s.open_store({str(tmp_path / 'd')!r}).close(); print(time.perf_counter() - t)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert within(float(out.stdout), 2 * 0.5)


def test_opening_what_is_up_to_date_loads_nothing_heavy(store: Store) -> None:
    code = (
        f"import sys, soakbook.store as s; s.open_store({str(store.folder)!r}).close(); "
        "print(*{m.partition('.')[0] for m in sys.modules})"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "sqlalchemy" in out.stdout.split()
    assert not {"alembic", "pydantic", "numpy", "numba", "mako"} & set(out.stdout.split())


# --- how it is opened ------------------------------------------------------------------------------------------------


def test_writes_reach_the_disk_and_references_are_kept(store: Store) -> None:
    with store._db.read() as c:
        asked = ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        assert [c.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in asked] == ["wal", 2, 1, 10_000]


def test_a_write_takes_the_lock_at_its_start(store: Store) -> None:
    with store._db.write(), raw(store) as other, pytest.raises(sqlite3.OperationalError, match="locked"):
        other.execute("BEGIN IMMEDIATE")


def test_a_reader_sees_one_state_and_waits_for_nobody(store: Store, key: str) -> None:
    with store._db.read() as c:
        before = c.exec_driver_sql("SELECT count(*) FROM log").scalar_one()
        store.put(key, NOTE)
        assert c.exec_driver_sql("SELECT count(*) FROM log").scalar_one() == before
    with store._db.write() as c:
        c.exec_driver_sql("DELETE FROM log")
        assert len(store.entries(key)) == 1


def test_a_failed_write_leaves_nothing(store: Store, key: str) -> None:
    def half() -> None:
        with store._db.write() as c:
            c.exec_driver_sql("CREATE TABLE half (x)")
            c.exec_driver_sql("UPDATE gardens SET name = 'half'")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half()
    assert store.garden(key).name == "Hollow Lane"
    with raw(store) as c:
        assert not c.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchall()


def test_forty_threads_lose_nothing(store: Store, key: str) -> None:
    def work(n: int) -> None:
        for i in range(10):
            store.put(key, NewEntry(f"t{n}-{i}", "2026-06-01T07:30", "note", text="x"))
            store.entries(key)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(40)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(store.entries(key)) == 400
    assert store.garden(key).log_version == 400


def test_changes_from_many_threads_build_on_each_other(store: Store, key: str) -> None:
    def add(document: dict) -> dict:
        document["garden"]["latitude"] += 1.0
        return document

    threads = [
        threading.Thread(target=lambda: [store.change(key, add, check=fine) for _ in range(5)]) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert store.garden(key).version == 41
    assert store.document(key)["garden"]["latitude"] == pytest.approx(52.1 + 40)


def test_writing_from_within_a_change_fails_and_does_not_hang(store: Store, key: str) -> None:
    with open_store(store.folder, wait_s=0.05) as hasty:
        with pytest.raises(SourceDown):
            hasty.change(key, lambda d: {**d, "x": hasty.put(key, NOTE)[0].id}, check=fine)
        assert (hasty.garden(key).version, hasty.entries(key)) == (1, [])


# --- what can go wrong -----------------------------------------------------------------------------------------------


def test_a_locked_database_is_said_and_nothing_changes(store: Store, key: str) -> None:
    with open_store(store.folder, wait_s=0.05) as hasty, raw(store) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(SourceDown) as raised:
            hasty.put(key, NOTE)
        assert raised.value.code == "store.locked"
        assert hasty.entries(key) == []  # reading goes on
        other.execute("ROLLBACK")
        assert hasty.put(key, NOTE)[1]


def test_a_full_disk_is_said_and_nothing_changes(store: Store, key: str) -> None:
    with store._db.engine.connect() as c:  # the pool hands this connection out again
        pages = c.exec_driver_sql("PRAGMA page_count").scalar_one()
        c.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    many = [NewEntry(f"n{i}", "2026-06-01T07:30", "note", text="x" * 2000) for i in range(200)]
    with pytest.raises(SourceDown) as raised:
        store.put_many(key, many)
    assert raised.value.code == "store.full"
    with open_store(store.folder) as again:
        assert again.entries(key) == []
        assert again.put(key, NOTE)[1]


def test_a_session_is_found_on_a_database_that_cannot_be_written(store: Store, clock) -> None:
    from datetime import timedelta

    token = store.open_session("owner", "phone")
    with open_store(store.folder, clock=clock, wait_s=0.05) as hasty, raw(store) as other:
        other.execute("BEGIN IMMEDIATE")
        clock.now += timedelta(hours=2)
        assert hasty.session(token) is not None


def test_a_file_that_is_no_database_is_said_and_left(tmp_path: Path) -> None:
    (tmp_path / "soakbook.db").write_bytes(b"not a database at all, but quite long" * 100)
    with pytest.raises(InputError) as raised:
        open_store(tmp_path)
    assert raised.value.code == "store.damaged"
    assert (tmp_path / "soakbook.db").read_bytes().startswith(b"not a database")


def test_a_damaged_database_is_said(store: Store, key: str) -> None:
    store.put(key, NOTE)
    store.close()
    file = store.folder / "soakbook.db"
    data = bytearray(file.read_bytes())
    data[4096:] = b"\xa5" * (len(data) - 4096)
    file.write_bytes(data)
    with pytest.raises(InputError) as raised, open_store(store.folder) as again:
        again.entries(key)
    assert raised.value.code == "store.damaged"


def test_another_programs_database_is_said_and_left(tmp_path: Path) -> None:
    with raw(tmp_path) as c:
        c.execute("CREATE TABLE songs (title)")
    before = (tmp_path / "soakbook.db").read_bytes()
    with pytest.raises(InputError) as raised:
        open_store(tmp_path)
    assert raised.value.code == "store.foreign"
    assert (tmp_path / "soakbook.db").read_bytes() == before


def test_a_file_in_the_folders_place_is_said(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("")
    for folder in (tmp_path / "data", tmp_path / "data" / "below"):
        with pytest.raises(SoakbookError) as raised:
            open_store(folder)
        assert raised.value.code == "store.unwritable"


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_leave_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(InputError) as raised:
        open_store(tmp_path)
    assert raised.value.code == "store.unwritable"


def test_a_database_without_leave_to_write_is_said(store: Store, key: str) -> None:
    with store._db.engine.connect() as c:
        c.exec_driver_sql("PRAGMA query_only = ON")
    with pytest.raises(InputError) as raised:
        store.put(key, NOTE)
    assert raised.value.code == "store.unwritable"


# --- steps from one revision to the next -----------------------------------------------------------------------------


def test_the_steps_make_the_tables_that_are_described(store: Store, tmp_path: Path) -> None:
    described = create_engine(f"sqlite:///{tmp_path / 'described.db'}")
    metadata.create_all(described)

    def shape(engine) -> dict:
        found = inspect(engine)
        return {
            table: (
                [(c["name"], str(c["type"]), c["nullable"], c["primary_key"]) for c in found.get_columns(table)],
                found.get_pk_constraint(table),
                sorted(found.get_foreign_keys(table), key=str),
                sorted(found.get_unique_constraints(table), key=str),
                sorted(found.get_indexes(table), key=str),
            )
            for table in found.get_table_names()
            if table != "alembic_version"
        }

    assert shape(store._db.engine) == shape(described)
    described.dispose()


def test_the_known_revisions_are_those_of_the_steps() -> None:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(migrate.MIGRATIONS))
    steps = [step.revision for step in ScriptDirectory.from_config(config).walk_revisions()]
    assert tuple(reversed(steps)) == migrate.REVISIONS


def filled(folder: Path) -> str:
    with open_store(folder) as store:
        key = store.add_garden(small_garden()).key
        store.put(key, NOTE)
        store.edit(key, "a1", NewEntry("a1", "2026-06-01T07:30", "note", text="changed"))
    return key


def test_a_step_keeps_everything_and_a_copy_of_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    key = filled(tmp_path / "data")
    use_second_step(monkeypatch, tmp_path)
    with open_store(tmp_path / "data") as store:
        assert store.entry(key, "a1").text == "changed"
        assert [p.text for p in store.past(key, "a1")] == ["look"]  # rows that refer to the table made anew
        with raw(store) as c:
            assert c.execute("SELECT version_num FROM alembic_version").fetchall() == [(SECOND,)]
            assert c.execute("SELECT mood FROM log").fetchall() == [("fine",)]
            assert c.execute("PRAGMA foreign_key_check").fetchall() == []
    (copy,) = (tmp_path / "data" / "backups").iterdir()
    assert copy.name.startswith("soakbook-0001-2")
    with closing(sqlite3.connect(copy)) as c:
        assert c.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert c.execute("SELECT text FROM log").fetchall() == [("changed",)]
    with open_store(tmp_path / "data"):
        assert len(list((tmp_path / "data" / "backups").iterdir())) == 1  # nothing to do, nothing copied


def test_the_copy_put_in_place_opens_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    key = filled(tmp_path / "data")
    with monkeypatch.context() as patch:
        use_second_step(patch, tmp_path)
        open_store(tmp_path / "data").close()
    with pytest.raises(InputError):
        open_store(tmp_path / "data")
    (copy,) = (tmp_path / "data" / "backups").iterdir()
    shutil.copy(copy, tmp_path / "data" / "soakbook.db")
    with open_store(tmp_path / "data") as store:
        assert store.entry(key, "a1").text == "changed"


def test_a_newer_database_is_refused_politely_and_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(tmp_path / "data")
    with monkeypatch.context() as patch:
        use_second_step(patch, tmp_path)
        open_store(tmp_path / "data").close()
    before = all_files(tmp_path / "data")
    with pytest.raises(InputError) as raised:
        open_store(tmp_path / "data")
    assert raised.value.code == "store.newer"
    assert SECOND in raised.value.message
    assert "newer program" in raised.value.hint
    assert all_files(tmp_path / "data") == before


def test_a_newer_database_whose_program_was_killed_is_left_too(store: Store, key: str, tmp_path: Path) -> None:
    with store._db.write() as c:
        c.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    killed = shutil.copytree(store.folder, tmp_path / "killed")
    before = all_files(killed)
    assert before["soakbook.db-wal"]
    with pytest.raises(InputError) as raised:
        open_store(killed)
    assert raised.value.code == "store.newer"
    after = all_files(killed)
    assert after.pop("soakbook.db-shm")  # SQLite's own notes, made anew by whoever opens it
    before.pop("soakbook.db-shm")
    assert after == before


def all_files(folder: Path) -> dict[str, bytes]:
    return {str(file.relative_to(folder)): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def test_a_step_that_fails_leaves_the_old_database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    key = filled(tmp_path / "data")
    with monkeypatch.context() as patch:
        use_second_step(patch, tmp_path, then="raise ZeroDivisionError")
        with pytest.raises(ZeroDivisionError):
            open_store(tmp_path / "data")
    with raw(tmp_path / "data") as c:
        assert "mood" not in c.execute("SELECT sql FROM sqlite_master WHERE name = 'log'").fetchone()[0]
        assert not c.execute("SELECT 1 FROM sqlite_master WHERE name LIKE '_alembic_tmp%'").fetchall()
    with open_store(tmp_path / "data") as store:
        assert store.entry(key, "a1").text == "changed"


def test_a_step_that_breaks_references_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(tmp_path / "data")
    with monkeypatch.context() as patch:
        use_second_step(patch, tmp_path, then="op.execute('DELETE FROM gardens')")
        with pytest.raises(RuntimeError, match="not there"):
            open_store(tmp_path / "data")
    with open_store(tmp_path / "data") as store:
        assert len(store.gardens()) == 1


def test_a_step_waits_for_who_is_writing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(tmp_path / "data")
    use_second_step(monkeypatch, tmp_path)
    with raw(tmp_path / "data") as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(SourceDown) as raised:
            open_store(tmp_path / "data", wait_s=0.05)
        assert raised.value.code == "store.locked"
        other.execute("ROLLBACK")
    open_store(tmp_path / "data").close()


def test_many_opening_a_new_folder_at_once_all_get_it(tmp_path: Path) -> None:
    code = f"import soakbook.store as s; print(s.open_store({str(tmp_path / 'd')!r}).people()[0].id)"
    started = [subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) for _ in range(3)]
    assert [one.communicate(timeout=60)[0].strip() for one in started] == ["owner"] * 3


def test_an_empty_file_becomes_a_database(tmp_path: Path) -> None:
    (tmp_path / "soakbook.db").touch()
    with open_store(tmp_path) as store:
        assert store.people()[0].id == "owner"
    assert not (tmp_path / "backups").exists()


def test_closing_leaves_one_file_and_nothing_behind(store: Store, key: str) -> None:
    store.put(key, NOTE)
    store.close()
    assert sorted(os.listdir(store.folder)) == [".soakbook.db.lock", "soakbook.db"]


def test_an_entry_takes_no_longer_than_a_page_may(store: Store, key: str) -> None:
    start = time.perf_counter()
    for i in range(50):
        store.put(key, NewEntry(f"s{i}", "2026-06-01T07:30", "note", text="x"))
    assert within((time.perf_counter() - start) / 50, 0.050)


def test_an_engine_begins_reads_itself(tmp_path: Path) -> None:
    engine = make_engine(tmp_path / "x.db", 1.0)
    with engine.connect() as c:
        c.exec_driver_sql("SELECT 1")
        assert c.connection.driver_connection.in_transaction
    engine.dispose()
