"""What every page has at hand, and how it is written out."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, cast
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from soakbook.app.desk import Desk, Known
from soakbook.app.pairing import Gate
from soakbook.app.reader import Reader, chosen_from, reader_for
from soakbook.app.settings import Settings
from soakbook.errors import InputError, InputErrors, SoakbookError
from soakbook.said import say
from soakbook.store import Link, Person, Session, Store

HERE = Path(__file__).parent
READER_COOKIE = "soakbook_reader"
SESSION_COOKIE = "soakbook_session"
#: A month: what waited longer on a device is looked at by a person first.
MOST_WAITED_S = 31 * 86_400


@dataclass(frozen=True)
class House:
    """What one run of the app consists of; on ``request.app.state.house``."""

    settings: Settings
    store: Store
    desk: Desk
    names: frozenset[str]
    gate: Gate = field(default_factory=Gate)


@dataclass(frozen=True)
class Viewer:
    """Who asks: the machine's own user, someone signed in, a helper with a link, or nobody known."""

    kind: Literal["owner", "person", "helper", "nobody"]
    name: str = ""
    person: Person | None = None
    session: Session | None = None
    link: Link | None = None

    @property
    def may_all(self) -> bool:
        """Whether the whole app is open to them."""
        return self.kind in ("owner", "person")


@dataclass(frozen=True)
class Page:
    """A request with everything needed to answer it with a page."""

    request: Request
    house: House
    viewer: Viewer
    reader: Reader

    @property
    def store(self) -> Store:
        return self.house.store

    @property
    def desk(self) -> Desk:
        return self.house.desk

    def read_for(self, known: Known) -> Page:
        """The same with the garden's measures where the reader has chosen none."""
        reader = reader_of(self.request, self.viewer, known.garden.units)
        return Page(self.request, self.house, self.viewer, reader)

    def show(self, template: str, status: int = 200, **context: Any) -> HTMLResponse:
        """A page written out."""
        known: Known | None = context.get("known")
        page = self.read_for(known) if known is not None else self
        made = datetime.now(UTC)
        text = templates().get_template(template).render(
            page=page, viewer=page.viewer, r=page.reader, t=page.reader.t, tn=page.reader.tn, tell=page.reader.tell,
            made_utc=made.isoformat(timespec="seconds"), made_local=_made_words(page.reader, made, known),
            here=self.request.url.path, **context,
        )  # fmt: skip
        return HTMLResponse(text, status)

    @property
    def waited(self) -> timedelta | None:
        """How long what is sent has waited on a device without signal; None when it comes at once."""
        text = self.request.query_params.get("waited")
        if text is None:
            return None
        if not (re.fullmatch("[0-9]{1,9}", text) and int(text) <= MOST_WAITED_S):
            raise InputError(
                say("this waited too long on a device to be taken as it is."), code="entry.waited", field="waited"
            )
        return timedelta(seconds=int(text))

    def moment(self, known: Known) -> datetime:
        """When what is sent was written down, by the garden's clock."""
        now = self.desk.now(known.garden)  # by the clock's hands an hour is missing, or twice there, when clocks change
        return (now.astimezone(UTC) - (self.waited or timedelta(0))).astimezone(now.tzinfo)

    def go(self, path: str, **query: str) -> RedirectResponse:
        """On to another page after a form."""
        return RedirectResponse(path + ("?" + urlencode(query) if query else ""), 303)


def house_of(request: Request) -> House:
    """The run's store, desk and settings."""
    return cast(House, request.app.state.house)


def reader_of(request: Request, viewer: Viewer, units: Any = None) -> Reader:
    """Choices of the person, else those this browser keeps, else what its languages and the garden suggest."""
    chosen = viewer.person.prefs if viewer.person is not None and viewer.person.prefs else None
    if not chosen:
        chosen = chosen_from(request.cookies.get(READER_COOKIE))
    return reader_for(chosen, request.headers.get("accept-language", ""), units)


def get_page(request: Request) -> Page:
    """For pages open to everyone."""
    from soakbook.app.who import viewer_of

    house = house_of(request)
    viewer = viewer_of(request, house)
    return Page(request, house, viewer, reader_of(request, viewer))


def get_own_page(request: Request) -> Page:
    """For pages of the machine's own user and those signed in; others are asked to sign in."""
    page = get_page(request)
    if not page.viewer.may_all:
        raise SignInFirst(request.url.path if request.method in ("GET", "HEAD") else "/")
    return page


AnyPage = Annotated[Page, Depends(get_page)]
OwnPage = Annotated[Page, Depends(get_own_page)]


class SignInFirst(Exception):
    """Someone unknown asked for a page that is not open to all; they are sent to sign in and back."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        self.path = path


def problems(error: SoakbookError) -> dict[str, list[SoakbookError]]:
    """Errors by field, for the messages beside a form's fields; ``""`` has those that belong to none."""
    found: dict[str, list[SoakbookError]] = {}
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        found.setdefault(one.field, []).append(one)
    return found


def _made_words(reader: Reader, made: datetime, known: Known | None) -> str:
    """When a page was made, as the clock in the garden (else of the machine) had it."""
    local = made.astimezone(ZoneInfo(known.garden.time_zone) if known is not None else None)
    return f"{reader.day(local.date())} {reader.time(local)}"


@cache
def templates() -> Environment:
    """The page patterns. Everything put in is escaped; a name that is not there is an error."""
    env = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=select_autoescape(("html", "svg", "xml")),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    env.globals.update(static=static_url, quote=quote, languages=_languages())
    return env


def _languages() -> dict[str, str]:
    from soakbook.app.reader import LANGUAGES

    return LANGUAGES


@cache
def static_digest() -> str:
    """Changes with any file of ours, so that one address holds scripts that belong together."""
    import hashlib

    digest = hashlib.sha256()
    for path in sorted((HERE / "static").rglob("*")):
        if path.is_file():
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:10]


def static_url(name: str) -> str:
    """Address of a file of ours that may be kept for ever."""
    return f"/static/{static_digest()}/{name}"
