"""Amounts as they are typed, and what an entry says."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from soakbook.app.desk import Known
from soakbook.app.entry_form import (
    amount_parts,
    amount_text,
    amount_units,
    entry_words,
    new_id,
    reading_parts,
    reading_text,
    when_text,
    with_unit,
)
from soakbook.app.entry_in import moment
from soakbook.app.reader import Reader
from soakbook.demo import demo_garden
from soakbook.errors import InputError
from soakbook.garden.log import LogRow, parse_row
from soakbook.store import NewEntry

METRIC, US, COMMA = Reader(), Reader(units="US", clock="12", dates="mdy"), Reader(decimal=",")


@pytest.fixture(scope="module")
def known() -> Known:
    garden, _, folder = demo_garden()
    document = {"places": [{"id": f"{n:08x}", "name": place.name} for n, place in enumerate(garden.places)]}
    return Known("demo", 1, 1, document, garden, (), Path(folder))


@pytest.mark.parametrize(
    ("number", "unit", "amount"),
    [
        ("12", "L", "12 L"),
        (" 1,5 ", "cans", "1.5 cans"),
        ("1.5", "gal", "1.5 gal"),
        (",5", "mm", ".5 mm"),
        ("1 1/2", "gal", "1 1/2 gal"),
        ("½", "gal", "½ gal"),
        ("12 L", "cans", "12 L"),
        ("1,500", "L", "1,500 L"),
        ("", "L", ""),
        ("  ", "L", ""),
    ],
)
def test_amounts_are_put_together_as_the_log_has_them(number: str, unit: str, amount: str) -> None:
    assert amount_text(number, unit) == amount


def test_every_amount_that_is_offered_is_one_the_log_reads(known: Known) -> None:
    for reader in (METRIC, US):
        for place in known.garden.places:
            for unit, words in amount_units(place, known.garden, reader):
                row = LogRow("2017-07-01T07:00", "water", place.name, amount_text("1,5", unit), id="x")
                assert (parse_row(row, known.garden).litres or 0) > 0, (place.name, unit, words)


def test_minutes_are_offered_where_the_flow_is_known_and_cans_where_their_size_is(known: Known) -> None:
    def units(name: str, reader: Reader) -> list[str]:
        return [unit for unit, _ in amount_units(known.garden.place(name), known.garden, reader)]

    assert units("tomato bed", METRIC) == ["min", "L", "cans", "mm"]
    assert units("strawberry bed", US) == ["cans", "gal", "in"]
    assert ("cans", "cans of 9 L") in amount_units(None, known.garden, METRIC)


def test_an_amount_comes_apart_as_it_went_together() -> None:
    assert amount_parts("1.5 cans", COMMA) == ("1,5", "cans")
    assert amount_text(*amount_parts("1.5 cans", COMMA)) == "1.5 cans"
    assert amount_parts("1 can", METRIC) == ("1", "cans")
    assert amount_parts("1 ft 6 in", METRIC) == ("1 ft 6 in", "")
    assert amount_text(*amount_parts("1 ft 6 in", METRIC)) == "1 ft 6 in"
    assert with_unit([("L", "litres")], "h", METRIC) == [("L", "litres"), ("h", "hours")]
    assert with_unit([("L", "litres")], "l", METRIC) == [("L", "litres")]


@pytest.mark.parametrize("amount", ["dry", "moist at 25 cm", "dial 4", "dial 4.5 at 10 in"])
def test_a_reading_comes_apart_as_it_went_together(amount: str) -> None:
    assert reading_text(*reading_parts(amount, COMMA)) == amount


@pytest.mark.parametrize(
    ("entry", "metric", "us"),
    [
        (("water", "00000000", "100 L", ""), "tomato bed got 100 L", "tomato bed got 26 gal"),
        (("water", "00000002", "90 min", ""), "bean rows got 112 L in 1 h 30 min", None),
        (("rain", "", "14 mm", ""), "it rained 14 mm", "it rained 0.55 in"),
        (("reading", "00000002", "moist at 25 cm", ""), "bean rows felt moist at 25 cm", None),
        (("reading", "00000002", "wet", ""), "bean rows felt wet", None),
        (("reading", "00000000", "dial 4,5 at 10 cm", ""), "the dial stood at 4.5 in tomato bed, 10 cm deep", None),
        (("note", "00000000", "", "first red one"), "a note on tomato bed", "a note on tomato bed"),
        (("note", "", "", "frost"), "a note", None),
        (("water", "ffffffff", "2 cans", ""), "old bed got 2 cans", None),
        (("reading", "ffffffff", "dry", ""), "old bed was read: dry", None),
    ],
)
def test_an_entry_is_said_in_the_readers_measures(
    known: Known, entry: tuple[str, str, str, str], metric: str, us: str | None
) -> None:
    kind, place_id, amount, text = entry
    new = NewEntry("x", "2017-07-01T07:00", kind, place_id, amount, text)
    gone = {"ffffffff": "old bed"}
    assert entry_words(new, known, METRIC, gone) == metric
    if us:
        assert entry_words(new, known, US, gone) == us


def test_an_amount_the_garden_can_no_longer_tell_is_said_as_it_was_written(known: Known) -> None:
    new = NewEntry("x", "2017-07-01T07:00", "water", known.id_of("carrot rows"), "20 min")
    assert entry_words(new, known, METRIC) == "carrot rows got 20 min"


def test_times_are_said_from_today() -> None:
    today = date(2017, 7, 8)
    assert when_text("2017-07-08T07:40", today, METRIC) == "today 07:40"
    assert when_text(datetime(2017, 7, 7, 19, 0), today, US) == "yesterday 7:00 pm"
    assert when_text("2017-07-04 06:50", today, METRIC) == "Tue 4 Jul 06:50"
    assert when_text("2016-07-04T06:50", today, METRIC) == "04/07/2016 06:50"


def test_no_time_is_later_than_now() -> None:
    now = datetime(2017, 7, 8, 7, 40, 30)
    assert moment("2017-07-08", "07:40", now) == "2017-07-08T07:40"
    for on, at, field, code in [
        ("2017-07-08", "07:41", "at", "log.future"),
        ("2017-07-09", "06:00", "on", "log.future"),
        ("8/7/2017", "06:00", "on", "log.time"),
        ("2017-07-08", "noon", "at", "log.time"),
        ("2017-07-08", "06:00+02:00", "at", "log.time"),
    ]:
        with pytest.raises(InputError) as caught:
            moment(on, at, now)
        assert (caught.value.field, caught.value.code) == (field, code)


def test_ids_are_their_own() -> None:
    assert len({new_id() for _ in range(100)}) == 100
