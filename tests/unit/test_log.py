"""The log: amounts to litres, order, ids, and what a crash leaves."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import textwrap
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import Result
from typer.testing import CliRunner

from soakbook.errors import InputError
from soakbook.garden.file import read_garden
from soakbook.garden.log import COLUMNS, LogRow, append_entry, log_path, read_log, water_litres
from soakbook.garden.model import Garden
from tests.known import KNOWN

DATA = Path(__file__).parents[1] / "data" / "broken"
HEADER = ",".join(COLUMNS) + "\n"


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(DATA / "garden.toml", KNOWN)


def row(amount: str = "8 L", at: str = "2026-06-05T07:00", **other: str) -> LogRow:
    return replace(LogRow(at, "water", "Tomato bed", amount), **other)


def test_the_log_stands_beside_the_garden_file() -> None:
    assert log_path("plots/garden.toml") == Path("plots/garden.log.csv")


def test_no_log_yet_is_an_empty_log(garden: Garden, tmp_path: Path) -> None:
    assert read_log(tmp_path / "garden.log.csv", garden) == []


def test_entries_are_read_in_inside_units(garden: Garden) -> None:
    entries = read_log(DATA / "garden.log.csv", garden)
    assert [e.kind for e in entries] == ["water", "water", "water", "rain", "note", "water"]
    assert entries[0].litres == 12.0
    assert entries[1].litres == 20.0  # two cans of 10 L
    assert entries[2].minutes == pytest.approx(20.0)
    assert entries[2].litres == pytest.approx(34.0 * 0.3 * 20 / 60)  # its 30 % of the line's 34 L/h
    assert entries[3].rain_mm == 14.0
    assert entries[4].text == "first flowers"
    assert entries[5].litres == pytest.approx(5.0 * 3.6)  # 1 mm on 1 m² is 1 L
    assert entries[0].at.isoformat() == "2026-06-01T07:30:00+02:00"


@pytest.mark.parametrize(
    ("amount", "litres"),
    [
        ("12 L", 12.0),
        ("3 gal", 11.356236),  # NIST SP 811: gallon (US) 3.785412 L
        ("1 can", 10.0),
        ("1½ cans", 15.0),
        ("0.5cans", 5.0),
        ("10 mm", 36.0),
        ("1 h", 0.7 * 34.0),
        ("1 h 30 min", 1.5 * 0.7 * 34.0),
    ],
)
def test_amounts_over_the_place(amount: str, litres: float, garden: Garden) -> None:
    assert water_litres(amount, garden.place("Tomato bed"), garden)[0] == pytest.approx(litres, rel=1e-6)


def test_a_can_of_unknown_size_is_refused(garden: Garden) -> None:
    without = replace(garden, supply=replace(garden.supply, can_l=None))
    with pytest.raises(InputError) as caught:
        water_litres("2 cans", garden.place("Tomato bed"), without)
    assert caught.value.code == "log.amount.can"


def test_emitters_of_a_place_tell_its_flow_unless_the_line_was_measured(garden: Garden) -> None:
    herbs = replace(garden.place("Herb strip"), emitters=5, emitter_flow_lph=4.0)
    assert water_litres("1 h", herbs, garden)[0] == pytest.approx(20.0)
    tomato = replace(garden.place("Tomato bed"), emitters=5, emitter_flow_lph=4.0)
    assert water_litres("1 h", tomato, garden)[0] == pytest.approx(0.7 * 34.0)


def test_what_is_appended_is_read_back(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    written = [
        append_entry(file, row("8 L", text='said "enough", twice'), garden),
        append_entry(file, LogRow("2026-06-04T09:00", "rain", amount="0.5 in"), garden),
        append_entry(file, LogRow("2026-06-06T09:00", "note", text="slugs"), garden),
    ]
    assert read_log(file, garden) == sorted(written, key=lambda e: e.at)
    assert len({e.id for e in written}) == 3
    assert file.read_text().startswith(HEADER)


@pytest.mark.parametrize(
    "start", ["", HEADER, HEADER.strip(), "\ufeff" + HEADER, HEADER.replace("\n", "\r\n"), "\n" + HEADER]
)
def test_a_log_may_begin_in_any_ordinary_way(start: str, garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_bytes(start.encode())
    append_entry(file, row(), garden)
    append_entry(file, row(at="2026-06-06T07:00"), garden)
    assert len(read_log(file, garden)) == 2


def test_a_last_line_without_its_end_keeps_its_own_line(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_text(HEADER + "a1,2026-06-01T07:30,water,Tomato bed,12 L,")
    append_entry(file, row(), garden)
    assert [e.litres for e in read_log(file, garden)] == [12.0, 8.0]


def test_columns_may_stand_in_another_order(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_text("at,id,place,kind,text,amount\n2026-06-01T07:30,a1,Tomato bed,water,,12 L\n")
    append_entry(file, row("9 L"), garden)
    assert [e.litres for e in read_log(file, garden)] == [12.0, 9.0]
    assert file.read_text().startswith("at,id,place,kind,text,amount\n")


def test_the_same_entry_sent_twice_counts_once(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    first = append_entry(file, row(id="phone-1"), garden)
    before = file.read_bytes()
    assert append_entry(file, row(id="phone-1"), garden) == first
    assert file.read_bytes() == before
    file.write_bytes(before + before.split(b"\n")[1] + b"\n")
    assert read_log(file, garden) == [first]


def test_the_order_of_lines_does_not_matter(garden: Garden, tmp_path: Path) -> None:
    lines = (DATA / "garden.log.csv").read_text().splitlines(keepends=True)
    file = tmp_path / "garden.log.csv"
    file.write_text(lines[0] + "".join(reversed(lines[1:])))
    assert read_log(file, garden) == read_log(DATA / "garden.log.csv", garden)


def test_times_with_an_offset_come_to_the_gardens_zone(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    entry = append_entry(file, row(at="2026-06-05T05:00Z"), garden)
    assert entry.at.isoformat() == "2026-06-05T07:00:00+02:00"


def test_days_when_the_clock_changes(garden: Garden, tmp_path: Path) -> None:
    # EU summer time 2026 begins 29 March and ends 25 October, 01:00 UTC (Directive 2000/84/EC: last Sundays).
    file = tmp_path / "garden.log.csv"
    spring = append_entry(file, row(at="2026-03-29T03:30"), garden)
    autumn = append_entry(file, row(at="2026-10-25T03:30"), garden)
    assert spring.at.astimezone(UTC) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert autumn.at.astimezone(UTC) == datetime(2026, 10, 25, 2, 30, tzinfo=UTC)
    assert append_entry(file, row(at="2026-03-29T02:30"), garden).at.date() == spring.at.date()


def test_a_link_to_the_log_stays_a_link(garden: Garden, tmp_path: Path) -> None:
    real, link = tmp_path / "real.csv", tmp_path / "garden.log.csv"
    real.write_text(HEADER)
    link.symlink_to(real)
    append_entry(link, row(), garden)
    assert link.is_symlink()
    assert len(read_log(real, garden)) == 1


def test_the_files_permissions_are_kept(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_text(HEADER)
    file.chmod(0o640)
    append_entry(file, row(), garden)
    assert file.stat().st_mode & 0o777 == 0o640


def test_a_disk_that_fails_leaves_the_log_as_it_was(
    garden: Garden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "garden.log.csv"
    append_entry(file, row(), garden)
    before = file.read_bytes()

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="No space left"):
        append_entry(file, row("9 L"), garden)
    assert file.read_bytes() == before
    assert not list(tmp_path.glob("*.new"))


def test_many_hands_at_once_lose_nothing(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    rows = [row(f"{n} L", id=f"hand-{n}") for n in range(1, 41)]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda r: append_entry(file, r, garden), rows))
    assert {e.id for e in read_log(file, garden)} == {r.id for r in rows}


WRITER = """
import sys
from soakbook.garden.log import LogRow, append_entry
from soakbook.garden.model import Garden, Place, SoilLayer

place = Place("Bed", "bed", (SoilLayer("texture", texture="loam"),), 2.0)
garden = Garden("G", 52.0, 5.0, 0.0, "UTC", (place,))
print("ready", flush=True)
for n in range(100000):
    row = LogRow("2026-06-05T07:00", "water", "Bed", "8 L", "x" * 300, id=f"{sys.argv[2]}-{n}")
    append_entry(sys.argv[1], row, garden)
    print(n, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="kills with a POSIX signal")
def test_no_acknowledged_line_is_lost_and_no_half_line_left_when_the_writer_is_killed(
    tmp_path: Path,
) -> None:
    from soakbook.garden.model import Place, SoilLayer

    place = Place("Bed", "bed", (SoilLayer("texture", texture="loam"),), 2.0)
    garden = Garden("G", 52.0, 5.0, 0.0, "UTC", (place,))
    file = tmp_path / "garden.log.csv"
    chance = random.Random(20260605)
    acknowledged: set[str] = set()
    for run in range(6):
        script = [sys.executable, "-c", textwrap.dedent(WRITER), str(file), f"run{run}"]
        with subprocess.Popen(script, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0.02, 0.25))
            writer.send_signal(signal.SIGKILL)
            said = writer.stdout.read().split("\n")[:-1]
        acknowledged |= {f"run{run}-{n}" for n in said}
        assert not file.exists() or file.read_bytes().endswith(b"\n")
        found = {e.id for e in read_log(file, garden)}
        assert acknowledged <= found
        assert len(found) <= len(acknowledged) + run + 1
    assert acknowledged


GARDEN = """
[garden]
name = "Yard"
latitude = 52.1
longitude = 5.2
elevation = "4 m"
time_zone = "Europe/Amsterdam"
[[lines]]
name = "drip"
means = "drip line"
flow = "30 L/h"
measured = true
[[places]]
name = "North bed"
kind = "bed"
soil = "loam"
size = "2 m x 1 m"
line = "drip"
[[places]]
name = "South bed"
kind = "bed"
soil = "loam"
size = "4 m x 1 m"
line = "drip"
"""


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    file = tmp_path / "yard.toml"
    file.write_text(GARDEN)
    return file


def run(yard: Path, *args: str) -> Result:
    import soakbook.cli.log  # registers the commands  # noqa: F401
    from soakbook.cli.app import app

    return CliRunner().invoke(app, ["log", *args], env={"SOAKBOOK_GARDEN": str(yard)})


def test_commands_write_what_was_done(yard: Path) -> None:
    on = ("--on", "2026-06-01")
    for args in (
        ("water", "north bed", "12 L", *on, "--at", "07:30", "--text", "with the can"),
        ("rain", "0.5 in", *on),
        ("note", "slugs", "--place", "South bed", *on),
    ):
        done = run(yard, *args)
        assert done.exit_code == 0, done.output
    text = yard.with_name("yard.log.csv").read_text()
    assert "2026-06-01T07:30,water,north bed,12 L,with the can" in text
    assert ",2026-06-01T08:00,rain,,0.5 in," in text
    assert ",note,South bed,,slugs" in text


def test_a_line_is_logged_for_all_its_places(yard: Path) -> None:
    done = run(yard, "water", "drip", "20 min", "--on", "2026-06-01", "--json")
    answer = json.loads(done.output)
    assert [(e["place"], e["litres"]) for e in answer["entries"]] == [
        ("North bed", pytest.approx(30 / 3 * 2 / 6)),
        ("South bed", pytest.approx(30 / 3 * 4 / 6)),
    ]
    refused = run(yard, "water", "drip", "20 L").exception
    assert isinstance(refused, InputError)
    assert refused.code == "log.amount.line"


@pytest.mark.parametrize(
    ("args", "code"),
    [
        (("water", "Nort bed", "12 L"), "log.place.unknown"),
        (("water", "North bed", "12"), "unit.unknown"),
        (("water", "North bed", "12 L", "--on", "2999-01-01"), "log.future"),
        (("water", "North bed", "12 L", "--on", "Monday"), "log.time"),
        (("water", "North bed", "12 L", "--at", "7 o'clock"), "log.time"),
        (("rain", "12 L"), "unit.unknown"),
        (("note", ""), "log.text"),
        (("note", "slugs", "--place", "Est bed"), "log.place.unknown"),
        (("note", "slugs", "--garden", "gone.toml"), "garden.missing"),
    ],
)
def test_commands_that_cannot_be_done_write_nothing(args: tuple[str, ...], code: str, yard: Path) -> None:
    error = run(yard, *args).exception
    assert isinstance(error, InputError)
    assert error.code == code
    assert not yard.with_name("yard.log.csv").exists()
