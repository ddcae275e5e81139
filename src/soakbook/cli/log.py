"""``soakbook log``: write down a watering, rain, a reading or a note."""

from __future__ import annotations

from typing import Annotated

import typer

from soakbook.cli import log_readings
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
from soakbook.cli.terminal import echo_json
from soakbook.errors import InputError
from soakbook.said import say

__all__ = ["log_readings"]


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

    path, the_garden = open_log(garden)
    when = moment(on, at, the_garden)
    names = [place]
    if all(plain(p.name) != plain(place) for p in the_garden.places):
        on_line = [p.name for p in the_garden.places if p.line and plain(p.line) == plain(place)]
        if on_line:
            _check_is_time(amount)
            names = on_line
    rows = [LogRow(when, "water", name, amount, text) for name in names]
    write(path, rows, the_garden, as_json)


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

    path, the_garden = open_log(garden)
    row = LogRow(moment(on, at, the_garden), "rain", "", amount, text)
    write(path, [row], the_garden, as_json)


@log_app.command("remove")
def remove(
    entry_id: Annotated[str, typer.Argument(help="The id of the entry, its first column in the log.")],
    garden: GardenFile = None,
    as_json: Json = False,
) -> None:
    """Take an entry out of the log; all is as if it had never been there."""
    from soakbook.garden.log import log_path, remove_entry

    path, the_garden = open_log(garden)
    log = log_path(path)
    entry = remove_entry(log, entry_id, the_garden)
    if as_json:
        echo_json("log_entries", 1, {"file": log.name, "entries": [entry_json(entry)]})
        return
    typer.echo(f"Taken out: {entry.at:%Y-%m-%d %H:%M}  {entry_sentence(entry, the_garden)}")


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

    path, the_garden = open_log(garden)
    row = LogRow(moment(on, at, the_garden), "note", place, "", text)
    write(path, [row], the_garden, as_json)


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
