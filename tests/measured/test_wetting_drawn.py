"""Drip drawn at random: a sample of what is kept is run again; all of it is solved, and is as manifold as is said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.measured.wetting_drawn import COUNT, TEXTURES, kept_drawn, run

#: Of the texture of each second: emitters and lines, layered, buried, with roots; the two that took most iterations before sand with roots was mended.
AGAIN = (2, 8, 17, 34, 49, 66, 83, 95)
KEPT = kept_drawn()


@pytest.mark.parametrize("case", AGAIN)
def test_a_drawn_case_is_solved_as_it_was(case: int) -> None:
    now, then = run(case), KEPT[case]
    assert now.is_solved
    assert replace(now, iterations=0, off=0.0) == replace(then, iterations=0, off=0.0, depth_cm=pytest.approx(then.depth_cm, rel=1e-5)), "run scripts/validate"  # fmt: skip
    assert now.iterations == pytest.approx(then.iterations, rel=0.3), "run scripts/validate"


def test_all_are_solved_and_water_adds_up() -> None:
    assert [row.case for row in KEPT] == list(range(COUNT))
    assert all(row.is_solved for row in KEPT)
    assert not replace(KEPT[0], off=float("nan")).is_solved


def test_they_are_manifold() -> None:
    assert {row.texture for row in KEPT} == set(TEXTURES)
    for kind in (
        {row.case for row in KEPT if row.layers > 1}, {row.case for row in KEPT if row.depth_cm > 0.0}, {row.case for row in KEPT if row.goes > 1},
        {row.case for row in KEPT if row.days > 1}, {row.case for row in KEPT if row.has_roots}, {row.case for row in KEPT if row.has_edge},
        {row.case for row in KEPT if row.has_neighbours}, {row.case for row in KEPT if row.shape == "line"},
    ):  # fmt: skip
        assert len(kind) >= COUNT // 4
        assert len(kind & set(AGAIN)) >= 2
