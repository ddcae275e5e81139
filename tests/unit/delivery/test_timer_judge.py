"""Settings judged by the balance, the check, the card, and programmes in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest

from soakbook.balance.crops import NONE, OVER
from soakbook.delivery.timer_card import ChangeDay, card_of, card_text, next_change
from soakbook.delivery.timer_check import changes, check_timer, in_hot_hours, judge_of, told
from soakbook.delivery.timer_judge import Judge, gain_text, growth_lost, judged_text
from soakbook.delivery.timer_model import Days, Programme, Rules, Timer, problems
from soakbook.delivery.timer_place import TimerPlace, needs_of, timer_places
from soakbook.delivery.timer_plan import plan_timer
from soakbook.delivery.timer_refine import best_setting, refined
from soakbook.delivery.timer_tables import Asked, Tables, span_of
from soakbook.delivery.timer_tank import tank_shares, tank_text
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Line
from soakbook.garden.timer_text import days_from, days_text, programme_from
from soakbook.weather.members import WeatherMembers, members_of
from tests.practice.sites import START, bed, pot, steady

LINES = (Line("beds", "drip_line", flow_lph=60.0, flow_is_measured=True), Line("pots", "emitters", flow_lph=8.0))
FLOWS = {"beds": 60.0, "pots": 8.0}


def garden() -> Garden:
    tomatoes = replace(bed("tomato_tall", "loam", means="drip_line"), name="tomatoes", line="beds")
    patio = replace(pot("basil", 5.0), name="patio", line="pots", means="emitters")
    by_hand = replace(bed("carrot", "loam"), name="carrots")
    return Garden("test", 40.0, 0.0, 100.0, "UTC", (tomatoes, patio, by_hand), LINES)


def warm(days: int = 40, start: int = 40, members: int = 6) -> WeatherMembers:
    """Steady dry days from 10 June on."""
    series = steady("warm", 160)
    first = series.times[start]
    return members_of([series.between(first, first + np.timedelta64(days - 1, "D"))] * members, "steady")


@pytest.fixture(scope="module")
def places() -> tuple[TimerPlace, ...]:
    return timer_places(garden(), warm())


def daily(beds: int, pots: int, *starts: int) -> list[Programme]:
    return [Programme("A", Days(), starts or (300,), (("beds", beds), ("pots", pots)))]


def test_only_places_on_a_line_are_the_timers(places: tuple[TimerPlace, ...]) -> None:
    assert [one.name for one in places] == ["tomatoes", "patio"]
    nothing = Garden("test", 40.0, 0.0, 100.0, "UTC", (replace(garden().places[0], plantings=()),), LINES)
    assert timer_places(nothing, warm()) == ()


def test_litres_are_minutes_times_flow(places: tuple[TimerPlace, ...]) -> None:
    """60 L/h for 30 minutes on 14 days: 420 L; 8 L/h, 6 minutes twice a day: 22.4 L."""
    tomatoes, patio = Judge(places, 14).judge(daily(30, 3, 300, 1140))
    assert tomatoes.given_l == pytest.approx(2 * 14 * 30.0)
    assert patio.given_l == pytest.approx(2 * 14 * 8.0 / 60.0 * 3)


def test_no_timer_wastes_nothing_and_leaves_it_dry(places: tuple[TimerPlace, ...]) -> None:
    for one in Judge(places, 40).judge([]):
        assert (one.given_l, one.wasted_l) == (0.0, 0.0)
        assert one.dry_days > 10
        assert one.lost_dry > 0.2


def test_more_water_is_never_drier_and_wastes_more(places: tuple[TimerPlace, ...]) -> None:
    judged = [Judge(places, 40).judge(daily(m, 2 * m)) for m in (0, 10, 20, 40, 80, 160)]
    for k in range(len(places)):
        dry, wasted = [j[k].lost_dry for j in judged], [j[k].wasted_l for j in judged]
        assert all(b <= a + 1e-9 for a, b in pairwise(dry))
        assert all(b >= a - 1e-6 for a, b in pairwise(wasted))
        assert wasted[-1] > 0.3 * judged[-1][k].given_l


def test_needs_come_near_what_the_balance_lets_plants_use(places: tuple[TimerPlace, ...]) -> None:
    """A place kept moist for two weeks uses about what it was given and does not hold afterwards: the need within a tenth of it."""
    span = span_of(Rules(), places[0].days.days[0].astype(date), 14)
    need = needs_of(places, span)[1]
    judged = Judge(places, 14)
    enough = next(m for m in range(1, 200) if judged.judge(daily(0, m, 300, 1100))[1].lost_dry < 0.005)
    one = judged.judge(daily(0, enough, 300, 1100))[1]
    arrives = float(places[1].days.laid.columns.delivery.mean())
    used_mm = (one.given_l * arrives - one.wasted_l) / (need.litres_per_minute / places[1].depth_per_minute_mm)
    assert need.use_mm.sum(axis=1).mean() == pytest.approx(used_mm, rel=0.1)


def test_a_finer_plan_is_no_worse_by_the_balance(places: tuple[TimerPlace, ...]) -> None:
    span = span_of(Rules(), places[0].days.days[0].astype(date), 14)
    asked = Asked(Timer(), Rules(), span, FLOWS, needs_of(places, span))
    judge, plan = Judge(places, 14), plan_timer(asked)
    finer = refined(Tables.of(asked), judge, plan)
    assert judge.cost(finer.setting) <= judge.cost(plan.setting) + 1e-9
    assert judge.cost(finer.setting) < 0.3 * judge.cost([])
    assert not problems(finer.setting, asked.timer, asked.rules, FLOWS, span.first)


def test_the_check_finds_the_line_that_is_short(places: tuple[TimerPlace, ...]) -> None:
    """Pots that dry out beside beds that have enough: the pots' minutes are what helps."""
    judge = Judge(places, 40)
    setting = daily(20, 2)
    made = check_timer(judge, setting, Timer(), Rules(), FLOWS)
    assert made.change is not None
    assert "pots" in made.change.text
    assert made.change.setting[0].minutes_of("pots") > 2
    assert made.change.setting[0].minutes_of("beds") == 20
    assert made.change.saves == pytest.approx(made.cost - judge.cost(made.change.setting))
    best = max(made.cost - judge.cost(other) for _, other, _ in changes(setting, Timer(), Rules()))
    assert made.change.saves >= 0.85 * best - 1e-9


def test_a_check_without_time_judges_and_tries_nothing_more(places: tuple[TimerPlace, ...]) -> None:
    judge, setting = Judge(places, 20), daily(20, 2)
    full = check_timer(judge, setting, Timer(), Rules(), FLOWS)
    assert full.tried == full.changes == len(list(changes(setting, Timer(), Rules())))
    short = check_timer(judge, setting, Timer(), Rules(), FLOWS, seconds=-1.0)
    assert (short.tried, short.changes, short.change) == (0, full.changes, None)
    assert short.judged == full.judged


def test_no_change_breaks_a_rule_that_was_kept(places: tuple[TimerPlace, ...]) -> None:
    """An hour is allowed and three quarters are used: no line may run much longer."""
    rules = Rules(hours=((300, 360),), avoid=())
    made = check_timer(Judge(places, 40), daily(5, 40), Timer(), rules, FLOWS)
    assert made.change is None or not problems(made.change.setting, Timer(), rules, FLOWS, START)


def test_no_change_saves_water_by_letting_plants_dry(places: tuple[TimerPlace, ...]) -> None:
    """Ten hours a day on a bed that wants half an hour: most of it is wasted, and still the line is not turned off (no grower does that in a dry June)."""
    judge, setting = Judge(places[:1], 20), [Programme("A", Days(), (300,), (("beds", 600),))]
    made = check_timer(judge, setting, Timer(longest_minutes=720), Rules(hours=((0, 1440),), avoid=()), FLOWS)
    assert made.change is not None
    assert 0 < made.change.setting[0].minutes_of("beds") < 0.4 * 600
    assert growth_lost(made.after) <= growth_lost(made.judged) + 0.005
    assert judge.cost([]) < made.cost  # turning it off would have counted as a gain


def test_an_empty_tank_gives_nothing(places: tuple[TimerPlace, ...]) -> None:
    """By hand: 60 L a day at 05:00 and 8 L at 06:00 from 100 L with 10 L a day coming in: 68, 42 (the second line has none), then 10 each day."""
    setting = [Programme("A", Days(), (300,), (("beds", 60), ("pots", 60)))]
    rules = Rules(tank_l=100.0, refill_lpd=10.0)
    shares = tank_shares(setting, (("beds",), ("pots",)), rules, FLOWS, START, 4)
    assert shares["beds"] == pytest.approx([1.0, 42.0 / 60.0, 10.0 / 60.0, 10.0 / 60.0])
    assert shares["pots"] == pytest.approx([1.0, 0.0, 0.0, 0.0])
    full = tank_shares([], (("beds",),), rules, FLOWS, START, 4)
    assert full == {}
    weekly = [Programme("A", Days("every", every=3, first=START), (300,), (("beds", 60),))]
    small = replace(rules, tank_l=60.0, refill_lpd=30.0, tank_full_l=50.0)
    assert tank_shares(weekly, (("beds",),), small, FLOWS, START, 4)["beds"] == pytest.approx([1.0, 1.0, 1.0, 50 / 60])
    judged = judge_of(places, 40, Timer(), Rules(tank_l=300.0), FLOWS).judge(daily(30, 5))
    assert sum(one.given_l for one in judged) == pytest.approx(300.0)
    assert "No refill is given" in str(tank_text(Rules(tank_l=300.0)))


def test_broken_rules_are_told_once_with_how_often() -> None:
    """Daily on even dates only, 1 to 30 June: fifteen odd dates; a tank of 100 L gives 60 L once."""
    setting = [Programme("A", Days(), (300,), (("beds", 60),))]
    said = told(problems(setting, Timer(), Rules(parity="even", tank_l=100.0), {"beds": 60.0}, date(2026, 6, 1), 30))
    assert [str(text) for text in said] == [
        "programme A runs on 2026-06-01, a day on which watering is not allowed. So on 14 days more.",
        "the tank is empty on 2026-06-02. So on 28 days more.",
    ]


def test_single_changes_change_one_thing() -> None:
    setting = (
        Programme("A", Days("weekdays", (0, 3)), (300,), (("beds", 30),)),
        Programme("B", Days("every", every=3, first=START), (360, 1200), (("pots", 5),)),
    )
    found = list(changes(setting, Timer(), Rules()))
    assert len({text for text, _, _ in found}) == len(found)
    for _, other, size in found:
        differs = [k for k in range(2) if other[k] != setting[k]]
        assert len(differs) == 1
        one, two = setting[differs[0]], other[differs[0]]
        assert sum(a != b for a, b in ((one.days, two.days), (one.starts, two.starts), (one.minutes, two.minutes))) == 1
        assert 0.0 < size <= 1.0


def test_hot_hours_are_named() -> None:
    assert "12:00, in the hot hours" in in_hot_hours([Programme("A", Days(), (360, 720), (("beds", 5),))])[0]


def test_a_judgement_reads_as_a_sentence(places: tuple[TimerPlace, ...]) -> None:
    dry, plenty = Judge(places, 40).judge([])[1], Judge(places, 40).judge(daily(200, 200))[1]
    assert "too dry on" in judged_text(dry)
    assert "of the water wasted" in judged_text(plenty)
    assert "too dry on" not in judged_text(plenty)


def test_no_growth_is_lost_where_nothing_has_come_up() -> None:
    """Beans to be sown in three weeks: for two weeks nothing grows there, and before they come up nothing is drawn that could be lacking."""
    series = steady("warm", 160)
    later = replace(bed("bean_bush", "loam", planted=False, means="drip_line"), name="tomatoes", line="beds")
    later = replace(later, plantings=(replace(later.plantings[0], sown=START + timedelta(days=61)),))
    site = replace(garden(), places=(later,))
    places = timer_places(site, warm(40), past=series.between(series.times[0], series.times[39]))
    for days, grows in ((14, 0), (24, 3)):
        one = Judge(places, days).judge(daily(20, 0))[0]
        assert one.growing_days == grows
        assert one.lost_wet == 0.0
        assert one.lost_dry <= 0.04 * grows  # seeds that dry up, see below
        assert ("nothing grows there" in judged_text(one)) == (grows == 0)


def test_a_timer_is_not_left_off_over_a_seedbed() -> None:
    """Beans sown ten days from now in dry weather: the plan of two weeks waters them, and seeds lost are told.

    Of the seedlings 4 in 100 are lost on a day on which the layer is used up (judged, as in the advice): three such days lose 12 at most.
    """
    series = steady("warm", 160)
    sown = replace(bed("bean_bush", "loam", planted=False, means="drip_line"), name="tomatoes", line="beds")
    sown = replace(sown, plantings=(replace(sown.plantings[0], sown=START + timedelta(days=50)),))
    site = replace(garden(), places=(sown,))
    places = timer_places(
        site, warm(40), past=series.between(series.times[0], series.times[39]), used={"tomatoes": 0.8}
    )
    judge = Judge(places, 14)
    dry = judge.judge([])[0]
    assert 0.06 < dry.lost_dry <= 0.16
    assert judge.judge(daily(30, 0, 300, 1100))[0].lost_dry < 0.4 * dry.lost_dry
    plan = best_setting(places, Timer(), Rules(), {"beds": 60.0}, places[0].days.days[0].astype(date), 14)
    assert plan is not None
    assert plan.setting


def test_need_that_grows_calls_for_a_change() -> None:
    """Tomatoes planted 1 May: in the weeks after mid May leaves spread, so the need rises under one and the same sky."""
    change = next_change(timer_places(garden(), warm(60, start=14)), 14, daily(20, 5), Rules(), FLOWS)
    assert change is not None
    assert change.moved > 0.25
    assert date(2026, 5, 29) <= change.on <= date(2026, 7, 5)


def test_the_card_is_off_on_the_day_of_sowing() -> None:
    """Bare soil kept moist uses about what a seedbed does; yet on 30 June the line must be opened."""
    series = steady("warm", 160)
    beans = replace(bed("bean_bush", "loam", planted=False, means="drip_line"), name="tomatoes", line="beds")
    beans = replace(beans, plantings=(replace(beans.plantings[0], sown=START + timedelta(days=60)),))
    past = series.between(series.times[0], series.times[39])
    change = next_change(timer_places(replace(garden(), places=(beans,)), warm(60), past=past), 14, (), Rules(), FLOWS)
    assert change is not None
    assert change.on == START + timedelta(days=60)
    text = card_text(card_of("Test", START, (), Timer(), change, 60))
    assert "Set it anew on 2026-06-30: tomatoes is sown or planted then." in text


def on_day(k: int) -> date:
    return START + timedelta(days=40 + k)


def changed(places: tuple[TimerPlace, ...], setting: list[Programme], rules: Rules | None = None) -> ChangeDay:
    found = next_change(places, 14, setting, rules or Rules(), FLOWS)
    assert found is not None
    return found


def test_the_card_is_off_when_the_tank_is_empty(places: tuple[TimerPlace, ...]) -> None:
    """By hand: 20 L and 0.67 L a day from 500 L last 24 days."""
    steady_use = tuple(replace(one, use_mm=np.full((40, 6), 3.0)) for one in places)
    change = changed(steady_use, daily(20, 5), Rules(tank_l=500.0))
    assert change == ChangeDay(on_day(24), why="tank")
    text = card_text(card_of("Test", START, daily(20, 5), Timer(), change, 60))
    assert f"Set it anew on {on_day(24)}: the tank is empty then. Fill it by that day." in text
    assert next_change(steady_use, 14, daily(20, 5), Rules(tank_l=500.0, refill_lpd=20.7), FLOWS) is None
    assert next_change(steady_use, 14, daily(20, 5), Rules(), FLOWS) is None


def test_the_card_is_off_when_what_grows_is_over(places: tuple[TimerPlace, ...]) -> None:
    """Past its season or cleared; when that is all of it the timer is off from that day, within the two weeks too."""
    beds, pots = (replace(one, use_mm=np.full((40, 6), 3.0)) for one in places)
    assert changed((ended(beds, 20), pots), daily(20, 5)) == ChangeDay(on_day(20), "tomatoes", why="over")
    assert changed((ended(beds, 20), ended(pots, 9)), daily(20, 5)).on == on_day(14)  # the pots, which the plan knew of
    change = changed((ended(beds, 10), ended(pots, 8)), daily(20, 5))
    assert change == ChangeDay(on_day(10), why="done")
    assert "Turn it off on" in card_text(card_of("Test", START, daily(20, 5), Timer(), change, 60))
    assert next_change((ended(beds, 20), ended(pots, 20)), 14, [], Rules(), FLOWS) is None


def test_a_line_that_is_off_is_not_set_to_less(places: tuple[TimerPlace, ...]) -> None:
    falling = np.repeat(np.linspace(5.0, 1.0, 40)[:, None], 6, axis=1)
    less, more = (replace(places[0], use_mm=use) for use in (falling, falling[::-1]))
    assert changed((less,), daily(20, 0)).moved < -0.25
    assert next_change((less,), 14, daily(0, 0), Rules(), FLOWS) is None
    assert changed((more,), daily(0, 0)).moved > 0.25


def test_nothing_is_needed_after_the_season(places: tuple[TimerPlace, ...]) -> None:
    """Over after ten of twenty days: the plan gives those ten their water and no more, and a bed over from the first day is none of its places."""
    span = span_of(Rules(), places[0].days.days[0].astype(date), 20)
    (need,) = needs_of((ended(places[0], 10), ended(places[1], 0)), span)
    by_day = need.use_mm.mean(axis=0).reshape(20, -1).sum(axis=1)
    assert np.all(by_day[:10] > 0.0)
    assert not by_day[10:].any()


def test_the_card_says_it_all(places: tuple[TimerPlace, ...]) -> None:
    card = card_of("Test", START, daily(20, 5), Timer(programmes=3), None, 60, ["carrots"])
    text = card_text(card)
    for part in (
        "Programme A: every day; start 05:00",
        "beds: 20 min",
        "pots: 5 min",
        "All other programmes: off",
        "carrots",
    ):
        assert part in text
    for caution in ("backflow", "pressure", "frost", "Local watering rules", "Look at the soil"):
        assert caution in text
    assert f"{START + timedelta(days=60)}" in text


@pytest.mark.parametrize(
    ("words", "days", "said"),
    [
        ("daily", Days(), "every day"),
        ("mon,wed,sat", Days("weekdays", (0, 2, 5)), "Mon, Wed, Sat"),
        ("Monday, Thursday", Days("weekdays", (0, 3)), "Mon, Thu"),
        ("Mon Wed Fri", Days("weekdays", (0, 2, 4)), "Mon, Wed, Fri"),
        ("tues thurs.", Days("weekdays", (1, 3)), "Tue, Thu"),
        ("Mondays, weds", Days("weekdays", (0, 2)), "Mon, Wed"),
        ("every 3 days", Days("every", every=3, first=START), "every 3 days from 2026-05-01"),
        ("odd", Days("parity", parity="odd"), "odd dates"),
    ],
)
def test_days_in_words(words: str, days: Days, said: str) -> None:
    assert days_from(words, START) == days
    assert days_text(days) == said


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("mon 20 min", "timer.start"),
        ("moonday 06:00 beds 20 min", "timer.days"),
        ("every 0 days 06:00 beds 20 min", "timer.every"),
        ("mon 06:00 beds", "timer.minutes"),
        ("mon 06:00 lawn 20 min", "timer.line"),
        ("mon 06:00 pots 5 min, pots 50 min", "timer.twice"),
    ],
)
def test_a_programme_that_cannot_be_read_says_why(text: str, code: str) -> None:
    with pytest.raises(InputError) as refused:
        programme_from(text, "A", ["beds", "pots"], START)
    assert refused.value.code == code


def ended(one: TimerPlace, at: int, phase: int = OVER) -> TimerPlace:
    """The place with what grows there cleared, or past its season, from a day on."""
    phases = one.days.crops.phase.copy()
    phases[at:] = phase
    return replace(one, days=replace(one.days, crops=replace(one.days.crops, phase=phases)))


@pytest.mark.parametrize("phase", [NONE, OVER])
def test_water_on_ground_that_is_cleared_or_over_is_wasted(places: tuple[TimerPlace, ...], phase: int) -> None:
    """Over after ten days of twenty, half an hour of 60 L/h a day: the last ten runs, 300 L, are wasted whatever becomes of them."""
    one = places[0]
    (judged,) = Judge([ended(one, 10, phase)], 20).judge(daily(30, 0))
    assert judged.growing_days == 10
    assert judged.idle_l == pytest.approx(300.0)
    assert judged.wasted_l >= 300.0
    (grown,) = Judge([one], 20).judge(daily(30, 0))
    assert grown.idle_l == 0.0
    assert judged.cost > grown.cost


def test_evening_water_from_above_is_warned_of(places: tuple[TimerPlace, ...]) -> None:
    above = replace(places[0], days=replace(places[0].days, place=replace(places[0].days.place, means="sprinkler")))
    late, early = daily(30, 3, 1140), daily(30, 3, 300)

    def cautions(setting: list[Programme], some: tuple[TimerPlace, ...]) -> str:
        return str(card_text(card_of("test", START, setting, Timer(), None, 60, places=some)))

    assert "beds: water from above in the evening" in cautions(late, (above, places[1]))
    assert "from above" not in cautions(early, (above, places[1]))
    assert "from above" not in cautions(late, places)


def test_what_a_change_brings_is_told_both_ways(places: tuple[TimerPlace, ...]) -> None:
    judge = Judge(places, 40)
    little, much = judge.judge(daily(5, 1)), judge.judge(daily(80, 8))
    text = str(gain_text(little, much))
    assert (
        f"Then {100 * np.mean([m.lost_dry + m.lost_wet for m in much]):.0f} % of the growth is lost rather than" in text
    )
    assert "of water wasted rather than" in text


@pytest.mark.parametrize("used", [0.3, 0.9])
def test_a_bed_is_watered_in_the_morning(used: float) -> None:
    """A bed's day is one step of the balance: the same water morning or evening costs the same there, and then it is the morning (common practice)."""
    beds = timer_places(garden(), warm(), used={"tomatoes": used})[:1]
    plan = best_setting(beds, Timer(), Rules(), FLOWS, beds[0].days.days[0].astype(date), 3, seconds=2.0)
    assert plan is not None
    assert plan.setting
    assert all(start < 15 * 60 for programme in plan.setting for start in programme.starts)
