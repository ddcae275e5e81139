"""Plantings: found in the catalogue, put into a place, ended, and what grew there before kept."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.changing import (
    AForm,
    Document,
    again,
    fresh_id,
    place_in,
    planting_in,
    save,
    save_from,
    saved,
    what,
    words,
)
from soakbook.app.desk import Known
from soakbook.app.entries import PLANTING, entry_of, form_errors, form_of
from soakbook.app.pages import OwnPage, Page
from soakbook.errors import InputError, InputErrors
from soakbook.said import Said, say

router = APIRouter(include_in_schema=False)
NAMES = {name for field in PLANTING for name in field.names}
ROOT = "/g/{key}/setup/place/{place_id}/planting"
_MOST_QUERY = 100


@router.get(ROOT + "/new")
def new_planting(page: OwnPage, key: str, place_id: str, q: str = "", plant: str = "") -> Response:
    """First which plant, by search; then since when and how many."""
    known = page.desk.known(key)
    if plant:
        return _shown(page, known, place_id, None, {"plant": plant})
    return _search(page, known, place_id, None, q)


@router.post(ROOT + "/new")
def add_planting(page: OwnPage, key: str, place_id: str, posted: AForm) -> Response:
    """Keeps it."""
    known = page.desk.known(key)
    _, place = place_in(known.document, place_id)

    def edit(document: Document) -> Document:
        _, place = place_in(document, place_id)
        planting = entry_of(PLANTING, posted.fields, {}, words(), page.read_for(known).reader.units)
        place.setdefault("plantings", []).append({"id": fresh_id(), **planting})
        return document

    try:
        row = save(page, known, edit, what(say("planting added"), place["name"]))
    except InputError as error:
        return _wrong(page, known, place_id, None, posted.fields, error, len(place.get("plantings", [])) + 1)
    return saved(page, known, row, f"/place/{place_id}", mark="plantings")


@router.get(ROOT + "/{planting_id}")
def planting_page(
    page: OwnPage, key: str, place_id: str, planting_id: str, q: str | None = None, plant: str = ""
) -> Response:
    """A planting's form; with a search, another plant for it."""
    known = page.desk.known(key)
    _, place = place_in(known.document, place_id)
    _, planting = planting_in(place, planting_id)
    if q is not None:
        return _search(page, known, place_id, planting_id, q)
    form = form_of(PLANTING, planting, words()) | ({"plant": plant} if plant else {})
    return _shown(page, known, place_id, planting_id, form)


@router.post(ROOT + "/{planting_id}")
def change_planting(page: OwnPage, key: str, place_id: str, planting_id: str, posted: AForm) -> Response:
    """Keeps it as changed."""
    known = page.desk.known(key)
    _, place = place_in(known.document, place_id)
    index, planting = planting_in(place, planting_id)

    def edit(document: Document) -> Document:
        _, place = place_in(document, place_id)
        at, planting = planting_in(place, planting_id)
        place["plantings"][at] = entry_of(PLANTING, posted.fields, planting, words(), page.read_for(known).reader.units)
        return document

    try:
        row = save_from(
            page, known, edit, what(say("planting changed"), place["name"]), posted,
            lambda document: planting_in(place_in(document, place_id)[1], planting_id)[1], _plant_name(page, planting),
        )  # fmt: skip
    except InputError as error:
        return _wrong(page, known, place_id, planting_id, posted.fields, error, index + 1)
    return saved(page, known, row, f"/place/{place_id}", mark="plantings")


@router.post(ROOT + "/{planting_id}/end")
def end_planting(page: OwnPage, key: str, place_id: str, planting_id: str, posted: AForm) -> Response:
    """It was taken out on a day; it stays in the place's history."""
    known = page.desk.known(key)
    _, place = place_in(known.document, place_id)
    index, planting = planting_in(place, planting_id)

    def edit(document: Document) -> Document:
        _, place = place_in(document, place_id)
        planting_in(place, planting_id)[1]["cleared"] = (
            posted.get("cleared") or page.desk.today(known.garden).isoformat()
        )
        return document

    try:
        row = save(page, known, edit, what(say("planting ended"), place["name"]))
    except InputError as error:
        form = form_of(PLANTING, planting, words()) | {"cleared": posted.get("cleared")}
        return _wrong(page, known, place_id, planting_id, form, error, index + 1)
    return saved(page, known, row, f"/place/{place_id}", mark="plantings", ended=planting_id)


@router.post(ROOT + "/{planting_id}/remove")
def remove_planting(page: OwnPage, key: str, place_id: str, planting_id: str) -> Response:
    """Takes away one that was entered by mistake."""
    known = page.desk.known(key)
    _, place = place_in(known.document, place_id)

    def edit(document: Document) -> Document:
        _, place = place_in(document, place_id)
        index, _ = planting_in(place, planting_id)
        del place["plantings"][index]
        return document

    row = save(page, known, edit, what(say("planting removed"), place["name"]))
    return saved(page, known, row, f"/place/{place_id}", mark="plantings")


def _search(page: Page, known: Known, place_id: str, planting_id: str | None, q: str) -> Response:
    _, place = place_in(known.document, place_id)
    r = page.read_for(known).reader
    found = view.search_plants(q[:_MOST_QUERY], r)
    groups: dict[str, list[Any]] = {}
    for plant, others in found:
        groups.setdefault("" if q.strip() else plant.group, []).append((plant, others))
    return page.show(
        "setup/plants.html",
        known=known,
        way="setup",
        place=place,
        planting_id=planting_id,
        q=q,
        groups=groups,
        n=len(found),
    )


def _beside(error: InputError, here: str) -> InputErrors:
    """The errors, with the one about a missing beginning beside the first day asked for, and the one about shares, which
    is of all that grow there, beside this one's."""
    told = InputError(say("Say one of these three."), code="planting.start", field=f"{here}.sown")
    beds, out = f"{here.rpartition('.')[0]}.", []
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        if one.code == "planting.start" and one.field == here:
            out.append(told)
        elif one.field.startswith(beds) and one.field.endswith(".share"):
            hint = say("Give each its share of the place, or the day one was taken out.")
            out.append(InputError(_with_names(one.message), code=one.code, field=f"{here}.share", hint=hint))
        else:
            out.append(one)
    return InputErrors(out, code=error.code)


def _with_names(message: str) -> str:
    """The sentence with plants by their names instead of the catalogue's ids."""
    from soakbook.catalog import read

    if not isinstance(message, Said) or "plants" not in message.values:
        return message
    plants = read.plants()
    names = [plants[one].name if one in plants else one for one in str(message.values["plants"]).split(", ")]
    return say(message.template, **{**message.values, "plants": names})


def _wrong(
    page: Page, known: Known, place_id: str, planting_id: str | None, form: Any, error: InputError, number: int
) -> Response:
    index, _ = place_in(known.document, place_id)
    here = f"places.{index + 1}.plantings.{number}"
    typed, status = again(form, error)
    return _shown(page, known, place_id, planting_id, typed, form_errors(_beside(error, here), here, NAMES), status)


def _plant_name(page: Page, planting: Document) -> str:
    from soakbook.catalog import read

    return page.reader.tell(read.plants()[words().resolve("plants", planting["plant"])].name)


def _shown(
    page: Page,
    known: Known,
    place_id: str,
    planting_id: str | None,
    form: dict[str, str],
    errors: Any = None,
    status: int = 200,
) -> Response:
    from soakbook.catalog import read

    form = dict.fromkeys(NAMES, "") | form
    plant = read.plants().get(form["plant"])
    if plant is None:
        return _search(page, known, place_id, planting_id, form["plant"])
    index, place = place_in(known.document, place_id)
    others = [
        planting
        for written, planting in zip(place.get("plantings", []), known.garden.places[index].plantings, strict=True)
        if planting.cleared is None and written["id"] != planting_id
    ]
    return page.show(
        "setup/planting.html", status, known=known, way="setup", place=place, place_id=place_id, planting_id=planting_id,
        form=form, errors=errors, plant=plant, today=page.desk.today(known.garden),
        others=others, names=[page.reader.tell(read.plants()[p.plant].name) for p in others],
    )  # fmt: skip
