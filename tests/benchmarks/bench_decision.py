"""How long a morning's decision takes: what is held of each place, and the act that costs least for all of them.

Budgets of the issue and of its design, each allowed twice on a shared machine; the time of this process's own work is taken, so that
neighbours on the machine count less. What was measured is printed.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

import pytest

from soakbook.advice.belief import MEMBERS, believe
from soakbook.advice.choose import with_plans
from soakbook.advice.sky import members_for, weather_for
from soakbook.advice.standing import standings_of
from soakbook.demo import DAY, demo_garden
from tests.pace import within

pytestmark = [pytest.mark.bench, pytest.mark.timeout(300)]


def worked_ms(do: Callable[[], object], rounds: int = 7) -> float:
    """Median time of this process's own work, after one round to warm up. [ms]"""
    do()
    times = []
    for _ in range(rounds):
        start = time.process_time()
        do()
        times.append(time.process_time() - start)
    return 1e3 * median(times)


@pytest.mark.parametrize(("name", "budget_ms"), [("tomato bed", 15.0), ("basil in clay", 40.0)])
def test_a_belief_without_readings(name: str, budget_ms: float) -> None:
    garden, log, folder = demo_garden()
    waterings = [e for e in log if e.kind != "reading"]
    weather = weather_for(garden, DAY, waterings, folder=folder)
    took = worked_ms(lambda: believe(garden, garden.place(name), weather, waterings, DAY))
    print(f"belief of {name}, {MEMBERS} members: {took:.1f} ms (budget {budget_ms:.0f} ms)")
    assert within(took, 2 * budget_ms, time.process_time)


def test_the_whole_decision_for_twelve_places() -> None:
    garden, log, folder = demo_garden()
    weather = weather_for(garden, DAY, log, folder=folder)
    ahead, standings = members_for(garden, weather, DAY, folder=folder), standings_of(garden, weather, DAY, log)
    assert len(standings) == 12
    took = worked_ms(lambda: with_plans(garden, standings, ahead, DAY))
    print(f"decision for 12 places, {MEMBERS} members, 16 days, reasons with it: {took:.0f} ms (budget 100 ms)")
    assert within(took, 200.0, time.process_time)
