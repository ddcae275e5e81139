"""What a reading says of a member: likelihoods add to one over all readings and point the right way."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest
from scipy.stats import norm

from soakbook.balance.columns import state_at
from soakbook.balance.layout import best_guess, lay_out
from soakbook.catalog.read import feel_chart
from soakbook.errors import InputError
from soakbook.garden.model import Place, SoilLayer
from soakbook.learning import observe
from soakbook.learning.observe import FEEL_GROUP, FloatArray, feel, feel_sd, squeeze
from soakbook.learning.reading import Reading, feel_group, layer_at, suction_kpa, wetness_of
from tests.unit.learning.scene import BED, POT, at, reading, truths

WETNESS = np.linspace(-0.2, 1.4, 33)
ZERO = np.zeros_like(WETNESS)


@pytest.mark.parametrize("group", [*observe.FEEL_ROWS, "mix"])
def test_the_three_feels_add_to_one(group: str) -> None:
    all_three = np.exp([feel(k, WETNESS, ZERO, group) for k in range(3)])
    assert all_three.sum(0) == pytest.approx(1.0)
    assert (np.diff(all_three[0]) < 1e-12).all()
    assert (np.diff(all_three[2]) > -1e-12).all()
    assert np.argmax(all_three[1]) == pytest.approx(14, abs=2)  # moist is likeliest near the half


#: USDA NRCS, Estimating soil moisture by feel and appearance, percent scale: available water of the classes below field capacity. [%]
NRCS = [(0, 25), (25, 50), (50, 75), (75, 100)]


@pytest.mark.parametrize("group", [*observe.FEEL_ROWS, "mix"])
def test_the_six_squeezes_add_to_one_and_the_middle_one_is_where_the_chart_has_it(group: str) -> None:
    all_six = np.exp([squeeze(k, WETNESS, ZERO, group) for k in range(6)])
    assert all_six.sum(0) == pytest.approx(1.0)
    assert (np.diff(all_six[0]) < 1e-12).all()
    assert (np.diff(all_six[5]) > -1e-12).all()
    for seen, (low, high) in enumerate(NRCS):  # half of what is felt in the middle of a class is drier, half wetter
        odds = np.exp([squeeze(k, np.array([(low + high) / 200.0]), np.zeros(1), group)[0] for k in range(6)])
        assert int(np.searchsorted(np.cumsum(odds), 0.5)) == seen
    over = np.exp([squeeze(k, np.array([1.5]), np.zeros(1), group)[0] for k in range(6)])
    assert np.argmax(over) == 5  # free water: above field capacity


def test_a_squeeze_and_a_feel_agree_where_they_say_the_same() -> None:
    """Both are of one chart: the quick feel's dry ends at 25 % of available water, its wet begins at 75 %."""
    for group in observe.FEEL_ROWS:
        for bias in (ZERO, ZERO - 1.3):
            squeezed = np.exp([squeeze(k, WETNESS, bias, group) for k in range(6)])
            quick = np.exp([feel(k, WETNESS, bias, group) for k in range(3)])
            slip = observe.SLIP * (np.array([1, 2, 3]) / 6.0 - 1.0 / 3.0)  # of readings that say nothing
            merged = np.array([squeezed[0], squeezed[1:3].sum(0), squeezed[3:].sum(0)])
            assert merged == pytest.approx(quick + slip[:, None], abs=1e-9)


def test_the_cuts_are_those_of_the_chart_that_is_shown() -> None:
    for group in observe.FEEL_ROWS:
        rows = feel_chart(group)
        assert [row.high_pct.value / 100.0 for row in rows[:4]] == list(observe.SQUEEZE_CUTS[:4])
        assert 100.0 * observe.SQUEEZE_CUTS[4] < rows[5].high_pct.value


def test_a_lifted_pot_adds_to_one_and_gets_heavier() -> None:
    all_three = np.exp([observe.lift(k, WETNESS, ZERO) for k in range(3)])
    assert all_three.sum(0) == pytest.approx(1.0)
    assert (np.diff(all_three[2]) > -1e-12).all()
    assert all_three[2][-1] > 0.9 > 0.1 > all_three[2][0]


def test_feel_is_crudest_in_coarse_soil_and_mixes() -> None:
    assert feel_sd("coarse") > feel_sd("fine") > feel_sd("moderately coarse") > observe.FEEL_SD
    assert feel_sd("mix") > feel_sd("coarse")


DENSITIES: dict[str, tuple[Callable[[float], FloatArray], float, float]] = {
    "dial": (lambda x: observe.dial(x, WETNESS, ZERO + 0.7, ZERO - 1.0), 0.0, 10.0),
    "sensor": (lambda x: observe.sensor(x, 0.1 + 0.2 * WETNESS, ZERO), 0.0, 1.0),
    "weight": (lambda x: observe.weight(float(np.exp(x)), 5.0 + 3.0 * WETNESS, ZERO, 12.0), 0.0, 4.0),
}


@pytest.mark.parametrize("kind", DENSITIES)
def test_densities_integrate_to_one(kind: str) -> None:
    density, low, high = DENSITIES[kind]
    x = np.linspace(low, high, 8001)
    area = np.trapezoid(np.exp([density(float(v)) for v in x]), x, axis=0)
    held = 0.1 + 0.2 * WETNESS if kind == "sensor" else np.ones_like(WETNESS)
    assert area[held > 0.09] == pytest.approx(1.0, abs=1e-3)


def test_a_tensiometer_adds_to_one_with_both_ends() -> None:
    suction = np.geomspace(0.5, 300.0, 20)
    low, high = observe.TENSION_LEAST_KPA, observe.TENSION_MOST_KPA
    x = np.linspace(np.log(low) + 1e-9, np.log(high) - 1e-9, 6001)
    between = np.trapezoid(np.exp([observe.tension(float(np.exp(v)), suction) for v in x]), x, axis=0)
    ends = np.exp(observe.tension(low, suction)) + np.exp(observe.tension(high, suction))
    assert between + ends == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("when", observe.WILT_KS)
def test_wilting_tells_of_too_little_supply_and_adds_to_one(when: str) -> None:
    supply = np.linspace(0.0, 1.0, 11)
    yes, no = np.exp(observe.wilted(True, supply, when)), np.exp(observe.wilted(False, supply, when))
    assert yes + no == pytest.approx(1.0)
    assert (np.diff(yes) < 0).all()


def test_wilted_at_dawn_says_more_than_at_four() -> None:
    supply = np.array([0.1, 1.0])
    dawn, four = (np.diff(observe.wilted(True, supply, w))[0] for w in ("wilted at dawn", "wilted at 4 pm"))
    assert dawn < four < 0.0


def test_water_seen_is_likelier_the_more_there_is() -> None:
    passed = np.array([0.0, 0.1, 1.0, 10.0])
    yes = np.exp(observe.water_seen(True, passed, 0.5))
    assert (np.diff(yes) > 0).all()
    assert yes + np.exp(observe.water_seen(False, passed, 0.5)) == pytest.approx(1.0)


@pytest.mark.parametrize("slope", [-2.0, 0.0, 2.0])
def test_any_dial_rises_with_wetness(slope: float) -> None:
    shown = observe.dial_shown(WETNESS, ZERO - 1.0, ZERO + slope)
    assert (np.diff(shown) > 0).all()
    assert shown.min() >= 0.0
    assert shown.max() <= 10.0


def test_no_reading_rules_a_member_out() -> None:
    for kind, (density, low, high) in DENSITIES.items():
        for x in (low, high):
            assert density(x).min() > -6.5, kind


def test_groups_by_how_the_soil_was_described() -> None:
    assert feel_group(BED, 0.1) == "medium"
    assert feel_group(POT, 0.1) == "mix"
    layers = (SoilLayer("mix", mix="multipurpose", thickness_m=0.2), SoilLayer("texture", texture="clay"))
    assert [feel_group(Place("x", "bed", layers, 1.0), d) for d in (0.1, 0.3)] == ["mix", "fine"]
    assert feel_group(Place("x", "bed", (SoilLayer("particles", sand_pct=86.0, clay_pct=5.0),), 1.0), 0.1) == "coarse"
    assert len(FEEL_GROUP) == 12


def test_suction_goes_through_field_capacity_and_wilting_point() -> None:
    days = truths(BED, best_guess()).days
    kpa = [float(suction_kpa(days, 2, np.array([w]), 0.15)[0]) for w in (0.0, 0.5, 1.0)]
    assert kpa[0] == pytest.approx(1500.0)
    assert kpa[2] == pytest.approx(33.0)
    assert kpa[2] < kpa[1] < kpa[0]


def test_suction_in_a_drained_pot_is_its_height_above_the_holes() -> None:
    days = truths(POT, best_guess()).days
    full = wetness_of(days, state_at(days.laid.columns, np.ones(1)).water_mm[0, 0])
    for depth in (0.02, 0.10, 0.20):
        layer = layer_at(days, depth)
        middle = 0.5 * (days.laid.edges_m[layer] + days.laid.edges_m[layer + 1])
        above_m = days.laid.edges_m[-1] - middle
        assert suction_kpa(days, layer, full[layer], depth)[0] == pytest.approx(9.807 * above_m, rel=0.1)


@pytest.mark.parametrize(("kind", "value"), [("dial", 11.0), ("feel", 1.5), ("squeeze", 6.0), ("squeeze", 1.5), ("ran off", 0.5), ("sensor", -0.1), ("weight", float("nan"))])  # fmt: skip
def test_readings_beyond_their_scale_are_refused(kind: str, value: float) -> None:
    with pytest.raises(InputError, match="must lie from"):
        Reading("r", at(date(2017, 6, 1)), kind, value)  # type: ignore[arg-type]
    assert reading("r", date(2017, 6, 1), "dial", 10.0).value == 10.0


def test_columns_have_the_soil_of_the_place() -> None:
    assert lay_out(BED, 0.5, best_guess()).layers[0].route == "texture"


def test_the_compiled_dial_is_what_is_written_down() -> None:
    """Against the same density by SciPy: a normal error about the hand's place, cut off at the ends of the scale."""
    rng = np.random.default_rng(4)
    wetness, shown = rng.uniform(-0.1, 1.2, (6, 40)), np.linspace(0.0, 10.0, 6)[:, None]
    offset, slope = rng.standard_normal((2, 40))
    middle = observe.dial_shown(wetness, offset, slope)
    rises = observe.DIAL_SLOPE * np.exp(observe.DIAL_SLOPE_SD * slope) * middle * (1.0 - 0.1 * middle)
    sd = np.hypot(observe.DIAL_SD, observe.MODEL_SD * rises)
    density = norm.pdf(shown, middle, sd) / (norm.cdf(10.0, middle, sd) - norm.cdf(0.0, middle, sd))
    wanted = np.log((1.0 - observe.SLIP) * density + observe.SLIP / 10.0)
    assert observe.dial(shown, wetness, offset, slope) == pytest.approx(wanted, abs=1e-4)
