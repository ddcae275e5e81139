"""The round in one file: opened from the disk of a phone without any network, written in, and handed back."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, Request, expect

from tests.browser.accessible import faults, faults_in_themes
from tests.browser.conftest import PHONE, Running, of_verdict


@pytest.fixture
def saved(to_probe: Running, phone: Page, tmp_path: Path) -> Path:
    """The file as a phone has it in its downloads."""
    phone.goto(f"{to_probe.url}/g/{to_probe.key}/take-away")
    with phone.expect_download() as download:
        phone.get_by_role("link", name="Take it along").tap()
    assert download.value.suggested_filename == "round-2017-07-08.html"
    path = tmp_path / "round-2017-07-08.html"
    download.value.save_as(path)
    return path


def opened(chromium: Browser, path: Path, **more: object) -> tuple[Page, list[Request]]:
    """The file on a phone that has no signal, and all that it asks for."""
    context = chromium.new_context(viewport=PHONE, has_touch=True, offline=True, locale="en-GB", **more)  # type: ignore[arg-type]
    page, asked = context.new_page(), []  # type: ignore[var-annotated]
    page.on("request", lambda request: asked.append(request))
    page.on("pageerror", lambda error: asked.append(error))
    page.on("console", lambda m: asked.append(m) if "Content Security Policy" in m.text else None)
    page.goto(path.as_uri())
    return page, asked


def item(page: Page, app: Running, verdict: str, nth: int = 0) -> Locator:
    """What the file has on one of the places of which this is advised."""
    return page.locator(f'[data-name="{of_verdict(app, verdict)[nth].advice.place}"]')


def amount_in(place: Locator) -> tuple[str, str]:
    """Number and unit that its form begins with."""
    return place.get_by_label("How much").input_value(), place.locator("select").input_value()


def test_written_in_without_signal_and_handed_back(
    to_probe: Running, phone: Page, chromium: Browser, saved: Path, tmp_path: Path
) -> None:
    page, asked = opened(chromium, saved)
    dry, moist, soak = (item(page, to_probe, *which) for which in (("probe first", 0), ("probe first", 1), ("soak",)))
    whole = " ".join(amount_in(dry))
    dry.get_by_role("button", name="dry").tap()
    expect(dry.locator("[data-state]")).to_have_text("It was dry: soak.")
    dry.get_by_role("button", name="Watered").tap()
    expect(dry.locator("[data-state]")).to_have_text("done")
    moist.get_by_role("button", name="moist").tap()
    expect(moist.locator("[data-state]")).to_have_text("Leave it: look again tomorrow.")
    number, unit = amount_in(soak)
    half = int(float(number) / 2)
    soak.get_by_label("How much").fill("lots")
    soak.get_by_role("button", name="Watered").tap()
    expect(soak.get_by_role("alert")).to_have_text("Write a number above 0.")
    soak.get_by_label("How much").fill(f"{half},5")
    soak.get_by_role("button", name="Watered").tap()
    expect(soak.locator("[data-state]")).to_have_text("Part of it is done.")
    page.get_by_label("Rain in the gauge", exact=True).fill("3")
    page.get_by_role("button", name="Write down rain").tap()
    page.get_by_label("A note").fill("ants on the peppers")
    page.get_by_role("button", name="Write down the note").tap()
    expect(page.locator("#count")).to_have_text("6")
    page.locator("#list li", has_text="ants").get_by_role("button").tap()
    page.reload()
    expect(page.locator("#count")).to_have_text("5")
    assert [r.url for r in asked] == [saved.as_uri()] * 2
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    with page.expect_download() as download:
        page.get_by_role("button", name="Save my list").tap()
    kept = tmp_path / download.value.suggested_filename
    download.value.save_as(kept)
    page.context.close()

    written = json.loads(kept.read_text(encoding="utf-8"))["entries"]
    assert [e["amount"] for e in written] == ["dry", whole, "moist", f"{half}.5 {unit}", "3 mm"]
    assert len({e["id"] for e in written}) == 5
    hand_back(to_probe, phone, kept)
    phone.get_by_role("button", name="Write down these 5 entries").tap()
    expect(phone.get_by_role("status").filter(has_text="5 entries are written down.")).to_be_visible()
    hand_back(to_probe, phone, kept)
    expect(phone.get_by_text("5 entries are here already")).to_be_visible()
    there = {e.id: e for e in to_probe.house.store.entries(to_probe.key)}
    assert {e["id"] for e in written} <= there.keys()
    assert there[written[1]["id"]].at[:10] == "2017-07-08"


def hand_back(demo: Running, phone: Page, kept: Path) -> None:
    phone.goto(f"{demo.url}/g/{demo.key}/take-back")
    phone.get_by_label("The file that was saved on the phone").set_input_files(kept)
    phone.get_by_role("button", name="Look at the list").tap()


def test_copied_as_text(to_probe: Running, phone: Page, chromium: Browser, saved: Path) -> None:
    page, _ = opened(chromium, saved)
    name = of_verdict(to_probe, "probe first")[0].advice.place
    item(page, to_probe, "probe first").get_by_role("button", name="wet").tap()
    page.get_by_role("button", name="Copy my list").tap()
    text = page.get_by_label("The list as text").input_value()
    page.context.close()
    phone.goto(f"{to_probe.url}/g/{to_probe.key}/take-back")
    phone.get_by_label("or the text that was copied there").fill("From the plot:\n" + text)
    phone.get_by_role("button", name="Look at the list").tap()
    expect(phone.locator("main li", has_text=name)).to_be_visible()
    phone.get_by_role("button", name="Write down this entry").tap()
    expect(phone.get_by_role("status").filter(has_text="1 entry is written down.")).to_be_visible()
    assert any(e.amount == "wet" for e in to_probe.house.store.entries(to_probe.key))


def test_readable_without_script(to_probe: Running, chromium: Browser, saved: Path) -> None:
    page, _ = opened(chromium, saved, java_script_enabled=False)
    for verdict in ("soak", "probe first"):
        expect(item(page, to_probe, verdict).locator(".amount")).to_have_text(re.compile(r"^[\d ]+(L|min|h|cans)"))
    expect(page.get_by_text("Without script this page is for reading")).to_be_visible()
    expect(page.get_by_role("button", name="Save my list")).to_be_hidden()
    page.context.close()


def test_says_when_it_is_not_of_today(chromium: Browser, saved: Path, tmp_path: Path) -> None:
    text = saved.read_text(encoding="utf-8")
    older = tmp_path / "older.html"
    older.write_text(text.replace('"held": "2017-07-08"', '"held": "2017-07-10"'), encoding="utf-8")
    page, _ = opened(chromium, older)
    expect(page.get_by_text("This round is not of today")).to_be_visible()
    page.goto(saved.as_uri())
    expect(page.get_by_text("This round is not of today")).to_be_hidden()
    expect(page.locator("#age")).to_have_text("Made just now.")
    page.context.close()


def test_axe_finds_nothing_in_the_file(to_probe: Running, chromium: Browser, saved: Path) -> None:
    page, _ = opened(chromium, saved)
    item(page, to_probe, "probe first").get_by_role("button", name="dry").tap()
    page.get_by_role("button", name="Copy my list").tap()
    for details in page.locator("details").all()[:2]:
        details.evaluate("d => { d.open = true; }")
    assert faults_in_themes(page) == []
    page.context.close()


def test_entries_that_cannot_be_used_are_shown_and_saved(demo: Running, phone: Page) -> None:
    bad = {
        "id": "x1",
        "at": "2017-07-08T06:00",
        "kind": "water",
        "place": "gone",
        "place_name": "rose bed",
        "amount": "9 L",
    }
    data = {"kind": "soakbook_list", "version": 1, "garden": demo.key, "entries": [bad]}
    phone.goto(f"{demo.url}/g/{demo.key}/take-back")
    phone.get_by_label("or the text that was copied there").fill(json.dumps(data))
    phone.get_by_role("button", name="Look at the list").tap()
    expect(
        phone.get_by_text("there is no place “rose bed”").or_(phone.get_by_text('there is no place "rose bed"'))
    ).to_be_visible()
    assert faults(phone) == []
    with phone.expect_download() as download:
        phone.get_by_role("button", name="Save what cannot be written down").tap()
    assert json.loads(Path(download.value.path()).read_text(encoding="utf-8"))["entries"] == [bad]
