"""A place: the cut through its soil, its balance through time, the reasons, its log and settings."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, Response

from soakbook.app import place_view as view
from soakbook.app.band_record import record_of, record_words
from soakbook.app.desk import Known
from soakbook.app.entry_form import amount_units, depth_units, entry_words, new_id, with_unit
from soakbook.app.entry_in import FIELDS, Typed, empty_form, entry_of
from soakbook.app.learnt_view import fault_cards, learnt_words
from soakbook.app.pages import OwnPage, Page, problems
from soakbook.app.place_figures import origins
from soakbook.app.plan_view import plan_shown
from soakbook.app.round_view import rows_of
from soakbook.errors import InputError
from soakbook.store import NewEntry

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=2000)]
ROOT = "/g/{key}/place/{place_id}"


@router.get(ROOT)
def place_page(page: OwnPage, key: str, place_id: str, done: str = "", undone: str = "") -> Response:
    """A place of a garden."""
    known = page.desk.known(key)
    known.place(place_id)
    return _shown(page, known, place_id, done=done, undone=undone)


@router.post(ROOT + "/entry")
def entry(
    page: OwnPage, key: str, place_id: str, kind: Text = "", id: Text = "", on: Text = "", at: Text = "", number: Text = "",
    unit: Text = "", feel: Text = "", dial: Text = "", depth: Text = "", depth_unit: Text = "", text: Text = "",
) -> Response:  # fmt: skip
    """Water, a reading or a note for the place. Sent twice it counts once."""
    known = page.desk.known(key)
    known.place(place_id)
    typed = dict.fromkeys(FIELDS, "") | {
        "id": id or new_id(), "kind": kind, "on": on, "at": at, "place": place_id, "number": number, "unit": unit, "feel": feel,
        "dial": dial, "depth": depth, "depth_unit": depth_unit, "text": text,
    }  # fmt: skip
    try:
        kept, _ = page.store.put(key, entry_of(typed, page.desk, known, page.moment(known)), by=page.viewer.name)
    except InputError as error:
        if page.waited is not None:
            raise  # nobody looks at a form
        return _shown(page, known, place_id, typed=typed, errors=problems(error))
    return page.go(f"/g/{key}/place/{place_id}", **{"undone" if kept.removed else "done": kept.id})


@router.post(ROOT + "/undo")
def undo(page: OwnPage, key: str, place_id: str, id: Text, back: Text = "") -> Response:
    """Take an entry out, or bring it back."""
    if back:
        page.store.restore(key, id, by=page.viewer.name)
        return page.go(f"/g/{key}/place/{place_id}", done=id)
    page.store.remove(key, id, by=page.viewer.name)
    return page.go(f"/g/{key}/place/{place_id}", undone=id)


@router.post(ROOT + "/forget")
def forget(page: OwnPage, key: str, place_id: str, id: Text = "") -> Response:
    """From here on the readings of the place up to now teach nothing. An entry of the log like any other: it can be taken back."""
    known = page.desk.known(key)
    known.place(place_id)
    at = page.moment(known).replace(tzinfo=None).isoformat(timespec="minutes")
    kept, _ = page.store.put(key, NewEntry(id or new_id(), at, "forget", place_id, ""), by=page.viewer.name)
    return page.go(f"/g/{key}/place/{place_id}", **{"undone" if kept.removed else "done": kept.id})


@router.get(ROOT + "/days.csv")
def days_csv(page: OwnPage, key: str, place_id: str) -> Response:
    """Day by day up to this morning, every store and flux."""
    from soakbook.advice.daybook import rows_text

    known = page.desk.known(key)
    rows = view.day_rows(page.desk.standing(known, place_id), known.garden.units)
    return Response(
        rows_text(rows), media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{place_id}-days.csv"'},
    )  # fmt: skip


def _shown(
    page: Page, known: Known, place_id: str, *, done: str = "", undone: str = "", typed: Typed | None = None,
    errors: Any = None,
) -> HTMLResponse:  # fmt: skip
    desk, place, r = page.desk, known.place(place_id), page.read_for(known).reader
    made, standing, today = desk.round(known), desk.standing(known, place_id), desk.today(known.garden)
    at = list(known.names).index(place_id)
    before, after = view.neighbours(known, place_id)
    entries, n_entries = view.written(desk, known, place_id, r)
    kept = desk.keep(
        ("place", known.key, known.version, known.log_version, desk.sky(known).stamp, today, place_id, r),
        lambda: _drawn(page, known, place_id, at),
    )
    return page.show(
        "place.html", 422 if errors else 200, known=known, way="round", place=place, place_id=place_id,
        row=rows_of(desk, known, made, r)[at], standing=standing, before=before, after=after, entries=entries,
        n_entries=n_entries, said=_said(page, known, done), unsaid=_said(page, known, undone), new_id=new_id, errors=errors or {},
        **kept, **_forms(page, known, place_id, typed), plantings=view.plantings(known, place_id, standing, today, r),
        facts=view.settings(place, known, r), soil_link=view.soil_link(known, place_id), sky=desk.sky(known), today=today,
    )  # fmt: skip


def _drawn(page: Page, known: Known, place_id: str, at: int) -> dict[str, Any]:
    """What takes a while to make and changes only with the garden, its log, the weather and the day."""
    from soakbook.advice.round import ALWAYS
    from soakbook.app.cut import cut_rows, cut_svg, cut_view

    desk, r = page.desk, page.read_for(known).reader
    job, standing = desk.round(known).jobs[at], desk.standing(known, place_id)
    cut = cut_view(standing.days, standing.known.now, job.advice)
    head, rows = view.day_table(view.day_rows(standing, r.units), r)
    return {
        "cut": cut, "cut_svg": cut_svg(cut, r), "cut_rows": cut_rows(cut, r),
        "balance": view.balance_chart(standing, desk.members(known), job, desk.log(known), r), "reasons": view.reasons(standing, r),
        "sum_words": view.sum_words(standing, r), "origins": origins(standing, r), "day_head": head, "day_rows": rows,
        "ahead_words": view.weather_words(desk.sky(known).series, desk.members(known), desk.today(known.garden), r), "always": ALWAYS,
        "learnt": learnt_words(standing, r), "faults": fault_cards(desk, known, r, [place_id]),
        "plan": plan_shown(job.plan, r) if job.plan is not None and view.grows(standing) else None,
        "record": record_words(record_of(desk.held(known, place_id)), r),
    }  # fmt: skip


def _forms(page: Page, known: Known, place_id: str, typed: Typed | None) -> dict[str, Any]:
    """The three small forms: the one that was sent as it was typed, the others empty."""
    r = page.read_for(known).reader
    forms = {kind: empty_form(kind, place_id) for kind in ("water", "reading", "note")}
    if typed is not None and typed["kind"] in forms:
        forms[typed["kind"]] = typed
    units = amount_units(known.place(place_id), known.garden, r)
    return {
        "forms": forms, "typed_kind": typed["kind"] if typed else "",
        "units": with_unit(units, forms["water"]["unit"], r), "depth_units": depth_units(r),
    }  # fmt: skip


def _said(page: Page, known: Known, entry_id: str) -> tuple[str, str] | None:
    """Id and words of an entry just written down or taken back."""
    if not entry_id:
        return None
    try:
        return entry_id, entry_words(page.store.entry(known.key, entry_id), known, page.read_for(known).reader)
    except InputError:
        return None  # an old link
