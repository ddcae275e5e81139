"""Gardens: a new one, one from files, all of them, and everything of one taken out as files."""

from __future__ import annotations

import io
import zipfile
import zlib
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.bring import bring_garden
from soakbook.app.changing import AForm, Posted, words
from soakbook.app.entries import GARDEN, PLACE, entry_of, form_errors
from soakbook.app.garden_names import told_apart
from soakbook.app.pages import OwnPage, Page
from soakbook.app.routes.front import GARDEN_COOKIE
from soakbook.app.routes.setup_places import made, preset, soil_options
from soakbook.app.routes.setup_weather import check_weather, plain_name
from soakbook.errors import InputError, InputErrors
from soakbook.said import say

router = APIRouter(include_in_schema=False)
_NEW_GARDEN = tuple(f for f in GARDEN if f.key in ("name", "where", "latitude", "longitude", "time_zone", "units"))
_NEW_PLACE = tuple(f for f in PLACE if f.key in ("name", "kind", "soil", "size", "pot"))
NAMES = {name for field in _NEW_GARDEN for name in field.names} | {f"place.{n}" for f in _NEW_PLACE for n in f.names}
MOST_TEXT, MOST_UNPACKED = 5_000_000, 60_000_000


@router.get("/gardens")
def gardens(page: OwnPage) -> Response:
    """All gardens, and those taken away."""
    rows, gone = page.store.gardens(), page.store.gardens(removed=True)
    return page.show("setup/gardens.html", gardens=rows, gone=gone, names=told_apart(rows) | told_apart(gone))


@router.get("/gardens/new")
def new_garden(page: OwnPage) -> Response:
    """Name, spot, measures, and the first place."""
    form = {"units": page.reader.units, "place.kind": "bed", "place.soil": "loam"}
    return _new(page, form)


@router.post("/gardens/new")
def add_garden(page: OwnPage, posted: AForm) -> Response:
    """Keeps it and goes on to its set-up."""
    from soakbook.store import from_file

    form = posted.fields
    units: Any = "US" if posted.get("units") == "US" else "metric"
    try:
        garden = entry_of(_NEW_GARDEN, form, {}, words(), units) | {"units": units}
        inside = preset({name.removeprefix("place."): text for name, text in form.items() if name.startswith("place.")})
        document = {"garden": garden, "places": [made(inside, {}, units)]}
        page.desk.check(None, document)
        row = page.store.add_garden(from_file(document), by=page.viewer.name)
    except InputError as error:
        return _new(page, dict(form), _new_errors(error), 422)
    return _entered(page, row.key, "/setup")


def _new_errors(error: InputError) -> dict[str, list[InputError]]:
    """Errors by field: those of the garden, and those of its first place under ``place.``."""
    found: dict[str, list[InputError]] = {}
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        is_place = one.field.startswith("places.1")
        names = {n.removeprefix("place.") for n in NAMES if n.startswith("place.")} if is_place else NAMES
        for name, errors in form_errors(one, "places.1" if is_place else "garden", names).items():
            found.setdefault(f"place.{name}" if is_place and name else name, []).extend(errors)
    return found


def _entered(page: Page, key: str, path: str, **query: str) -> Response:
    answer = page.go(f"/g/{key}{path}", **query)
    answer.set_cookie(GARDEN_COOKIE, key, max_age=31_536_000, httponly=True, samesite="lax", path="/")
    return answer


def _new(page: Page, form: dict[str, str], errors: Any = None, status: int = 200) -> Response:
    form = dict.fromkeys((*NAMES, "place.preset"), "") | form
    r = page.reader
    return page.show(
        "setup/garden_new.html", status, form=form, errors=errors, kinds=view.told(view.KINDS, r), groups=soil_options(page, None),
        sizes=[(str(i), r.tell(size[0])) for i, size in enumerate(view.POT_SIZES)],
    )  # fmt: skip


#: Texts of garden and log, the weather file, and pictures with the ids of their entries.
Brought = tuple[str, str, tuple[str, bytes] | None, list[tuple[str, bytes]]]


# --- from files ------------------------------------------------------------------------------------------------------------
@router.get("/gardens/bring")
def bring_form(page: OwnPage) -> Response:
    """A form for a garden file, its log and its weather."""
    return page.show("setup/garden_bring.html", errors=None)


@router.post("/gardens/bring")
def bring(page: OwnPage, posted: AForm) -> Response:
    """Checks the files and keeps them as a new garden."""
    try:
        garden, log, weather, photos = _files(posted)
        if weather is not None:
            check_weather(*weather)
        row = bring_garden(page.desk, garden, log, weather, by=page.viewer.name)
        for entry_id, data in photos:
            page.store.add_photo(row.key, entry_id, data, by=page.viewer.name)
    except InputError as error:
        return page.show("setup/garden_bring.html", 422, errors=_all_errors(error))
    return _entered(page, row.key, "/setup", brought="yes")


def _all_errors(error: InputError) -> list[InputError]:
    return error.errors if isinstance(error, InputErrors) else [error]


def _files(posted: Posted) -> Brought:
    """Texts of garden and log, and the weather file; from an archive as it was taken out, or one by one."""
    name, data = posted.files.get("garden", ("", b""))
    if not data:
        raise InputError(say("choose a garden file first."), code="bring.none", field="garden")
    if data[:4] == b"PK\x03\x04":
        return _unpacked(data)
    log = posted.files.get("log", ("", b""))[1]
    weather = posted.files.get("weather")
    named = (plain_name(weather[0]), weather[1]) if weather and weather[1] else None
    return _text(data, name), _text(log, "log"), named, []


def _text(data: bytes, name: str) -> str:
    if len(data) > MOST_TEXT:
        raise InputError(
            say("{name} is too large to be a garden or a log.", name=name[:80]), code="bring.large", field="garden"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        raise InputError(say("{name} is not plain text.", name=name[:80]), code="bring.text", field="garden") from exc


def _unpacked(data: bytes) -> Brought:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if sum(info.file_size for info in archive.infolist()) > MOST_UNPACKED:
                raise InputError(say("the archive unpacks to too much."), code="bring.large", field="garden")
            files = {info.filename: archive.read(info) for info in archive.infolist()}
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError, EOFError, ValueError) as exc:
        raise InputError(say("the archive cannot be read."), code="bring.archive", field="garden") from exc
    if "garden.toml" not in files:
        raise InputError(say("there is no garden.toml in the archive."), code="bring.archive", field="garden")
    text = _text(files["garden.toml"], "garden.toml")
    log = _text(files.get("garden.log.csv", b""), "garden.log.csv")
    wanted = _weather_of(text)
    return text, log, (plain_name(wanted), files[wanted]) if wanted in files else None, _photos(files, log)


def _photos(files: dict[str, bytes], log: str) -> list[tuple[str, bytes]]:
    """Pictures of an archive with the ids of the entries of its log they belong to, each looked at first."""
    import csv

    from soakbook.store import rows_from_csv
    from soakbook.store.pictures import cleaned

    table = _text(files.get("photos.csv", b""), "photos.csv")
    known = {row.id for row in rows_from_csv(log)} if log.strip() else set()
    try:
        rows = [(row.get("entry") or "", row.get("file") or "") for row in csv.DictReader(io.StringIO(table))]
    except csv.Error as exc:
        raise InputError(say("photos.csv cannot be read."), code="bring.archive", field="garden") from exc
    photos = [(entry_id, files[name]) for entry_id, name in rows if entry_id in known and name in files]
    for _, data in photos:
        cleaned(data)
    return photos


def _weather_of(text: str) -> str:
    """The weather file a garden file names, if it can be read that far; what is wrong with it is said later."""
    import tomllib

    try:
        head = tomllib.loads(text).get("garden")
    except (ValueError, RecursionError):
        return ""
    named = head.get("weather") if isinstance(head, dict) else None
    return named if isinstance(named, str) else ""


# --- taken away, brought back, taken out -----------------------------------------------------------------------------------
@router.post("/gardens/{key}/remove")
def remove(page: OwnPage, key: str) -> Response:
    """Out of sight; nothing is deleted."""
    page.store.remove_garden(key, by=page.viewer.name)
    return page.go("/gardens")


@router.post("/gardens/{key}/restore")
def restore(page: OwnPage, key: str) -> Response:
    """Back again."""
    page.store.restore_garden(key)
    return page.go("/gardens")


@router.get("/g/{key}/setup/garden.zip")
def take_out(page: OwnPage, key: str) -> Response:
    """Everything of a garden in one archive."""
    return _download(page.store.export_zip(key), f"{page.store.garden(key).key}.zip", "application/zip")


@router.get("/g/{key}/setup/garden.toml")
def garden_file(page: OwnPage, key: str) -> Response:
    """The garden file alone."""
    from soakbook.garden.write import garden_text
    from soakbook.store import as_file

    text = garden_text(as_file(page.store.document(page.store.garden(key).key)))
    return _download(text.encode(), "garden.toml", "application/toml")


@router.get("/g/{key}/setup/garden.log.csv")
def log_file(page: OwnPage, key: str) -> Response:
    """The log alone."""
    from soakbook.store import log_csv

    text = log_csv(page.store.entries(key), page.store.document(key))
    return _download(text.encode(), "garden.log.csv", "text/csv; charset=utf-8")


def _download(data: bytes, name: str, kind: str) -> Response:
    return Response(
        data,
        media_type=kind,
        headers={"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-store"},
    )
