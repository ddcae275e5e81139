"""Drip on soil against exact solutions and published columns: sources, values and what is allowed stand in :mod:`tests.measured.delivery_drip`."""

from __future__ import annotations

import pytest

from tests.measured.delivery_check import Case, hold, ids
from tests.measured.delivery_drip import POINTS, column_of_celia, off_a


@pytest.mark.parametrize("case", POINTS, ids=ids)
def test_a_to_f(case: Case) -> None:
    hold(case)


def test_a_gets_better_with_smaller_steps_and_cells() -> None:
    """Backward Euler is of first order in time; so the error of a loose run shrinks as its steps do."""
    assert off_a("4.0") < 0.5 * off_a("4.0", 1.0, 0.0003)
    assert off_a("inf") < 0.5 * off_a("inf", 2.0)


def test_e_loses_no_water() -> None:
    assert column_of_celia().balance_error < 1e-6
