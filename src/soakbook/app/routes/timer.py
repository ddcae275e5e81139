"""The timer: the best setting as a card, what the setting there is now does, and both kept with the garden."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from soakbook.app import timer_check_view as checked
from soakbook.app import timer_form as forms
from soakbook.app import timer_season_view as season
from soakbook.app import timer_view as view
from soakbook.app.changing import (
    AForm,
    Document,
    Posted,
    again,
    free_name,
    fresh_id,
    notice_of,
    save,
    save_from,
    what,
    what_words,
)
from soakbook.app.desk import Known
from soakbook.app.entries import form_errors
from soakbook.app.pages import OwnPage, Page
from soakbook.app.reader import Reader
from soakbook.errors import InputError, InputErrors
from soakbook.garden.timer_text import LONG_DAYS
from soakbook.said import say

router = APIRouter(include_in_schema=False)
Short = Annotated[str, Query(max_length=40)]
#: What stands for a timer that is not kept yet, where others are.
NEW = "new"
#: Pages of the forms; those of what is set are the check's.
_PATHS = {"card": "", "season": "/season"}
_TEMPLATES = {"card": "timer.html", "season": "timer_season.html"}


@router.get("/g/{key}/timer")
def card_page(page: OwnPage, key: str, request: Request, timer: Short = "", saved: Short = "") -> Response:
    """The form, filled in from what the garden keeps, and the card once it is sent."""
    return _asked(page, page.desk.known(key), request, "card", timer, saved)


@router.get("/g/{key}/timer/check")
def check_page(page: OwnPage, key: str, request: Request, timer: Short = "", saved: Short = "") -> Response:
    """The form, filled in from what the garden keeps, and what the setting does once it is sent."""
    return _asked(page, page.desk.known(key), request, "check", timer, saved)


@router.get("/g/{key}/timer/season")
def season_page(page: OwnPage, key: str, request: Request, timer: Short = "", saved: Short = "") -> Response:
    """The form, filled in from what the garden keeps, and the settings of a season once it is sent."""
    return _asked(page, page.desk.known(key), request, "season", timer, saved)


def _asked(page: Page, known: Known, request: Request, form: str, timer: str, saved: str) -> Response:
    r = page.read_for(known).reader
    usual = forms.usual_fields(known, timer, r)
    query = request.query_params
    is_asked = "set" in query or "step" in query if form == "check" else "programmes" in query
    fields = forms.sent_fields(query.getlist, form, usual) if is_asked else usual
    answer, errors = None, None
    if is_asked and view.lines_known(known):
        try:
            answer = _answer(page, known, fields, form, timer, r)
        except InputError as error:
            errors = _by_field(error, form)
    return _shown(page, known, form, fields, timer, answer=answer, errors=errors, is_asked=is_asked, saved=saved)


def _answer(page: Page, known: Known, fields: forms.Fields, form: str, timer: str, r: Reader) -> Any:
    asked = forms.asked_from(fields, forms.kept_of(known, timer), known, r.units)
    if form == "card":
        return view.card_shown(page.desk, known, asked, r)
    if form == "season":
        return season.season_shown(page.desk, known, asked, r)
    programmes = forms.setting_from(fields["set"], known, page.desk.today(known.garden), r)
    return checked.check_shown(page.desk, known, replace(asked, kinds=tuple(view.KINDS)), programmes, r)


@router.post("/g/{key}/timer/keep")
def keep(page: OwnPage, key: str, posted: AForm) -> Response:
    """Keeps what a form has with the garden: what the timer can hold and the rules, or what is set on it."""
    known, form, timer = page.desk.known(key), posted.get("form"), posted.get("timer")
    if form not in forms.FORMS:
        raise InputError(say("choose among what is listed."), code="timer.form", field="form")
    r = page.read_for(known).reader
    usual = forms.usual_fields(known, timer, r)
    fields = forms.sent_fields(posted.all, form, usual)
    found = forms.entry_of_timer(known.document, timer)
    if found is None and timer not in ("", NEW):
        gone = InputError(say("this timer is not kept any more. Keep once more, and it is another one."), code="timer.unknown", field="timer")  # fmt: skip
        return _shown(page, known, form, fields, NEW, errors=_by_field(gone, form), is_asked=False, status=404)
    before: Document = found[1] if found else {"id": fresh_id(), "name": free_name(fields["name"], (one.name for one in known.garden.timers))}  # fmt: skip
    try:
        forms.asked_from(fields, forms.kept_of(known, timer), known, r.units)
        setting = forms.setting_from(fields["set"], known, page.desk.today(known.garden), r) if "set" in forms.FORMS[form] else ()  # fmt: skip
        forms.since_ok(fields, page.desk.today(known.garden))
        entry = forms.kept_entry(before, fields, usual, form, setting, r.units)
        entry = forms.with_spells(entry, before, page.desk.today(known.garden), is_set_now=form == "set")
        row = _save(page, known, entry, before, posted)
    except InputError as error:
        typed, status = again(posted.fields, error)
        fields["version"] = typed.get("version", "")
        return _shown(page, known, form, fields, timer, errors=_by_field(error, form), is_asked=False, status=status)
    return _kept(page, known, row.version, form, str(entry["id"]))


def _save(page: Page, known: Known, entry: Document, before: Document, posted: Posted) -> Any:
    def edit(document: Document) -> Document:
        timers = document.setdefault("timers", [])
        at = next((k for k, one in enumerate(timers) if one["id"] == entry["id"]), len(timers))
        timers[at : at + 1] = [entry]
        return document

    def mine(document: Document) -> Any:
        return next((one for one in document.get("timers", []) if one["id"] == before["id"]), None)

    did = what(say("timer changed"), str(entry["name"]))
    return save_from(page, known, edit, did, posted, mine, str(entry["name"]))


@router.post("/g/{key}/timer/forget")
def forget(page: OwnPage, key: str, posted: AForm) -> Response:
    """Takes a timer out of the garden; the notice brings it back."""
    known, timer_id = page.desk.known(key), posted.get("timer")
    gone = next((one for one in known.document.get("timers", []) if one["id"] == timer_id), None)
    if gone is None:
        return page.go(f"/g/{key}/timer")

    def edit(document: Document) -> Document:
        document["timers"] = [one for one in document.get("timers", []) if one["id"] != timer_id]
        if not document["timers"]:
            del document["timers"]
        return document

    row = save(page, known, edit, what(say("timer removed"), str(gone["name"])))
    return _kept(page, known, row.version, posted.get("form"), "")


def _kept(page: Page, known: Known, version: int, form: str, timer_id: str) -> Response:
    """On to the page of the form, filled in from what is kept now."""
    notice = {"saved": str(version)} if version != known.version else {}
    several = {"timer": timer_id} if timer_id and known.document.get("timers") else {}
    return page.go(f"/g/{known.key}/timer{_PATHS.get(form, '/check')}", **notice, **several)


def _shown(
    page: Page, known: Known, form: str, fields: forms.Fields, timer: str, *, answer: Any = None, errors: Any = None, is_asked: bool,
    saved: str = "", status: int = 200,
) -> Response:  # fmt: skip
    r = page.read_for(known).reader
    found = forms.entry_of_timer(known.document, timer)
    return page.show(
        _TEMPLATES.get(form, "timer_check.html"), status if status != 200 else 422 if errors else 200, known=known, way="season",
        fields={"version": str(known.version), **fields}, answer=answer, errors=errors, is_asked=is_asked, lines=view.lines_known(known),
        today=page.desk.today(known.garden), choices=_choices(known, r, fields), example=_example(known, r), bare=forms.bare(r.units),
        timer_id=str(found[1]["id"]) if found else timer, kept=found[1] if found else None,
        timers=[(str(one["id"]), str(one["name"])) for one in known.document.get("timers", [])],
        notice=notice_of(page, known, saved), what_words=what_words,
    )  # fmt: skip


def _example(known: Known, r: Reader) -> tuple[str, ...]:
    """Programmes as the reader writes them, and other ways to say days."""
    from soakbook.garden.timer import Days, Programme
    from soakbook.garden.timer_text import programme_text

    name = next(iter(view.lines_known(known)), "")
    first = programme_text(Programme("A", Days("weekdays", (0, 2, 5)), (360, 1200), ((name, 40),)), r.tell)
    return first, r.t("every day"), r.tn("every day", "every {n} days", 3), r.t("odd dates"), r.t("even dates")


#: Fields of the form where the garden file, or the timer itself, calls them otherwise.
_BESIDE = {"day_kinds": "days", "allowed": "never", "weekdays": "never"}


def _by_field(error: InputError, form: str) -> dict[str, list[InputError]]:
    """Errors by the fields that the page of a form shows, those of the garden's own check among them; the others come at the top."""
    moved = []
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        field = re.sub(r"^timers\.\d+\.", "", one.field)
        moved.append(InputError(one.message, code=one.code, field=_BESIDE.get(field, field), hint=one.hint))
    return form_errors(
        InputErrors(moved) if len(moved) > 1 else moved[0], "timer", forms.FORMS["check" if form == "set" else form]
    )


def _choices(known: Known, r: Reader, fields: forms.Fields) -> dict[str, list[tuple[str, str]]]:
    """What the forms offer, in the reader's words; what is kept is among it."""

    def numbers(name: str, offered: tuple[int, ...]) -> list[int]:
        own = {int(fields[name])} if str(fields[name]).isdigit() and 1 <= int(fields[name]) <= 60 else set()
        return sorted({*offered, *own})

    return {
        "programmes": [(str(n), str(n)) for n in numbers("programmes", view.PROGRAMMES)],
        "starts": [(str(n), str(n)) for n in numbers("starts", view.STARTS)],
        "settings": [(str(n), r.tn("once", "{n} times", n)) for n in view.SETTINGS],
        "step": [(str(n), r.tn("1 minute", "{n} minutes", n)) for n in numbers("step", view.STEPS)],
        "opens": [(line.name, line.name) for line in known.garden.lines],
        "days": [(kind, r.tell(words)) for kind, words in view.KINDS.items()],
        "dates": [(one, r.tell(words)) for one, words in view.DATES.items()],
        "never": [(str(d), r.tell(words)) for d, words in enumerate(LONG_DAYS)],
    }
