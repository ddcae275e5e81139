"""Speed of learning, against an open run of as many members through as many days in the same process.

The open run lays the place out and runs it with everything kept, as any question about the past does. Times are of the processor.
The gate of the design is measured beside it on what it was set for: columns laid out before, one to a member, six layers each.
Run as a script to print the figures: ``python -m tests.benchmarks.bench_learning``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from statistics import median

import numpy as np
import pytest

from soakbook.balance.columns import Columns, Forcing, State
from soakbook.balance.place import place_days
from soakbook.balance.run import run_columns
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Place
from soakbook.learning import observe
from soakbook.learning.filter import BED_MEMBERS, POT_MEMBERS, learn, standing_for, tempered
from tests.pace import within
from tests.reference_balance import run_numpy
from tests.strategies import random_case
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
        days.used_by_day(days.run(days.start(), 0, DAYS), 0)

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


#: The gate: 12 places of 500 members through 120 days, 30 readings each; twice that is allowed on shared machines, as for all absolute times.
GATE_MS, PLACES, MEMBERS, READINGS = 8.0, 12, 500, 30
#: The same gate without the clock. Where it was set, the numpy form of the balance took 20 times the kernel's 7.3 ns for a column and day: 105 ms
#: for these 720,000, 13 times the gate. So much faster than the numpy form in the same run all of it must be, on any machine.
TIMES_NUMPY = 20 * 7.3e-6 * PLACES * MEMBERS * DAYS / GATE_MS


Case = tuple[Columns, Forcing, State]


def half_a_garden(seed: int) -> tuple[Case, Callable[[], None]]:
    """Half the places, and running them and weighing their members by their readings."""
    columns, forcing, start = random_case(seed, places=PLACES // 2, members=MEMBERS, steps=DAYS, layers=6, rough=False)
    rng = np.random.default_rng(seed)
    steps = np.linspace(1, DAYS - 1, READINGS).astype(int)
    offset, slope = rng.standard_normal((2, PLACES // 2, MEMBERS))
    wp_mm, taw_mm = columns.wp_mm[:, 1], columns.fc_mm[:, 1] - columns.wp_mm[:, 1]
    truth = run_columns(columns, forcing, start, keep=steps, fluxes=False).water_mm[:, :, 0, 1, :1]
    true = observe.dial_shown(
        (truth - wp_mm[:, None, :1]) / taw_mm[:, None, :1], offset[:, None, :1], slope[:, None, :1]
    )
    shown = np.clip(true + observe.DIAL_SD * rng.standard_normal(true.shape), 0.0, 10.0)

    def weigh() -> None:
        run = run_columns(columns, forcing, start, keep=steps, fluxes=False)
        for p in range(PLACES // 2):
            wetness = (run.water_mm[p, :, 0, 1] - wp_mm[p]) / taw_mm[p]
            log_likely = observe.dial(shown[p], wetness, offset[p], slope[p]).sum(0)
            standing_for(tempered(np.zeros(MEMBERS), log_likely), MEMBERS)

    return (columns, forcing, start), weigh


def measure_laid_out() -> dict[str, float]:
    """Milliseconds of weighing all places by their readings on one thread, of the open run alone, and of weighing on two; the ratios to the
    open run and to the numpy form of the balance, which goes through a tenth of the days."""
    halves = [half_a_garden(seed) for seed in (7, 8)]
    tenths = [random_case(seed, places=PLACES // 2, members=MEMBERS, steps=DAYS // 10, rough=False) for seed in (7, 8)]
    pool = ThreadPoolExecutor(2)

    def ms(work: Callable[[], object]) -> float:
        begun = time.perf_counter()
        work()
        return 1000.0 * (time.perf_counter() - begun)

    each = [
        (
            ms(lambda: [weigh() for _, weigh in halves]),
            ms(lambda: [run_columns(*case, keep=False) for case, _ in halves]),
            ms(lambda: list(pool.map(lambda half: half[1](), halves))),
            10.0 * ms(lambda: [run_numpy(*case) for case in tenths]) if k % TIMES == 0 else np.nan,
        )
        for k in range(5 * TIMES)
    ]
    pool.shutdown()
    weighed, opened, both, plain = np.array(each).T
    return {
        "weighed_ms": median(weighed), "open_ms": median(opened), "over_open": median(weighed / opened),
        "two_threads_ms": median(both), "times_numpy": np.nanmedian(plain) / median(both),
    }  # fmt: skip


def test_the_gate_on_columns_laid_out_before() -> None:
    """Holds both ratios, in a second try if a busy machine spoilt the first, and says whether the time is met, on two threads as the gate was
    set; five times it is too much on any machine."""

    def kept(found: dict[str, float]) -> bool:
        return found["over_open"] <= MOST_OVER_OPEN and found["times_numpy"] >= TIMES_NUMPY

    found = measure_laid_out()
    if not kept(found):
        found = measure_laid_out()
    took = found["two_threads_ms"]
    met = took <= GATE_MS, took <= 2 * GATE_MS
    print(
        f"\nlearning, 12 places laid out: {found['weighed_ms']:.1f} ms on one thread, {found['over_open']:.2f} times the open run "
        f"(at most {MOST_OVER_OPEN}); {took:.1f} ms on two, {found['times_numpy']:.0f} times as quick as the numpy form (at least "
        f"{TIMES_NUMPY:.1f}): gates {'met' if kept(found) else 'NOT MET'}; {GATE_MS:.0f} ms by the clock "
        + ("met" if met[0] else "met with its allowance" if met[1] else "NOT MET on this machine now")
    )
    assert kept(found)
    assert within(took, 5 * GATE_MS)


@pytest.mark.parametrize("place", [BED, POT], ids=["bed", "pot"])
def test_learning_costs_little_more_than_a_run(place: Place) -> None:
    found = measure(place)
    assert within(found["ms"], PATIENCE * WANTED_MS[place.kind], time.process_time)
    assert found["over_open"] < MOST_OVER_OPEN


if __name__ == "__main__":
    for which in (BED, POT):
        print(which.name, {name: round(value, 2) for name, value in measure(which).items()})
    print("12 places laid out before", {name: round(value, 2) for name, value in measure_laid_out().items()})
