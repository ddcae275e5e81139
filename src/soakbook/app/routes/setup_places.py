"""Places: added, changed, copied, taken away."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.changing import (
    AForm,
    Document,
    again,
    free_name,
    fresh_id,
    notice_of,
    place_in,
    save,
    save_from,
    saved,
    small_number,
    what,
    what_words,
    words,
)
from soakbook.app.desk import Known
from soakbook.app.entries import PLACE, entry_of, form_errors, form_of
from soakbook.app.pages import OwnPage, Page
from soakbook.app.wet_circle import drip_link, fit_words
from soakbook.errors import InputError, InputErrors
from soakbook.garden.words import plain
from soakbook.said import say
from soakbook.store import GardenRow
from soakbook.units import UnitSystem

router = APIRouter(include_in_schema=False)
#: Entries of a bed that a pot or tray has not, and the other way round.
_BED_ONLY, _POT_ONLY = ("size", "area", "barrier", "wetted"), ("pot",)
NAMES = {name for field in PLACE for name in field.names}


@router.get("/g/{key}/setup/place/new")
def new_place(page: OwnPage, key: str, kind: str = "bed") -> Response:
    """A form for one more."""
    known = page.desk.known(key)
    return _shown(
        page, known, None, form_of(PLACE, {"kind": kind if kind in ("bed", "pot", "tray") else "bed"}, words())
    )


@router.post("/g/{key}/setup/place/new")
def add_place(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps it, last in walking order."""
    known = page.desk.known(key)
    form, place_id = preset(posted.fields), fresh_id()

    def edit(document: Document) -> Document:
        place = made(form, {}, page.read_for(known).reader.units)
        place.setdefault("followed", page.desk.today(known.garden).isoformat())
        document["places"].append({"id": place_id, **place})
        return document

    try:
        row = save(page, known, edit, what(say("place added"), posted.get("name")))
    except InputError as error:
        at = f"places.{len(known.document['places']) + 1}"
        return _shown(page, known, None, dict(form), form_errors(error, at, NAMES), 422)
    return saved(page, known, row, f"/place/{place_id}")


@router.get("/g/{key}/setup/place/{place_id}")
def place_page(page: OwnPage, key: str, place_id: str, saved: str = "", fit: str = "") -> Response:
    """A place: its form, what grows in it, and what else can be done; with ``fit`` what the wet circle says of the soil."""
    known = page.desk.known(key)
    index, place = place_in(known.document, place_id)
    fitted = fit_words(page, known, index) if fit else ()
    return _shown(page, known, place_id, form_of(PLACE, place, words()), saved=saved, fitted=fitted)


@router.post("/g/{key}/setup/place/{place_id}")
def change_place(page: OwnPage, key: str, place_id: str, posted: AForm) -> Response:
    """Keeps the changed place."""
    known = page.desk.known(key)
    index, place = place_in(known.document, place_id)
    form = preset(posted.fields)

    def edit(document: Document) -> Document:
        index, place = place_in(document, place_id)
        document["places"][index] = made(form, place, page.read_for(known).reader.units)
        return document

    try:
        did = what(say("place changed"), posted.get("name"))
        row = save_from(page, known, edit, did, posted, lambda document: _of_form(document, place_id), place["name"])
    except InputError as error:
        typed, status = again(form, error)
        return _shown(page, known, place_id, typed, form_errors(error, f"places.{index + 1}", NAMES), status)
    return saved(page, known, row, mark=f"p-{place_id}")


def _of_form(document: Document, place_id: str) -> Document:
    """What the place's form is about: its plantings and a soil of its own have forms of their own."""
    _, place = place_in(document, place_id)
    soil = place["soil"] if isinstance(place["soil"], str) else None
    return {key: value for key, value in place.items() if key != "plantings"} | {"soil": soil}


def made(form: Mapping[str, str], before: Document, units: UnitSystem) -> Document:
    """The place a form makes of the one before; what does not belong to its kind is left out."""
    own_soil = before.get("soil") if form.get("soil") == "" else None
    place = entry_of(PLACE, form, before, words(), units)
    if own_soil is not None:
        place["soil"] = own_soil
    for key in _POT_ONLY if place.get("kind") == "bed" else _BED_ONLY:
        place.pop(key, None)
    return place


def preset(form: Mapping[str, str]) -> Mapping[str, str]:
    """A chosen size of pot filled in where no size was written."""
    chosen = small_number(form.get("preset", ""))
    if chosen is None or chosen >= len(view.POT_SIZES):
        return form
    if any(form.get(f"pot.{name}", "").strip() for name in ("diameter", "height", "volume", "sides.1", "base.1")):
        return form
    _, diameter, height, base = view.POT_SIZES[chosen]
    return {**form, "pot.diameter": diameter, "pot.height": height, "pot.base.1": base}


def soil_options(page: Page, known: Known | None) -> list[tuple[str, list[tuple[str, str]]]]:
    """Soils to choose from, in groups."""
    r = page.reader
    own = [(soil["name"], soil["name"]) for soil in (known.document.get("soils", []) if known else [])]
    groups = [(r.t("Soils of this garden"), own)] if own else []
    groups.append((r.t("Soils by name"), view.catalog_options("textures", r)))
    groups.append((r.t("Mixes"), view.catalog_options("mixes", r)))
    return groups


def soil_word(known: Known, written: str) -> str:
    """The option of a soil given by a word: its name as it stands among the soils, else the id of a texture or mix."""
    for soil in known.document.get("soils", []):
        if plain(soil["name"]) == plain(written):
            return str(soil["name"])
    for table in ("textures", "mixes"):
        try:
            return words().resolve(table, written)
        except InputError:
            continue
    return written


def _shown(
    page: Page,
    known: Known,
    place_id: str | None,
    form: dict[str, str],
    errors: Any = None,
    status: int = 200,
    saved: str = "",
    fitted: tuple[str, ...] = (),
) -> Response:
    form = dict.fromkeys(NAMES, "") | form
    r = page.read_for(known).reader
    place: Document | None = None
    grown: list[view.Grown] | None = None
    soil: Document | None = None
    if place_id is not None:
        index, place = place_in(known.document, place_id)
        grown = view.grown(known, index, page.desk.today(known.garden), r)
        if not isinstance(place["soil"], str):
            soil = place["soil"]
    return page.show(
        "setup/place.html", status, known=known, way="setup", form=form, errors=errors, place_id=place_id, place=place,
        grown=grown, own_soil=soil, groups=soil_options(page, known), notice=notice_of(page, known, saved),
        what_words=what_words, words=view_words(page, known), line_options=line_options(known, form["line"]),
        soil_value="" if soil is not None and not form["soil"] else soil_word(known, form["soil"]), today=page.desk.today(known.garden),
        fitted=fitted, drip_link=drip_link(known, place),
    )  # fmt: skip


def line_options(known: Known, written: str) -> list[tuple[str, str]]:
    """Lines to choose from, the written one as it was written."""
    names = {plain(line.name): line.name for line in known.garden.lines}
    if written:
        names[plain(written)] = written
    return [(name, name) for name in names.values()]


def view_words(page: Page, known: Known) -> dict[str, Any]:
    """The words of a place's form to choose from."""
    r = page.read_for(known).reader
    return {
        "kinds": view.told(view.KINDS, r),
        "shelters": view.told(view.SHELTERS, r),
        "covers": view.told(view.COVERS, r),
        "surroundings": view.told(view.SURROUNDINGS, r),
        "walls": view.told(view.WALLS, r),
        "sizes": [(str(i), r.tell(size[0])) for i, size in enumerate(view.POT_SIZES)],
        "mulches": view.catalog_options("mulches", r),
        "means": view.catalog_options("means", r),
        "wet": ("2 L/h", "1 h", "40 cm", "12 cm") if r.units == "metric" else ("0.5 gal/h", "1 h", "16 in", "5 in"),
        "example": ("30 cm", "3 m", "4 L/h", "15 L") if r.units == "metric" else ("12 in", "10 ft", "1 gal/h", "4 gal"),
    }


# --- copy, take away -------------------------------------------------------------------------------------------------------
@router.post("/g/{key}/setup/place/{place_id}/copy")
def copy_place(page: OwnPage, key: str, place_id: str) -> Response:
    """The same once more, behind it in walking order, without the plantings that are over."""
    known = page.desk.known(key)
    row, copy_id = copied(page, known, place_id)
    return saved(page, known, row, f"/place/{copy_id}")


def copied(page: Page, known: Known, place_id: str) -> tuple[GardenRow, str]:
    """Keep a place once more; the garden and the id of the copy."""
    copy_id = fresh_id()

    def edit(document: Document, keep_line: bool = True) -> Document:
        index, place = place_in(document, place_id)
        twin = {
            **_without_ids(place),
            "id": copy_id,
            "name": free_name(place["name"], (p["name"] for p in document["places"])),
        }
        twin["followed"] = page.desk.today(known.garden).isoformat()
        twin["plantings"] = [p for p in twin.get("plantings", []) if "cleared" not in p]
        twin.pop("line_share", None)
        if not keep_line and "line" in twin:
            twin.pop("line")
            twin["watered"] = known.garden.places[index].means
        document["places"].insert(index + 1, twin)
        return document

    _, place = place_in(known.document, place_id)
    did = what(say("place copied"), place["name"])
    try:
        row = save(page, known, edit, did)
    except InputErrors:
        raise
    except InputError as error:
        if error.code != "line.share":
            raise
        # the line is shared out already: the copy stands beside it until it gets its share
        row = save(page, known, lambda document: edit(document, keep_line=False), did)
    return row, copy_id


def _without_ids(place: Document) -> Document:
    twin = deepcopy(place)
    for planting in twin.get("plantings", []):
        planting.pop("id", None)
    return twin


@router.post("/g/{key}/setup/place/{place_id}/remove")
def remove_place(page: OwnPage, key: str, place_id: str) -> Response:
    """Takes it away; its log entries stay, and it can be brought back."""
    known = page.desk.known(key)
    return saved(page, known, taken_away(page, known, place_id), mark="places")


def taken_away(page: Page, known: Known, place_id: str) -> GardenRow:
    """Keep the garden without a place."""
    _, gone = place_in(known.document, place_id)
    if len(known.document["places"]) == 1:
        raise InputError(
            say("A garden has at least one place. Add another before you take this one away."),
            code="garden.places.none", field="places",
        )  # fmt: skip

    def edit(document: Document) -> Document:
        index, _ = place_in(document, place_id)
        del document["places"][index]
        return document

    return save(page, known, edit, what(say("place removed"), gone["name"]))
