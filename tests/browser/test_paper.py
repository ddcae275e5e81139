"""Sheets as Chromium prints them: pages counted, all places on them, nothing smaller than it can be read."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from tests.browser.accessible import faults
from tests.browser.conftest import DESK, PHONE, Running, running

#: Width and height in mm: ISO 216 and ANSI Y14.1.
SIZES = {"a4": (210, 297), "letter": (216, 279), "a6": (105, 148)}
LEAST_PX = 7 / 72 * 96  # 7 pt


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("paper")) as app:
        yield app


def opened(browser: Browser, app: Running, size: dict[str, int] = DESK, **chosen: str) -> Page:
    context = browser.new_context(viewport=size, locale="en-GB")  # type: ignore[arg-type]
    context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(chosen)), "url": app.url}])
    return context.new_page()


def printed(page: Page, address: str) -> PdfReader:
    page.goto(address)
    return PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))


def text_of(made: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in made.pages).split())


def names(app: Running) -> list[str]:
    return [place["name"] for place in app.house.store.document(app.key)["places"]]


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("chosen", [("en", "metric"), ("en", "US"), ("es", "metric")])
def test_round_and_card_are_one_page(app: Running, chromium: Browser, paper: str, chosen: tuple[str, str]) -> None:
    page = opened(chromium, app, language=chosen[0], units=chosen[1])
    for kind in ("round", "card"):
        made = printed(page, f"{app.url}/g/{app.key}/print/{kind}?paper={paper}")
        assert len(made.pages) == 1, kind
        width, height = (round(float(x) / 72 * 25.4) for x in made.pages[0].mediabox[2:])
        assert (width, height) == SIZES[paper]
        text = text_of(made)
        missing = [name for name in names(app) if name not in text]
        assert not missing
        assert "Print" not in text
    page.context.close()


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_timer_card_is_one_clean_page(app: Running, chromium: Browser, language: str) -> None:
    """Only the card: no form, no button, no way about the app."""
    page = opened(chromium, app, PHONE, language=language, units="metric")
    made = printed(page, f"{app.url}/g/{app.key}/timer?programmes=2&starts=4&days=weekdays&step=1")
    assert len(made.pages) == 1
    text = text_of(made)
    for words in ("soaker", "north", "carrot rows"):
        assert words in text
    assert "04:00-10:00" not in text
    assert "tomato bed" not in text  # what it does stays on the screen
    assert len(page.locator("header.top:visible, nav:visible").all()) > 0
    page.emulate_media(media="print")
    assert page.locator("header.top:visible, nav:visible, form:visible, button:visible").all() == []
    page.context.close()


@pytest.mark.parametrize("paper", SIZES)
def test_a_place_is_one_page(app: Running, chromium: Browser, paper: str) -> None:
    page = opened(chromium, app, language="en", units="metric")
    for place in app.house.store.document(app.key)["places"]:
        made = printed(page, f"{app.url}/g/{app.key}/print/place/{place['id']}?paper={paper}")
        assert len(made.pages) == 1, place["name"]
        text = text_of(made)
        assert place["name"] in text
        assert "What is missing" in text
        assert "probe here" in text
    page.context.close()


def test_nothing_is_smaller_than_seven_points(app: Running, chromium: Browser) -> None:
    page = opened(chromium, app, language="en", units="metric")
    page.emulate_media(media="print")
    place = app.house.store.document(app.key)["places"][0]["id"]
    for path in ("round", "card", f"place/{place}"):
        page.goto(f"{app.url}/g/{app.key}/print/{path}?paper=a6")
        least = page.evaluate(
            """() => Math.min(...[...document.querySelectorAll('.sheet *')].filter(e => e.getClientRects().length
                && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())).map(e => {
                  const scale = e.ownerSVGElement ? e.ownerSVGElement.getScreenCTM().a : 1;
                  return parseFloat(getComputedStyle(e).fontSize) * scale;
                }))"""
        )
        assert least >= LEAST_PX - 0.01, path
    page.context.close()


def test_many_places_go_on_numbered_pages(app: Running, chromium: Browser, tmp_path: Any) -> None:
    with running(tmp_path) as other:
        store, desk = other.house.store, other.house.desk

        def more(document: dict[str, Any]) -> dict[str, Any]:
            alike = [p for p in document["places"] if "line" not in p]
            extra = [{**p, "name": f"{p['name']} {n}", "id": f"{p['id'][:5]}{n}"} for n in range(2, 7) for p in alike]
            return {**document, "places": [*document["places"], *extra]}

        store.change(other.key, more, check=lambda document: None)
        assert len(desk.known(other.key).garden.places) > 40
        page = opened(chromium, other, language="en", units="metric")
        for paper in SIZES:
            for kind in ("round", "card"):
                made = printed(page, f"{other.url}/g/{other.key}/print/{kind}?paper={paper}")
                total = len(made.pages)
                assert total > 1
                for number, sheet in enumerate(made.pages, start=1):
                    assert f"page {number} of {total}" in " ".join(sheet.extract_text().split()), (paper, kind)
                text = text_of(made)
                assert all(name in text for name in names(other))
        page.context.close()


def test_the_button_prints(app: Running, chromium: Browser) -> None:
    page = opened(chromium, app)
    page.add_init_script("window.print = () => { document.documentElement.dataset.printed = 'yes'; }")
    page.goto(f"{app.url}/g/{app.key}/print/round")
    page.get_by_role("button", name="Print").click()
    assert page.evaluate("document.documentElement.dataset.printed") == "yes"
    page.context.close()


def test_without_script_a_sentence(app: Running, chromium: Browser) -> None:
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{app.url}/g/{app.key}/print/round")
    assert page.get_by_text("Choose Print in your browser's menu.").is_visible()
    assert page.get_by_role("button", name="Print").count() == 0
    context.close()


def test_letter_for_readers_with_gallons(app: Running, chromium: Browser) -> None:
    page = opened(chromium, app, units="US")
    made = printed(page, f"{app.url}/g/{app.key}/print/round")
    assert round(float(made.pages[0].mediabox[2])) == 612
    page.context.close()


def test_lines_filled_in_are_on_the_card(app: Running, chromium: Browser) -> None:
    page = opened(chromium, app, language="en", units="metric")
    page.goto(f"{app.url}/g/{app.key}/print/card?paper=a6")
    page.get_by_text("Fill in the lines here").click()
    page.get_by_label("Where the tap and the cans are").fill("behind the shed")
    page.get_by_role("button", name="Put it on the card").click()
    page.wait_for_url("**tap=behind*")
    made = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert "behind the shed" in text_of(made)
    assert len(made.pages) == 1
    page.context.close()


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_on_the_screen_axe_finds_nothing_and_nothing_runs_off(
    app: Running, chromium: Browser, size: dict[str, int]
) -> None:
    page = opened(chromium, app, size)
    place = app.house.store.document(app.key)["places"][1]["id"]
    for path in ("round", "card", f"place/{place}"):
        for paper in SIZES:
            page.goto(f"{app.url}/g/{app.key}/print/{path}?paper={paper}")
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
            sheet = page.locator(".sheet").first.bounding_box()
            assert sheet is not None
            assert sheet["x"] >= 0
            assert sheet["x"] + sheet["width"] <= size["width"]
        assert faults(page) == []
    page.context.close()
