"""The catalogue for programs: plants, soils, mulches and ways of watering, each number with its source."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query

from soakbook.app import setup_view
from soakbook.app.api_models_more import MeansOut, MulchesOut, PlantName, PlantsOut, SoilsOut, Towns
from soakbook.app.api_tools import GONE, OPEN_ERRORS, Listing, Some, part
from soakbook.app.pages import AnyPage
from soakbook.catalog.model import Source, Value
from soakbook.garden.model import SoilLayer

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
    from soakbook.catalog.read import plant

    found = plant(name)
    return {"plants": [found], "sources": _sources([found], found.critical_sources)}


@router.get("/soils", response_model=SoilsOut, summary="Textures and mixes")
def get_soils(page: AnyPage) -> dict[str, Any]:
    """Each with what it holds in a bed."""
    from soakbook.catalog import read

    textures, mixes = list(read.textures().values()), list(read.mixes().values())
    return {
        "textures": [{"texture": row, "holds": _texture_holds(row.id)} for row in textures],
        "mixes": [{"mix": row, "holds": _mix_holds(row.id)} for row in mixes],
        "sources": _sources([*textures, *mixes]),
    }


@cache
def _texture_holds(name: str) -> setup_view.Holds:
    return setup_view.holds(SoilLayer(route="texture", texture=name))


@cache
def _mix_holds(name: str) -> setup_view.Holds:
    return setup_view.holds(SoilLayer(route="mix", mix=name))


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

    return {"towns": towns_like(q)}
