"""The file of a logger: times and values in columns that the grower names."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from soakbook.errors import InputError
from soakbook.garden.disk import read_text
from soakbook.garden.log import LogRow
from soakbook.garden.sensor import Sample, Sensor, Unit, mornings, parse_number, sensor_row, sensor_value
from soakbook.garden.words import nearest, some
from soakbook.said import say

MAX_BYTES = 50_000_000
#: Lines before the names of the columns: a logger may begin with what it is called. Judged.
MOST_PREAMBLE = 40
#: What a logger writes where it has no value. Common practice.
_NOTHING = {"", "nan", "na", "n/a", "null", "none", "-", "--", "---", "-999", "-9999", "-999.0", "-9999.0"}


@dataclass(frozen=True)
class Record:
    """What a logger's file holds: its samples, how many lines had no value, and what was wrong with others."""

    samples: list[Sample]
    empty: int
    unused: list[InputError]


def read_record(path: Path, zone: ZoneInfo, unit: Unit, time: str = "time", value: str = "value") -> Record:
    """Read a file of times and values.

    Parameters
    ----------
    path
        Values apart by commas, semicolons or tabs; the names of the columns come first, or after a few lines of something else.
    zone
        The garden's zone: times without an offset are local.
    unit
        Of the values.
    time, value
        Names of the columns. Times as ``2026-06-01 07:30`` or in seconds since 1970.

    Raises
    ------
    InputError
        The file or a column is not there, or no line of it can be used. Single lines that cannot are told of in ``unused``.
    """
    text = read_text(path, "sensor", MAX_BYTES)
    return parse_record(text, path.name, zone, unit, time, value)


def parse_record(text: str, name: str, zone: ZoneInfo, unit: Unit, time: str = "time", value: str = "value") -> Record:
    """As :func:`read_record`, of the text of a file called ``name``."""
    rows = _rows(text.removeprefix("\ufeff"), name, time, value)
    at_column, value_column, first = _columns(rows, name, time, value)
    samples, unused, empty = [], [], 0
    for line, cells in rows[first:]:
        if not any(cell.strip() for cell in cells):
            continue
        try:
            given = _cell(cells, value_column)
            if given.strip().casefold() in _NOTHING:
                empty += 1
                continue
            samples.append(Sample(parse_time(_cell(cells, at_column), zone), sensor_value(parse_number(given), unit)))
        except InputError as error:
            unused.append(_at_line(error, name, line))
    if not samples:
        if unused:
            raise unused[0]
        raise InputError(say("{name} has no values.", name=name), code="sensor.empty", field="file")
    return Record(samples, empty, unused)


def record_rows(record: Record, sensor: Sensor, now: datetime, since: date = date.min) -> list[LogRow]:
    """The lines of the log that a record makes: one for each morning from ``since`` on. What has not come yet is left out: then the
    clock of the logger is wrong."""
    kept = [one for one in record.samples if one.at.date() >= since and one.at <= now]
    if record.samples and not kept:
        first, last = record.samples[0].at, record.samples[-1].at
        raise InputError(
            say(
                "no value is from the days that are wanted: they run from {first} to {last}.",
                first=first.date(),
                last=last.date(),
            ),
            code="sensor.days",
            field="file",
        )
    return [sensor_row(sensor, one) for one in mornings(kept)]


def _rows(text: str, name: str, time: str, value: str) -> list[tuple[int, list[str]]]:
    """Lines with their numbers, cut at the mark that is most frequent where the columns are named."""
    named = next((ln for ln in text.splitlines()[:MOST_PREAMBLE] if _has(ln, time) and _has(ln, value)), text[:1000])
    mark = max(",;\t", key=named.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        return [(reader.line_num, cells) for cells in reader]
    except csv.Error as exc:
        raise InputError(
            say("{name}, line {line}: it cannot be read as a table: {why}.", name=name, line=reader.line_num, why=exc),
            code="sensor.csv",
            field="file",
        ) from exc


def _has(line: str, column: str) -> bool:
    return column.strip().casefold() in line.casefold()


def _columns(rows: list[tuple[int, list[str]]], name: str, time: str, value: str) -> tuple[int, int, int]:
    """Where times and values stand, and the first row after the names."""
    wanted = [column.strip().casefold() for column in (time, value)]
    for number, (_, cells) in enumerate(rows[:MOST_PREAMBLE]):
        names = [cell.strip().casefold() for cell in cells]
        if all(column in names for column in wanted):
            return names.index(wanted[0]), names.index(wanted[1]), number + 1
    heads = [cells for _, cells in rows[:MOST_PREAMBLE] if any(cell.strip() for cell in cells)]
    head = [cell.strip() for cell in max(heads, key=len, default=[])]
    missing = time if wanted[0] not in [cell.casefold() for cell in head] else value
    raise InputError(
        say('{name} has no column "{missing}".', name=name, missing=missing[:40]),
        code="sensor.column",
        field="time" if missing == time else "value",
        hint=nearest(missing, head) or say("Its columns: {columns}.", columns=some(head or ["-"])),
    )


def _cell(cells: Sequence[str], column: int) -> str:
    return cells[column] if column < len(cells) else ""


def parse_time(text: str, zone: ZoneInfo) -> datetime:
    """A time of a logger in the garden's zone: local without an offset, or seconds since 1970."""
    plain = text.strip().replace("/", "-")
    try:
        if re.fullmatch(r"\d{9,11}(\.\d+)?", plain):
            at = datetime.fromtimestamp(float(plain), UTC)
        elif re.match(r"\d{4}-\d{2}-\d{2}[T ]\d{1,2}:\d{2}", plain):
            at = datetime.fromisoformat(re.sub(r"[T ](\d):", r"T0\1:", plain))
        else:
            raise ValueError
        local = at.replace(tzinfo=zone) if at.tzinfo is None else at.astimezone(zone)
        if not 1900 <= local.year <= 2200:
            raise ValueError
    except (ValueError, OverflowError):
        raise InputError(
            say('"{text}" is not a date and time.', text=text.strip()[:40]),
            code="sensor.time",
            field="time",
            hint=say("Year-month-day hour:minute, such as 2026-06-01 07:30, or seconds since 1970."),
        ) from None
    return local


def _at_line(error: InputError, name: str, line: int) -> InputError:
    return InputError(
        say("{name}, line {line}: {message}", name=name, line=line, message=error.message),
        code=error.code,
        field=error.field,
        hint=error.hint,
    )
