"""The catch-cup test: amounts typed in, judged, drawn."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import cups_view as view
from soakbook.app.pages import AnyPage
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/cups")
def cups_page(page: AnyPage) -> Response:
    """The form, and the answer once amounts are given."""
    fields = view.fields_from(page.request.query_params)
    answer, errors = None, dict[str, list[Any]]()
    if "caught" in page.request.query_params:
        try:
            answer = view.cups_shown(view.cups_from(fields), page.reader)
        except InputError as error:
            errors = dict(view.by_field(error))
    return page.show("cups.html", 422 if errors else 200, fields=fields, answer=answer, errors=errors)
