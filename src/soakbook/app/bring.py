"""Bring a garden in from its file, its log and its weather; the demo garden among them."""

from __future__ import annotations

import tomllib

from soakbook.app.desk import Desk
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import GardenRow, Store, entries_from_rows, from_file, rows_from_csv


def bring_garden(
    desk: Desk, garden_text: str, log_text: str = "", weather: tuple[str, bytes] | None = None, *, by: str = ""
) -> GardenRow:
    """Keep a new garden from the text of a garden file and, where there are any, its log and weather file.

    Everything is checked before anything is kept.

    Raises
    ------
    InputError
        What is wrong in the file or the log; InputErrors when it is several things.
    """
    from soakbook.advice.open import find_elevation, find_town, known_words
    from soakbook.garden.file import parse_garden
    from soakbook.garden.log import parse_row

    store: Store = desk.store
    # the weather file is not where the garden file says until the garden is kept
    checked = parse_garden(garden_text, known_words(), find_town, find_elevation)
    rows = rows_from_csv(log_text) if log_text.strip() else []
    for row in rows:
        parse_row(row, checked.garden)
    document = from_file(tomllib.loads(garden_text))
    if checked.garden.weather not in ("normals", "live"):
        if weather is None:
            raise InputError(
                say('the garden takes its weather from "{name}"; give that file too.', name=checked.garden.weather),
                code="bring.weather",
                field="weather",
            )
        document["garden"]["weather"] = weather[0]
    kept = store.add_garden(document, by=by)
    if weather is not None:
        store.keep_weather_file(kept.key, *weather)
    if rows:
        store.put_many(kept.key, entries_from_rows(rows, store.document(kept.key)), by=by)
    return store.garden(kept.key)


def bring_demo(desk: Desk) -> GardenRow:
    """The shipped demo garden, unless it is there already."""
    from soakbook.demo import FOLDER

    there = desk.store.gardens()
    if there:
        return there[0]
    weather = ("weather.csv.gz", (FOLDER / "weather.csv.gz").read_bytes())
    text = (FOLDER / "garden.toml").read_text(encoding="utf-8")
    return bring_garden(desk, text, (FOLDER / "garden.log.csv").read_text(encoding="utf-8"), weather)
