"""Container capacity: Milks, Fonteno & Larson 1989 in the closed form for van Genuchten retention, and worked figures.

The ideal mix is the van Genuchten curve through the middle of De Boodt & Verdonck's 1972 ranges: 85, 60, 35, 28 % by
volume at 0, 10, 50, 100 cm. Table and 10 L example were computed apart (hypergeometric function and quadrature agree).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import hyp2f1

from soakbook.physics import potting

IDEAL = (0.110, 0.850, 0.1783, 1.509)
COIR = (0.129, 0.94, 0.1671, 1.476)
PINE_BARK_MIX = (0.15, 0.71, 0.353, 1.812)
PEAT = (0.0, 0.98, 0.150, 1.5)
FIELD_LOAM = (0.078, 0.43, 0.036, 1.56)


def closed_form(height_cm: float, mix: tuple[float, float, float, float]) -> float:
    dry, wet, alpha, n = mix
    return dry + (wet - dry) * float(hyp2f1(1 - 1 / n, 1 / n, 1 + 1 / n, -((alpha * height_cm) ** n)))


@pytest.mark.parametrize(("suction_cm", "theta"), [(0, 0.85), (10, 0.60), (50, 0.35), (100, 0.28)])
def test_ideal_mix_runs_through_de_boodt_and_verdonck(suction_cm: float, theta: float) -> None:
    assert potting.theta_van_genuchten(suction_cm, *IDEAL) == pytest.approx(theta, abs=5e-4)


def test_easily_available_and_buffer_water_of_the_ideal_mix() -> None:
    """25 and 7 % by volume, the middle of the recommended 20-30 and 4-10 (De Boodt & Verdonck 1972, from memory)."""
    assert potting.easily_available_water(*IDEAL) == pytest.approx(0.25, abs=1e-3)
    assert potting.buffer_water(*IDEAL) == pytest.approx(0.07, abs=1e-3)


@pytest.mark.parametrize(
    ("height_cm", "capacity", "air"),
    [
        (4, 0.802, 0.048),
        (7.6, 0.750, 0.100),
        (10, 0.719, 0.131),
        (15, 0.667, 0.183),
        (20, 0.626, 0.224),
        (30, 0.566, 0.284),
        (40, 0.523, 0.327),
    ],
)
def test_ideal_mix_by_pot_height(height_cm: float, capacity: float, air: float) -> None:
    assert potting.container_capacity(height_cm / 100, *IDEAL) == pytest.approx(capacity, abs=5e-4 + 1e-9)
    assert potting.air_space(height_cm / 100, *IDEAL) == pytest.approx(air, abs=5e-4 + 1e-9)


@pytest.mark.parametrize("mix", [IDEAL, COIR, PINE_BARK_MIX, PEAT, FIELD_LOAM])
@pytest.mark.parametrize("height_cm", [2.0, 15.0, 60.0])
def test_straight_pot_is_the_hypergeometric_closed_form(height_cm: float, mix: tuple[float, ...]) -> None:
    assert potting.container_capacity(height_cm / 100, *mix) == pytest.approx(closed_form(height_cm, mix), rel=1e-8)


@pytest.mark.parametrize("ratio", [0.25, 0.5625, 1.0, 1.5])
def test_tapered_pot_is_the_weighted_integral(ratio: float) -> None:
    b = ratio**0.5

    def area(z_cm: float) -> float:
        return (b + (1 - b) * z_cm / 25.0) ** 2

    water = quad(lambda z: float(potting.theta_van_genuchten(z, *IDEAL)) * area(z), 0, 25, epsabs=1e-12)[0]
    expected = water / quad(area, 0, 25)[0]
    assert potting.container_capacity(0.25, *IDEAL, base_to_top_area=ratio) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(("height_cm", "less"), [(7.6, 0.010), (30.0, 0.019)])
def test_usual_taper_costs_one_to_two_percent_of_volume(height_cm: float, less: float) -> None:
    """Base three quarters of the top's diameter: 1.0 % by volume less at 7.6 cm, 1.9 at 30 cm (computed apart)."""
    straight, tapered = potting.container_capacity(height_cm / 100, *IDEAL, base_to_top_area=[1.0, 0.75**2])
    assert straight - tapered == pytest.approx(less, abs=5e-4 + 1e-9)


def test_ten_litres_25_cm_tall() -> None:
    """Worked example: capacity 0.593, 5.93 L; 2.43, 3.13, 4.93 L down to 50 cm, 100 cm, 10 % by volume; air 0.257."""
    pot = potting.pot_water(10.0, 0.25, *IDEAL, wilting=0.10)
    assert pot.at_capacity_l == pytest.approx(5.93, abs=5e-3)
    assert pot.air_l == pytest.approx(2.57, abs=5e-3)
    assert pot.to_50_cm_l == pytest.approx(2.43, abs=5e-3)
    assert pot.to_100_cm_l == pytest.approx(3.13, abs=5e-3)
    assert pot.to_wilting_l == pytest.approx(4.93, abs=5e-3)


@pytest.mark.parametrize(("height_cm", "air"), [(10, 0.009), (15, 0.016), (20, 0.024), (30, 0.039)])
def test_garden_loam_drowns_a_pot(height_cm: float, air: float) -> None:
    """Loam of Carsel & Parrish 1988; figures computed apart."""
    assert potting.air_space(height_cm / 100, *FIELD_LOAM) == pytest.approx(air, abs=5e-4 + 1e-9)


@pytest.mark.parametrize(("height_cm", "capacity"), [(4.8, 0.59), (15.0, 0.43)])
def test_nursery_mix_of_bilderback_and_fonteno(height_cm: float, capacity: float) -> None:
    """J. Environ. Hort. 5:180, 1987: 59 % in a bedding-plant cell, 43 % in a #1 pot (the curve was fitted to both)."""
    assert potting.container_capacity(height_cm / 100, *PINE_BARK_MIX) == pytest.approx(capacity, abs=5e-3)


@pytest.mark.parametrize(("mix", "capacity"), [(PEAT, 0.87), (COIR, 0.841)])
def test_porometer_capacity_of_7_6_cm_cores(mix: tuple[float, ...], capacity: float) -> None:
    """Peat 87 % (Int. J. Agronomy 2012:978528, Table 1); coir from the middle of published ranges, computed apart."""
    assert potting.container_capacity(0.076, *mix) == pytest.approx(capacity, abs=5e-3)


def test_saucer_water_is_a_shorter_pot_on_a_soaked_slice() -> None:
    """5 cm of water around a straight 25 cm pot: 5 cm saturated and 20 cm drained (from h(z) = z - d)."""
    expected = (5 * IDEAL[1] + 20 * closed_form(20.0, IDEAL)) / 25
    assert potting.container_capacity(0.25, *IDEAL, water_level_m=0.05) == pytest.approx(expected, rel=1e-8)
    assert potting.container_capacity(0.25, *IDEAL, water_level_m=0.30) == pytest.approx(IDEAL[1], rel=1e-12)


def test_layers_of_a_straight_pot_follow_from_the_closed_form() -> None:
    """A slice between two heights holds the difference of two closed forms."""
    layers = potting.pot_layers(0.30, 6, *IDEAL)
    edges = [30, 25, 20, 15, 10, 5, 0]
    for i in range(6):
        top, base = edges[i], edges[i + 1]
        water = top * closed_form(top, IDEAL) - (base * closed_form(base, IDEAL) if base else 0.0)
        assert layers.theta_capacity[i] == pytest.approx(water / 5, rel=1e-7)
    np.testing.assert_allclose(layers.suction_cm, [27.5, 22.5, 17.5, 12.5, 7.5, 2.5])
