"""How long to run, how far apart, what is seen: against printed runs and against itself."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soakbook.delivery.drip import Case, fitted, follow, joins_at_m, run_time_h
from soakbook.delivery.drip_answer import answer
from soakbook.errors import InputError
from soakbook.physics.wetting.ground import Layer
from soakbook.physics.wetting.soils import class_soils

LOAM = Case((Layer(class_soils("loam")[0]),), 2.0)


def test_a_run_of_the_time_found_is_wet_as_deep_and_a_shorter_one_is_not() -> None:
    hours = run_time_h(LOAM, 0.2)
    assert hours is not None
    assert follow(LOAM, hours)[-1].depth_cm >= 20.0
    assert follow(LOAM, 0.9 * hours)[-1].depth_cm < 20.0
    assert run_time_h(LOAM, 1.0) is None


def test_a_soil_of_which_circle_and_depth_are_known_is_found_again() -> None:
    """What a faster loam shows is fitted from the table's loam: it then shows the same."""
    soil = class_soils("loam")[0]
    true = replace(LOAM, layers=(Layer(replace(soil, ks_cm_h=2.5 * soil.ks_cm_h)),))
    seen = follow(true, 1.0)[0]
    found = fitted(LOAM, 1.0, seen.surface_cm / 50.0, seen.depth_cm / 100.0)
    assert found.missed_cm < 1.5
    after = follow(replace(LOAM, layers=(Layer(found.soil),)), 1.0)[-1]
    assert after.depth_cm == pytest.approx(follow(true, 1.0)[-1].depth_cm, abs=2.0)


def test_emitters_join_closer_than_they_wet() -> None:
    """Common practice: four fifths of the wetted width; garden emitters wet circles of 0.41 m in sand to 0.61 m and more in clay (a retail guide)."""
    sand, clay = (
        joins_at_m(follow(Case((Layer(class_soils(t)[0]),), 2.0), 1.0)[0]) for t in ("sandy_loam", "clay_loam")
    )
    assert 0.2 < sand < 0.41
    assert 0.41 < clay < 0.8


def test_neighbours_keep_the_water_between_them() -> None:
    apart = follow(replace(LOAM, apart_m=0.3), 1.0)[-1]
    assert apart.depth_cm > follow(LOAM, 1.0)[-1].depth_cm


def test_what_is_told_goes_with_what_is_seen() -> None:
    text = " ".join(answer("loam", 2.0, 1.0).told)
    assert "Soils of this name differ" in text
    assert "Emitters up to" in text
    seen = answer("loam", 2.0, 1.0, seen_m=(0.40, 0.12))
    assert not seen.spread
    assert seen.fit is not None
    assert "fits a soil" in " ".join(seen.told)
    assert "runs off over the edge" in " ".join(answer("clay", 4.0, 1.0, edge_m=0.3).told)
    assert "Half a day" in " ".join(answer("silty_clay", 0.5, 1.0, wanted_m=0.9).told)


@pytest.mark.parametrize(
    ("field", "ask"),
    [
        ("flow", lambda: Case(LOAM.layers, 0.0)), ("hours", lambda: follow(LOAM, 0.0)), ("pulses", lambda: follow(LOAM, 1.0, pulses=0)),
        ("circle", lambda: fitted(LOAM, 1.0, 5.0, 0.1)), ("soil", lambda: answer("moon dust", 2.0, 1.0)),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(field: str, ask: object) -> None:
    with pytest.raises(InputError) as caught:
        ask()  # type: ignore[operator]
    assert caught.value.field == field
