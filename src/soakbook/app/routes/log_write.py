"""Writing down: one entry, many places at once, and changing an entry."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from soakbook.app.desk import Known
from soakbook.app.entry_form import amount_units, depth_units, new_id, rain_units, when_text, with_unit
from soakbook.app.entry_in import FIELDS, Typed, check_photos, empty_form, entries_of_many, entry_of, form_of
from soakbook.app.hand_view import hand_of
from soakbook.app.log_view import shown_entry
from soakbook.app.pages import OwnPage, Page, problems
from soakbook.app.reading_form import WHAT
from soakbook.app.reading_form import units as reading_units
from soakbook.errors import InputError
from soakbook.garden.log import KINDS
from soakbook.said import say

router = APIRouter(include_in_schema=False)
#: Hours of the quick choices of a time.
_MORNING, _EVENING = 7, 19


@router.get("/g/{key}/log/new")
def new_form(page: OwnPage, key: str, kind: str = "rain", place: str = "", when: str = "") -> HTMLResponse:
    """The form for one entry; ``when`` is a quick choice such as ``yesterday-morning``."""
    known = page.desk.known(key)
    typed = empty_form(kind if kind in KINDS else "rain", place if place in known.names else "")
    chosen = _chosen(page, known, when)
    if chosen is not None:
        typed["on"], typed["at"] = chosen.date().isoformat(), f"{chosen:%H:%M}"
    return _one(page, known, typed)


def _chosen(page: Page, known: Known, when: str) -> datetime | None:
    """The time of a quick choice; None for now, which is when the form is sent."""
    return next((at for name, _, at in quick_times(page, known) if name == when != "now"), None)


def quick_times(page: Page, known: Known) -> list[tuple[str, str, datetime]]:
    """Times that are chosen at one press, with their words; those that have come."""
    t, now = page.read_for(known).reader.t, _now(page, known).replace(tzinfo=None, second=0)
    day = now.replace(hour=0, minute=0)
    before = day - timedelta(days=1)
    times = [
        ("now", t("Now"), now),
        ("this-morning", t("This morning"), day.replace(hour=_MORNING)),
        ("yesterday-evening", t("Yesterday evening"), before.replace(hour=_EVENING)),
        ("yesterday-morning", t("Yesterday morning"), before.replace(hour=_MORNING)),
    ]
    return [one for one in times if one[2] <= now]


def _now(page: Page, known: Known) -> datetime:
    return page.desk.now(known.garden)


def _one(page: Page, known: Known, typed: Typed, errors: Any = None, status: int = 200) -> HTMLResponse:
    return page.show(
        "log_new.html", status, **_fields(page, known, typed, errors), quick=quick_times(page, known),
        here_query={"kind": typed["kind"], "place": typed["place"]},
    )  # fmt: skip


def _fields(page: Page, known: Known, typed: Typed, errors: Any) -> dict[str, Any]:
    """What the fields of an entry need."""
    r = page.read_for(known).reader
    place = known.place(typed["place"]) if typed["place"] in known.names else None
    units = rain_units(r) if typed["kind"] == "rain" else amount_units(place, known.garden, r)
    return {
        "known": known, "way": "log", "typed": typed, "errors": errors or {},
        "units": with_unit(units, typed["unit"], r), "unit": typed["unit"] or units[0][0],
        "depth_units": with_unit(depth_units(r), typed["depth_unit"], r),
        "hand": hand_of({i: known.place(i) for i in known.names}, r) if typed["kind"] == "reading" else None,
        "readings": WHAT, "reading_units": lambda name: reading_units(name, r),
        "with_unit": lambda some, unit: with_unit(some, unit, r), "today": page.desk.today(known.garden),
    }  # fmt: skip


@router.post("/g/{key}/log/new")
async def new_post(page: OwnPage, key: str, request: Request) -> Response:
    """Keep one entry and its photos. Sent twice it counts once."""
    typed, pictures = await _sent(request)
    return await run_in_threadpool(_keep_one, page, key, typed, pictures)


async def _sent(request: Request) -> tuple[Typed, list[bytes]]:
    async with request.form(max_files=24, max_fields=64) as form:
        files = [file for _, file in form.multi_items() if isinstance(file, UploadFile)]
        return _typed(form), [data for file in files if (data := await file.read())]


def _typed(form: FormData) -> Typed:
    values = {name: form.get(name, "") for name in FIELDS}
    return {name: value if isinstance(value, str) else "" for name, value in values.items()}


def _keep_one(page: Page, key: str, typed: Typed, pictures: list[bytes]) -> Response:
    known, reader = page.desk.known(key), page.read_for(page.desk.known(key)).reader
    if typed["kind"] == "note" and pictures and not typed["text"].strip():
        typed["text"] = reader.t("Photo")
    try:
        entry = entry_of(typed, page.desk, known, page.moment(known))
        check_photos(pictures)
        kept, _ = page.store.put(key, entry, by=page.viewer.name)
    except InputError as error:
        if page.waited is not None:
            raise  # nobody looks at a form
        again = _fresh(error, typed)
        return _one(page, known, again, problems(_explained(error)), 409 if again["id"] != typed["id"] else 422)
    _keep_photos(page, key, kept.id, pictures)
    return page.go(f"/g/{key}/log", did="removed" if kept.removed else "put", id=kept.id)


def _fresh(error: InputError, typed: Typed) -> Typed:
    """The form once more; with another id when its own belongs to what was kept from it before."""
    return typed | {"id": new_id()} if error.code == "log.id.twice" else typed


def _explained(error: InputError) -> InputError:
    if error.code != "log.id.twice":
        return error
    return InputError(
        say("This form was written down already, with other values. Save once more to write down a second entry."),
        code=error.code,
    )


def _keep_photos(page: Page, key: str, entry_id: str, pictures: list[bytes]) -> None:
    for data in pictures:
        page.store.add_photo(key, entry_id, data, by=page.viewer.name)


# --- changing -----------------------------------------------------------------------------------------------------
@router.get("/g/{key}/log/entry/{entry_id}")
def entry_form(page: OwnPage, key: str, entry_id: str) -> HTMLResponse:
    """An entry to be changed, and what it was before."""
    known = page.desk.known(key)
    entry = page.store.entry(key, entry_id)
    return _entry(page, known, entry_id, form_of(entry, known.garden, page.read_for(known).reader))


def _entry(
    page: Page, known: Known, entry_id: str, typed: Typed, errors: Any = None, status: int = 200
) -> HTMLResponse:
    reader, gone = page.read_for(known).reader, page.store.place_names(known.key)
    entry = page.store.entry(known.key, entry_id)
    today = page.desk.today(known.garden)
    past = []
    for before in page.store.past(known.key, entry_id):
        shown = shown_entry(before, known, reader, gone)
        changed = before.at_utc.astimezone(_now(page, known).tzinfo)
        past.append((shown, when_text(changed.replace(tzinfo=None), today, reader), before))
    return page.show(
        "log_entry.html", status, **_fields(page, known, typed, errors), entry=entry, past=past,
        shown=shown_entry(entry, known, reader, gone), gone_name=gone.get(entry.place_id, ""), quick=[],
    )  # fmt: skip


@router.post("/g/{key}/log/entry/{entry_id}")
async def entry_post(page: OwnPage, key: str, entry_id: str, request: Request) -> Response:
    """Keep other values of an entry, the old ones with it; and more photos."""
    typed, pictures = await _sent(request)
    return await run_in_threadpool(_change, page, key, entry_id, typed, pictures)


def _change(page: Page, key: str, entry_id: str, typed: Typed, pictures: list[bytes]) -> Response:
    known, old = page.desk.known(key), page.store.entry(key, entry_id)
    typed |= {"id": entry_id, "kind": old.kind}
    before = form_of(old, known.garden, page.read_for(known).reader)
    try:
        entry = entry_of(typed, page.desk, known)
        if (typed["on"], typed["at"]) == (before["on"], before["at"]):
            entry = type(entry)(**vars(entry) | {"at": old.at})
        check_photos(pictures)
        kept = page.store.edit(key, entry_id, entry, by=page.viewer.name)
        _keep_photos(page, key, entry_id, pictures)
    except InputError as error:
        return _entry(page, known, entry_id, typed, problems(error), 422)
    if kept == old:
        return page.go(f"/g/{key}/log")
    return page.go(f"/g/{key}/log", did="edited", id=entry_id, edits=str(kept.edits))


# --- many at once -------------------------------------------------------------------------------------------------
@router.get("/g/{key}/log/many")
def many_form(page: OwnPage, key: str, when: str = "") -> HTMLResponse:
    """One form for what many places, and lines, were given at one time."""
    known = page.desk.known(key)
    typed, at = {"id": new_id(), "on": "", "at": ""}, _chosen(page, known, when)
    if at is not None:
        typed |= {"on": at.date().isoformat(), "at": f"{at:%H:%M}"}
    return _many(page, known, typed)


def _many(page: Page, known: Known, typed: dict[str, str], errors: Any = None, status: int = 200) -> HTMLResponse:
    reader, garden, today = page.read_for(known).reader, known.garden, page.desk.today(known.garden)
    last = {}
    for entry in page.desk.log(known):
        if entry.litres is not None:
            moment = when_text(entry.at.replace(tzinfo=None), today, reader)
            last[entry.place] = f"{moment}, {reader.quantity(entry.litres, 'volume')}"
    rows = [(place_id, name, amount_units(known.place(place_id), garden, reader), last.get(name, ""))
            for place_id, name in known.names.items()]  # fmt: skip
    on_line = {line.name: [place.name for place in garden.places if place.line == line.name] for line in garden.lines}
    lines = [(f"line.{n}", f"line_unit.{n}", line.name, on_line[line.name])
             for n, line in enumerate(garden.lines) if on_line[line.name]]  # fmt: skip
    return page.show(
        "log_many.html", status, known=known, way="log", typed=typed, errors=errors or {}, rows=rows, lines=lines,
        quick=quick_times(page, known), today=today, here_query={},
    )  # fmt: skip


@router.post("/g/{key}/log/many")
async def many_post(page: OwnPage, key: str, request: Request) -> Response:
    """Keep all of them or none. Sent twice they count once."""
    async with request.form(max_files=0, max_fields=2000) as form:
        typed = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    return await run_in_threadpool(_keep_many, page, key, typed)


def _keep_many(page: Page, key: str, typed: dict[str, str]) -> Response:
    known = page.desk.known(key)
    try:
        entries = entries_of_many(typed, page.desk, known, page.moment(known))
        kept = page.store.put_many(key, entries, by=page.viewer.name)
    except InputError as error:
        if page.waited is not None:
            raise  # nobody looks at a form
        again = _fresh(error, typed)
        return _many(page, known, again, problems(_explained(error)), 409 if again is not typed else 422)
    return _told_many(page, key, kept)


def _told_many(page: Page, key: str, kept: list[tuple[Any, bool]]) -> RedirectResponse:
    first = next((entry for entry, fresh in kept if fresh), kept[0][0])
    return page.go(f"/g/{key}/log", did="many-removed" if first.removed else "many", id=first.id)
