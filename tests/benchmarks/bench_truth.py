"""Speed of the true garden: a column-day against scipy's own solver in the same process, and a trial-sized run.

Run as a script to print the figures: ``python -m tests.benchmarks.bench_truth``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import pairwise
from statistics import median

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from soakbook.season.truth import curves
from soakbook.season.truth.columns import advance, columns
from soakbook.season.truth.curves import Soil
from soakbook.season.truth.day import HOURS, LIGHT, DayWeather, storm
from soakbook.season.truth.draw import FEET, Believed, draw
from soakbook.season.truth.garden import Truth
from soakbook.season.truth.kinds import FREE
from soakbook.season.truth.soils import CARSEL_PARRISH
from tests.pace import within

pytestmark = [pytest.mark.bench, pytest.mark.timeout(600)]

LOAM = Soil(0.078, 0.43, 0.036, 1.56, 1.04)
THICK = 1.08 ** np.arange(29)
ROOTS = np.exp(-np.cumsum(THICK) / 20.0)
ROOTS /= ROOTS.sum()
RAIN = 1.2 * storm(12.0, np.random.default_rng(1)) / HOURS
DEMAND = 0.5 * LIGHT / HOURS
EDGES = np.append(0.0, np.cumsum(HOURS))


def ours(copies: int = 50) -> float:
    state = columns([THICK] * copies, [[LOAM] * 29] * copies, [-300.0] * copies, kind=FREE)
    state.roots[:] = ROOTS
    begun = time.process_time()
    advance(state, HOURS, RAIN, 0.0, DEMAND)
    return (time.process_time() - begun) / copies


def peer() -> float:
    """The same column-day by the method of lines and LSODA with a banded Jacobian."""
    apart = 0.5 * (THICK[1:] + THICK[:-1])

    def change(t: float, head: np.ndarray) -> np.ndarray:
        now = min(int(np.searchsorted(EDGES, t, side="right")) - 1, len(HOURS) - 1)
        k = curves.conductivity_cm_h(LOAM, head)
        flow = np.empty(30)
        flow[0], flow[-1] = RAIN[now], k[-1]
        flow[1:-1] = 0.5 * (k[1:] + k[:-1]) * ((head[:-1] - head[1:]) / apart + 1.0)
        drawn = DEMAND[now] * ROOTS * np.interp(-head, [10.0, 25.0, 400.0, 8000.0], [0.0, 1.0, 1.0, 0.0])
        slope = (curves.water_content(LOAM, head + 1e-3) - curves.water_content(LOAM, head - 1e-3)) / 2e-3
        return (flow[:-1] - flow[1:] - drawn) / THICK / np.maximum(slope, 1e-7)

    begun, head = time.process_time(), np.full(29, -300.0)
    for a, b in pairwise(EDGES):
        head = solve_ivp(change, (a, b), head, method="LSODA", rtol=1e-4, atol=1e-1, lband=1, uband=1).y[:, -1]
    return time.process_time() - begun


def trial(places: int = 24, days: int = 30) -> float:
    """Place-days a second of processor time, all textures, beds and pots."""
    grounds = list(CARSEL_PARRISH)
    believed = [Believed("tomato_bush", grounds[g % 12], ("drip_line", "wand")[g % 2]) for g in range(places - 6)]
    believed += [Believed("lettuce_leaf", "multipurpose", "can", "pot") for _ in range(6)]
    truth = Truth(draw(believed, 3))
    truth.step(DayWeather(4.0, 0.0))
    begun = time.process_time()
    for day in range(days):
        truth.step(DayWeather(5.0, 10.0 if day % 6 == 2 else 0.0), 15.0 if day % 3 == 0 else 0.0)
    return places * days / (time.process_time() - begun)


def _middle(run: Callable[[], float], times: int = 5) -> float:
    return median(run() for _ in range(times))


def test_a_column_day_is_far_below_the_general_solver() -> None:
    ours()
    ratios = [peer() / ours() for _ in range(5)]
    assert median(ratios) >= 40.0


def test_a_trial_runs_at_a_thousand_places_a_second() -> None:
    """1,000 place-days a second, each of two columns; half of it allowed on a shared machine."""
    trial(6, 2)
    assert within(1000.0 / _middle(trial, 3), 1000.0 / 500.0, time.process_time)


if __name__ == "__main__":
    ours()
    print(f"column-day: ours {1e3 * _middle(ours):.2f} ms, method of lines {1e3 * _middle(peer):.0f} ms")
    print(f"trial: {_middle(trial, 3):.0f} place-days a second, {FEET} columns each")
