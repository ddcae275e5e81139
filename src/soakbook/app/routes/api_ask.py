"""The first answer for programs: a question in, an answer out, and its place kept."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter

from soakbook.app.api_models_more import AskIn, AskOut, KeepIn
from soakbook.app.api_tools import ERRORS, GONE, OPEN_ERRORS
from soakbook.app.ask_view import work_out
from soakbook.app.pages import AnyPage, OwnPage, Page
from soakbook.app.routes.ask import kept_in
from soakbook.errors import InputError
from soakbook.store import GardenRow

if TYPE_CHECKING:
    from soakbook.advice.question import Question
    from soakbook.garden.model import Garden

router = APIRouter(tags=["first answer"])


@router.post(
    "/ask", response_model=AskOut, response_model_exclude_unset=True, responses=OPEN_ERRORS, summary="A first answer"
)
def ask(page: AnyPage, body: AskIn) -> dict[str, Any]:
    """How much and how often for one plant in one place, today and month by month. Needs no garden and no sign-in."""
    _, day, garden = _read(page, body)
    worked = work_out(_question(body), garden, day, live=body.live)
    cautions = [page.reader.tell(text) for text in worked.got.cautions]
    return {
        **worked.got.to_json(),
        "kind": "ask",
        "version": 1,
        "cautions": cautions,
        "trouble": page.reader.tell(worked.trouble),
    }


@router.post(
    "/ask/keep", response_model=GardenRow, status_code=201, responses=ERRORS | GONE, summary="Keep a first answer"
)
def keep(page: OwnPage, body: KeepIn) -> GardenRow:
    """The place of the question becomes the last one of a garden, or the first of a new one."""
    question, day, garden = _read(page, body.question)
    if body.garden:
        page.store.garden(body.garden)
    return page.store.garden(kept_in(page, body.garden, question, garden, day, live=body.question.live))


def _question(body: AskIn) -> Question:
    from soakbook.advice.question import Question

    return Question(**body.model_dump(exclude={"live", "feel"}), feel=tuple(body.feel))


def _read(page: Page, body: AskIn) -> tuple[Question, date, Garden]:
    """Question, day it is there, and the garden it describes; all that is wrong at once."""
    from soakbook.advice.question import all_wrong, garden_of, spot_of

    question, fixed = _question(body), page.house.settings.today
    day = fixed or date.today()
    with suppress(InputError):  # told with the rest
        day = fixed or datetime.now(ZoneInfo(spot_of(question).time_zone)).date()
    all_wrong(question, day)
    return question, day, garden_of(question, day)
