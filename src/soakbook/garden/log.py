"""The log: what was watered and what rained, as CSV beside the garden file.

One line an entry: ``id, at, kind, place, amount, text``. Times are local to the garden. Amounts carry their
unit, so that the file stays readable by hand. Lines are added by writing the whole file anew and putting it
in the old one's place, so that no crash leaves half a line.
"""

from __future__ import annotations

import csv
import io
import os
import re
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from soakbook.errors import InputError, InputErrors
from soakbook.garden.disk import locked, read_text, replace_text
from soakbook.garden.model import Garden, Line, LogEntry, LogKind, Place
from soakbook.garden.readings import check_read, parse_reading
from soakbook.garden.words import nearest, plain, some
from soakbook.said import Measure, join_said, say
from soakbook.units import parse_one_of

COLUMNS = ("id", "at", "kind", "place", "amount", "text")
KINDS = ("water", "rain", "reading", "note", "forget")
MAX_BYTES = 20_000_000
MAX_WATER_L = 100_000.0
#: Watered by the hose where the place is on no line.
BY_HOSE = ("wand", "basin", "furrow", "sprinkler")
#: More than the most ever recorded in a day, 1825 mm (World Meteorological Organization; from memory).
MAX_RAIN_MM = 1900.0


@dataclass(frozen=True)
class LogRow:
    """One line of the log as it is written. ``at`` is local, such as ``2026-06-01T07:30``."""

    at: str
    kind: str
    place: str = ""
    amount: str = ""
    text: str = ""
    id: str = ""

    def cells(self) -> dict[str, str]:
        """The row by column."""
        return {name: getattr(self, name) for name in COLUMNS}


def log_path(garden_path: str | Path) -> Path:
    """Where the log of a garden file stands: ``garden.toml`` has ``garden.log.csv``."""
    path = Path(garden_path)
    return path.with_name(f"{path.stem}.log.csv")


def read_log(path: str | Path, garden: Garden) -> list[LogEntry]:
    """Read a garden's log, by time.

    Parameters
    ----------
    path
        The CSV file. None yet is an empty log.
    garden
        The garden it belongs to: names of places, flows and areas turn amounts into litres.

    Returns
    -------
    list of LogEntry
        ``at`` carries the garden's time zone. An id that comes twice counts once.

    Raises
    ------
    InputError
        Naming file, line and column; :class:`~soakbook.errors.InputErrors` when there are several.
    """
    file = Path(path)
    text = _text(file)
    entries: dict[str, LogEntry] = {}
    errors: list[InputError] = []
    for line, row in rows_in(text, file.name):
        try:
            entry = parse_row(row, garden)
            if entries.setdefault(entry.id, entry) != entry:
                raise InputError(
                    say('"{id}" is the id of another entry.', id=entry.id), code="log.id.twice", field="id"
                )
        except InputError as error:
            errors.append(_at_line(error, file.name, line))
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise InputErrors(errors, code="log.several")
    return sorted(entries.values(), key=lambda entry: (entry.at, entry.id))


def _at_line(error: InputError, name: str, line: int) -> InputError:
    return InputError(
        say("{name}, line {line}, {field}: {message}", name=name, line=line, field=error.field, message=error.message),
        code=error.code,
        field=error.field,
        hint=error.hint,
    )


def _text(file: Path) -> str:
    try:
        return read_text(file, "log", MAX_BYTES)
    except InputError as error:
        if error.code == "log.missing":
            return ""
        raise


def rows_in(text: str, name: str) -> Iterator[tuple[int, LogRow]]:
    """The rows of the file with the line each begins on."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] | None = None
    begins = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as exc:
            raise InputError(
                say(
                    "{name}, line {line}: it cannot be read as comma-separated values: {why}.",
                    name=name,
                    line=begins,
                    why=exc,
                ),
                code="log.csv",
                field=f"line {begins}",
                hint=say("A text with a comma or a quotation mark goes in double quotes, all closed."),
            ) from exc
        line, begins = begins, reader.line_num + 1
        if not any(cell.strip() for cell in cells):
            continue
        if header is None:
            header = _header(cells, name, line)
            continue
        if len(cells) != len(header):
            raise InputError(
                say(
                    "{name}, line {line}: it has {n} values; {wanted} are wanted.",
                    name=name,
                    line=line,
                    n=len(cells),
                    wanted=len(header),
                ),
                code="log.columns",
                field=f"line {line}",
                hint=say("Columns: {header}. A text with a comma goes in double quotes.", header=", ".join(header)),
            )
        yield line, LogRow(**{k: v.strip() for k, v in zip(header, cells, strict=True)})


def _header(cells: list[str], name: str, line: int) -> list[str]:
    header = [cell.strip().lower() for cell in cells]
    for column in header:
        if column not in COLUMNS:
            raise InputError(
                say(
                    '{name}, line {line}: the column "{column}" is not known.', name=name, line=line, column=column[:40]
                ),
                code="log.header",
                field="header",
                hint=join_said(
                    [nearest(column, COLUMNS), say("The first line must be: {columns}", columns=",".join(COLUMNS))]
                ),
            )
    if sorted(header) != sorted(COLUMNS):
        raise InputError(
            say(
                "{name}, line {line}: the columns {header} are not the wanted ones.",
                name=name,
                line=line,
                header=", ".join(header),
            ),
            code="log.header",
            field="header",
            hint=say("The first line must be: {columns}", columns=",".join(COLUMNS)),
        )
    return header


def parse_row(row: LogRow, garden: Garden) -> LogEntry:
    """Check one row and turn its amount into litres or mm; InputError names the column in ``field``."""
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", row.id):
        raise InputError(
            say('"{id}" must be 1 to 64 letters, digits, - or _.', id=row.id[:64]), code="log.id", field="id"
        )
    at = _time(row.at, garden)
    if row.kind not in KINDS:
        raise InputError(
            say('"{kind}" must be one of {kinds}.', kind=row.kind[:40], kinds=", ".join(KINDS)),
            code="log.kind",
            field="kind",
            hint=nearest(row.kind, KINDS),
        )
    kind = cast(LogKind, row.kind)
    place = _place(row.place, garden) if row.place else None
    if kind == "water":
        if place is None:
            raise InputError(say('"place" is missing.'), code="log.place", field="place")
        litres, minutes = water_litres(row.amount, place, garden)
        return LogEntry(row.id, at, kind, place.name, litres=litres, minutes=minutes, text=row.text)
    if kind == "rain":
        if place is not None:
            raise InputError(say("rain falls on the whole garden: leave place empty."), code="log.place", field="place")
        return LogEntry(row.id, at, kind, rain_mm=_rain(row.amount), text=row.text)
    if kind in ("reading", "forget") and place is None:
        raise InputError(say('"place" is missing.'), code="log.place", field="place")
    if kind == "reading" and place is not None:
        return _reading(row, at, place)
    if kind == "forget" and place is not None:
        if row.amount:
            raise InputError(say('"forget" has no amount.'), code="log.amount", field="amount")
        return LogEntry(row.id, at, kind, place.name, text=row.text)
    if row.amount:
        raise InputError(say("a note has no amount."), code="log.amount", field="amount", hint=say("Put it in text."))
    if not row.text:
        raise InputError(say("the note is empty."), code="log.text", field="text")
    return LogEntry(row.id, at, kind, place.name if place else "", text=row.text)


def _reading(row: LogRow, at: datetime, place: Place) -> LogEntry:
    read = parse_reading(row.amount)
    check_read(read, place)
    return LogEntry(
        row.id, at, "reading", "" if read.of_line else place.name, text=row.text, reading=read.reading, value=read.value,
        depth_m=read.depth_m, instrument=read.instrument, line=(place.line or "") if read.of_line else "",
    )  # fmt: skip


def _time(text: str, garden: Garden) -> datetime:
    """A local time with the garden's zone; a time with an offset of its own is brought to that zone."""
    zone = ZoneInfo(garden.time_zone)
    try:
        if not re.match(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", text):
            raise ValueError
        at = datetime.fromisoformat(text)
        local = at.replace(tzinfo=zone) if at.tzinfo is None else at.astimezone(zone)
        if not 1900 <= local.year <= 2200:
            raise ValueError
    except (ValueError, OverflowError):
        raise InputError(
            say('"{text}" is not a date and time.', text=text[:40]),
            code="log.time",
            field="at",
            hint=say("Write year-month-dayThour:minute, such as 2026-06-01T07:30."),
        ) from None
    return local


def _place(name: str, garden: Garden) -> Place:
    for place in garden.places:
        if plain(place.name) == plain(name):
            return place
    names = [place.name for place in garden.places]
    raise InputError(
        say('there is no place "{name}".', name=name[:80]),
        code="log.place.unknown",
        field="place",
        hint=nearest(name, names, 0.5) or say("Places: {names}.", names=some(names)),
    )


def line_of(place: Place, garden: Garden) -> Line | None:
    """The line a place is on."""
    return next((line for line in garden.lines if line.name == place.line), None)


def flow_lph(place: Place, garden: Garden) -> float | None:
    """What reaches a place while its line, its own emitters or the hose run; None when it is not known. [L/h]"""
    line = line_of(place, garden)
    flow = flow_of(place, line)
    if flow is not None:
        return flow
    return garden.supply.hose_lph if line is None and place.means in BY_HOSE else None


def flow_of(place: Place, line: Line | None) -> float | None:
    """What reaches a place from its line or its own emitters; a line that was measured counts for more than its emitters. None when it is not known. [L/h]"""
    is_measured = line is not None and line.flow_is_measured
    if place.emitters is not None and place.emitter_flow_lph is not None and not is_measured:
        return place.emitters * place.emitter_flow_lph
    return line.flow_lph * place.line_share if line is not None and line.flow_lph is not None else None


def water_litres(amount: str, place: Place, garden: Garden) -> tuple[float, float | None]:
    """Litres over the whole place, and the minutes when the amount was a time.

    ``"12 L"`` as it is; ``"2 cans"`` by the garden's can; ``"14 mm"`` over the area; ``"20 min"`` of flow.
    """
    minutes: float | None = None
    cans = re.fullmatch(r"(.*\S)\s*\bcans?|(.*\d)cans?", amount.strip(), re.IGNORECASE)
    if cans:
        if garden.supply.can_l is None:
            raise InputError(
                say('"{amount}": the garden file does not say what a can holds.', amount=amount[:40]),
                code="log.amount.can",
                field="amount",
                hint=say('Write can = "10 L" under [supply], or give litres.'),
            )
        litres = garden.supply.can_l * parse_one_of(f"{cans[1] or cans[2]} L", ("volume",), field="amount")[1]
    else:
        kind, value = parse_one_of(amount, ("volume", "duration", "depth"), field="amount")
        if kind == "duration":
            flow = flow_lph(place, garden)
            if flow is None:
                raise InputError(
                    say(
                        '"{amount}": how much flows to "{name}" in that time is not known.',
                        amount=amount[:40],
                        name=place.name,
                    ),
                    code="log.amount.flow",
                    field="amount",
                    hint=say("Give litres, or the flow of its line in the garden file."),
                )
            litres, minutes = flow * value, value * 60.0
        else:
            litres = value if kind == "volume" else value * place.area_m2
    if not 0.0 < litres <= MAX_WATER_L:
        raise InputError(
            say(
                '"{amount}" must be more than 0 and at most {most}.',
                amount=amount[:40],
                most=Measure(MAX_WATER_L, "volume"),
            ),
            code="log.amount.range",
            field="amount",
        )
    return litres, minutes


def _rain(amount: str) -> float:
    rain_mm = parse_one_of(amount, ("depth",), field="amount")[1]
    if not 0.0 <= rain_mm <= MAX_RAIN_MM:
        raise InputError(
            say('"{amount}" must be between 0 and {most}.', amount=amount[:40], most=Measure(MAX_RAIN_MM, "depth")),
            code="log.amount.range",
            field="amount",
        )
    return rain_mm


def append_entry(path: str | Path, row: LogRow, garden: Garden) -> LogEntry:
    """Add a line to the log. On return the line is on the disk; a crash leaves the old file or the new.

    A row without id is given one. A row whose id is in the log already is not written again.

    Raises
    ------
    InputError
        The row cannot be used, or the log's first line is not ours. The file is then as before.
    """
    return append_entries(path, [row], garden)[0][0]


def append_entries(
    path: str | Path, rows: Iterable[LogRow], garden: Garden, *, known_stay: bool = False
) -> list[tuple[LogEntry, bool]]:
    """As :func:`append_entry`, several lines at once, all or none; True for those that are new.

    With ``known_stay`` a line of the log stays as it is when another of its id comes; else that is an error.
    """
    file = Path(os.path.realpath(path))
    with locked(file):
        text = _text(file)
        known = {row.id: row for _, row in rows_in(text, file.name)}
        made: list[tuple[LogEntry, bool]] = []
        fresh = ""
        for given in rows:
            if any(not cell.isprintable() for cell in given.cells().values()):
                raise InputError(say("an entry must be plain text on one line."), code="log.text", field="text")
            row = replace(given, id=given.id or _new_id(set(known)))
            entry = parse_row(row, garden)
            before = known.get(row.id)
            if before is None:
                known[row.id] = row
                fresh += _line(row, text + fresh, file.name)
            elif known_stay:
                entry = parse_row(before, garden)
            elif parse_row(before, garden) != entry:
                raise InputError(say('"{id}" is the id of another entry.', id=row.id), code="log.id.twice", field="id")
            made.append((entry, before is None))
        if fresh:
            replace_text(file, text + fresh)
    return made


def _new_id(taken: set[str]) -> str:
    while (fresh := uuid.uuid4().hex[:8]) in taken:
        pass
    return fresh


def _line(row: LogRow, text: str, name: str) -> str:
    """The row as CSV in the file's own order of columns, with what must come before it."""
    out = io.StringIO()
    first = next((cells for cells in csv.reader(io.StringIO(text, newline="")) if any(cells)), None)
    header = _header(first, name, 1) if first else list(COLUMNS)
    writer = csv.writer(out, lineterminator="\n")
    if first is None:
        writer.writerow(header)
    elif not text.endswith("\n"):
        out.write("\n")
    cells = row.cells()
    writer.writerow([cells[column] for column in header])
    return out.getvalue()


def remove_entry(path: str | Path, entry_id: str, garden: Garden) -> LogEntry:
    """Take a line out of the log; what it said is returned.

    Raises
    ------
    InputError
        There is no line of that id, or the log cannot be read. The file is then as before.
    """
    file = Path(os.path.realpath(path))
    with locked(file):
        text = _text(file)
        rows = [row for _, row in rows_in(text, file.name)]
        gone = next((row for row in rows if row.id == entry_id), None)
        if gone is None:
            raise InputError(say('There is no entry "{id}".', id=entry_id[:64]), code="log.unknown", field="id")
        entry = parse_row(gone, garden)
        replace_text(file, _written([row for row in rows if row.id != entry_id], text, file.name))
    return entry


def _written(rows: list[LogRow], text: str, name: str) -> str:
    """A whole log, in the columns of the one before."""
    first = next(cells for cells in csv.reader(io.StringIO(text, newline="")) if any(cells))
    header = _header(first, name, 1)
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([header, *([row.cells()[c] for c in header] for row in rows)])
    return out.getvalue()
