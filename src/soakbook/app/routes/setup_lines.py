"""Lines, and their flow by bucket and watch."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.changing import AForm, Document, again, fresh_id, line_in, save, save_from, saved, what, words
from soakbook.app.desk import Known
from soakbook.app.entries import LINE, entry_of, form_errors, form_of, with_unit
from soakbook.app.pages import OwnPage, Page
from soakbook.app.timer_form import follow_line, opened_alone
from soakbook.errors import InputError
from soakbook.garden.words import plain
from soakbook.said import say
from soakbook.units import UnitSystem, parse_quantity

router = APIRouter(include_in_schema=False)
BUCKET = ("bucket.water", "bucket.time")
NAMES = {name for field in LINE for name in field.names} | set(BUCKET)
_GALLON_L = 3.785411784


@router.get("/g/{key}/setup/line/new")
def new_line(page: OwnPage, key: str) -> Response:
    """A form for one more."""
    return _shown(page, page.desk.known(key), None, {"means": "drip_line"})


@router.post("/g/{key}/setup/line/new")
def add_line(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps it."""
    known = page.desk.known(key)

    def edit(document: Document) -> Document:
        lines = document.setdefault("lines", [])
        lines.append({"id": fresh_id(), **_made(page, known, posted.fields, {})})
        return document

    try:
        row = save(page, known, edit, what(say("line added"), posted.get("name")))
    except InputError as error:
        at = f"lines.{len(known.document.get('lines', [])) + 1}"
        return _shown(page, known, None, dict(posted.fields), form_errors(error, at, NAMES), 422)
    return saved(page, known, row, mark="lines")


@router.get("/g/{key}/setup/line/{line_id}")
def line_page(page: OwnPage, key: str, line_id: str) -> Response:
    """A line's form."""
    known = page.desk.known(key)
    _, line = line_in(known.document, line_id)
    return _shown(page, known, line_id, form_of(LINE, line, words()))


@router.post("/g/{key}/setup/line/{line_id}")
def change_line(page: OwnPage, key: str, line_id: str, posted: AForm) -> Response:
    """Keeps it as changed; places on it follow a new name."""
    known = page.desk.known(key)
    index, line = line_in(known.document, line_id)

    def edit(document: Document) -> Document:
        index, line = line_in(document, line_id)
        made = _made(page, known, posted.fields, line)
        document["lines"][index] = made
        for place in document["places"]:
            if "line" in place and plain(place["line"]) == plain(line["name"]):
                if made.get("name") and made["name"] != line["name"]:
                    place["line"] = made["name"]
                if made.get("means") != line["means"]:
                    place.pop("watered", None)  # the line says it
        if made.get("name") and made["name"] != line["name"]:
            follow_line(document, line["name"], made["name"])
        return document

    try:
        did = what(say("line changed"), posted.get("name"))
        row = save_from(page, known, edit, did, posted, lambda document: line_in(document, line_id)[1], line["name"])
    except InputError as error:
        typed, status = again(posted.fields, error)
        return _shown(page, known, line_id, typed, form_errors(error, f"lines.{index + 1}", NAMES), status)
    return saved(page, known, row, mark="lines")


@router.post("/g/{key}/setup/line/{line_id}/remove")
def remove_line(page: OwnPage, key: str, line_id: str) -> Response:
    """Takes away a line that no place is on."""
    known = page.desk.known(key)
    index, line = line_in(known.document, line_id)
    on_it = [place.name for place in known.garden.places if place.line == known.garden.lines[index].name]
    if on_it:
        raise InputError(
            say("{places} are watered by this line. Choose another way of watering for them first.", places=on_it),
            code="line.used", field="line",
        )  # fmt: skip

    if timers := opened_alone(known.document, line["name"]):
        raise InputError(
            say("{timers}: the timer opens no line but this one. Forget its settings first.", timers=timers), code="line.used", field="line"
        )  # fmt: skip

    def edit(document: Document) -> Document:
        at, _ = line_in(document, line_id)
        del document["lines"][at]
        follow_line(document, line["name"], None)
        return document

    row = save(page, known, edit, what(say("line removed"), line["name"]))
    return saved(page, known, row, mark="lines")


def _made(page: Page, known: Known, form: Mapping[str, str], before: Document) -> Document:
    units = page.read_for(known).reader.units
    return entry_of(LINE, bucket_test(form, units), before, words(), units)


def bucket_test(form: Mapping[str, str], units: UnitSystem) -> Mapping[str, str]:
    """The form with the flow reckoned from water caught in a time, where both are given, and marked as measured."""
    water, time = (form.get(name, "").strip() for name in BUCKET)
    if not water and not time:
        return form
    if not water or not time:
        missing = BUCKET[0] if not water else BUCKET[1]
        raise InputError(
            say("the test needs both: how much water, and how long it took."), code="line.bucket", field=missing
        )
    litres = parse_quantity(with_unit(water, "L" if units == "metric" else "gal"), "volume", field=BUCKET[0])
    hours = parse_quantity(with_unit(time, "s"), "duration", field=BUCKET[1])
    if litres <= 0 or hours <= 0:
        raise InputError(say("water and time must be more than nothing."), code="line.bucket", field=BUCKET[0])
    lph = litres / hours
    flow = f"{lph:.3g} L/h" if units == "metric" else f"{lph / _GALLON_L:.3g} gal/h"
    if "e" in flow:
        flow = f"{lph:.0f} L/h"
    return {**form, "flow": flow, "measured": "yes"}


def _shown(
    page: Page, known: Known, line_id: str | None, form: dict[str, str], errors: Any = None, status: int = 200
) -> Response:
    form = dict.fromkeys(NAMES, "") | form
    supply = known.garden.supply.source
    r = page.read_for(known).reader
    return page.show(
        "setup/line.html", status, known=known, way="setup", line_id=line_id, form=form, errors=errors,
        means=view.catalog_options("means", r), source=supply, is_metric=r.units == "metric",
    )  # fmt: skip
