"""Who may open what: every address of the app, asked by somebody unknown on the home network and with a helper's link."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from starlette.testclient import TestClient

from soakbook.app.bring import bring_demo, bring_garden
from soakbook.app.build import API, FIRST, PAGES, build_app
from soakbook.app.pages import SESSION_COOKIE
from soakbook.app.settings import Settings
from soakbook.demo import DAY
from soakbook.store import NewEntry, Store
from tests.unit.app.kept_garden import ODD

#: All that is open without signing in: the first answer, the catalogue, how one reads, the app's own files, signing in.
OPEN = {
    "/", "/healthy", "/offline", "/sw.js", "/manifest.webmanifest", "/static/{digest}/{name:path}", "/about", "/you", "/sign-in",
    "/sign-out", "/ask", "/ask/towns", "/ask/plants", "/ask/keep", "/lay", "/pipes", "/cups", "/drip", "/plants", "/plants/{name}", "/soils", "/soils/find",
    "/soils/{kind}/{name}", "/api/openapi.json", "/api/v1/about", "/api/v1/you", "/api/v1/you/view", "/api/v1/ask", "/api/v1/catalogue/plants",
    "/api/v1/catalogue/plants/{name}", "/api/v1/catalogue/soils", "/api/v1/catalogue/soil", "/api/v1/catalogue/mulches", "/api/v1/catalogue/means",
    "/api/v1/catalogue/towns",
}  # fmt: skip
#: And with what stands in the address.
BY_LINK = re.compile(r"/(helper|calendar)/\{token\}")
#: What a helper's link opens: the round of today.
HELPER = {
    ("GET", ""),
    ("GET", "stamp"),
    ("GET", "take-away/file"),
    ("POST", "done"),
    ("POST", "felt"),
    ("POST", "undo"),
}


@dataclass(frozen=True)
class App:
    app: FastAPI
    store: Store
    key: str
    other: str

    def device(self, **headers: str) -> TestClient:
        """A browser on the home network that nobody signed in."""
        return TestClient(
            self.app, base_url="http://garden.example:8765", client=("192.168.1.66", 40000), follow_redirects=False,
            headers=headers,
        )  # fmt: skip

    def filled(self, path: str) -> str:
        """An address with ids of things that are there."""
        names = {
            "key": self.key, "place_id": self.store.document(self.key)["places"][0]["id"],
            "entry_id": self.store.entries(self.key)[0].id, "token": "x" * 43, "number": "1", "index": "0",
        }  # fmt: skip
        return re.sub(r"\{(\w+)(:\w+)?\}", lambda found: names.get(found[1], "x"), path)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    made = build_app(
        Settings(tmp_path_factory.mktemp("app"), lan=True, hosts=("garden.example",), today=DAY, demo=True)
    )
    house = made.state.house
    yield App(made, house.store, bring_demo(house.desk).key, bring_garden(house.desk, ODD).key)
    house.store.close()


def every_address(app: FastAPI) -> list[tuple[str, str]]:
    """Method and pattern of each route, those of the JSON interface among them."""
    modules = [import_module(f"soakbook.app.routes.{name}") for name in (*FIRST, *PAGES, *API)]
    routes = iter_route_contexts([route for module in modules for route in module.router.routes])
    found = {(method, str(route.path)) for route in routes for method in route.methods or ()}
    assert len(found) > 150
    return sorted((method, path) for method, path in {*found, ("GET", "/api/openapi.json")} if method != "HEAD")


def state_of(store: Store, folder: Path) -> tuple[object, ...]:
    """All that a request could have changed."""
    keys = [row.key for row in store.gardens()]
    return (
        store.gardens(), store.gardens(removed=True), store.people(), store.sessions(), [store.links(key) for key in keys],
        sorted(str(path) for path in folder.rglob("*") if "soakbook.db" not in path.name), store.setting("pairing_phrase"),
    )  # fmt: skip


def test_somebody_unknown_is_asked_to_sign_in_everywhere(app: App) -> None:
    before = state_of(app.store, app.store.folder)
    page, program = app.device(accept="text/html"), app.device(accept="application/json")
    stranger = app.device(cookie=f"{SESSION_COOKIE}={'x' * 43}", accept="text/html")
    wrong = []
    for method, path in every_address(app.app):
        if path in OPEN or BY_LINK.match(path) or (method, path) == ("POST", "/api/v1/sessions"):
            continue
        where = app.filled(path)
        answers = [device.request(method, where) for device in (page, program, stranger)]
        signs = [a.status_code == 401 or a.headers.get("location", "").startswith("/sign-in?") for a in answers]
        if not all(signs):
            wrong.append((method, path, [a.status_code for a in answers]))
    assert not wrong
    assert state_of(app.store, app.store.folder) == before


def test_what_is_open_says_nothing_of_any_garden(app: App) -> None:
    page = app.device(accept="text/html")
    name = app.store.garden(app.key).name
    places = [place["name"] for place in app.store.document(app.key)["places"]]
    for method, path in every_address(app.app):
        if method != "GET" or path not in OPEN:
            continue
        answer = page.get(app.filled(path))
        assert answer.status_code < 500, path
        assert not [word for word in (name, app.key, *places) if word in answer.text], path


@pytest.mark.parametrize("path", sorted(OPEN))
def test_the_short_list_has_nothing_that_is_not_there(app: App, path: str) -> None:
    assert path in {known for _, known in every_address(app.app)}


def test_a_link_that_is_none_opens_nothing(app: App) -> None:
    page = app.device(accept="text/html")
    place = app.store.document(app.key)["places"][0]["id"]
    for method, path in every_address(app.app):
        if BY_LINK.match(path):
            answer = page.request(
                method, app.filled(path), data={"place": place, "id": "x"} if method == "POST" else None
            )
            assert answer.status_code in (404, 422), (method, path, answer.status_code)


def test_a_helpers_link_opens_todays_round_of_its_garden_alone(app: App) -> None:
    token = app.store.make_link(app.key, "round", DAY, by="Ines", name="Sam")
    helper = app.device(accept="text/html")
    listed = {(m, path.removeprefix("/helper/{token}/")) for m, path in every_address(app.app) if "/helper/" in path}
    assert listed == HELPER
    page = helper.get(f"/helper/{token}/")
    assert page.status_code == 200
    links = set(re.findall(r'(?:href|action)="(/[^"#?]*)', page.text))
    for link in links - {"/static/"}:
        if link.startswith(("/g/", "/people", "/gardens", "/weather-file")):
            assert helper.get(link).headers["location"].startswith("/sign-in?"), link
    for wrong in (f"/g/{token}/", f"/calendar/{token}.ics"):
        assert helper.get(wrong).status_code in (303, 404)
    other = app.store.document(app.other)["places"][0]["id"]
    for what, form in (("done", {"number": "5", "unit": "L"}), ("felt", {"feel": "dry"})):
        assert helper.post(f"/helper/{token}/{what}", data={"place": other, **form}).status_code in (404, 422)
    calendar = app.store.make_link(app.key, "calendar", None, by="Ines", name="Ines")
    assert helper.get(f"/helper/{calendar}/").status_code == 404


def test_a_helper_takes_back_only_what_the_link_wrote_today(app: App) -> None:
    token = app.store.make_link(app.key, "round", DAY, by="Ines", name="Sam")
    helper = app.device(accept="text/html")
    place = app.store.document(app.key)["places"][0]["id"]
    app.store.put(app.key, NewEntry("of-ines", f"{DAY}T06:00", "water", place, "3 L"), by="Ines")
    app.store.put(app.key, NewEntry("of-sam-before", "2017-07-07T06:00", "water", place, "3 L"), by="Sam")
    app.store.put(app.other, NewEntry("of-sam-elsewhere", f"{DAY}T06:00", "rain", "", "3 mm"), by="Sam")
    for entry in ("of-ines", "of-sam-before", "of-sam-elsewhere"):
        assert helper.post(f"/helper/{token}/undo", data={"id": entry}).status_code in (404, 422)
    assert not any(e.removed for key in (app.key, app.other) for e in app.store.entries(key, removed=True))
    assert helper.post(f"/helper/{token}/done", data={"place": place, "number": "3", "unit": "L", "id": "own", "anyway": "yes"}).status_code == 303  # fmt: skip
    assert helper.post(f"/helper/{token}/undo", data={"id": "own"}).status_code == 303
    assert app.store.entry(app.key, "own").removed
