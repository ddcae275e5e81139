"""Logs broken by one edit each: the error names the line, the column and what is wrong; nothing is written."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from soakbook.errors import InputError, InputErrors
from soakbook.garden.file import read_garden
from soakbook.garden.log import LogRow, append_entry, read_log
from soakbook.garden.model import Garden
from tests.known import KNOWN

DATA = Path(__file__).parents[1] / "data" / "broken"
BASE = (DATA / "garden.log.csv").read_text(encoding="utf-8")
ROW = LogRow("2026-06-05T07:00", "water", "Tomato bed", "8 L")


class Case(NamedTuple):
    """``find`` becomes ``put``; the error names line ``line`` and the column ``field``."""

    find: str
    put: str
    line: int
    code: str
    field: str
    says: str


CASES = [
    Case("id,at,kind", "id,when,kind", 1, "log.header", "header", "id,at,kind,place,amount,text"),
    Case("id,at,kind,place,amount,text", "id,at,kind,plaice,amount,text", 1, "log.header", "header", '"place"'),
    Case("id,at,kind,place,amount,text\n", "", 1, "log.header", "header", "first line must be"),
    Case("id,at,kind,place,amount,text", "id,at,kind,place,amount", 1, "log.header", "header", "first line"),
    Case("amount,text\n", "amount,amount\n", 1, "log.header", "header", "first line"),
    Case("12 L,\n", "12 L\n", 2, "log.columns", "line 2", "5 values; 6"),
    Case("12 L,\n", "12 L,,\n", 2, "log.columns", "line 2", "7 values; 6"),
    Case("Tomato bed,12 L", "Tomato bed,1,5 L", 2, "log.columns", "line 2", "double quotes"),
    Case("a1b2c3d4,", ",", 2, "log.id", "id", "1 to 64 letters"),
    Case("a1b2c3d4,", "a 1,", 2, "log.id", "id", "1 to 64 letters"),
    Case("b2c3d4e5", "a1b2c3d4", 3, "log.id.twice", "id", "another entry"),
    Case("2026-06-01T07:30", "01.06.2026 07:30", 2, "log.time", "at", "year-month-day"),
    Case("2026-06-01T07:30", "2026-06-01", 2, "log.time", "at", "hour:minute"),
    Case("2026-06-01T07:30", "2026-06-31T07:30", 2, "log.time", "at", "not a date and time"),
    Case("2026-06-01T07:30", "2026-06-01T25:30", 2, "log.time", "at", "not a date and time"),
    Case("2026-06-01T07:30", "1026-06-01T07:30", 2, "log.time", "at", "not a date and time"),
    Case("2026-06-01T07:30", "", 2, "log.time", "at", "not a date and time"),
    Case("07:30,water", "07:30,watr", 2, "log.kind", "kind", 'Did you mean "water"'),
    Case("07:30,water", "07:30,", 2, "log.kind", "kind", "water, rain, reading, note, forget"),
    Case("water,Tomato bed,12 L", "water,,12 L", 2, "log.place", "place", "missing"),
    Case("water,Tomato bed,12 L", "water,Tomatoe bd,12 L", 2, "log.place.unknown", "place", '"Tomato bed"'),
    Case("water,Tomato bed,12 L", "water,xyzzy,12 L", 2, "log.place.unknown", "place", "Places: Tomato bed"),
    Case("rain,,14 mm", "rain,Tomato bed,14 mm", 5, "log.place", "place", "whole garden"),
    Case("12 L", "12", 2, "unit.unknown", "amount", "20 L"),
    Case("12 L", "", 2, "quantity.empty", "amount", "number and its unit"),
    Case("12 L", "-12 L", 2, "log.amount.range", "amount", "more than 0"),
    Case("12 L", "0 L", 2, "log.amount.range", "amount", "more than 0"),
    Case("12 L", "12 kL", 2, "unit.unknown", "amount", "does not have a unit"),
    Case("12 L", "twelve L", 2, "quantity.number", "amount", "cannot be read"),
    Case("12 L", "999999 L", 2, "log.amount.range", "amount", "at most 100000"),
    Case("12 L", "nan L", 2, "quantity.number", "amount", "cannot be read"),
    Case("water,Tomato bed,12 L", "water,Window box,20 min", 2, "log.amount.flow", "amount", "not known"),
    Case("14 mm", "14 L", 5, "unit.unknown", "amount", "mm"),
    Case("14 mm", "9 m", 5, "log.amount.range", "amount", "0 and 1900 mm"),
    Case("2 cans", "-2 cans", 3, "log.amount.range", "amount", "more than 0"),
    Case("note,Tomato bed,,", "note,Tomato bed,5 L,", 6, "log.amount", "amount", "no amount"),
    Case(",first flowers", ",", 6, "log.text", "text", "empty"),
    Case('"top dry, leaves fine"', '"top dry, leaves fine', 3, "log.csv", "line 3", "double quotes"),
    Case('"top dry, leaves fine"', '"top dry" x', 3, "log.csv", "line 3", "double quotes"),
]


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(DATA / "garden.toml", KNOWN)


def errors_of(error: InputError) -> list[InputError]:
    return error.errors if isinstance(error, InputErrors) else [error]


def test_the_unbroken_log_is_read(garden: Garden) -> None:
    assert len(read_log(DATA / "garden.log.csv", garden)) == 6


@pytest.mark.parametrize("case", CASES, ids=[f"{c.code}-{c.field}-{n}" for n, c in enumerate(CASES)])
def test_broken_log(case: Case, garden: Garden, tmp_path: Path) -> None:
    assert case.find in BASE
    file = tmp_path / "garden.log.csv"
    file.write_text(BASE.replace(case.find, case.put, 1), encoding="utf-8")
    before = file.read_bytes()
    with pytest.raises(InputError) as caught:
        read_log(file, garden)
    (error,) = errors_of(caught.value)
    assert (error.code, error.field) == (case.code, case.field)
    assert error.message.startswith(f"garden.log.csv, line {case.line}")
    assert case.says in str(error)
    assert file.read_bytes() == before


@pytest.mark.parametrize("case", [c for c in CASES if c.code in {"log.header", "log.csv", "log.columns"}])
def test_nothing_is_added_to_a_log_whose_columns_are_not_ours(case: Case, garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_text(BASE.replace(case.find, case.put, 1), encoding="utf-8")
    before = file.read_bytes()
    with pytest.raises(InputError):
        append_entry(file, ROW, garden)
    assert file.read_bytes() == before


def test_all_errors_of_a_log_come_at_once(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_text(BASE.replace("12 L", "12").replace("rain,,", "snow,,").replace("first flowers", ""))
    with pytest.raises(InputErrors) as caught:
        read_log(file, garden)
    assert [e.message.split(":")[0] for e in caught.value.errors] == [
        "garden.log.csv, line 2, amount",
        "garden.log.csv, line 5, kind",
        "garden.log.csv, line 6, text",
    ]


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"\xff\xfei\x00d\x00", "log.encoding"),
        (b"id,at,kind,place,amount,text\na,\x00,water,b,c,d\n", "log.time"),
        (b"{}", "log.header"),
        (b'id,at,kind,place,amount,text\n"' + b"x" * 200_000, "log.csv"),
    ],
)
def test_files_that_are_no_log(data: bytes, code: str, garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_log(file, garden)
    assert caught.value.code == code


def test_a_folder_in_the_logs_place_is_refused(garden: Garden, tmp_path: Path) -> None:
    (tmp_path / "garden.log.csv").mkdir()
    with pytest.raises(InputError) as caught:
        append_entry(tmp_path / "garden.log.csv", ROW, garden)
    assert caught.value.code == "log.unreadable"


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (LogRow("2026-06-05T07:00", "water", "Tomato bed", "8 L", "two\nlines"), "log.text"),
        (LogRow("2026-06-05T07:00", "water", "Tomatoe bed", "8 L"), "log.place.unknown"),
        (LogRow("2026-06-05T07:00", "water", "Tomato bed", "8"), "unit.unknown"),
        (LogRow("2026-06-05T07:00", "water", "Tomato bed", "9 L", id="a1b2c3d4"), "log.id.twice"),
        (LogRow("yesterday", "water", "Tomato bed", "8 L"), "log.time"),
    ],
)
def test_an_entry_that_cannot_be_used_leaves_the_log_as_it_was(
    row: LogRow, code: str, garden: Garden, tmp_path: Path
) -> None:
    file = tmp_path / "garden.log.csv"
    file.write_text(BASE)
    with pytest.raises(InputError) as caught:
        append_entry(file, row, garden)
    assert caught.value.code == code
    assert file.read_text() == BASE


def test_there_are_enough_broken_logs() -> None:
    assert len({(c.find, c.put) for c in CASES}) >= 30
