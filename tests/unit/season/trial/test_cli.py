"""``soakbook trial``: what it prints and writes, over results made up by hand."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from soakbook.cli import main
from soakbook.cli.trial import trial_text
from soakbook.demo import FOLDER
from soakbook.season.trial import run
from soakbook.season.trial.report import from_csv
from tests.contracts.test_cli import assert_fits
from tests.contracts.test_json_documented import documented
from tests.unit.season.trial.test_report import RESULTS

Run = Callable[..., str]


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """What the command prints; nothing is lived through."""
    monkeypatch.setattr(run, "run_trial", lambda *args, **kept: RESULTS)
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: str) -> str:
        monkeypatch.setattr(sys, "argv", ["soakbook", "trial", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        assert left.value.code in (0, None)
        return capsys.readouterr().out

    return call


def test_it_fits_and_names_every_way(printed: Run) -> None:
    out = printed()
    assert_fits(out)
    for word in ("fixed timer", "oracle", "best fixed rule", "weekly readings", "of the way"):
        assert word in out.replace("\n", " ")


def test_medians_stand_above_their_spread_in_the_gardens_measures() -> None:
    """Water of three seasons 200, 100, 300: the middle 80 % is 120 to 280 mm, 4.7 to 11.0 inches; cost beyond 1, 2 and 12: 1.2 to 10.0."""
    metric, inches = trial_text(RESULTS, []), trial_text(RESULTS, [], "US")
    assert_fits(metric)
    assert_fits(inches)
    assert "drained in mm over" in metric.replace("\n", " ")
    assert "drained in inches over" in inches.replace("\n", " ")
    assert [line.split()[-7:] for line in metric.splitlines() if "120-280" in line] == [
        ["120-280", "2.1-7.7", "3-3", "0-0", "20-20", "12-12", "1.2-10.0"]
    ]
    assert "4.7-11.0" in inches


def test_one_season_has_no_spread_and_no_plural() -> None:
    text = trial_text(RESULTS[:1], [])
    assert text.startswith("1 season of a place")
    assert "Medians" not in text
    assert "200-200" not in text


def test_what_it_prints_is_documented(printed: Run) -> None:
    data: dict[str, Any] = json.loads(printed("--json"))
    assert (data["kind"], data["version"]) == ("trial", 1)
    assert set(data) - {"kind", "version"} == documented("`trial`")
    assert set(data["places"][0]["outcomes"][0]) == documented("An outcome")
    assert set(data["against"][0]) == documented("A comparison")


def test_results_are_written_as_rows_and_as_a_picture(printed: Run, tmp_path: Path) -> None:
    out = printed(str(FOLDER / "garden.toml"), "--draws", "1", "--out", str(tmp_path / "kept"))
    assert "trial.csv" in out
    assert "pepper bed: the trial leaves out what lies below the first layer" in out.replace("\n", " ")
    assert from_csv((tmp_path / "kept" / "trial.csv").read_text()) == RESULTS
    assert (tmp_path / "kept" / "trial.svg").read_text().startswith("<svg")
