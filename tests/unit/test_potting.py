"""Pot outlines, layers, walls, and what is refused."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.physics import potting

MIX = (0.110, 0.850, 0.1783, 1.509)


def test_cylinder_and_cone_like_volumes() -> None:
    """Geometry: a cylinder, and a frustum as the difference of two cones."""
    assert potting.round_pot(0.2, 0.3, 0.2).volume_l == pytest.approx(1000 * pi * 0.01 * 0.3)
    cones = pi / 3 * (0.2**2 * 0.8 - 0.15**2 * 0.6)
    assert potting.round_pot(0.4, 0.2, 0.3).volume_l == pytest.approx(1000 * cones)


def test_round_wall_is_the_unrolled_frustum() -> None:
    """3-4-5: radii 0.4 and 0.1 over a height of 0.4 give a slant of 0.5."""
    assert potting.round_pot(0.8, 0.4, 0.2).wall_area_m2 == pytest.approx(pi * 0.5 * 0.5)


def test_nominal_volume_comes_back_in_usual_proportions() -> None:
    """A 10 L nursery pot is about 27 to 28 cm wide and 22 to 24 cm tall (common practice)."""
    pot = potting.pot_from_volume(10.0)
    assert pot.volume_l == pytest.approx(10.0)
    assert 0.26 < 2 * (pot.top_area_m2 / pi) ** 0.5 < 0.29
    assert 0.22 < pot.height_m < 0.24
    assert pot.base_area_m2 / pot.top_area_m2 == pytest.approx(0.75**2)


def test_trough_with_straight_and_sloping_sides() -> None:
    box = potting.trough(0.8, 0.2, 0.18)
    assert box.volume_l == pytest.approx(28.8)
    assert box.wall_area_m2 == pytest.approx(2 * (0.8 + 0.2) * 0.18)
    sloping = potting.trough(0.8, 0.8, 0.4, base_to_top_side=0.25)
    assert sloping.wall_area_m2 == pytest.approx(4 * 0.5 * (0.8 + 0.2) * 0.5)


def test_layers_are_wettest_at_the_base_and_add_up() -> None:
    layers = potting.pot_layers(0.25, 8, *MIX, base_to_top_area=0.5625)
    assert (np.diff(layers.theta_capacity) > 0).all()
    assert (np.diff(layers.area) < 0).all()
    assert layers.weight.sum() == pytest.approx(1.0)
    assert 1000 * 0.06 * layers.thickness_m * layers.area.sum() == pytest.approx(
        1000 * 0.25 / 3 * 0.06 * (1 + 0.75 + 0.5625)
    )


def test_layers_stand_in_saucer_water() -> None:
    layers = potting.pot_layers(0.20, 4, *MIX, water_level_m=0.07)
    assert layers.theta_capacity[3] == pytest.approx(0.85)
    assert layers.theta_capacity[0] == pytest.approx(float(potting.theta_van_genuchten(10.5, *MIX)), abs=0.005)
    assert layers.theta_capacity[2] < 0.85
    np.testing.assert_allclose(layers.suction_cm, [10.5, 5.5, 0.5, 0.0])


def test_heights_and_mixes_broadcast() -> None:
    capacity = potting.container_capacity(np.array([[0.1], [0.3]]), MIX[0], MIX[1], np.array([0.15, 0.1783]), MIX[3])
    assert capacity.shape == (2, 2)
    assert capacity[1, 1] == pytest.approx(0.566, abs=5e-4)


def test_clay_pot_dries_about_twice_as_fast_as_plastic() -> None:
    """Common practice among growers, for a small bare pot: soil surface at ETo, plus the wall."""
    pot = potting.round_pot(0.15, 0.14)
    surface_l = 5.0 * pot.top_area_m2
    clay = surface_l + float(potting.wall_evaporation_l(5.0, pot.wall_area_m2, "clay"))
    plastic = surface_l + float(potting.wall_evaporation_l(5.0, pot.wall_area_m2, "plastic"))
    assert 1.5 < clay / plastic < 2.5


def test_wall_kinds() -> None:
    assert set(potting.WALL_FACTOR) == {"plastic", "glazed", "clay", "fabric", "wood"}
    np.testing.assert_allclose(potting.wall_evaporation_l([0.0, 4.0], 0.5, "fabric"), [0.0, 1.0])
    with pytest.raises(InputError, match="got 'paper'"):
        potting.wall_evaporation_l(5.0, 0.1, "paper")


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: potting.round_pot(0.0, 0.2), "top_diameter_m"),
        (lambda: potting.pot_from_volume(float("nan")), "volume_l"),
        (lambda: potting.trough(1.0, 0.2, -0.1), "height_m"),
        (lambda: potting.container_capacity(0.0, *MIX), "height_m"),
        (lambda: potting.pot_layers(0.2, 0, *MIX), "n_layers"),
        (lambda: potting.pot_layers(0.2, 4, *MIX, base_to_top_area=0.0), "base_to_top_area"),
    ],
)
def test_impossible_pots_are_refused(call: object, field: str) -> None:
    assert callable(call)
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.field == field
