"""The calendar to subscribe to: for those who may see all, and by a link of its own."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app.calendar_feed import feed_of, link_reader
from soakbook.app.pages import AnyPage, OwnPage
from soakbook.errors import InputError
from soakbook.said import say

router = APIRouter(include_in_schema=False)
#: A token is 43 characters; nothing longer is looked up.
_LONGEST = 64


@router.get("/g/{key}/calendar.ics")
def calendar(page: OwnPage, key: str) -> Response:
    """The due days of a garden, in the reader's language and measures."""
    known = page.desk.known(key)
    return _file(feed_of(page.desk, known, page.read_for(known).reader))


@router.get("/calendar/{token}.ics")
def calendar_by_link(page: AnyPage, token: str) -> Response:
    """The same for a calendar program with a link; ``lang`` and ``units`` may stand in it."""
    link = page.store.link(token) if 0 < len(token) <= _LONGEST else None
    if link is None or link.kind != "calendar":
        hint = say("Ask the gardener for a new one.")
        raise InputError(say("This link opens nothing any more."), code="link.unknown", hint=hint)
    known = page.desk.known(link.key)
    return _file(feed_of(page.desk, known, link_reader(page.request.query_params, known)))


def _file(data: bytes) -> Response:
    headers = {"content-disposition": 'inline; filename="watering.ics"', "cache-control": "private, no-cache"}
    return Response(data, media_type="text/calendar; charset=utf-8", headers=headers)
