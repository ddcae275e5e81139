"""People for programs: who asks and how they read, signing in and out, devices, and links that open one thing."""

from __future__ import annotations

import json
from datetime import date
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, HTTPException, Path, Response

from soakbook.app.api_models_more import (
    About,
    LinkIn,
    LinkOut,
    Name,
    PersonOut,
    SessionOut,
    SignedIn,
    SignIn,
    View,
    You,
)
from soakbook.app.api_tools import ERRORS, GONE, OPEN_ERRORS, Listing, Some, part
from soakbook.app.pages import READER_COOKIE, SESSION_COOKIE, AnyPage, OwnPage, Page
from soakbook.app.pairing import Wait, is_phrase, network_of
from soakbook.app.reader import CHOICES
from soakbook.app.routes import people
from soakbook.errors import InputError
from soakbook.said import say

router = APIRouter(tags=["people"])
_Id = Annotated[str, Path(max_length=64)]


@router.get("/about", response_model=About, responses=OPEN_ERRORS, summary="The program")
def get_about(page: AnyPage) -> dict[str, Any]:
    """Its version, the day it takes it to be, and the cautions said with every round."""
    from soakbook import __version__
    from soakbook.advice.round import ALWAYS

    settings = page.house.settings
    today = settings.today or date.today()
    return {"version": __version__, "cautions": [page.reader.tell(ALWAYS)], "today": today, "demo": settings.demo}


# --- who asks, and how they read ------------------------------------------------------------------------------------
@router.get("/you", response_model=You, responses=OPEN_ERRORS, summary="Who you are and how you read")
def get_you(page: AnyPage) -> dict[str, Any]:
    """What was chosen, and the language and measures it comes to."""
    return _you(page)


def _you(page: Page) -> dict[str, Any]:
    chosen = {name: value or None for name, value in people.chosen_by(page).items()}
    return {
        "is_known": page.viewer.may_all, "name": page.viewer.name, "chosen": chosen, "language": page.reader.language,
        "units": page.reader.units,
    }  # fmt: skip


@router.put("/you/view", response_model=View, responses=OPEN_ERRORS, summary="Choose how you read")
def put_view(page: AnyPage, body: View, response: Response) -> View:
    """Kept with the person, if there is one, and in the answer's cookie."""
    view = body.model_dump(exclude_none=True)
    if page.viewer.person is not None:
        others = {name: value for name, value in page.viewer.person.prefs.items() if name not in CHOICES}
        page.store.set_prefs(page.viewer.person.id, {**others, **view})
    response.set_cookie(
        READER_COOKIE,
        quote(json.dumps(view)),
        max_age=people.VIEW_S,
        samesite="lax",
        secure=people.is_https(page.request),
    )
    return body


@router.put("/you/name", response_model=PersonOut, responses=ERRORS, summary="Change your name")
def put_name(page: OwnPage, body: Name) -> Any:
    """What others read when one ticks something off."""
    own = page.viewer.person.id if page.viewer.person else "owner"
    return page.store.rename_person(own, " ".join(body.name.split()))


@router.get("/people", response_model=Listing[PersonOut], responses=ERRORS, summary="List people")
def list_people(page: OwnPage, some: Some) -> Any:
    """The owner first."""
    return part(page.store.people(), some)


# --- devices --------------------------------------------------------------------------------------------------------
@router.get("/sessions", response_model=Listing[SessionOut], responses=ERRORS, summary="List devices")
def list_sessions(page: OwnPage, some: Some) -> Any:
    """Those that are signed in, last used first."""
    return part(people.devices_of(page), some)


@router.post("/sessions", response_model=SignedIn, status_code=201, responses=OPEN_ERRORS, summary="Sign a device in")
def sign_in(page: AnyPage, body: SignIn, response: Response) -> dict[str, Any]:
    """With the pairing phrase. The session is in the answer's cookie; after too many wrong phrases one waits (429)."""
    sender = page.request.client.host if page.request.client else None
    found = people.gate_of(page.request).check(network_of(sender), lambda: is_phrase(page.store, body.phrase))
    if isinstance(found, Wait):
        raise HTTPException(429, "Too many wrong phrases.", {"retry-after": str(found.seconds)})
    if not found:
        raise InputError(say("That is not the pairing phrase."), code="sign_in.phrase", field="phrase")
    person = people.person_named(page.store, body.name)
    token = page.store.open_session(person.id, " ".join(body.device.split()))
    response.set_cookie(
        SESSION_COOKIE,
        token,
        max_age=people.SESSION_S,
        httponly=True,
        samesite="lax",
        secure=people.is_https(page.request),
    )
    return {"name": person.name}


@router.delete("/sessions/{session_id}", status_code=204, responses=ERRORS, summary="Sign a device out")
def end_session(page: OwnPage, session_id: _Id) -> None:
    """Nothing happens when it is signed out already."""
    page.store.end_session(session_id)


@router.post("/sessions/end-others", status_code=204, responses=ERRORS, summary="Sign all other devices out")
def end_other_sessions(page: OwnPage) -> None:
    """All but the one that asks."""
    page.store.end_all_sessions(page.viewer.session.id if page.viewer.session is not None else None)


# --- links ----------------------------------------------------------------------------------------------------------
@router.get("/links", response_model=Listing[LinkOut], responses=ERRORS, summary="List links")
def list_links(page: OwnPage, some: Some) -> Any:
    """Those that still open something, by garden."""
    return part(people.openings_of(page), some)


@router.post("/links", response_model=LinkOut, status_code=201, responses=ERRORS | GONE, summary="Make a link")
def make_link(page: OwnPage, body: LinkIn) -> Any:
    """For a helper's round of today, or for a calendar to subscribe to. Whoever has the address needs no sign-in."""
    link_id = people.linked(page, body.garden, body.kind, body.name)
    return next(opening for opening in people.openings_of(page) if opening.id == link_id)


@router.delete("/links/{link_id}", status_code=204, responses=ERRORS, summary="End a link")
def end_link(page: OwnPage, link_id: _Id) -> None:
    """It opens nothing any more."""
    people.closed(page, link_id)
