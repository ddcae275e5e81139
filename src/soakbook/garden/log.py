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
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from soakbook.errors import InputError, InputErrors
from soakbook.garden.disk import locked, read_text, replace_text
from soakbook.garden.model import Feel, Garden, Line, LogEntry, LogKind, Place
from soakbook.garden.words import nearest, plain, some
from soakbook.said import Measure, join_said, say
from soakbook.units import parse_one_of, parse_quantity

COLUMNS = ("id", "at", "kind", "place", "amount", "text")
KINDS = ("water", "rain", "reading", "note")
MAX_BYTES = 20_000_000
FEELS = ("dry", "moist", "wet")
MAX_PROBE_M = 3.0
MAX_WATER_L = 100_000.0
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
    if kind == "reading":
        if place is None:
            raise InputError(say('"place" is missing.'), code="log.place", field="place")
        feel, dial, depth_m = _reading(row.amount)
        return LogEntry(row.id, at, kind, place.name, text=row.text, feel=feel, dial=dial, depth_m=depth_m)
    if row.amount:
        raise InputError(say("a note has no amount."), code="log.amount", field="amount", hint=say("Put it in text."))
    if not row.text:
        raise InputError(say("the note is empty."), code="log.text", field="text")
    return LogEntry(row.id, at, kind, place.name if place else "", text=row.text)


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
    """What reaches a place while its line, or its own emitters, run; None when it is not known. [L/h]"""
    line = line_of(place, garden)
    is_measured = line is not None and line.flow_is_measured
    if place.emitters is not None and place.emitter_flow_lph is not None and not is_measured:
        return place.emitters * place.emitter_flow_lph
    if line is not None and line.flow_lph is not None:
        return line.flow_lph * place.line_share
    return None


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


def _reading(amount: str) -> tuple[Feel | None, float | None, float | None]:
    """``"moist"`` or ``"dial 4"``, either with ``"at 25 cm"``: how it felt, the dial, the depth in m."""
    what, _, depth = (part.strip() for part in amount.lower().partition(" at "))
    depth_m = parse_quantity(depth, "length", field="amount") if depth else None
    if depth_m is not None and not 0.0 <= depth_m <= MAX_PROBE_M:
        raise InputError(
            say(
                '"{amount}" must be between 0 and {most} deep.', amount=amount[:40], most=Measure(MAX_PROBE_M, "length")
            ),
            code="log.amount.depth",
            field="amount",
        )
    if what in FEELS:
        return cast(Feel, what), None, depth_m
    number = re.fullmatch(r"dial\s+(\d{1,2}(?:[.,]\d{1,2})?)", what)
    dial = float(number[1].replace(",", ".")) if number else -1.0
    if not 0.0 <= dial <= 10.0:
        raise InputError(
            say('"{amount}" is not a reading.', amount=amount[:40]),
            code="log.amount.reading",
            field="amount",
            hint=say('Write dry, moist or wet, or "dial 4" (0 to 10), and the depth if you like: "moist at 25 cm".'),
        )
    return None, dial, depth_m


def append_entry(path: str | Path, row: LogRow, garden: Garden) -> LogEntry:
    """Add a line to the log. On return the line is on the disk; a crash leaves the old file or the new.

    A row without id is given one. A row whose id is in the log already is not written again.

    Raises
    ------
    InputError
        The row cannot be used, or the log's first line is not ours. The file is then as before.
    """
    file = Path(os.path.realpath(path))
    if any(not cell.isprintable() for cell in row.cells().values()):
        raise InputError(say("an entry must be plain text on one line."), code="log.text", field="text")
    with locked(file):
        text = _text(file)
        rows = [known for _, known in rows_in(text, file.name)]
        ids = {known.id for known in rows}
        row = LogRow(**{**row.cells(), "id": row.id or _new_id(ids)})
        entry = parse_row(row, garden)
        if row.id in ids:
            if any(known.id == row.id and parse_row(known, garden) != entry for known in rows):
                raise InputError(say('"{id}" is the id of another entry.', id=row.id), code="log.id.twice", field="id")
            return entry
        replace_text(file, text + _line(row, text, file.name))
    return entry


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
