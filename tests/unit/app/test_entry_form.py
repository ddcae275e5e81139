"""Amounts as they are typed, and what an entry says."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from soakbook.app.desk import Known
from soakbook.app.entry_amount import amount_parts, amount_text
from soakbook.app.entry_form import amount_units, entry_words, new_id, when_text, with_unit
from soakbook.app.entry_in import empty_form, moment
from soakbook.app.reader import Reader
from soakbook.app.reading_form import WHAT, missing_words, reading_text, reading_typed, units
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


@pytest.mark.parametrize(
    "amount",
    [
        "dry", "moist at 25 cm", "dial 4", "dial 4.5 at 10 in by probe 2", "lift heavy", "weight 4.2 kg by kitchen scales",
        "weight 9 lb 4 oz", "tension 25 kPa at 30 cm", "tension 0.25 bar", "sensor 23.5 % at 20 cm", "sensor 0.235 m3/m3",
        "came out below", "nothing came out below", "ran off", "nothing ran off", "wilted at dawn", "not wilted at 4 pm",
        "flow 48 L/h", "flow 1.5 gal/min of the line", "flow 9 L in 4 min", "flow 2 gal in 90 s of the line by the long can",
    ],
)  # fmt: skip
def test_a_reading_comes_apart_as_it_went_together(amount: str) -> None:
    for reader in (METRIC, COMMA, US):
        assert reading_text(empty_form("reading", "") | reading_typed(amount, reader)) == amount


def test_a_form_that_asks_for_feel_or_dial_only_needs_no_word_for_what() -> None:
    form = empty_form("reading", "")
    assert reading_text(form | {"feel": "moist", "depth": "25", "depth_unit": "cm"}) == "moist at 25 cm"
    assert reading_text(form | {"dial": "4,5"}) == "dial 4.5"
    assert reading_text(form) == ""


def test_each_kind_of_reading_takes_its_own_fields_and_says_what_is_missing(known: Known) -> None:
    filled = {
        "feel": "wet", "squeeze": "slightly moist", "dial": "4", "lift": "light", "seen": "no", "weight": "4,2", "weight_unit": "kg", "tension": "25",
        "sensor": "23", "sensor_unit": "%", "flow": "48", "flow_unit": "L/h", "meter": "12345", "meter_unit": "L", "depth": "20", "depth_unit": "cm",
        "by": "box 3",
    }  # fmt: skip
    for what, _, _ in WHAT:
        amount = reading_text(empty_form("reading", "") | filled | {"what": what})
        read = parse_row(LogRow("2017-07-01T07:00", "reading", "patio tomatoes", amount, id="x"), known.garden)
        assert (read.reading, read.instrument) == (what, "box 3")
        assert (read.depth_m is not None) == (what in ("feel", "squeeze", "dial", "tension", "sensor"))
        empty = empty_form("reading", "") | {"what": what, "depth": "20", "depth_unit": "cm"}
        assert reading_text(empty) == ""
        assert str(missing_words(empty)).startswith(("Say", "Write"))


def test_units_of_readings_are_the_readers_own_first() -> None:
    assert [units(name, US)[0][0] for name in ("weight", "flow", "bucket", "time", "sensor")] == [
        "lb",
        "gal/h",
        "gal",
        "min",
        "%",
    ]
    assert [units(name, METRIC)[0][0] for name in ("weight", "flow", "bucket")] == ["kg", "L/h", "L"]


@pytest.mark.parametrize(
    ("entry", "metric", "us"),
    [
        (("water", "00000000", "100 L", ""), "tomato bed got 100 L", "tomato bed got 26 gal"),
        (("water", "00000002", "90 min", ""), "bean rows got 112 L in 1 h 30 min", None),
        (("rain", "", "14 mm", ""), "it rained 14 mm", "it rained 0.55 in"),
        (("reading", "00000002", "moist at 25 cm", ""), "bean rows felt moist at 25 cm", None),
        (("reading", "00000002", "wet", ""), "bean rows felt wet", None),
        (("reading", "00000000", "dial 4,5 at 10 cm", ""), "the dial stood at 4.5 in tomato bed, 10 cm deep", None),
        (
            ("reading", "00000009", "weight 12.34 kg", ""),
            "patio tomatoes weighed 12.34 kg a pot",
            "patio tomatoes weighed 27.21 lb a pot",
        ),
        (("reading", "00000009", "lift light by Ada", ""), "patio tomatoes felt light when lifted (by Ada)", None),
        (
            ("reading", "00000000", "23 % at 10 cm", ""),
            "the sensor showed 23.0 % of water in tomato bed, 10 cm deep",
            None,
        ),
        (("reading", "00000000", "25 cbar", ""), "the tensiometer showed 25 kPa in tomato bed", None),
        (("reading", "00000000", "not wilted at 4 pm", ""), "tomato bed was not wilted at 4 pm", None),
        (("reading", "00000000", "ran off", ""), "water ran off tomato bed", None),
        (("reading", "00000000", "nothing came out below", ""), "no water came out below tomato bed", None),
        (
            ("reading", "00000000", "flow 30 L in 30 min", ""),
            "60 L/h flowed to tomato bed",
            "16 gal/h flowed to tomato bed",
        ),
        (("reading", "00000000", "flow 60 L/h of the line", ""), "60 L/h flowed to north", None),
        (("forget", "00000000", "", "new soil"), "forget what was learnt about tomato bed up to then", None),
        (("forget", "ffffffff", "", ""), "forget what was learnt about old bed up to then", None),
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
