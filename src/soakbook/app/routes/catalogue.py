"""The figures behind the advice: plants, soils, mixes, mulches, ways of watering; and what a soil of one's own comes to."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from soakbook.app import catalogue_view as view
from soakbook.app import setup_view
from soakbook.app.ask_form import plant_id
from soakbook.app.changing import words
from soakbook.app.entries import LAYER, entry_of, form_errors
from soakbook.app.pages import AnyPage, Page
from soakbook.catalog import read
from soakbook.errors import InputError
from soakbook.physics import feel
from soakbook.said import say

router = APIRouter(include_in_schema=False)
_MOST_QUERY = 100
#: Ways of looking a soil up, with what each asks.
WAYS = (
    ("feel", say("By feel")), ("particles", say("From sand and clay")), ("jar", say("From a jar")),
    ("texture", say("By its name")),
)  # fmt: skip
_AT = "places.1.soil"


@router.get("/plants")
def plants(page: AnyPage, q: str = "") -> Response:
    """All plants, or those called so."""
    text = q.strip()[:_MOST_QUERY]
    groups = view.plant_groups(text, page.reader)
    near = ""
    if text and not groups:
        try:
            plant_id(text, page.reader)
        except InputError as error:
            near = error.hint
    n = sum(map(len, groups.values()))
    return page.show("catalogue/plants.html", q=text, groups=groups, n=n, near=near)


@router.get("/plants/{name}")
def plant(page: AnyPage, name: str) -> Response:
    """One plant: each figure with its source. Any of its names leads here."""
    r = page.reader
    if name not in read.plants():
        return page.go(f"/plants/{plant_id(name[:_MOST_QUERY], r)}")
    found = read.plants()[name]
    figures = view.plant_figures(found, r)
    return page.show(
        "catalogue/plant.html", plant=found, figures=figures, others=view.other_names(found, r),
        known_how=view.standings(figures, r, plant=True), stages=view.stages(found, r),
        sources=view.sources_of([*(f.source for f in figures), *found.critical_sources]),
        ask="/ask?plant=" + quote(r.tell(found.name)),
        days=view.shown("days", sum(view.stage_days(found)), r),
    )  # fmt: skip


@router.get("/soils")
def soils(page: AnyPage) -> Response:
    """What soils and mixes hold, what mulches save, how water is put on."""
    from soakbook.catalog.holds import POT_M

    pot = page.reader.quantity(POT_M, "length")
    return page.show("catalogue/soils.html", tables=view.soil_tables(page.reader), pot=pot, ways=_ways(page))


@router.get("/soils/find")
def find(page: AnyPage, way: str = "feel") -> Response:
    """What a soil is called, holds and takes in, from what is known of it."""
    r, query = page.reader, page.request.query_params
    way = way if way in dict(WAYS) else WAYS[0][0]
    keys = {*setup_view.WAY_FIELDS[way], *setup_view.BESIDE_FIELDS}
    fields = [field for field in LAYER if field.key in keys]
    names = [name for field in fields for name in field.names]
    form = {name: query.get(name, "").strip()[:200] for name in names}
    answers = _answers(query.getlist("feel"))
    if way == "feel":
        form["feel"] = ",".join(answers)
    step = feel.follow(answers) if way == "feel" else None
    errors: dict[str, list[InputError]] = {}
    found = None
    mine = {name for field in fields if field.key in setup_view.WAY_FIELDS[way] for name in field.names}
    if not isinstance(step, feel.Question) and any(form[name] for name in mine):
        try:
            table = entry_of(fields, form, {}, words(), r.units)
            found = _found(page, table)
        except InputError as error:
            errors = form_errors(error, _AT, names)
    return page.show(
        "catalogue/find.html", 422 if errors else 200, how=way, ways=_ways(page), form=form, errors=errors, found=found,
        answers=answers, asked=_asked(answers), step=step if isinstance(step, feel.Question) else None,
        textures=setup_view.catalog_options("textures", r),
    )  # fmt: skip


@router.get("/soils/{kind}/{name}")
def one(page: AnyPage, kind: str, name: str) -> Response:
    """One soil, mix, mulch or way of watering: each figure with its source."""
    row = view.KINDS[kind]().get(name) if kind in view.KINDS else None
    if row is None:
        raise HTTPException(404)
    figures, hand = view.figures(row, page.reader), view.in_the_hand(kind, row, page.reader)
    return page.show(
        "catalogue/one.html", row=row, kind=kind, figures=figures, held=_held(page, kind, row), hand=hand,
        known_how=view.standings(figures, page.reader, plant=False),
        sources=view.sources_of([*(f.source for f in figures), *(view.HAND_SOURCES if hand else ())]),
    )  # fmt: skip


def _ways(page: Page) -> list[tuple[str, str]]:
    return [(way, page.reader.tell(label)) for way, label in WAYS]


def _held(page: Page, kind: str, row: Any) -> tuple[str, str, str] | None:
    from soakbook.catalog.holds import mix_holds, texture_holds

    if kind not in ("texture", "mix"):
        return None
    return view.held_words(texture_holds(row) if kind == "texture" else mix_holds(row), page.reader)


def _found(page: Page, table: dict[str, Any]) -> dict[str, Any]:
    """What a soil of this description is called and comes to."""
    from soakbook.physics.soil import jar_to_particles

    layer = setup_view.built_soil(table, page.desk.check)[0]
    holds, r = setup_view.holds(layer), page.reader
    shares = None
    if layer.jar_sand_mm is not None and layer.jar_silt_mm is not None and layer.jar_clay_mm is not None:
        shares = jar_to_particles(layer.jar_sand_mm, layer.jar_silt_mm, layer.jar_clay_mm)
    elif layer.sand_pct is not None and layer.clay_pct is not None:
        shares = (layer.sand_pct, layer.clay_pct)
    texture = next(t for t in read.textures().values() if t.name == holds.name)
    return {
        "texture": texture.id,
        "name": r.tell(holds.name),
        "shares": [view.shown("percent", v, r) for v in (shares[0], 100.0 - sum(shares), shares[1])]
        if shares
        else None,
        "drained": view.shown("share", holds.wet, r),
        "wilting": view.shown("share", holds.dry, r),
        "takes": view.per_depth(holds.available_mm_m, r),
        "intake": r.quantity(holds.intake_mm_h, "rate"),
    }


def _answers(given: list[str]) -> list[str]:
    """Answers to the feel key so far; a row that leads nowhere starts anew."""
    given = [answer for answer in given if answer][:12]
    try:
        feel.follow(given)
    except InputError:
        return []
    return given


def _asked(answers: list[str]) -> list[tuple[feel.Question, feel.Answer]]:
    asked = []
    for i, given in enumerate(answers):
        question = feel.follow(answers[:i])
        assert isinstance(question, feel.Question)
        asked.append((question, next(answer for answer in question.answers if answer.id == given)))
    return asked
