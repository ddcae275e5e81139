"""Setting up as a person does it: from nothing, with a mouse, a thumb, the keyboard, and without script."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Page, expect

from tests.browser.accessible import faults, faults_in_themes
from tests.browser.conftest import PHONE, Running


def names(page: Page) -> list[str]:
    return page.locator(".place-card h3").all_inner_texts()


def test_a_garden_with_a_bed_and_a_pot_from_nothing(empty: Running, phone: Page) -> None:
    phone.goto(f"{empty.url}/gardens")
    phone.get_by_role("link", name="A new garden").click()
    phone.get_by_label("What you call the garden").fill("Long Acre")
    phone.get_by_label("The nearest town").fill("Wageningen")
    phone.get_by_label("What you call the place").fill("long bed")
    phone.get_by_label("Length", exact=True).fill("3")
    phone.get_by_label("Width", exact=True).fill("1.2")
    phone.get_by_role("button", name="Make the garden").click()
    expect(phone.get_by_role("heading", name="long bed")).to_be_visible()

    phone.get_by_role("link", name="Add a place").click()
    phone.get_by_label("What you call it").fill("patio pots")
    phone.get_by_label("Pot", exact=False).first.check()
    expect(phone.get_by_label("Length", exact=True)).to_be_hidden()
    phone.get_by_label("A usual size").select_option(index=4)
    phone.get_by_label("Its soil").select_option("multipurpose")
    phone.get_by_role("button", name="Save").click()
    phone.get_by_role("link", name="Plant something").click()
    phone.get_by_label("Name, as you call it").fill("basil")
    phone.get_by_role("link", name="Basil").click()
    phone.get_by_label("Planted out on").fill("2017-06-20")
    phone.get_by_role("button", name="Save").click()
    expect(phone.get_by_text("planting added: patio pots")).to_be_visible()
    phone.get_by_role("link", name="← Set up").click()
    assert names(phone) == ["long bed", "patio pots"]
    expect(phone.locator(".place-card").last).to_contain_text("Basil")


def test_the_walking_order_by_keyboard_and_back(demo: Running, desk: Page) -> None:
    desk.goto(f"{demo.url}/g/{demo.key}/setup")
    before = names(desk)
    desk.get_by_role("button", name="Move bean rows up").focus()
    desk.keyboard.press("Enter")
    expect(desk.locator(".place-card h3").nth(1)).to_have_text("bean rows")
    expect(desk.get_by_role("button", name="Move bean rows up")).to_be_focused()
    desk.keyboard.press("Enter")
    expect(desk.locator(".place-card h3").first).to_have_text("bean rows")
    desk.get_by_role("button", name="Undo").click()
    expect(desk.locator(".place-card h3").nth(1)).to_have_text("bean rows")
    assert sorted(names(desk)) == sorted(before)


def test_the_walking_order_by_dragging(demo: Running, desk: Page) -> None:
    desk.goto(f"{demo.url}/g/{demo.key}/setup")
    before = names(desk)
    handle, above = desk.locator(".handle").nth(2), desk.locator(".place-card").first
    grip, box = handle.bounding_box(), above.bounding_box()
    assert grip is not None
    assert box is not None
    desk.mouse.move(grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2)
    desk.mouse.down()
    desk.mouse.move(grip["x"] + 10, box["y"] + 8, steps=6)
    desk.mouse.up()
    expect(desk.get_by_text("Saved: walking order changed")).to_be_visible()
    assert names(desk) == [before[2], before[0], before[1], *before[3:]]


def test_without_script_everything_is_there(demo: Running, chromium: Browser) -> None:
    context = chromium.new_context(java_script_enabled=False, viewport=PHONE, locale="en-GB")  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{demo.url}/g/{demo.key}/setup")
    first = page.locator(".place-card h3").first.inner_text()
    page.get_by_role("button", name=f"Move {first} down").click()
    expect(page.locator(".place-card h3").nth(1)).to_have_text(first)
    page.locator(".place-card h3 a").first.click()
    page.get_by_role("link", name="Sun and wind, drawn").click()
    page.get_by_label("South: height").fill("3")
    page.get_by_label("South: distance", exact=True).fill("3")
    page.get_by_role("button", name="Draw it first").click()
    expect(page.get_by_role("img", name="The sky over")).to_be_visible()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_label("South: angle")).to_have_value("45 deg")
    context.close()


def test_the_sky_follows_what_is_typed(demo: Running, desk: Page) -> None:
    desk.goto(f"{demo.url}/g/{demo.key}/setup")
    desk.locator(".place-card h3 a").first.click()
    desk.get_by_role("link", name="Sun and wind, drawn").click()
    before = desk.locator(".sky figcaption").inner_text()
    desk.get_by_label("West: angle", exact=True).fill("60")
    expect(desk.locator(".sky figcaption")).not_to_have_text(before)


def test_nothing_stands_in_anyones_way(demo: Running, chromium: Browser) -> None:
    context = chromium.new_context(viewport=PHONE, locale="en-GB")  # type: ignore[arg-type]
    context.add_cookies([{"name": "soakbook_reader", "value": "%7B%22theme%22%3A%22dark%22%7D", "url": demo.url}])
    page = context.new_page()
    document = demo.house.store.document(demo.key)
    root, place = f"/g/{demo.key}/setup", document["places"][4]
    own = f"{root}/place/{place['id']}"
    soil = f"{root}/soil/{document['soils'][2]['id']}"
    paths = [
        root, f"{root}/garden", f"{root}/supply", f"{root}/history", f"{root}/place/new?kind=pot", own, f"{own}/sun",
        f"{own}/planting/new", f"{own}/planting/new?plant=kale", f"{root}/soil/new", f"{root}/soil/new?way=feel&feel=ball",
        f"{root}/soil/new?way=jar", f"{root}/soil/new?way=measured", soil, f"{soil}/layer/1",
        f"{root}/line/{document['lines'][0]['id']}", f"{root}/weather-file", "/gardens", "/gardens/new", "/gardens/bring",
    ]  # fmt: skip
    for path in paths:
        page.goto(demo.url + path)
        expect(page.locator("html")).to_have_attribute("data-theme", "dark")
        assert faults_in_themes(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    context.close()


def test_a_refused_form_ties_its_message_to_the_field(demo: Running, phone: Page) -> None:
    phone.goto(f"{demo.url}/g/{demo.key}/setup/supply")
    phone.get_by_label("What your watering can holds").fill("ten cups of it")
    phone.get_by_role("button", name="Save").click()
    field = phone.get_by_label("What your watering can holds")
    expect(field).to_have_value("ten cups of it")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(phone.locator(f"#{field.get_attribute('aria-describedby')}")).to_be_visible()
    assert faults(phone) == []


def test_arrows_are_large_enough_for_a_thumb_and_the_page_for_a_small_screen(demo: Running, phone: Page) -> None:
    phone.set_viewport_size({"width": 320, "height": 640})
    phone.goto(f"{demo.url}/g/{demo.key}/setup")
    for button in phone.locator(".mover").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44
    assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert re.search(r"\d", phone.locator("#soils").inner_text())
