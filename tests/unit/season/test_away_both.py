"""The timer and visits together: never dearer than either alone, nothing given twice, what is on no line gets its visits, what the timer waters none."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import combinations, product

import numpy as np
import pytest

from soakbook.advice.belief import believe
from soakbook.garden.model import Line, Supply
from soakbook.garden.timer import Days, KeptTimer, Programme, Rules
from soakbook.said import Said
from soakbook.season.away import Away, plan_away
from soakbook.season.away_before import SMALL
from soakbook.season.away_both import ENOUGH, joined
from soakbook.season.away_days import best_visits, cost_of, round_on
from soakbook.season.away_run import Leaving, live, mornings, rest_of, top_up_mm
from soakbook.season.away_timer import WithTimer
from soakbook.season.away_words import alone_text, away_json, both_text, days_text, setting_text, total_text
from tests.practice.sites import steady
from tests.unit.advice.made import garden_of
from tests.unit.season.away_scene import FIRST, LAST, MEMBERS, ON, PEPPER, PLACES, leaving, sky
from tests.unit.season.test_away_timer import BEANS, CABBAGES

#: The beans' line gives enough, the cabbages' drips (a clogged filter).
LINES = (
    Line("beans line", "drip_line", flow_lph=60.0, flow_is_measured=True),
    Line("other line", "drip_line", flow_lph=1.5, flow_is_measured=True),
)
DAILY = Programme("A", Days("daily"), (300,), (("beans line", 20), ("other line", 20)))


@cache
def lived(chance: float = 0.0, visits: int = 2, minutes: int = 0) -> Away:
    """Ten days with a timer of one start, set to so many minutes now."""
    set_now = (replace(DAILY, minutes=(("beans line", minutes), ("other line", minutes))),) if minutes else ()
    timer = KeptTimer("tap", rules=Rules(avoid=(), hours=((300, 420),)), setting=set_now)
    garden = replace(garden_of(BEANS, CABBAGES, PEPPER), lines=LINES, timers=(timer,), supply=Supply(can_l=10.0))
    weather = steady("warm")
    beliefs = [believe(garden, place, weather, (), ON, count=MEMBERS) for place in garden.places]
    return plan_away(
        garden, (), weather, sky(chance), ON, FIRST, LAST, visits=visits, timer=True, beliefs=beliefs
    )  # fmt: skip


def with_timer(one: Leaving, depth_mm: float, every: int = 1) -> Leaving:
    return replace(one, timer_mm=np.where(np.arange(one.count) % every == 0, depth_mm, 0.0))


def timers(*places: Leaving) -> WithTimer:
    return WithTimer((), places, tuple(live(place) for place in places))


@pytest.mark.parametrize(("chance", "visits", "minutes"), [(0.0, 2, 0), (0.3, 2, 40), (0.6, 3, 0)])
def test_together_they_never_cost_more_than_either_alone(chance: float, visits: int, minutes: int) -> None:
    made = lived(chance, visits, minutes)
    assert made.both is not None
    both = made.lost("both") or 0.0
    for timer in ("timer_now", "timer_planned"):
        alone = made.lost(timer)
        assert alone is None or both <= alone + 1e-9
    assert both <= (made.lost("visited") or 0.0) + SMALL
    assert float(made.both.saved_on_visits.mean()) == pytest.approx((made.lost("visited") or 0.0) - both)


def test_a_place_on_no_line_gets_its_visits_and_what_the_timer_waters_none() -> None:
    made = lived()
    assert made.both is not None
    listed = {gift.place for visit in made.both.visits for gift in visit.gifts}
    assert listed == {"pepper", "cabbages"}
    assert made.both.alone == ("beans",)
    assert {gift.place for visit in made.visits for gift in visit.gifts} == {"pepper", "cabbages", "beans"}
    pepper = made.places[2]
    assert pepper.both is not None
    assert pepper.visited is not None
    assert pepper.both.mean < 0.5 * pepper.nobody.mean
    assert made.both.brought_litres < made.both.brought_alone_litres


def test_what_a_line_gives_too_little_of_is_brought_and_its_line_left_shut() -> None:
    made = lived()
    assert made.both is not None
    gifts = [gift for visit in made.both.visits for gift in visit.gifts if gift.place == "cabbages"]
    assert gifts
    for gift in gifts:
        assert gift.job.minutes is None
        assert gift.job.goes is None
        assert gift.job.cans == pytest.approx(gift.litres / 10.0)
        assert "not by its line" in str(gift.job.note)


def test_what_is_put_on_is_what_the_timer_gave_and_what_was_brought() -> None:
    """Litres by day of the timer alone, and the list."""
    made = lived(0.3, 2, 40)
    assert made.both is not None
    brought = dict.fromkeys((p.place for p in made.places), 0.0)
    for visit in made.both.visits:
        for gift in visit.gifts:
            brought[gift.place] += gift.litres
    for place in made.places:
        assert place.both is not None
        assert place.timer_planned is not None
        assert place.both.litres == pytest.approx(place.timer_planned.litres + place.both.brought)
        assert place.both.brought.sum() == pytest.approx(brought[place.place])
    assert made.both.brought_litres == pytest.approx(sum(brought.values()))


def test_a_visit_does_not_give_again_what_the_timer_gave_that_morning() -> None:
    """What was missing before the timer ran is what timer and visit bring into the soil together."""
    one = leaving(PLACES[0])
    on = with_timer(one, 3.0, every=5)
    days, day = on.days, on.first + 5
    state = mornings(on)[5]
    delivered = float(days.laid.columns.delivery[0, 0])
    lacking = float(days.missing_mm(state.water_mm[0], day).mean())
    brought_mm = days.depth_mm(float(live(on, visits=(5,)).brought[5]), day)
    assert brought_mm > 0.0
    assert delivered * (brought_mm + 3.0) == pytest.approx(lacking)
    assert top_up_mm(days, state, day, lacking / delivered) == 0.0
    assert live(replace(on, by_hand=False), visits=(5,)).brought.sum() == 0.0


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.name)
def test_a_timer_is_the_same_water_put_on_by_day(place) -> None:  # type: ignore[no-untyped-def]
    """Two ways to one run; and the run cut in two comes to the same."""
    one = leaving(place, 0.2)
    on = with_timer(one, 4.0, every=2)
    whole = live(on)
    assert whole.loss == pytest.approx(live(one, dict.fromkeys(range(0, 10, 2), 4.0)).loss, abs=1e-9)
    rest = live(rest_of(on, 3, mornings(on)[3]))
    assert whole.used[3:] == pytest.approx(rest.used, abs=1e-9)
    assert whole.litres[3:] == pytest.approx(rest.litres)


def test_days_and_places_chosen_are_as_good_as_the_best_of_all_lived_through() -> None:
    """Every pair of days with every choice of places left to the timer, lived through as it is."""
    on = timers(
        with_timer(leaving(PLACES[0], 0.1), 2.5), with_timer(leaving(PLACES[1], 0.1), 6.0), leaving(PEPPER, 0.1)
    )
    bare = [leaving(place, 0.1) for place in PLACES]
    found = joined(None, on, best_visits(bare, 2), bare, 2)
    costs = []
    for by_hand in product((True, False), repeat=2):
        places = [replace(p, by_hand=h) for p, h in zip(on.places, (*by_hand, True), strict=True)]
        costs += [round_on(places, days).cost for days in combinations(range(1, 10), 2)]
    assert min(costs) - 1e-9 <= found.round.cost <= min(costs) + ENOUGH
    assert found.setting == "planned"


def test_what_is_set_now_is_kept_where_it_does_as_well() -> None:
    on, weak = timers(with_timer(leaving(PLACES[0]), 6.0)), timers(with_timer(leaving(PLACES[0]), 0.5))
    bare = [leaving(PLACES[0])]
    coming = best_visits(bare, 1)
    assert joined(on, on, coming, bare, 1).setting == "now"
    assert joined(weak, on, coming, bare, 1).setting == "planned"


def test_a_timer_that_drowns_what_rain_has_watered_is_turned_off() -> None:
    bare = [leaving(PLACES[0], 0.9, mean_mm=20.0)]
    on, coming = timers(with_timer(bare[0], 80.0)), best_visits(bare, 2)
    assert cost_of(on.outcomes) > coming.cost + SMALL
    made = joined(None, on, coming, bare, 2)
    assert made.setting == "off"
    assert made.round is coming


def test_measures_are_beside_the_timer_and_the_visits() -> None:
    """The timer goes on running after a soak, which can save no more than what is lost beside the timer."""
    made = lived()
    beans = made.places[0]
    assert beans.plain is beans.both
    soak = next(e for e in beans.effects if e.measure == "soak")
    assert beans.both is not None
    assert soak.outcome.litres[1:] == pytest.approx(beans.both.litres[1:])
    assert soak.outcome.litres[0] == pytest.approx(beans.both.litres[0] + soak.litres)
    assert np.all(soak.saved <= beans.both.loss + 1e-9)
    assert made.prepared <= (made.lost("both") or 0.0)


def test_it_is_told_in_words_and_as_data() -> None:
    made = lived()
    assert made.both is not None
    said = [both_text(made.both), alone_text(made.both), days_text(made), setting_text(made.both), total_text(made)]
    assert all(isinstance(text, Said) for text in said)
    assert "The timer waters beans" in str(said[1])
    assert "the timer and 2 visits" in total_text(made)
    data = away_json(made, ())
    assert data["timer_and_visits"]["left_to_timer"] == ["beans"]
    assert data["lost_with_timer_and_visits"] == pytest.approx(made.lost("both"))
    assert [visit.on for visit in made.listed] == [FIRST + timedelta(days=d) for d in days_away(made)]


def days_away(made: Away) -> list[int]:
    """Days on which something was brought, by the outcomes."""
    brought = np.sum([p.both.brought for p in made.places if p.both is not None], axis=0)
    return [int(k) for k in np.flatnonzero(brought)]
