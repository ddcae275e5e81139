"""The app put together: guard, pages, JSON interface, and what happens when something goes wrong."""

from __future__ import annotations

import logging
from importlib import import_module
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from soakbook.app.desk import Desk
from soakbook.app.guard import HEADERS, Guard, TooLong, own_names
from soakbook.app.pages import House, Page, SignInFirst, Viewer, get_page, house_of, reader_of
from soakbook.app.settings import Settings
from soakbook.errors import SoakbookError, SourceDown
from soakbook.said import say
from soakbook.store import Store, open_store

log = logging.getLogger("soakbook.app")
#: Modules of :mod:`soakbook.app.routes`, each with a ``router``.
ROUTES = ("files", "front", "ask", "round", "place", "setup", "log", "weather", "season", "paper", "people", "api")


def build_app(settings: Settings, store: Store | None = None) -> FastAPI:
    """The app over a folder's database, which is made when it is not there."""
    store = store or open_store(settings.folder)
    app = FastAPI(title="Soakbook", version="1", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json")
    names = own_names(settings.lan, settings.hosts)
    app.state.house = House(settings, store, Desk(store, settings.today, settings.fetch_in_background), names)
    for name in ROUTES:
        app.include_router(import_module(f"soakbook.app.routes.{name}").router)
    app.add_middleware(GZipMiddleware, minimum_size=600, compresslevel=6)
    app.add_middleware(Guard, names=names)
    app.add_exception_handler(SignInFirst, _sign_in)
    app.add_exception_handler(SoakbookError, _our_error)
    app.add_exception_handler(RequestValidationError, _bad_request)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(TooLong, _too_long)
    app.add_exception_handler(Exception, _our_bug)
    return app


def is_api(request: Request) -> bool:
    """Whether a program or script asks rather than a reader."""
    accept = request.headers.get("accept", "")
    return request.url.path.startswith("/api/") or ("application/json" in accept and "text/html" not in accept)


def _answer(request: Request, status: int, error: dict[str, str]) -> Response:
    """An error in its one shape for programs, as a page for readers."""
    if is_api(request):
        return JSONResponse(error, status)
    return get_page(request).show("error.html", status, error=error)


def _sign_in(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, SignInFirst)
    if is_api(request):
        return JSONResponse({"code": "sign_in", "message": "Sign in first.", "field": "", "hint": ""}, 401)
    return RedirectResponse("/sign-in?" + urlencode({"next": exc.path}), 303)


def _our_error(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, SoakbookError)
    reader = get_page(request).reader
    status = 503 if isinstance(exc, SourceDown) else 404 if exc.code.endswith(".unknown") else 422
    if exc.code == "log.id.twice":
        status = 409
    told = {"code": exc.code, "message": reader.tell(exc.message), "field": exc.field, "hint": reader.tell(exc.hint)}
    return _answer(request, status, told)


def _bad_request(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, RequestValidationError)
    first = exc.errors()[0]
    field = ".".join(str(part) for part in first["loc"][1:])
    said = {"code": "request.form", "message": str(first["msg"]), "field": field, "hint": ""}
    return _answer(request, 422, said)


def _http_error(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, HTTPException)
    code = {404: "page.unknown", 405: "page.method"}.get(exc.status_code, "page.error")
    text = get_page(request).reader.tell(say("There is no such page.")) if exc.status_code == 404 else exc.detail
    return _answer(request, exc.status_code, {"code": code, "message": text, "field": "", "hint": ""})


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
