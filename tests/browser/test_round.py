"""A round on a phone, as a person does it."""

from __future__ import annotations

import json
import re
from urllib.parse import quote

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PHONE, Running


def test_tick_and_undo(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Round for Sat 8 Jul")
    phone.get_by_role("button", name="done: pepper bed").tap()
    expect(phone.get_by_role("status").filter(has_text="pepper bed got 74 L")).to_be_visible()
    assert [e.amount for e in demo.house.store.entries(demo.key)][-1] == "291 min"
    expect(phone.locator(".job.is-done", has_text="pepper bed")).to_be_visible()
    phone.get_by_role("status").get_by_role("button", name="Undo").tap()
    expect(phone.get_by_role("button", name="done: pepper bed")).to_be_visible()
    phone.get_by_role("button", name="Put it back").tap()
    expect(phone.locator(".job.is-done", has_text="pepper bed")).to_be_visible()


def test_another_amount(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    corn = phone.locator(".job", has_text="sweet corn block")
    corn.get_by_text("Why; another amount").tap()
    corn.get_by_role("textbox", name="How much").fill("250")
    corn.get_by_role("button", name="Done with this amount").tap()
    expect(phone.get_by_role("status").filter(has_text="sweet corn block got 250 L")).to_be_visible()
    expect(phone.locator(".job.soak", has_text="sweet corn block").locator(".amount")).to_have_text("490 L")


def test_probe_first_turns_into_soak_or_hold(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    phone.get_by_role("button", name=re.compile("^dry.*tomato bed")).tap()
    expect(phone.locator(".job.soak", has_text="tomato bed")).to_be_visible()
    phone.get_by_role("button", name=re.compile("^moist.*bean rows")).tap()
    expect(phone.locator(".job.soak, .job.probe").filter(has_text="bean rows")).to_have_count(0)
    phone.get_by_text("places are fine").tap()
    expect(phone.locator(".fine .job", has_text="bean rows")).to_contain_text("felt moist")


def test_two_people_do_not_water_twice(demo: Running, phone: Page, chromium: Browser) -> None:
    demo.house.store.rename_person("owner", "Bea")
    phone.goto(demo.url)
    other = chromium.new_context(viewport=PHONE).new_page()  # type: ignore[arg-type]
    other.goto(demo.url)
    phone.get_by_role("button", name="done: basil in clay").tap()
    expect(phone.locator(".job.is-done", has_text="basil in clay")).to_contain_text("Bea")
    other.get_by_role("button", name="done: basil in clay").click()
    expect(other.get_by_role("heading", level=1)).to_have_text("basil in clay was watered already today")
    assert len([e for e in demo.house.store.entries(demo.key) if e.at[:10] == "2017-07-08"]) == 1
    other.get_by_role("button", name="I watered it too").click()
    assert len([e for e in demo.house.store.entries(demo.key) if e.at[:10] == "2017-07-08"]) == 2
    other.context.close()


def test_the_same_tick_sent_twice_counts_once(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    form = phone.locator(".job", has_text="kale seed tray").locator("form.act")
    body = {name: form.locator(f"input[name={name}]").input_value() for name in ("place", "id", "seen")}
    body |= {"number": "2", "unit": "L"}
    for _ in range(2):
        assert phone.request.post(f"{demo.url}/g/{demo.key}/done", form=body).ok
    assert len([e for e in demo.house.store.entries(demo.key) if e.at[:10] == "2017-07-08"]) == 1


def test_touch_targets_and_accessibility(demo: Running, phone: Page) -> None:
    phone.goto(demo.url)
    for control in phone.locator("button:visible, .ways a:visible, summary:visible, .job h3 a:visible").all():
        box = control.bounding_box()
        assert box is not None
        assert box["height"] >= 43.5, control.inner_text()
        assert box["width"] >= 43.5, control.inner_text()
    for theme in ("light", "dark", "sun"):
        phone.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        assert Axe().run(phone).violations_count == 0, Axe().run(phone).generate_report()


def test_keyboard_only(demo: Running, desk: Page) -> None:
    desk.goto(demo.url)
    desk.keyboard.press("Tab")
    expect(desk.get_by_role("link", name="To the page's content")).to_be_focused()
    tick = desk.get_by_role("button", name="done: carrot rows")
    for _ in range(80):
        desk.keyboard.press("Tab")
        if tick.evaluate("e => e === document.activeElement"):
            break
    expect(tick).to_be_focused()
    desk.keyboard.press("Enter")
    expect(desk.get_by_role("status").filter(has_text="carrot rows got")).to_be_visible()


def test_without_script(demo: Running, chromium: Browser) -> None:
    page = chromium.new_context(viewport=PHONE, java_script_enabled=False).new_page()  # type: ignore[arg-type]
    page.goto(demo.url)
    page.get_by_role("button", name="done: patio tomatoes").click()
    expect(page.get_by_role("status").filter(has_text="patio tomatoes got")).to_be_visible()
    page.locator("figure.chart summary").click()
    expect(page.locator("figure.chart table")).to_be_visible()
    page.context.close()


def test_zoomed_to_twice_and_narrow_nothing_runs_off(demo: Running, desk: Page) -> None:
    for width in (640, 320):  # 1280 at 200 %, and the narrowest of WCAG 1.4.10
        desk.set_viewport_size({"width": width, "height": 512})
        desk.goto(demo.url)
        assert desk.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_in_gallons_inches_and_twelve_hours(demo: Running, phone: Page) -> None:
    """3.785 L to a US gallon: 740 L are 195 gal, said to two figures; what is typed in gallons is kept as typed."""
    chosen = {"units": "US", "clock": "12", "dates": "mdy"}
    phone.context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(chosen)), "url": demo.url}])
    phone.goto(demo.url)
    expect(phone.get_by_role("heading", level=1)).to_have_text("Round for Sat Jul 8")
    corn = phone.locator(".job", has_text="sweet corn block")
    expect(corn.locator(".amount")).to_have_text("195 gal")
    corn.get_by_text("Why; another amount").tap()
    corn.get_by_role("textbox", name="How much").fill("50")
    corn.get_by_role("button", name="Done with this amount").tap()
    expect(phone.get_by_role("status").filter(has_text="sweet corn block got 50 gal")).to_be_visible()
    assert demo.house.store.entries(demo.key)[-1].amount == "50 gal"
    expect(phone.locator("main")).to_contain_text(re.compile(r"\d{1,2}:\d\d [ap]m"))
