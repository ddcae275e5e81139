"""The plan of a timer: against every choice there is on small cases, and what it refuses."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from soakbook.delivery.timer_greedy import _cut_to_fit
from soakbook.delivery.timer_model import Days, Programme, Rules, Timer, problems
from soakbook.delivery.timer_need import Need, costs_of
from soakbook.delivery.timer_plan import cost_of_setting, first_plan, plan_timer
from soakbook.delivery.timer_tables import Asked, Tables, span_of
from soakbook.errors import InputError
from tests.unit.delivery.timers_made import FIRST, asked

SMALL = Timer(programmes=2, starts=1, step_minutes=10, longest_minutes=60)


def by_hand(need: Need, given_mm: np.ndarray, poured_mm: float) -> float:
    """The cost written down from its definition, a number at a time."""
    total = 0.0
    for use, rain in zip(need.use_mm, need.rain_mm, strict=True):
        missing = bare = need.missing_mm
        lost = 0.0
        for u, r, g in zip(use, rain, given_mm, strict=True):
            missing = max(0.0, missing - g)
            lost += u * max(0.0, missing + u / 2.0 - need.easy_mm) / (need.store_mm - need.easy_mm)
            missing = max(0.0, missing + u - r)
            bare = max(0.0, bare + u - r)
        wasted = poured_mm + missing - bare
        total += lost + 0.11 * need.waste_times * wasted + 0.15 * missing
    return need.scale * total / len(need.use_mm)


def test_costs_are_their_definition() -> None:
    made = asked(3, lines=3)
    rng = np.random.default_rng(5)
    for need in made.needs:
        given = np.where(rng.random(made.span.steps) < 0.3, rng.uniform(0.0, 30.0, made.span.steps), 0.0)
        found = costs_of([need], given[:, None, None], np.array([[given.sum() + 4.0]]))
        assert found[0, 0] == pytest.approx(by_hand(need, given, given.sum() + 4.0), rel=1e-12)


def everything(made: Asked, tables: Tables) -> float:
    """The least cost over all sets of patterns and all run times that keep the rules, one after another."""
    lines, steps = list(tables.by_line), range(made.timer.longest_minutes // made.timer.step_minutes + 1)
    best = tables.cost((None,) * len(lines))
    for used in combinations(range(len(tables.patterns)), min(made.timer.programmes, len(tables.patterns))):
        for given in product([None, *((j, s) for j in used for s in steps if s)], repeat=len(lines)):
            if tables.fits(given):
                best = min(best, tables.cost(given))
    return best


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    "rules",
    [
        Rules(weekdays=(1, 5), hours=((300, 600),), avoid=()),
        Rules(weekdays=(1, 5), hours=((300, 350),), avoid=()),  # too short for all
        Rules(weekdays=(1, 5), hours=((300, 600),), avoid=(), tank_l=250.0, refill_lpd=20.0),
    ],
    ids=["free", "short", "tank"],
)
def test_the_optimum_is_that_of_trying_everything(seed: int, rules: Rules) -> None:
    made = asked(seed, SMALL, rules, lines=2, days=7)
    found = plan_timer(made)
    assert found.is_proved
    assert found.is_every_step
    assert found.cost == pytest.approx(everything(made, Tables.of(made)), abs=1e-6)


def test_the_setting_costs_what_the_plan_says() -> None:
    made = asked(11)
    found = plan_timer(made)
    assert cost_of_setting(made, found.setting) == pytest.approx(found.cost, rel=1e-9)
    assert found.cost <= first_plan(made).cost + 1e-9
    assert found.cost < found.dry_cost


def test_more_programmes_never_cost_more() -> None:
    costs = [plan_timer(asked(7, Timer(programmes=n))).cost for n in (1, 2, 3)]
    assert costs == sorted(costs, reverse=True)
    assert costs[0] > costs[-1]


def test_doubling_the_flow_halves_the_minutes() -> None:
    made = asked(2, Timer(step_minutes=1))
    double = replace(made, needs=tuple(replace(n, per_minute_mm=2.0 * n.per_minute_mm) for n in made.needs))
    one, two = plan_timer(made), plan_timer(replace(double, timer=Timer(step_minutes=1)))
    minutes = [sum(m * len(p.starts) for p in plan.setting for _, m in p.minutes) for plan in (one, two)]
    assert minutes[0] / minutes[1] == pytest.approx(2.0, rel=0.1)


@pytest.mark.parametrize(
    ("timer", "rules", "code"),
    [
        (Timer(programmes=0), Rules(), "timer.range"),
        (Timer(lines=2), Rules(), "timer.lines"),
        (Timer(), Rules(flow_cap_lph=10.0), "timer.flow"),
        (Timer(day_kinds=("every",), longest_interval=6), Rules(weekdays=(1, 4)), "timer.days"),
        (Timer(day_kinds=()), Rules(), "timer.days"),
        (Timer(step_minutes=5), Rules(hours=((240, 243),)), "timer.hours"),
    ],
)
def test_what_cannot_be_is_refused_in_words(timer: Timer, rules: Rules, code: str) -> None:
    with pytest.raises(InputError) as refused:
        plan_timer(asked(1, timer, rules))
    assert refused.value.code == code
    assert refused.value.message.endswith(".")


def test_a_stretch_of_months_is_planned_without_free_watering(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a tank binds over a season the free program took minutes, and there was no answer when its time was up. No gap is told there."""
    from soakbook.delivery import timer_event

    made = asked(1, SMALL, Rules(tank_l=300.0, refill_lpd=20.0), lines=2, days=60)
    assert timer_event.free_bound(made, 0.0) == -np.inf
    monkeypatch.setattr(timer_event, "free_bound", lambda *_: pytest.fail("solved for days that nobody is told of"))
    plan = plan_timer(made, seconds=0.5)
    assert 0.0 <= plan.bound <= plan.cost


def test_a_tank_that_is_full_runs_over() -> None:
    """30 L when full and 20 L a day, watered on one day a week only, six days from now at first: it has 30 L then, not 150."""
    late = ((FIRST.weekday() - 1) % 7,)
    knows, forgets = (Rules(weekdays=late, tank_l=30.0, refill_lpd=20.0, tank_full_l=full_l) for full_l in (30.0, None))
    plans = {rules: plan_timer(asked(1, SMALL, rules, lines=2, days=21)) for rules in (knows, forgets)}
    flows = asked(1, SMALL, knows, lines=2, days=21).flows_lph

    def broken(rules: Rules) -> str:
        return " ".join(str(one) for one in problems(plans[rules].setting, SMALL, knows, flows, FIRST, 21))

    assert plans[knows].setting
    assert broken(knows) == ""
    assert "the tank is empty" in broken(forgets)
    assert plans[forgets].cost < plans[knows].cost


def test_an_empty_tank_leaves_the_timer_off() -> None:
    made = asked(1, SMALL, Rules(tank_l=0.0), lines=2, days=7)
    plan = plan_timer(made, seconds=0.01)  # no time to prove anything: doing nothing still has an answer
    assert plan.setting == ()
    assert plan.cost == plan.dry_cost


def test_a_tank_that_cannot_be_is_refused_and_no_cut_goes_on_for_ever() -> None:
    for rules in (Rules(tank_l=-5.0), Rules(tank_l=50.0, refill_lpd=-5.0)):
        with pytest.raises(InputError) as caught:
            first_plan(asked(1, SMALL, rules, lines=2, days=7))
        assert caught.value.code == "timer.range"
    tables = Tables.of(asked(1, SMALL, lines=2, days=7))
    object.__setattr__(tables, "fits", lambda chosen: False)  # as where not even nothing fits
    assert _cut_to_fit(tables, ((0, 5), None)) == (None, None)


def test_no_hours_are_refused() -> None:
    with pytest.raises(InputError, match="no hour"):
        span_of(Rules(hours=((600, 900),)), FIRST, 14)


def test_a_setting_that_breaks_rules_says_which() -> None:
    flows = {"beds": 100.0, "pots": 50.0}
    timer, rules = Timer(programmes=1, starts=1, step_minutes=5, longest_minutes=60), Rules(weekdays=(0, 2))
    daily = Programme("A", Days(), (595, 610), (("beds", 63), ("lawn", 5)))
    said = " ".join(problems([daily, daily], timer, rules, flows, FIRST))
    for part in ("2 programmes", "2 start times", "63 minutes", '"lawn"'):
        assert part in said
    one = Programme("A", Days(), (595,), (("beds", 10),))
    said = " ".join(problems([one], timer, rules, flows, FIRST))
    assert "not allowed" in said
    assert "from 09:55 to 10:05, outside" in said
    counted = replace(one, days=Days("every", every=3, first=FIRST))
    said = " ".join(problems([counted], timer, rules, flows, FIRST))
    assert "runs every so many days; the timer cannot be set so" in said
    assert "outside" in said
    tank = problems([replace(one, days=Days("weekdays", (0,)), starts=(300,))], timer, Rules(tank_l=10.0), flows, FIRST)
    assert "tank is empty" in tank[0]
