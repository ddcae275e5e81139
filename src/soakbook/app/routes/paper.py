"""On paper, without signal, and in the calendar."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, Response

from soakbook.app.desk import Known
from soakbook.app.learnt_view import fault_cards
from soakbook.app.pages import OwnPage, Page
from soakbook.app.paper_view import PAPERS, card_of, card_sheets, paper_of, place_sheet, round_sheets
from soakbook.app.round_view import rows_of, summary
from soakbook.app.routes import calendar, take_away
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)
router.include_router(take_away.router)
router.include_router(calendar.router)
#: What may be typed onto a line of the card.
Line = Annotated[str, Query(max_length=160)]


@router.get("/g/{key}/print/round")
def print_round(page: OwnPage, key: str, paper: str = "") -> HTMLResponse:
    """Today's round on a sheet of paper."""
    known = page.desk.known(key)
    r, made = page.read_for(known).reader, page.desk.round(known)
    rows = rows_of(page.desk, known, made, r, fault_cards(page.desk, known, r))
    sheets = round_sheets(rows, paper_of(paper, r))
    return _sheet(page, known, "round", paper, sheets=sheets, round=made, summary=summary(rows, r))


@router.get("/g/{key}/print/place/{place_id}")
def print_place(page: OwnPage, key: str, place_id: str, paper: str = "") -> HTMLResponse:
    """A place on a sheet of paper."""
    known = page.desk.known(key)
    shown = place_sheet(page.desk, known, place_id, page.read_for(known).reader)
    return _sheet(page, known, "place", paper, shown=shown, today=page.desk.today(known.garden))


@router.get("/g/{key}/print/card")
def print_card(
    page: OwnPage, key: str, paper: str = "", tap: Line = "", call: Line = "", more: Line = ""
) -> HTMLResponse:
    """A week for whoever helps out."""
    known = page.desk.known(key)
    r = page.read_for(known).reader
    card = card_of(page.desk, known, r)
    lines = {"tap": tap.strip(), "call": call.strip(), "more": more.strip()}
    return _sheet(page, known, "card", paper, card=card, sheets=card_sheets(card, paper_of(paper, r)), lines=lines)


@router.get("/g/{key}/print/away")
def print_away(
    page: OwnPage, key: str, first: Annotated[str, Query(alias="from")] = "", until: str = "", visits: str = "", every: str = "", timer: str = "",
    paper: str = "", tap: Line = "", call: Line = "", more: Line = "",
) -> Response:  # fmt: skip
    """The visits while nobody is there, for whoever comes; the page that asks for them where there are none."""
    from soakbook.app.away_paper import away_card
    from soakbook.app.away_view import asked_from

    known = page.desk.known(key)
    r = page.read_for(known).reader
    asked = {"from": first, "until": until, "visits": visits, "every": every, "timer": timer}
    try:
        these = asked_from(first, until, visits, every, page.desk.today(known.garden), timer)
        card, said = away_card(page.desk, known, these, r) if known.garden.places else (None, "")
    except InputError:  # said beside its field there
        card, said = None, ""
    if card is None or not card.days:
        return page.go(f"/g/{key}/away", **asked)
    lines = {"tap": tap.strip(), "call": call.strip(), "more": more.strip()}
    return _sheet(
        page, known, "away", paper, card=card, sheets=card_sheets(card, paper_of(paper, r), said), lines=lines, said=said, days=asked
    )  # fmt: skip


def _sheet(page: Page, known: Known, name: str, asked: str, **context: Any) -> HTMLResponse:
    paper = paper_of(asked, page.read_for(known).reader)
    kept = {k: v for k, v in page.request.query_params.items() if k != "paper"}
    return page.show(
        f"paper/{name}.html", known=known, way="round", paper=paper, papers=PAPERS, kept=kept, sky=page.desk.sky(known),
        now=page.desk.now(known.garden), **context,
    )  # fmt: skip
