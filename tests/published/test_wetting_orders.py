"""How fast the wetting solver's error falls with cells and steps: :mod:`tests.measured.delivery_orders`; here without the finest cells, which take half a minute.

What is held is the order, of the finest three sizes that are run (P. J. Roache, J. Fluids Eng. 116:405-413, 1994, from memory), and every error against the one that is kept and shown.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import isnan

import numpy as np
import pytest

from soakbook.physics.wetting.extent import edge_cm
from soakbook.physics.wetting.ground import Shape
from tests.measured.delivery_check import Case, hold, ids
from tests.measured.delivery_drip import K0, ROWS, SOIL
from tests.measured.delivery_orders import EDGES, FALLS, GENTLY, PAGE_CM, SMOOTH, TIGHT, drip, kept_orders, recipes
from tests.measured.gardner_box import head_of, rises
from tests.measured.orders import Recipe, Study, order

ALL = [(group, recipe) for group, some in recipes().items() for recipe in some]


@pytest.mark.parametrize(("group", "recipe"), ALL, ids=[f"{recipe.by}: {recipe.name}" for _, recipe in ALL])
def test_errors_fall_as_fast_as_asked(group: str, recipe: Recipe) -> None:
    now, then = (
        recipe.study(is_quick=True),
        next(one for one in kept_orders()[group] if one.name == recipe.name),
    )
    hint = "run scripts/validate"
    assert (now.by, now.is_exact, now.unit, now.theory, now.asked) == (then.by, then.is_exact, then.unit, then.theory, then.asked), hint  # fmt: skip
    assert now.off == pytest.approx(then.off[: len(now.off)], rel=0.05), hint
    assert now.is_met, f"orders {now.orders}, asked {now.asked}"
    assert then.is_met


def test_what_is_kept_are_the_studies() -> None:
    now = {group: [one.name for one in some] for group, some in recipes().items()}
    assert now == {group: [one.name for one in some] for group, some in kept_orders().items()}, "run scripts/validate"


@pytest.mark.parametrize("case", EDGES, ids=ids)
def test_wet_edges_in_the_cells_of_a_page(case: Case) -> None:
    hold(case)


def front_cm(how: str, time: int) -> float:
    """Under the middle of the source: from where water content has risen by nine tenths of the most to where it has by one."""
    run = drip("emitter", "loam", how, 0.5, TIGHT[0])
    risen = run.theta[time, :, 0] - run.first_theta[:, 0]
    return edge_cm(run.grid.down, risen, 0.1 * risen.max()) - edge_cm(run.grid.down, risen, 0.9 * risen.max())


def test_the_front_is_narrower_than_a_cell_where_order_is_lost() -> None:
    assert front_cm(FALLS, 0) < PAGE_CM
    assert front_cm(FALLS, 1) > 3.0 * PAGE_CM
    assert front_cm(GENTLY, 0) > 3.0 * PAGE_CM


def test_the_order_is_that_of_the_error() -> None:
    sizes = (1.0, 0.4, 0.25)  # uneven on purpose
    for p in (0.5, 1.0, 2.0):
        first, second = (a**p - b**p for a, b in pairwise(sizes))
        assert order(first / second, *sizes) == pytest.approx(p)
    assert isnan(order(1e-9, *sizes))


def test_an_error_that_does_not_fall_is_not_met() -> None:
    flat = Study("", "cells", True, "", 2.0, 1.8, 0.0, (2.0, 1.0, 0.5), (0.3, 0.1, 0.1))
    assert not flat.is_met
    assert not replace(flat, off=(0.3, float("nan"), float("nan"))).is_met
    assert replace(flat, off=(0.32, 0.08, 0.02)).is_met


def test_roaches_index_and_what_pages_are_off_by() -> None:
    """An error of the square of the cell, 1 % in the coarsest of 4, 2, 1."""
    off = tuple((a**2 - b**2) / 16.0 for a, b in ((4.0, 2.0), (2.0, 1.0)))
    study = Study("", "cells", False, "%", 2.0, 1.8, 2.0, (4.0, 2.0, 1.0), off)
    assert study.orders == (pytest.approx(2.0),)
    assert study.left == pytest.approx(1.25 / 16.0)
    assert study.on_pages == pytest.approx(4.0 / 16.0)


def test_the_exact_box_is_the_table_where_its_walls_are_far() -> None:
    """Heads of benchmark A, found for soil without end another way (Hankel's integral), in a box of 220 by 240 cm: to the last digits printed, and what the walls do."""
    for time, hours in (("1.0", 1.0), ("4.0", 4.0), ("inf", None)):
        rows = [r for r in ROWS if r["case"].startswith("A_") and r["time_h"] == time and r["quantity"] == "pressure_head_cm"]  # fmt: skip
        out, down, heads = (np.array([float(r[name]) for r in rows]) for name in ("r_cm", "z_cm_or_key", "value"))
        got = rises(
            "emitter", SOIL, (220.0, 240.0), 10.0, 600.0 / (np.pi * 100.0), hours, out, down, modes=1200
        ).diagonal()
        assert np.abs(head_of(SOIL, got + K0 / SOIL.alpha_per_cm) - heads).max() < 0.02


@pytest.mark.parametrize("shape", ["emitter", "line"])
def test_the_exact_box_solves_the_equation_it_is_said_to(shape: Shape) -> None:
    """Differences of the formula itself in time and space, at a few points; the flux at the surface, and none through the walls."""
    box, half, flux, e = (60.0, 80.0), 10.0, 1.5, 0.02

    def phi(t: float, x: float, z: float) -> float:
        return float(rises(shape, SMOOTH, box, half, flux, t, [x], [z])[0, 0])

    a, slow = SMOOTH.alpha_per_cm, SMOOTH.alpha_per_cm * (SMOOTH.theta_s - SMOOTH.theta_r) / SMOOTH.ks_cm_h
    for t, x, z in ((4.0, 5.0, 8.0), (4.0, 20.0, 15.0), (10.0, 30.0, 40.0)):
        here, left, right, up, down = phi(t, x, z), phi(t, x - e, z), phi(t, x + e, z), phi(t, x, z - e), phi(t, x, z + e)  # fmt: skip
        spreads = (left + right + up + down - 4.0 * here) / e**2
        bends = (right - left) / (2.0 * e) / x if shape == "emitter" else 0.0
        stores = slow * (phi(t + e, x, z) - phi(t - e, x, z)) / (2.0 * e)
        falls = a * (down - up) / (2.0 * e)
        assert stores == pytest.approx(spreads + bends - falls, abs=1e-5)
        assert phi(t, x, 80.0) == pytest.approx(phi(t, x, 80.0 - e), abs=1e-5)
        assert phi(t, 60.0, z) == pytest.approx(phi(t, 60.0 - e, z), abs=1e-5)
    under, beside = (a * phi(4.0, x, e) - (phi(4.0, x, 2.0 * e) - phi(4.0, x, 0.0)) / (2.0 * e) for x in (5.0, 20.0))
    assert under == pytest.approx(flux, abs=0.02)
    assert beside == pytest.approx(0.0, abs=0.02)
