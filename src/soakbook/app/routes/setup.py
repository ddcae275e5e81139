"""Setting up: the garden on a page, its water supply, what changed when, and the way back."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import setup_view as view
from soakbook.app.changing import (
    AForm,
    Document,
    again,
    notice_of,
    save_from,
    saved,
    small_number,
    what,
    what_words,
    words,
)
from soakbook.app.desk import Known
from soakbook.app.entries import GARDEN, SUPPLY, Field, entry_of, form_errors, form_of
from soakbook.app.pages import OwnPage, Page
from soakbook.app.routes import (
    setup_gardens,
    setup_lines,
    setup_order,
    setup_places,
    setup_plantings,
    setup_soils,
    setup_sun,
    setup_weather,
)
from soakbook.errors import InputError
from soakbook.said import say

router = APIRouter(include_in_schema=False)
for part in (
    setup_gardens, setup_lines, setup_order, setup_places, setup_plantings, setup_soils, setup_sun, setup_weather,
):  # fmt: skip
    router.include_router(part.router)


@router.get("/g/{key}/setup")
def overview(page: OwnPage, key: str, saved: str = "", moved: str = "", way: str = "", brought: str = "") -> Response:
    """Everything of the garden, and where to change it."""
    known = page.desk.known(key)
    r = page.read_for(known).reader
    today = page.desk.today(known.garden)
    places = [
        {
            "id": written["id"],
            "place": place,
            "size": view.size_words(place, r),
            "soil": _soil_words(page, known, written),
            "grown": view.grown(known, index, today, r),
        }
        for index, (written, place) in enumerate(zip(known.document["places"], known.garden.places, strict=True))
    ]
    return page.show(
        "setup/overview.html", known=known, way="setup", n_entries=len(page.desk.entries(known)) if brought else None, notice=notice_of(page, known, saved), what_words=what_words,
        places=places, soils=soil_rows(page, known), moved=moved, moved_way=way, sources=dict(view.SOURCES), head=known.document["garden"],
        supply=known.document.get("supply", {}), means=dict(view.catalog_options("means", r)), holds_words=view.holds_words,
        kinds={kind: word for kind, word, _ in view.KINDS},
    )  # fmt: skip


def _soil_words(page: Page, known: Known, written: Document) -> str:
    """The soil of a place by its name, or what its own table comes to."""
    soil = written["soil"]
    if isinstance(soil, str):
        options = {option: name for _, group in setup_places.soil_options(page, known) for option, name in group}
        return options.get(setup_places.soil_word(known, soil), soil)
    return " / ".join(page.reader.tell(view.holds(layer).name) for layer in view.built_soil(soil, page.desk.check))


def soil_rows(page: Page, known: Known) -> list[dict[str, Any]]:
    """Soils with what they come to and where they are used."""
    rows = []
    for soil in known.document.get("soils", []):
        used = [place["name"] for place in known.document["places"] if place.get("soil") == soil["name"]]
        layers = [view.holds(layer) for layer in view.built_soil(soil, page.desk.check)]
        rows.append({"id": soil["id"], "name": soil["name"], "layers": layers, "used": used})
    return rows


# --- garden and supply -----------------------------------------------------------------------------------------------------
@router.get("/g/{key}/setup/garden")
def garden_form(page: OwnPage, key: str) -> Response:
    """Name, spot, weather source, measures."""
    known = page.desk.known(key)
    return _garden(page, known, form_of(GARDEN, known.document["garden"], words()))


@router.post("/g/{key}/setup/garden")
def change_garden(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps them."""
    known = page.desk.known(key)

    def edit(document: Document) -> Document:
        _check_weather_choice(page, known, posted.get("weather"))
        document["garden"] = _made(page, known, GARDEN, posted.fields, document["garden"])
        return document

    try:
        did, name = what(say("garden changed")), known.garden.name
        row = save_from(page, known, edit, did, posted, lambda document: document["garden"], name)
    except InputError as error:
        typed, status = again(posted.fields, error)
        return _garden(page, known, typed, form_errors(error, "garden", names_of(GARDEN)), status)
    return saved(page, known, row)


def _check_weather_choice(page: Page, known: Known, wanted: str) -> None:
    """Only files the garden has: a path would lead to any file of this machine."""
    allowed = (
        "",
        "normals",
        "live",
        known.document["garden"].get("weather"),
        *setup_weather.weather_files(page, known),
    )
    if wanted not in allowed:
        raise InputError(
            say("the garden has no such weather file."), code="garden.weather.missing", field="garden.weather"
        )


def _made(page: Page, known: Known, fields: tuple[Field, ...], form: Any, before: Document) -> Document:
    return entry_of(fields, form, before, words(), page.read_for(known).reader.units)


def names_of(fields: tuple[Field, ...]) -> set[str]:
    """Every field of a form."""
    return {name for field in fields for name in field.names}


def _garden(page: Page, known: Known, form: dict[str, str], errors: Any = None, status: int = 200) -> Response:
    form = dict.fromkeys(names_of(GARDEN), "") | form
    files = setup_weather.weather_files(page, known)
    kept = form["weather"]
    choices: list[tuple[str, str]] = [
        ("normals", say("What is usual there")),
        ("live", say("Fetched: what was, and the coming week")),
    ]
    choices += [(name, name) for name in dict.fromkeys([*files, kept]) if name not in ("", "normals", "live")]
    return page.show(
        "setup/garden.html", status, known=known, way="setup", form=form, errors=errors, assumed=known.assumed,
        weather=view.told(choices, page.read_for(known).reader), zones=_zones(),
    )  # fmt: skip


def _zones() -> list[str]:
    import zoneinfo

    return sorted(zone for zone in zoneinfo.available_timezones() if "/" in zone and not zone.startswith("Etc/"))


@router.get("/g/{key}/setup/supply")
def supply_form(page: OwnPage, key: str) -> Response:
    """Where the water comes from, and the can."""
    known = page.desk.known(key)
    return _supply(page, known, form_of(SUPPLY, known.document.get("supply", {}), words()))


@router.post("/g/{key}/setup/supply")
def change_supply(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps them."""
    known = page.desk.known(key)

    def edit(document: Document) -> Document:
        document["supply"] = _made(page, known, SUPPLY, posted.fields, document.get("supply", {}))
        return document

    try:
        did, name = what(say("water supply changed")), page.reader.t("Water supply")
        row = save_from(page, known, edit, did, posted, lambda document: document.get("supply"), name)
    except InputError as error:
        typed, status = again(posted.fields, error)
        return _supply(page, known, typed, form_errors(error, "supply", names_of(SUPPLY)), status)
    return saved(page, known, row)


def _supply(page: Page, known: Known, form: dict[str, str], errors: Any = None, status: int = 200) -> Response:
    form = dict.fromkeys(names_of(SUPPLY), "") | form
    sources = [(*option, "") for option in view.told(view.SOURCES, page.reader)]
    return page.show("setup/supply.html", status, known=known, way="setup", form=form, errors=errors, sources=sources)


# --- what changed when -----------------------------------------------------------------------------------------------------
@router.get("/g/{key}/setup/history")
def history(page: OwnPage, key: str) -> Response:
    """Every version there was."""
    known = page.desk.known(key)
    return page.show(
        "setup/history.html", known=known, way="setup", versions=page.store.versions(key), what_words=what_words,
        zone=ZoneInfo(known.garden.time_zone),
    )  # fmt: skip


@router.post("/g/{key}/setup/back")
def go_back(page: OwnPage, key: str, posted: AForm) -> Response:
    """The garden as it was in an earlier version; that is a new version too. The way out when it cannot be read as it is."""
    before = page.store.garden(key)
    version = small_number(posted.get("version"))
    if version is None:
        raise InputError(say("there is no such version."), code="version.unknown", field="version")
    last = small_number(posted.get("unless_after"))
    if last is not None and last != before.version:
        raise InputError(
            say("The garden was changed again since, so this was not undone."), code="garden.changed", field="version",
            hint=say("Go back to an earlier version under Changes."),
        )  # fmt: skip
    row = page.store.go_back(
        key, version, check=lambda document: page.desk.check(key, document) and None, by=page.viewer.name
    )
    return saved(page, before, row)
