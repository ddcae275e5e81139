"""Speed of the timer plan: about 6 lines, 2 programmes, 14 days, from the needs of the places to a proved optimum.

Run as a script to print the figures: ``python -m tests.benchmarks.bench_timer``.
"""

from __future__ import annotations

import time
from statistics import median

import pytest

from soakbook.delivery.timer_event import first_events, plan_events
from soakbook.delivery.timer_model import DAY_KINDS, Timer
from soakbook.delivery.timer_plan import first_plan, plan_timer
from tests.pace import within
from tests.unit.delivery.timers_made import asked

pytestmark = [pytest.mark.bench, pytest.mark.timeout(240)]

#: Gates of the design on a quiet machine, and how much longer a busy one may take.
PLAN_S, EVENTS_S, FIRST_S, PATIENCE = 0.150, 5.0, 0.25, 2.0
SEEDS = range(7)


def plan_s(timer: Timer | None = None) -> float:
    """Median over gardens of the time to a proved optimum. [s of the processor]"""
    gardens = [asked(seed, timer) for seed in SEEDS]
    plan_timer(gardens[0])
    taken = []
    for made in gardens:
        start = time.thread_time()
        plan = plan_timer(made)
        taken.append(time.thread_time() - start)
        assert plan.is_proved
        assert plan.is_every_step
    return median(taken)


def first_s() -> float:
    """Median time to the greedy answer. [s]"""
    gardens, taken = [asked(seed) for seed in SEEDS], []
    for made in gardens:
        start = time.thread_time()
        first_plan(made)
        taken.append(time.thread_time() - start)
    return median(taken)


def events() -> tuple[list[float], list[float], list[float]]:
    """First answers and whole plans with every watering free: seconds, and gaps left."""
    first, whole, gaps = [], [], []
    for seed in SEEDS:
        made = asked(seed)
        start = time.perf_counter()
        first_events(made)
        first.append(time.perf_counter() - start)
        start = time.perf_counter()
        gaps.append(plan_events(made, seconds=EVENTS_S).gap)
        whole.append(time.perf_counter() - start)
    return first, whole, gaps


def test_what_a_timer_can_hold_is_solved_to_optimality_in_150_ms() -> None:
    assert within(plan_s(), PATIENCE * PLAN_S, time.thread_time)


def test_free_watering_comes_within_a_hundredth_in_5_s_and_answers_at_once() -> None:
    first, whole, gaps = events()
    assert within(max(first), PATIENCE * FIRST_S)
    assert within(max(whole), PATIENCE * EVENTS_S)
    assert median(gaps) <= 0.01


if __name__ == "__main__":
    print(
        f"plan, 6 lines, 2 programmes, 14 days, weekdays: {1000 * plan_s():.0f} ms; first answer {1000 * first_s():.0f} ms"
    )
    print(f"the same with every kind of days: {1000 * plan_s(Timer(day_kinds=DAY_KINDS)):.0f} ms")
    one, two, left = events()
    print(
        f"every watering free: first {1000 * median(one):.0f} ms, then {median(two):.1f} s (at most {max(two):.1f} s),"
    )
    print(f"gap {100 * median(left):.2f} % (at most {100 * max(left):.2f} %)")
