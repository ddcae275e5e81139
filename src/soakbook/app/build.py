"""The app put together: guard, pages, JSON interface, and what happens when something goes wrong."""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import Receive, Scope, Send

from soakbook.app.changing import what_words
from soakbook.app.desk import Desk, Unreadable
from soakbook.app.guard import HEADERS, SAFE_METHODS, Guard, TooLong, own_names
from soakbook.app.pages import House, Page, SignInFirst, Viewer, get_page, house_of, reader_of
from soakbook.app.settings import Settings
from soakbook.errors import InputErrors, SoakbookError, SourceDown
from soakbook.said import say
from soakbook.store import Store, open_store

log = logging.getLogger("soakbook.app")
#: Modules of :mod:`soakbook.app.routes`, each with a ``router``: those that the first page may need, the other pages, and the
#: JSON interface. What comes later is loaded when it is first asked for, or behind the first page.
FIRST = ("files", "front", "ask", "round")
PAGES = (
    "place", "wishes", "setup", "log", "weather", "season", "away", "timer", "lines", "paper", "people", "catalogue", "weather_file", "lay", "pipes", "cups", "drip",
)  # fmt: skip
API = ("api",)
#: Errors of what an address names and is not there, and of what somebody else has changed meanwhile.
_NOT_HERE = frozenset(
    ("garden.unknown", "place.unknown", "log.unknown", "photo.unknown", "link.unknown", "season.unknown", "version.unknown",
     "garden.version", "setup.unknown", "person.unknown")
)  # fmt: skip
_CLASHES = frozenset(("log.id.twice", "garden.changed", "entry.done", "log.removed"))
_MOST_TOLD = 50


def build_app(settings: Settings, store: Store | None = None) -> FastAPI:
    """The app over a folder's database, which is made when it is not there."""
    store = store or open_store(settings.folder)
    names = own_names(settings.lan, settings.hosts)
    house = House(settings, store, Desk(store, settings.today, settings.fetch_in_background), names)
    api = Later(lambda: _part(house, API, "/api/openapi.json", None))
    pages = Later(lambda: _part(house, PAGES, None, api))
    app = _part(house, FIRST, None, pages)
    app.state.later = pages
    app.add_middleware(GZipMiddleware, minimum_size=600, compresslevel=6)
    app.add_middleware(Guard, names=names)
    return app


def _part(house: House, names: Sequence[str], openapi_url: str | None, otherwise: Later | None) -> FastAPI:
    """Some of the routes, with what happens when something goes wrong; ``otherwise`` is asked for what is not among them."""
    part = FastAPI(title="Soakbook", version="1", docs_url=None, redoc_url=None, openapi_url=openapi_url)
    part.state.house = house
    for name in names:
        # the routes as they are: to include them would work each one out a second time
        part.router.routes.extend(import_module(f"soakbook.app.routes.{name}").router.routes)
    if otherwise is not None:
        part.router.default = otherwise
    part.add_exception_handler(SignInFirst, _sign_in)
    part.add_exception_handler(SoakbookError, _our_error)
    part.add_exception_handler(RequestValidationError, _bad_request)
    part.add_exception_handler(HTTPException, _http_error)
    part.add_exception_handler(TooLong, _too_long)
    part.add_exception_handler(Exception, _our_bug)
    return part


class Later:
    """A part of the app that is put together when it is first asked for, so that the first page need not wait for it."""

    def __init__(self, make: Callable[[], FastAPI]) -> None:
        self._make = make
        self._part: FastAPI | None = None
        self._making = threading.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        part = await run_in_threadpool(self.load) if self._part is None else self._part
        await part(scope, receive, send)

    def load(self) -> FastAPI:
        """The part, put together now unless it is."""
        with self._making:
            if self._part is None:
                self._part = self._make()
            return self._part


def is_api(request: Request) -> bool:
    """Whether a program or script asks rather than a reader."""
    accept = request.headers.get("accept", "")
    return request.url.path.startswith("/api/") or ("application/json" in accept and "text/html" not in accept)


def _answer(request: Request, status: int, error: dict[str, Any]) -> Response:
    """An error in its one shape for programs, as a page for readers."""
    if is_api(request):  # half characters, which a message may quote, cannot be sent as they are
        return Response(json.dumps(error), status, media_type="application/json")
    return get_page(request).show("error.html", status, error=error)


def _sign_in(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, SignInFirst)
    if is_api(request):
        return JSONResponse({"code": "sign_in", "message": "Sign in first.", "field": "", "hint": ""}, 401)
    return RedirectResponse("/sign-in?" + urlencode({"next": exc.path}), 303)


def _our_error(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, SoakbookError)
    reader = get_page(request).reader
    every = exc.errors if isinstance(exc, InputErrors) else [exc]
    told = [
        {"code": e.code, "message": reader.tell(e.message), "field": e.field, "hint": reader.tell(e.hint)}
        for e in every
    ]
    if isinstance(exc, Unreadable):
        return _unreadable(request, exc, told)
    return _answer(
        request, _status(every[0], request.method in SAFE_METHODS) if len(every) == 1 else 422, _one_or_several(told)
    )


def _unreadable(request: Request, error: Unreadable, told: list[dict[str, str]]) -> Response:
    """What is wrong with a garden that was kept, and the ways out: its files, and its earlier versions."""
    page = get_page(request)
    if is_api(request) or not page.viewer.may_all:
        return _answer(request, 422, _one_or_several(told))
    return page.show(
        "unreadable.html", 422, row=page.store.garden(error.key), told=told, versions=page.store.versions(error.key),
        what_words=what_words,
    )  # fmt: skip


def _status(error: SoakbookError, is_asked: bool) -> int:
    """The status of an error; of a change that is asked for, what its entries name belongs to what was given."""
    if isinstance(error, SourceDown):
        return 503
    if error.code in _CLASHES:
        return 409
    return 404 if error.code in _NOT_HERE or (is_asked and error.code.endswith(".unknown")) else 422


def _one_or_several(told: list[dict[str, str]]) -> dict[str, Any]:
    if len(told) == 1:
        return dict(told[0])
    message = "\n".join(one["message"] for one in told)
    return {"code": "several", "message": message, "field": "", "hint": "", "errors": told}


def _bad_request(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, RequestValidationError)
    told = [
        {"code": "request.form", "message": str(error["msg"]), "field": _field_of(error["loc"]), "hint": ""}
        for error in exc.errors()[:_MOST_TOLD]
    ]
    return _answer(request, 422, _one_or_several(told))


def _field_of(place: tuple[int | str, ...]) -> str:
    """Where an entry of a request stands: lists are counted from 1, as in the garden file."""
    if place[0] == "body" and place[1:2] and isinstance(place[1], int):
        return ""  # where in the text JSON ends to be JSON
    return ".".join(str(part + 1 if isinstance(part, int) else part) for part in place[1:])


def _http_error(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, HTTPException)
    code = {404: "page.unknown", 405: "page.method", 415: "request.type"}.get(exc.status_code, "page.error")
    text = get_page(request).reader.tell(say("There is no such page.")) if exc.status_code == 404 else exc.detail
    answer = _answer(request, exc.status_code, {"code": code, "message": text, "field": "", "hint": ""})
    answer.headers.update(exc.headers or {})
    return answer


def _too_long(request: Request, exc: Exception) -> Response:
    text = get_page(request).reader.tell(say("That is too much to be sent at once."))
    return _answer(request, 413, {"code": "guard.too_long", "message": text, "field": "", "hint": ""})


def _our_bug(request: Request, exc: Exception) -> Response:
    """Written down with its trace, told in plain words, without the database: that may be what is broken."""
    log.error("our bug at %s %s", request.method, getattr(request.scope.get("route"), "path", "?"), exc_info=exc)
    reader = reader_of(request, Viewer("nobody"))
    said = {
        "code": "bug",
        "message": reader.tell(say("Something went wrong on our side. What you entered before is safe.")),
        "field": "",
        "hint": "",
    }
    if is_api(request):
        answer: Response = JSONResponse(said, 500)
    else:
        answer = Page(request, house_of(request), Viewer("nobody"), reader).show("error.html", 500, error=said)
    answer.headers.update({name.decode(): value.decode() for name, value in HEADERS})  # the guard stands further in
    return answer
