"""What is not certain, as a person meets it: wishes tried and kept, something learnt and forgotten, a fault told, one place to probe."""

from __future__ import annotations

import json
import re
from datetime import date
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page, expect

from soakbook.demo import DAY
from soakbook.garden.model import Wishes
from soakbook.learning.faults import Suspicion
from soakbook.said import say
from soakbook.store import NewEntry
from tests.browser.accessible import faults
from tests.browser.conftest import DESK, PHONE, Running

VIEWS = [
    ({"theme": "light"}, DESK),
    ({"theme": "dark"}, PHONE),
    ({"theme": "sun", "units": "US"}, {"width": 320, "height": 700}),
]
READINGS = (("2017-06-21", "dial 3 at 20 cm"), ("2017-06-28", "dry at 20 cm"), ("2017-07-05", "not wilted at dawn"))


def place_id(demo: Running, name: str) -> str:
    return demo.house.desk.known(demo.key).id_of(name)


def read(demo: Running, name: str = "bean rows") -> None:
    for k, (day, amount) in enumerate(READINGS):
        demo.house.store.put(demo.key, NewEntry(f"k{k}", f"{day}T08:00", "reading", place_id(demo, name), amount))


def suspect(demo: Running, monkeypatch: pytest.MonkeyPatch, name: str = "pepper bed") -> None:
    """A fault is told of one place: when one is found is tested where it is looked for."""
    found = Suspicion(
        name, "blocked", 0.7, date(2017, 6, 20), say("a blocked emitter"), say("put a cup under two emitters")
    )
    wanted = place_id(demo, name)
    monkeypatch.setattr(demo.house.desk, "suspicions", lambda known, one: (found,) if one == wanted else ())


@pytest.mark.parametrize(("prefs", "size"), VIEWS)
def test_pages_with_readings_faults_and_wishes_are_accessible(
    demo: Running, chromium: Browser, monkeypatch: pytest.MonkeyPatch, prefs: dict[str, str], size: dict[str, int]
) -> None:
    read(demo)
    suspect(demo, monkeypatch, "bean rows")
    context = chromium.new_context(viewport=size)  # type: ignore[arg-type]
    context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(prefs)), "url": demo.url}])
    page = context.new_page()
    for name in ("", "wishes?best_crop=3", f"place/{place_id(demo, 'bean rows')}", "weather"):
        page.goto(f"{demo.url}/g/{demo.key}/{name}")
        for plot in page.locator(".chart-plot").all():
            expect(plot.locator("svg").first).to_be_visible()
        page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], name
        assert faults(page, prefs["theme"]) == [], name
    context.close()


def test_a_slider_shows_its_week_before_it_is_kept(demo: Running, desk: Page) -> None:
    desk.goto(f"{demo.url}/g/{demo.key}/wishes")
    slider = desk.get_by_label("Spare water")
    slider.focus()
    for _ in range(4):
        desk.keyboard.press("ArrowRight")
    expect(desk.locator("#w-spare_water")).to_have_attribute("aria-valuetext", "three times as much as usual")
    expect(desk).to_have_url(re.compile("spare_water=3"), timeout=20_000)
    expect(desk.locator("#week")).to_contain_text(re.compile("Against the wishes|that is the same"))
    assert demo.house.desk.known(demo.key).garden.wishes == Wishes()
    desk.get_by_role("button", name="Keep these wishes").click()
    expect(desk.get_by_role("status")).to_contain_text("wishes changed")
    assert demo.house.desk.known(demo.key).garden.wishes == Wishes(spare_water=3.0)
    desk.get_by_role("button", name="Undo").click()
    expect(desk.get_by_role("status").first).to_be_visible()
    assert demo.house.desk.known(demo.key).garden.wishes == Wishes()


def test_wishes_work_without_script(demo: Running, chromium: Browser) -> None:
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{demo.url}/g/{demo.key}/wishes")
    page.get_by_label("The best crop").focus()
    page.keyboard.press("End")
    page.get_by_role("button", name="See the week").click()
    expect(page.get_by_label("The best crop")).to_have_value("3")
    expect(page.locator("#week")).to_contain_text(re.compile("Against the wishes|that is the same"))
    page.get_by_role("button", name="Keep these wishes").click()
    assert demo.house.desk.known(demo.key).garden.wishes.best_crop == 3.0
    context.close()


def test_what_was_learnt_is_forgotten_and_comes_back(demo: Running, phone: Page) -> None:
    read(demo, "sweet corn block")
    phone.goto(f"{demo.url}/g/{demo.key}/place/{place_id(demo, 'sweet corn block')}")
    learnt = phone.locator("section[aria-labelledby=h-learnt]")
    expect(learnt).to_contain_text("3 readings")
    phone.get_by_role("button", name="Forget what was learnt").tap()
    expect(phone.get_by_role("status")).to_contain_text("Written down")
    expect(learnt).to_contain_text("Nothing yet")
    phone.get_by_role("button", name="Undo").tap()
    expect(learnt).to_contain_text("3 readings")


def test_a_fault_stands_first_and_what_was_found_is_written_down(
    demo: Running, phone: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    suspect(demo, monkeypatch)
    phone.goto(f"{demo.url}/g/{demo.key}/")
    card = phone.get_by_role("region", name=re.compile("Something may be wrong"))
    expect(card).to_contain_text("A blocked emitter.")
    expect(card).to_contain_text(
        "Likely (7 in 10), perhaps since Tue 20 Jun. What would settle it: Put a cup under two emitters."
    )
    card.get_by_role("link", name="Write down what you found").tap()
    expect(phone.get_by_label("Place").first).to_have_value(place_id(demo, "pepper bed"))


def test_a_helper_is_told_of_a_fault_without_ways_that_are_closed(
    demo: Running, phone: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    suspect(demo, monkeypatch)
    token = demo.house.store.make_link(demo.key, "round", DAY, name="Ines")
    phone.goto(f"{demo.url}/helper/{token}/")
    card = phone.get_by_role("region", name=re.compile("Something may be wrong"))
    expect(card).to_contain_text("A blocked emitter.")
    assert card.get_by_role("link").count() == 0
