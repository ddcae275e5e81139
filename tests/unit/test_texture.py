"""Texture classes against the triangle drawn as polygons."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.physics.texture import COMPOSITION, TEXTURE_CLASSES, composition, texture_class

#: Corners (clay, sand) of each class as the USDA triangle is drawn (Soil Survey Manual, ch. 3; from memory).
POLYGONS = {
    "clay": [(100, 0), (60, 0), (40, 20), (40, 45), (55, 45)],
    "silty_clay": [(60, 0), (40, 0), (40, 20)],
    "sandy_clay": [(55, 45), (35, 45), (35, 65)],
    "silty_clay_loam": [(40, 0), (40, 20), (27, 20), (27, 0)],
    "clay_loam": [(40, 20), (40, 45), (27, 45), (27, 20)],
    "sandy_clay_loam": [(35, 45), (35, 65), (20, 80), (20, 52), (27, 45)],
    "loam": [(27, 23), (27, 45), (20, 52), (7, 52), (7, 43)],
    "silt_loam": [(27, 0), (27, 23), (0, 50), (0, 20), (12, 8), (12, 0)],
    "silt": [(12, 0), (12, 8), (0, 20), (0, 0)],
    "sandy_loam": [(20, 52), (20, 80), (15, 85), (0, 70), (0, 50), (7, 43), (7, 52)],
    "loamy_sand": [(15, 85), (10, 90), (0, 85), (0, 70)],
    "sand": [(10, 90), (0, 100), (0, 85)],
}


def inside(corners: list[tuple[float, float]], clay: float, sand: float) -> bool:
    """Even-odd rule."""
    odd = False
    for (c1, s1), (c2, s2) in zip(corners, corners[1:] + corners[:1], strict=True):
        if (s1 > sand) != (s2 > sand) and clay < c1 + (sand - s1) / (s2 - s1) * (c2 - c1):
            odd = not odd
    return odd


def test_rules_agree_with_the_drawn_triangle() -> None:
    off_the_lines = np.arange(0.37, 100, 1.0)
    for sand in off_the_lines:
        for clay in (off_the_lines + 0.04)[off_the_lines + 0.04 + sand < 100]:
            drawn = [name for name, corners in POLYGONS.items() if inside(corners, clay, sand)]
            assert drawn == [str(texture_class(sand, clay))], (sand, clay)


def test_every_whole_percent_has_a_class() -> None:
    sand, clay = (a.ravel() for a in np.mgrid[0:101, 0:101])
    keep = sand + clay <= 100
    found = texture_class(sand[keep], clay[keep])
    assert set(found.tolist()) == set(TEXTURE_CLASSES)


@pytest.mark.parametrize("class_id", TEXTURE_CLASSES)
def test_typical_composition_maps_to_its_own_class(class_id: str) -> None:
    typical = composition(class_id)
    assert str(texture_class(typical.sand_pct, typical.clay_pct)) == class_id
    assert typical.sand_pct + typical.silt_pct + typical.clay_pct == 100.0


@pytest.mark.parametrize(
    ("sand", "clay", "class_id"),
    [
        (86, 9, "loamy_sand"),
        (52, 20, "loam"),
        (45, 27, "clay_loam"),
        (20, 27, "silty_clay_loam"),
        (20, 40, "silty_clay"),
    ],
)
def test_borders_go_to_one_class(sand: float, clay: float, class_id: str) -> None:
    assert str(texture_class(sand, clay)) == class_id


def test_there_are_twelve() -> None:
    assert len(COMPOSITION) == 12


@pytest.mark.parametrize(("sand", "clay", "field"), [(-1, 20, "sand_pct"), (40, 101, "clay_pct"), (70, 40, "clay_pct")])
def test_impossible_particles_are_refused(sand: float, clay: float, field: str) -> None:
    with pytest.raises(InputError) as caught:
        texture_class(sand, clay)
    assert caught.value.field == field
    assert caught.value.hint


def test_unknown_class_lists_the_known_ones() -> None:
    with pytest.raises(InputError, match=r"sandy_loam.*got 'mud'"):
        composition("mud")
