"""What is kept of the trial is what the program finds today, as far as two of its seasons tell."""

from __future__ import annotations

import pytest

from soakbook.season.trial.run import run_trial
from tests.measured.trial import KEPT, SETTINGS, kept_results, trial_section
from tests.measured.trial import cases as cases_of_the_proof
from tests.unit.season.trial.test_report import RESULTS


@pytest.mark.skipif(not KEPT.exists(), reason="the trial has not been lived through yet: scripts/validate trial")
def test_what_is_kept_is_what_two_seasons_find_today() -> None:
    """The shortest bed and the shortest pot. Within 1 mm and a twentieth of a hundredth: figures are kept with two digits."""
    kept = {r.key: r for r in kept_results()}
    cases = {c.key: c for c in cases_of_the_proof()}
    assert set(kept) == set(cases)
    shortest = [min((r for r in kept.values() if r.kind == kind), key=lambda r: r.days).key for kind in ("bed", "pot")]
    for fresh in run_trial([cases[key] for key in shortest], SETTINGS):
        for now, then in zip(fresh.outcomes, kept[fresh.key].outcomes, strict=True):
            assert now.policy == then.policy
            assert now.water_mm == pytest.approx(then.water_mm, abs=1.0)
            assert now.cost == pytest.approx(then.cost, abs=0.05)


def test_the_section_names_where_we_lose() -> None:
    text = trial_section(RESULTS)
    assert "1 of 3 places" in text
    assert "| dry plains | fine | cabbage | wand | 9.0 | 2.0 |" in text
