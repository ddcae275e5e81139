"""Signing in on a phone, giving a helper a link, choosing a view: what a person does, with the system's Chromium."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, Page, expect

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.guard import lan_addresses
from soakbook.app.pairing import keep_new_phrase
from soakbook.app.serve import listen, make_server, port_of
from soakbook.app.settings import Settings
from soakbook.demo import DAY

from .accessible import faults
from .conftest import DESK, PHONE


@dataclass(frozen=True)
class Home:
    """The app on a home network: as the machine itself reaches it, as others do, and the phrase."""

    own: str
    lan: str
    phrase: str


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Home]:
    if not lan_addresses():
        pytest.skip("this machine has no address but loopback")
    sockets = listen(0, lan=True)
    port = port_of(sockets)
    app = build_app(Settings(tmp_path_factory.mktemp("home"), port, lan=True, today=DAY, demo=True))
    house = app.state.house
    bring_demo(house.desk)
    server = make_server(app)
    thread = threading.Thread(target=server.run, kwargs={"sockets": sockets}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield Home(f"http://localhost:{port}", f"http://{lan_addresses()[0]}:{port}", keep_new_phrase(house.store))
    server.should_exit = True
    thread.join(10)
    house.store.close()


def assert_good(page: Page, theme: str = "light") -> None:
    """No fault for assistive technology, no sideways scrolling from 320 px up, targets that a thumb hits."""
    page.wait_for_load_state("networkidle")
    assert faults(page, theme) == []
    size = page.viewport_size
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.set_viewport_size(size or PHONE)  # type: ignore[arg-type]
    small = page.evaluate(
        """[...document.querySelectorAll('main button, main .button, main input:not([type=hidden]), main select')]
        .map(e => [(e.closest('label') ?? e).getBoundingClientRect().height, e.outerHTML])
        .filter(([height]) => height > 0 && height < 44)"""
    )
    assert small == []


def test_a_phone_signs_in_and_out(home: Home, phone: Page) -> None:
    phone.goto(home.lan + "/people")
    expect(phone).to_have_url(re.compile(r"/sign-in\?next="))
    assert_good(phone)
    phone.get_by_label("Pairing phrase").fill("oak elm ash fir")
    phone.get_by_label("Your name").fill("Ines")
    phone.get_by_role("button", name="Sign in").click()
    expect(phone.get_by_text("That is not the pairing phrase.")).to_be_visible()
    expect(phone.get_by_label("Your name")).to_have_value("Ines")
    assert_good(phone)
    phone.get_by_label("Pairing phrase").fill(home.phrase.title())
    phone.get_by_role("button", name="Sign in").click()
    expect(phone).to_have_url(home.lan + "/people")
    expect(phone.get_by_text("this device", exact=True)).to_be_visible()
    assert_good(phone)
    phone.get_by_role("button", name="Sign out on this device").click()
    phone.goto(home.lan + "/people")
    expect(phone).to_have_url(re.compile("/sign-in"))


def test_a_link_for_a_helper_opens_only_todays_round(home: Home, desk: Page, chromium: Browser) -> None:
    desk.goto(home.own + "/people")
    desk.get_by_label("The helper's name").fill("Tove")
    desk.get_by_role("button", name="Make a link for today").click()
    link = desk.locator("a.address")
    expect(desk.get_by_role("img", name="The same link as a square to scan")).to_be_visible()
    assert_good(desk)
    address = link.get_attribute("href") or ""
    assert address.startswith(home.lan + "/helper/")
    with chromium.new_context(viewport=PHONE, locale="en-GB") as context:  # type: ignore[arg-type]
        helper = context.new_page()
        helper.goto(address)
        expect(helper.get_by_role("heading", level=1)).to_be_visible()
        helper.goto(home.lan + "/people")
        expect(helper).to_have_url(re.compile("/sign-in"))
        desk.get_by_role("button", name="End the link Tove").click()
        assert helper.goto(address).status == 404  # type: ignore[union-attr]
        expect(helper.get_by_text("This link opens nothing any more.")).to_be_visible()


def test_a_view_is_chosen_without_script_by_keyboard(home: Home, chromium: Browser) -> None:
    with chromium.new_context(viewport=DESK, locale="en-GB", java_script_enabled=False) as context:  # type: ignore[arg-type]
        page = context.new_page()
        page.goto(home.lan + "/you?next=/about")
        page.get_by_label("As the device is set").focus()
        for _ in range(3):
            page.keyboard.press("ArrowDown")
        expect(page.get_by_label("Bright sun")).to_be_checked()
        page.get_by_label("12 hours").check()
        page.get_by_role("button", name="Keep this view").press("Enter")
        expect(page).to_have_url(home.lan + "/about")
        expect(page.locator("html")).to_have_attribute("data-theme", "sun")


@pytest.mark.parametrize("theme", ["light", "dark", "sun"])
def test_pages_are_good_in_every_light(home: Home, phone: Page, theme: str) -> None:
    phone.context.add_cookies(
        [{"name": "soakbook_reader", "value": f"%7B%22theme%22%3A%22{theme}%22%7D", "url": home.lan}]
    )
    for path in ("/you", "/about", "/sign-in"):
        phone.goto(home.lan + path)
        expect(phone.locator("html")).to_have_attribute("data-theme", theme)
        assert_good(phone, theme)
