"""The log as files: out as CSV or with everything in one archive, and in again."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from soakbook.app.entry_in import entries_of_csv
from soakbook.app.pages import OwnPage, Page, problems
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import gone_csv, log_csv

router = APIRouter(include_in_schema=False)


@router.get("/g/{key}/log/files")
def files_page(page: OwnPage, key: str) -> HTMLResponse:
    """Taking the log out and bringing one in."""
    return _files(page, key)


def _files(page: Page, key: str, errors: Any = None, status: int = 200) -> HTMLResponse:
    known = page.desk.known(key)
    gone = sum(1 for entry in page.desk.entries(known) if entry.place_id and entry.place_id not in known.names)
    n = len(page.desk.entries(known))
    return page.show("log_files.html", status, known=known, way="log", errors=errors or {}, n=n, gone=gone)


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
