"""Sun and wind of a place: what stands in the way, by direction, and drawn."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.changing import AForm, Document, again, place_in, save_from, saved, what, words
from soakbook.app.desk import Known
from soakbook.app.entries import PLACE, entry_of, form_errors, form_of, with_unit
from soakbook.app.pages import OwnPage, Page
from soakbook.errors import InputError, InputErrors
from soakbook.garden.build_place import COMPASS
from soakbook.said import say
from soakbook.units import UnitSystem, parse_quantity

router = APIRouter(include_in_schema=False)
FIELDS = tuple(f for f in PLACE if f.key in ("sun", "shelter", "cover", "lets_through", "surroundings", "rain"))
NAMES = {name for field in FIELDS for name in field.names}
MEASURED = tuple(f"sun.{word}.{part}" for word in COMPASS for part in ("high", "far"))


@router.get("/g/{key}/setup/place/{place_id}/sun")
def sun_page(page: OwnPage, key: str, place_id: str) -> Response:
    """The form with its picture; with a form in the address, the picture of that, and nothing kept."""
    known = page.desk.known(key)
    _, place = place_in(known.document, place_id)
    form = form_of(FIELDS, place, words())
    typed = dict(page.request.query_params)
    if not any(name.startswith("sun.") for name in typed):
        return _shown(page, known, place_id, form, known.place(place_id).exposure.horizon)
    try:
        garden = page.desk.check(key, _edited(page, known, known.document, place_id, typed)).garden
    except InputError as error:
        index, _ = place_in(known.document, place_id)
        errors = form_errors(error, f"places.{index + 1}", NAMES | set(MEASURED))
        return _shown(page, known, place_id, form | typed, (), errors)
    index, _ = place_in(known.document, place_id)
    return _shown(page, known, place_id, form | typed, garden.places[index].exposure.horizon)


@router.post("/g/{key}/setup/place/{place_id}/sun")
def change_sun(page: OwnPage, key: str, place_id: str, posted: AForm) -> Response:
    """Keeps it."""
    known = page.desk.known(key)
    index, place = place_in(known.document, place_id)
    try:
        row = save_from(
            page, known, lambda document: _edited(page, known, document, place_id, posted.fields),
            what(say("sun and wind changed"), place["name"]), posted,
            lambda document: _of_form(place_in(document, place_id)[1]), place["name"],
        )  # fmt: skip
    except InputError as error:
        errors = form_errors(error, f"places.{index + 1}", NAMES | set(MEASURED))
        typed, status = again(posted.fields, error)
        return _shown(page, known, place_id, typed, (), errors, status)
    return saved(page, known, row, f"/place/{place_id}/sun")


def _of_form(place: Document) -> Document:
    return {field.key: place.get(field.key) for field in FIELDS}


def _edited(page: Page, known: Known, document: Document, place_id: str, form: Mapping[str, str]) -> Document:
    from copy import deepcopy

    made = deepcopy(document)
    index, place = place_in(made, place_id)
    units = page.read_for(known).reader.units
    made["places"][index] = entry_of(FIELDS, with_angles(form, units), place, words(), units)
    return made


def with_angles(form: Mapping[str, str], units: UnitSystem) -> Mapping[str, str]:
    """The form with an angle for each direction where height and distance were given instead."""
    from soakbook.app.sun_picture import angle_of

    made, wrong = dict(form), []
    bare = "m" if units == "metric" else "ft"
    for word in COMPASS:
        high, far = (form.get(f"sun.{word}.{part}", "").strip() for part in ("high", "far"))
        if not high and not far:
            continue
        try:
            if not high or not far:
                part = "far" if high else "high"
                raise InputError(
                    say("height and distance go together."), code="sun.measured", field=f"sun.{word}.{part}"
                )
            high_m = parse_quantity(with_unit(high, bare), "length", field=f"sun.{word}.high")
            far_m = parse_quantity(with_unit(far, bare), "length", field=f"sun.{word}.far")
            if high_m < 0 or far_m <= 0:
                raise InputError(say("it must be more than nothing."), code="sun.measured", field=f"sun.{word}.far")
            made[f"sun.{word}"] = f"{angle_of(high_m, far_m)} deg"
        except InputError as error:
            wrong.append(error)
    if wrong:
        raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)
    return made


def _shown(
    page: Page, known: Known, place_id: str, form: dict[str, str], horizon: Any, errors: Any = None, status: int = 200
) -> Response:
    from soakbook.app.sun_picture import sky_picture

    form = dict.fromkeys((*NAMES, *MEASURED), "") | form
    r = page.read_for(known).reader
    rows = sorted(
        {int(row[1]) for name in form if (row := re.fullmatch(r"sun\.more([0-9]{1,3})\.(?:way|angle)", name))}
    )
    picture = None if errors else sky_picture(horizon, known.garden.lat_deg, known.garden.lon_deg)
    return page.show(
        "setup/sun.html", status, known=known, way="setup", place=place_in(known.document, place_id)[1], place_id=place_id,
        form=form, errors=errors, picture=picture, directions=view.told(view.DIRECTIONS, r), rows=rows,
        words={
            "shelters": view.told(view.SHELTERS, r), "covers": view.told(view.COVERS, r),
            "surroundings": view.told(view.SURROUNDINGS, r),
        }, is_metric=r.units == "metric", south=known.garden.lat_deg < 0,
    )  # fmt: skip
