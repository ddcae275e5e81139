"""``soakbook log``: write down a watering, rain or a note."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import log_app
from soakbook.cli.garden import garden_path
from soakbook.cli.show import echo_json
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


@log_app.command("water")
def water(
    place: Annotated[str, typer.Argument(help="The place, or a line (all its places).")],
    amount: Annotated[str, typer.Argument(help='Such as "12 L", "3 gal", "2 cans", "14 mm", "20 min".')],
    on: Day = None,
    at: Clock = None,
    text: Text = "",
    garden: GardenFile = None,
    as_json: Json = False,
) -> None:
    """Write down that a place was watered."""
    from soakbook.garden.log import LogRow
    from soakbook.garden.words import plain

    path, the_garden = _open(garden)
    when = _when(on, at, the_garden)
    names = [place]
    if all(plain(p.name) != plain(place) for p in the_garden.places):
        on_line = [p.name for p in the_garden.places if p.line and plain(p.line) == plain(place)]
        if on_line:
            _check_is_time(amount)
            names = on_line
    rows = [LogRow(when, "water", name, amount, text) for name in names]
    _write(path, rows, the_garden, as_json)


@log_app.command("rain")
def rain(
    amount: Annotated[str, typer.Argument(help='What the gauge caught: "14 mm", "0.5 in".')],
    on: Day = None,
    at: Clock = None,
    text: Text = "",
    garden: GardenFile = None,
    as_json: Json = False,
) -> None:
    """Write down rain from your own gauge."""
    from soakbook.garden.log import LogRow

    path, the_garden = _open(garden)
    row = LogRow(_when(on, at, the_garden), "rain", "", amount, text)
    _write(path, [row], the_garden, as_json)


@log_app.command("note")
def note(
    text: Annotated[str, typer.Argument(help="What you saw.")],
    place: Annotated[str, typer.Option("--place", help="Where.")] = "",
    on: Day = None,
    at: Clock = None,
    garden: GardenFile = None,
    as_json: Json = False,
) -> None:
    """Write down anything worth remembering."""
    from soakbook.garden.log import LogRow

    path, the_garden = _open(garden)
    row = LogRow(_when(on, at, the_garden), "note", place, "", text)
    _write(path, [row], the_garden, as_json)


def _open(given: Path | None) -> tuple[Path, Garden]:
    from soakbook.advice.open import open_garden

    path = garden_path(given)
    return path, open_garden(path)


def _check_is_time(amount: str) -> None:
    from soakbook.units import parse_quantity

    try:
        parse_quantity(amount, "duration", field="amount")
    except InputError as error:
        raise InputError(
            say('a line is logged by how long it ran ("{amount}" is no time).', amount=amount),
            code="log.amount.line",
            field="amount",
            hint=say('Give a time such as "20 min", or log its places one by one.'),
        ) from error


def _when(on: str | None, at: str | None, garden: Garden, now: datetime | None = None) -> str:
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
    moment = datetime.combine(day, clock)
    if moment > here:
        raise InputError(
            say("{moment:%Y-%m-%d %H:%M} has not come yet in {time_zone}.", moment=moment, time_zone=garden.time_zone),
            code="log.future",
            field="on",
        )
    return moment.isoformat(timespec="minutes")


def _write(path: Path, rows: list[LogRow], garden: Garden, as_json: bool) -> None:
    from soakbook.garden.log import append_entry, log_path, parse_row

    log = log_path(path)
    for row in rows:  # all are looked at before any is written
        parse_row(type(row)(**{**row.cells(), "id": "new"}), garden)
    entries = [append_entry(log, row, garden) for row in rows]
    if as_json:
        found = [_as_json(entry) for entry in entries]
        echo_json("log_entries", 1, {"file": log.name, "entries": found})
        return
    for entry in entries:
        typer.echo(f"{entry.at:%Y-%m-%d %H:%M}  {_sentence(entry, garden)}")


def _as_json(entry: LogEntry) -> dict[str, str | float | None]:
    return {
        "id": entry.id,
        "at": entry.at.isoformat(),
        "kind": entry.kind,
        "place": entry.place,
        "litres": entry.litres,
        "rain_mm": entry.rain_mm,
        "minutes": entry.minutes,
        "text": entry.text,
    }


def _sentence(entry: LogEntry, garden: Garden) -> str:
    from soakbook.units import format_quantity

    if entry.litres is not None:
        litres = format_quantity(entry.litres, "volume", garden.units)
        time = f" in {format_quantity(entry.minutes / 60, 'duration', garden.units)}" if entry.minutes else ""
        return f"{entry.place} was given {litres}{time}."
    if entry.rain_mm is not None:
        return f"It rained {format_quantity(entry.rain_mm, 'depth', garden.units)}."
    return f"{entry.place + ': ' if entry.place else ''}{entry.text}"
