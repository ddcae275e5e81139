"""How long a person waits: help, look-ups, a cold round of the twelve-place demo garden, a warm one, a bare import.

A cold start is held against a bare process that imports the libraries, in the same run; what is warm gets the design's budget three times.
What was measured is printed.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from statistics import median

import pytest

from tests.pace import cold, imports_s, within

pytestmark = [pytest.mark.bench, pytest.mark.timeout(300)]


def cold_seconds(*arguments: str, rounds: int = 5) -> float:
    """Median wall time of a fresh interpreter."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, *arguments], check=True, capture_output=True, env={**os.environ, "COLUMNS": "80"}
        )
        times.append(time.perf_counter() - start)
    return median(times)


@pytest.fixture(scope="module")
def peer_s() -> float:
    """A bare process that imports the libraries."""
    return median(imports_s() for _ in range(3))


@pytest.mark.parametrize(
    ("what", "budget_s", "times"),
    [(("--help",), 0.4, 0.3), (("plants",), 0.4, 0.6), (("soils", "loam"), 0.4, 0.6), (("round", "--demo"), 1.5, 2.2)],
)
def test_a_cold_command(what: tuple[str, ...], budget_s: float, times: float, peer_s: float) -> None:
    took = cold_seconds("-m", "soakbook", *what)
    print(f"soakbook {' '.join(what)}:", end=" ")
    assert cold(took, peer_s, times, budget_s)


def test_importing_the_package_costs_little() -> None:
    extra = cold_seconds("-c", "import soakbook") - cold_seconds("-c", "pass")
    print(f"import soakbook: {1e3 * extra:.0f} ms over bare Python (budget 40 ms)")
    assert within(extra, 0.08)


def test_a_warm_round_of_twelve_places() -> None:
    from soakbook.advice.round import today_round
    from soakbook.advice.sky import weather_for
    from soakbook.demo import DAY, demo_garden

    garden, log, folder = demo_garden()
    assert len(garden.places) == 12
    weather = weather_for(garden, DAY, log, folder=folder)
    times = []
    for _ in range(7):
        start = time.perf_counter()
        today_round(garden, weather, DAY, log)
        times.append(time.perf_counter() - start)
    print(f"warm round of 12 places, members of each drawn and run: {1e3 * median(times):.0f} ms (budget 150 ms)")
    assert within(median(times), 3 * 0.15)
