"""The lines of a garden: today's run times, and what would help where several places share one."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app.lines_view import DAYS, lines_shown
from soakbook.app.pages import OwnPage

router = APIRouter(include_in_schema=False)


@router.get("/g/{key}/lines")
def lines_page(page: OwnPage, key: str) -> Response:
    """How long each line runs today, and for whom that is too much or too little."""
    known = page.desk.known(key)
    answer = lines_shown(page.desk, known, page.read_for(known).reader) if known.garden.lines else None
    return page.show("lines.html", known=known, way="round", answer=answer, days=DAYS)
