"""What the readers of typical-year files share: hours that end at their stamp, years that are pieced together."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.sources.cells import read_number


def one_year(starts: list[datetime], notes: list[str]) -> list[datetime]:
    """The hours put in one year, that of the first row.

    A typical year takes each month from another year; in time order they would lie years apart. 29 February is left out
    of such files; where the first row's year is a leap year the year after it serves.
    """
    years = sorted({t.year for t in starts[:-1]}) or [starts[0].year]
    if len(years) == 1:
        return starts
    year = starts[0].year
    if _is_leap(year) and not any(t.month == 2 and t.day == 29 for t in starts):
        year += 1
    notes.append(
        say(
            "A typical year of months from {first} to {last}; shown as the year {year}.",
            first=years[0],
            last=years[-1],
            year=year,
        )
    )
    try:
        return [t.replace(year=year) for t in starts]
    except ValueError:
        raise InputError(
            say("a typical year of several years has a 29 February."), code="weather.date", field="date"
        ) from None


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def utc_of_standard(starts: list[datetime], offset_h: float) -> NDArray[np.datetime64]:
    """UTC of local standard times that are that many hours ahead of UTC."""
    return np.array([t - timedelta(hours=offset_h) for t in starts], dtype="datetime64[s]")


def number(cell: str, line: int, heading: str, *, missing: float | None = None) -> float:
    """A number of a fixed format, NaN at its missing code."""
    value = read_number(cell, decimal_comma=False, line=line, heading=heading)
    return float("nan") if missing is not None and value >= missing else value


def header_number(cells: list[str], at: int, what: str) -> float:
    """A number of the first line; InputError that names line 1."""
    text = cells[at].strip() if at < len(cells) else ""
    value = number(text, 1, what)
    if not np.isfinite(value):
        raise InputError(say("line 1: {what} is missing.", what=what), code="weather.place", field=what)
    return value
