"""The plan in words: its columns add up, and what matters of it is said."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from soakbook.advice.plan import Alone, Flip, Part, Plan
from soakbook.app.learnt_view import sentence
from soakbook.app.plan_view import plan_shown, share_text
from soakbook.app.reader import Reader
from soakbook.learning.faults_words import odds_said

R = Reader()
ACTS = np.array([0.0, 5.0, 10.0])
COSTS = np.array([[2.0, 2.4], [1.5, 1.7], [0.9, 1.1]])


def plan(verdict: str = "soak", depth: float = 10.0, **other: object) -> Plan:
    parts = (Part("plants short of water", 0.4), Part("water put on", 0.5), Part("your walks", 0.1))
    saved = (Part("plants short of water", 1.7), Part("water put on", -0.4), Part("your walks", -0.1))
    if depth == 0.0:
        saved = ()
    made = {
        "place": "bed", "on": date(2017, 7, 8), "verdict": verdict, "litres": 4 * depth, "depth_mm": depth,
        "cost": 1.0, "parts": parts, "saved": saved, "flip": Flip("if Monday brings more than 14 mm"),
        "reading_worth": 0.0, "differs": "", "acts_mm": ACTS, "costs": COSTS,
    }  # fmt: skip
    return Plan(**(made | other))  # type: ignore[arg-type]


def test_both_columns_add_up_as_they_are_read() -> None:
    shown = plan_shown(plan(), R)
    assert shown.head == ("cause", "nothing today", "as advised")
    for column in (1, 2):
        assert sum(float(row[column]) for row in shown.rows) == pytest.approx(float(shown.total[column]))
    assert shown.total == ("in all", "2.20", "1.00")
    assert shown.rows[0] == ("plants short of water", "2.10", "0.40")


def test_where_nothing_is_put_on_only_one_column_is_shown_and_what_watering_would_cost_more() -> None:
    shown = plan_shown(plan("hold", 0.0, cost=0.8, parts=(Part("plants short of water", 0.8),)), R)
    assert shown.head == ("cause", "nothing today")
    assert all(len(row) == 2 for row in (*shown.rows, shown.total))
    assert "0.2 % of its harvest more" in shown.says  # the cheapest watering costs 1.0 on average


def test_costs_that_are_alike_are_said_to_be() -> None:
    shown = plan_shown(plan("hold", 0.0, cost=0.95, parts=(Part("plants short of water", 0.95),)), R)
    assert "the plain rule decides" in shown.says
    alone = Alone(litres=0.0, cost_of_sharing=0.02)
    shown = plan_shown(plan("soak", saved=(Part("plants short of water", -0.01),), alone=alone), R)
    assert "what is best for all places of its line decides" in shown.says


def test_the_saving_and_the_flip_are_said() -> None:
    shown = plan_shown(plan(), R)
    assert "save 1.2 % of its harvest" in shown.says
    assert shown.flip == "If Monday brings more than 14 mm."
    assert plan_shown(plan(flip=None), R).flip == ""


def test_a_small_cost_is_not_said_to_be_nothing() -> None:
    assert share_text(0.04, R) == "less than 0.1 %"
    assert share_text(0.14, Reader(decimal=",")) == "0,1 %"


def test_odds_in_words_never_promise() -> None:
    """Tenths; neither 0 nor 10 in 10 is said."""
    said = [str(odds_said(k / 20.0)) for k in range(21)]
    assert not any("(0 in 10" in words for words in said)
    assert not any("10 in 10" in words for words in said)
    assert "7 in 10" in odds_said(0.68)


def test_sentences_begin_large_and_end() -> None:
    assert sentence("look at it") == "Look at it."
    assert sentence("Is it shut?") == "Is it shut?"
