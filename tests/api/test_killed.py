"""The app killed in the middle of its work, again and again: what it said was written down is there, and whole."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import httpx2
import pytest

from soakbook.app.bring import bring_demo
from soakbook.app.desk import Desk
from soakbook.demo import DAY
from soakbook.store import open_store
from tests.ports import free_port

ROUNDS = 5
SERVER = """
import sys
from datetime import date
from pathlib import Path
import uvicorn
from soakbook.app.build import build_app
from soakbook.app.settings import Settings
app = build_app(Settings(Path(sys.argv[1]), today=date.fromisoformat(sys.argv[3]), demo=True))
uvicorn.run(app, port=int(sys.argv[2]), log_level="critical", access_log=False)
"""


def write(url: str, key: str, places: list[str], mark: str, acknowledged: list[str]) -> None:
    """One phone that writes as fast as it can until nobody answers."""
    with httpx2.Client(timeout=30) as client:
        for n in range(10_000):
            entry = f"{mark}-{n}"
            form = {
                "place": places[n % len(places)],
                "number": str(n % 9 + 1),
                "unit": "L",
                "id": entry,
                "anyway": "yes",
            }
            try:
                answer = client.post(f"{url}/g/{key}/done", data=form)
            except httpx2.TransportError:
                return
            if answer.status_code == 303:
                acknowledged.append(entry)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    dice = random.Random(20260501)
    with open_store(tmp_path) as store:
        key = bring_demo(Desk(store, DAY)).key
        places = [p["id"] for p in store.document(key)["places"]]
        before = len(store.entries(key))
    acknowledged: list[str] = []
    port = free_port()
    url = f"http://127.0.0.1:{port}"
    for number in range(ROUNDS):
        command = [sys.executable, "-c", SERVER, str(tmp_path), str(port), DAY.isoformat()]
        with subprocess.Popen(command, stderr=subprocess.DEVNULL) as process:
            _until_it_answers(url)
            phones = [
                threading.Thread(target=write, args=(url, key, places, f"r{number}p{n}", acknowledged))
                for n in range(3)
            ]
            so_far = len(acknowledged)
            for phone in phones:
                phone.start()
            _until_some_are(acknowledged, so_far + 3)  # on a busy machine the first take long
            time.sleep(dice.uniform(0.0, 0.5))
            process.send_signal(signal.SIGKILL)
            for phone in phones:
                phone.join(15)
    with open_store(tmp_path) as store:
        kept = {e.id: e for e in store.entries(key)}
    assert len(acknowledged) > 2 * ROUNDS
    assert set(acknowledged) <= set(kept)
    written = [e for e in kept.values() if e.id.startswith("r")]
    assert len(kept) - before - len(acknowledged) <= 3 * ROUNDS  # at most one each that was not acknowledged in time
    assert all(e.amount.endswith(" L") and e.place_id in places and e.at[:10] == DAY.isoformat() for e in written)


def _until_some_are(acknowledged: list[str], count: int) -> None:
    until = time.monotonic() + 30
    while len(acknowledged) < count and time.monotonic() < until:
        time.sleep(0.01)


def _until_it_answers(url: str) -> None:
    until = time.monotonic() + 30
    while time.monotonic() < until:
        try:
            if httpx2.get(f"{url}/healthy", timeout=5).status_code == 200:
                return
        except httpx2.TransportError:
            time.sleep(0.05)
    raise AssertionError(f"nothing answered at {url}")
