"""A handful of soil squeezed: what it feels like in the soil of the chosen place, and written down without signal."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.browser.conftest import Running
from tests.browser.test_offline import made_ready, until


def test_the_choices_follow_the_soil_of_the_place_and_wait_without_signal(demo: Running, phone: Page) -> None:
    """USDA NRCS chart, 50 to 75 %: sand makes no ribbon, clay makes one."""
    made_ready(phone, demo.url)
    ids = {p["name"]: p["id"] for p in demo.house.store.document(demo.key)["places"]}
    form = f"/g/{demo.key}/log/new?kind=reading"
    until(lambda: phone.evaluate(f"caches.match('{form}').then(Boolean)"), "the form was put by")
    phone.context.set_offline(True)
    phone.goto(f"{demo.url}{form}&place={ids['carrot rows']}")
    squeezes = phone.locator(".squeezes")
    expect(squeezes).to_be_hidden()
    phone.get_by_text("A handful, squeezed").tap()
    expect(squeezes.get_by_role("radio")).to_have_count(6)
    moist = squeezes.locator("label", has=phone.locator('input[value="moist"]'))
    expect(moist.locator("small:visible")).to_have_count(1)
    expect(squeezes.get_by_text("As it is in sandy soil.")).to_be_visible()
    expect(moist.locator("small:visible")).to_contain_text("No ribbon.")
    phone.get_by_label("Place", exact=True).select_option(ids["bean rows"])
    expect(squeezes.locator(".hint:visible").last).to_have_text("As it is in clay or clay loam.")
    expect(moist.locator("small:visible")).to_have_count(1)
    expect(moist.locator("small:visible")).to_contain_text("It makes a ribbon.")
    moist.tap()
    phone.get_by_label("How deep").fill("12")
    phone.get_by_role("button", name="Write it down").tap()
    expect(phone.locator("#stale")).to_contain_text("not yet sent: 1")
    phone.context.set_offline(False)
    phone.goto(demo.url)
    kept = "squeezed moist at 12 cm"
    until(lambda: any(e.amount == kept for e in demo.house.store.entries(demo.key)), "it was sent")
    (entry,) = (e for e in demo.house.store.entries(demo.key) if e.amount == kept)
    assert entry.place_id == ids["bean rows"]
