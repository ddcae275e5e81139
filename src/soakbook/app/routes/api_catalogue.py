"""The catalogue for programs: plants, soils, mulches and ways of watering, each number with its source."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Path, Query

from soakbook.app import setup_view
from soakbook.app.api_models_more import (
    MeansOut,
    MulchesOut,
    OwnSoil,
    PlantName,
    PlantOut,
    PlantsOut,
    SoilIn,
    SoilsOut,
    Towns,
)
from soakbook.app.api_tools import GONE, OPEN_ERRORS, Listing, Some, part
from soakbook.app.pages import AnyPage
from soakbook.catalog.model import Source, TextureClass, Value

if TYPE_CHECKING:
    from soakbook.catalog.holds import Held

router = APIRouter(prefix="/catalogue", tags=["catalogue"], responses=OPEN_ERRORS)
_Words = Annotated[str, Query(max_length=100, description="Words or beginnings of words of any of its names.")]


def _sources(rows: Iterable[Any], more: Iterable[str] = ()) -> dict[str, Source]:
    """The sources of every value of some rows of the catalogue."""
    from soakbook.catalog.read import sources

    used = {value.source for row in rows for value in vars(row).values() if isinstance(value, Value)}
    return {key: sources()[key] for key in sorted(used | set(more))}


@router.get("/plants", response_model=Listing[PlantName], summary="Search plants")
def list_plants(page: AnyPage, some: Some, q: _Words = "") -> Any:
    """All when nothing is searched for; names in the reader's language."""
    found = setup_view.search_plants(q, page.reader)
    rows = [
        {"id": plant.id, "name": page.reader.tell(plant.name), "other_names": others, "botanical": plant.botanical,
         "group": page.reader.tell(plant.group)}
        for plant, others in found
    ]  # fmt: skip
    return part(rows, some)


@router.get("/plants/{name}", response_model=PlantsOut, responses=GONE, summary="One plant")
def get_plant(
    page: AnyPage, name: Annotated[str, Path(max_length=80, description="Id or any of its names.")]
) -> dict[str, Any]:
    """Every number with its source and how it stands to it."""
    from soakbook.catalog.read import plant, shown

    found = plant(name)
    out = PlantOut(**(vars(found) | {field: value for field, (_, _, value) in shown(found).items()}))
    return {"plants": [out], "sources": _sources([out], found.critical_sources)}


@router.get("/soils", response_model=SoilsOut, summary="Textures and mixes")
def get_soils(page: AnyPage) -> dict[str, Any]:
    """Each with what it holds, what a squeezed handful feels like, and the sources of its figures."""
    from soakbook.catalog import read
    from soakbook.catalog.holds import mix_holds, texture_holds

    textures, mixes = list(read.textures().values()), list(read.mixes().values())
    return {
        "textures": [_texture(row, texture_holds(row)) for row in textures],
        "mixes": [{**vars(row), "drained": (held := mix_holds(row)).drained, **_available(held)} for row in mixes],
        "feel": list(read.feel().values()),
        "sources": _sources([*textures, *mixes, *read.feel().values()]),
    }


def _texture(row: TextureClass, held: Held) -> dict[str, Any]:
    from soakbook.learning.observe import FEEL_GROUP

    group = {"feel_group": FEEL_GROUP[row.id]}
    return {**vars(row), **group, "field_capacity": held.drained, "wilting_point": held.wilting, **_available(held)}


def _available(held: Held) -> dict[str, float]:
    return {"available_mm_per_m": held.available_mm_per_m}


@router.post("/soil", response_model=OwnSoil, summary="What a soil of one's own holds")
def own_soil(page: AnyPage, body: SoilIn) -> dict[str, Any]:
    """From its texture, its sand and clay, a jar, a feel test or a laboratory's figures. Nothing is kept."""
    layers = setup_view.built_soil(body.soil, page.desk.check)
    return {"layers": [vars(setup_view.holds(layer)) for layer in layers]}


@router.get("/mulches", response_model=MulchesOut, summary="Mulches")
def get_mulches(page: AnyPage) -> dict[str, Any]:
    """What a full cover does."""
    from soakbook.catalog import read

    rows = list(read.mulches().values())
    return {"mulches": rows, "sources": _sources(rows)}


@router.get("/means", response_model=MeansOut, summary="Ways of watering")
def get_means(page: AnyPage) -> dict[str, Any]:
    """What part they wet, how fast, and how much of it arrives."""
    from soakbook.catalog import read

    rows = list(read.means().values())
    return {"means": rows, "sources": _sources(rows)}


@router.get("/towns", response_model=Towns, summary="Search towns")
def list_towns(
    page: AnyPage, q: Annotated[str, Query(max_length=100, description="How its name begins.")]
) -> dict[str, Any]:
    """The most populous first, each written so that a question or a garden file may name it."""
    from soakbook.weather.gazetteer import towns_like

    return {"towns": towns_like(q, called=page.reader.tell)}
