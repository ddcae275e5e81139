"""Every page: nothing axe finds, nothing that runs off a narrow screen, nothing the policy refuses, in English and Spanish."""

from __future__ import annotations

import json
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.conftest import PHONE, Running, running

PLACE = "{g}/place/{p}"
PAGES = [
    "/", PLACE, "{g}/log", "{g}/log/new?kind=water", "{g}/log/new?kind=reading", "{g}/log/many", "{g}/log/files", "{g}/weather", "{g}/season",
    "{g}/setup", "{g}/print/round", "{g}/print/card", "{g}/take-away", "{g}/take-back", "/ask",
    "/ask?where=Lyon&plant=tomato&soil=loam", "/people", "/you", "/about", "/gardens", "/offline", "/plants", "/plants/carrot", "/soils", "/sign-in",
    "/nowhere",
]  # fmt: skip
#: What WCAG 2.2 AA asks of pages, and what is good practice beside.
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("app")) as app:
        yield app


def opened(browser: Browser, app: Running, path: str, **chosen: str) -> tuple[Page, list[str]]:
    context = browser.new_context(viewport=PHONE, service_workers="block", locale="en-GB")  # type: ignore[arg-type]
    context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(chosen)), "url": app.url}])
    page, wrong = context.new_page(), []  # type: ignore[var-annotated]
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda m: wrong.append(m.text) if "Content Security Policy" in m.text else None)
    place = app.house.store.document(app.key)["places"][1]["id"]
    page.goto(app.url + path.format(g=f"/g/{app.key}", p=place))
    page.wait_for_load_state("networkidle")
    return page, wrong


@pytest.mark.parametrize("path", PAGES)
def test_page(app: Running, chromium: Browser, path: str) -> None:
    page, wrong = opened(chromium, app, path, language="en")
    for theme in ("light", "dark", "sun"):
        page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        found = Axe().run(page, options=RULES)
        assert found.violations_count == 0, f"{path} in {theme}: {found.generate_report()}"
    for width in (640, 320):
        page.set_viewport_size({"width": width, "height": 700})
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (
            f"{path} runs off at {width} px"
        )
    assert not wrong
    page.context.close()


@pytest.mark.parametrize("path", ["/", PLACE, "{g}/season", "{g}/setup", "/ask?where=Lyon&plant=tomate&soil=loam"])
def test_in_spanish(app: Running, chromium: Browser, path: str) -> None:
    page, wrong = opened(chromium, app, path, language="es", units="metric", decimal=",")
    assert page.evaluate("document.documentElement.lang") == "es"
    words = page.inner_text("main")
    for english in (" the ", " of ", "Soak", "Watered", " each "):
        assert english not in words, f"{english!r} on {path}"
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert not wrong
    page.context.close()
