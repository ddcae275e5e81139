"""A sensor's values: the file of a logger, and what of a stream becomes a reading."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.garden.readings import parse_reading
from soakbook.garden.sensor import (
    Due,
    Heard,
    Sample,
    Sensor,
    daily_id,
    ended,
    hear,
    mornings,
    parse_payload,
    passed,
    sensor_row,
    sensor_value,
)
from soakbook.garden.sensor_csv import parse_record, parse_time, read_record

ZONE = ZoneInfo("Europe/Amsterdam")
BOX = Sensor("Tomato bed", "m3/m3", 0.2, "box 3")


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


def sample(text: str, value: float) -> Sample:
    return Sample(at(text), value)


# --- a file --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("time,value\n2026-06-01 05:00,23.5\n2026-06-01 06:00,24\n", ("time", "value")),
        ("time;value\n2026-06-01 05:00;23,5\n2026-06-01 06:00;24\n", ("time", "value")),
        ("When\tbatt\tVWC [%]\n2026-06-01T05:00:00\t3.1\t23.5\n2026-06-01T06:00:00\t3.1\t24\n", ("when", "vwc [%]")),
        ("\ufefftime,value\r\n2026/06/01 5:00,23.5\r\n2026/06/01 6:00,24\r\n", ("time", "value")),
        ("box 3, garden\nserial,17\n\ntime,value,note\n2026-06-01 05:00,23.5,\n2026-06-01 06:00,24,ok\n", ("time", "value")),
        ("time,value\n2026-06-01 05:00,23.5\n2026-06-01 05:10,\n2026-06-01 05:20,NaN\n2026-06-01 06:00,24\n", ("time", "value")),
        ("time,value\n2026-06-01T03:00Z,23.5\n2026-06-01T04:00Z,24\n", ("time", "value")),
        ("time,value\n1780282800,23.5\n1780286400,24\n", ("time", "value")),  # 2026-06-01 03:00 and 04:00 UTC
    ],
)  # fmt: skip
def test_a_loggers_file_is_read(text: str, columns: tuple[str, str]) -> None:
    record = parse_record(text, "box.csv", ZONE, "%", *columns)
    assert record.samples == [sample("2026-06-01T05:00", 0.235), sample("2026-06-01T06:00", 0.24)]
    assert record.unused == []


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ("", "sensor.column", 'no column "time"'),
        ("date,value\n2026-06-01 05:00,23\n", "sensor.column", "date, value"),
        ("time,moisture\n2026-06-01 05:00,23\n", "sensor.column", 'no column "value"'),
        ("time,value\n", "sensor.empty", "no values"),
        ("time,value\n2026-06-01 05:00,\n", "sensor.empty", "no values"),
        ("time,value\n01.06.2026 05:00,23\n", "sensor.time", "line 2"),
        ("time,value\n2026-06-01 05:00,wet\n", "sensor.number", "line 2"),
        ("time,value\n2026-06-01 05:00,130\n", "sensor.range", "between 0 and 100 %"),
        ('time,value\n"2026-06-01 05:00,23', "sensor.csv", "line 2"),
    ],
)
def test_a_file_that_cannot_be_used_is_said(text: str, code: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_record(text, "box.csv", ZONE, "%")
    assert caught.value.code == code
    assert says in str(caught.value)


def test_single_lines_that_cannot_be_used_are_told_of_and_skipped() -> None:
    text = "time,value\n2026-06-01 05:00,0.23\nlater,0.24\n2026-06-01 06:00,9\n2026-06-01 07:00,0.25\n"
    record = parse_record(text, "box.csv", ZONE, "m3/m3")
    assert [one.value for one in record.samples] == [0.23, 0.25]
    assert [error.message.split(":")[0] for error in record.unused] == ["box.csv, line 3", "box.csv, line 4"]


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_record(tmp_path / "no.csv", ZONE, "%")
    assert caught.value.code == "sensor.missing"


def test_a_time_that_comes_twice_when_clocks_go_back_is_told_apart_by_its_offset() -> None:
    first, second = (parse_time(f"2026-10-25T02:30{offset}", ZONE) for offset in ("+02:00", "+01:00"))
    assert second.timestamp() - first.timestamp() == 3600.0


# --- one for each morning ------------------------------------------------------------------------------------------
def test_each_morning_gives_its_median() -> None:
    day = [
        sample(f"2026-06-01T{hour:02}:00", value)
        for hour, value in ((3, 0.5), (4, 0.20), (5, 0.26), (7, 0.22), (8, 0.5))
    ]
    (one,) = mornings(day)
    assert one == sample("2026-06-01T05:00", 0.22)


def test_a_day_without_a_morning_gives_its_first_value() -> None:
    days = [sample("2026-06-02T12:00", 0.3), sample("2026-06-02T09:00", 0.2), sample("2026-06-01T06:00", 0.25)]
    assert mornings(days) == [sample("2026-06-01T06:00", 0.25), sample("2026-06-02T09:00", 0.2)]


def test_the_same_morning_has_the_same_id_whatever_its_value() -> None:
    row = sensor_row(BOX, sample("2026-06-01T05:00", 0.2314))
    again = sensor_row(BOX, sample("2026-06-01T06:00", 0.3))
    assert row.id == again.id == daily_id(BOX, at("2026-06-01T05:00").date())
    assert (row.at, row.kind, row.place) == ("2026-06-01T05:00", "reading", "Tomato bed")
    read = parse_reading(row.amount)
    assert (read.reading, read.value, read.depth_m, read.instrument) == ("sensor", 0.2314, 0.2, "box 3")
    others = {
        daily_id(s, at("2026-06-01T05:00").date()) for s in (BOX, Sensor("Tomato bed"), Sensor("Tomato bed", "kPa"))
    }
    assert len(others) == 3


# --- a stream ------------------------------------------------------------------------------------------------------
def written(samples: list[Sample], kind: str = "sensor") -> list[Due]:
    heard, due = Heard(), []
    for one in samples:
        heard, more = hear(heard, one, kind)  # type: ignore[arg-type]
        due += more
    return due + ended(heard)[1]


def test_a_calm_sensor_is_written_down_once_a_day() -> None:
    begin = at("2026-06-01T00:00")
    stream = [Sample(begin + timedelta(minutes=10 * k), 0.25 + 0.0001 * (k % 7)) for k in range(6 * 24 * 3)]
    due = written(stream)
    assert [one.sample.at.date().day for one in due] == [1, 2, 3]
    assert all(4 <= one.sample.at.hour < 8 and not one.is_jump for one in due)


def test_a_jump_is_written_as_well_and_not_more_than_one_an_hour() -> None:
    calm = [sample(f"2026-06-01T{hour:02}:00", 0.20) for hour in range(4, 12)]
    wet = [sample(f"2026-06-01T12:{minute:02}", 0.20 + minute / 100) for minute in (5, 10, 15, 20)]
    due = written([*calm, *wet, sample("2026-06-01T14:00", 0.41)])
    assert [(one.sample.at.strftime("%H:%M"), one.is_jump) for one in due] == [
        ("06:00", False), ("12:05", True), ("14:00", True)
    ]  # fmt: skip


def test_a_tensiometer_jumps_by_ratio() -> None:
    calm = [sample(f"2026-06-01T{hour:02}:00", 20.0) for hour in range(4, 10)]
    assert len(written([*calm, sample("2026-06-01T15:00", 28.0)], "tension")) == 1
    assert len(written([*calm, sample("2026-06-01T15:00", 31.0)], "tension")) == 2


def test_the_morning_is_written_when_it_is_over_though_nothing_more_comes() -> None:
    heard, due = hear(Heard(), sample("2026-06-01T06:00", 0.2))
    assert due == []
    heard, due = passed(heard, at("2026-06-01T07:59"))
    assert due == []
    heard, due = passed(heard, at("2026-06-01T08:00"))
    assert due == [Due(sample("2026-06-01T06:00", 0.2))]
    assert passed(heard, at("2026-06-01T09:00"))[1] == []


def test_a_sensor_that_first_speaks_at_noon_is_written_then() -> None:
    assert written([sample("2026-06-01T12:00", 0.2), sample("2026-06-01T13:00", 0.2)]) == [
        Due(sample("2026-06-01T12:00", 0.2))
    ]


streams = st.lists(
    st.tuples(st.integers(1, 600), st.floats(0.05, 0.5).map(lambda v: round(v, 3))), min_size=1, max_size=60
)


@given(streams)
def test_no_day_has_two_readings_of_its_own_and_jumps_are_an_hour_apart(steps: list[tuple[int, float]]) -> None:
    now, stream = at("2026-06-01T00:00"), []
    for minutes, value in steps:
        now += timedelta(minutes=minutes)
        stream.append(Sample(now, value))
    due = written(stream)
    days = [one.sample.at.date() for one in due if not one.is_jump]
    assert len(days) == len(set(days))
    jumps = [one.sample.at for one in due if one.is_jump]
    assert all(b - a >= timedelta(hours=1) for a, b in pairwise(jumps))
    low, high = min(s.value for s in stream), max(s.value for s in stream)
    assert all(low <= one.sample.value <= high for one in due)


# --- messages ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("payload", "key", "number"),
    [
        (b"0.23", "", 0.23),
        (b" 23,5 % \n", "", 23.5),
        (b"2.3e1", "", 23.0),
        (b'{"moisture": 0.23, "battery": 3.1}', "moisture", 0.23),
        (b'{"soil": {"vwc": "23.5"}}', "soil.vwc", 23.5),
        (b'{"n": 23}', "n", 23.0),
    ],
)
def test_a_message_has_a_number(payload: bytes, key: str, number: float) -> None:
    assert parse_payload(payload, key) == number


@pytest.mark.parametrize(
    ("payload", "key", "code"),
    [
        (b"", "", "sensor.number"),
        (b"offline", "", "sensor.number"),
        (b"nan", "", "sensor.number"),
        (b"\xff\xfe", "", "sensor.number"),
        (b"0.23", "moisture", "sensor.payload"),
        (b"{", "moisture", "sensor.payload"),
        (b"[" * 60_000, "moisture", "sensor.payload"),
        (b'{"moisture": true}', "moisture", "sensor.payload"),
        (b'{"moisture": null}', "moisture", "sensor.payload"),
        (b'{"moist": 1}', "moisture", "sensor.payload"),
        (b'{"moisture": {"x": 1}}', "moisture", "sensor.payload"),
        (b"1" * 70_000, "", "sensor.payload"),
    ],
)
def test_a_message_without_one_is_said(payload: bytes, key: str, code: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_payload(payload, key)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("number", "unit"), [(-0.01, "m3/m3"), (1.2, "m3/m3"), (101.0, "%"), (2000.0, "kPa"), (float("nan"), "%")]
)
def test_a_number_no_sensor_shows_is_refused(number: float, unit: str) -> None:
    with pytest.raises(InputError, match="must be between"):
        sensor_value(number, unit)  # type: ignore[arg-type]


@given(
    st.one_of(st.binary(max_size=60), st.text("0123456789.,eE+-%naif ", max_size=12).map(str.encode)),
    st.sampled_from(["", "a", "a.b"]),
)
def test_whatever_comes_is_a_number_or_an_error_of_ours(payload: bytes, key: str) -> None:
    try:
        value = sensor_value(parse_payload(payload, key), "%")
    except InputError:
        return
    assert 0.0 <= value <= 1.0


@given(st.text('timevalu,;\t\n"0123456789-: .T', max_size=80).map(lambda text: "time,value\n" + text))
def test_whatever_a_logger_wrote_is_a_record_or_an_error_of_ours(text: str) -> None:
    try:
        record = parse_record(text, "box.csv", ZONE, "%")
    except InputError:
        return
    assert record.samples
