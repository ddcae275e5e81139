"""Advice by expected cost on invented places."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from soakbook.advice import flip
from soakbook.advice.costs import Weights, priced
from soakbook.advice.decide import advise, run_to
from soakbook.advice.flip import FeelTurn, RainTurn, rain_does_it, turn
from soakbook.advice.plan import Plan, plan_round, weights_of
from soakbook.advice.week import coming_week
from soakbook.advice.weigh import TIE, Together, WeatherHere, amounts, best_of, board_of, plain_act, weigh
from soakbook.advice.worth import answers, is_same_act, which_to_probe
from soakbook.balance import rollout_names as names
from soakbook.balance.crops import PHASE_WORDS
from soakbook.balance.rollout import reduce, roll
from soakbook.balance.wander import demand_factor
from soakbook.garden.model import Line, Place, Planting, Supply, Wishes
from soakbook.weather.members import WeatherMembers
from tests.practice.sites import START, bed, pot, steady
from tests.unit.advice.made import Scene, believed, coming, garden_of, laid_out, scene

TOMATO = bed("tomato", "loam", means="drip_line")
LETTUCE = bed("lettuce", "sandy_loam", means="wand")
POT = pot("tomato", 15)
#: A crop that neither splits nor rots for swings.
BEAN = bed("bean_bush", "loam", means="drip_line", planted=False)


def one(place: Place, used: float, **more: object) -> Plan:
    return scene(place, used=used, **more).plans()[0]  # type: ignore[arg-type]


def test_a_dry_place_is_soaked_and_a_full_one_left() -> None:
    dry, full = one(TOMATO, 0.75), one(TOMATO, 0.05, spread=0.02)
    assert dry.verdict == "soak"
    assert dry.depth_mm > 15.0
    assert full.verdict == "hold"
    assert full.litres == 0.0


@pytest.mark.parametrize("place", [TOMATO, LETTUCE, POT], ids=["tomato", "lettuce", "pot"])
@pytest.mark.parametrize("used", [0.1, 0.5, 0.8])
def test_parts_add_up_to_the_number_shown(place: Place, used: float) -> None:
    plan = one(place, used)
    assert sum(p.cost for p in plan.parts) == pytest.approx(plan.cost, abs=1e-12)
    costs = plan.costs.mean(axis=1)
    at = int(np.argmin(np.abs(plan.acts_mm - (plan.depth_mm if plan.verdict == "soak" else 0.0))))
    assert plan.cost == pytest.approx(costs[at], rel=1e-9)
    assert sum(p.cost for p in plan.saved) == pytest.approx(costs[0] - costs[at], abs=1e-9)
    assert plan.costs.shape == (len(plan.acts_mm), 50)
    assert np.all(plan.costs >= 0.0)
    assert plan.acts_mm[0] == 0.0


def test_sure_rain_is_waited_for_and_the_flip_names_its_day() -> None:
    dry = scene(BEAN, used=0.68, ahead=coming(chance=0.0))
    wet = replace(dry, ahead=coming(chance=0.0, rain_on={0: 40.0}))
    assert dry.plans()[0].verdict == "soak"
    plan = wet.plans()[0]
    assert plan.verdict == "rain will do"
    assert plan.litres == 0.0
    assert plan.flip is not None
    assert plan.flip.text.startswith("water if today brings less than ")


def test_the_flip_holds_when_tried() -> None:
    """With a bit less rain than it says the advice is the other, with a bit more it stays."""
    wet = scene(BEAN, used=0.68, ahead=coming(chance=0.0, rain_on={0: 40.0}))
    flip = wet.plans()[0].flip
    assert flip is not None
    turn = flip.text.values["rain"].value  # type: ignore[attr-defined]
    less = replace(wet, ahead=coming(chance=0.0, rain_on={0: max(turn - 3.0, 0.0)})).plans()[0]
    more = replace(wet, ahead=coming(chance=0.0, rain_on={0: turn + 3.0})).plans()[0]
    assert less.verdict == "soak"
    assert more.verdict in ("rain will do", "hold")


def test_the_advice_turns_only_in_the_sensible_direction() -> None:
    """More rain on the day never turns leaving into watering, whatever the place lacks."""
    for used in (0.3, 0.5, 0.65, 0.8):
        made = scene(BEAN, used=used)
        board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
        alone = Together((board,), (weigh(board, amounts(board)),))
        turned = turn(alone, answers(alone))
        waters = alone.best > 0
        if isinstance(turned, FeelTurn):
            assert turned.is_dry != waters
        plan = made.plans()[0]
        if plan.flip is not None and isinstance(turned, RainTurn):
            assert plan.flip.text.startswith("leave it if" if waters else "water if")
            assert ("more than" in plan.flip.text) == waters
            expected = made.ahead.columns["rain_mm"][:, turned.days_on].mean()
            assert (expected < turned.rain_mm + 1.0) if waters else (expected > turned.rain_mm - 1.0)


def test_a_dry_seedbed_is_not_told_to_wait_for_the_rain_of_another_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """Common practice: a seedbed is kept moist every day until seeds are up; a grown crop may wait for rain of 15 mm."""
    monkeypatch.setattr(flip, "_waters", lambda together, sky_of: sky_of.keywords["rain_mm"] < 15.0)
    seeds = bed("carrot", "loam", planted=False, means="can")
    found = []
    for place, at in ((seeds, 2), (BEAN, 60)):
        made = scene(place, used=0.68, at=at, ahead=coming(at=at, chance=0.0, rain_on={2: 6.0}))
        board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
        alone = Together((board,), (weigh(board, amounts(board)),))
        assert alone.best > 0
        found.append(flip._rain_turn(alone, waters=True))
    assert found == [None, RainTurn(2, 15)]


def test_a_soaked_place_is_left_to_drain() -> None:
    made = scene(TOMATO, used=0.05)
    belief = made.beliefs[0]
    now = belief.now.copy()
    now.airless[:] = 0.8
    plan = replace(made, beliefs=(replace(belief, now=now),)).plans()[0]
    assert plan.verdict == "let drain"


def test_nothing_growing_asks_for_nothing() -> None:
    later = replace(TOMATO, plantings=(Planting("tomato", planted_out=START + timedelta(days=100)),))
    plan = one(later, 0.6)
    assert plan.verdict == "hold"
    assert plan.litres == 0.0
    assert plan.flip is None


def test_places_on_one_line_get_the_same_minutes() -> None:
    line = Line("drip", "drip_line", flow_lph=120.0)
    first = replace(TOMATO, name="first", line="drip", line_share=0.5)
    second = replace(bed("pepper", "loam", means="drip_line"), name="second", line="drip", line_share=0.5)
    plans = scene(first, second, used=0.6, lines=(line,)).plans()
    assert all(p.verdict == "soak" for p in plans)
    assert plans[0].litres == pytest.approx(plans[1].litres)
    thirsty = scene(first, second, used=0.6, lines=(line,))
    full = believed(thirsty.beliefs[1].days, 60, 0.05, 0.02)
    mixed = replace(thirsty, beliefs=(thirsty.beliefs[0], full)).plans()
    assert mixed[0].litres == pytest.approx(mixed[1].litres)
    assert mixed[0].litres <= plans[0].litres


def on_a_line(*shares: float, used: float, spread: float = 0.05, ahead: WeatherMembers | None = None) -> Scene:
    """Bean beds of one size on a line."""
    line = Line("drip", "drip_line", flow_lph=120.0)
    places = [replace(BEAN, name=f"bed {k}", line="drip", line_share=share) for k, share in enumerate(shares)]
    return scene(*places, used=used, spread=spread, lines=(line,), ahead=ahead)


def test_what_turns_the_advice_of_a_line_turns_it() -> None:
    """Rain on the day named: with less the line runs, with more it does not, at all its places."""
    wet = on_a_line(0.5, 0.5, used=0.4, ahead=coming(chance=0.0, rain_on={0: 20.0}))
    plans = wet.plans()
    flips = {p.flip.text for p in plans if p.flip is not None}
    assert len(flips) == 1
    assert all(p.flip is not None for p in plans)
    turn = next(iter(flips)).values["rain"].value  # type: ignore[attr-defined]
    for rain, verdicts in ((max(turn - 3.0, 0.0), {"soak"}), (turn + 3.0, {"rain will do", "hold"})):
        there = replace(wet, ahead=coming(chance=0.0, rain_on={0: rain})).plans()
        assert {p.verdict for p in there} <= verdicts


def test_a_reading_on_a_line_may_change_its_minutes_but_holds_nobody_up() -> None:
    """Its worth is told; but nobody waits for a probe with the tap in hand."""
    unsure, sure = (on_a_line(0.5, 0.5, used=0.2, spread=spread).plans() for spread in (0.15, 0.01))
    assert all(p.reading_worth > 0.0 for p in unsure)
    assert all(p.reading_worth == 0.0 for p in sure)
    assert all(p.verdict != "probe first" for p in unsure)


def test_a_reading_is_worth_most_where_least_is_known() -> None:
    known, unknown = one(BEAN, 0.25, spread=0.01), one(BEAN, 0.25, spread=0.25)
    assert known.reading_worth == 0.0
    assert unknown.reading_worth > 0.0
    plans = (replace(known, place="known"), replace(unknown, place="unknown"))
    assert which_to_probe(plans) == "unknown"
    assert which_to_probe(plans[:1]) is None
    assert which_to_probe(()) is None


@pytest.mark.parametrize("used", [0.3, 0.6])
def test_an_answer_that_tells_nothing_new_leaves_the_act_as_it_is(used: float) -> None:
    """Where every answer is as likely with each member, none may change the act: ties go to the same plain act as without one."""
    made = scene(BEAN, used=used, spread=0.15)
    board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
    weighed = weigh(board, amounts(board))
    same = weigh(board, weighed.acts_mm, ways=(int(weighed.goes_on[weighed.best]),), seen_mm=board.missing_mm)
    assert same.plain == weighed.plain
    assert is_same_act(float(same.acts_mm[same.best]), float(weighed.acts_mm[weighed.best]))


def test_the_plain_act_goes_by_what_is_thought_to_be_missing() -> None:
    made = scene(BEAN, used=0.5)
    board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
    acts = amounts(board)
    assert plain_act(board, acts, 0.0) == 0
    full = board.missing_mm / float(board.reduced.fix[names.EFFICIENCY])
    assert acts[plain_act(board, acts, board.store_mm)] == acts.max()
    assert acts[plain_act(board, acts)] == pytest.approx(full, rel=0.08)


def test_costs_about_the_same_go_to_the_plain_act() -> None:
    assert best_of(np.array([1.0, 0.96, 2.0]), 0) == 0
    assert best_of(np.array([1.0, 0.94, 2.0]), 0) == 1
    assert best_of(np.array([0.96, 3.0, 1.0]), 2) == 2


def test_what_to_give_without_a_probe_is_one_of_the_acts_and_of_least_cost_but_for_ties() -> None:
    for used, spread in ((0.2, 0.25), (0.4, 0.25), (0.7, 0.05)):
        plan = one(BEAN, used, spread=spread)
        at = int(np.argmin(np.abs(plan.acts_mm - plan.unread_mm)))
        assert plan.acts_mm[at] == plan.unread_mm
        mean = plan.costs.mean(axis=1)
        assert mean[at] <= mean.min() + TIE
        assert plan.verdict == "probe first" or plan.depth_mm == plan.unread_mm


def test_rain_will_do_only_where_half_of_the_members_bring_it() -> None:
    """The same rain on the second day, for 20 and for 35 of 50 members."""
    dry = scene(BEAN, used=0.45, ahead=coming(chance=0.0))
    told = []
    for count in (20, 35):
        ahead = coming(chance=0.0)
        ahead.columns["rain_mm"][:count, 0] = 60.0
        made = replace(dry, ahead=ahead)
        board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
        told.append(rain_does_it(Together((board,), (weigh(board, amounts(board)),))))
    assert told == [False, True]


def test_single_days_go_on_being_off_in_the_days_ahead() -> None:
    """Each member's weather ahead is that of the place times what that day is off by on its path."""
    made = scene(BEAN, used=0.4)
    days, at = made.beliefs[0].days, made.beliefs[0].today
    assert days.paths is not None
    reduced = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights()).reduced
    plain = reduce(days, at, made.beliefs[0].now, WeatherHere(made.ahead).at(days.place, 50))
    off = demand_factor(days.days[at : at + 16], days.paths)
    np.testing.assert_allclose(reduced.sky[names.ETO][:, :50], plain.sky[names.ETO][:, :50] * off, rtol=1e-12)


def test_it_says_why_it_differs_from_the_plain_rule() -> None:
    made = scene(BEAN, used=0.6, ahead=coming(chance=0.0, rain_on={0: 40.0}))
    belief = made.beliefs[0]
    weather = steady("warm")
    rule = advise(run_to(belief.days, made.on), weather)
    soak = replace(rule, verdict="soak", litres=60.0, depth_mm=belief.days.depth_mm(60.0, belief.today))
    plan = made.plans(advices=[soak])[0]
    assert plan.differs.startswith("the plain rule would give 60 L; this is expected to cost less by what ")
    same = replace(rule, verdict=plan.verdict, litres=plan.litres)
    assert made.plans(advices=[same])[0].differs == ""
    assert made.plans(advices=[soak], reasons=False)[0].flip is None


def test_the_rule_s_own_amount_is_among_the_acts() -> None:
    made = scene(TOMATO, used=0.5)
    rule = advise(run_to(made.beliefs[0].days, made.on), steady("warm"))
    given = replace(rule, verdict="soak", depth_mm=12.345)
    assert 12.345 in made.plans(advices=[given])[0].acts_mm


def test_wishes_are_the_weights_and_weigh() -> None:
    garden = garden_of(TOMATO, wishes=Wishes(spare_water=2.0, spare_time=0.5, best_crop=3.0))
    assert weights_of(garden) == Weights(2.0, 0.5, 3.0)
    made = scene(TOMATO, used=0.75)
    assert made.plans(Weights(0.0, 0.0, 0.0))[0].cost == pytest.approx(0.0)


@pytest.mark.parametrize("place", [BEAN, POT], ids=["bed", "pot"])
def test_the_week_stays_sane_at_the_ends_of_the_sliders(place: Place) -> None:
    """Never more than what is missing and the most a wet surface with its crop can lose (FAO-56 Eq. 72: Kc,max ETo) ask for; with
    crop counting for nothing and the rest as usual, nothing; with nothing counting at all, the plain rule's watering."""
    made = scene(place, used=0.4)
    board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
    days, today, sky, day = board.days, board.today, board.reduced.sky, board.reduced.day
    steps = 7 * board.reduced.steps_a_day
    loses = float(np.sum(sky[names.ETO, :steps].mean(axis=1) * (day[:steps, names.KC_MAX] / day[:steps, names.AREA])))
    most = (board.missing_mm + loses) / float(board.reduced.fix[names.EFFICIENCY])
    total = {}
    for weights in itertools.product((0.0, 1.0, 3.0), repeat=3):
        week = coming_week(made.garden, made.beliefs, made.ahead, made.on, Weights(*weights))
        total[weights] = days.depth_mm(sum(week.places[0].litres), today)
        assert total[weights] <= 1.1 * most
        if weights[2] > 0.0:
            assert total[weights] > 0.4 * loses
    assert total[1.0, 1.0, 0.0] == total[3.0, 3.0, 0.0] == 0.0
    assert total[0.0, 0.0, 0.0] > 0.0


def test_a_seedbed_left_dry_loses_seedlings_in_the_week_as_the_decision_counts_them() -> None:
    """Nothing watered for a week on a seedbed that is dry through: what is lost is what the decision's own run over those days adds up."""
    place = bed("carrot", "loam", planted=False, means="can")
    made = scene(place, used=0.0, at=1, ahead=coming(at=1, chance=0.0))
    belief = made.beliefs[0]
    belief = replace(belief, now=believed(belief.days, 1, 1.0).now)
    (week,) = coming_week(made.garden, [belief], made.ahead, made.on, Weights(1.0, 1.0, 0.0)).places
    assert sum(week.litres) == 0.0
    ahead = WeatherHere(made.ahead).at(place, int(belief.days.laid.columns.shape[2]))
    reduced = priced(reduce(belief.days, 1, belief.now, ahead, horizon=7), belief.days, 1)
    sums = roll(reduced, np.zeros(1), np.full(1, 1e9), np.ones(1))[0].mean(axis=1)
    counted = float(sums[[names.S_DRY, names.S_WET, names.S_SWING, names.S_DAMP, names.S_SEED]].sum())
    assert sums[names.S_SEED] > 20.0
    assert week.loss == pytest.approx(counted, rel=0.1)


def test_salty_water_is_given_with_some_to_pass_through() -> None:
    """A fifth runs out of a pot anyway: it washes down what water of 1 dS/m brings a tomato (which bears 2.5: share 1 / 11.5), not of 3 (3 / 9.5)."""
    fresh, hard, salty = (scene(POT, used=0.5, supply=Supply(salt_ds_m=salt)).plans()[0] for salt in (None, 1.0, 3.0))
    assert hard.depth_mm == fresh.depth_mm
    assert salty.depth_mm > 1.05 * fresh.depth_mm
    assert [any(p.cause == "salt left in the soil" for p in plan.parts) for plan in (fresh, hard, salty)] == [
        False,
        False,
        True,
    ]


@pytest.mark.parametrize(("plant", "bears"), [("bean_bush", 1.0), ("tomato", 2.5)])
def test_the_saltier_the_water_the_more_is_given_but_not_much_more_than_has_to_pass(plant: str, bears: float) -> None:
    """The share that has to pass is ECw / (5 ECe - ECw); a soak with all of it on top is 1 / (1 - share) times as much. ECe: Maas 1990."""
    place = bed(plant, "loam", means="drip_line")
    fresh = scene(place, used=0.6).plans()[0].depth_mm
    given = [fresh]
    for salt in (0.01, 0.7, 1.5):
        given.append(scene(place, used=0.6, supply=Supply(salt_ds_m=salt)).plans()[0].depth_mm)
        share = min(salt / (5.0 * bears - salt), 0.3)
        assert given[-1] <= 1.2 * fresh / (1.0 - share)
    assert given == sorted(given)
    assert given[-1] > 1.1 * fresh


def test_it_is_the_same_each_time_and_for_weather_with_fewer_members() -> None:
    made = scene(TOMATO, used=0.5)
    again = scene(TOMATO, used=0.5)
    assert made.plans()[0].cost == again.plans()[0].cost
    few = replace(made, ahead=coming(members=20))
    assert few.plans()[0].costs.shape[1] == 50


def days_watered(place: Place, first: int, last: int, kind: str = "warm") -> tuple[list[int], list[float], Scene]:
    """Days and depths on which a place, full on the first day, is watered when the plan is followed in steady dry weather."""
    garden = garden_of(place)
    laid = laid_out(garden, place, kind)
    state = laid.start()
    made = scene(place, used=0.3, at=first, kind=kind)
    days, depths = [], []
    for day in range(first, last):
        belief = replace(made.beliefs[0], days=laid, today=day, now=state)
        ahead = coming(kind, day, chance=0.0)
        plan = plan_round(garden, [belief], ahead, START + timedelta(days=day), reasons=False)[0]
        extra = [(day, plan.depth_mm)] if plan.verdict == "soak" else []
        if extra:
            days.append(day)
            depths.append(plan.depth_mm)
        state = laid.run(state, day, day + 1, extra, logged=False).end
    return days, depths, made


def test_deep_and_seldom_on_loam() -> None:
    """Common practice: a grown bed on loam is soaked every five to ten days, a hand's depth of water or more."""
    days, depths, _ = days_watered(bed("tomato", "loam", means="sprinkler"), 70, 100)
    gaps = np.diff([70, *days])
    assert 4.0 < gaps.mean() < 14.0
    assert np.mean(depths) > 25.0


def test_little_and_often_for_seeds_pots_and_sand() -> None:
    """Common practice: seedbeds daily or nearly, pots daily in summer, sand about twice as often as loam with half the amount."""
    seeds, little, made = days_watered(bed("carrot", "loam", planted=False, means="can"), 1, 8)
    assert PHASE_WORDS[int(made.beliefs[0].days.crops.phase[2])] == "seedbed, not up yet"
    assert len(seeds) >= 4
    assert np.mean(little) < 8.0
    pots, _, _ = days_watered(pot("tomato", 15), 60, 70)
    assert len(pots) >= 7
    sand, in_sand, _ = days_watered(bed("lettuce", "sand", means="sprinkler"), 30, 45)
    loam, in_loam, _ = days_watered(bed("lettuce", "loam", means="sprinkler"), 30, 45)
    assert len(sand) > 1.4 * len(loam)
    assert np.mean(in_sand) < np.mean(in_loam)
