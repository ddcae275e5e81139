"""Drip, pipes and timers on ``docs/validation.md``: no row stands there that is not run, and what is not met is said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scripts.validate_delivery import section

from tests.measured.delivery import DRIP, cases, delivery_findings
from tests.measured.delivery_check import NAME, Check, hold
from tests.measured.delivery_soil import PEERS
from tests.measured.kept import kept


def test_what_is_kept_are_the_cases() -> None:
    """What was found for each is held by the tests of ``tests/published``, ``tests/unit/test_pipes_epanet.py`` and the benches."""
    now = {group: [(c.name, c.source, c.allowed, c.unit) for c in some] for group, some in cases().items()}
    then = {group: [(c.name, c.source, c.allowed, c.unit) for c in some] for group, some in kept(NAME, Check).items()}
    assert now == then, "run scripts/validate"
    names = [name for some in now.values() for name, *_ in some]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("found", [float("nan"), 2.0, 0.4], ids=["no number", "too much", "another than is kept"])
def test_an_error_that_is_not_the_one_shown_fails(found: float) -> None:
    with pytest.raises(AssertionError):
        hold(PEERS["BDF"], found)


def test_what_is_not_met_is_said() -> None:
    found = delivery_findings()
    first, *others = found.checks[DRIP]
    missed = replace(found, checks={**found.checks, DRIP: (replace(first, found=2.0 * first.allowed), *others)})
    assert missed.within_pct(DRIP) < 100.0
    assert f"**Not met**: {first.name}" in section(missed)
    worse = replace(found.timers[0], plan=found.timers[0].uniform + 1.0, garden=999)
    assert "| 999 |" in section(replace(found, timers=(worse, *found.timers[1:])))
