"""The round: the home page of a garden, and the same for a helper with a link."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, Response

from soakbook.app.charts import Chart, week_strip
from soakbook.app.desk import Known
from soakbook.app.entry_amount import amount_text
from soakbook.app.entry_form import entry_words, new_id
from soakbook.app.entry_in import local_time
from soakbook.app.learnt_view import fault_cards
from soakbook.app.lines_view import lines_today
from soakbook.app.outlook import outlook, usual_rain_mm
from soakbook.app.pages import AnyPage, OwnPage, Page
from soakbook.app.reader import Reader
from soakbook.app.round_view import probe_one, rain_words, rows_of, summary
from soakbook.app.routes.front import GARDEN_COOKIE
from soakbook.app.who import helper_of
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import Entry, NewEntry

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=400)]
_DAYS_AHEAD = 7


@router.get("/g/{key}/")
def round_page(page: OwnPage, key: str, done: str = "", undone: str = "") -> Response:
    """Today's round of a garden."""
    known = page.desk.known(key)
    answer = _shown(page, known, f"/g/{key}/", done, undone)
    answer.set_cookie(GARDEN_COOKIE, key, max_age=31_536_000, httponly=True, samesite="lax", path="/")
    return answer


@router.get("/helper/{token}/")
def helper_page(page: AnyPage, token: str, done: str = "", undone: str = "") -> Response:
    """Today's round for a helper."""
    page, known = _as_helper(page, token)
    return _shown(page, known, f"/helper/{token}/", done, undone)


@router.get("/g/{key}/stamp")
def stamp(page: OwnPage, key: str) -> dict[str, str]:
    """Changes whenever the round does; pages ask for it to notice what others do."""
    return {"stamp": stamp_of(page, page.desk.known(key))}


@router.get("/helper/{token}/stamp")
def helper_stamp(page: AnyPage, token: str) -> dict[str, str]:
    """As :func:`stamp`, for a helper."""
    page, known = _as_helper(page, token)
    return {"stamp": stamp_of(page, known)}


@router.post("/g/{key}/done")
def done(
    page: OwnPage, key: str, place: Text, number: Text = "", unit: Text = "", id: Text = "", seen: Text = "",
    anyway: Text = "",
) -> Response:  # fmt: skip
    """A place was watered."""
    return _done(page, page.desk.known(key), f"/g/{key}/", place, number, unit, id, seen, anyway)


@router.post("/helper/{token}/done")
def helper_done(
    page: AnyPage, token: str, place: Text, number: Text = "", unit: Text = "", id: Text = "", seen: Text = "",
    anyway: Text = "",
) -> Response:  # fmt: skip
    """A helper watered a place."""
    page, known = _as_helper(page, token)
    return _done(page, known, f"/helper/{token}/", place, number, unit, id, seen, anyway)


@router.post("/g/{key}/felt")
def felt(
    page: OwnPage, key: str, place: Text, feel: Text = "", dial: Text = "", depth: Text = "", id: Text = ""
) -> Response:
    """The soil of a place was felt or probed."""
    return _felt(page, page.desk.known(key), f"/g/{key}/", place, feel, dial, depth, id)


@router.post("/helper/{token}/felt")
def helper_felt(
    page: AnyPage, token: str, place: Text, feel: Text = "", dial: Text = "", depth: Text = "", id: Text = ""
) -> Response:
    """A helper felt or probed a place."""
    page, known = _as_helper(page, token)
    return _felt(page, known, f"/helper/{token}/", place, feel, dial, depth, id)


@router.post("/g/{key}/undo")
def undo(page: OwnPage, key: str, id: Text, back: Text = "") -> Response:
    """Take an entry back, or bring it back."""
    return _undo(page, page.desk.known(key), f"/g/{key}/", id, back)


@router.post("/helper/{token}/undo")
def helper_undo(page: AnyPage, token: str, id: Text, back: Text = "") -> Response:
    """A helper takes an entry of today back, or brings it back."""
    page, known = _as_helper(page, token)
    entry = page.store.entry(known.key, id)
    if local_time(entry.at, known.garden).date() != page.desk.today(known.garden) or entry.by != page.viewer.name:
        raise InputError(
            say("a helper's link changes only what was written down with it today."), code="helper.other", field="id"
        )
    return _undo(page, known, f"/helper/{token}/", id, back)


def _as_helper(page: Page, token: str) -> tuple[Page, Known]:
    viewer = helper_of(token, page.house)
    assert viewer.link is not None
    return replace(page, viewer=viewer), page.desk.known(viewer.link.key)


def stamp_of(page: Page, known: Known) -> str:
    """What a round was made from, as one word."""
    return f"{known.version}-{known.log_version}-{page.desk.today(known.garden)}"


def _shown(page: Page, known: Known, root: str, done: str, undone: str) -> HTMLResponse:
    made = page.desk.round(known)
    r = page.read_for(known).reader
    faults = fault_cards(page.desk, known, r)
    rows = rows_of(page.desk, known, made, r, faults)
    groups = {name: [row for row in rows if row.group == name] for name in ("do", "watch", "done", "fine")}
    return page.show(
        "round.html", known=known, way="round", root=root, round=made, rows=rows, groups=groups, summary=summary(rows, r),
        said=_entry_words(page, known, done, r, False), unsaid=_entry_words(page, known, undone, r, True), new_id=new_id,
        uncounted=page.desk.uncounted(known), sky=page.desk.sky(known), stamp=stamp_of(page, known), week=_week(page, known, r), now=page.desk.now(known.garden),
        probe=probe_one(rows), n_asked=sum(row.sign == "probe" for row in rows), rain=rain_words(page.desk, known, r) if rows else "", faults=faults, lines=lines_today(made.lines, r),
    )  # fmt: skip


def _week(page: Page, known: Known, r: Reader) -> Chart:
    """Demand and rain of the coming days, for the strip."""
    sky, today = page.desk.sky(known), page.desk.today(known.garden)

    def strip() -> Chart:
        days = outlook(sky.series, today, today + timedelta(days=_DAYS_AHEAD))
        return week_strip(days, r, usual_rain_mm(days, page.desk.members(known)))

    made: Chart = page.desk.keep(("week", known.key, known.version, sky.stamp, today, r), strip)
    return made


def _entry_words(page: Page, known: Known, entry_id: str, r: Reader, removed: bool) -> tuple[Entry, str] | None:
    """What a form did, while that still holds."""
    entry = _there(page, known, entry_id) if entry_id else None
    return (entry, entry_words(entry, known, r)) if entry is not None and entry.removed == removed else None


def _when(page: Page, known: Known) -> str:
    return page.moment(known).replace(tzinfo=None).isoformat(timespec="minutes")


def _kept(page: Page, known: Known, root: str, entry: NewEntry) -> Response:
    """Written down. Sent twice it counts once, although the clock has gone on meanwhile."""
    page.desk.read_entry(known, entry)
    there = _there(page, known, entry.id)
    same = there is not None and (there.kind, there.place_id, there.amount) == (
        entry.kind,
        entry.place_id,
        entry.amount,
    )
    if not same:
        page.store.put(known.key, entry, by=page.viewer.name)
    if same and there is not None and there.removed:
        return page.go(root, undone=entry.id)  # taken back meanwhile: it is not there again unless somebody says so
    return page.go(root, done=entry.id)


def _there(page: Page, known: Known, entry_id: str) -> Entry | None:
    try:
        return page.store.entry(known.key, entry_id)
    except InputError:
        return None


def _done(
    page: Page, known: Known, root: str, place: str, number: str, unit: str, id: str, seen: str, anyway: str
) -> Response:
    known.place(place)
    if not number.strip():
        raise InputError(say("Write how much."), code="log.amount", field="number")
    entry_id = id or new_id()
    with page.desk.ticking:  # two who tick the same place at once: the second is told of the first
        return _ticked(page, known, root, place, number, unit, entry_id, seen, anyway)


def _ticked(
    page: Page, known: Known, root: str, place: str, number: str, unit: str, entry_id: str, seen: str, anyway: str
) -> Response:
    known = page.desk.known(known.key)
    others = others_today(page, known, place, seen, entry_id)
    if others and not anyway and page.waited is None:
        return page.show(
            "already.html", 409, known=known, way="round", root=root, place=known.place(place), place_id=place, number=number,
            unit=unit, id=entry_id, others=[entry_words(e, known, page.read_for(known).reader) for e in others],
            who=[(e.by, local_time(e.at, known.garden)) for e in others],
        )  # fmt: skip
    return _kept(page, known, root, NewEntry(entry_id, _when(page, known), "water", place, amount_text(number, unit)))


def others_today(page: Page, known: Known, place: str, seen: str, own: str) -> list[Entry]:
    """Waterings of the place today that the page did not know of."""
    today, known_ids = page.desk.today(known.garden), {*seen.split(","), own}
    return [
        e
        for e in page.desk.entries(known)
        if e.kind == "water"
        and e.place_id == place
        and e.id not in known_ids
        and local_time(e.at, known.garden).date() == today
    ]


def _felt(page: Page, known: Known, root: str, place: str, feel: str, dial: str, depth: str, id: str) -> Response:
    known.place(place)
    if not feel and not dial.strip():
        raise InputError(say("Say how it felt, or where the dial stood."), code="log.amount", field="dial")
    amount = feel or f"dial {dial.strip()}"
    if depth.strip():
        amount += f" at {depth.strip()}"
    return _kept(page, known, root, NewEntry(id or new_id(), _when(page, known), "reading", place, amount))


def _undo(page: Page, known: Known, root: str, entry_id: str, back: str) -> Response:
    if back:
        page.store.restore(known.key, entry_id, by=page.viewer.name)
        return page.go(root, done=entry_id)
    page.store.remove(known.key, entry_id, by=page.viewer.name)
    return page.go(root, undone=entry_id)
