"""Figures of a trial from outcomes made up by hand."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from soakbook.season.trial.picture import picture
from soakbook.season.trial.report import duel, from_csv, lines, losing, rules_in, to_csv, way
from soakbook.season.trial.run import FULL, ORACLE, TUNED, CaseResult
from soakbook.season.trial.score import Outcome

OUR = FULL["weekly"]


def _outcome(policy: str, water: float, loss: float, cost: float, least: float) -> Outcome:
    return Outcome(policy, water, 3.0, loss, 0.0, 20.0, 5.0, 12.0, 0.0, cost, cost - least)


def _case(key: str, ours: tuple[float, float, float]) -> CaseResult:
    outcomes = (
        _outcome("fixed timer", 400.0, 2.0, 14.0, 4.0),
        _outcome(TUNED, 250.0, 2.0, 8.0, 4.0),
        _outcome(ORACLE, 100.0, 1.0, 4.0, 4.0),
        _outcome(OUR, *ours, 4.0),
    )
    return CaseResult(key, "dry plains", "fine", "bed", "cabbage", "wand", 90, 400.0, 100.0, outcomes)


RESULTS = (_case("a", (200.0, 2.0, 5.0)), _case("b", (100.0, 2.4, 6.0)), _case("c", (300.0, 9.0, 16.0)))


def test_a_duel_counts_place_by_place() -> None:
    found = duel(RESULTS, OUR, "fixed timer")
    assert found is not None
    assert found.saved == pytest.approx(0.5)  # of 50, 75 and 25 %
    assert found.saved_at_no_loss == pytest.approx(0.625)
    assert found.no_more_loss == pytest.approx(2 / 3)
    assert found.loss_more_pct == pytest.approx(0.4)
    assert found.cheaper == pytest.approx(2 / 3)
    assert duel(RESULTS, OUR, "moon calendar") is None


def test_the_way_from_the_best_rule_to_the_oracle() -> None:
    """Regrets 1, 2 and 12 against 4 each: 75, 50 and -200 % of the way; together 1 - 15/12."""
    found = way(RESULTS, OUR)
    assert found is not None
    assert found.median == pytest.approx(0.5)
    assert found.pooled == pytest.approx(-0.25)


def test_places_where_we_lose_are_named() -> None:
    assert [r.key for r, _, _ in losing(RESULTS, OUR, TUNED)] == ["c"]


def test_lines_have_the_median_and_the_middle_of_places() -> None:
    line = next(x for x in lines(RESULTS) if x.policy == OUR)
    assert line.places == 3
    assert line.water_mm.mid == 200.0
    assert rules_in(RESULTS) == ["fixed timer"]


def test_a_csv_gives_the_results_back() -> None:
    assert from_csv(to_csv(RESULTS)) == RESULTS


def test_the_picture_is_whole_and_within_its_frame() -> None:
    root = ElementTree.fromstring(picture(RESULTS, "Trial <1>"))
    _, _, width, height = (float(v) for v in root.attrib["viewBox"].split())
    texts = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert {"fixed timer", OUR, TUNED, ORACLE, "Harvest lost, %"} <= set(texts)
    for circle in root.iter("{http://www.w3.org/2000/svg}circle"):
        assert 0.0 <= float(circle.attrib["cx"]) <= width
        assert 0.0 <= float(circle.attrib["cy"]) <= height
