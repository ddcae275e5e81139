"""Lines on beds, taps and lengths: what geometry and hydraulics demand of them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from soakbook.delivery.circle import circle, emitter_for
from soakbook.delivery.ground_of import grounds_of_class
from soakbook.delivery.lay import drawing, lay, line_places_m, place_digits, row_places_m, spacing_for_m
from soakbook.delivery.line import judge_lines, lateral_of
from soakbook.delivery.tap import fittings, lines_at_once, longest_line, needs_reducer
from soakbook.errors import InputError
from soakbook.physics.pipes import Feed, compensating, dripper, dripper_from_two, emitter_flow_lph, held, tank, tap
from soakbook.physics.pipes_tree import Lateral, Manifold, network, porous_hose, solve
from soakbook.physics.uniformity import flow_variation
from soakbook.units import format_quantity

LINE = Lateral(dripper(2.0), 50, 0.3, 0.0136)


#: A retail guide to drip in gardens: wet circles of 0.41 m in sand to 0.61 m and more in clay; texts print from 0.3 m in sand (from memory).
WET_M = {"sand": (0.30, 0.50), "sandy_loam": (0.35, 0.55), "loam": (0.40, 0.60), "clay_loam": (0.50, 0.70)}


@pytest.mark.parametrize("name", WET_M)
def test_the_wet_circle_is_as_wide_as_guides_have_it(name: str) -> None:
    low, high = WET_M[name]
    assert low < circle(grounds_of_class(name), 2.0).sure_m < high


def test_slow_emitters_where_water_would_stand_wide() -> None:
    """Common practice: the finer the soil, the slower the emitter; and on a narrow bed."""
    assert emitter_for(grounds_of_class("loam"), 1.2).flow_lph == 2.0
    assert emitter_for(grounds_of_class("clay_loam"), 1.2).flow_lph == 1.0
    assert emitter_for(grounds_of_class("loam"), 0.3).flow_lph == 1.0


def test_where_hardly_any_water_goes_in_the_ground_is_wet_as_wide_as_it_stands() -> None:
    found = circle(grounds_of_class("silty_clay"), 20.0)
    assert found.beyond
    assert min(w - p for w, p in zip(found.widths_m, found.puddles_m, strict=True)) >= -0.02
    assert found.sure_m > 0.5


def test_lines_are_laid_by_the_narrower_circle_and_the_spread_is_said() -> None:
    made = lay(3.0, 1.2, rows=3, grounds=grounds_of_class("loam"))
    assert made.wetted_most_m is not None
    assert made.wetted_most_m > made.wetted_m > 0.0
    assert any(text.startswith("The wet circle is solved") for text in made.reasons)
    one = lay(3.0, 1.2, rows=3, grounds=grounds_of_class("loam")[:1])
    assert one.wetted_most_m == one.wetted_m
    assert any("does not go in" in text for text in lay(3.0, 1.2, grounds=grounds_of_class("silty_clay")).reasons)


@pytest.mark.parametrize("rows", [1, 2, 3, 4, 6, 9])
@pytest.mark.parametrize("wetted_m", [0.3, 0.46, 0.65])
def test_no_row_is_further_than_the_line_wets(rows: int, wetted_m: float) -> None:
    places = row_places_m(1.2, rows)
    lines = line_places_m(1.2, places, wetted_m)
    assert len(lines) <= rows
    assert max(min(abs(row - line) for line in lines) for row in places) <= 0.4 * wetted_m + 1e-9


def test_close_rows_share_lines_and_wide_rows_do_not() -> None:
    assert len(line_places_m(1.2, row_places_m(1.2, 6), 0.46)) == 3
    assert len(line_places_m(1.2, row_places_m(1.2, 3), 0.46)) == 3


def test_emitters_stand_within_the_wet_circle_or_at_the_plants() -> None:
    assert spacing_for_m(0.46) == 0.30
    assert spacing_for_m(0.65) == 0.50
    assert spacing_for_m(0.46, 0.6) == 0.6
    assert spacing_for_m(0.46, 0.2) == 0.30


def test_plants_without_rows_leave_no_part_of_the_bed_dry() -> None:
    sown, in_rows = (lay(3.0, 1.2, rows=rows, wetted_m=0.35, plants_apart_m=2.0) for rows in (0, 2))
    assert sown.emitter_spacing_m <= 0.8 * 0.35
    assert any("does not count without rows" in text for text in sown.reasons)
    assert in_rows.emitter_spacing_m == 2.0
    close = lay(3.0, 1.2, rows=2, wetted_m=0.46, plants_apart_m=0.3)
    assert not any("an emitter at each" in text for text in close.reasons)


def test_lines_are_told_where_they_are_laid() -> None:
    told = [format_quantity(y, "length", "metric", place_digits(y, "metric")) for y in row_places_m(12.0, 12)]
    assert told[0] == "50 cm"
    assert told[-2:] == ["10.5 m", "11.5 m"]
    fine = [format_quantity(y, "length", "metric", place_digits(y, "metric")) for y in (1.0, 1.27, 11.0)]
    assert fine == ["1 m", "1.27 m", "11 m"]
    feet = [format_quantity(y, "length", "US", place_digits(y, "US")) for y in row_places_m(200.0, 400)]
    assert len(set(feet)) == 400


def test_a_small_bed_adds_up() -> None:
    made = lay(3.0, 1.2, rows=3, wetted_m=0.46)
    assert made.emitters_per_line == 10
    assert made.flow_lph == pytest.approx(60.0, rel=1e-3)  # 30 emitters of 2 L/h at 1 bar
    assert made.rate_mm_h == pytest.approx(made.flow_lph / 3.6)
    assert made.parts[0].length_m == pytest.approx(1.1 * 9.0)


def test_the_drawing_is_to_scale_and_within_the_bed() -> None:
    made = lay(3.1, 1.2, rows=3, wetted_m=0.46)
    shapes = drawing(made)
    assert len(shapes["lines"]) == 3
    assert len(shapes["emitters"]) == 3 * made.emitters_per_line
    assert all(0 <= x <= 3.1 and 0 <= y <= 1.2 for x, y in shapes["emitters"])
    gaps = {
        round(b[0] - a[0], 9) for a, b in zip(shapes["emitters"], shapes["emitters"][1:], strict=False) if a[1] == b[1]
    }
    assert gaps == {made.emitter_spacing_m}


def test_a_long_bed_asks_for_compensating_emitters() -> None:
    long = lay(70.0, 0.4, rows=1, wetted_m=0.46, feed=tap(40.0, 2000.0), rise=0.03)
    assert long.is_compensating
    assert long.variation <= 0.10
    assert any(r.startswith("Compensating") for r in long.reasons)
    assert any(p.what == "pressure reducer, 200 kPa" for p in long.parts)


def test_where_compensating_emitters_would_not_help_it_says_so() -> None:
    steep = lay(30.0, 0.4, rows=1, wetted_m=0.46, feed=tank(2.0), rise=0.03)
    assert not steep.is_compensating
    assert steep.variation > 0.10
    assert any("would not help" in r for r in steep.reasons)


def test_house_pressure_is_reduced() -> None:
    made = lay(3.0, 1.2, rows=3, wetted_m=0.46, feed=tap(40.0, 900.0))
    assert any(p.what.startswith("pressure reducer") for p in made.parts)
    assert made.fittings[1].startswith("A pressure reducer set between")
    assert made.lowest_head_m <= 10.2


def test_a_barrel_is_joined_to_nothing() -> None:
    made = lay(3.0, 1.2, rows=3, wetted_m=0.46, feed=tank(1.0))
    assert not any("backflow preventer, as" in p.what for p in made.parts)
    assert [p.what for p in made.parts if p.what.startswith("shut-off")] == [
        "shut-off for the bed, at the outlet of the tank"
    ]
    assert made.at_once is None
    assert made.flow_lph == pytest.approx(60.0 / math.sqrt(10.2), rel=5e-3)
    on_main = lay(3.0, 1.2, rows=3, wetted_m=0.46, feed=held(1.0)).parts
    assert any("backflow preventer, as" in p.what for p in on_main)


@pytest.mark.parametrize(
    ("head_m", "means", "needed"),
    [(40.0, "drip", True), (10.0, "drip", False), (15.0, "soaker", True), (1.0, "drip", False)],
)
def test_reducers_stand_where_the_line_would_burst(head_m: float, means: str, needed: bool) -> None:
    assert needs_reducer(tank(head_m), means) is needed  # type: ignore[arg-type]
    assert len(fittings(tank(head_m), means)) == 2  # type: ignore[arg-type]


def test_a_tap_feeds_four_fifths_of_its_flow() -> None:
    """30 m when shut, 1200 L/h running free: at 10 m, sqrt(20/30) of it."""
    feed = tap(30.0, 1200.0)
    assert lines_at_once(feed, 100.0, 10.0) == math.floor(0.8 * 12.0 * math.sqrt(2.0 / 3.0))
    assert lines_at_once(feed, 100.0, 31.0) == 0
    assert lines_at_once(tank(2.0), 100.0, 1.0) is None


TAP = tap(3.0 * 10.197, 720.0)


@pytest.mark.parametrize(("metres", "fed"), [(3.0, 23), (15.0, 4)])
def test_lines_fed_at_once_do_not_hang_on_how_many_were_typed(metres: float, fed: int) -> None:
    """At 1 bar a tap of 3 bar and 720 L/h gives sqrt(2/3) of that; four fifths of it are planned with; each emitter takes its 2 L/h."""
    line = lateral_of("plain", metres, 0.3, 2.0, 10.197, 0.0136)
    assert fed == pytest.approx(0.8 * 720.0 * math.sqrt(2.0 / 3.0) / (2.0 * line.count), abs=1.0)
    assert {judge_lines(line, n, Manifold(0.016, 0.4), TAP).at_once for n in (1, 5, 20, 60)} == {fed}
    if metres == 3.0:
        assert {lay(3.0, 1.2, rows=rows, wetted_m=0.46, feed=TAP).at_once for rows in (1, 3)} == {fed}


def test_the_longest_line_goes_by_the_law_asked_for() -> None:
    darcy, hazen = (
        judge_lines(LINE, 1, Manifold(0.016), tank(10.0), friction=law) for law in ("darcy", "hazen_williams")
    )  # type: ignore[arg-type]
    assert hazen.longest_count == longest_line(LINE, 10.0, 0.10, "hazen_williams")
    assert hazen.longest_count != darcy.longest_count


def test_a_slope_is_no_cause_on_level_ground() -> None:
    """A steep exponent makes a small loss tell; so does a header that feeds hose."""
    steep = judge_lines(
        lateral_of("plain", 55.0, 0.3, 2.0, 10.197, 0.0136, exponent=2.0), 1, Manifold(0.016), tank(10.2)
    )
    hose = judge_lines(
        lateral_of("soaker", 40.0, 0.0, 8.0, 10.197, 0.0136), 6, Manifold(0.016, 1.0), tank(10.2), means="soaker"
    )
    assert [text.split(":")[0] for text in steep.limits] == ["The line"]
    assert [text.split(":")[0] for text in hose.limits] == ["The header"]


def test_hose_is_not_told_about_drippers() -> None:
    hose = lateral_of("soaker", 60.0, 0.0, 20.0, 10.197, 0.0136, rise=0.03)
    for feed in (tank(2.0), tank(10.2)):
        told = " ".join(
            str(text)
            for j in [judge_lines(hose, 2, Manifold(0.016), feed, means="soaker")]
            for text in (*j.limits, *j.fittings)
        )
        assert "rippers" not in told
        assert "compensating" not in told
    assert "compensating" not in " ".join(
        judge_lines(replace(LINE, emitter=compensating(2.0, 7.0), count=200), 1, Manifold(0.016), tank(10.0)).limits
    )


def variation(line: Lateral, count: int, head_m: float) -> float:
    return flow_variation(solve(network([replace(line, count=count)]), tank(head_m)).flow_lph[1:])


@pytest.mark.parametrize("line", [LINE, replace(LINE, rise=0.01), replace(LINE, spacing_m=0.15, bore_m=0.0043)])
def test_the_longest_line_is_even_and_one_emitter_more_is_not(line: Lateral) -> None:
    count = longest_line(line, 10.0, 0.10)
    assert variation(line, count, 10.0) <= 0.10 < variation(line, count + 1, 10.0)


def test_a_quarter_inch_tube_goes_six_metres() -> None:
    """Worked example D: 9.3 % at 6 m, 24 % at 9 m."""
    assert 6.0 <= 0.15 * longest_line(replace(LINE, spacing_m=0.15, bore_m=0.0043), 10.0) <= 6.6


def test_compensating_lines_go_until_the_pressure_is_gone() -> None:
    assert longest_line(replace(LINE, emitter=compensating(2.0, 7.0)), 15.0) > longest_line(LINE, 15.0)


@pytest.mark.parametrize(
    ("lateral", "lines", "manifold", "feed", "word"),
    [
        (LINE, 8, Manifold(0.016, 0.4, 3.0), tap(30.0, 500.0), "The supply itself"),
        (replace(LINE, count=30), 12, Manifold(0.008, 0.4, 20.0), tank(10.0), "The header"),
        (replace(LINE, count=40, spacing_m=0.15, bore_m=0.0043), 1, Manifold(0.016), tank(10.0), "The line"),
        (replace(LINE, rise=0.1), 1, Manifold(0.016), tank(4.0), "The climb"),
        (replace(LINE, rise=-0.2), 1, Manifold(0.016), tank(5.0), "The slope"),
    ],
)  # fmt: skip
def test_what_limits_is_named(lateral: Lateral, lines: int, manifold: Manifold, feed: Feed, word: str) -> None:
    assert judge_lines(lateral, lines, manifold, feed).limits[0].startswith(word)


def test_losses_add_up_to_what_the_supply_has() -> None:
    j = judge_lines(replace(LINE, rise=0.02), 3, Manifold(0.016, 0.4, 3.0), tap(30.0, 900.0))
    least = min(j.outlets, key=lambda o: o.flow_lph)
    assert j.supply_loss_m + j.header_loss_m + j.line_loss_m + j.climb_m + least.head_m == pytest.approx(30.0)


def test_emitters_by_two_points_and_by_pressure() -> None:
    law = dripper_from_two(2.0, 10.0, 1.0, 2.5)
    assert emitter_flow_lph(law, [2.5, 10.0]).tolist() == pytest.approx([1.0, 2.0])
    checked = compensating(2.0, 10.0, shut_m=2.0)
    assert emitter_flow_lph(checked, [0.0, 1.8, 10.0, 30.0]).tolist() == pytest.approx([0.0, 0.0, 2.0, 2.0])


def test_hose_that_leaks_all_along_gives_its_metres() -> None:
    flows = solve(network([porous_hose(8.0, 10.0, 5.0, 0.05)]), tank(10.0))  # so wide that no pressure is lost
    assert flows.total_lph == pytest.approx(40.0, rel=1e-4)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: tank(0.0), lambda: tap(30.0, 0.0), lambda: tap(30.0, 900.0, 31.0), lambda: dripper(2.0, 10.0, 3.0), lambda: dripper(-1.0),
        lambda: dripper_from_two(2.0, 10.0, 1.0, 10.0), lambda: compensating(2.0, 5.0, 6.0), lambda: network([]), lambda: network([LINE, LINE]),
        lambda: replace(LINE, count=0), lambda: replace(LINE, rise=2.0), lambda: Manifold(0.016, 0.4, -1.0), lambda: lay(0.0, 1.0, wetted_m=0.4),
        lambda: lay(3.0, 1.0, wetted_m=9.0), lambda: grounds_of_class("mud"), lambda: lay(3.0, 1.0), lambda: judge_lines(LINE, 0, Manifold(0.016), tank(1.0)),
        lambda: judge_lines(LINE, 1, Manifold(0.016, lead_rise_m=3.0), tank(1.0)), lambda: lateral_of("plain", 9.0, 0.3, 2.0, 10.0, 0.0136, exponent=0.0),
        lambda: lateral_of("soaker", 9.0, 0.3, 2.0, 10.0, 0.0136, exponent=0.0), lambda: lateral_of("compensating", 9.0, 0.3, 2.0, 10.0, 0.0136, exponent=0.7),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(wrong: object) -> None:
    with pytest.raises(InputError):
        wrong()  # type: ignore[operator]


def test_lines_that_give_little_are_not_called_good() -> None:
    """A barrel a metre up: all emitters alike, at a third of what a square root of a tenth of the pressure leaves of their flow at 1 bar."""
    even = judge_lines(LINE, 1, Manifold(0.016), tank(1.0))
    assert even.variation < 0.1
    assert "they give only 31 % of what they do at 1 bar" in str(even.verdict)
    assert str(judge_lines(LINE, 1, Manifold(0.016), tank(10.0)).verdict).startswith("good")


def test_hose_is_told_by_the_metre(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """It is solved in pieces of 25 cm here; what is typed in is by the metre, and so is what comes out."""
    from soakbook.cli import main

    asked = ["soakbook", "pipes", "--soaker", "8 L/h", "--length", "25 m", "--tank", "1 m", "--units", "metric"]
    monkeypatch.setattr("sys.argv", asked)
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    out = " ".join(capsys.readouterr().out.split())
    assert "1 soaker hose: 19.5 L/h" in out
    assert "gives a metre" in out
    assert "Least 0.778 L/h a metre" in out
