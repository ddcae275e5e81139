"""How long to run, how far apart, what is seen: against printed runs and against itself."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from soakbook.delivery.drip import MOIST_CM, Case, _solve, fitted, follow, is_nearly_full, joins_at_m, run_time_h
from soakbook.delivery.drip_answer import answer
from soakbook.delivery.drip_ground import parse_ground, tables_of
from soakbook.errors import InputError
from soakbook.physics.wetting.extent import SEEN, extents, seen
from soakbook.physics.wetting.ground import Layer, Shape
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


@pytest.mark.parametrize("shape", ["line", "emitter"])
def test_how_far_apart_they_may_stand_does_not_hang_on_how_far_they_do(shape: Shape) -> None:
    """Neighbours bound what a run can wet; all of it is wet where they are close, and what is told is the whole of it."""
    alone, close, wide = (answer("sandy_loam", 6.0, 0.5, shape=shape, apart_m=apart) for apart in (None, 0.2, 2.0))
    assert alone.meets is None
    assert (close.joins_m, wide.joins_m) == (alone.joins_m, alone.joins_m)
    assert close.meets == (True, True)
    assert wide.meets == (False, False)
    half_cm = 10.0 if shape == "line" else 20.0 / math.sqrt(math.pi)
    assert [run[-1].widest_cm for run in close.runs] == pytest.approx([half_cm] * 2)
    assert "20 cm apart wet" in " ".join(close.told)
    assert "2 m apart leave dry ground between them" in " ".join(wide.told)


def test_water_is_all_there_in_a_fitted_soil_that_drains_by_itself() -> None:
    """A soil fitted to a deep hole loses litres a day at the suction of due soil: they are no part of the two that were given."""
    made = answer("loam", 2.0, 1.0, seen_m=(0.40, 0.30))
    for look in made.runs[0]:
        assert look.in_roots + look.below == pytest.approx(1.0, abs=1e-3)
        assert 0.0 <= look.below < 0.8
    silt = follow(Case(tables_of(parse_ground("silt"))[1], 2.0), 0.25)[-1]
    assert silt.in_roots > 0.9


def test_the_run_time_in_goes_is_said_to_be_that() -> None:
    once, many = (answer("loam", 2.0, 1.0, pulses=k) for k in (1, 4))
    assert "in 4 goes; the pauses come on top" in " ".join(many.told)
    assert "goes" not in " ".join(once.told)
    assert many.run_times_h == tuple(run_time_h(case, 0.3, pulses=4) for case in many.cases)


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


def test_a_soil_on_the_same_soil_is_one_soil() -> None:
    one, two = (
        follow(replace(LOAM, layers=tables_of(parse_ground(text))[0]), 1.0) for text in ("loam", "loam 12 cm, loam")
    )
    for a, b in zip(one, two, strict=True):
        assert b.depth_cm == pytest.approx(a.depth_cm, abs=0.05)
        assert b.in_roots == pytest.approx(a.in_roots, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Sandy loam 25 cm, clay loam", (("sandy_loam", 0.25), ("clay_loam", float("inf")))), ("silt loam 7,5 cm,clay", (("silt_loam", 0.075), ("clay", float("inf")))),
        ("sand 1 ft; loam 1 ft; clay", (("sand", 0.3048), ("loam", 0.3048), ("clay", float("inf")))), ("loam", (("loam", float("inf")),)),
    ],
)  # fmt: skip
def test_layers_are_read_from_the_surface_down(text: str, read: object) -> None:
    assert parse_ground(text) == read


def test_roots_take_and_the_rest_is_accounted_for() -> None:
    """What went in is in the roots' depth, drawn, or deeper; in a shallow root zone more is lost, and roots keep some of it."""
    deep, shallow, drawing = (
        follow(replace(LOAM, flow_lph=4.0, root_depth_m=depth, draws_l_day=draws), 2.0)[-1] for depth, draws in ((0.6, 0.0), (0.15, 0.0), (0.15, 3.0))
    )  # fmt: skip
    assert deep.below < 0.01 < 0.1 < shallow.below
    assert drawing.below < shallow.below
    assert drawing.drawn_l > 0.5
    for look in (deep, shallow, drawing):
        assert look.in_roots + look.below == pytest.approx(1.0, abs=2e-3)
    text = " ".join(answer("loam", 4.0, 2.0, wanted_m=0.2, roots_m=0.15, draws_l_day=3.0).told)
    assert "of the 3 L they want" in text
    assert "deeper than the roots" in text


@pytest.mark.parametrize(
    ("texture", "full", "part"), [("loam", False, 0.9), ("sandy_clay", False, 0.7), ("clay", True, 0.7)]
)
def test_most_of_the_water_lies_where_it_is_counted_as_wet(texture: str, full: bool, part: float) -> None:
    """Also in clay that is nearly full when it is due, where a rise of 0.02 is not found anywhere the next day."""
    case = Case(tables_of(parse_ground(texture))[0], 2.0)
    run = _solve(case, 1.0, 1, [])
    risen, added = run.theta[-1] - run.first_theta, run.added_l()[-1]
    assert is_nearly_full(case) is full
    assert float(added[risen >= seen(run)[:, None]].sum()) > part * float(added.sum())
    assert (float(risen.max()) < SEEN) is full
    assert extents(run, 30.0)[-1].depth_cm > 3.0


def test_of_soil_that_is_nearly_full_little_can_be_told_and_that_is_said() -> None:
    text = " ".join(answer("clay", 1.0, 1.0).told)
    assert "nearly full" in text
    assert "nearly full" not in " ".join(answer("silt_loam", 1.0, 0.2).told)
    assert "puddles and runs on" in " ".join(answer("silty_clay", 4.0, 1.0).told)


def test_pauses_keep_water_on_a_bed_with_an_edge() -> None:
    """What stands when the bed is full goes in meanwhile. All that was given went in, ran off or still stands."""
    case = replace(LOAM, layers=tables_of(parse_ground("clay_loam"))[0], flow_lph=4.0, edge_m=0.3)
    once, many = (follow(case, 1.0, pulses=k)[-1] for k in (1, 4))
    assert many.ran_off_l < 0.5 * once.ran_off_l
    assert (once.given_l, many.given_l) == pytest.approx((4.0, 4.0), rel=1e-5)
    text = " ".join(answer("clay_loam", 4.0, 1.0, edge_m=0.3).told)
    assert "in 4 goes with pauses as long it would be" in text
    assert "taken to be level" in text


def test_of_moist_soil_only_this_water_counts() -> None:
    """Silt of the second table drains litres a day by itself at that moisture: they are no part of what became of the two litres given."""
    case = Case(tables_of(parse_ground("silt"))[1], 2.0, first_head_cm=MOIST_CM)
    for look in follow(case, 1.0):
        assert look.in_roots + look.below == pytest.approx(1.0, abs=1e-3)
        assert 0.0 <= look.below < 0.6


def test_water_from_a_buried_emitter_that_soil_cannot_hold_comes_up_and_runs_off() -> None:
    """7 cm/h on ground that drains 4.4: without a way up, heads would grow without end."""
    look = follow(
        Case(tables_of(parse_ground("loamy_sand"))[1], 5.5, depth_m=0.1, apart_m=0.28, first_head_cm=MOIST_CM), 12.0
    )[-1]
    assert look.ran_off_l > 5.0
    assert look.given_l == pytest.approx(66.0, rel=1e-5)


def test_only_the_top_soil_is_fitted() -> None:
    ground = parse_ground("loam 20 cm, clay")
    made = answer(ground, 2.0, 1.0, seen_m=(0.40, 0.12))
    assert made.fit is not None
    assert [case.layers[0].soil for case in made.cases] == [made.fit.soil] * 2
    assert [case.layers[1] for case in made.cases] == [layers[1] for layers in tables_of(ground)]
    assert "Only the top soil is fitted" in " ".join(made.told)


@pytest.mark.parametrize(
    ("field", "ask"),
    [
        ("flow", lambda: Case(LOAM.layers, 0.0)), ("hours", lambda: follow(LOAM, 0.0)), ("pulses", lambda: follow(LOAM, 1.0, pulses=0)),
        ("circle", lambda: fitted(LOAM, 1.0, 5.0, 0.1)), ("soil", lambda: answer("moon dust", 2.0, 1.0)),
        ("soil", lambda: parse_ground("loam, clay")), ("soil", lambda: parse_ground("loam 20 cm")), ("soil", lambda: tables_of(parse_ground("loam 1 cm, clay"))),
        ("soil", lambda: tables_of(parse_ground("loam 9 cm, silt 9 cm, sand 9 cm, clay"))), ("draws", lambda: replace(LOAM, draws_l_day=-1.0)),
        ("buried", lambda: answer("loam", 2.0, 1.0, depth_m=-0.05)), ("edge", lambda: answer("loam", 2.0, 1.0, edge_m=-0.1)),
        ("edge", lambda: answer("loam", 2.0, 1.0, edge_m=0.0)), ("apart", lambda: answer("loam", 2.0, 1.0, apart_m=0.01)),
        ("roots", lambda: replace(LOAM, root_depth_m=3.0)), ("deep", lambda: answer("loam", 2.0, 1.0, wanted_m=3.0)),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(field: str, ask: object) -> None:
    with pytest.raises(InputError) as caught:
        ask()  # type: ignore[operator]
    assert caught.value.field == field


def test_goes_with_pauses_are_told_in_hours_and_minutes(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An hour in three goes with pauses of as long between them ends after 1 h 40 min."""
    from soakbook.cli import main

    monkeypatch.setattr("sys.argv", ["soakbook", "drip", "--soil", "sandy loam", "--pulses", "3", "--units", "metric"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    out = " ".join(capsys.readouterr().out.split())
    assert "1.6" not in out
    assert "water off, 1 h " in out
    assert " 40 min next day" in out
