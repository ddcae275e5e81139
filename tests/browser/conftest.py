"""A running app over a fresh folder for each test, and the system's Chromium."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.pages import House
from soakbook.app.settings import Settings
from soakbook.demo import DAY

CHROMIUM = next((p for n in ("chromium", "chromium-browser", "google-chrome") if (p := shutil.which(n))), None)
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--disable-quic",
]  # fmt: skip
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Without a browser these tests are left out, and say so."""
    if CHROMIUM is None:
        for item in items:
            if "tests/browser" in str(item.path):
                item.add_marker(pytest.mark.skip(reason="no Chromium on this machine (apt install chromium)"))


@dataclass(frozen=True)
class Running:
    """An app that answers at ``url``."""

    url: str
    house: House
    key: str


@contextmanager
def running(folder: Path, *, demo: bool = True, port: int = 0) -> Iterator[Running]:
    """The app in a thread of this process; stopped at the end."""
    app = build_app(Settings(folder, today=DAY, demo=demo))
    house: House = app.state.house
    key = bring_demo(house.desk).key if demo else ""
    if demo:
        house.desk.round(house.desk.known(key))
    with socket.socket() as bound:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind(("127.0.0.1", port))
        bound.listen(128)
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off", access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [bound]}, daemon=True)
        thread.start()
        until = time.monotonic() + 20
        while not server.started and time.monotonic() < until:
            time.sleep(0.01)
        try:
            yield Running(f"http://127.0.0.1:{bound.getsockname()[1]}", house, key)
        finally:
            server.should_exit = True
            thread.join(10)
            house.store.close()


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Running]:
    """The app on the demo garden."""
    with running(tmp_path) as app:
        yield app


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Running]:
    """The app with no garden yet."""
    with running(tmp_path, demo=False) as app:
        yield app


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The system's browser."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def phone(chromium: Browser) -> Iterator[Page]:
    """A page of the size of a phone, with touch. Errors in scripts fail the test."""
    yield from _page(chromium.new_context(viewport=PHONE, has_touch=True, locale="en-GB"))  # type: ignore[arg-type]


@pytest.fixture
def desk(chromium: Browser) -> Iterator[Page]:
    """A page of the size of a desk."""
    yield from _page(chromium.new_context(viewport=DESK, locale="en-GB"))  # type: ignore[arg-type]


def _page(context: BrowserContext) -> Iterator[Page]:
    context.set_default_timeout(15_000)
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda m: wrong.append(m.text) if "Content Security Policy" in m.text else None)
    yield page
    context.close()
    assert not wrong, wrong
