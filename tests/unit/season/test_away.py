"""The weeks away: what is lost adds up, the days of visits are the best of a table, measures are data and told apart, words are plain."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import numpy as np
import pytest

from soakbook.balance.columns import state_at
from soakbook.balance.crops import OVER
from soakbook.errors import InputError
from soakbook.garden.model import Exposure, Mulch
from soakbook.garden.timer import Days, KeptTimer, Programme
from soakbook.said import Said
from soakbook.season.away import MOST_AHEAD, MOST_DAYS, checked_days, plan_away
from soakbook.season.away_before import effects_at, fitting, ranked, with_measure
from soakbook.season.away_days import (
    Kept,
    _by_stretches,
    best_visits,
    cost_of,
    programme_days,
    round_on,
    run_programme,
    stretches,
)
from soakbook.season.away_run import DIES_AFTER, Leaving, changed, live, mornings, rest_of
from soakbook.season.away_words import cautions, harm_text, measure_text, odds_text, short_text, total_text
from tests.practice.sites import pot, steady
from tests.unit.season.away_scene import (
    BEANS,
    CABBAGES,
    FIRST,
    GARDEN,
    LAST,
    ON,
    PEPPER,
    PLACES,
    away,
    leaving,
    sky,
)


def held(one: Leaving, available: float) -> Leaving:
    """The same place with so much of the available water left everywhere on the morning of leaving."""
    now = state_at(one.days.laid.columns, np.array([one.days.area_wet(one.first)]), available)
    return replace(one, now=now)


def test_a_run_is_as_long_as_the_days_away_and_starts_where_it_stood() -> None:
    one = leaving(BEANS)
    outcome = live(one)
    assert outcome.short.shape == (10, 16) == outcome.by_day.shape
    assert np.all(np.diff(outcome.by_day, axis=0) >= 0.0)
    assert np.all((outcome.loss >= 0.0) & (outcome.loss <= 100.0))
    assert outcome.litres.sum() == 0.0


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.name)
def test_a_run_cut_in_two_comes_to_the_same(place) -> None:  # type: ignore[no-untyped-def]
    one = leaving(place, 0.2)
    whole, rest = live(one), live(rest_of(one, 4, mornings(one)[4]))
    assert whole.used[4:] == pytest.approx(rest.used, abs=1e-9)
    assert whole.parts[:, 4:] == pytest.approx(rest.parts, abs=1e-9)


def test_the_same_place_laid_out_again_lives_the_same() -> None:
    one = leaving(PEPPER, 0.2)
    again = changed(one, one.place, sky(0.2))
    assert live(again).loss == pytest.approx(live(one).loss, abs=1e-9)


def test_plants_die_after_so_many_days_without_water() -> None:
    """A pot that holds nothing for its plant lacks all from the first day on."""
    one = held(leaving(PEPPER), 0.0)
    lost = live(one).lost_by
    assert not lost[: DIES_AFTER["pot"] - 1].any()
    assert lost[DIES_AFTER["pot"] - 1 :].all()
    assert live(one).mean == 100.0
    assert live(one, dict.fromkeys(range(10), 40.0)).lost_odds == 0.0


def test_the_days_of_visits_are_the_best_of_all_pairs() -> None:
    """Dynamic programming against looking at every pair."""
    table = stretches([leaving(place, 0.1) for place in PLACES])
    count = len(table)
    pairs = {
        (i, j): table[0, i] + table[i, j] + table[j, count] for i, j in combinations(range(1, count), 2)
    }  # fmt: skip
    assert _by_stretches(table, 2) == min(pairs, key=lambda p: pairs[p])


def test_what_was_given_on_the_morning_of_leaving_counts() -> None:
    from datetime import datetime, time

    from soakbook.advice.belief import believe
    from soakbook.garden.model import LogEntry
    from soakbook.season.away_before import deep_soak_mm
    from soakbook.season.away_run import leaving_of
    from tests.unit.advice.made import garden_of

    garden, weather = garden_of(BEANS), steady("warm")
    belief = believe(garden, BEANS, weather, (), ON, count=16)
    entry = LogEntry("today", datetime.combine(ON, time(7)), "water", "beans", 30.0)
    dry, wet = (leaving_of(garden, belief, weather, log, sky(), ON, ON, LAST) for log in ((), (entry,)))
    assert live(wet).litres[0] == pytest.approx(30.0)
    assert live(wet).loss == pytest.approx(live(dry, {0: dry.days.depth_mm(30.0, dry.first)}).loss)
    assert deep_soak_mm(wet) == pytest.approx(max(deep_soak_mm(dry) - dry.days.depth_mm(30.0, dry.first), 0.0))


def test_a_run_of_a_timer_on_the_morning_of_leaving_is_the_timers() -> None:
    """What becomes of the place with the timer has that run already, and with nobody nothing runs; before the days away it is water like any other."""
    from datetime import datetime, time

    from soakbook.advice.belief import believe
    from soakbook.garden.model import LogEntry
    from soakbook.season.away_run import leaving_of
    from tests.unit.advice.made import garden_of

    garden, weather = garden_of(BEANS), steady("warm")
    belief = believe(garden, BEANS, weather, (), ON, count=16)
    by_hand = LogEntry("today", datetime.combine(ON, time(7)), "water", "beans", 30.0)
    run = replace(by_hand, id="run", litres=20.0, timer="tap")
    left = leaving_of(garden, belief, weather, (by_hand, run), sky(), ON, ON, LAST)
    assert live(left).litres[0] == pytest.approx(30.0)
    later = [
        leaving_of(garden, belief, weather, (one,), sky(), ON, FIRST, LAST) for one in (run, replace(run, timer=""))
    ]
    assert later[0].now.water_mm == pytest.approx(later[1].now.water_mm)


def test_what_is_past_its_season_has_nothing_to_lose() -> None:
    """It loses nothing, nothing is done there before leaving, and of the garden's harvest it counts no more than a bare bed."""
    one = leaving(CABBAGES)
    over = replace(one.days.crops, phase=np.full_like(one.days.crops.phase, OVER))
    past = replace(one, days=replace(one.days, crops=over))
    dry, gone = live(one), live(past)
    assert dry.mean > 1.0
    assert (gone.mean, gone.grows) == (0.0, False)
    assert effects_at(past, sky(), gone) == []
    assert cost_of([dry, gone]) == dry.mean


def test_a_visit_gives_what_was_missing() -> None:
    one = leaving(BEANS)
    outcome = live(one, visits=(5,))
    days, day = one.days, one.first + 5
    lacking = float(days.missing_mm(mornings(one)[5].water_mm[0], day).mean())
    reaches = outcome.litres[5] * float(days.laid.columns.delivery[0, 0])
    assert reaches == pytest.approx(lacking * days.laid.ground_m2 * days.area_wet(day), rel=1e-9)
    assert outcome.used[5].mean() < 0.5 * outcome.used[4].mean()


def test_no_water_is_brought_to_wet_soil() -> None:
    assert live(held(leaving(CABBAGES), 1.0), visits=(0,)).litres.sum() == 0.0


def test_a_programme_runs_on_its_days_only() -> None:
    outcome = run_programme(leaving(BEANS), 3, 12.0)
    assert list(np.flatnonzero(outcome.litres)) == list(programme_days(10, 3)) == [0, 3, 6, 9]
    assert outcome.litres[[0, 3, 6, 9]] == pytest.approx(12.0)


def test_named_litres_are_kept_and_others_chosen() -> None:
    weather = steady("warm")
    made = plan_away(GARDEN, (), weather, sky(), ON, FIRST, LAST, every=2, litres={"pepper": 1.5})
    by_name = {p.place: p for p in made.places}
    assert by_name["pepper"].programme_litres == 1.5
    assert by_name["beans"].programme_litres > 0.0
    assert by_name["beans"].programme is not None
    assert by_name["beans"].programme.mean < by_name["beans"].nobody.mean


def test_measures_change_the_place_as_data() -> None:
    assert with_measure(BEANS, "mulch", 40.0) == replace(BEANS, mulch=Mulch("straw"))
    assert with_measure(BEANS, "shade", 40.0) == replace(BEANS, exposure=Exposure(cover="shade_cloth"))
    assert with_measure(BEANS, "soak", 40.0) == BEANS
    saucer = with_measure(PEPPER, "saucer", 40.0)
    assert saucer.pot is not None
    assert saucer.pot.saucer_depth_m == 0.03
    assert with_measure(PEPPER, "wall", 40.0).exposure.shelter == "some"


def test_the_shady_side_of_a_wall_takes_much_of_the_light_on_either_half_of_the_earth() -> None:
    north = changed(leaving(PEPPER), with_measure(PEPPER, "wall", 40.0), sky())
    wrong = changed(leaving(PEPPER), with_measure(PEPPER, "wall", -40.0), sky())
    assert float(north.light.mean()) < 0.5 < float(wrong.light.mean())


def test_only_what_fits_is_offered() -> None:
    assert fitting(leaving(BEANS)) == ["soak", "mulch", "shade"]
    assert set(fitting(leaving(PEPPER))) == {"soak", "mulch", "shade", "together", "wall", "saucer"}
    mulched = replace(BEANS, mulch=Mulch("straw"), exposure=Exposure(cover="fleece"))
    assert fitting(leaving(mulched)) == ["soak"]


def test_seedlings_are_not_mulched() -> None:
    from tests.practice.sites import START

    young = replace(BEANS, plantings=(replace(BEANS.plantings[0], sown=START + timedelta(days=59)),))
    assert "mulch" not in fitting(leaving(young))


def test_a_full_saucer_in_rainy_weather_does_harm_and_it_is_said() -> None:
    """Common practice: empty a saucer within a quarter of an hour; roots that stand in water rot."""
    one = leaving(PEPPER, 0.95, mean_mm=25.0)
    found = {e.measure: e for e in effects_at(one, sky(0.95, 25.0), live(one))}
    assert found["saucer"].mean < -0.5
    assert found["saucer"].outcome.wet_feet.mean() > 0.5
    told = [r for r in ranked(list(found.values()), 1) if r.measure == "saucer"]
    assert "the roots stand in water" in str(harm_text(told[0]))


def test_a_full_saucer_helps_a_pot_in_dry_weather() -> None:
    one = leaving(PEPPER)
    found = {e.measure: e for e in effects_at(one, sky(), live(one))}
    assert found["saucer"].mean > 0.5


def test_measures_together_are_no_worse_than_the_best_alone() -> None:
    for place in away().places:
        alone = [e.mean for e in place.effects if e.measure != "all"]
        together = [e for e in place.effects if e.measure == "all"]
        assert alone == sorted(alone, reverse=True)
        for one in together:
            assert one.mean > alone[0]
            assert len(one.taken) > 1
            assert sum(m in ("shade", "together", "wall") for m in one.taken) <= 1


def test_ranks_fall_and_add_up() -> None:
    made = away()
    assert [r.mean for r in made.measures] == sorted((r.mean for r in made.measures), reverse=True)
    for one in made.measures:
        assert one.mean == pytest.approx(sum(e.mean for e in one.helps) / len(made.places))
        assert one.low <= one.high
    assert made.prepared <= (made.lost("nobody") or 0.0)


def test_the_list_for_whoever_comes_adds_up() -> None:
    made = away(visits=2)
    given = {p.place: p.visited.litres.sum() for p in made.places if p.visited is not None}
    listed = dict.fromkeys(given, 0.0)
    for visit in made.visits:
        assert FIRST < visit.on <= LAST
        for gift in visit.gifts:
            listed[gift.place] += gift.litres
            assert (gift.gauge_mm is None) == (gift.place == "pepper")
    assert listed == pytest.approx(given)


def test_days_that_cannot_be_are_refused_with_what_to_do() -> None:
    for first, last, code in (
        (ON - timedelta(days=1), ON, "away.past"),
        (FIRST, FIRST - timedelta(days=1), "away.days"),
        (FIRST, FIRST + timedelta(days=MOST_DAYS), "away.days"),
        (ON + timedelta(days=MOST_AHEAD + 1), ON + timedelta(days=MOST_AHEAD + 2), "away.far"),
    ):
        with pytest.raises(InputError) as refused:
            checked_days(ON, first, last)
        assert refused.value.code == code
        assert refused.value.hint


def test_words_can_be_said_again() -> None:
    made = away(visits=1)
    said = [total_text(made), *(short_text(p) for p in made.places), *map(measure_text, made.measures)]
    said += [odds_text(odds) for odds in (0.0, 0.02, 0.5, 1.0)]
    assert all(isinstance(text, Said) for text in said)
    assert str(odds_text(0.5)) == "5 in 10"
    assert str(odds_text(0.0)) == "no"
    heed = cautions(GARDEN, made, sky())
    assert all(text.endswith(".") for text in heed)
    set_so = Programme("A", Days(), (360,), (("north", 5),))
    runs = replace(GARDEN, timers=(KeptTimer("tap", setting=(set_so,), since=made.on),))
    assert [str(text) for text in cautions(runs, made, sky()) if text not in heed] == [
        "tap: taken as off while nobody is there. Ask with the timer to see what it does."
    ]


def test_the_moved_round_is_no_dearer_than_the_table_s_days() -> None:
    places = [leaving(place, 0.1) for place in PLACES]
    found = best_visits(places, 2)
    assert found.cost <= round_on(places, _by_stretches(stretches(places), 2)).cost + 1e-9


@pytest.mark.parametrize("visits", [1, 2, 3])
def test_the_days_chosen_are_as_good_as_the_best_of_all_lived_through(visits: int) -> None:
    """Every choice of days lived through as it is; the choice by stretches may miss it by a twentieth of a hundredth."""
    places = [leaving(place, 0.1) for place in PLACES]
    costs = [round_on(places, days).cost for days in combinations(range(1, 10), visits)]
    found = best_visits(places, visits).cost
    assert min(costs) - 1e-9 <= found <= min(costs) + 0.05


def test_where_plants_die_the_days_are_as_good_as_the_best_of_all_too() -> None:
    """Two pots that dry out in days and die of it: a table of stretches counts plants lost in one stretch again in the next, and has the visit on the first day."""
    small = replace(pot("pepper", 4), name="small")
    places = [leaving(place, last=FIRST + timedelta(days=14)) for place in (PEPPER, small)]
    assert all(live(place).lost_odds == 1.0 for place in places)
    kept = Kept()
    for visits in (1, 2):
        costs = {days: round_on(places, days, kept).cost for days in combinations(range(1, 15), visits)}
        assert best_visits(places, visits, kept).cost <= min(costs.values()) + 0.05
        if visits == 1:
            assert costs[_by_stretches(stretches(places), 1)] > min(costs.values()) + 10.0
