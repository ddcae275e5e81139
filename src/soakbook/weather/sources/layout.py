"""Where a weather table begins, what separates its cells, and what its preamble says of the place."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.series import COLUMNS
from soakbook.weather.sources.headers import Heading, read_heading, split_unit

_DELIMITERS = (";", "\t", ",", "|")
_LOOK_AT_LINES = 60
_LETTER = re.compile(r"[^\W\d_]")
_TIME_ROLES = {"date", "time", "year", "day", "doy"}
_NUMBER = r"([+-]?\d+(?:[.,]\d+)?)"
_FACTS = {
    "lat_deg": re.compile(rf"(?i)\blat(?:itude)?(?:_deg)?[^\w+.-]{{1,4}}{_NUMBER}"),
    "lon_deg": re.compile(rf"(?i)\b(?:lon|lng|long)(?:gitude)?(?:_deg)?[^\w+.-]{{1,4}}{_NUMBER}"),
    "elevation_m": re.compile(rf"(?i)\b(?:elev(?:ation)?|altitude)(?:_m)?(?: ?\(m\))?[^\w+.-]{{1,4}}{_NUMBER}"),
}
_ZONE = re.compile(r"(?i)\btime[ _]?zone\W{1,4}([A-Za-z]+(?:/[A-Za-z_+\-0-9]+)*)")


@dataclass(frozen=True)
class Layout:
    """A table taken apart into cells. ``rows`` holds (line number, cells)."""

    headings: list[Heading]
    rows: list[tuple[int, list[str]]]
    where: Where
    source: str
    notes: list[str]


def find_layout(text: str, name: str) -> Layout:
    """Take a delimited table apart; InputError where no line names columns that are known."""
    lines = text.splitlines()
    found = _heading_line(lines)
    if found is None:
        raise InputError(
            say("{name}: no line names a date and a weather column that is known.", name=name),
            code="weather.heading",
            field=name,
            hint=say("The first line names the columns, such as: date,tmax (°C),tmin (°C),rain (mm),wind 2 m (m/s)."),
        )
    at, delimiter, headings = found
    rows = _rows(lines, at + 1, delimiter, len(headings), name)
    notes: list[str] = []
    if rows and _is_unit_row(rows[0][1], headings):
        headings = [
            read_heading(f"{h.text} ({cell.strip()})") if cell.strip() else h
            for h, cell in zip(headings, rows[0][1], strict=True)
        ]
        notes.append(say("Line {line} gives the units.", line=rows[0][0]))
        rows = rows[1:]
    preamble = "\n".join(lines[:at])
    source = re.search(r"(?im)^#\s*source\s*:\s*(.+)$", preamble)
    return Layout(headings, rows, _place(preamble), source[1].strip() if source else "", notes)


def looks_like_table(head: str) -> bool:
    """Whether a line near the top names a date and a weather column."""
    return _heading_line(head.splitlines()) is not None


def _heading_line(lines: list[str]) -> tuple[int, str, list[Heading]] | None:
    """The line with the most known columns among the first: (index, delimiter, headings)."""
    best: tuple[int, str, list[Heading]] | None = None
    most = 1
    for at, line in enumerate(lines[:_LOOK_AT_LINES]):
        bare = line.lstrip("# ") if line.startswith("#") else line
        if len(bare) > 20_000 or not _LETTER.search(bare):
            continue
        for delimiter in _DELIMITERS:
            if delimiter not in bare:
                continue
            headings = [read_heading(cell) for cell in _split(bare, delimiter)]
            roles = {h.role for h in headings}
            n_weather = len(roles & (set(COLUMNS) | {"temp", "rh"}))
            if roles & _TIME_ROLES and n_weather and n_weather + 1 > most:
                best, most = (at, delimiter, headings), n_weather + 1
    return best


def _split(line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return [cell.lstrip(" ") for cell in line.split(delimiter)] if line else []
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return line.split(delimiter)


def _rows(lines: list[str], start: int, delimiter: str, n_cells: int, name: str) -> list[tuple[int, list[str]]]:
    rows = []
    for number, line in enumerate(lines[start:], start + 1):
        if not line.strip(f" \t{delimiter}") or line.startswith("#"):
            continue
        cells = _split(line, delimiter)
        while len(cells) > n_cells and not cells[-1].strip():
            cells.pop()
        if len(cells) != n_cells:
            raise InputError(
                say(
                    "line {line} has {n} cells where the heading has {wanted}.",
                    line=number,
                    n=len(cells),
                    wanted=n_cells,
                ),
                code="weather.cells",
                field=name,
                hint=say("A line cut short, or a decimal comma in a table separated by commas?"),
            )
        rows.append((number, cells))
    if not rows:
        raise InputError(
            say("{name}: no rows below the heading in line {start}.", name=name, start=start),
            code="weather.empty",
            field=name,
        )
    return rows


def _is_unit_row(cells: list[str], headings: list[Heading]) -> bool:
    """A second line such as ``yyyy-mm-dd;°C;mm`` that gives units."""
    known = 0
    for cell, heading in zip(cells, headings, strict=True):
        if re.search(r"\d{2}", cell):
            return False
        if heading.role in COLUMNS or heading.role in {"temp", "rh"}:
            known += bool(split_unit(f"x ({cell.strip()})")[1])
    return known > 0


def _place(preamble: str) -> Where:
    numbers: dict[str, float | None] = {}
    for key, pattern in _FACTS.items():
        match = pattern.search(preamble)
        numbers[key] = float(match[1].replace(",", ".")) if match else None
    zone = _ZONE.search(preamble)
    return Where(numbers["lat_deg"], numbers["lon_deg"], numbers["elevation_m"], zone[1] if zone else None)
