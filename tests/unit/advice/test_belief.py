"""What is held of a place: the same twice, whatever the order, and as if a reading taken out had never been; and what a reading of
today makes of the advice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from soakbook.advice.belief import MEMBERS, Belief, believe
from soakbook.advice.choose import advice_by, with_plans
from soakbook.advice.decide import Advice, advise, run_to
from soakbook.advice.members import nine
from soakbook.advice.plan import Plan
from soakbook.advice.round import today_round
from soakbook.advice.sky import members_for, weather_for
from soakbook.advice.standing import Standing, standing_of, standings_of
from soakbook.advice.start import start_of, unless_it_rains
from soakbook.balance.layout import best_guess
from soakbook.balance.place import place_days, with_members
from soakbook.balance.spread import draw_members
from soakbook.demo import DAY, demo_garden
from soakbook.garden.model import Garden, LogEntry, ReadingKind
from soakbook.weather.series import WeatherSeries

BED, POT = "tomato bed", "patio tomatoes"


@cache
def scene() -> tuple[Garden, WeatherSeries, tuple[LogEntry, ...]]:
    """The demo garden without the readings of its own log."""
    garden, log, folder = demo_garden()
    waterings = tuple(e for e in log if e.kind != "reading")
    return garden, weather_for(garden, DAY, waterings, folder=folder), waterings


def felt(name: str, days_before: int, value: int, hour: int = 8, place: str = BED) -> LogEntry:
    day = DAY - timedelta(days=days_before)
    at = datetime(day.year, day.month, day.day, hour, tzinfo=ZoneInfo(scene()[0].time_zone))
    return LogEntry(name, at, "reading", place, reading="feel", value=float(value), depth_m=0.25)


def held(*more: LogEntry, place: str = BED, log: tuple[LogEntry, ...] | None = None) -> Belief:
    garden, weather, usual = scene()
    entries = [*(usual if log is None else log), *more]
    return believe(garden, garden.place(place), weather, entries, DAY)


def stood(*more: LogEntry, place: str = BED) -> Standing:
    garden, weather, log = scene()
    return standing_of(garden, garden.place(place), weather, DAY, [*log, *more])


def same(a: Belief, b: Belief) -> bool:
    pairs = [
        (a.now.water_mm, b.now.water_mm), (a.past_low, b.past_low), (a.past_mid, b.past_mid), (a.past_high, b.past_high),
        (a.days.laid.columns.demand, b.days.laid.columns.demand),
    ]  # fmt: skip
    return all(np.array_equal(x, y) for x, y in pairs)


# --- Members ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("place", [BED, POT])
def test_the_same_belief_comes_twice(place: str) -> None:
    readings = [felt("a", 6, 0, place=place), felt("b", 3, 1, place=place)]
    assert same(held(place=place), held(place=place))
    assert same(held(*readings, place=place), held(*readings, place=place))


def test_the_order_of_entries_does_not_matter() -> None:
    readings = [felt("a", 6, 0), felt("b", 3, 1), felt("c", 1, 0)]
    one = held(*readings)
    assert same(one, held(*reversed(readings)))
    assert same(one, held(*readings, log=tuple(reversed(scene()[2]))))
    assert same(one, held(*readings, *readings))


def test_a_reading_taken_out_is_as_if_it_had_never_been() -> None:
    kept, gone = felt("a", 6, 0), felt("b", 2, 2)
    assert not same(held(kept), held(kept, gone))
    assert same(held(kept), held(*(e for e in (kept, gone) if e.id != "b")))
    assert held().learnt is None
    assert not same(held(), held(kept))


def test_readings_of_one_place_leave_the_others_alone() -> None:
    assert same(held(place="bean rows"), held(felt("a", 3, 0), place="bean rows"))


def test_a_reading_of_a_later_day_is_not_known() -> None:
    assert same(held(), held(felt("later", -1, 0)))


def test_forgotten_readings_teach_nothing() -> None:
    before, after = felt("a", 6, 0), felt("c", 1, 1)
    forget = replace(
        after, id="x", kind="forget", reading=None, value=None, depth_m=None, at=before.at + timedelta(hours=1)
    )
    assert same(held(before, forget), held())
    assert same(held(before, forget, after), held(after))


@pytest.mark.parametrize("place", [BED, POT])
def test_a_belief_is_laid_out_as_the_place_itself_is(place: str) -> None:
    """Members changed under a place that is laid out are those of a place laid out with them."""
    garden, weather, log = scene()
    start = start_of(garden, garden.place(place), unless_it_rains(weather, DAY), DAY, log)
    members = draw_members(garden.place(place), 7, np.random.default_rng(5))
    whole = place_days(garden, garden.place(place), start.weather, start.log, members, until=DAY)
    once = with_members(place_days(garden, garden.place(place), start.weather, start.log, nine(), until=DAY), members)
    index = whole.index(DAY)
    a, b = (d.run(d.start(), 0, index).end.water_mm for d in (whole, once))
    assert np.array_equal(a, b)


@pytest.mark.parametrize("place", [BED, POT])
def test_the_first_member_without_readings_is_the_best_guess(place: str) -> None:
    belief = held(place=place)
    alone = with_members(belief.days, best_guess())
    end = alone.run(alone.start(), 0, belief.today).end
    assert belief.now.water_mm.shape[-1] == MEMBERS
    assert belief.now.water_mm[..., 0] == pytest.approx(end.water_mm[..., 0], rel=1e-12)
    assert belief.past_low.shape == (belief.today,)
    assert np.all(belief.past_low <= belief.past_mid)
    assert np.all(belief.past_mid <= belief.past_high)


def test_what_members_hold_follows_from_what_they_are() -> None:
    """Picked members run again to this morning hold what the filter says they hold."""
    from soakbook.learning.filter import pick

    belief = held(felt("a", 6, 0), felt("b", 3, 1))
    assert belief.learnt is not None
    _, state = pick(belief.learnt, MEMBERS)
    assert belief.now.water_mm == pytest.approx(state.water_mm, rel=1e-9, abs=1e-9)


def test_dry_readings_make_it_drier_and_the_band_narrower() -> None:
    before, after = held(), held(*(felt(f"r{k}", 2 * k, 0) for k in range(1, 4)))
    assert after.past_mid[-1] > before.past_mid[-1]
    wet = held(*(felt(f"r{k}", 2 * k, 2) for k in range(1, 4)))
    assert wet.past_mid[-1] < before.past_mid[-1]


# --- The plain rule on the corrected picture -----------------------------------------------------------------------
def test_without_readings_the_rule_is_what_it_was() -> None:
    """The best guess checked with the nine what-ifs, as in the first issue."""
    garden, weather, log = scene()
    for place in garden.places:
        here = start_of(garden, place, unless_it_rains(weather, DAY), DAY, log)
        days = place_days(garden, place, here.weather, here.log, nine(), until=DAY)
        asked = advise(run_to(days, DAY), here.weather)
        got = standing_of(garden, place, weather, DAY, log)
        assert replace(got.rule, assumptions=()) == replace(asked, assumptions=())
        assert got.moved == ""
        assert got.advice == got.rule


def test_readings_move_the_figures_and_the_advice_says_by_how_much() -> None:
    usual, dry = stood(), stood(*(felt(f"r{k}", 2 * k, 0) for k in range(1, 4)))
    assert dry.rule.used > usual.rule.used
    assert dry.unread == pytest.approx(usual.rule.used, abs=1e-9)
    assert f"{100 * dry.rule.used:.0f} %" in dry.moved
    assert f"{100 * usual.rule.used:.0f} %" in dry.moved


@pytest.mark.parametrize("place", [BED, POT])
@pytest.mark.parametrize("value", [0, 2])
def test_reasons_add_up_after_readings_too(place: str, value: int) -> None:
    rule = stood(*(felt(f"r{k}", k, value, place=place) for k in range(4)), place=place).rule
    assert sum(r.depth_mm for r in rule.reasons) == pytest.approx(rule.missing_mm, abs=1e-6)
    assert sum(r.litres for r in rule.reasons) == pytest.approx(rule.missing_litres, abs=1e-6)


def an_unsure_morning() -> tuple[date, str]:
    """A day and a bed of the demo for which the plain rule would probe first, tomorrow's records not used."""
    garden, _, log = scene()
    for back in range(30):
        day = DAY - timedelta(days=back)
        weather = weather_for(garden, day, log, folder=demo_garden()[2])
        for place in garden.places:
            if place.kind == "bed" and standing_of(garden, place, weather, day, log).rule.verdict == "probe first":
                return day, place.name
    raise AssertionError("the rule is never unsure")


def test_probe_first_is_settled_by_a_reading_of_today() -> None:
    garden, _, log = scene()
    day, name = an_unsure_morning()
    weather = weather_for(garden, day, log, folder=demo_garden()[2])

    def after(value: int) -> Advice:
        reading = felt("now", (DAY - day).days, value, place=name)
        return standing_of(garden, garden.place(name), weather, day, [*log, reading]).rule

    dry, moist, wet = after(0), after(1), after(2)
    assert dry.verdict == "soak"
    assert dry.litres > 0.0
    assert moist.verdict in ("soak", "hold")
    assert wet.verdict == "hold"
    assert wet.litres == wet.if_dry_litres == 0.0
    assert wet.used < moist.used < dry.used
    assert dry.why.endswith("read dry today")


def test_no_place_that_was_read_today_is_asked_for_again() -> None:
    garden, weather, log = scene()
    for place in garden.places:
        for value in (0, 1, 2):
            got = standing_of(garden, place, weather, DAY, [*log, felt("now", 0, value, place=place.name)])
            assert got.rule.verdict != "probe first"
            assert got.is_read_today


def test_a_reading_counts_at_its_own_hour() -> None:
    """Wet in the evening after the morning's can tells less of this morning than wet before it."""
    can = LogEntry("can", felt("x", 0, 0, hour=9).at, "water", BED, litres=100.0)
    before, after = stood(can, felt("now", 0, 2, hour=8)), stood(can, felt("now", 0, 2, hour=18))
    assert before.rule.used < after.rule.used


# --- What is advised -----------------------------------------------------------------------------------------------
def plan_of(standing: Standing, verdict: str, depth: float) -> Plan:
    rule = standing.rule
    return Plan(
        rule.place, rule.on, verdict, standing.days.litres(depth, standing.known.today), depth, 1.0, (), (), None, 0.5,  # type: ignore[arg-type]
        "", np.array([0.0, depth or 10.0]), np.array([[2.0, 2.0], [1.0, 1.0]]),
    )  # fmt: skip


@pytest.mark.parametrize(("verdict", "depth"), [("soak", 7.0), ("hold", 0.0), ("probe first", 7.0)])
def test_the_plan_is_told_as_an_advice(verdict: str, depth: float) -> None:
    standing = stood(place="pepper bed")
    got = advice_by(standing, plan_of(standing, verdict, depth))
    litres = standing.days.litres(depth, standing.known.today)
    assert got.verdict == verdict
    assert got.litres == (litres if verdict == "soak" else 0.0)
    assert got.if_dry_litres == (litres if verdict == "probe first" else 0.0)
    assert got.next_due is not None
    assert got.next_due > DAY
    assert got.reasons == standing.rule.reasons


def test_no_plan_asks_again_for_a_place_read_today() -> None:
    garden, weather, log = scene()
    readings = [felt(f"now{n}", 0, 1, place=place.name) for n, place in enumerate(garden.places)]
    standings = standings_of(garden, weather, DAY, [*log, *readings])
    made = with_plans(garden, standings, members_for(garden, weather, DAY, folder=demo_garden()[2]), DAY)
    for one in made:
        assert one.plan is not None
        assert "probe first" not in (one.advice.verdict, one.rule.verdict)
        assert one.plan.reading_worth == 0.0
    again = with_plans(garden, standings, members_for(garden, weather, DAY, folder=demo_garden()[2]), DAY)
    assert [s.advice for s in again] == [s.advice for s in made]


def test_the_round_is_the_plans_and_the_rule_stands_beside_it() -> None:
    garden, weather, log = scene()
    ahead = members_for(garden, weather, DAY, folder=demo_garden()[2])
    plain, planned = today_round(garden, weather, DAY, log), today_round(garden, weather, DAY, log, ahead=ahead)
    for rule, job in zip(plain.jobs, planned.jobs, strict=True):
        assert job.rule == rule.advice
        assert job.plan is not None
        assert job.advice.verdict == job.plan.verdict
        assert sum(part.cost for part in job.plan.parts) == pytest.approx(job.plan.cost, abs=1e-9)
        assert (job.plan.differs == "") or job.advice != job.rule
        assert sum(r.depth_mm for r in job.advice.reasons) == pytest.approx(job.advice.missing_mm, abs=1e-6)
    assert plain.probe == ""
    assert planned.probe in {"", *(place.name for place in garden.places)}


def test_more_now_is_due_later() -> None:
    standing = stood(place="pepper bed")
    whole = standing.rule.depth_mm
    little, much = (advice_by(standing, plan_of(standing, "soak", mm)).next_due for mm in (0.3 * whole, whole))
    assert little is not None
    assert much is not None
    assert little < much


def test_the_round_takes_todays_readings_in_any_order() -> None:
    garden, weather, log = scene()
    readings = [felt("a", 4, 0), felt("b", 0, 1), felt("c", 0, 1, hour=12)]
    rounds = [today_round(garden, weather, DAY, [*log, *some]).to_json() for some in (readings, readings[::-1])]
    assert rounds[0] == rounds[1]
    job = next(j for j in rounds[0]["jobs"] if j["place"] == BED)
    assert job["moved"]
    assert job["rule"]["verdict"] == job["verdict"]


def test_a_place_begins_no_earlier_than_the_weather() -> None:
    garden, weather, log = scene()
    late = weather.between(np.datetime64(DAY) - np.timedelta64(20, "D"), weather.times[-1])
    belief = believe(garden, garden.place(BED), late, log, DAY)
    first: date = belief.days.days[0].astype(date)
    assert first == DAY - timedelta(days=20)
    assert belief.today == 20


@pytest.mark.parametrize(
    ("kind", "value", "words"),
    [("feel", 1.0, "read moist today"), ("squeeze", 1.0, "a handful squeezed today: slightly moist"),
     ("dial", 4.5, "the dial stood at 4.5 today"), ("tension", 25.0, "read today")],
)  # fmt: skip
def test_the_advice_says_what_was_read_today(kind: ReadingKind, value: float, words: str) -> None:
    at = datetime(DAY.year, DAY.month, DAY.day, 7, tzinfo=ZoneInfo(scene()[0].time_zone))
    read = LogEntry("now", at, "reading", BED, reading=kind, value=value, depth_m=0.25)
    standing = stood(read)
    assert standing.read == words
    assert standing.rule.why.endswith(f"; {words}")
