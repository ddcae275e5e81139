"""A garden's round to take along where there is no signal, and the list of what was done there, handed back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from soakbook.app.desk import Known
from soakbook.app.pages import HERE, AnyPage, OwnPage, Page, problems
from soakbook.app.round_view import summary
from soakbook.app.take_away import MAX_BYTES, BackList, list_text, places_away, read_list, write_list
from soakbook.app.who import helper_of
from soakbook.errors import InputError
from soakbook.said import say

router = APIRouter(include_in_schema=False)
#: The file has its style and script in itself and may ask for nothing.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; base-uri 'none'"
Kept = Annotated[str, Form(max_length=2 * MAX_BYTES)]


@router.get("/g/{key}/take-away")
def take_away_page(page: OwnPage, key: str) -> HTMLResponse:
    """What the file is and how to use it."""
    return page.show("take_away.html", known=page.desk.known(key), way="round")


@router.get("/g/{key}/take-away/file")
def take_away_file(page: OwnPage, key: str) -> Response:
    """The file."""
    return _file(page, page.desk.known(key))


@router.get("/helper/{token}/take-away/file")
def helper_file(page: AnyPage, token: str) -> Response:
    """The file for a helper; what they write down in it goes back through the gardener."""
    viewer = helper_of(token, page.house)
    assert viewer.link is not None
    return _file(replace(page, viewer=viewer), page.desk.known(viewer.link.key))


@cache
def _static(name: str) -> str:
    return (HERE / "static" / name).read_text(encoding="utf-8")


def _file(page: Page, known: Known) -> Response:
    r, today = page.read_for(known).reader, page.desk.today(known.garden)
    places = places_away(page.desk, known, r)
    answer = page.show(
        "take_away_file.html", known=known, policy=POLICY, style=_static("style.css") + _static("cut.css"), places=places,
        round=page.desk.round(known), summary=summary([place.row for place in places], r), sky=page.desk.sky(known),
        now=page.desk.now(known.garden), today=today, made=datetime.now(UTC).isoformat(timespec="seconds"),
        held=today.isoformat() if page.house.settings.today else "",
    )  # fmt: skip
    name = f"round-{today.isoformat()}.html"
    answer.headers["content-disposition"] = f'attachment; filename="{name}"'
    answer.headers["content-security-policy"] = POLICY
    answer.headers["cache-control"] = "private, no-store"
    return answer


# --- back ------------------------------------------------------------------------------------------------------------------
@router.get("/g/{key}/take-back")
def take_back_page(page: OwnPage, key: str, written: int = -1, here: int = 0) -> HTMLResponse:
    """Where a list is handed back."""
    return _back(page, page.desk.known(key), written=written, before=here)


@router.post("/g/{key}/take-back")
async def take_back(page: OwnPage, key: str, request: Request) -> Response:
    """Look at a list: nothing is written yet."""
    async with request.form(max_files=1, max_fields=4, max_part_size=2 * MAX_BYTES) as form:
        text, file = form.get("list"), form.get("file")
        if isinstance(file, UploadFile) and file.filename:
            text = (await file.read(MAX_BYTES + 1)).decode("utf-8-sig", "replace")
    return await run_in_threadpool(_look, page, key, text if isinstance(text, str) else "")


def _look(page: Page, key: str, text: str) -> Response:
    known = page.desk.known(key)
    try:
        made = _read(page, known, text)
    except InputError as error:
        return _back(page, known, 422, typed=text[:MAX_BYTES], errors=problems(error))
    return _back(page, known, made=made, keep=list_text(made, made.entries))


def _read(page: Page, known: Known, text: str) -> BackList:
    if not text.strip():
        raise InputError(say("Choose the file with the list, or paste its text."), code="take_back.empty", field="list")
    return read_list(text, page.desk, known, page.read_for(known).reader)


@router.post("/g/{key}/take-back/write")
def write(page: OwnPage, key: str, list: Kept) -> Response:
    """Write down every good entry; the others are shown with what is wrong."""
    known = page.desk.known(key)
    made = _read(page, known, list)
    fresh, before, wrong = write_list(made, page.desk, known, page.viewer.name)
    if not wrong:
        return page.go(f"/g/{key}/take-back", written=str(fresh), here=str(before))
    left = replace(made, entries=wrong)
    return _back(page, known, written=fresh, before=before, made=left, keep=list_text(left, wrong))


@router.post("/g/{key}/take-back/rest")
def rest(page: OwnPage, key: str, list: Kept) -> Response:
    """The entries that could not be written down, as a list again."""
    known = page.desk.known(key)
    made = _read(page, known, list)
    text = list_text(made, made.of("wrong"))
    headers = {"content-disposition": 'attachment; filename="list-left.json"', "cache-control": "no-store"}
    return Response(text, media_type="application/json", headers=headers)


def _back(
    page: Page, known: Known, status: int = 200, *, made: BackList | None = None, keep: str = "", typed: str = "",
    errors: Any = None, written: int = -1, before: int = 0,
) -> HTMLResponse:  # fmt: skip
    return page.show(
        "take_back.html", status, known=known, way="log", made=made, keep=keep, typed=typed, errors=errors or {},
        written=written, before=before,
    )  # fmt: skip
