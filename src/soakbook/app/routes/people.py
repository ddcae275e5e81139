"""People, their devices and links; signing in and out; the reader's own view; how it decides, and cautions."""

from __future__ import annotations

import json
import threading
import time
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import Annotated, Any, cast
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from soakbook.app.desk import Unreadable
from soakbook.app.garden_names import told_apart
from soakbook.app.guard import host_of, loopback, own_path
from soakbook.app.pages import READER_COOKIE, SESSION_COOKIE, AnyPage, OwnPage, Page, house_of, problems
from soakbook.app.pairing import Gate, Wait, is_phrase, network_of, phrase_since
from soakbook.app.reader import CHOICES, Reader, chosen_from
from soakbook.app.serve import addresses
from soakbook.errors import InputError
from soakbook.said import say, say_n
from soakbook.store import Person, Store

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form()]
SESSION_S, VIEW_S = 90 * 86_400, 365 * 86_400
#: For so long after it is made, a link can be shown again; after that only its digest is known. [s]
FRESH_S, MOST_FRESH = 600.0, 50
NO_STORE = {"cache-control": "no-store"}
_lock = threading.Lock()
_fresh: dict[str, tuple[float, str]] = {}


# --- signing in ---------------------------------------------------------------------------------------------------
@router.get("/sign-in")
def sign_in_form(page: AnyPage, next: str = "/") -> Response:
    """Phrase, name, device."""
    return _sign_in_page(page, {"next": own_path(next), "device": _device_of(page.request)})


@router.post("/sign-in")
def sign_in(page: AnyPage, phrase: Text = "", name: Text = "", device: Text = "", next: Text = "/") -> Response:
    """Open a session for a device of somebody who knows the phrase."""
    typed = {"phrase": phrase[:200], "name": name, "device": device, "next": own_path(next)}
    sender = page.request.client.host if page.request.client else None
    found = gate_of(page.request).check(network_of(sender), lambda: is_phrase(page.store, phrase))
    if isinstance(found, Wait):
        return _wait_page(page, typed, found)
    if not found:
        wrong = InputError(
            say("That is not the pairing phrase."), code="sign_in.phrase", field="phrase",
            hint=say("It is four words; the one who started Soakbook has them."),
        )  # fmt: skip
        return _sign_in_page(page, typed, 422, wrong)
    try:
        person = person_named(page.store, name)
        token = page.store.open_session(person.id, " ".join(device.split())[:60])
    except InputError as error:
        return _sign_in_page(page, typed, 422, error)
    if page.viewer.session is not None:
        page.store.end_session(page.viewer.session.id)
    answer = page.go(typed["next"])
    answer.set_cookie(
        SESSION_COOKIE, token, max_age=SESSION_S, httponly=True, samesite="lax", secure=is_https(page.request)
    )
    return answer


def _wait_page(page: Page, typed: dict[str, str], wait: Wait) -> Response:
    minutes = -(-wait.seconds // 60)
    error = InputError(
        say_n(
            "Too many wrong phrases. Try again in {n} minute.",
            "Too many wrong phrases. Try again in {n} minutes.",
            minutes,
        ),
        code="sign_in.wait",
        field="phrase",
    )
    answer = _sign_in_page(page, typed, 429, error)
    answer.headers["retry-after"] = str(wait.seconds)
    return answer


def _sign_in_page(page: Page, typed: dict[str, str], status: int = 200, error: InputError | None = None) -> Response:
    answer = page.show(
        "sign_in.html", status, typed=typed, errors=problems(error) if error else {},
        is_open=phrase_since(page.store) is not None,
    )  # fmt: skip
    answer.headers.update(NO_STORE)
    return answer


def gate_of(request: Request) -> Gate:
    """The one counter of tries of this run, for pages and programs."""
    return house_of(request).gate


def person_named(store: Store, name: str) -> Person:
    """The person of a name, new if there is none; capitals and spaces too many do not matter."""
    plain = " ".join(name.split())
    with _lock:
        for person in store.people():
            if plain and person.name.casefold() == plain.casefold():
                return person
        return store.add_person(plain)


def _device_of(request: Request) -> str:
    return "phone" if "Mobi" in request.headers.get("user-agent", "") else "computer"


def is_https(request: Request) -> bool:
    return bool(request.app.state.house.settings.https) or request.url.scheme == "https"


@router.post("/sign-out")
def sign_out(page: AnyPage) -> Response:
    """End this device's session."""
    if page.viewer.session is not None:
        page.store.end_session(page.viewer.session.id)
    answer = page.go("/sign-in")
    answer.delete_cookie(SESSION_COOKIE, httponly=True, samesite="lax", secure=is_https(page.request))
    return answer


# --- people, devices, links ---------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Device:
    """A line of the list of devices."""

    id: str
    person: str
    device: str
    since: datetime
    seen: datetime
    is_this: bool


@dataclass(frozen=True)
class Opening:
    """A link that opens something: its garden, for whom, of which day, whether it is over; its address while that is known."""

    id: str
    garden: str
    kind: str
    name: str
    by: str
    on: date | None
    is_over: bool
    made: datetime
    address: str = ""
    qr: str = ""


@router.get("/people")
def people(page: OwnPage) -> Response:
    """Who is in, and who may look in."""
    return _people_page(page)


def _people_page(page: Page, status: int = 200, error: InputError | None = None, **typed: str) -> Response:
    answer = page.show(
        "people.html", status, devices=devices_of(page), openings=openings_of(page), gardens=page.store.gardens(), garden_names=told_apart(page.store.gardens()),
        typed={"name": page.viewer.name, "helper": "", "garden": "", **typed}, errors=problems(error) if error else {},
        is_open=_is_open(page), phrase_since=phrase_since(page.store),
    )  # fmt: skip
    answer.headers.update(NO_STORE)
    return answer


def _is_open(page: Page) -> bool:
    return page.house.settings.lan or bool(page.house.settings.hosts)


def devices_of(page: Page) -> list[Device]:
    names = {person.id: person.name for person in page.store.people()}
    this = page.viewer.session.id if page.viewer.session is not None else ""
    return [
        Device(
            s.id, names.get(s.person_id, ""), s.device, s.made_utc.astimezone(), s.seen_utc.astimezone(), s.id == this
        )
        for s in page.store.sessions()
    ]


def openings_of(page: Page) -> list[Opening]:
    found, names = [], told_apart(page.store.gardens())
    for row in page.store.gardens():
        today = _today_in(page, row.key)
        for link in page.store.links(row.key):
            address = _shown_again(page, link.id)
            is_over = None not in (link.on, today) and link.on != today
            found.append(
                Opening(link.id, names[row.key], link.kind, link.name, link.by, link.on, is_over, link.made_utc.astimezone(),
                        address, qr_svg(address) if address else "")
            )  # fmt: skip
    return found


def _today_in(page: Page, key: str) -> date | None:
    """The day it is in a garden; None in one that cannot be read, which must not close this page."""
    try:
        return page.desk.today(page.desk.known(key).garden)
    except Unreadable:
        return None


def qr_svg(address: str) -> str:
    """An address as a square to scan, drawn without style attributes."""
    import segno

    return segno.make(address, micro=False).svg_inline(omitsize=True, svgclass="qr", lineclass=None, border=4)


def address_base(page: Page) -> str:
    """How another device reaches the app: as this reader does or, for who sits at the machine itself, over the network."""
    host = page.request.headers.get("host", "")
    if _is_open(page) and (host_of(host) == "localhost" or loopback(host_of(host))):
        return addresses(page.house.settings)[0]
    return f"{'https' if is_https(page.request) else 'http'}://{host}"


def _keep_fresh(link_id: str, path: str) -> None:
    now = time.monotonic()
    with _lock:
        for key in [key for key, (at, _) in _fresh.items() if now - at > FRESH_S]:
            del _fresh[key]
        while len(_fresh) >= MOST_FRESH:
            del _fresh[next(iter(_fresh))]
        _fresh[link_id] = (now, path)


def _shown_again(page: Page, link_id: str) -> str:
    with _lock:
        at, path = _fresh.get(link_id, (0.0, ""))
    return address_base(page) + path if path and time.monotonic() - at <= FRESH_S else ""


@router.post("/people/name")
def rename(page: OwnPage, name: Text = "") -> Response:
    """What others read when one ticks something off."""
    try:
        page.store.rename_person(page.viewer.person.id if page.viewer.person else "owner", " ".join(name.split()))
    except InputError as error:
        return _people_page(page, 422, error, name=name)
    return page.go("/people")


@router.post("/people/end")
def end_device(page: OwnPage, id: Text = "") -> Response:
    """Sign a device out from afar."""
    page.store.end_session(id)
    return page.go("/people")


@router.post("/people/end-others")
def end_others(page: OwnPage) -> Response:
    """Sign all other devices out."""
    page.store.end_all_sessions(page.viewer.session.id if page.viewer.session is not None else None)
    return page.go("/people")


@router.post("/people/links")
def make_link(page: OwnPage, garden: Text = "", kind: Text = "round", helper: Text = "") -> Response:
    """A link for a helper, or for a calendar."""
    try:
        link_id = linked(page, garden, kind, helper)
    except InputError as error:
        return _people_page(page, 422, _at(error, "name", "helper"), helper=helper, garden=garden)
    answer = page.go("/people")
    answer.headers["location"] += "#link-" + link_id
    return answer


def linked(page: Page, garden: str, kind: str, helper: str) -> str:
    """Make a link and keep its address for a while; its id."""
    known = page.desk.known(garden)
    if kind == "round":
        if not helper.strip():
            raise InputError(
                say("Whom is it for?"),
                code="link.name",
                field="helper",
                hint=say("Others read this name in the log."),
            )
        on = page.desk.today(known.garden)
        token = page.store.make_link(garden, "round", on, by=page.viewer.name, name=helper)
        path = f"/helper/{token}/"
    else:
        token = page.store.make_link(garden, "calendar", None, by=page.viewer.name, name=page.viewer.name)
        path = f"/calendar/{token}.ics?lang={page.reader.language}&units={page.reader.units}"
    link = page.store.link(token)
    assert link is not None
    _keep_fresh(link.id, path)
    return link.id


def _at(error: InputError, field: str, ours: str) -> InputError:
    """An error of the store's field, at the form's."""
    name = ours if error.field == field else error.field
    return InputError(error.message, code=error.code, field=name, hint=error.hint)


@router.post("/people/links/end")
def end_link(page: OwnPage, id: Text = "") -> Response:
    """It opens nothing any more."""
    closed(page, id)
    return page.go("/people")


def closed(page: Page, link_id: str) -> None:
    """End a link and forget its address."""
    page.store.end_link(link_id)
    with _lock:
        _fresh.pop(link_id, None)


# --- the reader's own view ----------------------------------------------------------------------------------------
@router.get("/you")
def your_view(page: AnyPage, next: str = "/") -> Response:
    """Language, measures, clock, dates, decimal sign, colours."""
    return page.show("you.html", chosen=chosen_by(page), example=partial(_example, page.reader), next=own_path(next))


@router.post("/you")
def keep_view(
    page: AnyPage,
    language: Text = "",
    units: Text = "",
    clock: Text = "",
    dates: Text = "",
    decimal: Text = "",
    theme: Text = "",
    next: Text = "/",
) -> Response:
    """Keep it with the person, if there is one, and in this browser."""
    given = {"language": language, "units": units, "clock": clock, "dates": dates, "decimal": decimal, "theme": theme}
    view = {name: value for name, value in given.items() if value in CHOICES[name]}
    if page.viewer.person is not None:
        others = {name: value for name, value in page.viewer.person.prefs.items() if name not in CHOICES}
        page.store.set_prefs(page.viewer.person.id, {**others, **view})
    answer = page.go(own_path(next))
    answer.set_cookie(
        READER_COOKIE, quote(json.dumps(view)), max_age=VIEW_S, samesite="lax", secure=is_https(page.request)
    )
    return answer


def chosen_by(page: Page) -> dict[str, str]:
    """What the reader has chosen so far; empty where it goes by browser and garden."""
    kept = page.viewer.person.prefs if page.viewer.person is not None else {}
    kept = kept or chosen_from(page.request.cookies.get(READER_COOKIE))
    return {name: kept[name] if kept.get(name) in allowed else "" for name, allowed in CHOICES.items()}


def _example(reader: Reader, name: str, value: str) -> str:
    """How something is written with one choice made."""
    r = replace(reader, **cast(Any, {name: value}))
    if name == "units":
        return r.t(
            "{water} on {bed}, {rain} of rain",
            water=r.amount(12.0),
            bed=r.quantity(3.0, "area"),
            rain=r.quantity(8.0, "depth"),
        )
    if name == "clock":
        return r.time(datetime(2017, 7, 8, 18, 40))
    if name == "dates":
        return f"{r.day(date(2017, 7, 8))}; {r.day(date(2017, 7, 8), 'numeric')}"
    return r.number(6.5, 1)


# --- about --------------------------------------------------------------------------------------------------------
@router.get("/about")
def about(page: AnyPage) -> Response:
    """How it decides, where its figures come from, and what to take care of."""
    from soakbook import __version__
    from soakbook.advice.round import ALWAYS
    from soakbook.catalog.read import sources

    listed = sorted(sources().values(), key=lambda s: (s.authors.casefold(), s.year or 0, s.title))
    return page.show("about.html", version=__version__, sources=listed, always=ALWAYS)
