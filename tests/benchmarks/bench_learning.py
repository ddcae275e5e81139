"""Speed of learning: a bed of 400 members through 120 days and 30 readings, all further draws included, in 60 ms.

Run as a script to print the figures: ``python -m tests.benchmarks.bench_learning``.
"""

from __future__ import annotations

import time
from datetime import timedelta
from statistics import median

import numpy as np
import pytest

from soakbook.balance.place import place_days
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Place
from soakbook.learning.filter import BED_MEMBERS, learn
from tests.unit.learning.scene import BED, POT, TODAY, garden, log, taken, truths, weather

pytestmark = [pytest.mark.bench, pytest.mark.timeout(120)]

DAYS = 120
#: What is asked for on a quiet machine, and how much longer a busy one may take. [ms]
WANTED_MS, PATIENCE = 60.0, 3.0


def measure(place: Place) -> dict[str, float]:
    """Milliseconds of learning, of one open run of as many members, and the draws and effective members it ends with."""
    rng = np.random.default_rng(5)
    dates = [TODAY - timedelta(1 + k) for k in range(15 if place is BED else 14)]
    readings = taken(truths(place, draw_members(place, 4, rng)), 2, rng, dates)
    whole = weather()
    part = whole.between(np.datetime64(TODAY) - np.timedelta64(DAYS, "D"), whole.times[-1])
    members = draw_members(place, BED_MEMBERS, rng)
    got = learn(garden(), place, part, log(), readings, TODAY)
    learning, running = [], []
    for _ in range(7):
        start = time.perf_counter()
        learn(garden(), place, part, log(), readings, TODAY)
        middle = time.perf_counter()
        days = place_days(garden(), place, part, log(), members, until=TODAY)
        days.run(days.full(), 0, DAYS)
        learning.append(1000.0 * (middle - start))
        running.append(1000.0 * (time.perf_counter() - middle))
    return {"ms": median(learning), "one_run_ms": median(running), "draws": got.draws, "effective": got.effective}


def test_a_bed_is_learnt_in_60_ms() -> None:
    assert measure(BED)["ms"] < PATIENCE * WANTED_MS


if __name__ == "__main__":
    for which in (BED, POT):
        print(which.name, {name: round(value, 1) for name, value in measure(which).items()})
