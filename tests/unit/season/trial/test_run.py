"""Running, stopping and going on; the oracle."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from soakbook.season.trial.case import Case
from soakbook.season.trial.live import follow
from soakbook.season.trial.oracle import improved, knowing
from soakbook.season.trial.rules import grid, tried_in_hindsight, usual_rules
from soakbook.season.trial.run import ORACLE, SEEING, SEEING_TUNED, CaseResult, Settings, _seeing, run_trial
from soakbook.season.trial.score import costs
from tests.unit.season.trial.short import BED, POT, short_case

pytestmark = pytest.mark.xdist_group("trial runs")  # all look at one trial: one process

QUICK = Settings(rounds=1, quick=True)
RULES = Settings(rounds=0, parts=("rules",), quick=True)


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [short_case(BED, days=40), short_case(POT, seed=4, days=40)]


@pytest.fixture(scope="module")
def whole(cases: list[Case], tmp_path_factory: pytest.TempPathFactory) -> tuple[tuple[CaseResult, ...], list[str]]:
    """Results of a trial that ran through, and the lines it kept."""
    kept = tmp_path_factory.mktemp("trial") / "finished.jsonl"
    results = run_trial(cases, QUICK, kept=kept)
    return results, kept.read_text().splitlines()


def test_a_stopped_trial_goes_on_to_the_same_end(
    cases: list[Case], whole: tuple[tuple[CaseResult, ...], list[str]], tmp_path: Path
) -> None:
    results, rows = whole
    assert len(rows) == 4
    kept = tmp_path / "finished.jsonl"
    kept.write_text("\n".join(rows[:3]) + "\n" + rows[3][:40])  # stopped while it was writing the fourth
    seen: list[tuple[int, int]] = []
    assert run_trial(cases, QUICK, kept=kept, progress=lambda done, of: seen.append((done, of))) == results
    assert seen == [(3, 4), (4, 4)]


def test_lines_of_other_settings_do_not_count(cases: list[Case], tmp_path: Path) -> None:
    kept = tmp_path / "finished.jsonl"
    for case in (cases[0], short_case(BED, seed=9, days=40), cases[0]):
        run_trial([case], RULES, kept=kept)
    digests = [json.loads(row)["digest"] for row in kept.read_text().splitlines()]
    assert len(digests) == len(set(digests)) == 2


def test_nobody_does_better_than_the_oracle(whole: tuple[tuple[CaseResult, ...], list[str]]) -> None:
    for result in whole[0]:
        assert all(o.regret >= 0.0 for o in result.outcomes)
        oracle = result.of(ORACLE)
        assert oracle is not None
        assert oracle.regret == 0.0


def test_who_sees_the_soil_does_no_better_for_rules_that_look_ahead(cases: list[Case]) -> None:
    case = cases[1]
    lived = knowing(case)
    fixed, tuned = _seeing(case, lived)
    assert float(costs(case, lived).min()) <= tuned.cost <= fixed.cost
    assert (fixed.policy, tuned.policy) == (SEEING, SEEING_TUNED)


def test_two_processes_find_what_one_does(cases: list[Case], whole: tuple[tuple[CaseResult, ...], list[str]]) -> None:
    settings = Settings(rounds=1, parts=("rules",), quick=True)
    for one, two in zip(whole[0], run_trial(cases, settings, jobs=2), strict=True):
        assert [o.water_mm for o in two.outcomes] == [o.water_mm for o in one.outcomes[: len(two.outcomes)]]


def test_searching_on_never_costs_more(cases: list[Case]) -> None:
    case = cases[0]
    tried = [
        follow(case, usual_rules(case)),
        tried_in_hindsight(case, grid(case, quick=True)),
        knowing(case, quick=True),
    ]
    least = min(float(costs(case, season).min()) for season in tried)
    assert float(costs(case, improved(case, tried, 1))[0]) <= least + 1e-9
