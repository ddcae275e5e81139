"""Speed of learning, against an open run of as many members through as many days in the same process.

The open run lays the place out and runs it with everything kept, as any question about the past does. Times are of the processor.
Run as a script to print the figures: ``python -m tests.benchmarks.bench_learning``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta
from statistics import median

import numpy as np
import pytest

from soakbook.balance.place import place_days
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Place
from soakbook.learning.filter import BED_MEMBERS, POT_MEMBERS, learn
from tests.pace import within
from tests.unit.learning.scene import BED, POT, TODAY, garden, log, taken, truths, weather

pytestmark = [pytest.mark.bench, pytest.mark.timeout(120)]

DAYS = 120
#: What is asked for on a quiet machine, and how much longer a busy one may take. [ms]
WANTED_MS, PATIENCE = {"bed": 40.0, "pot": 60.0}, 3.0
#: One draw with its readings over one open run of as many members.
MOST_OVER_OPEN = 1.5
TIMES = 7


def measure(place: Place) -> dict[str, float]:
    """Milliseconds of learning with all draws it takes, with one, and of one open run of as many members; the ratio of the latter
    two, draws and effective members."""
    rng = np.random.default_rng(5)
    dates = [TODAY - timedelta(1 + k) for k in range(15)]
    readings = taken(truths(place, draw_members(place, 4, rng)), 2, rng, dates)
    whole = weather()
    part = whole.between(np.datetime64(TODAY) - np.timedelta64(DAYS, "D"), whole.times[-1])
    members = draw_members(place, BED_MEMBERS if place is BED else POT_MEMBERS, rng)
    got = learn(garden(), place, part, log(), readings, TODAY)

    def open_run() -> None:
        days = place_days(garden(), place, part, log(), members, until=TODAY)
        days.used_by_day(days.run(days.full(), 0, DAYS), 0)

    def ms(work: Callable[[], object]) -> float:
        begun = time.process_time()
        work()
        return 1000.0 * (time.process_time() - begun)

    each = [
        (
            ms(lambda: learn(garden(), place, part, log(), readings, TODAY)),
            ms(lambda: learn(garden(), place, part, log(), readings, TODAY, most_draws=1)),
            ms(open_run),
        )
        for _ in range(TIMES)
    ]
    every, one, runs = (median(column) for column in zip(*each, strict=True))
    ratio = median(b / c for _, b, c in each)
    return {
        "ms": every, "one_draw_ms": one, "open_run_ms": runs, "over_open": ratio, "draws": got.draws, "effective": got.effective,
    }  # fmt: skip


@pytest.mark.parametrize("place", [BED, POT], ids=["bed", "pot"])
def test_learning_costs_little_more_than_a_run(place: Place) -> None:
    found = measure(place)
    assert within(found["ms"], PATIENCE * WANTED_MS[place.kind], time.process_time)
    assert found["over_open"] < MOST_OVER_OPEN


if __name__ == "__main__":
    for which in (BED, POT):
        print(which.name, {name: round(value, 2) for name, value in measure(which).items()})
