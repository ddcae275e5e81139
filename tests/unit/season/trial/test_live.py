"""Living through a season: copies of one place, and what reaches it."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.season.trial.case import Case, copies, stage_days
from soakbook.season.trial.live import Act, Copies, Eyes, follow, replay
from soakbook.season.trial.proof import SETUPS, proof_case
from soakbook.season.trial.rules import EveryDays, grid, tried_in_hindsight, usual_rules
from soakbook.season.truth.day import DayWeather
from tests.unit.season.trial.short import BED, POT, short_case


@pytest.fixture(scope="module")
def bed() -> Case:
    return short_case(BED)


def test_copies_meet_the_same_rain_and_the_same_dial(bed: Case) -> None:
    truth = Copies(copies(bed.hidden, 3))
    for day in range(5):
        truth.step(DayWeather(5.0, 12.0 if day == 2 else 0.0), 8.0)
    held = truth.stored_mm()
    assert held[0] == held[1] == held[2]
    assert len({Eyes(truth, k).dial(0.1) for k in range(3)}) == 1
    assert len({float(truth.weigh()[k]) for k in range(3)}) == 1


def test_a_policy_does_not_change_with_its_neighbours(bed: Case) -> None:
    alone = follow(bed, [EveryDays("a", 3, 12.0)])
    beside = follow(bed, [EveryDays("b", 1, 30.0), EveryDays("a", 3, 12.0)])
    assert alone.account.yield_loss[0] == beside.account.yield_loss[1]
    assert alone.account.put_on_mm[0] == pytest.approx(beside.account.put_on_mm[1], rel=1e-12)


def test_all_are_watered_in_alike_on_the_first_day(bed: Case) -> None:
    season = follow(bed, usual_rules(bed))
    assert np.all(season.asked_mm[0] == bed.watered_in_mm)


def test_what_was_asked_for_gives_the_same_season_again(bed: Case) -> None:
    season = follow(bed, usual_rules(bed))
    again = replay(bed, season.asked_mm, season.hours)
    np.testing.assert_array_equal(season.account.yield_loss, again.account.yield_loss)


def test_water_poured_in_goes_runs_off_the_strip_less(bed: Case) -> None:
    class Pours:
        def __init__(self, hours: float) -> None:
            self.name, self.hours = "pours", hours

        def morning(self, day: int, eyes: Eyes) -> Act:
            return Act(30.0, self.hours) if day % 5 == 0 else Act(0.0)

        def evening(self, day: int, seen: object, copy: int) -> None: ...

    season = follow(bed, [Pours(0.0), Pours(4.0)])
    assert season.account.transpiration_mm[1] >= season.account.transpiration_mm[0]


@pytest.mark.parametrize("setup", [BED, POT])
def test_the_grid_has_every_rule(setup: object) -> None:
    case = short_case(setup)
    rules = grid(case)
    season = tried_in_hindsight(case, rules)
    assert season.account.put_on_mm.shape == (len(rules),)
    every, amount = rules[7]
    given = season.asked_mm[1:, 7]
    assert np.all(given[np.arange(1, case.days) % every == 0] == amount)
    assert np.all(given[np.arange(1, case.days) % every != 0] == 0.0)


def test_stages_take_longer_where_it_is_cold() -> None:
    """A cool crop in the hot desert and in the cool, humid North-East, both planted when it is usually warm enough."""
    carrot = next(s for s in SETUPS if s.plant == "carrot")
    warm, cool = (stage_days(proof_case(wban, carrot, 1)) for wban in ("53131", "54794"))
    assert np.all(warm >= 1.0)
    assert abs(warm[3] - cool[3]) < 1e-9  # ripening goes by the calendar


def test_a_sparse_stand_asks_for_less_than_a_full_one() -> None:
    """Staked tomatoes at 0.6 by 1 m cover half the ground; cabbages close over it."""
    tomato, cabbage = (next(s for s in SETUPS if s.plant == p) for p in ("tomato_tall", "cabbage"))
    sparse, full = (float(proof_case("54808", s, 1).hidden.leaf_factor[0]) for s in (tomato, cabbage))
    assert sparse < 0.7 < 0.9 < full
