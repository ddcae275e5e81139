"""Tables, paragraphs, measures by locale, JSON and progress, as every command shows them."""

from __future__ import annotations

import io
import json
import locale
import re
import sys

import pytest

from soakbook.cli.terminal import echo_json, paragraph, table, units_from_locale, width, working

LONG = "Sow thinly in drills a hand apart, and keep the bed evenly moist until the seedlings are up and can be counted."


@pytest.fixture(autouse=True)
def terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


@pytest.mark.parametrize(("columns", "filled"), [("40", 40), ("80", 80), ("200", 80)])
def test_a_wide_terminal_is_filled_to_80_columns_and_a_narrow_one_to_its_own(
    monkeypatch: pytest.MonkeyPatch, columns: str, filled: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert width() == filled
    lines = paragraph(LONG).splitlines()
    assert max(len(line) for line in lines) <= filled
    assert len(lines[0]) > filled - 12  # no word of the text is longer


def test_a_paragraph_keeps_every_word_and_its_indent() -> None:
    lines = paragraph(LONG, "     ").splitlines()
    assert len(lines) == 2
    assert all(re.match(r" {5}\S", line) for line in lines)
    assert " ".join(line.strip() for line in lines) == LONG


def test_a_table_lines_up() -> None:
    assert table(("place", "litres"), [("bed", "6"), ("far pots", "12")], right=(1,)).splitlines() == [
        "place     litres",
        "--------  ------",
        "bed            6",
        "far pots      12",
    ]


def test_a_table_without_rows_is_its_heading() -> None:
    assert table(("place", "litres"), []).splitlines() == ["place  litres", "-----  ------"]


def test_an_empty_cell_keeps_its_column() -> None:
    last = table(("a", "b", "c"), [("x", "", "z")]).splitlines()[-1]
    assert last == "x     z"


@pytest.mark.parametrize("columns", ["50", "80"])
def test_a_table_wraps_its_widest_column_to_fit(monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    lines = table(("no", "what", "when"), [("1", LONG, "today"), ("2", "Wait.", "later")], right=(0,)).splitlines()
    assert max(len(line) for line in lines) <= int(columns)
    assert all(line == line.rstrip() for line in lines)
    middle = slice(lines[1].index("  ") + 2, lines[1].rindex("  "))
    assert " ".join(line[middle].strip() for line in lines[2:-1]) == LONG
    assert [line for line in lines if "today" in line] == [lines[2]]
    assert lines[-1].startswith(" 2  Wait.")


def test_cells_are_shown_as_text() -> None:
    assert table(("n",), [(str(7),)]).splitlines()[-1] == "7"


@pytest.mark.parametrize(
    ("name", "system"),
    [
        ("en_US.UTF-8", "US"),
        ("es_US", "US"),
        ("en_LR", "US"),  # Liberia
        ("en_GB.UTF-8", "metric"),
        ("fr_CA", "metric"),
        ("de_DE.UTF-8", "metric"),
        ("C.UTF-8", "metric"),
        ("POSIX", "metric"),
    ],
)
def test_measures_follow_the_locale(monkeypatch: pytest.MonkeyPatch, name: str, system: str) -> None:
    for variable in ("LC_ALL", "LC_MEASUREMENT", "LANG"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setenv("LANG", name)
    assert units_from_locale() == system


def test_the_locale_of_measures_goes_before_that_of_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """POSIX: LC_ALL before LC_<category> before LANG."""
    monkeypatch.delenv("LC_ALL", raising=False)
    monkeypatch.setenv("LANG", "en_US.UTF-8")
    monkeypatch.setenv("LC_MEASUREMENT", "en_DK.UTF-8")
    assert units_from_locale() == "metric"
    monkeypatch.setenv("LC_ALL", "en_US.UTF-8")
    assert units_from_locale() == "US"


def test_without_variables_the_system_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    for variable in ("LC_ALL", "LC_MEASUREMENT", "LANG"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setattr(locale, "getlocale", lambda: ("en_US", "UTF-8"))
    assert units_from_locale() == "US"
    monkeypatch.setattr(locale, "getlocale", lambda: (None, None))
    assert units_from_locale() == "metric"


def test_json_says_its_kind_and_version_first(capsys: pytest.CaptureFixture[str]) -> None:
    echo_json("leek", 3, {"water": "½ can", "on": ["today"]})
    out = capsys.readouterr().out
    assert list(json.loads(out).items()) == [("kind", "leek"), ("version", 3), ("water", "½ can"), ("on", ["today"])]
    assert "½" in out


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_shown_to_a_person_and_wiped_away(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with working("Counting worms"):
        assert screen.getvalue() == "Counting worms …\r"
    assert screen.getvalue() == "Counting worms …\r" + " " * 16 + "\r"


def test_progress_is_wiped_away_when_it_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with pytest.raises(ZeroDivisionError), working("Counting worms"):
        raise ZeroDivisionError
    assert screen.getvalue().endswith("\r" + " " * 16 + "\r")


def test_progress_is_not_written_to_a_file(capsys: pytest.CaptureFixture[str]) -> None:
    with working("Counting worms"):
        pass
    assert capsys.readouterr() == ("", "")
