"""The walking order of the places: up and down by buttons, or by dragging."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app.changing import AForm, Document, place_in, save, saved, what
from soakbook.app.pages import OwnPage
from soakbook.said import say

router = APIRouter(include_in_schema=False)


@router.post("/g/{key}/setup/move")
def move(page: OwnPage, key: str, posted: AForm) -> Response:
    """One place one step up or down."""
    known = page.desk.known(key)
    step = -1 if posted.get("way") == "up" else 1

    def edit(document: Document) -> Document:
        places = document["places"]
        index, place = place_in(document, posted.get("place"))
        to = min(max(index + step, 0), len(places) - 1)
        places.insert(to, places.pop(places.index(place)))
        return document

    row = save(page, known, edit, what(say("walking order changed")))
    # no fragment in the address: a browser that goes to one does not focus the arrow
    return saved(page, known, row, moved=posted.get("place"), way="up" if step < 0 else "down")


@router.post("/g/{key}/setup/order")
def order(page: OwnPage, key: str, posted: AForm) -> Response:
    """The whole order at once; places that are not named keep their order behind the others."""
    known = page.desk.known(key)
    wanted = posted.get("order").split(",")

    def edit(document: Document) -> Document:
        rank = {place_id: at for at, place_id in enumerate(wanted)}
        document["places"].sort(key=lambda place: rank.get(place["id"], len(rank)))
        return document

    row = save(page, known, edit, what(say("walking order changed")))
    return saved(page, known, row, mark="places")
