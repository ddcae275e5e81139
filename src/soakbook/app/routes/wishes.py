"""What matters to the grower: three sliders, with what they do to the coming week before they are kept."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from soakbook.app import wishes_view as view
from soakbook.app.changing import AForm, Document, again, notice_of, save_from, what, what_words
from soakbook.app.desk import Known
from soakbook.app.entries import form_errors
from soakbook.app.pages import OwnPage, Page
from soakbook.errors import InputError
from soakbook.garden.model import Wishes
from soakbook.said import say

router = APIRouter(include_in_schema=False)
NAMES = {"spare_water", "spare_time", "best_crop"}


@router.get("/g/{key}/wishes")
def wishes_page(page: OwnPage, key: str, request: Request, saved: str = "") -> Response:
    """The sliders as they are kept, or as the address has them, and the week they make."""
    known = page.desk.known(key)
    wishes = view.wishes_from(request.query_params, known.garden.wishes)
    return _shown(page, known, wishes, saved=saved)


@router.post("/g/{key}/wishes")
def change_wishes(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps them."""
    known = page.desk.known(key)
    wishes = view.wishes_from(posted.fields, known.garden.wishes)

    def edit(document: Document) -> Document:
        document["wishes"] = asdict(wishes)
        return document

    try:
        did, name = what(say("wishes changed")), page.reader.t("What matters to you")
        row = save_from(page, known, edit, did, posted, lambda document: document.get("wishes"), name)
    except InputError as error:
        _, status = again(posted.fields, error)
        return _shown(page, known, wishes, form_errors(error, "wishes", NAMES), status)
    notice = {"saved": str(row.version)} if row.version != known.version else {}
    return page.go(f"/g/{key}/wishes", **notice)


def _shown(
    page: Page, known: Known, wishes: Wishes, errors: Any = None, status: int = 200, saved: str = ""
) -> Response:
    r = page.read_for(known).reader
    return page.show(
        "wishes.html", status, known=known, way="round", sliders=view.sliders(wishes, r), steps=view.step_words(r),
        is_kept=wishes == known.garden.wishes, week=view.week_shown(page.desk, known, wishes, r) if known.garden.places else None,
        errors=errors, notice=notice_of(page, known, saved), what_words=what_words,
    )  # fmt: skip
