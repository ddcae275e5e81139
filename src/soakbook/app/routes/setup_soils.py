"""Soils: by feel, name, jar, laboratory or mix; of one layer or several. A place's own soil, too (``in-`` and its id)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.changing import SOIL as THING
from soakbook.app.changing import (
    AForm,
    Document,
    Posted,
    again,
    find,
    fresh_id,
    notice_of,
    save,
    save_from,
    saved,
    what,
    what_words,
    words,
)
from soakbook.app.desk import Known
from soakbook.app.entries import LAYER, entry_of, form_errors, form_of
from soakbook.app.pages import OwnPage, Page
from soakbook.app.soil_tables import OWN, layers_of, numbered, of_layers, put_soil, soil_in, used_by
from soakbook.errors import InputError
from soakbook.garden.words import plain
from soakbook.physics import feel
from soakbook.said import say

router = APIRouter(include_in_schema=False)
NAMES = {name for field in LAYER for name in field.names} | {"name", "above"}


# --- pages -----------------------------------------------------------------------------------------------------------------
@router.get("/g/{key}/setup/soil/new")
def new_soil(page: OwnPage, key: str, way: str = "") -> Response:
    """How it is known; then what is known."""
    known = page.desk.known(key)
    return _ways(page, known, None, None) if way not in view.WAY_FIELDS else _layer(page, known, None, None, way)


@router.post("/g/{key}/setup/soil/new")
def add_soil(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps it."""
    known = page.desk.known(key)
    way, soil_id = _posted_way(posted), fresh_id()

    def edit(document: Document) -> Document:
        layer = _made(page, known, way, posted.fields, {})
        document.setdefault("soils", []).append({"id": soil_id, "name": posted.get("name"), **layer})
        return document

    try:
        row = save(page, known, edit, what(say("soil added"), posted.get("name")))
    except InputError as error:
        at = f"soils.{len(known.document.get('soils', [])) + 1}"
        return _layer(page, known, None, None, way, dict(posted.fields), form_errors(error, at, NAMES), 422)
    return saved(page, known, row, f"/soil/{soil_id}")


@router.get("/g/{key}/setup/soil/{soil_id}")
def soil_page(page: OwnPage, key: str, soil_id: str, saved: str = "") -> Response:
    """A soil: its layers and what they come to."""
    return _soil(page, page.desk.known(key), soil_id, saved=saved)


@router.post("/g/{key}/setup/soil/{soil_id}")
def rename_soil(page: OwnPage, key: str, soil_id: str, posted: AForm) -> Response:
    """Another name; places follow it."""
    known = page.desk.known(key)
    at, old, _ = soil_in(known.document, soil_id)

    def edit(document: Document) -> Document:
        _, table = find(document.get("soils", []), soil_id, THING)
        old, table["name"] = table["name"], posted.get("name")
        for place in document["places"]:
            if isinstance(place["soil"], str) and plain(place["soil"]) == plain(old) and table["name"]:
                place["soil"] = table["name"]
        return document

    try:
        did = what(say("soil changed"), old)
        row = save_from(page, known, edit, did, posted, lambda document: soil_in(document, soil_id)[1], old)
    except InputError as error:
        typed, status = again(posted.fields, error)
        errors = form_errors(error, at, {"name"})
        return _soil(page, known, soil_id, errors, status, name=posted.get("name"), since=typed.get("version", ""))
    return saved(page, known, row, f"/soil/{soil_id}")


@router.get("/g/{key}/setup/soil/{soil_id}/layer/{number}")
def layer_page(page: OwnPage, key: str, soil_id: str, number: str, way: str = "", change: str = "") -> Response:
    """A layer's form, by the way it is known or another; ``new`` is one below the others."""
    known = page.desk.known(key)
    layers = layers_of(soil_in(known.document, soil_id)[2])
    layer = numbered(layers, number)
    way = way if way in view.WAY_FIELDS else "" if change else view.way_of(layer)
    return _ways(page, known, soil_id, number) if not way else _layer(page, known, soil_id, number, way)


@router.post("/g/{key}/setup/soil/{soil_id}/layer/{number}")
def change_layer(page: OwnPage, key: str, soil_id: str, number: str, posted: AForm) -> Response:
    """Keeps a layer."""
    known = page.desk.known(key)
    way = _posted_way(posted)
    at, name, soil = soil_in(known.document, soil_id)
    numbered(layers_of(soil), number)
    count = len(layers_of(soil)) + (1 if number == "new" else 0)
    position = count if number == "new" else int(number)

    def edit(document: Document) -> Document:
        layers = layers_of(soil_in(document, soil_id)[2])
        made = _made(page, known, way, posted.fields, numbered(layers, number))
        if number == "new":
            if posted.get("above"):
                layers[-1] = _made(page, known, "", {"thickness": posted.get("above")}, layers[-1])
            layers.append(made)
        else:
            layers[position - 1] = made
        put_soil(document, soil_id, of_layers(layers))
        return document

    try:
        did = what(say("soil changed"), name)
        row = save_from(page, known, edit, did, posted, lambda document: layers_of(soil_in(document, soil_id)[2]), name)
    except InputError as error:
        typed, status = again(posted.fields, error)
        errors = form_errors(error, f"{at}.layers.{position}" if count > 1 else at, NAMES)
        if count > 1 and number == "new":
            errors = _above(errors, f"{at}.layers.{position - 1}.thickness")
        return _layer(page, known, soil_id, number, way, typed, errors, status)
    return saved(page, known, row, f"/soil/{soil_id}")


def _above(errors: dict[str, list[InputError]], field: str) -> dict[str, list[InputError]]:
    """A missing thickness of the layer above belongs beside its field."""
    rest = [error for error in errors.get("", []) if error.field != field]
    above = [error for error in errors.get("", []) if error.field == field]
    return {**errors, "": rest, "above": above}


def _posted_way(posted: Posted) -> str:
    way = posted.get("way")
    if way not in view.WAY_FIELDS:
        raise InputError(say("choose how you know the soil."), code="soil.way", field="way")
    return way


def _made(page: Page, known: Known, way: str, form: Mapping[str, str], before: Document) -> Document:
    """The layer a form makes; what belongs to another way of knowing a soil goes, for a soil is known in one."""
    kept = before
    if way:
        mine = {*view.WAY_FIELDS.get(way, ()), "thickness"}
        mine |= set() if way in ("measured", "mix") else set(view.BESIDE_FIELDS)
        kept = {key: value for key, value in before.items() if key in mine}
        fields = tuple(field for field in LAYER if field.key in mine)
    else:
        fields = LAYER
    return entry_of(fields, form, kept, words(), page.read_for(known).reader.units)


@router.post("/g/{key}/setup/soil/{soil_id}/layer/{number}/{action}")
def arrange_layer(page: OwnPage, key: str, soil_id: str, number: str, action: str) -> Response:
    """``remove`` a layer, or move it ``up``."""
    known = page.desk.known(key)
    _, name, _ = soil_in(known.document, soil_id)

    def edit(document: Document) -> Document:
        layers = layers_of(soil_in(document, soil_id)[2])
        index = layers.index(numbered(layers, number))
        if action == "remove" and len(layers) > 1:
            del layers[index]
        elif action == "up" and index > 0:
            layers.insert(index - 1, layers.pop(index))
        put_soil(document, soil_id, of_layers(layers))
        return document

    try:
        row = save(page, known, edit, what(say("soil changed"), name))
    except InputError as error:
        return _soil(page, known, soil_id, form_errors(error, "", set()), 422)
    return saved(page, known, row, f"/soil/{soil_id}")


@router.post("/g/{key}/setup/soil/{soil_id}/remove")
def remove_soil(page: OwnPage, key: str, soil_id: str) -> Response:
    """Takes away a soil that no place has."""
    known = page.desk.known(key)
    _, name, _ = soil_in(known.document, soil_id)
    used = used_by(known, name)
    if used:
        raise InputError(
            say("{places} have this soil. Choose another for them first.", places=used), code="soil.used", field="soil"
        )

    def edit(document: Document) -> Document:
        index, _ = find(document.get("soils", []), soil_id, THING)
        del document["soils"][index]
        return document

    row = save(page, known, edit, what(say("soil removed"), name))
    return saved(page, known, row, mark="soils")


# --- shown -----------------------------------------------------------------------------------------------------------------
def _ways(page: Page, known: Known, soil_id: str | None, number: str | None) -> Response:
    """The choice of a way."""
    r = page.read_for(known).reader
    return page.show(
        "setup/soil_ways.html", known=known, way="setup", ways=view.told(view.WAYS, r), root=_root(known, soil_id, number),
        soil_id=soil_id, name=soil_in(known.document, soil_id)[1] if soil_id else "",
    )  # fmt: skip


def _root(known: Known, soil_id: str | None, number: str | None) -> str:
    return f"/g/{known.key}/setup/soil/" + ("new" if soil_id is None else f"{soil_id}/layer/{number}")


def _soil(
    page: Page,
    known: Known,
    soil_id: str,
    errors: Any = None,
    status: int = 200,
    *,
    name: str | None = None,
    saved: str = "",
    since: str = "",
) -> Response:
    _, written_name, soil = soil_in(known.document, soil_id)
    r = page.read_for(known).reader
    layers = [
        {"holds": view.holds(built), "way": view.way_of(written), "written": written}
        for written, built in zip(layers_of(soil), view.built_soil(soil, page.desk.check), strict=True)
    ]
    return page.show(
        "setup/soil.html", status, known=known, way="setup", soil_id=soil_id, name=written_name if name is None else name,
        layers=layers, errors=errors, form={"version": since}, is_own=soil_id.startswith(OWN), used=used_by(known, written_name),
        notice=notice_of(page, known, saved), what_words=what_words, holds_words=view.holds_words,
        ways={way: r.tell(label) for way, label, _ in view.WAYS},
    )  # fmt: skip


def _layer(
    page: Page, known: Known, soil_id: str | None, number: str | None, way: str, form: dict[str, str] | None = None,
    errors: Any = None, status: int = 200,
) -> Response:  # fmt: skip
    layers = layers_of(soil_in(known.document, soil_id)[2]) if soil_id else []
    written = form_of(LAYER, numbered(layers, number), words()) if number else {}
    shown = dict.fromkeys(NAMES, "") | written | (form or {})
    answers = _answers(page, shown["feel"]) if way == "feel" else []
    r = page.read_for(known).reader
    above = layers[-1] if number == "new" and "thickness" not in layers[-1] else None
    step = feel.follow(answers) if way == "feel" else None
    return page.show(
        "setup/soil_layer.html", status, known=known, way="setup", soil_id=soil_id, number=number, how=way, form=shown, errors=errors,
        root=_root(known, soil_id, number), above=above, textures=view.catalog_options("textures", r), mixes=view.catalog_options("mixes", r),
        answers=answers, asked=_asked(answers) if way == "feel" else [], step=step if isinstance(step, feel.Question) else None,
        outcome=_texture_name(step) if isinstance(step, str) else "", name=soil_in(known.document, soil_id)[1] if soil_id else "",
        beside=way not in ("measured", "mix"), label={key: r.tell(text) for key, text, _ in view.WAYS}[way], is_metric=r.units == "metric",
        count=len(layers), jar=_jar(shown),
    )  # fmt: skip


def _answers(page: Page, written: str) -> list[str]:
    """Answers given so far: those in the address, or those written before; a row that leads nowhere starts anew."""
    query = page.request.query_params
    given = query.getlist("feel") if "feel" in query or "again" in query else written.split(",")
    given = [answer for answer in given if answer][:12]
    try:
        feel.follow(given)
    except InputError:
        return []
    return given


def _asked(answers: list[str]) -> list[tuple[feel.Question, feel.Answer]]:
    """The questions answered so far, each with its answer."""
    asked = []
    for i, given in enumerate(answers):
        question = feel.follow(answers[:i])
        assert isinstance(question, feel.Question)
        asked.append((question, next(answer for answer in question.answers if answer.id == given)))
    return asked


def _texture_name(texture: str) -> str:
    from soakbook.catalog import read

    return read.textures()[texture].name


def _jar(form: dict[str, str]) -> list[tuple[str, float]]:
    """Shares of the jar's height for the drawing: as measured, or a usual one."""
    from soakbook.units import parse_quantity

    try:
        heights = [parse_quantity(form[f"jar.{part}"], "length") for part in ("sand", "silt", "clay")]
    except InputError:
        heights = [4.0, 3.0, 1.5]
    total = sum(heights)
    if total <= 0 or min(heights) < 0:
        heights, total = [4.0, 3.0, 1.5], 8.5
    return list(zip(("sand", "silt", "clay"), (height / total for height in heights), strict=True))
