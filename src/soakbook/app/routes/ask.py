"""The first answer: six plain questions, no garden, no sign-in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from soakbook.app.ask_form import FLOW_UNITS, UNITS, Asked, asked_from, plants_like, read
from soakbook.app.ask_keep import document_of, with_place
from soakbook.app.ask_view import shown, soil_words, work_out
from soakbook.app.changing import AForm, what
from soakbook.app.garden_names import told_apart
from soakbook.app.pages import AnyPage, Page, problems
from soakbook.catalog import read as catalog
from soakbook.errors import InputError, SoakbookError
from soakbook.physics.feel import Question as FeelQuestion
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.advice.question import Question
    from soakbook.garden.model import Garden

router = APIRouter(include_in_schema=False)
#: Texture classes from the lightest to the heaviest.
_TEXTURES = (
    "sand", "loamy_sand", "sandy_loam", "loam", "silt_loam", "silt", "sandy_clay_loam", "clay_loam", "silty_clay_loam",
    "sandy_clay", "silty_clay", "clay",
)  # fmt: skip
#: Ways of watering that a newcomer knows, the likeliest first; the rest follow.
_MEANS = ("can", "wand", "drip_line", "soaker", "sprinkler", "emitters")
#: Added to a garden by keeping a first answer.
_WHAT = say("place added")


@router.get("/ask")
def ask_page(page: AnyPage) -> HTMLResponse:
    """The questions and, once enough is said, the answer."""
    asked = asked_from(page.request.query_params, page.reader, _today(page))
    return _page(page, asked)


@router.get("/ask/towns")
def towns(page: AnyPage, q: str = "") -> dict[str, Any]:
    """Towns whose name begins so."""
    from soakbook.weather.gazetteer import towns_like

    return {"kind": "towns", "towns": [{"name": name, "also": ""} for name in towns_like(q, called=page.reader.tell)]}


@router.get("/ask/plants")
def plants(page: AnyPage, q: str = "") -> dict[str, Any]:
    """Plants by their common names in the reader's language."""
    found = plants_like(q[:100], page.reader)
    return {"kind": "plants", "plants": [{"name": word, "also": name if name != word else ""} for word, name in found]}


@router.post("/ask/keep")
def keep(page: AnyPage, posted: AForm) -> Response:
    """The place of the answer becomes the first of a new garden, or another one of a garden that is there."""
    asked = asked_from(posted.fields, page.reader, _today(page))
    if not page.viewer.may_all:
        return page.go("/sign-in", next=f"/ask?{urlencode(_sent(asked))}")
    try:
        q, day, garden = read(asked, page.reader, page.house.settings.today)
        key = kept_in(page, posted.get("to"), q, garden, day, live=bool(asked["live"]))
    except InputError as error:
        return _page(page, asked, error)
    return page.go(f"/g/{key}/")


def kept_in(page: Page, to: str, q: Question, garden: Garden, day: date, *, live: bool) -> str:
    """The key of the garden that now has the place."""

    def check(document: dict[str, Any]) -> None:
        page.desk.check(to or None, document)

    who = page.viewer.name
    if to:
        named = page.reader.tell(catalog.plant(q.plant).name)
        page.store.change(
            to, lambda old: with_place(old, q, garden, page.reader, day), check=check, by=who, what=what(_WHAT, named)
        )
        return to
    document = document_of(q, garden, page.reader, day, live=live)
    check(document)
    return page.store.add_garden(document, by=who).key


def _today(page: Page) -> date:
    return page.house.settings.today or date.today()


def _sent(asked: Asked) -> Mapping[str, str]:
    """What a link has to carry."""
    return {name: value for name, value in asked.fields.items() if value}


def _page(page: Page, asked: Asked, error: SoakbookError | None = None) -> HTMLResponse:
    from soakbook.advice.round import ALWAYS

    r, today = page.reader, _today(page)
    view, worked, garden, missing = None, None, None, False
    if asked.given and error is None:
        try:
            q, today, garden = read(asked, r, page.house.settings.today)
            worked = work_out(q, garden, today, live=bool(asked["live"]))
            view = shown(worked, garden, today, r)
        except InputError as wrong:
            error, missing = wrong, not asked.whole
    errors = problems(error) if error is not None else {}
    status = 422 if errors and not missing else 200
    gardens = page.store.gardens() if page.viewer.may_all else []
    return page.show(
        "ask.html", status, way="ask", asked=asked, errors=errors, view=view, worked=worked, garden=garden, day=today,
        soils=soil_words(_TEXTURES, r), units=UNITS[r.units], flow_units=FLOW_UNITS[r.units], gardens=gardens, garden_names=told_apart(gardens),
        feel=_feel(), always=ALWAYS, **_lists(page),
    )  # fmt: skip


def _feel() -> dict[str, FeelQuestion]:
    from soakbook.physics.feel import questions

    return {q.id: q for q in questions()}


def _lists(page: Page) -> dict[str, list[tuple[str, str]]]:
    """Choices of mixes, ways of watering and mulches, and the names of plants."""
    r, means = page.reader, catalog.means()
    ways = [*_MEANS, *(m for m in means if m not in _MEANS)]
    return {
        "mixes": [(m.id, r.tell(m.name)) for m in catalog.mixes().values() if m.use == "pot"],
        "ways": [(name, r.tell(means[name].name)) for name in ways],
        "mulches": [("", r.t("bare soil")), *((m.id, r.tell(m.name)) for m in catalog.mulches().values())],
        "names": sorted((r.tell(p.name), p.id) for p in catalog.plants().values()),
    }
