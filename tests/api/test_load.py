"""A hundred phones on one garden: nothing lost, and nobody waits."""

from __future__ import annotations

import asyncio
import random
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest

from soakbook.store import open_store
from tests.pace import within
from tests.ports import free_port

pytestmark = pytest.mark.bench  # alone on the machine, after the other tests

PHONES = 100
TURNS = 3
#: Seconds between two taps of one phone, on average. Nobody taps faster than once in two seconds while watering.
BETWEEN_S = 2.0
SERVER = """
import sys
from pathlib import Path
import uvicorn
from soakbook.app.bring import bring_demo
from soakbook.app.build import build_app
from soakbook.app.settings import Settings
from soakbook.demo import DAY
app = build_app(Settings(Path(sys.argv[1]), today=DAY, demo=True))
desk = app.state.house.desk
print(bring_demo(desk).key, flush=True)
desk.round(desk.known(desk.store.gardens()[0].key))
uvicorn.run(app, port=int(sys.argv[2]), log_level="warning", access_log=False)
"""


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[str, str]]:
    """The app in a process of its own: its address and the demo garden's key."""
    port = free_port()
    with subprocess.Popen(
        [sys.executable, "-c", SERVER, str(tmp_path), str(port)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        key = process.stdout.readline().strip()
        url = f"http://127.0.0.1:{port}"
        for _ in range(200):
            try:
                httpx2.get(f"{url}/healthy", timeout=5)
                break
            except httpx2.TransportError:
                time.sleep(0.05)
        # Somebody has looked at the round before: what the first page after a start takes has a budget of its own (test_budgets.py).
        for _ in range(2):
            assert httpx2.get(f"{url}/g/{key}/", timeout=30).status_code == 200
        yield url, key
        process.terminate()


async def phone(url: str, key: str, number: int, taken: list[float], written: list[str]) -> None:
    """One phone: looks at the round, writes a watering down, asks whether others did anything; and again."""
    dice = random.Random(number)
    async with httpx2.AsyncClient(
        timeout=30, verify=False, limits=httpx2.Limits(keepalive_expiry=2), headers={"accept-encoding": "gzip"}
    ) as client:

        async def timed(method: str, path: str, **more: object) -> httpx2.Response:
            await asyncio.sleep(dice.expovariate(1.0 / BETWEEN_S))
            start = time.perf_counter()
            answer = await client.request(method, url + path, **more)  # type: ignore[arg-type]
            taken.append(time.perf_counter() - start)
            return answer

        for turn in range(TURNS):
            page = await timed("GET", f"/g/{key}/")
            assert page.status_code == 200
            place = dice.choice(re.findall(r'id="p-([0-9a-f]+)"', page.text))
            entry = f"phone{number}-{turn}"
            form = {"place": place, "number": "1", "unit": "L", "id": entry, "anyway": "yes"}
            answer = await timed("POST", f"/g/{key}/done", data=form)
            assert answer.status_code == 303, answer.text
            written.append(entry)
            assert (await timed("GET", f"/g/{key}/stamp")).status_code == 200


def test_a_hundred_phones(served: tuple[str, str], tmp_path: Path) -> None:
    url, key = served
    taken: list[float] = []
    written: list[str] = []

    async def crowd() -> None:
        await asyncio.wait_for(
            asyncio.gather(*(phone(url, key, n, taken, written) for n in range(PHONES))), timeout=120
        )

    asyncio.run(crowd())
    with open_store(tmp_path) as store:
        kept = {e.id for e in store.entries(key)}
    assert len(written) == PHONES * TURNS
    assert set(written) <= kept
    p95 = statistics.quantiles(taken, n=20)[-1]
    print(
        f"\n{PHONES} phones, {len(taken)} requests: median {1000 * statistics.median(taken):.0f} ms, p95 {1000 * p95:.0f} ms"
    )
    assert within(p95, 2 * 0.3)  # the budget twice, as absolute times have on machines that others share
