"""What must hold for any timer, rules and garden: nothing set breaks a rule, no uniform programme is better, free watering is a bound."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from soakbook.delivery.timer_event import first_events, plan_events
from soakbook.delivery.timer_model import DAY_KINDS, Days, Programme, Rules, Timer
from soakbook.delivery.timer_need import costs_of
from soakbook.delivery.timer_pattern import patterns_of
from soakbook.delivery.timer_plan import cost_of_setting, first_plan, plan_timer
from soakbook.delivery.timer_tables import Asked, Tables
from soakbook.errors import InputError
from tests.unit.delivery.timers_made import asked

TIMERS = st.builds(
    Timer,
    programmes=st.integers(1, 3),
    starts=st.integers(1, 4),
    day_kinds=st.lists(st.sampled_from(DAY_KINDS), min_size=1, max_size=3, unique=True).map(tuple),
    step_minutes=st.sampled_from([1, 2, 5, 15]),
    longest_minutes=st.sampled_from([30, 60, 240]),
    longest_interval=st.integers(1, 7),
    lines=st.integers(4, 8),
    together=st.booleans(),
)
HOURS = st.sampled_from(
    [((240, 600),), ((0, 90), (1260, 1440)), ((300, 360),), ((0, 1440),), ((330, 345), (1100, 1130))]
)
RULES = st.builds(
    Rules,
    weekdays=st.sets(st.integers(0, 6), min_size=1).map(lambda days: tuple(sorted(days))),
    parity=st.sampled_from(["any", "any", "odd", "even"]),
    hours=HOURS,
    avoid=st.sampled_from([(), ((600, 1080),), ((310, 320),)]),
    pause_minutes=st.sampled_from([0, 20, 60]),
    flow_cap_lph=st.sampled_from([None, 310.0, 700.0]),
    tank_l=st.sampled_from([None, None, 0.0, 300.0]),
    refill_lpd=st.sampled_from([0.0, 40.0]),
    tank_full_l=st.sampled_from([None, 300.0]),
)
QUICK = settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def timeline(setting: tuple[Programme, ...], made: Asked, day: date) -> dict[int, list[str]]:
    """Which lines are open in each minute of a day, worked out from what is set alone: groups one after another, lines in the garden's order."""
    opened: dict[int, list[str]] = {}
    for programme in setting:
        days = programme.days
        since = (day - days.first).days if days.first is not None else 1
        is_on = {
            "weekdays": day.weekday() in days.weekdays,
            "every": since % days.every == 0,
            "parity": days.parity in ("any", "odd" if day.day % 2 else "even"),
        }
        if not is_on[days.kind]:
            continue
        minutes = dict(programme.minutes)
        for start in programme.starts:
            at = start
            for group in made.opened():
                for line in group:
                    for minute in range(at, at + minutes.get(line, 0)):
                        opened.setdefault(minute, []).append(line)
                at += max((minutes.get(line, 0) for line in group), default=0)
    return opened


def assert_keeps_everything(setting: tuple[Programme, ...], made: Asked) -> None:
    timer, rules = made.timer, made.rules
    assert len(setting) <= timer.programmes
    for programme in setting:
        assert 1 <= len(programme.starts) <= timer.starts
        assert len(set(programme.starts)) == len(programme.starts)
        assert programme.days.kind in timer.day_kinds
        assert programme.days.every <= timer.longest_interval
        for _, minutes in programme.minutes:
            assert 0 < minutes <= timer.longest_minutes
            assert minutes % timer.step_minutes == 0
    left = rules.tank_l
    for d in range(made.span.days):
        day = made.span.first + timedelta(days=d)
        opened = timeline(setting, made, day)
        if opened:
            assert day.weekday() in rules.weekdays
            assert rules.parity == "any" or day.day % 2 == (rules.parity == "odd")
        for minute, lines in opened.items():
            assert any(a <= minute < b for a, b in rules.hours)
            assert not any(a <= minute < b for a, b in rules.avoid)
            assert max(Counter(lines).values()) == 1
            assert timer.together or len(lines) == 1
            if rules.flow_cap_lph is not None:
                assert sum(made.flows_lph[line] for line in lines) <= rules.flow_cap_lph + 1e-6
        for line in made.flows_lph:  # pauses between two runs of a line
            on = sorted(minute for minute, lines in opened.items() if line in lines)
            assert all(b - a > rules.pause_minutes for a, b in pairwise(on) if b > a + 1)
        if left is not None:
            left -= sum(made.flows_lph[line] / 60.0 for lines in opened.values() for line in lines)
            assert left >= -1e-6
            left = min(left + rules.refill_lpd, np.inf if rules.tank_full_l is None else rules.tank_full_l)


@given(st.integers(0, 10_000), TIMERS, RULES)
@QUICK
def test_no_plan_breaks_a_rule(seed: int, timer: Timer, rules: Rules) -> None:
    try:
        made = asked(seed, timer, rules, lines=4, days=10, pictures=2)
        plans = [first_plan(made), plan_timer(made, seconds=0.5)]
    except InputError:  # what is refused is tested by its reasons in tests/unit
        return
    for plan in plans:
        assert_keeps_everything(plan.setting, made)
        assert plan.bound <= plan.cost <= plan.dry_cost + 1e-9
        assert plan.cost == pytest.approx(cost_of_setting(made, plan.setting), abs=1e-6)
    assert plans[1].cost <= plans[0].cost + 1e-9


@given(st.integers(0, 10_000), st.sampled_from([1, 2, 5]), st.sampled_from([DAY_KINDS, ("weekdays",), ("every",)]))
@settings(QUICK, max_examples=15)
def test_no_uniform_programme_is_better(seed: int, step: int, kinds: tuple[str, ...]) -> None:
    made = asked(seed, Timer(programmes=1 + seed % 2, step_minutes=step, day_kinds=kinds), lines=4, pictures=2)  # type: ignore[arg-type]
    plan = plan_timer(made)
    assert plan.is_proved
    for pattern in patterns_of(made.timer, made.rules, made.span, made.needs)[::7]:
        if sum(pattern.starts) > 1:
            continue
        at = 240 if pattern.starts[0] else 1080
        for minutes in range(step, 90 - 90 % step, 4 * step):
            same = Programme("A", pattern.days, (at,), tuple((line, minutes) for line in made.flows_lph))
            assert plan.cost <= cost_of_setting(made, [same]) + 1e-6


@given(st.integers(0, 10_000), TIMERS, RULES)
@settings(QUICK, max_examples=20)
def test_free_watering_is_a_bound_on_what_is_stored(seed: int, timer: Timer, rules: Rules) -> None:
    try:
        made = asked(seed, timer, rules, lines=4, days=8, pictures=2)
        plan = plan_timer(made, seconds=0.5)
    except InputError:
        return
    free = first_events(made)
    assert free.bound <= plan.cost + 1e-6
    assert free.bound <= free.cost + 1e-6


def test_events_come_within_a_hundredth_of_their_bound() -> None:
    for seed in (1, 4):
        made = asked(seed, lines=4)
        assert plan_events(made).gap <= 0.01 + 1e-9


@given(st.integers(0, 10_000), st.floats(0.1, 50.0))
@settings(QUICK, max_examples=20)
def test_costs_do_not_hang_on_the_unit_of_depth(seed: int, times: float) -> None:
    """All depths in another unit: the same hundredths of growth."""
    from dataclasses import replace

    need = asked(seed, lines=1, pictures=2).needs[0]
    put = np.random.default_rng(seed).uniform(0.0, 20.0, (need.use_mm.shape[1], 1, 3))
    other = replace(
        need, use_mm=times * need.use_mm, rain_mm=times * need.rain_mm, store_mm=times * need.store_mm,
        easy_mm=times * need.easy_mm, missing_mm=times * need.missing_mm,
    )  # fmt: skip
    scaled = costs_of([other], times * put, times * put.sum(axis=0))
    # hundredths of growth count use times the part of it lacking, so the unit goes out
    assert scaled == pytest.approx(costs_of([need], put, put.sum(axis=0)), rel=1e-9)


@given(st.integers(0, 10_000))
@settings(QUICK, max_examples=20)
def test_costs_are_convex_in_what_is_given(seed: int) -> None:
    need = asked(seed, lines=1, pictures=2).needs[0]
    rng = np.random.default_rng(seed)
    one, other = rng.uniform(0.0, 20.0, (2, need.use_mm.shape[1], 1, 1))
    a, b, middle = (float(costs_of([need], g, g.sum(axis=0))[0, 0]) for g in (one, other, 0.5 * (one + other)))
    assert middle <= 0.5 * (a + b) + 1e-9


def test_days_fall_where_the_calendar_has_them() -> None:
    """1 June 2026 is a Monday."""
    first = date(2026, 6, 1)
    assert [d for d in range(14) if Days("weekdays", (0, 2, 5)).runs_on(first + timedelta(days=d))] == [
        0,
        2,
        5,
        7,
        9,
        12,
    ]
    assert [d for d in range(9) if Days("every", every=3, first=first).runs_on(first + timedelta(days=d))] == [0, 3, 6]
    assert [d for d in range(6) if Days("parity", parity="odd").runs_on(date(2026, 5, 29) + timedelta(days=d))] == [
        0,
        2,
        3,
        5,
    ]


def test_tables_know_the_best_run_time() -> None:
    """Against every run time there is."""
    from soakbook.delivery.timer_cost import line_costs

    made = asked(9, Timer(longest_minutes=60), lines=3)
    tables = Tables.of(made)
    minutes = np.broadcast_to(np.arange(61.0), (3, len(tables.patterns), 61))
    every = line_costs(tables.by_line, tables.patterns, minutes)
    assert tables.best.cost == pytest.approx(every.min(axis=2), abs=1e-9)


def test_the_compiled_costs_are_those_of_the_plain_store() -> None:
    """The loop against the same equations written over arrays, for schedules of any length of run."""
    from soakbook.delivery.timer_cost import line_costs

    made = asked(4, Timer(day_kinds=DAY_KINDS), lines=3, days=10)
    tables = Tables.of(made)
    minutes = np.random.default_rng(5).uniform(0.0, 90.0, (3, len(tables.patterns), 2))
    found = line_costs(tables.by_line, tables.patterns, minutes)
    for i, needs in enumerate(tables.by_line.values()):
        for j, pattern in enumerate(tables.patterns):
            for k in range(2):
                poured = minutes[i, j, k] * np.array([need.per_minute_mm for need in needs])
                enters = np.minimum(poured, [need.takes_mm for need in needs])
                given = (pattern.goes[:, None] * enters)[..., None]
                plain = costs_of(needs, given, (pattern.goes.sum() * poured)[:, None])
                assert found[i, j, k] == pytest.approx(float(plain.sum()), rel=1e-9, abs=1e-9)
