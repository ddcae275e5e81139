"""Cells of a weather table: numbers with decimal point or comma, codes for missing, dates in any usual writing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from soakbook.errors import InputError
from soakbook.said import say

#: What stands for "not measured". Numbers are compared as numbers, so -99.900 counts too.
MISSING_WORDS = {
    "", "na", "n/a", "nan", "null", "none", "m", "-", "--", "---", ".", "x", "missing", "nd", "no data", "#n/a",
}  # fmt: skip
MISSING_NUMBERS = {-9999.0, -999.0, -999.9, -99.9, -99.0, -99.99, -6999.0, -7999.0, 99999.0, 9999.0, 999.9}
_BARE = re.compile(r"-?\d+(?:\.\d+)?")  # as nearly all cells are
_TRACE = {"t", "trace"}
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?")
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+")

Numbered = tuple[int, str]  # line number in the file, cell


def uses_decimal_comma(cells: Sequence[str]) -> bool:
    """Whether numbers in these cells are written with a comma: some are, and none has a point."""
    has_comma = any(_DECIMAL_COMMA.fullmatch(c.strip()) for c in cells)
    has_point = any(re.fullmatch(r"[+-]?\d+\.\d+", c.strip()) for c in cells)
    return has_comma and not has_point


def read_number(cell: str, *, decimal_comma: bool, line: int, heading: str) -> float:
    """The number in a cell, NaN where it stands for missing. Rain written as T (trace) is 0."""
    if _BARE.fullmatch(cell):
        value = float(cell)
        return float("nan") if value in MISSING_NUMBERS else value
    text = cell.strip().strip('"').strip().replace("−", "-")
    if text.lower() in MISSING_WORDS:
        return float("nan")
    if text.lower() in _TRACE:
        return 0.0
    plain = text.rstrip("%°*").strip() if not text[-1].isdigit() else text
    if decimal_comma:
        plain = plain.replace(".", "").replace(",", ".") if plain.count(",") == 1 else plain
    elif _THOUSANDS.fullmatch(plain) and "." in plain:
        plain = plain.replace(",", "")
    if not _NUMBER.fullmatch(plain):
        raise InputError(
            say(
                "line {line}: {heading} is {cell}; a number or an empty cell is expected.",
                line=line,
                heading=repr(heading),
                cell=repr(cell.strip()[:40]),
            ),
            code="weather.number",
            field=heading,
            hint=say("Missing values may also be written -9999 or NA."),
        )
    value = float(plain)
    return float("nan") if value in MISSING_NUMBERS else value


_MONTHS = {
    name: i + 1
    for i, names in enumerate(
        ("jan", "feb", "mar mär", "apr avr", "may mai", "jun", "jul", "aug", "sep", "oct okt", "nov", "dec dez")
    )
    for name in names.split()
}
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]+(.*))?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})(?:[T ]?(\d{2}):?(\d{2})?)?")
_NUMERIC = re.compile(r"(\d{1,2})([-/.])(\d{1,2})[-/.](\d{4}|\d{2})(?:,?[T ]+(.*))?")
_DAY_MONTH = re.compile(r"(\d{1,2})[-. ]+([A-Za-zäÄ]{3,9})\.?[-, ]+(\d{4}|\d{2})(?:,?[T ]+(.*))?")
_MONTH_DAY = re.compile(r"([A-Za-zäÄ]{3,9})\.? +(\d{1,2}),? +(\d{4})(?:,?[T ]+(.*))?")
_CLOCK = re.compile(
    r"(\d{1,2})(?:[:hH.](\d{2}))?(?::(\d{2})(?:\.\d+)?)?\s*([AaPp]\.?[Mm]\.?)?\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
)


class Stamps:
    """Dates and times of a column: day-first or month-first is settled by the column as a whole."""

    def __init__(self, cells: Sequence[Numbered], heading: str) -> None:
        self.heading = heading
        self.note = ""
        self.has_zone = False
        self.has_clock = False
        self._day_first = self._settle(cells)
        self.times = [self._read(line, cell, day_first=self._day_first) for line, cell in cells]
        if len({t.tzinfo is None for t in self.times}) == 2:
            raise InputError(
                say("{heading} has times with and without a zone.", heading=repr(heading)),
                code="weather.date",
                field=heading,
            )
        if self.times and self.times[0].tzinfo is not None:
            self.has_zone = True
            self.times = [t.astimezone(UTC).replace(tzinfo=None) for t in self.times]

    def _settle(self, cells: Sequence[Numbered]) -> bool:
        """Whether the first number is the day; writes the note where that had to be found out."""
        split = [(line, m) for line, c in cells if (m := _NUMERIC.fullmatch(c.strip()))]
        if not split:
            return True
        if all(m[2] == "." for _, m in split):
            return True
        day_first = [line for line, m in split if int(m[1]) > 12]
        month_first = [line for line, m in split if int(m[3]) > 12]
        if day_first and month_first:
            raise InputError(
                say(
                    "line {line} has the day first and line {other} the month first in "
                    "{heading}; one order is expected.",
                    line=day_first[0],
                    other=month_first[0],
                    heading=repr(self.heading),
                ),
                code="weather.date",
                field=self.heading,
                hint=say("Write dates as 2024-07-31."),
            )
        if day_first or month_first:
            line = (day_first or month_first)[0]
            order = "day-month-year" if day_first else "month-day-year"
            self.note = f"{self.heading}: dates are {order}, as line {line} shows."
            return bool(day_first)
        return self._by_sequence(cells)

    def _by_sequence(self, cells: Sequence[Numbered]) -> bool:
        """Both orders are possible in every row: that in which the days follow each other is right."""
        spans = []
        for day_first in (True, False):
            days = sorted({self._read(line, cell, day_first=day_first).date() for line, cell in cells})
            spans.append((days[-1] - days[0]).days + 1)
        n_days = len({c.strip()[:10] for _, c in cells})
        if n_days < 2 or spans[0] == spans[1]:
            raise InputError(
                say(
                    "line {line}: {heading} is {cell}, which may be day-month or "
                    "month-day, and no other row settles it.",
                    line=cells[0][0],
                    heading=repr(self.heading),
                    cell=repr(cells[0][1].strip()[:40]),
                ),
                code="weather.date",
                field=self.heading,
                hint=say("Write dates as 2024-07-31."),
            )
        is_day_first = spans[0] < spans[1]
        order = "day-month-year" if is_day_first else "month-day-year"
        self.note = f"{self.heading}: dates are read as {order}, in which the rows follow day by day."
        return is_day_first

    def _read(self, line: int, cell: str, *, day_first: bool) -> datetime:
        text = cell.strip().strip('"').strip()
        try:
            found = self._parse(text, day_first)
        except (ValueError, OverflowError):
            found = None
        if found is None:
            raise InputError(
                say(
                    "line {line}: {heading} is {text}; a date such as 2024-07-31 is expected.",
                    line=line,
                    heading=repr(self.heading),
                    text=repr(text[:40]),
                ),
                code="weather.date",
                field=self.heading,
            )
        return found

    def _parse(self, text: str, day_first: bool) -> datetime | None:
        if m := _ISO.fullmatch(text):
            return self._with_clock(int(m[1]), int(m[2]), int(m[3]), m[4])
        if m := _NUMERIC.fullmatch(text):
            first, second = int(m[1]), int(m[3])
            day, month = (first, second) if day_first else (second, first)
            return self._with_clock(_year(m[4]), month, day, m[5])
        if m := _DAY_MONTH.fullmatch(text):
            return self._with_clock(_year(m[3]), _MONTHS[_month_key(m[2])], int(m[1]), m[4])
        if m := _MONTH_DAY.fullmatch(text):
            return self._with_clock(int(m[3]), _MONTHS[_month_key(m[1])], int(m[2]), m[4])
        # Seconds since 1970; as YYYYMMDDHH it would be a year before 1900.
        if re.fullmatch(r"1[0-8]\d{8}", text):
            self.has_clock = True
            return datetime.fromtimestamp(int(text), UTC)
        if m := _COMPACT.fullmatch(text):
            clock = f"{m[4]}:{m[5] or '00'}" if m[4] else None
            return self._with_clock(int(m[1]), int(m[2]), int(m[3]), clock)
        return None

    def _with_clock(self, year: int, month: int, day: int, clock: str | None) -> datetime:
        date = datetime(year, month, day)
        if not clock or not clock.strip():
            return date
        self.has_clock = True
        return read_clock(date, clock)


def read_clock(date: datetime, text: str) -> datetime:
    """The date at that time of day; ``24:00`` is midnight at its end. ValueError where it is no time."""
    m = _CLOCK.fullmatch(text.strip())
    if m is None:
        raise ValueError(text)
    hour, minute, second = int(m[1]), int(m[2] or 0), int(m[3] or 0)
    if m[4]:
        if not 1 <= hour <= 12:
            raise ValueError(text)
        hour = hour % 12 + (12 if m[4].lower().startswith("p") else 0)
    if hour > 24 or minute > 59 or second > 59 or (hour == 24 and (minute or second)):
        raise ValueError(text)
    at = date + timedelta(hours=hour, minutes=minute, seconds=second)
    if not m[5]:
        return at
    if m[5] in {"Z", "UTC", "GMT"}:
        return at.replace(tzinfo=UTC)
    sign = -1 if m[5][0] == "-" else 1
    offset = timedelta(hours=int(m[5][1:3]), minutes=int(m[5][-2:])) * sign
    return (at - offset).replace(tzinfo=UTC)


def _year(text: str) -> int:
    if len(text) == 4:
        return int(text)
    return 2000 + int(text) if int(text) < 70 else 1900 + int(text)


def _month_key(text: str) -> str:
    key = text.lower()[:3]
    if key not in _MONTHS:
        raise ValueError(text)
    return key
