"""Crop coefficients, stress and cover against the worked examples of FAO-56 chapters 6 to 10.

Source: R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56, Rome,
1998; page numbers of the printed book beside each check. Tolerance: half the last printed digit, one where the book
chains rounded values (said beside it).
"""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.physics import canopy, evaporation, roots


def test_example_27_kc_mid_in_two_climates() -> None:  # p. 125
    table, height = 1.20, 2.0
    taipei = table + canopy.climate_adjustment(1.3, 75, height)
    mocha = table + canopy.climate_adjustment(4.6, 44, height)
    assert float(taipei) == pytest.approx(1.07, abs=0.005)
    assert float(mocha) == pytest.approx(1.30, abs=0.005)


def test_box_15_and_example_29_dry_bean() -> None:  # p. 130 and 136
    assert 1.15 + float(canopy.climate_adjustment(2.2, 30, 0.4)) == pytest.approx(1.19, abs=0.005)
    kcb = canopy.adjusted_kcb([0.15, 1.10, 0.25], 2.2, 30, 0.4)
    assert kcb == pytest.approx([0.15, 1.14, 0.25], abs=0.005)  # below 0.45 nothing is adjusted


def test_example_28_kc_on_given_days() -> None:  # p. 133
    kc = canopy.stage_curve([20, 40, 70, 95], (25, 25, 30, 20), 0.15, 1.19, 0.35)
    assert kc == pytest.approx([0.15, 0.77, 1.19, 0.56], abs=0.005)


def test_example_30_kcb_on_given_days() -> None:  # p. 141
    kcb = canopy.stage_curve([12, 37, 65, 90], (25, 25, 30, 20), 0.15, 1.14, 0.25)
    assert kcb == pytest.approx([0.15, 0.63, 1.14, 0.70], abs=0.0051)


def test_before_the_start_there_is_no_coefficient() -> None:
    assert np.isnan(canopy.stage_curve(-1.0, (25, 25, 30, 20), 0.15, 1.14, 0.25))


@pytest.mark.parametrize(
    ("wetted", "under_canopy", "few", "ke", "kc"),
    [
        (1.0, False, 0.47, 0.40, 1.30),  # Example 32, p. 150: sprinkler
        (0.3, False, 0.30, 0.39, 1.29),  # Example 33, p. 151: alternate furrows
        (0.3, True, 0.19, 0.25, 1.15),  # Example 34, p. 151: drip beneath the canopy
    ],
)
def test_examples_32_to_34_cotton(wetted: float, under_canopy: bool, few: float, ke: float, kc: float) -> None:
    kcb, height = 0.9, 1.0
    top = float(canopy.kc_max(kcb, 3.0, 20.0, height))
    assert top == pytest.approx(1.30, abs=0.005)
    cover = float(canopy.cover_from_kcb(kcb, 0.15, top, height))
    assert cover == pytest.approx(0.53, abs=0.005)
    exposed = evaporation.exposed_wetted_fraction(cover, wetted, under_canopy)
    assert exposed == pytest.approx(few, abs=0.0051)
    coefficient = evaporation.evaporation_coefficient(1.0, top, kcb, exposed)
    assert coefficient == pytest.approx(ke, abs=0.005)
    assert kcb + coefficient == pytest.approx(kc, abs=0.005)


def test_example_36_taw_and_raw() -> None:  # p. 166
    soils = {"loamy sand": 90.0, "silt": 170.0, "silty clay": 120.0}
    crops = {"onion": (0.4, 0.30), "tomato": (0.8, 0.40), "maize": (1.2, 0.55)}
    printed = {
        "onion": [(36, 11), (68, 20), (48, 14)],
        "tomato": [(72, 29), (136, 54), (96, 38)],
        "maize": [(108, 59), (204, 112), (144, 79)],
    }
    for crop, (depth, p) in crops.items():
        for per_m, (taw, raw) in zip(soils.values(), printed[crop], strict=True):
            assert per_m * depth == pytest.approx(taw, abs=0.5)
            assert p * per_m * depth == pytest.approx(raw, abs=0.5)
            # Stress sets in exactly where the readily available water ends (Eq. 84).
            assert float(roots.stress_coefficient(p * per_m * depth, per_m * depth, p)) == pytest.approx(1.0)


def test_example_39_stress_without_salt() -> None:  # p. 182
    ks = roots.stress_coefficient([50, 60, 70, 80, 90, 100, 110], 110.0, 0.4)
    assert ks == pytest.approx([0.91, 0.76, 0.61, 0.45, 0.30, 0.15, 0.0], abs=0.0051)


def test_depletion_fraction_for_demand() -> None:  # below Table 22, p. 162
    assert roots.adjusted_depletion_p([0.4, 0.4, 0.1, 0.8], [5.0, 10.0, 12.0, 1.0]) == pytest.approx(
        [0.4, 0.2, 0.1, 0.8]
    )


def test_example_41_rows_across_the_sun() -> None:  # p. 190
    cover = canopy.effective_cover(0.3, 1.0, np.degrees(1.2351))
    assert float(cover) == pytest.approx(0.41, abs=0.0055)
    full = canopy.full_cover_kcb(2.0, 1.5, 55.0)
    assert float(full) == pytest.approx(1.15, abs=0.005)
    kcb = 0.15 + canopy.density_coefficient(0.3, cover, 2.0) * (full - 0.15)
    assert float(kcb) == pytest.approx(0.75, abs=0.005)


def test_example_42_tomato_rows() -> None:  # p. 191
    declination = 0.409 * np.sin(2 * np.pi * 201 / 365 - 1.39)
    noon = 90.0 - 38.5 + np.degrees(declination)
    cover = canopy.effective_cover(0.5, 1.0, noon)
    assert float(cover) == pytest.approx(0.66, abs=0.005)
    kcb = 0.15 + canopy.density_coefficient(0.5, cover, 0.75) * (1.1658 - 0.15)  # 1.17 before rounding
    assert float(kcb) == pytest.approx(0.95, abs=0.005)


def test_example_43_olives_with_closed_stomata() -> None:  # p. 192, a chain of rounded values: 0.01
    full = canopy.full_cover_kcb(5.0, 2.0, 25.0)
    assert float(full) == pytest.approx(1.29, abs=0.01)
    kcb = 0.15 + (full - 0.15) * canopy.density_coefficient(0.196, 1.0, 5.0)
    assert float(kcb) == pytest.approx(0.60, abs=0.01)
    fr = canopy.stomatal_reduction(420.0, 0.189, 0.0676, 2.0)
    assert fr == pytest.approx(0.67, abs=0.01)
    assert float(kcb) * fr == pytest.approx(0.40, abs=0.01)


def test_root_depth_follows_annex_8() -> None:
    """Eq. 8-1 (p. 279): Zr 0.2 to 0.8 m with the growth of Kcb; half-way in the development stage it is 0.5 m."""
    depth = roots.root_depth_m([-1.0, 0.0, 0.5, 1.0, 1.4], 0.2, 0.8)
    assert depth == pytest.approx([0.2, 0.2, 0.5, 0.8, 0.8])
    assert roots.root_depth_m(1.0, 0.2, 0.8, barrier_m=0.3) == pytest.approx(0.3)


def test_uptake_pattern_is_forty_thirty_twenty_ten() -> None:
    """Common practice in irrigation handbooks: 40, 30, 20, 10 % of the water from each quarter of the root zone."""
    weights = roots.layer_weights([0.0, 0.25, 0.5, 0.75, 1.0], 1.0)
    assert weights == pytest.approx([0.40, 0.30, 0.20, 0.10])
    assert roots.layer_weights([0.0, 0.1, 0.3, 0.6], np.array([0.05, 0.2, 2.0])).sum(-1) == pytest.approx([1, 1, 1])
