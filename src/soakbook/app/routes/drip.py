"""An emitter or line on soil: a form, and the cut through the soil while it runs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import drip_view as view
from soakbook.app.lay_form import soil_groups
from soakbook.app.pages import AnyPage
from soakbook.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/drip")
def drip_page(page: AnyPage) -> Response:
    """The form, and the answer once something is asked."""
    fields = view.fields_from(page.request.query_params, page.reader)
    answer, errors = None, dict[str, list[Any]]()
    if "flow" in page.request.query_params:
        try:
            answer = view.drip_shown(fields, page.reader)
        except InputError as error:
            errors = dict(view.by_field(error))
    return page.show(
        "drip.html", 422 if errors else 200, fields=fields, answer=answer, errors=errors, units=view.UNITS[page.reader.units],
        soils=soil_groups(page.reader), kinds=[("emitter", page.reader.t("single emitters")), ("line", page.reader.t("a joined drip line or soaker"))],
    )  # fmt: skip
