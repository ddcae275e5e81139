"""What comes out along lines: a form, charts along them, and the picture from above."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import pipes_form as form
from soakbook.app.lay_form import SUPPLIES
from soakbook.app.pages import AnyPage
from soakbook.app.pipes_view import pipes_shown
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/pipes")
def pipes_page(page: AnyPage) -> Response:
    """The form, and the answer once something is asked."""
    r = page.reader
    asked = form.asked_from(page.request.query_params, r)
    answer, errors = None, dict[str, list[Any]]()
    if asked.given:
        try:
            answer = pipes_shown(form.wanted_from(asked, r.units), r)
        except InputError as error:
            errors = dict(form.by_field(error))
    return page.show(
        "pipes.html", 422 if errors else 200, asked=asked, answer=answer, errors=errors, units=form.units_of(r.units),
        kinds=[(name, r.tell(words)) for name, words in form.KINDS], supplies=[(name, r.tell(words)) for name, words in SUPPLIES],
    )  # fmt: skip
