"""What must hold for any soil, pot and rain."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.physics import infiltration as inf
from soakbook.physics import potting, soil
from soakbook.physics.texture import TEXTURE_CLASSES, composition

few = settings(max_examples=60, deadline=None, derandomize=True)
k = st.floats(0.1, 200)
s = st.floats(0.01, 300)


@few
@given(st.floats(0, 95), st.floats(0, 50), st.floats(0, 8), st.floats(0, 80))
def test_water_rises_from_wilting_to_saturation(sand: float, clay: float, organic: float, stones: float) -> None:
    assume(sand + clay <= 100)
    water = soil.soil_from_particles(sand, clay, organic, stones)
    assert 0 < water.theta_wp < water.theta_fc < water.theta_sat < 1
    assert water.ks_mm_h > 0


def test_corner_the_estimate_cannot_describe_is_refused() -> None:
    """Sandy clay at the limits of clay and organic matter: Eq 5 leaves no pores above 33 kPa."""
    with pytest.raises(InputError, match="they must rise") as caught:
        soil.soil_from_particles(40, 60, 8)
    assert caught.value.field == "soil"


@few
@given(st.sampled_from(TEXTURE_CLASSES), st.floats(0, 80))
def test_more_stones_hold_and_pass_less(class_id: str, stones: float) -> None:
    plain, stony = soil.soil_from_texture(class_id), soil.soil_from_texture(class_id, stones_pct_w=stones)
    assert stony.available_water <= plain.available_water * (1 + 1e-12)
    assert stony.ks_mm_h <= plain.ks_mm_h * (1 + 1e-12)
    assert stony.available_water_sd <= plain.available_water_sd * (1 + 1e-12)


@pytest.mark.parametrize("class_id", TEXTURE_CLASSES)
def test_spread_widens_as_less_is_known(class_id: str) -> None:
    typical = composition(class_id)
    particles = soil.soil_from_particles(typical.sand_pct, typical.clay_pct)
    named = soil.soil_from_texture(class_id)
    measured = soil.soil_from_measured(named.theta_fc, named.theta_wp)
    assert measured.theta_fc_sd < particles.theta_fc_sd <= named.theta_fc_sd
    assert measured.theta_wp_sd <= particles.theta_wp_sd <= named.theta_wp_sd
    assert measured.available_water_sd < particles.available_water_sd
    assert named.available_water_sd < sqrt(named.theta_fc_sd**2 + named.theta_wp_sd**2)


@pytest.mark.parametrize("class_id", TEXTURE_CLASSES)
def test_measured_values_of_a_class_bring_back_its_pores_and_conductivity(class_id: str) -> None:
    named = soil.soil_from_texture(class_id)
    measured = soil.soil_from_measured(named.theta_fc, named.theta_wp)
    assert (measured.theta_sat, measured.ks_mm_h) == pytest.approx((named.theta_sat, named.ks_mm_h))
    assert "saturation as in a typical" in measured.note
    full = soil.soil_from_measured(0.30, 0.12, 0.46, 20.0)
    assert (full.theta_sat, full.ks_mm_h, full.note) == (0.46, 20.0, "")


def test_texture_estimate_is_off_by_what_the_measured_horizons_say() -> None:
    """59 Swiss horizons: 0.08 at 33 kPa, 0.05 at 1500 kPa, and about 0.053 in their difference."""
    loam = soil.soil_from_particles(40, 20)
    assert loam.theta_fc_sd == pytest.approx(0.08)
    assert loam.theta_wp_sd == pytest.approx(0.05)
    assert loam.available_water_sd == pytest.approx(0.053, abs=2e-3)


@pytest.mark.parametrize(("class_id", "kpa"), [("sand", 10), ("loamy_sand", 10), ("sandy_loam", 20), ("loam", 33)])
def test_field_capacity_convention_and_its_override(class_id: str, kpa: float) -> None:
    typical = composition(class_id)
    assert soil.field_capacity_suction_kpa(typical.sand_pct, typical.clay_pct) == kpa
    usual, same = soil.soil_from_texture(class_id), soil.soil_from_texture(class_id, at_kpa=kpa)
    assert usual == same
    assert soil.soil_from_texture(class_id, at_kpa=100).theta_fc < usual.theta_fc
    assert ("kPa" in usual.note) == (kpa != 33)


def test_equal_jar_layers_hold_less_clay_than_a_third() -> None:
    """Weights 1.5 : 1.3 : 0.9 of equal heights: 40.5 and 24.3 %."""
    sand, clay = soil.jar_to_particles(20, 20, 20)
    assert (sand, clay) == (pytest.approx(100 * 1.5 / 3.7), pytest.approx(100 * 0.9 / 3.7))
    jar = soil.soil_from_jar(20, 20, 20)
    assert jar.theta_fc == pytest.approx(soil.soil_from_particles(sand, clay).theta_fc)
    assert jar.theta_fc_sd > soil.soil_from_particles(sand, clay).theta_fc_sd
    assert jar.route == "jar"


@pytest.mark.parametrize(
    ("arguments", "field", "says"),
    [
        ((20.0, 65.0), "clay_pct", "measured"),
        ((40.0, 20.0, 9.0), "organic_matter_pct", "bed mix"),
        ((40.0, 20.0, 2.5, 90.0), "stones_pct_w", "mass"),
        ((40.0, 20.0, 2.5, 0.0, 1.4), "compaction", "driven on"),
        ((5.0, 60.0, 2.5, 0.0, 1.3), "compaction", "nearer 1"),
        ((float("nan"), 20.0), "sand_pct", "sieve"),
    ],
)
def test_outside_the_valid_range_is_refused_with_advice(arguments: tuple[float, ...], field: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        soil.soil_from_particles(*arguments)
    assert caught.value.field == field
    assert says in caught.value.hint


def test_other_refusals() -> None:
    for call in (
        lambda: soil.soil_from_particles(40, 20, at_kpa=1500),
        lambda: soil.soil_from_measured(0.10, 0.20),
        lambda: soil.soil_from_measured(0.30, 0.12, ks_mm_h=0.0),
        lambda: soil.soil_from_jar(0, 0, 0),
        lambda: soil.soil_from_jar(-1, 5, 5),
        lambda: soil.soil_from_texture("mud"),
    ):
        with pytest.raises(InputError):
            call()


def test_clean_sand_is_floored_and_says_so() -> None:
    """FAO-56 Table 19: no soil wilts below 0.02."""
    sand = soil.soil_from_particles(98, 1, organic_matter_pct=0.0)
    assert sand.theta_wp == 0.02
    assert "raised from" in sand.note


@few
@given(st.floats(0.01, 1.0), st.floats(0.0, 50.0))
def test_draining_hour_by_hour_is_draining_a_day(excess: float, rate: float) -> None:
    hourly = excess
    for _ in range(24):
        hourly = inf.drained_excess(hourly, rate, 1.0)
    assert hourly == pytest.approx(inf.drained_excess(excess, rate, 24.0), rel=1e-12)
    assert 0 < hourly <= excess


def test_draining_at_its_limits() -> None:
    assert inf.drained_excess(0.0, 5.0, 24.0) == 0.0
    assert inf.drained_excess(0.7, 5.0, 0.0) == 0.7
    # Long after, the start is forgotten: e -> 1 / sqrt(2 k t).
    assert inf.drained_excess(0.7, 5.0, 1e9) == pytest.approx((2 * 5.0 * 1e9) ** -0.5, rel=1e-6)
    # At once, the loss is Ks e^3.
    assert (0.7 - inf.drained_excess(0.7, 5.0, 1e-7)) / 1e-7 == pytest.approx(5.0 * 0.7**3, rel=1e-5)


@few
@given(st.floats(0.1, 200), k, s, st.floats(0.01, 24))
def test_rain_goes_in_or_off(rate: float, k_mm_h: float, s_mm: float, hours: float) -> None:
    intake = inf.rain_intake(rate, k_mm_h, s_mm, hours)
    assert intake.infiltrated_mm + intake.runoff_mm == pytest.approx(rate * hours, rel=1e-12)
    assert intake.runoff_mm >= -1e-9 * rate * hours
    assert intake.infiltrated_mm >= min(rate, k_mm_h) * hours * (1 - 1e-9)
    assert intake.rate_mm_h <= rate * (1 + 1e-9)
    assert intake.infiltrated_mm <= inf.green_ampt_depth_mm(k_mm_h, s_mm, hours) * (1 + 1e-9)


@few
@given(k, s, st.floats(0.01, 24), st.floats(1.01, 3))
def test_more_time_or_suction_or_conductivity_takes_in_more(a: float, b: float, hours: float, more: float) -> None:
    for depth in (inf.green_ampt_depth_mm, inf.ponded_depth_explicit_mm):
        base = float(depth(a, b, hours))
        assert float(depth(a * more, b, hours)) > base
        assert float(depth(a, b * more, hours)) > base
        assert float(depth(a, b, hours * more)) > base


@few
@given(
    st.floats(0.03, 1.0), st.integers(1, 12), st.floats(0.02, 1.0), st.floats(1.1, 3.0), st.floats(0.1, 2.0),
    st.floats(0.0, 0.5),
)  # fmt: skip
def test_pot_layers_hold_what_the_pot_holds(
    height: float, count: int, alpha: float, n: float, ratio: float, level: float
) -> None:
    mix = (0.1, 0.85, alpha, n)
    layers = potting.pot_layers(height, count, *mix, base_to_top_area=ratio, water_level_m=level)
    whole = potting.container_capacity(height, *mix, base_to_top_area=ratio, water_level_m=level)
    assert np.sum(layers.weight * layers.theta_capacity) == pytest.approx(float(whole), rel=1e-5)
    assert (np.diff(layers.theta_capacity) >= -1e-9).all()


@few
@given(st.floats(0.05, 0.6), st.floats(1.05, 3.0))
def test_taller_pots_hold_less_per_litre(height: float, times: float) -> None:
    mix = (0.11, 0.85, 0.1783, 1.509)
    assert potting.container_capacity(height * times, *mix) < potting.container_capacity(height, *mix)
