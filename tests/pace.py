"""Budgets in seconds on machines of any speed: where one is passed, a fixed piece of plain Python is timed in the same run, and the budget
grows by as much as that took longer than on the machine the budgets were set on. A slow or busy machine fails nothing; slower code does."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from statistics import median

#: Seconds the piece takes on the machine the budgets were set on (two cores of an AMD EPYC, Python 3.11, nothing else running): the least
#: processor time of a dozen runs.
USUAL_S = 0.037
_TURNS, _TIMES = 300_000, 9


def piece() -> float:
    """Sums and a small table: what an interpreter mostly does."""
    total, seen = 0.0, dict.fromkeys(range(512), 0.0)
    for i in range(_TURNS):
        total += (i % 7) * 0.5
        seen[i % 512] = total
    return total


def slowness(clock: Callable[[], float] = time.perf_counter) -> float:
    """How many times as long as usual the piece takes now, by this clock; at least 1."""
    taken = []
    for _ in range(_TIMES):
        start = clock()
        piece()
        taken.append(clock() - start)
    return max(1.0, median(taken) / USUAL_S)


def within(took: float, allowed: float, clock: Callable[[], float] = time.perf_counter) -> bool:
    """Whether something that ``took`` so long by a clock keeps what is ``allowed``, both in one unit, on a machine as slow as this is now."""
    if took <= allowed:
        return True
    times = slowness(clock)
    print(
        f"\n{took:.3g} is over {allowed:.3g}; this machine is {times:.2f} times as slow as usual now: {allowed * times:.3g} allowed"
    )
    return took <= allowed * times


#: Libraries that Soakbook stands on: a bare process that imports them is what a cold start is measured against.
_LIBRARIES = "import fastapi, sqlalchemy.orm, alembic.command, jinja2, uvicorn, numba.np.arraymath"


def imports_s() -> float:
    """Seconds a fresh interpreter takes now to import the libraries, and nothing of ours."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", _LIBRARIES], check=True)
    return time.perf_counter() - start


def cold(took_s: float, peer_s: float, times: float, budget_s: float) -> bool:
    """Whether a cold start took at most so many ``times`` the bare imports; says what both took, and whether the budget is met here."""
    said = "met" if took_s <= budget_s else "NOT MET on this machine now"
    print(
        f"{took_s:.2f} s (budget {budget_s} s: {said}); bare imports {peer_s:.2f} s: {took_s / peer_s:.2f} times (at most {times})"
    )
    return took_s <= times * peer_s
