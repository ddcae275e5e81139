"""Places for programs: conveniences over the garden's document."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from soakbook.app.api_models import ChangedPlace, Move, NewPlace, PlaceFacts, PlaceKept
from soakbook.app.api_tools import CLASH, ERRORS, GONE, Key, Listing, PlaceId, Some, part, save_at
from soakbook.app.changing import Document, fresh_id, place_in, what
from soakbook.app.desk import Known
from soakbook.app.pages import OwnPage
from soakbook.app.routes.setup_places import copied, taken_away
from soakbook.said import say

router = APIRouter(tags=["places"], responses=ERRORS)


def place_facts(known: Known, place_id: str) -> dict[str, Any]:
    """A place as :class:`PlaceFacts` has it; InputError when there is none."""
    place = known.place(place_id)
    _, written = place_in(known.document, place_id)
    return {
        "id": place_id, "name": place.name, "kind": place.kind, "area_m2": place.area_m2,
        "volume_l": place.pot.volume_l * place.pot.count if place.pot else None, "means": place.means, "line": place.line,
        "plants": [planting.plant for planting in place.plantings], "written": written,
    }  # fmt: skip


@router.get("/gardens/{key}/places", response_model=Listing[PlaceFacts], responses=GONE, summary="List places")
def list_places(page: OwnPage, key: Key, some: Some) -> Any:
    """In walking order."""
    known = page.desk.known(key)
    return part([place_facts(known, place_id) for place_id in known.names], some)


@router.post(
    "/gardens/{key}/places", response_model=PlaceKept, status_code=201, responses=GONE | CLASH, summary="Add a place"
)
def add_place(page: OwnPage, key: Key, body: NewPlace) -> dict[str, Any]:
    """Last in walking order. An ``id`` in it is not heeded."""
    place_id = fresh_id()

    def edit(document: Document) -> Document:
        document["places"].append({**body.place, "id": place_id})
        return document

    did = what(say("place added"), str(body.place.get("name", "")))
    return {"garden": save_at(page, page.desk.known(key), body.version, edit, did), "place_id": place_id}


@router.put(
    "/gardens/{key}/places/{place_id}", response_model=PlaceKept, responses=GONE | CLASH, summary="Change a place"
)
def put_place(page: OwnPage, key: Key, place_id: PlaceId, body: ChangedPlace) -> dict[str, Any]:
    """The whole place anew. Errors name their entry in the garden's document, such as ``places.3.size``."""
    known = page.desk.known(key)
    known.place(place_id)

    def edit(document: Document) -> Document:
        index, _ = place_in(document, place_id)
        document["places"][index] = {**body.place, "id": place_id}
        return document

    did = what(say("place changed"), str(body.place.get("name", "")))
    return {"garden": save_at(page, known, body.version, edit, did), "place_id": place_id}


@router.post(
    "/gardens/{key}/places/{place_id}/copy",
    response_model=PlaceKept,
    status_code=201,
    responses=GONE,
    summary="Copy a place",
)
def copy_place(page: OwnPage, key: Key, place_id: PlaceId) -> dict[str, Any]:
    """Behind it in walking order, under a free name, without plantings that are over."""
    known = page.desk.known(key)
    known.place(place_id)
    row, copy_id = copied(page, known, place_id)
    return {"garden": row, "place_id": copy_id}


@router.post(
    "/gardens/{key}/places/{place_id}/move", response_model=PlaceKept, responses=GONE | CLASH, summary="Move a place"
)
def move_place(page: OwnPage, key: Key, place_id: PlaceId, body: Move) -> dict[str, Any]:
    """To another position in walking order; beyond the last is last."""
    known = page.desk.known(key)
    known.place(place_id)

    def edit(document: Document) -> Document:
        index, place = place_in(document, place_id)
        del document["places"][index]
        document["places"].insert(body.to - 1, place)
        return document

    row = save_at(page, known, body.version, edit, what(say("walking order changed")))
    return {"garden": row, "place_id": place_id}


@router.delete(
    "/gardens/{key}/places/{place_id}", response_model=PlaceKept, responses=GONE, summary="Take a place away"
)
def remove_place(page: OwnPage, key: Key, place_id: PlaceId) -> dict[str, Any]:
    """Its log entries stay. Going back to the version before brings it back."""
    known = page.desk.known(key)
    known.place(place_id)
    return {"garden": taken_away(page, known, place_id), "place_id": place_id}
