"""Drip lines worked out elsewhere: sources, values and what is allowed stand in :mod:`tests.measured.delivery_pipes`."""

from __future__ import annotations

import pytest

from soakbook.physics import uniformity
from tests.measured.delivery_check import Case, hold, ids
from tests.measured.delivery_pipes import CUPS, EXAMPLES, TUBE, line, tube


@pytest.mark.parametrize("case", EXAMPLES, ids=ids)
def test_worked_examples(case: Case) -> None:
    hold(case)


def test_d_marches_that_jump_to_blasius_lose_more() -> None:
    assert all(float(tube(count).head_m[-1]) >= end_m for count, end_m, _ in TUBE)


def test_e_the_class_of_the_cups() -> None:
    """Merriam & Keller 1978."""
    assert uniformity.low_quarter_uniformity_pct(CUPS) > 90.0
    assert uniformity.uniformity_class(92.11) == "excellent"


def test_the_factor_overstates_the_loss_of_the_long_line() -> None:
    by_factor = uniformity.outlets_factor(200) * 4.122
    assert by_factor == pytest.approx(1.509, abs=5e-3)
    assert by_factor / (10.0 - float(line(200).head_m[-1])) == pytest.approx(1.12, abs=0.02)
