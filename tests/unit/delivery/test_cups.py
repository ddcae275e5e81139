"""Cups whose fault is known: the test must name it, and no other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.delivery.cups import judge_cups, lines_read
from soakbook.errors import InputError
from soakbook.physics.pipes import dripper, tank
from soakbook.physics.pipes_tree import Lateral, network, solve

EVEN = [[100.0, 102.0, 99.0, 101.0, 98.0, 100.0]] * 4


def changed(line: int, at: int, amount: float) -> list[list[float]]:
    lines = [list(one) for one in EVEN]
    lines[line][at] = amount
    return lines


def test_even_cups_have_no_cause() -> None:
    test = judge_cups(EVEN)
    assert test.causes == ()
    assert test.uniformity_class == "excellent"


def test_a_single_low_cup_is_a_clogged_emitter() -> None:
    test = judge_cups(changed(2, 3, 40.0))
    assert len(test.causes) == 1
    assert test.causes[0].startswith("Line 3, cup 4: far less")
    assert (test.worst[0].line, test.worst[0].at) == (3, 4)


def test_a_single_high_cup_is_a_leak() -> None:
    causes = judge_cups(changed(0, 5, 180.0)).causes
    assert [c.startswith("Line 1, cup 6: far more") for c in causes] == [True]


@pytest.mark.parametrize(("amount", "word"), [(0.0, "far less"), (200.0, "far more")])
@pytest.mark.parametrize("cups", [2, 3, 4, 5, 8])
def test_one_bad_cup_anywhere_on_a_short_line_is_that_and_nothing_else(cups: int, amount: float, word: str) -> None:
    for at in range(cups):
        lines = [[100.0] * cups for _ in range(4)]
        lines[1][at] = amount
        causes = judge_cups(lines).causes
        assert [c.startswith(f"Line 2, cup {at + 1}: {word}") for c in causes] == [True]


def test_cups_that_only_scatter_seldom_make_a_trend() -> None:
    """Emitters of one kind unlike by 5 %, as a design reckons with: four cups on each of four lines, none with a fault."""
    rng = np.random.default_rng(7)
    tests = [judge_cups((100.0 + 5.0 * rng.standard_normal((4, 4))).tolist()) for _ in range(60)]
    assert sum(any("toward its end" in cause for cause in test.causes) for test in tests) < 15


def test_amounts_are_read_by_line_and_a_comma_before_three_digits_is_not_guessed() -> None:
    assert lines_read("950 12,5; .5, / \n0,125", "cups") == ((950.0, 12.5, 0.5), (0.125,))
    for text in ("950 1,010", "-5", "1e3", "nan", "many"):
        with pytest.raises(InputError) as caught:
            lines_read(text, "cups")
        assert caught.value.field == "cups"


def test_a_bad_cup_hides_no_trend() -> None:
    """A line that loses a fifth, one emitter of it clogged."""
    lines = [[100.0, 100.0, 100.0, 100.0, 100.0, 100.0] for _ in range(3)]
    causes = judge_cups([*lines, [110.0, 106.0, 102.0, 0.0, 94.0, 90.0]]).causes
    assert ["less and less" in c for c in causes] == [True, False]
    assert "18 % less" in causes[0]
    assert causes[1].startswith("Line 4, cup 4: far less")


def test_a_whole_line_low_is_told_as_one() -> None:
    lines = [list(one) for one in EVEN]
    lines[1] = [0.7 * v for v in lines[1]]
    causes = judge_cups(lines).causes
    assert [c.startswith("Line 2 is low as a whole") for c in causes] == [True]


@pytest.mark.parametrize(("rise", "word"), [(0.0, "less and less"), (-0.12, "more toward its end")])
def test_a_line_solved_from_its_pipes_is_told_by_its_cups(rise: float, word: str) -> None:
    """A thin tube too long for level ground, and a falling line: what their emitters give, with 1 % of scatter."""
    bore, count = (0.0043, 50) if rise == 0.0 else (0.0136, 50)
    tree = network([Lateral(dripper(2.0), count, 0.15 if rise == 0.0 else 0.3, bore, rise)])
    flows = solve(tree, tank(10.0 if rise == 0.0 else 4.0)).flow_lph[1:]
    caught = flows[::6] * (1.0 + 0.01 * np.random.default_rng(4).standard_normal(flows[::6].size))
    causes = judge_cups([caught.tolist()]).causes
    assert [word in c for c in causes] == [True]


@pytest.mark.parametrize(
    ("ends", "says"), [((100.0, 25.0), "75 % less"), ((25.0, 100.0), "300 % more"), ((100.0, 0.0), "100 % less")]
)
def test_what_a_line_loses_is_told_against_its_start(ends: tuple[float, float], says: str) -> None:
    """Nothing can give more than a hundred percent less."""
    causes = judge_cups([np.linspace(*ends, 16).tolist()]).causes
    assert [says in c for c in causes] == [True]


def test_all_below_the_label() -> None:
    causes = judge_cups(EVEN, caught_hours=0.5, label_per_hour=300.0).causes
    assert len(causes) == 1
    assert causes[0].startswith("All give less than the label, 67 %")


def test_the_run_is_right_for_the_driest_quarter() -> None:
    """Half of the cups catch 80 in half an hour: for 400 they need 2.5 hours."""
    test = judge_cups([[80.0, 100.0] * 8], caught_hours=0.5, need=400.0)
    assert test.run_hours == pytest.approx(2.5)
    assert test.times_longer == pytest.approx(90.0 / 80.0)


def test_a_dry_quarter_has_no_run_time() -> None:
    test = judge_cups([[0.0, 0.0, 3.0, 4.0]], caught_hours=1.0, need=2.0)
    assert test.run_hours is None
    assert test.times_longer is None
    assert any("before you run longer" in note for note in test.notes)


@pytest.mark.parametrize("cups", [[], [1.0, 2.0, 3.0], [0.0] * 5, [1.0, -1.0, 2.0, 3.0], [1.0, float("nan"), 2.0, 3.0]])
def test_no_test_without_cups(cups: list[float]) -> None:
    with pytest.raises(InputError, match="4 cups or more"):
        judge_cups([cups])


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(st.floats(0.5, 2.0), min_size=4, max_size=30), st.floats(0.01, 1000.0))
def test_the_measure_does_not_matter(cups: list[float], by: float) -> None:
    one, other = judge_cups([cups]), judge_cups([[by * c for c in cups]])
    assert other.du_pct == pytest.approx(one.du_pct)
    assert other.cu_pct == pytest.approx(one.cu_pct)
    assert other.times_longer == pytest.approx(one.times_longer)
