"""The front door: on to the last garden's round, or to the first answer when there is no garden yet."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app.pages import AnyPage

router = APIRouter(include_in_schema=False)
GARDEN_COOKIE = "soakbook_garden"


@router.get("/")
def front(page: AnyPage) -> Response:
    """To the garden this browser saw last, else the first one, else the first answer."""
    gardens = {row.key: row for row in page.store.gardens()} if page.viewer.may_all else {}
    last = page.request.cookies.get(GARDEN_COOKIE, "")
    key = last if last in gardens else next(iter(gardens), None)
    return page.go(f"/g/{key}/" if key else "/ask")


@router.get("/healthy")
def healthy() -> dict[str, str]:
    """For whoever starts the app and wants to know that it answers."""
    return {"kind": "healthy"}
