"""Charts and cut in a real browser under the policy of the pages: drawn, read by keys and touch, and nothing refused."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from datetime import date, timedelta
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files

import pytest
from playwright.sync_api import Browser, Page, expect

from soakbook.app.charts import Chart, DayWeather, Held, balance_through_time, week_strip
from soakbook.app.cut import cut_svg
from tests.unit.app.plain_reader import PlainReader
from tests.unit.app.test_charts import REASONS, reasons_chart
from tests.unit.app.test_cut import BED

POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'"
STATIC = files("soakbook.app") / "static"
TYPES = {"js": "text/javascript", "css": "text/css"}
THEME = """:root { --paper: #fff; --ink: #111; --water: #0b5c8a; } body { background: var(--paper); margin: 0 8px; }
:root[data-theme="dark"] { --paper: #111; --ink: #eee; --water: #8cf; }"""

FIRST = date(2017, 7, 3)
WEEK = [DayWeather(FIRST + timedelta(days=i), 5.0, 6.0 if i == 1 else 0.0) for i in range(7)]
HELD = Held(
    FIRST, 4, [0.1, 0.2, 0.3, 0.45, 0.5, 0.55, 0.62], [0.5] * 7, [(FIRST, 20.0)], [(FIRST, 11.0)], [(FIRST, 0.35)],
    bands=[("nine of ten", [0.4, 0.45, 0.5], [0.6, 0.7, 0.8])],
)  # fmt: skip


def figure(chart: Chart) -> str:
    block = json.dumps(chart.block).replace("<", "\\u003c")
    return (
        f'<figure class="chart" data-chart="{chart.name}"><figcaption id="t-{chart.name}">{escape(chart.title)}</figcaption>'
        f'<script type="application/json" class="chart-data">{block}</script>'
        f'<div class="chart-plot" role="img" aria-labelledby="t-{chart.name}"></div></figure>'
    )


def page_of(body: str, head: str = "") -> str:
    links = "".join(f'<link rel="stylesheet" href="{name}">' for name in ("theme.css", "charts.css", "cut.css"))
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Charts</title><link rel="icon" href="data:,">{links}{head}'
        f'<script type="module" src="charts.js"></script><main>{body}</main></html>'
    )


READER = PlainReader()
FIGURES = [week_strip(WEEK, READER), balance_through_time(HELD, READER), reasons_chart(REASONS, READER)]
PAGES = {
    "/all": page_of("".join(map(figure, FIGURES)) + cut_svg(BED, READER)),
    "/none": page_of("<p>No chart here.</p>"),
    "/bad": page_of("<p>Refused.</p>", "<style>p { color: red }</style>"),
}


class Site(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        name = self.path.lstrip("/")
        if self.path in PAGES:
            kind, body = "text/html; charset=utf-8", PAGES[self.path].encode()
        elif name == "theme.css":
            kind, body = "text/css", THEME.encode()
        else:
            kind, body = TYPES[name.rpartition(".")[2]], (STATIC / name).read_bytes()
        self.send_response(200)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Content-Security-Policy", POLICY)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Keep the test's output clean."""


@pytest.fixture(scope="module")
def site() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), Site) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join()


@pytest.fixture
def said() -> list[str]:
    return []


@pytest.fixture
def page(chromium: Browser, said: list[str]) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    yield page
    context.close()


def drawn(page: Page, url: str) -> None:
    page.goto(url)
    expect(page.locator(".chart-plot svg")).to_have_count(3)


def test_the_policy_refuses_what_it_should(page: Page, site: str, said: list[str]) -> None:
    page.goto(f"{site}/bad")
    assert any("Content Security Policy" in text for text in said)


def test_charts_and_cut_are_drawn_and_nothing_is_refused(page: Page, site: str, said: list[str]) -> None:
    drawn(page, f"{site}/all")
    assert said == []
    assert page.locator("[data-chart=week] .look-demand.mark-bar rect").count() == 7
    assert page.locator("[data-chart=balance] .look-watering path").count() == 1
    assert page.locator("style").count() == 0
    assert page.locator("[style]").count() == 0
    assert page.locator("svg.cut").bounding_box()["width"] > 300  # type: ignore[index]


def test_bars_stand_in_proportion(page: Page, site: str) -> None:
    drawn(page, f"{site}/all")
    high = page.locator("[data-chart=week] .look-demand.mark-bar rect").evaluate_all(
        "all => all.map(r => +r.getAttribute('height'))"
    )
    wet = page.locator("[data-chart=week] .look-rain.mark-bar rect").evaluate_all(
        "all => all.map(r => +r.getAttribute('height'))"
    )
    assert wet[1] / high[1] == pytest.approx(6.0 / 5.0, rel=1e-3)


def test_nothing_drops_out_to_the_sides_on_a_phone(page: Page, site: str) -> None:
    drawn(page, f"{site}/all")
    outside = page.locator(".chart-plot svg text").evaluate_all(
        "all => all.filter(t => { const b = t.getBoundingClientRect(); return b.left < 0 || b.right > innerWidth; }).map(t => t.textContent)"
    )
    assert outside == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_arrow_keys_read_point_by_point(page: Page, site: str) -> None:
    drawn(page, f"{site}/all")
    reader = page.locator("[data-chart=week] .chart-reader")
    reader.focus()
    line = page.locator("[data-chart=week] .chart-said")
    for key, at in (("ArrowRight", 0), ("ArrowRight", 1), ("End", 6), ("ArrowRight", 6), ("ArrowLeft", 5), ("Home", 0)):
        page.keyboard.press(key)
        label = FIGURES[0].block["points"][at]["label"]
        assert line.text_content() == label
        assert reader.get_attribute("aria-valuetext") == label
        assert reader.get_attribute("aria-valuenow") == str(at + 1)
    assert reader.get_attribute("role") == "slider"


def test_a_finger_reads_the_day_under_it(page: Page, site: str) -> None:
    drawn(page, f"{site}/all")
    bar = page.locator("[data-chart=week] .look-rain.mark-bar rect").nth(1).bounding_box()
    assert bar is not None
    page.touchscreen.tap(bar["x"] + bar["width"] / 2, bar["y"] + bar["height"] / 2)
    line = page.locator("[data-chart=week] .chart-said")
    assert line.text_content() == FIGURES[0].block["points"][1]["label"]
    assert line.get_attribute("aria-live") == "polite"


def test_width_and_theme_and_paper(page: Page, site: str, said: list[str]) -> None:
    drawn(page, f"{site}/all")
    svg, line = (
        page.locator("[data-chart=balance] .chart-plot svg"),
        page.locator("[data-chart=balance] .look-held path"),
    )
    light = line.evaluate("e => getComputedStyle(e).stroke")
    page.set_viewport_size({"width": 900, "height": 844})
    expect(svg).to_have_attribute("width", re.compile(r"^[5-9]\d\d"))
    page.evaluate("document.documentElement.dataset.theme = 'dark'")
    assert line.evaluate("e => getComputedStyle(e).stroke") != light
    page.set_viewport_size({"width": 390, "height": 844})
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert float(svg.get_attribute("width") or 0) == 680
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert float(svg.get_attribute("width") or 0) < 390
    assert said == []


def test_a_part_swapped_in_later_is_drawn_once(page: Page, site: str) -> None:
    drawn(page, f"{site}/all")
    count = page.evaluate(
        """async () => {
            const {drawAll} = await import('/charts.js');
            const old = document.querySelector('[data-chart=week]');
            const fresh = new DOMParser().parseFromString(await (await fetch('/all')).text(), 'text/html').querySelector('[data-chart=week]');
            old.replaceWith(document.adoptNode(fresh));
            await Promise.all([drawAll(), drawAll(document)]);
            return [document.querySelectorAll('.chart-plot svg').length, document.querySelectorAll('.chart-reader').length,
                    document.querySelectorAll('[data-chart=week] .chart-key').length];
        }"""
    )
    assert count == [3, 3, 1]


def test_the_drawing_library_is_left_alone_without_a_chart(page: Page, site: str) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url.rpartition("/")[2]))
    page.goto(f"{site}/none", wait_until="networkidle")
    assert "charts.js" in asked
    assert "plot.js" not in asked


def test_dashes_and_patterns_tell_lines_and_bars_apart(page: Page, site: str) -> None:
    drawn(page, f"{site}/all")
    dash = {
        look: page.locator(f"[data-chart=balance] .look-{look}.mark-line path").evaluate(
            "e => getComputedStyle(e).strokeDasharray"
        )
        for look in ("held", "ahead", "limit")
    }
    assert len(set(dash.values())) == 3
    fill = {
        look: page.locator(f"[data-chart=reasons] .look-{look}.mark-bar rect").first.evaluate(
            "e => getComputedStyle(e).fill"
        )
        for look in ("taken", "came", "missing")
    }
    assert fill["taken"].startswith("url(")
    assert len(set(fill.values())) == 3
