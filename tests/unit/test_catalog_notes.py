"""Notes beside the catalogue's figures: the same in English, and told in another language piece by piece."""

from __future__ import annotations

import csv

import pytest

from soakbook.app.reader import Reader
from soakbook.catalog.notes import said_note
from soakbook.catalog.read import DATA, plants

NOTES = sorted(
    {
        row["note"]
        for path in DATA.glob("*_sources.csv")
        for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines())
        if row["note"]
    }
)
SPANISH = Reader(language="es", decimal=",")


def test_every_note_stays_the_same_in_english_and_is_told_in_spanish() -> None:
    assert len(NOTES) > 300
    for note in NOTES:
        assert said_note(note) == note
        assert SPANISH.tell(said_note(note)) != note


@pytest.mark.parametrize(
    ("note", "spanish"),
    [
        ("row 'Carrots', lower end of 0.5-1 m", "fila 'Carrots', lo más bajo de 0,5-1 m"),
        ("middle of 25-30 days", "punto medio de 25-30 días"),
        (
            "row 'Spinach' [Apr; Sep/Oct, Mediterranean], middle of 15-25 days; the crop has no row of its own",
            "fila 'Spinach' [Apr; Sep/Oct, Mediterranean], punto medio de 15-25 días; el cultivo no tiene fila propia",
        ),
        ("", ""),
    ],
)
def test_notes_in_spanish(note: str, spanish: str) -> None:
    assert SPANISH.tell(said_note(note)) == spanish


def test_figures_carry_notes_that_can_be_told() -> None:
    note = plants()["carrot"].root_max_m.note
    assert note == "row 'Carrots', lower end of 0.5-1 m"
    assert SPANISH.tell(note).startswith("fila 'Carrots'")
