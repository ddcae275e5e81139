"""Readings as they are written in the log, and back."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.garden.file import read_garden
from soakbook.garden.log import LogRow, append_entries, append_entry, parse_row, read_log, remove_entry
from soakbook.garden.model import FEELS, SQUEEZES, Garden, LogEntry
from soakbook.garden.readings import DEEP, LIFTS, OF_LINE, RANGES, SEEN, Read, flow_at, parse_reading, reading_amount
from soakbook.learning import reading as learning
from tests.known import KNOWN

DATA = Path(__file__).parents[1] / "data" / "broken"


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(DATA / "garden.toml", KNOWN)


@pytest.mark.parametrize(
    ("written", "kind", "value"),
    [
        ("dry", "feel", 0),
        ("Moist", "feel", 1),
        ("wet", "feel", 2),
        # The classes of USDA NRCS, Estimating soil moisture by feel and appearance, percent scale, from dry to above field capacity.
        ("squeezed dry", "squeeze", 0),
        ("squeezed slightly moist", "squeeze", 1),
        ("Squeezed  Moist", "squeeze", 2),
        ("squeezed wet", "squeeze", 3),
        ("squeezed full", "squeeze", 4),
        ("squeezed dripping", "squeeze", 5),
        ("light", "lift", 0),
        ("lift middling", "lift", 1),
        ("lift heavy", "lift", 2),
        ("dial 4", "dial", 4),
        ("dial 4,5", "dial", 4.5),
        ("tension 25 kPa", "tension", 25),
        ("25 cbar", "tension", 25),  # 1 cbar is 1 kPa (NIST SP 811: 1 bar is 100 kPa)
        ("tension 0.5 bar", "tension", 50),
        ("sensor 0.23", "sensor", 0.23),
        ("sensor 23 %", "sensor", 0.23),
        ("23,5 %", "sensor", 0.235),
        ("0.31 m³/m³", "sensor", 0.31),
        ("weight 4.2 kg", "weight", 4.2),
        ("9 lb", "weight", 4.08233133),  # NIST SP 811: 1 lb is 0.453 592 37 kg
        ("weight 9 lb 4 oz", "weight", 4.195729423),  # 16 oz to the pound
        ("flow 48 L/h", "flow", 48),
        ("12 gal/h", "flow", 45.424944),  # NIST SP 811: gallon (US) 3.785 412 L
        ("9 L in 4 min", "flow", 135),  # 9 L * 60 / 4
        ("flow 2 gal in 90 s", "flow", 302.83296),
        ("meter 12345 L", "meter", 12345),
        ("meter 12.345 m3", "meter", 12345),
        ("meter 3260 gal", "meter", 12340.44),  # NIST SP 811: gallon (US) 3.785 412 L
        ("came out below", "came out below", 1),
        ("water came out below", "came out below", 1),
        ("nothing came out below", "came out below", 0),
        ("ran off", "ran off", 1),
        ("nothing ran off", "ran off", 0),
        ("wilted at dawn", "wilted at dawn", 1),
        ("not wilted at dawn", "wilted at dawn", 0),
        ("wilted at 4 pm", "wilted at 4 pm", 1),
        ("not wilted at 4 pm", "wilted at 4 pm", 0),
    ],
)
def test_a_reading_is_read(written: str, kind: str, value: float) -> None:
    read = parse_reading(written)
    assert read.reading == kind
    assert read.value == pytest.approx(value, rel=1e-6)
    assert (read.depth_m, read.instrument, read.of_line) == (None, "", False)


@pytest.mark.parametrize(
    ("written", "depth_m", "instrument"),
    [
        ("moist at 25 cm", 0.25, ""),
        ("squeezed slightly moist at 12 cm", 0.12, ""),
        ("squeezed full at 5 in by my left hand", 0.127, "my left hand"),
        ("dial 4 at 10 cm by probe 2", 0.10, "probe 2"),
        ("dial 4 by Probe 2 at 10 cm", 0.10, "Probe 2"),
        ("sensor 23 % at 8 in", 0.2032, ""),
        ("wilted at 4 pm by the neighbour", None, "the neighbour"),
        ("weight 4 kg by kitchen scales", None, "kitchen scales"),
    ],
)
def test_depth_and_instrument_follow(written: str, depth_m: float | None, instrument: str) -> None:
    read = parse_reading(written)
    assert read.depth_m == (pytest.approx(depth_m) if depth_m is not None else None)
    assert read.instrument == instrument


@pytest.mark.parametrize(
    ("written", "code", "says"),
    [
        ("", "log.amount.reading", "weight 4.2 kg"),
        ("damp", "log.amount.reading", "is not a reading"),
        ("squeezed", "log.amount.reading", '"squeezed" is none of the six ways'),
        ("squeezed soggy", "log.amount.reading", "dry, slightly moist, moist, wet, full or dripping"),
        ("squeezed wet at 4 m", "log.amount.depth", "3 m deep"),
        ("squeezed wet of the line", "log.amount.reading", "is not a reading"),
        ("dial 11", "log.amount.reading", "0 to 10"),
        ("moist at 4 m", "log.amount.depth", "3 m deep"),
        ("moist at 25", "unit.missing", "25 cm"),
        ("weight 4 kg at 10 cm", "log.amount.depth", "not taken at a depth"),
        ("weight 4 L", "unit.wrong_kind", "kg"),
        ("weight 4", "unit.missing", "kg"),
        ("weight 0 kg", "log.amount.range", "between 0.01 and 1000 kg"),
        ("tension 3000 kPa", "log.amount.range", "1500 kPa"),
        ("sensor 23", "log.amount.range", "percent"),
        ("sensor much", "log.amount.reading", "sensor 0.23"),
        ("12 L", "log.amount.reading", "flow 48 L/h"),
        ("flow 9 L in 0 min", "log.amount.range", "more than 0"),
        ("flow 9 kg in 4 min", "unit.wrong_kind", "L"),
        ("moist of the line", "log.amount.reading", "is not a reading"),
        ("dial 4 by " + "x" * 41, "log.amount.instrument", "40 characters"),
        ("ran off at 10 cm", "log.amount.depth", "not taken at a depth"),
        ("ran off of the line", "log.amount.reading", "is not a reading"),
    ],
)
def test_what_is_no_reading_is_said(written: str, code: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_reading(written)
    assert (caught.value.code, caught.value.field) == (code, "amount")
    assert says in str(caught.value)


numbers = {kind: st.floats(low, high).map(lambda v: round(v, 6)) for kind, (low, high) in RANGES.items()}
values = st.one_of(
    st.tuples(st.just("feel"), st.integers(0, 2)),
    st.tuples(st.just("squeeze"), st.integers(0, 5)),
    st.tuples(st.just("lift"), st.integers(0, 2)),
    st.tuples(st.sampled_from(list(SEEN)), st.integers(0, 1)),
    st.tuples(st.just("dial"), st.integers(0, 100).map(lambda v: v / 10)),
    *(st.tuples(st.just(kind), some.filter(lambda v, low=RANGES[kind][0]: v >= low)) for kind, some in numbers.items() if kind != "dial"),
)  # fmt: skip


@given(values, st.none() | st.integers(0, 300), st.sampled_from(["", "probe 2", "Ündine", "box-3"]), st.booleans())
def test_what_is_written_reads_back(value: tuple[str, float], cm: int | None, by: str, line: bool) -> None:
    kind, number = value
    depth_m = cm / 100 if cm is not None and kind in DEEP else None
    read = Read(kind, float(number), depth_m, by, line and kind in OF_LINE)  # type: ignore[arg-type]
    assert parse_reading(reading_amount(read)) == read


def test_the_log_and_what_learns_from_it_take_the_same_values() -> None:
    for kind, (low, high) in RANGES.items():
        if kind in learning.RANGES:
            least, most = learning.RANGES[kind]
            assert least <= low < high <= most
    assert {k for k, (low, high) in learning.RANGES.items() if (low, high) == (0, 2)} == {"feel", "lift"}
    assert (len(FEELS), len(LIFTS)) == (3, 3)
    assert learning.RANGES["squeeze"] == (0, len(SQUEEZES) - 1)
    assert {kind for kind in SEEN if kind in learning.RANGES} == set(SEEN)


def entry(amount: str, place: str, garden: Garden) -> LogEntry:
    return parse_row(LogRow("2026-06-05T07:00", "reading", place, amount, "", "r1"), garden)


def test_only_pots_are_lifted_and_weighed(garden: Garden) -> None:
    pot = next(place.name for place in garden.places if place.pot is not None)
    assert entry("weight 4 kg", pot, garden).value == 4.0
    for amount in ("weight 4 kg", "lift heavy"):
        with pytest.raises(InputError) as caught:
            entry(amount, "Tomato bed", garden)
        assert caught.value.code == "log.amount.pot"


def test_a_flow_is_of_a_place_or_of_its_line(garden: Garden) -> None:
    tomato, salad = garden.place("Tomato bed"), garden.place("Salad bed")
    own = entry("flow 20 L/h", "Tomato bed", garden)
    assert (own.place, own.line) == ("Tomato bed", "")
    assert (flow_at(own, tomato), flow_at(own, salad)) == (20.0, None)
    line = entry("flow 34 L/h of the line", "Tomato bed", garden)
    assert (line.place, line.line) == ("", tomato.line)
    assert flow_at(line, tomato) == pytest.approx(0.7 * 34.0)
    assert flow_at(line, salad) == pytest.approx(0.3 * 34.0)
    off = next(place.name for place in garden.places if place.line is None)
    with pytest.raises(InputError, match="on no line"):
        entry("flow 34 L/h of the line", off, garden)
    assert flow_at(entry("moist", "Tomato bed", garden), tomato) is None


def test_forget_is_of_a_place_and_says_nothing_more(garden: Garden) -> None:
    row = LogRow("2026-06-05T07:00", "forget", "Tomato bed", "", "new soil", "f1")
    assert parse_row(row, garden) == LogEntry("f1", parse_row(row, garden).at, "forget", "Tomato bed", text="new soil")
    for wrong, code in ((replace(row, place=""), "log.place"), (replace(row, amount="12 L"), "log.amount")):
        with pytest.raises(InputError) as caught:
            parse_row(wrong, garden)
        assert caught.value.code == code


def test_readings_and_forgetting_are_kept_and_taken_out(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    rows = [
        LogRow("2026-06-05T07:00", "reading", "Tomato bed", "sensor 23 % at 20 cm by box 3"),
        LogRow("2026-06-06T07:00", "forget", "Tomato bed"),
        LogRow("2026-06-07T07:00", "reading", "Tomato bed", "not wilted at dawn"),
    ]
    written = [entry for entry, _ in append_entries(file, rows, garden)]
    assert read_log(file, garden) == written
    assert remove_entry(file, written[1].id, garden) == written[1]
    assert read_log(file, garden) == [written[0], written[2]]
    before = file.read_bytes()
    with pytest.raises(InputError, match="no entry"):
        remove_entry(file, written[1].id, garden)
    assert file.read_bytes() == before


def test_several_lines_are_kept_all_or_none(garden: Garden, tmp_path: Path) -> None:
    file = tmp_path / "garden.log.csv"
    good = LogRow("2026-06-05T07:00", "reading", "Tomato bed", "moist", "", "a")
    with pytest.raises(InputError):
        append_entries(file, [good, replace(good, id="b", amount="damp")], garden)
    assert not file.exists()
    append_entry(file, good, garden)
    other = replace(good, amount="dry")
    with pytest.raises(InputError, match="another entry"):
        append_entries(file, [other], garden)
    ((kept, is_new),) = append_entries(file, [other], garden, known_stay=True)
    assert (kept.feel, is_new) == ("moist", False)


def test_old_words_for_what_was_read_still_hold() -> None:
    at = datetime(2026, 6, 5, 7)
    assert LogEntry("1", at, "reading", "x", reading="feel", value=1.0).feel == "moist"
    assert LogEntry("1", at, "reading", "x", reading="dial", value=4.0).dial == 4.0
    weighed = LogEntry("1", at, "reading", "x", reading="weight", value=4.0)
    assert (weighed.feel, weighed.dial) == (None, None)


words = st.sampled_from(
    [
        "moist",
        "squeezed",
        "slightly",
        "dial",
        "4",
        "at",
        "by",
        "25",
        "cm",
        "weight",
        "kg",
        "lb",
        "wilted",
        "pm",
        "flow",
        "in",
        "min",
        "L",
        "of the line",
        "%",
        "½",
        ",",
        "-1",
    ]
)


@given(st.one_of(st.text(max_size=40), st.lists(words, max_size=7).map(" ".join)))
def test_whatever_is_written_is_a_reading_or_an_error_of_ours(amount: str) -> None:
    try:
        read = parse_reading(amount)
    except InputError:
        return
    assert parse_reading(reading_amount(replace(read, value=round(read.value, 6)))).reading == read.reading
