"""Leaves, demand and roots of the true plants."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakbook.catalog.read import plants
from soakbook.season.truth import uptake
from soakbook.season.truth.compiled import solver
from soakbook.season.truth.curves import water_content
from soakbook.season.truth.draw import _between
from soakbook.season.truth.soils import usual_soil

feddes = solver().feddes


def test_feddes_is_a_trapezoid() -> None:
    """Corners and middles of the figure of Feddes, Kowalik and Zaradny (1978)."""
    heads = (-10.0, -25.0, -400.0, -8000.0)
    for head, share in (
        (-5, 0),
        (-10, 0),
        (-17.5, 0.5),
        (-25, 1),
        (-200, 1),
        (-400, 1),
        (-4200, 0.5),
        (-8000, 0),
        (-9000, 0),
    ):
        assert feddes(float(head), *heads)[0] == pytest.approx(share)


@pytest.mark.parametrize("head", [-12.0, -20.0, -100.0, -1000.0, -7000.0, -9000.0])
def test_feddes_slope_is_its_slope(head: float) -> None:
    heads = (-10.0, -25.0, -400.0, -8000.0)
    rise = (feddes(head + 1e-3, *heads)[0] - feddes(head - 1e-3, *heads)[0]) / 2e-3
    assert feddes(head, *heads)[1] == pytest.approx(rise, abs=1e-9)


def test_roots_thirst_sooner_on_a_hot_day() -> None:
    heads = np.array([[-10.0, -25.0, -400.0, -600.0, -8000.0]])
    assert [float(uptake.turning_head_cm(heads, d)[0]) for d in (0.5, 1.0, 3.0, 5.0, 9.0)] == [
        -600,
        -600,
        -500,
        -400,
        -400,
    ]


def test_heads_of_every_group_fall() -> None:
    for plant in plants().values():
        h = uptake.heads_of(plant.group)
        assert h.h1 > h.h2 > h.h3_high >= h.h3_low > h.h4


@pytest.mark.parametrize("name", ["tomato_tall", "cucumber", "lettuce_head", "bean_bush"])
@pytest.mark.parametrize("ground", ["sand", "loam", "clay"])
def test_crops_begin_to_suffer_between_two_published_accounts(name: str, ground: str) -> None:
    """At one end the list of heads. At the other FAO-56 Table 22: the part p of the water between 100 and 15,000 cm is gone at 5 mm a day,
    and 0.16 more at 1 mm (p + 0.04 (5 - ETc)); the content at the head found is read off the curve again."""
    plant, soil = plants()[name], usual_soil(ground)
    heads = uptake.heads_of(plant.group)
    assert _between(heads, plant, soil, 0.0) == pytest.approx((heads.h3_high, heads.h3_low))
    full, dry = (float(water_content(soil, h)) for h in (-100.0, -15_000.0))
    found = [(full - float(water_content(soil, h))) / (full - dry) for h in _between(heads, plant, soil, 1.0)]
    p = float(plant.depletion_p)
    assert found == pytest.approx([p, min(p + 0.16, 0.8)], abs=1e-6)
    some = [_between(heads, plant, soil, share) for share in np.linspace(0.0, 1.0, 7)]
    assert all(low <= high < 0.0 for high, low in some)
    ends = sorted((some[0][0], some[-1][0]))
    assert all(ends[0] - 1e-9 <= high <= ends[1] + 1e-9 for high, _ in some)


def test_every_group_named_is_in_the_catalogue() -> None:
    groups = {p.group for p in plants().values()}
    assert set(uptake.HEADS) <= groups
    assert set(uptake.KY_STAGES) <= groups


@given(st.floats(0.0, 12.0), st.floats(0.0, 8.0), st.floats(0.3, 0.9))
def test_split_keeps_the_whole(et: float, lai: float, k: float) -> None:
    leaves, ground = uptake.split(et, lai, k)
    assert float(leaves + ground) == pytest.approx(et)
    assert float(leaves) >= 0.0


def test_split_of_a_known_canopy() -> None:
    assert float(uptake.split(5.0, 3.0, 0.6)[1]) == pytest.approx(5.0 * 0.165299, abs=1e-4)


def test_leaves_grow_hold_and_fade() -> None:
    stages = np.array([[20.0, 40.0, 50.0, 30.0]])

    def lai(day: float) -> float:
        return float(uptake.leaf_area(np.array([day]), stages, np.array([4.0]), np.array([2.0]))[0])

    young = [lai(d) for d in range(60)]
    assert np.all(np.diff(young) >= 0.0)
    assert lai(46.0) == pytest.approx(2.0, rel=0.05)
    assert lai(60.0) == lai(100.0) == pytest.approx(4.0)
    assert lai(125.0) == pytest.approx(3.0)
    assert lai(400.0) == pytest.approx(2.0)
    assert lai(59.999) == pytest.approx(4.0, rel=0.05)


def test_leaves_cover_half_the_ground_half_way() -> None:
    """FAO-56 p. 96: growing runs from a tenth of the ground covered to effective full cover, and its Kcb rises in a straight line."""
    stages = np.array([[20.0, 40.0, 50.0, 30.0]])
    lai = uptake.leaf_area(np.array([40.0]), stages, np.array([4.0]), np.array([2.0]))
    cover = 1.0 - float(uptake.split(1.0, lai, 0.6)[1][0])
    assert cover == pytest.approx(0.5 * (0.10 + 0.90), abs=0.1)


def test_roots_deepen_by_borg_and_grimes() -> None:
    """0.5 + 0.5 sin(3.03 t - 1.47): an eighth after a fifth of the time, half after 0.485, full at the end."""
    depth = [float(uptake.root_depth_cm(t, 1.0, 0.0, 100.0)) for t in (0.2, 1.47 / 3.03, 1.0)]
    np.testing.assert_allclose(depth, [11.98, 50.0, 100.0], atol=0.1)


def test_root_shares_sum_to_one_and_end_at_the_depth() -> None:
    thick = np.tile(1.08 ** np.arange(25), (3, 1))
    shares = uptake.root_shares(thick, np.array([10.0, 40.0, 500.0]), np.array([2.0, 2.0, 3.0]))
    np.testing.assert_allclose(shares.sum(axis=1), 1.0)
    assert np.all(shares[0, np.cumsum(thick[0]) - thick[0] > 10.0] == 0.0)
    assert shares[1, 0] / thick[1, 0] > 3.0 * shares[1, 15] / thick[1, 15] > 0.0


def test_yield_loss_by_stage_and_by_season() -> None:
    """A tenth less water while flowering at Ky 1.1 costs 11 %; by season the share of the whole counts."""
    wanted, got = np.full((2, 4), 100.0), np.full((2, 4), 100.0)
    got[:, 1] = 90.0
    ky = np.array([[0.4, 1.1, 0.8, 0.4], [np.nan] * 4])
    np.testing.assert_allclose(uptake.yield_loss(got, wanted, ky, np.array([1.05, 1.0])), [0.11, 0.025])
    np.testing.assert_allclose(uptake.yield_loss(np.zeros((2, 4)), np.zeros((2, 4)), ky, np.ones(2)), 0.0)
