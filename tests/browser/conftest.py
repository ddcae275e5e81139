"""A running app over a fresh folder for each test, and the system's Chromium.

The demo garden is brought in and worked out once a process; each test has a copy of its folder and of what was worked out.
"""

from __future__ import annotations

import atexit
import shutil
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from starlette.testclient import TestClient

from soakbook.advice.job import Job
from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.desk import Desk, Kept
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


@cache
def prepared() -> tuple[Path, Desk]:
    """A folder with the demo garden in it, to be copied, and a desk that has worked out what its pages show."""
    folder = Path(tempfile.mkdtemp(prefix="demo-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    app = build_app(Settings(folder, today=DAY, demo=True))
    house: House = app.state.house
    key = bring_demo(house.desk).key
    with TestClient(app, base_url="http://localhost:8765", client=("127.0.0.1", 50000)) as client:
        places = [f"place/{place['id']}" for place in house.store.document(key)["places"]]
        for page in ("", *places, "weather", "season", "log"):
            assert client.get(f"/g/{key}/{page}").status_code == 200
    house.store.close()
    return folder, house.desk


def take_over(desk: Desk, other: Desk) -> None:
    """Let a desk have all that another has worked out, but for gardens, which know their folder. Copies: what either does from here on
    is its own."""
    desk._kept._things.update({k: v for k, v in other._kept._things.items() if k[0] != "garden"})  # type: ignore[index]
    desk._plans._things.update(other._plans._things)
    for key, runs in other._runs._things.items():
        mine = Kept(runs._most)
        mine._things.update(runs._things)
        desk._runs._things[key] = mine
    desk._skies.update(other._skies)


@contextmanager
def running(folder: Path, *, demo: bool = True, port: int = 0, afresh: bool = False) -> Iterator[Running]:
    """The app in a thread of this process; stopped at the end. ``afresh`` when everything is to be worked out anew, since the test has
    changed how."""
    is_copy = demo and not afresh and not (folder / "soakbook.db").exists()
    if is_copy:
        shutil.copytree(prepared()[0], folder, dirs_exist_ok=True)
    app = build_app(Settings(folder, today=DAY, demo=demo))
    house: House = app.state.house
    if is_copy:
        take_over(house.desk, prepared()[1])
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
def to_probe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Running]:
    """The app on the demo garden with a reading asked for wherever it could turn the advice, however little it is worth: which places
    the demo's round has probed first by itself hangs on the model."""
    monkeypatch.setattr("soakbook.advice.plan.PROBE_WALK", 0.0)
    with running(tmp_path, afresh=True) as app:
        assert len(of_verdict(app, "probe first")) >= 2
        yield app


def of_verdict(app: Running, verdict: str) -> list[Job]:
    """Jobs of the round of which this is said, the largest first: which places these are is not for a test to say."""
    jobs = app.house.desk.round(app.house.desk.known(app.key)).jobs
    return sorted((j for j in jobs if j.advice.verdict == verdict), key=lambda j: -j.advice.litres)


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
