"""What things cost: the season's yield response, stages, leaching, and the words for it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from soakbook.advice.costs import (
    FLOWERING_SHARE,
    LEAST_STAGE,
    PARTS,
    SEED_COST,
    TRANSPLANT_COST,
    WATER_MM,
    Weights,
    loss_by_stage,
    parts_of,
    priced,
    prices,
)
from soakbook.advice.decide import advise, run_to
from soakbook.advice.flip import FeelTurn, RainTurn
from soakbook.advice.plan_words import day_words, differs_text, turn_text
from soakbook.advice.weigh import Board, WeatherHere, board_of
from soakbook.advice.worth import chances, is_same_act
from soakbook.balance import rollout_names as names
from soakbook.balance.crops import ESTABLISHING
from soakbook.balance.rollout import reduce, roll
from soakbook.catalog import read as catalog
from soakbook.garden.model import Place, Supply
from tests.practice.sites import START, bed, pot, steady
from tests.unit.advice.made import believed, coming, scene

#: Yield response of single stages (young, flowering, filling, ripening; a shortage in that stage alone), FAO Irrigation and Drainage
#: Paper 33, Table 24, from memory; none where the table has none.
BY_STAGE = {
    "tomato_tall": (0.4, 1.1, 0.8, 0.4),
    "bean_bush": (0.2, 1.1, 0.75, 0.2),
    "sweet_corn": (0.4, 1.5, 0.5, 0.2),
    "pea": (0.2, 0.9, 0.7, 0.2),
    "potato": (None, None, 0.7, 0.2),
    "cabbage": (0.2, None, 0.45, 0.6),
    "onion": (0.45, None, 0.8, 0.3),
    "watermelon": (None, 0.8, 0.8, 0.3),
    "edamame": (0.2, 0.8, 1.0, None),
}
#: Yield response of a season, FAO Irrigation and Drainage Paper 56, Table 24, p. 181, of crops without figures by stage.
SEASON = {"pepper_sweet": 1.10, "beet": 1.00}
#: Transpired a day by the full-grown crop. [mm]
FULL_MM = 5.0


def transpired(plant: str) -> list[float]:
    """What each stage of a crop transpires, added up day by day: half of the full rate while young, falling in a line at the end."""
    p = catalog.plants()[plant]
    young, full, late = p.days_ini.value + p.days_dev.value, p.days_mid.value, p.days_late.value
    at_end = p.kcb_end.value / p.kcb_mid.value
    ripening = sum(FULL_MM * (1.0 - (1.0 - at_end) * (day + 0.5) / late) for day in range(int(late)))
    flowers = FLOWERING_SHARE * full
    return [young * FULL_MM / 2.0, flowers * FULL_MM, (full - flowers) * FULL_MM, ripening]


@pytest.mark.parametrize(("plant", "response"), BY_STAGE.items())
def test_no_transpiration_in_one_stage_alone_costs_100_ky_of_that_stage(
    plant: str, response: tuple[float | None, ...]
) -> None:
    """1 - Ya/Ym = Ky (1 - ETa/ETm) (FAO-33; FAO-56 Eq. 90) with ETa = 0 in that stage; a stage below the floor costs the floor."""
    price, _ = loss_by_stage(catalog.plants()[plant], FULL_MM)
    wanted = transpired(plant)
    floor = LEAST_STAGE * 100.0 * catalog.plants()[plant].ky.value / sum(wanted)
    for ky, per_mm, mm in zip(response, price, wanted, strict=True):
        if ky is not None:
            assert per_mm * mm == pytest.approx(max(100.0 * ky, floor * mm), rel=1e-9)


def test_a_mm_lacking_while_tomato_flowers_by_hand() -> None:
    """FAO-56 Table 11: 30, 40, 45 and 30 days. Flowering, two fifths of 45 days (judged) at 5 mm, is 90 mm, and all of it lacking
    costs 110 (FAO-33, from memory): 1.22 a mm. Young, 70 days at 2.5 mm, are 175 mm for 40: 0.23 a mm."""
    young, flowering, _, _ = loss_by_stage(catalog.plants()["tomato_tall"], 5.0)[0]
    assert flowering == pytest.approx(110.0 / 90.0)
    assert young == pytest.approx(40.0 / 175.0)


@pytest.mark.parametrize(("plant", "ky"), SEASON.items())
def test_crops_without_figures_by_stage_lose_100_ky_over_the_season(plant: str, ky: float) -> None:
    """FAO-56 Table 24 and Eq. 90; the floor under the patient stages may add a hundredth of it."""
    price, _ = loss_by_stage(catalog.plants()[plant], FULL_MM)
    lost = sum(p * mm for p, mm in zip(price, transpired(plant), strict=True))
    assert 100.0 * ky - 1e-9 <= lost <= 101.0 * ky
    assert price[2] >= price[3]


def test_flowering_costs_most_and_no_stage_is_free() -> None:
    """Common practice and FAO-33: crops grown for fruit or grain suffer most while they flower."""
    for plant in ("tomato_tall", "bean_bush", "sweet_corn", "pea"):
        price, lengths = loss_by_stage(catalog.plants()[plant], FULL_MM)
        assert np.argmax(price) == 1
        season = 100.0 * catalog.plants()[plant].ky.value / sum(transpired(plant))
        assert price.min() >= LEAST_STAGE * season - 1e-12
        assert lengths[1] / lengths[2] == pytest.approx(FLOWERING_SHARE / (1.0 - FLOWERING_SHARE))


def test_twice_the_demand_halves_the_price_of_a_mm() -> None:
    """The response is to the part that is lacking: a mm is half as much of a season that wants twice as much."""
    for plant in ("tomato_tall", "pepper_sweet", "thyme"):
        once, twice = (loss_by_stage(catalog.plants()[plant], mm)[0] for mm in (3.0, 6.0))
        np.testing.assert_allclose(twice, 0.5 * once, rtol=1e-12)


def test_every_plant_has_its_stages() -> None:
    assert set(catalog.stages()) == set(catalog.plants())


def boards(place: Place | None = None, **garden: Any) -> Board:
    made = scene(place or bed("tomato", "loam", means="drip_line"), used=0.4, **garden)
    return board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())


def test_water_is_priced_by_the_ground_the_crop_covers() -> None:
    board = boards()
    assert board.price.per_water_mm <= 1.0 / WATER_MM
    hanging = boards(pot("tomato", 15)).price
    assert hanging.per_water_mm < 0.5 / WATER_MM


def test_weights_scale_what_they_name_and_nothing_else() -> None:
    board = boards(bed("tomato", "loam", means="sprinkler"))
    made = (board.days.garden, board.days, board.reduced, board.today)
    usual = prices(*made, Weights())
    assert prices(*made, Weights(spare_water=2.0)).per_water_mm == pytest.approx(2.0 * usual.per_water_mm)
    assert prices(*made, Weights(spare_time=0.0)).per_visit == 0.0
    double = prices(*made, Weights(best_crop=2.0))
    assert double.per_wet == pytest.approx(2.0 * usual.per_wet)
    assert usual.per_wet > 0.0
    sums = np.ones((2, len(names.SUMS), 3))
    once, twice = parts_of(sums, usual), parts_of(sums, double)
    assert once.shape == (len(PARTS), 2, 3)
    np.testing.assert_allclose(twice[:5], 2.0 * once[:5])
    np.testing.assert_allclose(twice[5:7], once[5:7])


#: Salt of the saturated soil extract at which yield begins to fall, in dS/m: E. V. Maas 1990, US Salinity Laboratory, USDA-ARS, relative salt
#: tolerance of herbaceous crops, vegetables and fruit (as read in a web archive).
BEARS = {
    "asparagus": 4.1, "bean_bush": 1.0, "bean_dry": 1.0, "beet": 4.0, "broccoli": 2.8, "cabbage": 1.8, "carrot": 1.0, "celery": 1.8,
    "sweet_corn": 1.7, "cucumber": 2.5, "eggplant": 1.1, "lettuce_leaf": 1.3, "lettuce_head": 1.3, "onion": 1.2, "pepper_sweet": 1.5,
    "potato": 1.7, "radish": 1.2, "spinach": 2.0, "zucchini": 4.7, "strawberry": 1.0, "sweet_potato": 1.5, "tomato_tall": 2.5,
    "tomato_bush": 2.5, "turnip": 0.9,
}  # fmt: skip
#: Crops that the same table rates and prints no figure for: moderately tolerant, moderately sensitive, sensitive.
ONLY_RATED = (
    "artichoke",
    "brussels",
    "cauliflower",
    "kale",
    "kohlrabi",
    "melon",
    "pumpkin",
    "watermelon",
    "okra",
    "parsnip",
    "pea",
)


def leaching(salt_ds_m: float, *plants: str, source: str = "mains") -> float:
    place = bed(plants[0], "loam", means="drip_line")
    more = tuple(replace(place.plantings[0], plant=plant) for plant in plants[1:])
    both = replace(place, plantings=place.plantings + more)
    return boards(both, supply=Supply(source=source, salt_ds_m=salt_ds_m)).price.leaching  # type: ignore[arg-type]


@pytest.mark.parametrize(("plant", "threshold"), BEARS.items())
def test_the_salt_a_crop_bears_is_what_the_table_prints(plant: str, threshold: float) -> None:
    found = catalog.stages()[plant].salt_ece_ds_m
    assert (found.value, found.source, found.standing) == (threshold, "S11", "printed")


def test_no_figure_is_called_printed_where_the_table_has_none() -> None:
    for plant, stages in catalog.stages().items():
        found = stages.salt_ece_ds_m
        assert (found.source == "S11") == (found.standing in ("printed", "borrowed")), plant
        if found.standing == "judged":
            assert found.value == 1.5
    assert all(catalog.stages()[plant].salt_ece_ds_m.source != "S11" for plant in ONLY_RATED)


@pytest.mark.parametrize(
    ("plant", "share"),
    [("bean_bush", 1 / 4.0), ("lettuce", 1 / 5.5), ("pepper", 1 / 6.5), ("tomato", 1 / 11.5), ("asparagus", 1 / 19.5)],
)
def test_leaching_asked_for_by_salty_water_by_hand(plant: str, share: float) -> None:
    """Leaching requirement ECw / (5 ECe - ECw) of FAO Irrigation and Drainage Paper 29 (from memory), with 1 dS/m in the water and
    the thresholds of Maas 1990 above: bean 1 / (5 - 1), lettuce 1 / (6.5 - 1), pepper 1 / (7.5 - 1), tomato 1 / (12.5 - 1),
    asparagus 1 / (20.5 - 1)."""
    assert leaching(1.0, plant) == pytest.approx(share)


def test_no_leaching_for_rain_from_a_barrel_nor_for_water_nobody_measured() -> None:
    assert leaching(1.0, "bean_bush", source="rain_barrel") == 0.0
    assert boards().price.leaching == 0.0


def test_the_most_sensitive_crop_of_a_place_counts_while_it_stands() -> None:
    assert leaching(1.0, "asparagus", "bean_bush") == leaching(1.0, "bean_bush", "asparagus") == pytest.approx(0.25)
    place = bed("asparagus", "loam", means="drip_line")
    beans = replace(place.plantings[0], plant="bean_bush", cleared=START + timedelta(days=30))
    cleared = boards(replace(place, plantings=(*place.plantings, beans)), supply=Supply(salt_ds_m=1.0))
    assert cleared.price.leaching == pytest.approx(1 / 19.5)


def test_a_salty_garden_lets_more_pass_under_beans_than_under_asparagus() -> None:
    for salt in (0.3, 0.7, 1.0, 1.5, 3.0):
        assert leaching(salt, "bean_bush") > leaching(salt, "asparagus") > 0.0


def test_a_dried_out_root_ball_costs_transplants_until_they_have_rooted_in() -> None:
    made = scene(bed("tomato", "loam", means="can"), used=0.2, at=2)
    board = board_of(made.garden, made.beliefs[0], WeatherHere(made.ahead), Weights())
    again = priced(board.reduced, board.days, board.today)
    np.testing.assert_array_equal(again.day, board.reduced.day)
    phase = board.days.crops.phase[2 : 2 + board.reduced.days]
    lose = board.reduced.day[:, names.LOSE_SEED]
    np.testing.assert_array_equal(lose, np.where(phase == ESTABLISHING, TRANSPLANT_COST, 0.0))
    assert lose[0] > 0.0
    assert lose[-1] == 0.0


def test_a_seedbed_dry_through_costs_seedlings() -> None:
    """Common practice: seeds that have begun to sprout die when they dry. How many is judged: wholly dry, a quarter a week."""
    made = scene(bed("carrot", "loam", planted=False, means="can"), used=0.0, at=1, ahead=coming(at=1, chance=0.0))
    belief = made.beliefs[0]
    dry = replace(belief, now=believed(belief.days, 1, 1.0).now)
    board = board_of(made.garden, dry, WeatherHere(made.ahead), Weights())
    week = reduce(belief.days, 1, dry.now, WeatherHere(made.ahead).at(belief.days.place, 50), horizon=7)
    sums = roll(priced(week, belief.days, 1), np.zeros(1), np.full(1, 1e9), np.ones(1))
    assert sums[0, names.S_SEED].mean() > 25.0
    assert board.reduced.day[0, names.LOSE_SEED] == SEED_COST


def test_a_feel_is_one_of_three() -> None:
    told = chances(np.linspace(-0.2, 1.2, 15))
    np.testing.assert_allclose(told.sum(axis=0), 1.0)
    assert np.all(np.diff(told[0]) <= 0.0)
    assert np.all(np.diff(told[2]) >= 0.0)
    assert is_same_act(10.0, 9.0)
    assert not is_same_act(10.0, 0.0)
    assert is_same_act(0.0, 0.0)


def test_turning_points_in_words() -> None:
    monday = date(2026, 6, 15)
    assert day_words(monday, 0) == "today"
    assert day_words(monday, 3) == "Thursday"
    assert turn_text(RainTurn(3, 4.0), False, monday, 0.2) == "water if Thursday brings less than 4 mm"
    assert turn_text(RainTurn(1, 9.0), True, monday, 0.2) == "leave it if tomorrow brings more than 9 mm"
    assert turn_text(FeelTurn(True), False, monday, 0.2) == "water if it feels dry at 20 cm"
    assert turn_text(FeelTurn(False), True, monday, 0.2) == "leave it if it feels wet at 20 cm"


def test_differences_in_words() -> None:
    made = scene(bed("tomato", "loam", means="drip_line"), used=0.4)
    rule = advise(run_to(made.beliefs[0].days, made.on), steady("warm"))
    soak, hold = replace(rule, verdict="soak", litres=40.0), replace(rule, verdict="hold", litres=0.0)
    probe = replace(rule, verdict="probe first", litres=0.0, if_dry_litres=30.0)
    saved = np.zeros(len(PARTS))
    saved[PARTS.index("water")] = 1.2
    assert differs_text(soak, "soak", 45.0, saved) == ""
    assert differs_text(soak, "hold", 0.0, saved) == (
        "the plain rule would give 40 L; this is expected to cost less by what 1.2 % of the harvest is worth, most of it: water put on"
    )
    assert differs_text(soak, "hold", 0.0, None) == "the plain rule would give 40 L; the two cost about the same"
    assert differs_text(hold, "hold", 0.0, saved) == ""
    assert differs_text(hold, "rain will do", 0.0, saved).startswith("the plain rule says hold")
    assert differs_text(hold, "probe first", 30.0, saved).startswith("the plain rule would not probe")
    assert differs_text(probe, "hold", 0.0, saved).startswith("the plain rule would probe first; no answer")
    assert differs_text(probe, "soak", 30.0, saved).startswith("the plain rule would probe first and give 30 L if dry")
