"""Invented timers, rules and needs for the tests."""

from __future__ import annotations

from datetime import date

import numpy as np

from soakbook.delivery.timer_model import Rules, Timer
from soakbook.delivery.timer_need import Need, shares_of_day
from soakbook.delivery.timer_tables import Asked, span_of

FIRST = date(2026, 6, 1)  # a Monday


def need(
    line: str, asked_windows: tuple[tuple[int, int], ...], rng: np.random.Generator, *, days: int = 14, pictures: int = 3,
    flow_lph: float = 60.0, is_pot: bool = False,
) -> Need:  # fmt: skip
    """A place drawn at random on a line: beds hold 25 to 120 mm, pots 8 to 25."""
    daily = rng.uniform(2.0, 7.0) * np.clip(1.0 + 0.3 * rng.standard_normal((pictures, days)), 0.3, None)
    use = (daily[:, :, None] * shares_of_day(asked_windows)).reshape(pictures, -1)
    rain = np.zeros((pictures, days, len(asked_windows)))
    rain[:, :, -1] = np.where(rng.random((pictures, days)) < 0.2, rng.exponential(6.0, (pictures, days)), 0.0)
    store = rng.uniform(8.0, 25.0) if is_pot else rng.uniform(25.0, 120.0)
    return Need(
        place=f"{line} {'pot' if is_pot else 'bed'} {rng.integers(1000)}", line=line, use_mm=use,
        rain_mm=rain.reshape(pictures, -1), store_mm=store, easy_mm=store * rng.uniform(0.25, 0.6),
        missing_mm=store * rng.uniform(0.0, 0.5), per_minute_mm=rng.uniform(0.1, 1.0), litres_per_minute=flow_lph / 60.0,
        takes_mm=np.inf if rng.random() < 0.6 else rng.uniform(8.0, 20.0),
    )  # fmt: skip


def asked(
    seed: int,
    timer: Timer | None = None,
    rules: Rules | None = None,
    *,
    lines: int = 6,
    days: int = 14,
    pictures: int = 3,
) -> Asked:
    """A garden of so many lines with one or two places each."""
    rng = np.random.default_rng(seed)
    rules = rules or Rules()
    span = span_of(rules, FIRST, days)
    flows = {f"line {k + 1}": float(rng.uniform(30.0, 300.0)) for k in range(lines)}
    needs = tuple(
        need(line, span.windows, rng, days=days, pictures=pictures, flow_lph=flow, is_pot=bool(rng.random() < 0.3))
        for line, flow in flows.items()
        for _ in range(int(rng.integers(1, 3)))
    )
    return Asked(timer or Timer(), rules, span, flows, needs)
