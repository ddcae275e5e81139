"""Laying a line: a form without script, for any bed or filled in from one of a garden."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import lay_form as form
from soakbook.app import on_bed_view
from soakbook.app.desk import Known
from soakbook.app.lay_view import lay_shown
from soakbook.app.pages import AnyPage, OwnPage, Page
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/lay")
def lay_page(page: AnyPage) -> Response:
    """For any bed."""
    return _shown(page, None, "")


@router.get("/g/{key}/place/{place_id}/lay")
def lay_place(page: OwnPage, key: str, place_id: str) -> Response:
    """For a bed of a garden."""
    known = page.desk.known(key)
    known.place(place_id)
    return _shown(page, known, place_id)


@router.get("/g/{key}/place/{place_id}/line")
def line_on_bed(page: OwnPage, key: str, place_id: str) -> Response:
    """The line that a bed of a garden is on, and what it wets."""
    from soakbook.delivery.laid import is_on_line

    known = page.desk.known(key)
    place, r = known.place(place_id), page.read_for(known).reader
    if not is_on_line(place):
        return page.go(f"/g/{key}/place/{place_id}/lay" if place.kind == "bed" else f"/g/{key}/place/{place_id}")
    fields = on_bed_view.fields_from(page.request.query_params, r)
    answer, errors = None, {}
    try:
        answer = on_bed_view.on_bed_shown(known.garden, place, fields, page.desk.today(known.garden), r)
    except InputError as error:
        errors = on_bed_view.by_field(error)
    return page.show(
        "on_bed.html", 422 if errors else 200, known=known, way="round", place=place, place_id=place_id, fields=fields, answer=answer, errors=errors,
        units=on_bed_view.UNITS[r.units],
    )  # fmt: skip


def _shown(page: Page, known: Known | None, place_id: str) -> Response:
    r, place, filled, own = page.reader, None, None, False
    if known is not None:
        r, place = page.read_for(known).reader, known.place(place_id)
        own = form.can_be_followed(place)
        filled = form.filled_from(place, known.garden.supply, page.desk.today(known.garden), r)
    asked = form.asked_from(page.request.query_params, r, filled)
    answer, errors = None, {}
    if asked.given:
        try:
            answer = lay_shown(form.wanted_from(asked, r.units, place), r)
        except InputError as error:
            errors = form.by_field(error)
    return page.show(
        "lay.html", 422 if errors else 200, known=known, way="round" if known else "", place=place, place_id=place_id, own=own, asked=asked,
        answer=answer, errors=errors, units=form.UNITS[r.units], soils=form.soil_groups(r),
        supplies=[(name, r.tell(words)) for name, words in form.SUPPLIES],
    )  # fmt: skip
