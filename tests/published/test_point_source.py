"""Drip on soil against exact solutions and published columns: sources, values and what is allowed stand in :mod:`tests.measured.delivery_drip`."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.physics.wetting.curves import VanGenuchten
from tests.measured.delivery_check import Case, hold, ids
from tests.measured.delivery_drip import CARSEL_PARRISH, POINTS, column_of_celia, off_a
from tests.measured.delivery_front import CELL_CM, CLAY_LOAM, SANDY_LOAM, WHY, Run, its_soil, wider


@pytest.mark.parametrize("case", [*POINTS, *WHY], ids=ids)
def test_a_to_f(case: Case) -> None:
    hold(case)


def test_a_gets_better_with_smaller_steps_and_cells() -> None:
    """Backward Euler is of first order in time; so the error of a loose run shrinks as its steps do."""
    assert off_a("4.0") < 0.5 * off_a("4.0", 1.0, 0.0003)
    assert off_a("inf") < 0.5 * off_a("inf", 2.0)


@pytest.mark.parametrize("run", [SANDY_LOAM, CLAY_LOAM], ids=lambda run: run[0])
def test_f_comes_nearer_to_ours_with_smaller_cells(run: Run) -> None:
    """The arithmetic mean carries an edge too far by about half as much in half the cell; F says that its edges are 0.3 to 1.0 cm farther out in cells of 1.5 cm."""
    coarse, fine = wider(run, 2.0 * CELL_CM), wider(run, CELL_CM)
    assert np.all(fine > 0.1)
    assert np.all(fine < 0.6 * coarse)
    assert np.all((coarse - fine > 0.25) & (coarse - fine < 1.1))


@pytest.mark.parametrize(("soil", "times"), [("loam", 1.7), ("clay loam", 2.5)])
def test_f_has_another_loam(soil: str, times: float) -> None:
    """Drawn out to the air entry, Mualem's curve is higher all along; ours is not."""
    theirs, heads = its_soil(soil), np.array([-2.0, -20.0, -500.0])
    ours = VanGenuchten(*CARSEL_PARRISH[soil]).conductivity_cm_h(heads)
    assert theirs.conductivity_cm_h(heads) / ours == pytest.approx(times, abs=0.05)


def test_e_loses_no_water() -> None:
    assert column_of_celia().balance_error < 1e-6
