"""The weeks away: what happens with nobody, with visits, with a programme; what to do before leaving."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from soakbook.app import away_view as view
from soakbook.app.entries import form_errors
from soakbook.app.pages import OwnPage
from soakbook.app.timer_view import lines_known
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/g/{key}/away")
def away_page(
    page: OwnPage, key: str, first: Annotated[str, Query(alias="from")] = "", until: str = "", visits: str = "", every: str = "", timer: str = "",
) -> Response:  # fmt: skip
    """The form, and the answer once days are given."""
    known = page.desk.known(key)
    r = page.read_for(known).reader
    today = page.desk.today(known.garden)
    fields: dict[str, Any] = {
        "from": first,
        "until": until,
        "visits": visits or "0",
        "every": every or "0",
        "timer": timer,
    }
    answer, errors, status = None, None, 200
    if not (first or until):
        usual = view.usual(today)
        fields.update({"from": usual.first.isoformat(), "until": usual.last.isoformat()})
    elif known.garden.places:
        try:
            asked = view.asked_from(first, until, visits, every, today, timer)
            answer = view.away_shown(page.desk, known, asked, r)
        except InputError as error:
            errors, status = form_errors(error, "away", {"from", "until", "timer"}), 422
    return page.show(
        "away.html", status, known=known, has_lines=bool(lines_known(known)), way="season", fields=fields, answer=answer, errors=errors,
        asked={name: fields[name] for name in ("from", "until", "visits", "every", "timer")},
        visit_choices=[("0", r.t("nobody comes")), *((str(n), r.tn("once", "{n} times", n)) for n in range(1, view.MOST_VISITS + 1))],
        every_choices=[("0", r.t("none")), *((str(n), r.tn("every day", "every {n} days", n)) for n in range(1, view.MOST_EVERY + 1))],
    )  # fmt: skip
