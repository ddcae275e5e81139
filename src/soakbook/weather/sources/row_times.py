"""When the rows of a weather table are: dates, clocks and zones of its columns."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.sources.cells import Numbered, Stamps, read_clock, read_number
from soakbook.weather.sources.headers import Heading
from soakbook.weather.sources.layout import Layout
from soakbook.weather.zones import clock_to_utc


def table_times(
    layout: Layout, roles: dict[str, int], place: Where, name: str
) -> tuple[NDArray[np.datetime64], int, list[str]]:
    """Times of the rows (local days, or UTC), the step in seconds, and notes."""
    stamps, heading, has_clock, is_utc = _stamps(layout, roles)
    notes: list[str] = [stamps.note] if stamps.note else []
    local = stamps.times
    if "hour" in roles or ("time" in roles and "date" in roles):
        local = _add_clock(layout, roles, local)
        has_clock = True
    step_s = _step_s(local) if has_clock else 86_400
    if step_s > 3600 and step_s < 86_400:
        raise InputError(
            say(
                "{name}: rows are {hours:g} hours apart; days, hours or shorter steps are read.",
                name=name,
                hours=step_s / 3600,
            ),
            code="weather.step",
            field=heading.text,
        )
    if step_s >= 86_400:
        return np.array([t.date() for t in local], dtype="datetime64[D]"), 86_400, notes
    if stamps.has_zone or is_utc:
        return np.array(local, dtype="datetime64[s]"), step_s, [*notes, say("Times are UTC.")]
    if not place.time_zone:
        raise InputError(
            say("{name}: the hourly times in {text} have no time zone.", name=name, text=repr(heading.text)),
            code="weather.zone",
            field="time_zone",
            hint=say("Say where it was measured, or name the column 'time UTC'."),
        )
    utc, said = clock_to_utc(local, place.time_zone, is_standard=heading.is_standard)
    return utc, step_s, [*notes, said]


def _stamps(layout: Layout, roles: dict[str, int]) -> tuple[Stamps, Heading, bool, bool]:
    role = next((r for r in ("date", "year", "time", "day") if r in roles), "")
    if role == "year" and ("doy" in roles or ("month" in roles and "day" in roles)):
        heading = layout.headings[roles["year"]]
        return Stamps(_joined_dates(layout, roles), heading.text), heading, False, heading.is_utc
    if role in {"", "year"}:
        raise InputError(
            say("the columns year, month and day do not make a date together."),
            code="weather.date",
            hint=say("Give a column date, or year, month and day, or year and doy (day of the year)."),
        )
    index = roles[role]
    heading = layout.headings[index]
    stamps = Stamps([(line, cells[index]) for line, cells in layout.rows], heading.text)
    is_utc = heading.is_utc or ("time" in roles and layout.headings[roles["time"]].is_utc)
    return stamps, heading, stamps.has_clock, is_utc


def _joined_dates(layout: Layout, roles: dict[str, int]) -> list[Numbered]:
    dates: list[Numbered] = []
    for line, cells in layout.rows:
        year = _whole(cells, roles, "year", line, layout, 1000, 9999)
        if "doy" in roles:
            doy = _whole(cells, roles, "doy", line, layout, 1, 366)
            at = datetime(year, 1, 1) + timedelta(days=doy - 1)
            dates.append((line, f"{at:%Y-%m-%d}" if year >= 1000 else ""))
        else:
            month = _whole(cells, roles, "month", line, layout, 1, 12)
            day = _whole(cells, roles, "day", line, layout, 1, 31)
            dates.append((line, f"{year:04d}-{month:02d}-{day:02d}"))
    return dates


def _whole(cells: list[str], roles: dict[str, int], role: str, line: int, layout: Layout, low: int, high: int) -> int:
    heading = layout.headings[roles[role]].text
    value = read_number(cells[roles[role]], decimal_comma=False, line=line, heading=heading)
    if not low <= value <= high:
        raise InputError(
            say(
                "line {line}: {heading} is {cell}; {low} to {high} is expected.",
                line=line,
                heading=repr(heading),
                cell=repr(cells[roles[role]].strip()[:20]),
                low=low,
                high=high,
            ),
            code="weather.date",
            field=heading,
        )
    return int(value)


def _add_clock(layout: Layout, roles: dict[str, int], days: list[datetime]) -> list[datetime]:
    role = "time" if "time" in roles else "hour"
    heading = layout.headings[roles[role]].text
    out = []
    for (line, cells), day in zip(layout.rows, days, strict=True):
        text = cells[roles[role]].strip()
        if text.replace(".", "", 1).isdigit() and len(text.split(".")[0]) <= 2 and float(text) <= 24:
            out.append(day + timedelta(hours=float(text)))
            continue
        if text.isdigit() and len(text) in {3, 4}:
            text = f"{text[:-2]}:{text[-2:]}"
        try:
            out.append(read_clock(day, text).replace(tzinfo=None))
        except (ValueError, OverflowError):
            raise InputError(
                say(
                    "line {line}: {heading} is {text}; a time such as 14:30 is expected.",
                    line=line,
                    heading=repr(heading),
                    text=repr(text[:20]),
                ),
                code="weather.date",
                field=heading,
            ) from None
    return out


def _step_s(times: Sequence[datetime]) -> int:
    """The usual distance of rows in seconds, whatever their order."""
    stamps = np.unique(np.array(times, dtype="datetime64[s]").astype(np.int64))
    if len(stamps) < 2:
        return 3600
    values, counts = np.unique(np.diff(stamps), return_counts=True)
    step = int(values[np.argmax(counts)])
    return step if step < 86_400 else 86_400
