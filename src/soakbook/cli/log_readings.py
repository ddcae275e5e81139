"""``soakbook log reading``, ``forget`` and ``sensor``: what was measured or seen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import log_app
from soakbook.cli.log_parts import (
    Clock,
    Day,
    GardenFile,
    Json,
    Text,
    entry_json,
    entry_sentence,
    moment,
    open_log,
    write,
)
from soakbook.cli.log_to import Folder, InApp, opened
from soakbook.cli.terminal import echo_json
from soakbook.errors import InputError

if TYPE_CHECKING:
    from soakbook.garden.model import Garden, LogEntry


@log_app.command("reading")
def reading(
    place: Annotated[str, typer.Argument(help="The place; for a flow or a meter also a line.")],
    what: Annotated[
        str,
        typer.Argument(
            help='Such as "moist", "squeezed slightly moist", "dial 4", "lift heavy", "weight 4.2 kg", "tension 25 kPa", "sensor 23 %", '
            '"came out below", "ran off", "wilted at dawn", "wilted at 4 pm", "flow 48 L/h", "flow 9 L in 4 min" or "meter 12345 L"; '
            'for what was not seen "nothing ran off", "not wilted at dawn".'
        ),
    ],
    depth: Annotated[str, typer.Option("--depth", help='How deep, such as "25 cm".')] = "",
    by: Annotated[str, typer.Option("--by", help="With which probe, sensor or hand.")] = "",
    on: Day = None,
    at: Clock = None,
    text: Text = "",
    garden: GardenFile = None,
    as_json: Json = False,
) -> None:
    """Write down how wet it was, or what else you measured or saw."""
    from soakbook.garden.log import LogRow

    path, the_garden = open_log(garden)
    name, of_line = _place_or_line(place, the_garden)
    ends = [" of the line" if of_line else "", f" at {depth}" if depth else "", f" by {by}" if by else ""]
    row = LogRow(moment(on, at, the_garden), "reading", name, what.strip() + "".join(ends), text)
    write(path, [row], the_garden, as_json)


def _place_or_line(name: str, garden: Garden) -> tuple[str, bool]:
    """A place as it is; a line by the first place on it, and that it is the line that is meant."""
    from soakbook.garden.words import plain

    if all(plain(place.name) != plain(name) for place in garden.places):
        on_line = [place.name for place in garden.places if place.line and plain(place.line) == plain(name)]
        if on_line:
            return on_line[0], True
    return name, False


@log_app.command("forget")
def forget(
    place: Annotated[str, typer.Argument(help="The place.")],
    on: Day = None,
    at: Clock = None,
    text: Text = "",
    garden: GardenFile = None,
    as_json: Json = False,
) -> None:
    """Forget what the readings of a place taught up to now, such as after new soil. The readings stay in the log."""
    from soakbook.garden.log import LogRow

    path, the_garden = open_log(garden)
    write(path, [LogRow(moment(on, at, the_garden), "forget", place, "", text)], the_garden, as_json)


@log_app.command("sensor")
def sensor(
    file: Annotated[Path, typer.Argument(help="What a logger wrote: a table of times and values.")],
    place: Annotated[str, typer.Argument(help="The place the sensor is in.")],
    depth: Annotated[str, typer.Option("--depth", help='How deep it sits, such as "20 cm".')] = "",
    by: Annotated[str, typer.Option("--by", help="What the sensor is called.")] = "",
    time: Annotated[str, typer.Option("--time", help="The column of times.")] = "time",
    value: Annotated[str, typer.Option("--value", help="The column of values.")] = "value",
    unit: Annotated[str, typer.Option("--unit", help="Of the values: m3/m3, % or kPa.")] = "m3/m3",
    since: Annotated[str | None, typer.Option("--since", help="Leave out what is older than this day.")] = None,
    garden: GardenFile = None,
    in_app: InApp = "",
    folder: Folder = None,
    as_json: Json = False,
) -> None:
    """Write down the readings of a sensor's file, one for each morning. What is in the log already counts once."""
    from datetime import UTC, date, datetime
    from zoneinfo import ZoneInfo

    from soakbook.garden.sensor import sensor_of
    from soakbook.garden.sensor_csv import read_record, record_rows

    with opened(garden, in_app, folder) as (the_garden, keep):
        the_sensor = sensor_of(the_garden, place, unit, depth, by)
        record = read_record(file, ZoneInfo(the_garden.time_zone), the_sensor.unit, time, value)
        first = date.fromisoformat(moment(since, "00:00", the_garden)[:10]) if since else date.min
        made = keep(record_rows(record, the_sensor, datetime.now(UTC), first))
    written = [entry for entry, is_new in made if is_new]
    if as_json:
        found = [entry_json(entry) for entry in written]
        unused = [error.to_json() for error in record.unused]
        known = len(made) - len(written)
        echo_json("sensor_readings", 1, {"file": file.name, "entries": found, "here_before": known, "unused": unused})
        return
    _tell_sensor(written, len(made) - len(written), record.unused, the_garden)


def _tell_sensor(written: list[LogEntry], known: int, unused: list[InputError], garden: Garden) -> None:
    for entry in written[-3:]:
        typer.echo(f"{entry.at:%Y-%m-%d %H:%M}  {entry_sentence(entry, garden)}")
    n = len(written)
    typer.echo(
        f"{n} {'reading is' if n == 1 else 'readings are'} written down; {known} {'was' if known == 1 else 'were'} here before."
    )
    if unused:
        typer.echo(f"{len(unused)} lines cannot be used. The first: {unused[0]}", err=True)
