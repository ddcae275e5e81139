"""What a grower is told to set keeps every rule: the plan made finer by the balance, and each setting of a season, looked at minute by minute."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

from hypothesis import HealthCheck, assume, given, settings

from soakbook.delivery.timer_model import Rules, Timer
from soakbook.delivery.timer_place import TimerPlace, needs_of, timer_places
from soakbook.delivery.timer_refine import best_setting
from soakbook.delivery.timer_season import plan_season
from soakbook.delivery.timer_series import ends, tank_after
from soakbook.delivery.timer_tables import Asked, span_of
from soakbook.errors import InputError
from tests.properties.test_timer_properties import RULES, TIMERS, assert_keeps_everything
from tests.unit.delivery.test_timer_judge import FLOWS, garden
from tests.unit.delivery.test_timer_season import year

DAYS = 42
FEW = settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@cache
def places() -> tuple[TimerPlace, ...]:
    return timer_places(garden(), year(DAYS))


@FEW
@given(timer=TIMERS, rules=RULES)
def test_what_is_told_to_be_set_keeps_every_rule(timer: Timer, rules: Rules) -> None:
    found = places()
    rules = replace(rules, flow_cap_lph=rules.flow_cap_lph and rules.flow_cap_lph / 5.0)  # lines of 60 and 8 L/h
    first = found[0].days.days[0].item()
    try:
        plan = best_setting(found, timer, rules, FLOWS, first, 14, seconds=0.5)
        season = plan_season(found, timer, rules, FLOWS, DAYS, most=3, seconds=0.5)
    except InputError:
        assume(False)
    assert plan is not None
    span = span_of(rules, first, 14)
    assert_keeps_everything(plan.setting, Asked(timer, rules, span, FLOWS, needs_of(found, span)))
    for times in season.by_count:
        left = rules
        if rules.tank_l is not None:  # what it holds now it can hold
            left = replace(rules, tank_full_l=max(rules.tank_l, rules.tank_full_l or 0.0))
        for stretch, end in zip(times.series, ends(times.series, DAYS), strict=True):
            day, length = first + timedelta(days=stretch.first), end - stretch.first
            assert_keeps_everything(stretch.setting, Asked(timer, left, span_of(rules, day, length), FLOWS, ()))
            left = tank_after(left, stretch.setting, FLOWS, day, length)
