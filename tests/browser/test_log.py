"""The log as a person keeps it, on a phone and at a desk."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests.browser.accessible import WCAG, faults_in_themes
from tests.browser.conftest import PHONE, Running

NARROW = {"width": 320, "height": 640}


def picture(browser: Browser, path: Path) -> None:
    """A picture as large as a camera makes them."""
    context = browser.new_context(viewport={"width": 2400, "height": 1800})
    page = context.new_page()
    page.set_content(
        "<body style='margin:0;background:repeating-linear-gradient(37deg,#3c6a2a,#f0c455 7px,#7b5b3a 13px)'>"
    )
    page.screenshot(path=path)
    context.close()


def test_a_note_with_a_photo_from_the_phone(demo: Running, phone: Page, chromium: Browser, tmp_path: Path) -> None:
    shot = tmp_path / "leaf.png"
    picture(chromium, shot)
    phone.goto(f"{demo.url}/g/{demo.key}/log")
    phone.get_by_role("link", name="Note or photo").tap()
    phone.get_by_label("Place", exact=True).select_option(label="bean rows")
    phone.get_by_label("What you saw").fill("holes in the leaves")
    phone.get_by_role("link", name="Yesterday evening").tap()
    expect(phone.get_by_label("Day")).to_have_value("2017-07-07")
    expect(phone.get_by_label("Time")).to_have_value("19:00")
    expect(phone.get_by_label("What you saw")).to_have_value("holes in the leaves")
    phone.get_by_label("Take a photo").set_input_files(shot)
    phone.get_by_role("button", name="Write it down").tap()
    expect(phone.get_by_role("status")).to_contain_text("Written down")
    entry = phone.locator(".entry", has_text="holes in the leaves")
    expect(entry.get_by_role("img")).to_have_js_property("complete", True)
    (photo,) = next(e for e in demo.house.store.entries(demo.key) if e.text == "holes in the leaves").photos
    media_type, data = demo.house.store.photo(demo.key, photo)
    assert (media_type, len(data) < min(1_500_000, shot.stat().st_size)) == ("image/jpeg", True)
    assert entry.get_by_role("img").evaluate("image => [image.naturalWidth, image.naturalHeight]") == [1600, 1200]


def test_many_places_yesterday_morning_and_back_again(demo: Running, phone: Page) -> None:
    before = len(demo.house.store.entries(demo.key))
    phone.goto(f"{demo.url}/g/{demo.key}/log")
    phone.get_by_role("link", name="Yesterday", exact=True).tap()
    expect(phone.get_by_label("Time")).to_have_value("07:00")
    phone.get_by_label("How much · carrot rows").fill("2")
    phone.get_by_label("How much · basil in clay").fill("4,5")
    phone.get_by_label("Unit of basil in clay").select_option("L")
    phone.get_by_label("How much · kale seed tray").fill("some")
    phone.get_by_role("button", name="Write all of it down").tap()
    expect(phone.get_by_label("How much · kale seed tray")).to_have_attribute("aria-invalid", "true")
    assert len(demo.house.store.entries(demo.key)) == before
    phone.get_by_label("How much · kale seed tray").fill("")
    phone.get_by_role("button", name="Write all of it down").tap()
    expect(phone.get_by_role("status")).to_contain_text("2 entries are written down")
    assert len(demo.house.store.entries(demo.key)) == before + 2
    phone.get_by_role("button", name="Undo").tap()
    expect(phone.get_by_role("status")).to_contain_text("2 entries are taken out")
    assert len(demo.house.store.entries(demo.key)) == before


def test_the_list_follows_what_is_asked_for_and_an_entry_is_changed(demo: Running, desk: Page) -> None:
    desk.goto(f"{demo.url}/g/{demo.key}/log")
    desk.get_by_text("Show only some").click()
    desk.get_by_label("Words in it").fill("soaker")
    expect(desk.locator(".count")).to_contain_text("of 45 entries")
    desk.get_by_role("link", name="Edit").first.click()
    desk.get_by_label("How much").fill("60")
    desk.get_by_role("button", name="Keep the change").click()
    expect(desk.get_by_role("status")).to_contain_text("Bean rows got 75 L in 1 h")
    desk.get_by_role("button", name="Undo").click()
    expect(desk.get_by_role("status")).to_contain_text("Bean rows got 94 L in 1 h 15 min")


def test_going_back_and_sending_again_counts_once_and_another_amount_is_another_entry(
    demo: Running, phone: Page
) -> None:
    before = len(demo.house.store.entries(demo.key))
    phone.goto(f"{demo.url}/g/{demo.key}/log/new?kind=rain")
    for amount, more in [("5", 1), ("5", 1), ("6", 2)]:
        phone.get_by_label("What the gauge caught").fill(amount)
        phone.get_by_role("button", name="Write it down").tap()
        expect(phone.get_by_role("status")).to_contain_text(f"It rained {amount} mm")
        assert len(demo.house.store.entries(demo.key)) == before + more
        phone.go_back()


def test_every_page_of_the_log_can_be_used_by_all(demo: Running, chromium: Browser) -> None:
    context = chromium.new_context(viewport=NARROW, has_touch=True)  # type: ignore[arg-type]
    page = context.new_page()
    demo.house.store.remove(demo.key, "d05")
    root = f"{demo.url}/g/{demo.key}/log"
    for path in (
        "?did=removed&id=d05&removed=yes&words=soaker", "/new", "/new?kind=water", "/new?kind=reading", "/new?kind=note", "/new?kind=forget",
        "/many", "/files", "/entry/d05", "/entry/d06",
    ):  # fmt: skip
        page.goto(root + path)
        assert faults_in_themes(page, tags=WCAG) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    page.goto(f"{root}/many")
    page.get_by_role("button", name="Write all of it down").tap()
    expect(page.get_by_role("alert")).to_be_visible()
    assert faults_in_themes(page) == []
    context.close()


def test_without_script(demo: Running, chromium: Browser, tmp_path: Path) -> None:
    shot = tmp_path / "bed.png"
    picture(chromium, shot)
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False, locale="en-GB")  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{demo.url}/g/{demo.key}/log/new?kind=water")
    page.get_by_role("link", name="Yesterday morning").click()
    page.get_by_label("Place", exact=True).select_option(label="carrot rows")
    page.get_by_label("How much, over the whole place").fill("1,5")
    page.get_by_label("Choose photos").set_input_files(shot)
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status")).to_contain_text("Carrot rows got")
    expect(page.locator(".entry", has_text="Carrot rows got").get_by_role("img")).to_be_visible()
    context.close()
