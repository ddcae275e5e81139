"""A place, the weather and the season as a person looks at them: pictures drawn, nothing for axe to find, no sideways scrolling."""

from __future__ import annotations

import json
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page, expect

from soakbook.store import NewEntry
from tests.browser.accessible import faults
from tests.browser.conftest import DESK, PHONE, Running

VIEWS = [
    ({"theme": "light"}, DESK),
    ({"theme": "dark"}, PHONE),
    ({"theme": "sun", "language": "es", "units": "US"}, {"width": 320, "height": 700}),
]
PAGES = ["place", "weather?days=90", "season"]


def address(demo: Running, page: str, name: str = "bean rows") -> str:
    if page == "place":
        places = demo.house.store.document(demo.key)["places"]
        page = "place/" + next(p["id"] for p in places if p["name"] == name)
    return f"{demo.url}/g/{demo.key}/{page}"


@pytest.mark.parametrize(("prefs", "size"), VIEWS)
def test_the_pages_are_drawn_and_accessible(
    demo: Running, chromium: Browser, prefs: dict[str, str], size: dict[str, int]
) -> None:
    context = chromium.new_context(viewport=size)  # type: ignore[arg-type]
    context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(prefs)), "url": demo.url}])
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
    for name in PAGES:
        page.goto(address(demo, name))
        for plot in page.locator(".chart-plot").all():
            expect(plot.locator("svg").first).to_be_visible()
        page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert faults(page, prefs["theme"]) == []
    assert said == []
    context.close()


def test_a_reading_from_the_place_turns_the_advice_and_can_be_undone(to_probe: Running, phone: Page) -> None:
    """Which place a feel turns is found out first: it hangs on the weather and on what else was read."""
    name, before, feel, after = turned(to_probe)
    phone.goto(address(to_probe, "place", name))
    verdict = phone.locator(".today .verdict")
    expect(verdict).to_have_text(before)
    if phone.locator(".writes[open]").count() == 0:
        phone.get_by_text("Write down water, a reading or a note").tap()
    phone.get_by_role("button", name=feel, exact=True).tap()
    expect(phone.get_by_role("status")).to_contain_text(f"felt {feel}")
    expect(verdict).to_have_text(after)
    phone.get_by_role("button", name="Undo").tap()
    expect(verdict).to_have_text(before)


def turned(app: Running) -> tuple[str, str, str, str]:
    """A place, what is advised, a feel that turns that, and what into."""
    desk, store = app.house.desk, app.house.store
    known = desk.known(app.key)
    at = desk.now(known.garden).replace(tzinfo=None).isoformat(timespec="minutes")
    for place, job in enumerate(desk.round(known).jobs):
        deep = f"{100 * job.advice.probe_depth_m:.0f} cm"
        for feel in ("wet", "dry"):
            entry = NewEntry(f"try-{place}-{feel}", at, "reading", known.id_of(job.advice.place), f"{feel} at {deep}")
            store.put(app.key, entry)
            now = desk.round(desk.known(app.key)).jobs[place].advice.verdict
            store.remove(app.key, entry.id)
            if now != job.advice.verdict:
                return job.advice.place, job.advice.verdict, feel, now
    raise AssertionError("no reading turns anything in this garden")


def test_the_place_is_whole_without_script(demo: Running, chromium: Browser) -> None:
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(address(demo, "place", "carrot rows"))
    expect(page.locator("svg.cut")).to_be_visible()
    page.locator("#h-time ~ .chart summary").first.click()
    expect(page.locator("#h-time ~ .chart table").first).to_contain_text("to come")
    page.get_by_text("Write down water, a reading or a note").click()
    page.get_by_label("What you saw").fill("a slug")
    page.get_by_role("button", name="Write down the note").click()
    expect(page.get_by_role("status")).to_contain_text("a note on carrot rows")
    context.close()
