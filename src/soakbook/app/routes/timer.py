"""The timer: the best setting as a card, and what the setting there is now does."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from soakbook.app import timer_check_view as checked
from soakbook.app import timer_view as view
from soakbook.app.desk import Known
from soakbook.app.entries import form_errors
from soakbook.app.pages import OwnPage, Page
from soakbook.app.reader import Reader
from soakbook.errors import InputError
from soakbook.said import say

router = APIRouter(include_in_schema=False)
WEEK = (
    say("Monday"), say("Tuesday"), say("Wednesday"), say("Thursday"), say("Friday"), say("Saturday"), say("Sunday"),
)  # fmt: skip
USUAL = view.Asked()
Hours = Annotated[str, Query(max_length=200)]
Ticked = Annotated[list[str] | None, Query(max_length=10)]


@router.get("/g/{key}/timer")
def card_page(
    page: OwnPage, key: str, programmes: str = "", starts: str = "", days: Ticked = None, step: str = "",
    hours: Hours = "", never: Ticked = None, dates: str = "any",
) -> Response:  # fmt: skip
    """The form, and the card once it is sent."""
    known = page.desk.known(key)
    fields: dict[str, Any] = {
        "programmes": programmes or str(USUAL.programmes), "starts": starts or str(USUAL.starts), "days": days or ([] if programmes else list(USUAL.kinds)),
        "step": step or str(USUAL.step), "hours": hours or USUAL.hours, "never": never or [], "dates": dates,
    }  # fmt: skip
    answer, errors = None, None
    if programmes and view.lines_known(known):
        try:
            asked = view.asked_from(
                programmes, fields["starts"], fields["days"], fields["step"], fields["hours"], fields["never"], dates
            )
            answer = view.card_shown(page.desk, known, asked, page.read_for(known).reader)
        except InputError as error:
            errors = _by_field(error, fields)
    return _shown(page, known, "timer.html", fields, answer, errors, is_asked=bool(programmes))


@router.get("/g/{key}/timer/check")
def check_page(
    page: OwnPage, key: str, setting: Annotated[str, Query(alias="set", max_length=2100)] = "", step: str = "",
    hours: Hours = "", never: Ticked = None, dates: str = "any",
) -> Response:  # fmt: skip
    """The form, and what the setting does once it is sent."""
    known = page.desk.known(key)
    fields: dict[str, Any] = {
        "set": setting, "step": step or str(USUAL.step), "hours": hours or USUAL.hours, "never": never or [], "dates": dates,
    }  # fmt: skip
    answer, errors, is_asked = None, None, bool(setting or step)
    if is_asked and view.lines_known(known):
        try:
            asked = view.asked_from("2", "4", list(view.KINDS), fields["step"], fields["hours"], fields["never"], dates)
            programmes = checked.setting_from(setting, known, page.desk)
            answer = checked.check_shown(page.desk, known, asked, programmes, page.read_for(known).reader)
        except InputError as error:
            errors = _by_field(error, fields)
    return _shown(page, known, "timer_check.html", fields, answer, errors, is_asked=is_asked)


def _shown(
    page: Page, known: Known, template: str, fields: dict[str, Any], answer: Any, errors: Any, *, is_asked: bool
) -> Response:
    r = page.read_for(known).reader
    return page.show(
        template, 422 if errors else 200, known=known, way="season", fields=fields, answer=answer, errors=errors, is_asked=is_asked,
        lines=view.lines_known(known), today=page.desk.today(known.garden), choices=_choices(r),
    )  # fmt: skip


def _by_field(error: InputError, fields: dict[str, Any]) -> dict[str, list[InputError]]:
    """Errors by the fields of the form, which names the timer's kinds of days after what they are for."""
    field = "days" if error.field == "day_kinds" else error.field
    return form_errors(InputError(error.message, code=error.code, field=field, hint=error.hint), "timer", fields)


def _choices(r: Reader) -> dict[str, list[tuple[str, str]]]:
    """What the forms offer, in the reader's words."""
    return {
        "programmes": [(str(n), str(n)) for n in view.PROGRAMMES],
        "starts": [(str(n), str(n)) for n in view.STARTS],
        "step": [(str(n), r.tn("1 minute", "{n} minutes", n)) for n in view.STEPS],
        "days": [(kind, r.tell(words)) for kind, words in view.KINDS.items()],
        "dates": [(one, r.tell(words)) for one, words in view.DATES.items()],
        "never": [(str(d), r.tell(words)) for d, words in enumerate(WEEK)],
    }
