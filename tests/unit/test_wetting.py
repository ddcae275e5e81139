"""Drip on soil: what must hold for any soil, source and time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.physics.wetting.curves import SPECIFIC_STORAGE_PER_CM, Gardner, VanGenuchten
from soakbook.physics.wetting.extent import depth_of_part_cm, edge_cm, extents
from soakbook.physics.wetting.ground import Grid, Layer, Roots, Source, Wetting, even_grid
from soakbook.physics.wetting.soils import CARSEL_PARRISH, class_soils
from soakbook.physics.wetting.solve import wet

LOAM, FINER = class_soils("loam")[0], class_soils("clay_loam")[0]


def run(flow: float = 2.0, hours: float = 1.0, cell: float = 2.0, soil: VanGenuchten = LOAM, **more: object) -> Wetting:
    grid = even_grid("emitter", cell, 60.0, 80.0)
    return wet([Layer(soil)], grid, Source(flow, ((0.0, hours),)), [hours, 24.0], first_head_cm=-800.0, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(12))
def test_random_soils_and_sources_are_solved_and_add_up(seed: int) -> None:
    """One for each texture; the soil, its dryness, flow, hours and depth are drawn. The balance is checked in the solver to a part in a million."""
    rng = np.random.default_rng(seed)
    r, s, alpha, n, ks = list(CARSEL_PARRISH.values())[seed]
    soil = VanGenuchten(
        r,
        s,
        alpha * rng.lognormal(0.0, 0.4),
        1.0 + (n - 1.0) * rng.lognormal(0.0, 0.2),
        ks / 24.0 * rng.lognormal(0.0, 1.0),
    )
    hours = float(rng.uniform(0.3, 4.0))
    grid = even_grid("emitter" if seed % 2 else "line", 2.5, 70.0, 90.0)
    source = Source(float(rng.uniform(0.5, 6.0)), ((0.0, hours),), depth_cm=float(rng.choice([0.0, 0.0, 10.0])))
    got = wet([Layer(soil)], grid, source, [hours, 24.0], first_head_cm=-float(rng.lognormal(6.5, 0.7)))
    given = source.flow_lph * hours
    assert got.balance_error < 1e-6
    assert got.taken_l[-1] + got.ran_off_l[-1] == pytest.approx(given, rel=1e-6)
    assert np.all(np.isfinite(got.head_cm))
    assert np.all(got.theta <= soil.theta_s + SPECIFIC_STORAGE_PER_CM * np.maximum(got.head_cm, 0.0) + 1e-9)


def test_soil_at_rest_stays_at_rest() -> None:
    """Hydrostatic over a water table: no flow, whatever the layers."""
    grid = even_grid("emitter", 2.0, 20.0, 60.0)
    heads = grid.down - 100.0
    got = wet(
        [Layer(LOAM, 20.0), Layer(FINER)], grid, Source(0.0, ()), [240.0], first_head_cm=heads, bottom="closed", tolerance=0.001,
    )  # fmt: skip
    assert np.abs(got.head_cm[0] - heads[:, None]).max() < 1e-3


def test_two_halves_are_one_source_and_goes_add_up() -> None:
    whole = run(2.0, 1.0)
    grid = whole.grid
    halves = wet([Layer(LOAM)], grid, Source(2.0, ((0.0, 0.5), (0.5, 1.0))), [1.0, 24.0], first_head_cm=-800.0)
    assert np.abs(halves.theta - whole.theta).max() < 0.01
    apart = wet([Layer(LOAM)], grid, Source(2.0, ((0.0, 0.5), (1.0, 1.5))), [1.5, 24.0], first_head_cm=-800.0)
    assert apart.taken_l[-1] == pytest.approx(whole.taken_l[-1], rel=1e-6)
    assert apart.wet_out_cm[0] <= whole.wet_out_cm[0]


def test_more_water_wets_farther_and_deeper() -> None:
    little, much = extents(run(2.0, 0.5), 30.0), extents(run(2.0, 2.0), 30.0)
    assert much[-1].depth_cm > little[-1].depth_cm
    assert much[-1].widest_cm > little[-1].widest_cm


def test_units_of_length_and_time_scale() -> None:
    """Twice the lengths with half of alpha, twice Ks and eight times the volume at the same hours: the same water contents (similar media)."""
    one = run(1.0, 1.0)
    doubled = replace(
        LOAM, alpha_per_cm=LOAM.alpha_per_cm / 2.0, ks_cm_h=2.0 * LOAM.ks_cm_h, air_entry_cm=2.0 * LOAM.air_entry_cm
    )
    grid = Grid("emitter", 2.0 * one.grid.out_cm, 2.0 * one.grid.down_cm)
    other = wet([Layer(doubled)], grid, Source(8.0, ((0.0, 1.0),)), [1.0, 24.0], first_head_cm=-1600.0)
    assert np.abs(other.theta - one.theta).max() < 2e-3


def test_a_finer_grid_says_nearly_the_same() -> None:
    """The depth above which 95 of 100 parts of the added water lie, within 0.5 cm of a grid of half the size."""
    coarse, fine = run(cell=2.0), run(cell=1.0)
    for k in (0, 1):
        assert depth_of_part_cm(coarse, k) == pytest.approx(depth_of_part_cm(fine, k), abs=0.5)


def test_an_edge_makes_water_run_off_and_a_disc_grows_no_farther() -> None:
    grid = even_grid("emitter", 2.0, 60.0, 60.0)
    got = wet([Layer(FINER)], grid, Source(4.0, ((0.0, 1.0),), most_cm=20.0), [1.0], first_head_cm=-800.0)
    assert got.ran_off_l[0] > 0.2
    assert got.wet_out_cm[0] <= 20.0
    assert got.taken_l[0] + got.ran_off_l[0] == pytest.approx(4.0, rel=1e-6)


def test_a_level_bed_fills_overflows_and_empties_by_the_hour() -> None:
    """A column full of water takes in Ks by gravity alone, here 1 cm/h. Of 3 cm/h, 2 stand: 5 mm are full after 1/4 h, the rest runs off, and half an hour after
    the water is off none stands."""
    grid = Grid("line", np.array([0.0, 0.5]), np.linspace(0.0, 60.0, 61))
    source = Source(0.3, ((0.0, 2.0),), holds_cm=0.5)
    times = [0.2, 0.25, 1.0, 2.0, 2.25, 2.45, 2.6]
    got = wet([Layer(Gardner(0.08, 0.43, 0.05, 1.0))], grid, source, times, first_head_cm=-0.01)
    assert 10.0 * got.stood_l == pytest.approx([0.4, 0.5, 0.5, 0.5, 0.25, 0.05, 0.0], abs=0.003)
    assert 10.0 * got.ran_off_l == pytest.approx([0.0, 0.0, 1.5, 3.5, 3.5, 3.5, 3.5], abs=0.003)
    assert 10.0 * got.taken_l == pytest.approx([0.2, 0.25, 1.0, 2.0, 2.25, 2.45, 2.5], abs=0.003)
    assert got.wet_out_cm[-2] > 0.0 == got.wet_out_cm[-1]


def test_a_tight_layer_below_makes_it_wider() -> None:
    grid = even_grid("emitter", 2.0, 60.0, 60.0)
    tight = replace(FINER, ks_cm_h=FINER.ks_cm_h / 20.0)
    plain, layered = (wet(layers, grid, Source(2.0, ((0.0, 2.0),)), [2.0, 24.0], first_head_cm=-800.0) for layers in ([Layer(LOAM)], [Layer(LOAM, 12.0), Layer(tight)]))  # fmt: skip
    assert extents(layered, 30.0)[-1].widest_cm > extents(plain, 30.0)[-1].widest_cm
    assert extents(layered, 30.0)[-1].depth_cm < extents(plain, 30.0)[-1].depth_cm


def test_roots_draw_what_they_want_from_moist_soil_and_less_from_dry() -> None:
    grid = even_grid("emitter", 4.0, 40.0, 60.0)
    roots = Roots(0.05, 40.0, 30.0)
    moist, dry = (
        wet([Layer(LOAM)], grid, Source(0.0, ()), [24.0], first_head_cm=head, roots=roots) for head in (-200.0, -6000.0)
    )
    assert moist.drawn_l[0] == pytest.approx(1.2, rel=0.02)
    assert dry.drawn_l[0] < 0.5


@pytest.mark.parametrize("soil", class_soils("sand"), ids=["one table", "the other"])
def test_sand_that_roots_dry_out_is_solved_in_few_iterations(soil: VanGenuchten) -> None:
    """From -500 cm on roots draw less and less, and head runs away with hardly any water: Newton's steps went to and fro there, 5,000 and more of them."""
    source, roots = Source(4.0, ((0.0, 1.0),)), Roots(0.2, 20.0, 20.0)
    got = wet([Layer(soil)], even_grid("emitter", 2.0, 50.0, 60.0), source, [1.0, 24.0], first_head_cm=-450.0, roots=roots)  # fmt: skip
    assert got.head_cm[-1].min() < -8000.0  # as dry as they can make it
    assert got.iterations < 2200


def test_a_buried_source_wets_the_surface_less() -> None:
    grid = even_grid("emitter", 2.0, 60.0, 80.0)
    above, below = (
        wet([Layer(LOAM)], grid, Source(1.0, ((0.0, 1.0),), depth_cm=d), [24.0], first_head_cm=-800.0)
        for d in (0.0, 15.0)
    )
    assert extents(below, 30.0)[0].surface_cm < extents(above, 30.0)[0].surface_cm
    assert extents(below, 30.0)[0].depth_cm > extents(above, 30.0)[0].depth_cm


@pytest.mark.parametrize(
    ("times", "source", "field"),
    [([], Source(1.0, ((0.0, 1.0),)), "times_h"), ([2.0, 1.0], Source(1.0, ((0.0, 1.0),)), "times_h"), ([1.0], Source(1.0, ((0.0, 1.0),), depth_cm=500.0), "depth_cm")],
)  # fmt: skip
def test_what_does_not_fit_is_said(times: list[float], source: Source, field: str) -> None:
    with pytest.raises(InputError) as caught:
        wet([Layer(LOAM)], even_grid("emitter", 4.0, 20.0, 20.0), source, times, first_head_cm=-500.0)
    assert caught.value.field == field


def test_edges_lie_between_middles() -> None:
    assert edge_cm(np.array([1.0, 3.0, 5.0]), np.array([0.04, 0.03, 0.01])) == pytest.approx(4.0)
    assert edge_cm(np.array([1.0, 3.0]), np.zeros(2)) == 0.0
