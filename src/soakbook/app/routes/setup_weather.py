"""Weather files of a garden: brought in, looked through, kept."""

from __future__ import annotations

import re
from pathlib import PurePath

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app.changing import AForm, Document, save, saved, what
from soakbook.app.desk import Known
from soakbook.app.entries import form_errors
from soakbook.app.pages import OwnPage, Page
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import GardenRow

router = APIRouter(include_in_schema=False)
#: Beside this, what one request may hold is bounded for the whole app.
MOST_BYTES = 8_000_000


def weather_files(page: Page, known: Known) -> list[str]:
    """Names of the files a garden has."""
    if not known.folder.is_dir():
        return []
    return sorted(file.name for file in known.folder.iterdir() if file.is_file() and not file.name.startswith("."))


@router.get("/g/{key}/setup/weather-file")
def weather_file(page: OwnPage, key: str) -> Response:
    """A form to bring one in."""
    known = page.desk.known(key)
    return page.show("setup/weather_file.html", known=known, way="setup", errors=None, files=weather_files(page, known))


@router.post("/g/{key}/setup/weather-file")
def bring_weather(page: OwnPage, key: str, posted: AForm) -> Response:
    """Reads the file through, keeps it, and takes the garden's weather from it."""
    known = page.desk.known(key)
    try:
        row = keep_file(page, known, *posted.files.get("file", ("", b"")))
    except InputError as error:
        errors = form_errors(InputError(error.message, code=error.code, field="file", hint=error.hint), "", {"file"})
        return page.show(
            "setup/weather_file.html", 422, known=known, way="setup", errors=errors, files=weather_files(page, known)
        )
    return saved(page, known, row)


def keep_file(page: Page, known: Known, given: str, data: bytes) -> GardenRow:
    """Keep a weather file that can be read and take the garden's weather from it."""
    check_weather(given, data)
    name = _free(plain_name(given), data, page, known)
    page.store.keep_weather_file(known.key, name, data)

    def edit(document: Document) -> Document:
        document["garden"]["weather"] = name
        return document

    return save(page, known, edit, what(say("weather file brought in"), name))


def check_weather(name: str, data: bytes) -> None:
    """InputError unless the bytes are a weather file that can be read."""
    from soakbook.weather.read import decode, parse_weather

    if not data:
        raise InputError(say("choose a file first."), code="weather.none", field="file")
    shown = plain_name(name)
    parse_weather(decode(data, shown), name=shown)


def plain_name(given: str) -> str:
    """A name a file can be kept under on any system, like the one it had."""
    stem, _, ending = PurePath(given.replace("\\", "/")).name.partition(".")
    stem = re.sub(r"[^A-Za-z0-9_-]+", "-", stem).strip("-_")[:60] or "weather"
    ending = ".".join(part for part in re.sub(r"[^A-Za-z0-9.]+", "", ending).split(".") if part)[:20] or "csv"
    return (
        f"weather-{stem}.{ending}"
        if re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d|garden|photos|people", stem)
        else f"{stem}.{ending}"
    )


def _free(name: str, data: bytes, page: Page, known: Known) -> str:
    """The name, with a number when a file of other content has it: a file that is there is never written over."""
    stem, _, ending = name.partition(".")
    n = 1
    while (there := known.folder / name).exists() and there.read_bytes() != data:
        n += 1
        name = f"{stem}-{n}.{ending}"
    return name
