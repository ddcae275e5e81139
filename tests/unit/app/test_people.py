"""Signing in and out, people, devices, links, the reader's view, and what is said about the program."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import unquote

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from soakbook.app import pairing
from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.pages import House, Viewer
from soakbook.app.pairing import Gate, Wait, is_phrase, keep_new_phrase, network_of, new_phrase, phrase_since, words
from soakbook.app.routes.people import qr_svg
from soakbook.app.settings import Settings
from soakbook.app.who import helper_of
from soakbook.demo import DAY
from soakbook.errors import InputError
from soakbook.store import Store, open_store

LAN = "http://garden.example:8765"


@dataclass
class App:
    app: FastAPI
    store: Store
    key: str
    phrase: str

    @property
    def house(self) -> House:
        house: House = self.app.state.house
        return house

    def device(self, address: str = "192.168.1.20", base: str = LAN, **headers: str) -> TestClient:
        """A browser on the home network."""
        return TestClient(
            self.app, base_url=base, client=(address, 40000), follow_redirects=False, headers=headers,
            raise_server_exceptions=False,
        )  # fmt: skip

    @property
    def machine(self) -> TestClient:
        """A browser on the machine itself."""
        return self.device("127.0.0.1", "http://localhost:8765")

    def signed_in(self, name: str = "Ines", address: str = "192.168.1.20") -> TestClient:
        device = self.device(address)
        answer = device.post("/sign-in", data={"phrase": self.phrase, "name": name, "device": "phone"})
        assert answer.status_code == 303, answer.text
        return device


@pytest.fixture(scope="module", autouse=True)
def light_hashes() -> Iterator[None]:
    """Hashes that cost little, so that many can be tried."""
    from argon2 import PasswordHasher

    light = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    was, pairing._hasher = pairing._hasher, lambda: light  # type: ignore[assignment]
    pairing._of_nothing.cache_clear()
    yield
    pairing._hasher = was
    pairing._of_nothing.cache_clear()


@pytest.fixture
def app(tmp_path: Path) -> Iterator[App]:
    made = build_app(Settings(tmp_path, lan=True, hosts=("garden.example",), today=DAY, demo=True))
    house: House = made.state.house
    key = bring_demo(house.desk).key
    yield App(made, house.store, key, keep_new_phrase(house.store))
    house.store.close()


# --- the phrase ---------------------------------------------------------------------------------------------------
def test_the_words_are_many_short_and_different() -> None:
    listed = words()
    assert len(listed) >= 1024
    assert len(set(listed)) == len(listed)
    assert list(listed) == sorted(listed)
    assert all(re.fullmatch(r"[a-z]{3,9}", word) for word in listed)
    assert [word for word in listed if word + "s" in set(listed)] == []


def test_a_phrase_is_one_of_2_to_the_40() -> None:
    n = len(words())
    assert n * (n - 1) * (n - 2) * (n - 3) >= 2**40
    drawn = {new_phrase() for _ in range(200)}
    assert len(drawn) == 200
    assert all(len(set(phrase.split())) == 4 for phrase in drawn)


def test_only_a_hash_is_kept(app: App) -> None:
    kept = app.store.setting("pairing_phrase")
    assert kept is not None
    assert "$argon2id$" in kept
    for file in app.store.folder.rglob("*"):
        if file.is_file():
            assert app.phrase.encode() not in file.read_bytes()


def test_a_phrase_may_be_typed_as_phones_do(app: App) -> None:
    a, b, c, d = app.phrase.split()
    for typed in (app.phrase.upper(), f"  {a.title()}-{b} {c},  {d}. ", f"{a}\u00a0{b}\n{c}\t{d}"):
        assert is_phrase(app.store, typed)
    for typed in (f"{a} {b} {c}", f"{b} {a} {c} {d}", "", f"{app.phrase} {a}", f"{a}{b}{c}{d}", "x" * 100_000):
        assert not is_phrase(app.store, typed)


def test_a_new_phrase_ends_the_old_one(app: App) -> None:
    since = phrase_since(app.store)
    assert since is not None
    fresh = keep_new_phrase(app.store, since + timedelta(days=3))
    assert not is_phrase(app.store, app.phrase)
    assert is_phrase(app.store, fresh)
    assert phrase_since(app.store) == since + timedelta(days=3)


def test_without_a_phrase_nothing_opens_and_it_takes_as_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    checked: list[str] = []
    hasher = pairing._hasher()
    spy = SimpleNamespace(hash=hasher.hash, verify=lambda h, p: (checked.append(h), hasher.verify(h, p))[1])
    monkeypatch.setattr(pairing, "_hasher", lambda: spy)
    with open_store(tmp_path) as store:
        assert not is_phrase(store, "")
        assert not is_phrase(store, "oak elm ash fir")
    assert len(checked) == 2


# --- how often one may guess --------------------------------------------------------------------------------------
class Clock:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_five_wrong_from_one_address_then_wait_a_quarter_of_an_hour() -> None:
    clock = Clock()
    gate = Gate(clock)
    for _ in range(5):
        assert gate.check("a", lambda: False) is False
        clock.now += 60
    asked: list[int] = []
    found = gate.check("a", lambda: bool(asked.append(1)) or True)
    assert found == Wait(601)
    assert asked == []
    assert gate.check("b", lambda: True) is True
    clock.now += 601
    assert gate.check("a", lambda: False) is False


def test_many_addresses_have_to_wait_together() -> None:
    gate = Gate(Clock())
    for n in range(pairing.MOST_FROM_ALL):
        assert gate.check(f"10.0.0.{n}", lambda: False) is False
    assert isinstance(gate.check("10.0.1.1", lambda: True), Wait)


def test_the_right_phrase_forgets_wrong_tries() -> None:
    gate = Gate(Clock())
    for _ in range(4):
        gate.check("a", lambda: False)
    assert gate.check("a", lambda: True) is True
    assert [gate.check("a", lambda: False) for _ in range(5)] == [False] * 5


def test_at_most_two_checks_run_at_once_and_tries_count_while_they_run() -> None:
    gate, running, most = Gate(), 0, 0
    lock, hold = threading.Lock(), threading.Event()

    def slow() -> bool:
        nonlocal running, most
        with lock:
            running += 1
            most = max(most, running)
        hold.wait(0.2)
        with lock:
            running -= 1
        return False

    found: list[Any] = []
    threads = [threading.Thread(target=lambda: found.append(gate.check("a", slow))) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == 2
    assert found.count(False) == 5
    assert sum(isinstance(one, Wait) for one in found) == 7


def test_an_error_while_checking_leaves_the_turn_free() -> None:
    gate = Gate()

    def broken() -> bool:
        raise OSError("disk")

    for _ in range(3):
        with pytest.raises(OSError, match="disk"):
            gate.check("a", broken)
    assert gate.check("a", lambda: True) is True


def test_long_addresses_count_by_their_network() -> None:
    assert network_of("fd00:1:2:3:aaaa::1") == network_of("fd00:1:2:3:bbbb::2") != network_of("fd00:1:2:4::1")
    assert network_of("::ffff:10.0.0.1") == "10.0.0.1"
    assert network_of("10.0.0.1") != network_of("10.0.0.2")


# --- signing in ---------------------------------------------------------------------------------------------------
def test_who_is_unknown_is_asked_to_sign_in_and_comes_back(app: App) -> None:
    device = app.device()
    asked = device.get("/people")
    assert (asked.status_code, asked.headers["location"]) == (303, "/sign-in?next=%2Fpeople")
    form = device.get(asked.headers["location"])
    assert 'name="next" value="/people"' in form.text
    assert form.headers["cache-control"] == "no-store"
    answer = device.post(
        "/sign-in", data={"phrase": app.phrase, "name": " Ines  Example ", "device": "phone", "next": "/people"}
    )
    assert (answer.status_code, answer.headers["location"]) == (303, "/people")
    assert app.phrase not in str(answer.headers)
    assert "Ines Example" in device.get("/people").text


def test_the_cookie_is_for_the_browser_alone(app: App) -> None:
    answer = app.device().post("/sign-in", data={"phrase": app.phrase, "name": "Ines", "device": "phone"})
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith("soakbook_session=")
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "path=/" in cookie
    assert f"max-age={90 * 86400}" in cookie
    assert "secure" not in cookie
    safe = app.device(base="https://garden.example").post(
        "/sign-in", data={"phrase": app.phrase, "name": "Ines", "device": "phone"}
    )
    assert "secure" in safe.headers["set-cookie"].lower()


@pytest.mark.parametrize(
    "next", ["//evil.example", "http://evil.example/", "/\\evil.example", "/\t/evil.example", "javascript:x"]
)
def test_nobody_is_sent_elsewhere(app: App, next: str) -> None:
    device = app.device()
    assert "evil.example" not in device.get("/sign-in", params={"next": next}).text
    answer = device.post("/sign-in", data={"phrase": app.phrase, "name": "Ines", "device": "x", "next": next})
    assert answer.headers["location"] == "/"
    assert device.post("/you", data={"next": next}).headers["location"] == "/"
    assert "evil.example" not in device.get("/you", params={"next": next}).text


def test_a_wrong_phrase_keeps_what_was_typed_and_opens_nothing(app: App) -> None:
    device = app.device()
    answer = device.post("/sign-in", data={"phrase": "oak elm ash fir", "name": "Ines", "device": "<b>"})
    assert answer.status_code == 422
    assert "That is not the pairing phrase." in answer.text
    assert 'value="Ines"' in answer.text
    assert "&lt;b&gt;" in answer.text
    assert "set-cookie" not in answer.headers
    assert device.get("/people").status_code == 303


def test_too_many_wrong_phrases_mean_waiting_even_with_the_right_one(app: App) -> None:
    device = app.device()
    for _ in range(5):
        assert device.post("/sign-in", data={"phrase": "no", "name": "x", "device": "x"}).status_code == 422
    answer = device.post("/sign-in", data={"phrase": app.phrase, "name": "x", "device": "x"})
    assert answer.status_code == 429
    assert 0 < int(answer.headers["retry-after"]) <= 901
    assert "Try again in 15 minutes." in answer.text
    assert app.signed_in(address="192.168.1.21").get("/people").status_code == 200


def test_tries_by_page_and_by_program_are_counted_together(app: App) -> None:
    device = app.device()
    for n in range(4):
        assert device.post("/sign-in", data={"phrase": "no no no no", "name": "Ines"}).status_code == 422, n
    tried = {"phrase": "no no no no", "name": "Ines", "device": "phone"}
    assert device.post("/api/v1/sessions", json=tried).status_code == 422
    assert device.post("/api/v1/sessions", json=tried).status_code == 429
    assert device.post("/sign-in", data={"phrase": app.phrase, "name": "Ines"}).status_code == 429


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\u202eb"])
def test_a_name_that_cannot_be_is_said_beside_the_field(app: App, name: str) -> None:
    answer = app.device().post("/sign-in", data={"phrase": app.phrase, "name": name, "device": "phone"})
    assert answer.status_code == 422
    assert 'id="f-name-wrong"' in answer.text
    assert "set-cookie" not in answer.headers


def test_the_same_name_is_the_same_person(app: App) -> None:
    for name, address in (
        ("Ines", "192.168.1.2"),
        (" ines ", "192.168.1.3"),
        ("INES", "192.168.1.4"),
        ("Tove", "192.168.1.5"),
    ):
        app.signed_in(name, address)
    assert [person.name for person in app.store.people() if person.id != "owner"] == ["Ines", "Tove"]
    assert len(app.store.sessions()) == 4


def test_signing_in_again_ends_the_session_before(app: App) -> None:
    device = app.signed_in()
    device.post("/sign-in", data={"phrase": app.phrase, "name": "Tove", "device": "phone"})
    assert len(app.store.sessions()) == 1


def test_signing_out_ends_the_session_not_only_the_cookie(app: App) -> None:
    device = app.signed_in()
    token = device.cookies["soakbook_session"]
    answer = device.post("/sign-out")
    assert answer.headers["location"] == "/sign-in"
    assert app.store.session(token) is None
    thief = app.device()
    thief.cookies.set("soakbook_session", token)
    assert thief.get("/people").status_code == 303


@pytest.mark.parametrize("token", ["", "x", "x" * 43, "x" * 100_000, '"\\342\\200\\246"'])
def test_made_up_tokens_open_nothing(app: App, token: str) -> None:
    device = app.device(cookie="soakbook_session=" + token)
    assert device.get("/people").status_code == 303


# --- who may do what ----------------------------------------------------------------------------------------------
OWN_PAGES = [
    ("GET", "/people"), ("POST", "/people/name"), ("POST", "/people/end"), ("POST", "/people/end-others"),
    ("POST", "/people/links"), ("POST", "/people/links/end"),
]  # fmt: skip


@pytest.mark.parametrize(("method", "path"), OWN_PAGES)
def test_pages_for_the_household_are_closed_to_others(app: App, method: str, path: str) -> None:
    before = (app.store.people(), app.store.sessions())
    answer = app.device().request(method, path, data={"name": "x"} if method == "POST" else None)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/sign-in?next=")
    assert (app.store.people(), app.store.sessions()) == before


@pytest.mark.parametrize(
    ("address", "base", "headers"),
    [
        ("192.168.1.20", "http://localhost:8765", {}),
        ("127.0.0.1", LAN, {}),
        ("127.0.0.1", "http://localhost:8765", {"x-forwarded-for": "127.0.0.1"}),
        ("127.0.0.1", "http://localhost:8765", {"forwarded": "for=10.0.0.1"}),
        ("127.0.0.1", "http://localhost:8765", {"via": "1.1 garden"}),
    ],
)
def test_only_straight_from_the_machine_itself_is_the_owner(
    app: App, address: str, base: str, headers: dict[str, str]
) -> None:
    assert app.machine.get("/people").status_code == 200
    assert app.device(address, base, **headers).get("/people").status_code == 303


# --- devices ------------------------------------------------------------------------------------------------------
def test_a_device_can_be_signed_out_from_afar(app: App) -> None:
    phone, other = app.signed_in("Ines", "192.168.1.2"), app.signed_in("Tove", "192.168.1.3")
    tove = next(p.id for p in app.store.people() if p.name == "Tove")
    session = next(s for s in app.store.sessions() if s.person_id == tove)
    assert phone.post("/people/end", data={"id": session.id}).headers["location"] == "/people"
    assert other.get("/people").status_code == 303
    assert phone.get("/people").status_code == 200


def test_all_others_can_be_signed_out(app: App) -> None:
    phone, other = app.signed_in("Ines", "192.168.1.2"), app.signed_in("Tove", "192.168.1.3")
    phone.post("/people/end-others")
    assert (phone.get("/people").status_code, other.get("/people").status_code) == (200, 303)
    app.machine.post("/people/end-others")
    assert phone.get("/people").status_code == 303


def test_the_name_others_read(app: App) -> None:
    app.machine.post("/people/name", data={"name": " Mara "})
    assert app.store.person("owner").name == "Mara"  # type: ignore[union-attr]
    wrong = app.machine.post("/people/name", data={"name": "x" * 81})
    assert wrong.status_code == 422
    assert "x" * 81 in wrong.text


# --- links --------------------------------------------------------------------------------------------------------
def make_link(device: TestClient, key: str, kind: str = "round", helper: str = "Tove") -> str:
    """The path of a fresh link, from the page that shows it."""
    answer = device.post("/people/links", data={"garden": key, "kind": kind, "helper": helper})
    assert answer.status_code == 303
    assert re.fullmatch(r"/people#link-\w+", answer.headers["location"])
    page = device.get("/people").text
    found = re.search(r'class="address" href="([^"]+)"', page)
    assert found
    assert 'class="qr"' in page
    return found[1]


def test_a_helpers_link_opens_todays_round_for_the_one_named(app: App) -> None:
    address = make_link(app.signed_in(), app.key)
    assert address.startswith(LAN + "/helper/")
    viewer = helper_of(address.split("/")[-2], app.house)
    assert isinstance(viewer, Viewer)
    assert (viewer.kind, viewer.name, viewer.may_all) == ("helper", "Tove", False)


def test_the_machine_itself_shows_an_address_that_others_reach(app: App) -> None:
    assert make_link(app.machine, app.key).startswith("http://garden.example:8765/helper/")


def test_an_ended_link_opens_nothing(app: App) -> None:
    token = make_link(app.machine, app.key).split("/")[-2]
    link = app.store.link(token)
    assert link is not None
    app.machine.post("/people/links/end", data={"id": link.id})
    with pytest.raises(InputError) as caught:
        helper_of(token, app.house)
    assert caught.value.code == "link.unknown"
    assert token not in app.machine.get("/people").text


def test_a_link_of_another_day_says_so(app: App) -> None:
    token = app.store.make_link(app.key, "round", DAY - timedelta(days=1), name="Tove")
    with pytest.raises(InputError) as caught:
        helper_of(token, app.house)
    assert caught.value.code == "link.day"
    assert "This link was for the round of" in caught.value.message


def test_a_calendars_link_is_no_helpers_link(app: App) -> None:
    token = make_link(app.machine, app.key, "calendar").split("/")[-1].split(".ics")[0]
    assert app.store.link(token).kind == "calendar"  # type: ignore[union-attr]
    for made_up in (token, "", "x" * 43, "x" * 10_000):
        with pytest.raises(InputError, match="opens nothing"):
            helper_of(made_up, app.house)


def test_a_link_needs_a_name_and_a_garden(app: App) -> None:
    wrong = app.machine.post("/people/links", data={"garden": app.key, "helper": " "})
    assert (wrong.status_code, "Whom is it for?" in wrong.text) == (422, True)
    wrong = app.machine.post("/people/links", data={"garden": app.key, "helper": "x" * 81})
    assert 'id="f-helper-wrong"' in wrong.text
    assert app.machine.post("/people/links", data={"garden": "nowhere", "helper": "x"}).status_code == 422
    assert app.store.links(app.key) == []


def test_a_link_is_shown_for_a_while_only(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    address = make_link(app.machine, app.key)
    monkeypatch.setattr("soakbook.app.routes.people.FRESH_S", -1.0)
    page = app.machine.get("/people").text
    assert address not in page
    assert "End this link" in page


def test_squares_have_no_style_and_no_script() -> None:
    svg = qr_svg("http://192.168.1.9:8765/helper/x/")
    assert "style=" not in svg
    assert "<script" not in svg
    assert "viewBox" in svg


# --- the reader's view --------------------------------------------------------------------------------------------
VIEW = {"language": "es", "units": "US", "clock": "12", "dates": "ymd", "decimal": ",", "theme": "sun"}


def test_anyone_may_choose_a_view_kept_in_the_browser(app: App) -> None:
    device = app.device(**{"accept-language": "en-GB"})
    answer = device.post("/you", data={**VIEW, "next": "/about"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/about")
    assert json.loads(unquote(device.cookies["soakbook_reader"])) == VIEW
    page = device.get("/you").text
    assert 'lang="es" data-theme="sun"' in page
    for value in VIEW.values():
        assert re.search(rf'value="{value}" checked', page), value


def test_a_persons_view_goes_along_to_other_devices(app: App) -> None:
    app.signed_in("Ines", "192.168.1.2").post("/you", data=VIEW)
    assert 'data-theme="sun"' in app.signed_in("Ines", "192.168.1.3").get("/people").text
    assert 'data-theme="auto"' in app.signed_in("Tove", "192.168.1.4").get("/people").text


def test_other_preferences_are_left_alone(app: App) -> None:
    app.store.set_prefs("owner", {"fold": True, "theme": "dark"})
    app.machine.post("/you", data={"theme": "light"})
    assert app.store.person("owner").prefs == {"fold": True, "theme": "light"}  # type: ignore[union-attr]


def test_made_up_choices_are_no_choices(app: App) -> None:
    device = app.device()
    device.post("/you", data={"language": "xx", "theme": "<script>", "units": "cubits"})
    assert json.loads(unquote(device.cookies["soakbook_reader"])) == {}
    assert device.get("/you").status_code == 200


def test_examples_show_each_choice(app: App) -> None:
    page = app.device(**{"accept-language": "en-GB"}).get("/you").text
    for example in ("18:40", "6:40 pm", "08/07/2017", "07/08/2017", "2017-07-08", "6.5", "6,5", "3.2 gal", "12 L"):
        assert example in page, example


# --- about --------------------------------------------------------------------------------------------------------
def test_about_says_what_it_rests_on_and_what_to_take_care_of(app: App) -> None:
    from soakbook import __version__
    from soakbook.catalog.read import sources

    page = app.device(**{"accept-language": "en"}).get("/about").text
    for word in ("backflow", "reywater", "Electrics", "scald", "Local", "Heat", "CC BY 4.0", "Open-Meteo", "GeoNames",
                 "Deutscher Wetterdienst", "NOAA", "Apache License", __version__):  # fmt: skip
        assert word in page, word
    for anchor in re.findall(r'href="#(\w+)"', page):
        assert f'id="{anchor}"' in page
    assert page.count("<cite>") == len(sources())
