"""The log as files: out as CSV or with everything in one archive, and in again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from soakbook.app.desk import Known
from soakbook.app.entry_amount import amount_text
from soakbook.app.entry_form import depth_units
from soakbook.app.entry_in import entries_of_csv, keep_rows
from soakbook.app.pages import OwnPage, Page, problems
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import gone_csv, log_csv

if TYPE_CHECKING:
    from soakbook.garden.sensor import Sensor
    from soakbook.garden.sensor_csv import Record

router = APIRouter(include_in_schema=False)
#: Fields of the form for a sensor's file.
_SENSOR = ("place", "unit", "depth", "depth_unit", "by", "time", "value")


@router.get("/g/{key}/log/files")
def files_page(page: OwnPage, key: str) -> HTMLResponse:
    """Taking the log out and bringing one in."""
    return _files(page, key)


def _files(
    page: Page, key: str, errors: Any = None, status: int = 200, sensor: dict[str, str] | None = None
) -> HTMLResponse:
    known = page.desk.known(key)
    gone = sum(1 for entry in page.desk.entries(known) if entry.place_id and entry.place_id not in known.names)
    n = len(page.desk.entries(known))
    return page.show(
        "log_files.html", status, known=known, way="log", errors=errors or {}, n=n, gone=gone,
        sensor=sensor or dict.fromkeys(_SENSOR, "") | {"time": "time", "value": "value"},
        depth_units=depth_units(page.read_for(known).reader),
    )  # fmt: skip


@router.get("/g/{key}/log/garden.log.csv")
def csv_out(page: OwnPage, key: str) -> Response:
    """The log as it stands beside a garden file."""
    document = page.store.document(key)
    return _file(log_csv(page.store.entries(key), document).encode(), "text/csv; charset=utf-8", "garden.log.csv")


@router.get("/g/{key}/log/garden.log.gone.csv")
def gone_out(page: OwnPage, key: str) -> Response:
    """Entries of places that the garden no longer has."""
    text = gone_csv(page.store.entries(key), page.store.document(key), page.store.place_names(key))
    return _file(text.encode(), "text/csv; charset=utf-8", "garden.log.gone.csv")


@router.get("/g/{key}/log/garden.zip")
def zip_out(page: OwnPage, key: str) -> Response:
    """Garden file, log, photos and weather in one archive."""
    name = page.store.garden(key).name
    return _file(page.store.export_zip(key), "application/zip", f"{name}.zip")


def _file(data: bytes, media_type: str, name: str) -> Response:
    plain = "".join(c if c.isascii() and (c.isalnum() or c in " ._-") else "_" for c in name)
    headers = {
        "content-disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}",
        "cache-control": "no-store",
    }
    return Response(data, media_type=media_type, headers=headers)


@router.post("/g/{key}/log/import")
async def csv_in(page: OwnPage, key: str, request: Request) -> Response:
    """Bring a log file into this garden. What is there already counts once."""
    async with request.form(max_files=1, max_fields=8) as form:
        file = form.get("file")
        data = await file.read() if isinstance(file, UploadFile) else b""
    return await run_in_threadpool(_bring, page, key, data)


def _bring(page: Page, key: str, data: bytes) -> Response:
    known = page.desk.known(key)
    try:
        if not data:
            raise InputError(say("Choose a file."), code="log.csv", field="file")
        kept = page.store.put_many(key, entries_of_csv(data, page.desk, known), by=page.viewer.name)
    except InputError as error:
        found = problems(error)
        return _files(page, key, {"file": [one for some in found.values() for one in some]}, 422)
    fresh = [entry for entry, is_new in kept if is_new]
    if not fresh:
        return page.go(f"/g/{key}/log", did="nothing", known=str(len(kept)))
    return page.go(f"/g/{key}/log", did="many", id=fresh[0].id, known=str(len(kept) - len(fresh)))


@router.post("/g/{key}/log/sensor")
async def sensor_in(page: OwnPage, key: str, request: Request) -> Response:
    """Bring in what a sensor's logger wrote: one reading for each morning."""
    async with request.form(max_files=1, max_fields=16) as form:
        file = form.get("sensor_file")
        name, data = (file.filename or "", await file.read()) if isinstance(file, UploadFile) else ("", b"")
        typed = {field: value if isinstance(value := form.get(field, ""), str) else "" for field in _SENSOR}
    return await run_in_threadpool(_bring_sensor, page, key, typed, name, data)


def _bring_sensor(page: Page, key: str, typed: dict[str, str], name: str, data: bytes) -> Response:
    from soakbook.garden.sensor_csv import record_rows

    known = page.desk.known(key)
    try:
        sensor, record = _record(known, typed, name, data)
        rows = record_rows(record, sensor, page.desk.now(known.garden))
        kept = keep_rows(page.desk, key, rows, by=page.viewer.name)
    except InputError as error:
        found = problems(error)
        return _files(page, key, {"sensor": [one for some in found.values() for one in some]}, 422, typed)
    fresh = [entry for entry, is_new in kept if is_new]
    if not fresh:
        return page.go(f"/g/{key}/log", did="nothing", known=str(len(kept)))
    return page.go(f"/g/{key}/log", did="many", id=fresh[0].id, known=str(len(kept) - len(fresh)))


def _record(known: Known, typed: dict[str, str], name: str, data: bytes) -> tuple[Sensor, Record]:
    """The sensor as it was described, and what its file holds."""
    from soakbook.garden.sensor import sensor_of
    from soakbook.garden.sensor_csv import MAX_BYTES, parse_record

    if not data:
        raise InputError(say("Choose a file."), code="sensor.csv", field="sensor_file")
    if len(data) > MAX_BYTES:
        raise InputError(say("The file is too large."), code="sensor.too_large", field="sensor_file")
    if typed["place"] not in known.names:
        raise InputError(say("Choose the place."), code="log.place", field="place")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(say("The file is not text in UTF-8."), code="sensor.csv", field="sensor_file") from None
    depth = amount_text(typed["depth"], typed["depth_unit"])
    sensor = sensor_of(known.garden, known.names[typed["place"]], typed["unit"], depth, " ".join(typed["by"].split()))
    zone = ZoneInfo(known.garden.time_zone)
    return sensor, parse_record(text, name[:80] or "CSV", zone, sensor.unit, typed["time"], typed["value"])
