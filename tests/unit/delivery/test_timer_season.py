"""A season of settings: where it is cut, what it sets, and that every rule is kept to its end."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest

from soakbook.advice.belief import believe
from soakbook.delivery import timer_season
from soakbook.delivery.timer_card import season_card, season_lines
from soakbook.delivery.timer_judge import Judge
from soakbook.delivery.timer_model import Days, Programme, Rules, Timer, runs_of
from soakbook.delivery.timer_need import WASTE_PRICE
from soakbook.delivery.timer_place import TimerPlace, from_day, put_by, timer_places
from soakbook.delivery.timer_plan import TimerPlan
from soakbook.delivery.timer_refine import MOST_REFINED, best_setting
from soakbook.delivery.timer_season import SeasonPlan, finer, plan_season
from soakbook.delivery.timer_series import SeasonJudge, Stretch, ends, tank_after
from soakbook.delivery.timer_weeks import LEAST_WEEKS, cut_at, stretch_costs, weekly_need_minutes
from soakbook.errors import InputError
from soakbook.garden.model import Garden
from soakbook.weather.members import WeatherMembers, members_of
from soakbook.weather.normals import expected_weather, normals_at
from tests.practice.sites import START, bed, steady
from tests.unit.delivery.test_timer_judge import FLOWS, garden, warm

WEEKS = 10
RULES = Rules(weekdays=(0, 2, 4, 6), pause_minutes=20, tank_l=1500.0, refill_lpd=20.0)


def year(days: int = 7 * WEEKS, members: int = 4) -> WeatherMembers:
    """The usual weather of a spot in a dry summer, a little wetter or drier by member."""
    site = garden()
    normals = normals_at(site.lat_deg, site.lon_deg, site.elevation_m)
    series = expected_weather(normals, START + timedelta(days=40), START + timedelta(days=40 + days))
    rain = [
        replace(series, columns={**series.columns, "rain_mm": f * series.columns["rain_mm"]})
        for f in np.linspace(0.4, 1.6, members)
    ]
    return members_of(rain, "usual")


@pytest.fixture(scope="module")
def places() -> tuple[TimerPlace, ...]:
    return timer_places(garden(), year())


@pytest.fixture(scope="module")
def plan(places: tuple[TimerPlace, ...]) -> SeasonPlan:
    return plan_season(places, Timer(), RULES, FLOWS, 7 * WEEKS, most=3)


@pytest.mark.parametrize("most", [1, 2, 3, 5])
def test_the_cut_is_the_cheapest_of_all(most: int) -> None:
    """Against every way to cut eleven weeks into stretches of two weeks or more."""
    rng = np.random.default_rng(most)
    costs = np.full((12, 12), np.inf)
    for i in range(12):
        for j in range(i + LEAST_WEEKS, 12):
            costs[i, j] = rng.uniform(0.0, 3.0) * (j - i)
    every = [
        (0, *inner, 11)
        for k in range(most)
        for inner in combinations(range(1, 11), k)
        if all(b - a >= LEAST_WEEKS for a, b in pairwise((0, *inner, 11)))
    ]

    def cost(edges: tuple[int, ...]) -> float:
        return sum(float(costs[a, b]) for a, b in pairwise(edges))

    found = cut_at(costs, most)
    assert found[0] == 0
    assert len(found) <= most
    assert cost((*found, 11)) == pytest.approx(min(cost(edges) for edges in every))


def test_where_the_need_changes_is_cut() -> None:
    """Ten weeks of 20 minutes, then six of 60: two amounts cost nothing, one costs what the weeks are off by."""
    need = np.repeat([20.0, 60.0], [10, 6])[:, None]
    costs = stretch_costs(["a"], [need])
    assert cut_at(costs, 4) == (0, 10)
    assert costs[0, 10] + costs[10, 16] == pytest.approx(0.0, abs=1e-9)
    short, over = 10 * 40.0 * WASTE_PRICE, 6 * 40.0  # 60 all along wastes, 20 all along is short
    assert costs[0, 16] == pytest.approx(100.0 * min(short, over) / need.sum())


def test_one_amount_for_two_places_lies_between() -> None:
    """Of two places on a line the one amount is dearer than an amount for each, and never below what the dearest stretch alone costs."""
    rng = np.random.default_rng(1)
    needs = [rng.uniform(10.0, 60.0, (8, 5)) for _ in range(2)]
    together, apart = stretch_costs(["a", "a"], needs), stretch_costs(["a", "b"], needs)
    long = np.isfinite(together)
    assert np.all(together[long] >= apart[long] - 1e-9)


def test_need_is_use_less_rain_in_minutes_of_the_line(places: tuple[TimerPlace, ...]) -> None:
    """Steady dry days: a week's minutes bring what seven days use kept moist; nothing is needed once nothing grows."""
    one = timer_places(garden(), warm(28))[0]
    need = weekly_need_minutes(one, 28)
    assert need.shape == (4, 6)
    brought = need * one.depth_per_minute_mm * float(one.days.laid.columns.delivery[0].mean())
    judged = Judge([one], 28)
    assert brought.mean(axis=1).sum() == pytest.approx(judged._use[0] / one.days.area_wet(0), rel=0.02)
    cleared = replace(one, days=replace(one.days, crops=replace(one.days.crops, phase=np.zeros(29, dtype=np.int8))))
    assert not weekly_need_minutes(cleared, 28).any()


def test_a_place_from_a_later_day_goes_on_as_it_would(places: tuple[TimerPlace, ...]) -> None:
    for one in places:
        n = one.days.steps_a_day
        put, _ = put_by([Programme("A", Days(), (300,), (("beds", 20), ("pots", 4)))], one)
        whole = one.run(put[: 30 * n], 0, 30, one.start, keep=False).end
        half = one.run(put[: 12 * n], 0, 12, one.start, keep=False).end
        later = from_day(one, 12, half)
        rest = later.run(put[12 * n : 30 * n], 0, 18, later.start, keep=False).end
        assert rest.water_mm == pytest.approx(whole.water_mm, rel=1e-12)


def test_a_series_waters_as_its_stretches_do(places: tuple[TimerPlace, ...]) -> None:
    first, second = (
        Programme("A", Days("weekdays", days), (300,), (("beds", m),)) for days, m in (((0, 3), 10), ((5,), 30))
    )
    judge = SeasonJudge(Judge(places, 35), Timer(), Rules(), FLOWS)
    put, off = judge.water(0, (Stretch(0, (first,)), Stretch(21, (second,))))
    days = [START + timedelta(days=40 + d) for d in range(35)]
    asked = [
        10.0 if d < 21 and day.weekday() in (0, 3) else 30.0 if d >= 21 and day.weekday() == 5 else 0.0
        for d, day in enumerate(days)
    ]
    assert put == pytest.approx(np.array(asked) * places[0].depth_per_minute_mm)
    assert off == 0.0


def test_every_rule_is_kept_on_every_day(places: tuple[TimerPlace, ...], plan: SeasonPlan) -> None:
    """Allowed days, hours and the tank, counted out here run by run for every series that is told of."""
    for times in plan.by_count:
        left = 1500.0
        for stretch, end in zip(times.series, ends(times.series, plan.days), strict=True):
            for d in range(stretch.first, end):
                day = plan.first + timedelta(days=d)
                runs = runs_of(stretch.setting, [("beds",), ("pots",)], day)
                assert not runs or day.weekday() in RULES.weekdays
                assert all(any(a <= run.start and run.end <= b for a, b in RULES.windows()) for run in runs)
                assert all(b.start >= a.end for a, b in pairwise(runs))
                left -= sum((run.end - run.start) / 60.0 * FLOWS[run.line] for run in runs)
                assert left >= -1e-6
                left += 20.0


def test_fewer_changes_cost_more_and_are_told(places: tuple[TimerPlace, ...], plan: SeasonPlan) -> None:
    counts, costs = [one.count for one in plan.by_count], [one.cost for one in plan.by_count]
    assert counts == sorted(set(counts))
    assert counts[0] == 1
    assert counts[-1] <= 3
    assert all(b < a for a, b in pairwise(costs))
    assert plan.chosen in plan.by_count
    assert plan.chosen.given_l == pytest.approx(sum(one.given_l for one in plan.judged))


def test_a_season_of_settings_is_better_where_need_changes(places: tuple[TimerPlace, ...]) -> None:
    """Young plants and a summer that grows hot: without a tank several settings cost clearly less than one, and one less than none."""
    found = plan_season(places, Timer(), Rules(), FLOWS, 7 * WEEKS, most=3)
    assert found.by_count[-1].count > 1
    assert found.by_count[-1].cost < 0.8 * found.by_count[0].cost
    assert found.by_count[0].cost < SeasonJudge(Judge(places, 7 * WEEKS), Timer(), Rules(), FLOWS).judge.cost(())


def test_the_card_tells_each_day_of_change(plan: SeasonPlan) -> None:
    card = season_card("test", plan.first, plan.days, plan.chosen.series, Timer(), ["carrots"])
    text = "\n".join(str(line) for line in season_lines(card))
    for stretch in plan.chosen.series:
        assert f"From {plan.first + timedelta(days=stretch.first)}:" in text
    assert f"From {plan.first + timedelta(days=plan.days)}: off." in text
    assert "backflow" in text
    assert "water by hand: carrots" in text


def test_a_season_that_is_not_over_is_not_called_off(places: tuple[TimerPlace, ...], plan: SeasonPlan) -> None:
    """Plants that grow on when the weather that was looked at ends: the timer is set anew then, not turned off."""
    whole = plan_season(places, Timer(), Rules(), FLOWS, len(places[0].days.days), most=1)
    assert (plan.is_over, whole.is_over) == (True, False)
    card = season_card("test", whole.first, whole.days, whole.chosen.series, Timer(), [], is_over=whole.is_over)
    text = "\n".join(str(line) for line in season_lines(card))
    assert "off. Nothing" not in text
    assert f"Set it anew by {whole.first + timedelta(days=whole.days)} at the latest" in text


def test_runs_made_longer_keep_their_pause(places: tuple[TimerPlace, ...]) -> None:
    """Starts 50 minutes apart: 30 minutes leave a pause of 20, 31 do not; what is made finer stays on the right side."""
    rules = Rules(pause_minutes=20)
    judge = SeasonJudge(Judge(places, 42), Timer(), rules, FLOWS)

    def series(minutes: int) -> tuple[Stretch, ...]:
        return (Stretch(0, (Programme("A", Days(), (300, 350), (("beds", minutes),)),)),)

    assert judge.problems(series(30)) == ()
    assert [str(text) for text in judge.problems(series(31))] == [
        "programme A leaves less than 20 min between two runs of beds."
    ]
    made = finer(judge, series(30))
    assert judge.problems(made) == ()
    assert judge.cost(made) <= judge.cost(series(30))


def test_what_the_tank_holds_goes_on() -> None:
    """Two starts of 30 min at 60 L/h on 5 of 7 days draw 300 L; 7 days bring 70 L."""
    setting = [Programme("A", Days("weekdays", (0, 1, 2, 3, 4)), (300, 1100), (("beds", 30),))]
    assert tank_after(Rules(tank_l=400.0, refill_lpd=10.0), setting, FLOWS, START, 7).tank_l == pytest.approx(170.0)
    assert tank_after(Rules(tank_l=150.0, refill_lpd=90.0, tank_full_l=150.0), setting, FLOWS, START, 7).tank_l == 150.0
    assert tank_after(Rules(), setting, FLOWS, START, 7).tank_l is None


def test_a_full_tank_runs_over_while_nothing_is_drawn(places: tuple[TimerPlace, ...]) -> None:
    """200 L, and 100 L a day into it while the timer is off: what is drawn later can be no more than a full tank and what comes in from then on."""
    rules = replace(RULES, tank_l=200.0, refill_lpd=100.0)
    judge = SeasonJudge(Judge(places, 70), Timer(), replace(rules, tank_full_l=200.0), FLOWS)
    thirsty = (Programme("A", Days("weekdays", (0, 2, 4, 6)), (300, 1100), (("beds", 90),)),)
    off = (Stretch(0, ()), Stretch(28, thirsty))
    assert any("empty" in str(text) for text in judge.problems(off))
    assert not any("empty" in str(text) for text in replace(judge, rules=rules).problems(off))


def test_where_nothing_grows_it_is_said() -> None:
    with pytest.raises(InputError, match="nothing grows"):
        plan_season((), Timer(), Rules(), FLOWS, 30, most=2)


def test_where_an_answer_is_waited_for_many_places_are_not_gone_over(
    places: tuple[TimerPlace, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on the card for two weeks: each stretch of a garden of many places took as long as the whole answer may."""
    asked: list[int | None] = []

    def best(*given: Any, most_refined: int | None = None, **more: Any) -> TimerPlan | None:
        asked.append(most_refined)
        return best_setting(*given, most_refined=most_refined, **more)

    monkeypatch.setattr(timer_season, "best_setting", best)
    for within, most in ((math.inf, None), (600.0, MOST_REFINED)):
        asked.clear()
        plan_season(places, Timer(), Rules(), FLOWS, 28, most=1, within=within)
        assert set(asked) == {most}


def test_little_time_is_said_and_keeps_the_rules(places: tuple[TimerPlace, ...]) -> None:
    found = plan_season(places, Timer(), RULES, FLOWS, 7 * WEEKS, most=3, within=0.0)
    assert not found.is_whole
    assert SeasonJudge(Judge(places, 7 * WEEKS), Timer(), RULES, FLOWS).problems(found.chosen.series) == ()


def test_plants_are_as_far_as_the_weather_brought_them() -> None:
    """A cool spring behind: the timer's plants are as far as the round's, not as far as the coming weeks would have made them."""
    series = steady("warm", 160)
    cool = np.where(np.arange(160) < 60, -6.0, 0.0)
    series = replace(
        series, columns={**series.columns, **{n: series.columns[n] + cool for n in ("t_max_c", "t_min_c")}}
    )
    now = series.times[60]
    past, ahead = (
        series.between(series.times[0], series.times[59]),
        members_of([series.between(now, series.times[-1])] * 2, "steady"),
    )
    tomatoes = replace(bed("tomato_tall", "loam", means="drip_line"), name="tomatoes", line="beds")
    site = Garden("test", 40.0, 0.0, 100.0, "UTC", (tomatoes,), garden().lines)
    known, guessed = timer_places(site, ahead, past=past)[0], timer_places(site, ahead)[0]
    of_round = believe(site, tomatoes, series, [], now.astype("datetime64[D]").item(), count=2).days.crops
    assert known.days.crops.kcb == pytest.approx(of_round.kcb[60:], rel=0.01)  # members tell the humidity otherwise
    assert known.days.crops.root_m == pytest.approx(of_round.root_m[60:])
    assert guessed.days.crops.root_m[0] > known.days.crops.root_m[0]
