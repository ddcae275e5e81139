"""The wet circle somebody saw, kept with its place: what it comes to, what is refused, and that it stays."""

from __future__ import annotations

from datetime import date

import pytest

from soakbook.errors import InputError
from soakbook.garden.file import parse_garden
from soakbook.garden.model import Wetted
from tests.known import KNOWN, find_town

PLACE = """[garden]
name = "Small"
where = "Little Sedge"
[[places]]
name = "Bed"
kind = "bed"
soil = "loam"
size = "4 m x 1 m"
"""
SEEN = 'wetted = { flow = "2 L/h", run = "1 h", circle = "40 cm", dug = "12 cm" }\n'


def wetted(line: str) -> Wetted | None:
    (place,) = parse_garden(PLACE + line, KNOWN, find_town).garden.places
    return place.wetted


def test_a_place_without_one_has_none() -> None:
    assert wetted("") is None


def test_what_was_seen_comes_in_the_units_used_inside() -> None:
    assert wetted(SEEN) == Wetted(2.0, 1.0, 0.4, 0.12)
    line = (
        'wetted = { flow = "1 gal/h", run = "45 min", circle = "10 in", dug = "6 in", line = true, seen = 2026-05-28 }'
    )
    # NIST SP 811: a US gallon is 3.785412 L, an inch 2.54 cm
    found = wetted(line)
    assert found is not None
    assert (found.flow_lph, found.run_h) == (pytest.approx(3.785412), 0.75)
    assert (found.circle_m, found.dug_m) == (pytest.approx(0.254), pytest.approx(0.1524))
    assert (found.is_line, found.seen_on) == (True, date(2026, 5, 28))


@pytest.mark.parametrize(
    ("find", "put", "code", "entry", "says"),
    [
        ('"40 cm"', '"4 m"', "length.range", "circle", "0.02 and 1.5 m"),
        ('"40 cm"', '"1 cm"', "length.range", "circle", "0.02 and 1.5 m"),
        ('"12 cm"', '"1.3 m"', "length.range", "dug", "0.02 and 1.2 m"),
        ('"12 cm"', "12", "unit.missing", "dug", ""),
        ('"2 L/h"', '"120 L/h"', "flow.range", "flow", "100 L/h"),
        ('"2 L/h"', '"2 L"', "unit.wrong_kind", "flow", ""),
        ('"1 h"', '"3 days"', "duration.range", "run", "48 h"),
        (', dug = "12 cm"', "", "key.missing", "dug", "missing"),
        ("dug", "deep", "key.unknown", "deep", "not known"),
        ('"2 L/h"', '"2 L/h", line = "yes"', "yes_no", "line", "true or false"),
        ('"2 L/h"', '"2 L/h", seen = "last week"', "date", "seen", "year-month-day"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line_and_entry(
    find: str, put: str, code: str, entry: str, says: str
) -> None:
    with pytest.raises(InputError) as caught:
        wetted(SEEN.replace(find, put))
    errors = getattr(caught.value, "errors", [caught.value])
    error = next(error for error in errors if error.code == code)
    assert f"line 9, places.1.wetted.{entry}:" in error.message
    assert says in f"{error.message} {error.hint}"


def test_a_table_is_wanted_and_a_bed() -> None:
    with pytest.raises(InputError, match=r"line 9, places.1.wetted: it must be a table"):
        wetted('wetted = "40 cm"')
    pot = PLACE.replace('"bed"', '"pot"').replace('size = "4 m x 1 m"', 'pot = { volume = "15 L" }')
    with pytest.raises(InputError, match=r"line 9, places.1.wetted: only the open ground of a bed"):
        parse_garden(pot + SEEN, KNOWN, find_town)
