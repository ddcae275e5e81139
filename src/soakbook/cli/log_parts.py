"""What the commands of ``soakbook log`` share: their options, times, writing, and what an entry says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.garden import garden_path
from soakbook.cli.terminal import echo_json
from soakbook.errors import InputError
from soakbook.said import say

if TYPE_CHECKING:
    from datetime import datetime

    from soakbook.garden.log import LogRow
    from soakbook.garden.model import Garden, LogEntry

GardenFile = Annotated[Path | None, typer.Option("--garden", help="The garden file.")]
Day = Annotated[str | None, typer.Option("--on", help="The day, such as 2026-06-01; today when left out.")]
Clock = Annotated[str | None, typer.Option("--at", help="The time, such as 07:30.")]
Text = Annotated[str, typer.Option("--text", help="A remark kept with it.")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]

#: Time of day taken for an earlier day when none is given.
USUAL_HOUR = 8


def open_log(given: Path | None) -> tuple[Path, Garden]:
    """The garden file, found, and its garden."""
    from soakbook.advice.open import open_garden

    path = garden_path(given)
    return path, open_garden(path)


def moment(on: str | None, at: str | None, garden: Garden, now: datetime | None = None) -> str:
    """Local date and time of an entry, as the log writes it; never later than now."""
    from datetime import date, datetime, time
    from zoneinfo import ZoneInfo

    here = (now or datetime.now(tz=ZoneInfo(garden.time_zone))).replace(tzinfo=None, second=0, microsecond=0)
    try:
        day = date.fromisoformat(on) if on else here.date()
    except ValueError:
        hint = say("Write year-month-day, such as 2026-06-01.")
        raise InputError(say('"{on}" is not a date.', on=on), code="log.time", field="on", hint=hint) from None
    try:
        clock = time.fromisoformat(at) if at else (here.time() if day == here.date() else time(USUAL_HOUR))
    except ValueError:
        hint = say("Write hour:minute, such as 07:30.")
        raise InputError(say('"{at}" is not a time of day.', at=at), code="log.time", field="at", hint=hint) from None
    if clock.tzinfo is not None:
        raise InputError(say('"{at}" must be the local time without a zone.', at=at), code="log.time", field="at")
    chosen = datetime.combine(day, clock)
    if chosen > here:
        raise InputError(
            say("{moment:%Y-%m-%d %H:%M} has not come yet in {time_zone}.", moment=chosen, time_zone=garden.time_zone),
            code="log.future",
            field="on",
        )
    return chosen.isoformat(timespec="minutes")


def write(path: Path, rows: list[LogRow], garden: Garden, as_json: bool) -> None:
    """Add rows to the log, all or none, and say what they say."""
    from soakbook.garden.log import append_entry, log_path, parse_row

    log = log_path(path)
    for row in rows:  # all are looked at before any is written
        parse_row(type(row)(**{**row.cells(), "id": "new"}), garden)
    entries = [append_entry(log, row, garden) for row in rows]
    if as_json:
        found = [entry_json(entry) for entry in entries]
        echo_json("log_entries", 1, {"file": log.name, "entries": found})
        return
    for entry in entries:
        typer.echo(f"{entry.at:%Y-%m-%d %H:%M}  {entry_sentence(entry, garden)}")


def entry_json(entry: LogEntry) -> dict[str, str | float | None]:
    """An entry as the JSON output has it."""
    return {
        "id": entry.id,
        "at": entry.at.isoformat(),
        "kind": entry.kind,
        "place": entry.place,
        "litres": entry.litres,
        "rain_mm": entry.rain_mm,
        "minutes": entry.minutes,
        "reading": entry.reading,
        "value": entry.value,
        "depth_m": entry.depth_m,
        "instrument": entry.instrument,
        "line": entry.line,
        "text": entry.text,
    }


def entry_sentence(entry: LogEntry, garden: Garden) -> str:
    """What an entry says, in the garden's units."""
    from soakbook.units import format_quantity

    if entry.litres is not None:
        litres = format_quantity(entry.litres, "volume", garden.units)
        time = f" in {format_quantity(entry.minutes / 60, 'duration', garden.units)}" if entry.minutes else ""
        return f"{entry.place} was given {litres}{time}."
    if entry.rain_mm is not None:
        return f"It rained {format_quantity(entry.rain_mm, 'depth', garden.units)}."
    if entry.kind == "forget":
        return f"{entry.place}: what was learnt up to now is forgotten."
    if entry.kind == "reading":
        return f"{entry.line or entry.place}: {_read(entry, garden)}"
    return f"{entry.place + ': ' if entry.place else ''}{entry.text}"


def _read(entry: LogEntry, garden: Garden) -> str:
    """A reading in the log's words, its measures in the garden's units."""
    from soakbook.garden.model import SQUEEZES
    from soakbook.garden.readings import LIFTS, SEEN
    from soakbook.units import format_quantity

    value = entry.value or 0.0
    if entry.reading in SEEN:
        said = SEEN[entry.reading][int(value)]
    elif entry.reading == "squeeze":
        said = f"squeezed {SQUEEZES[int(value)]}"
    elif entry.reading == "lift":
        said = f"felt {LIFTS[int(value)]} when lifted"
    elif entry.reading == "sensor":
        said = f"the sensor showed {100.0 * value:.1f} %"
    elif entry.reading == "dial":
        said = f"the dial stood at {value:g}"
    elif entry.reading == "feel":
        said = f"felt {entry.feel}"
    else:
        kinds = {"tension": "suction", "weight": "mass", "flow": "flow", "meter": "volume"}
        digits = 2 if entry.reading == "weight" and value >= 1.0 else None  # a pot's water is a small part of it
        words = {
            "tension": "a tension of",
            "weight": "one pot weighed",
            "flow": "a flow of",
            "meter": "the meter showed",
        }
        said = f"{words[str(entry.reading)]} {format_quantity(value, kinds[str(entry.reading)], garden.units, digits)}"
    deep = f" at {format_quantity(entry.depth_m, 'length', garden.units)}" if entry.depth_m is not None else ""
    return f"{said}{deep}{f' by {entry.instrument}' if entry.instrument else ''}."
