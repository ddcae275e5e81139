"""A line on its bed: where things stand, what the garden does not say, and what the water does."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from soakbook.delivery.drip import LONGEST_H, follow, run_time_h
from soakbook.delivery.ground_of import grounds_of_class, soils_of
from soakbook.delivery.laid import is_on_line
from soakbook.delivery.on_bed import OnBed, on_bed
from soakbook.delivery.on_bed_wet import OnBedWet, cases_of, on_bed_wet
from soakbook.errors import InputError
from soakbook.garden.model import Line, Place, Planting, SoilLayer

DAY = date(2026, 7, 1)
LOAM = grounds_of_class("loam")
PEPPERS = Planting("pepper_sweet", planted_out=date(2026, 5, 10), count=10)
BED = Place(
    "peppers", "bed", (SoilLayer("texture", texture="loam"),), 3.6, 1.2, 3.0, means="drip_line", line="north", plantings=(PEPPERS,)
)  # fmt: skip
NORTH = Line("north", "drip_line", flow_lph=40.0, emitter_flow_lph=2.0, emitter_spacing_m=0.3)


def test_the_flow_and_the_spacing_say_how_many_pipes_there_are() -> None:
    """40 L/h of 2 L/h emitters are 20 of them; 30 cm apart that is 6 m of line: two pipes on a bed of 3 m, 6.7 L/h to the metre."""
    bed = on_bed(BED, NORTH, DAY, LOAM)
    assert (bed.length_m, bed.width_m) == (3.0, 1.2)
    assert bed.pipes_m == pytest.approx((0.3, 0.9))
    assert len(bed.emitters) == 20
    assert bed.shape == "line"
    assert bed.flow_lph == pytest.approx(40.0 / 6.0)
    assert not bed.assumed
    assert len(bed.plants) == 10
    assert all(0.0 < p.x_m < 3.0 and 0.0 < p.y_m < 1.2 for p in bed.plants)


def test_a_place_has_its_share_of_the_line() -> None:
    bed = on_bed(replace(BED, line_share=0.5), NORTH, DAY, LOAM)
    assert bed.total_lph == pytest.approx(20.0)
    assert len(bed.pipes_m) == 1


def test_what_the_garden_does_not_say_is_said_to_be_assumed() -> None:
    bed = on_bed(replace(BED, length_m=None, width_m=None), Line("north", "drip_line", flow_lph=40.0), DAY, LOAM)
    assert bed.length_m == bed.width_m == pytest.approx(3.6**0.5)
    assert len(bed.assumed) == 3
    with pytest.raises(InputError) as error:
        on_bed(BED, Line("north", "drip_line"), DAY, LOAM)
    assert error.value.code == "onbed.flow"


def test_single_emitters_stand_at_the_plants() -> None:
    two = replace(PEPPERS, count=2)
    bed = on_bed(replace(BED, means="emitters", line=None, emitters=4, emitter_flow_lph=4.0, plantings=(two,)), None, DAY, LOAM)  # fmt: skip
    assert bed.shape == "emitter"
    assert bed.total_lph == pytest.approx(16.0)
    for plant in bed.plants:
        assert sum(abs(x - plant.x_m) < 0.3 and y == plant.y_m for x, y in bed.emitters) == 2


def test_roots_are_wetted_no_deeper_than_the_ground_goes() -> None:
    assert on_bed(replace(BED, root_barrier_m=0.2), NORTH, DAY, LOAM).wanted_m == 0.2


def test_what_was_cleared_is_not_drawn() -> None:
    gone = replace(PEPPERS, cleared=date(2026, 6, 1))
    assert not on_bed(replace(BED, plantings=(gone,)), NORTH, DAY, LOAM).plants


@pytest.fixture(scope="module")
def watered() -> tuple[OnBed, OnBedWet]:
    bed = on_bed(BED, NORTH, DAY, LOAM)
    return bed, on_bed_wet(bed, LOAM)


def test_it_runs_until_the_slower_soil_is_wet_as_deep_as_wanted(watered: tuple[OnBed, OnBedWet]) -> None:
    bed, wet = watered
    known = [t for t in wet.run_times_h if t is not None]
    assert wet.hours == max(known) <= LONGEST_H
    assert all(max(e.depth_cm for e in seen) >= 100.0 * bed.wanted_m - 0.5 for seen in wet.looks)
    assert all(one == tuple(sorted(one)) for one in (seen[:-1] for seen in wet.halves_m))


def test_the_looks_are_those_of_the_drip_solver(watered: tuple[OnBed, OnBedWet]) -> None:
    """The page and ``soakbook drip`` follow the same water: the same line on the same soil, as far from its neighbour."""
    bed, wet = watered
    for case, seen in zip(cases_of(bed, LOAM), wet.looks, strict=True):
        assert case.apart_m == pytest.approx(0.6)
        assert follow(case, wet.hours)[0].depth_cm == pytest.approx(seen[-2].depth_cm, abs=0.3)


def test_plants_beside_the_wet_ground_are_counted() -> None:
    bed = replace(on_bed(BED, NORTH, DAY, LOAM), pipes_m=(0.1,))
    wet = on_bed_wet(bed, LOAM, 0.3)
    far = [p for p in bed.plants if p.y_m - 0.1 > min(max(one) for one in wet.halves_m)]
    assert wet.missed == len(far) > 0
    assert any("beside the wet ground" in text for text in wet.told)


def test_what_would_run_off_is_said() -> None:
    clay = replace(BED, soil=(SoilLayer("texture", texture="clay"),), means="soaker")
    bed = on_bed(clay, Line("north", "soaker", flow_lph=75.0), DAY, soils_of(clay))
    wet = on_bed_wet(bed, soils_of(clay), 1.0)
    assert wet.goes > 1
    assert any("run off" in text and "goes with pauses" in text for text in wet.told)


def test_goes_wet_slow_soil_in_less_running() -> None:
    """What runs off in one go is not put on in vain: with pauses as much soil is wetted by fewer litres."""
    (case,) = cases_of(on_bed(BED, NORTH, DAY, LOAM), (LOAM[0],))
    slow = replace(
        case, layers=soils_of(replace(BED, soil=(SoilLayer("texture", texture="clay_loam"),)))[0], flow_lph=9.0
    )
    once, split = run_time_h(slow, 0.2), run_time_h(slow, 0.2, pulses=4)
    assert once is not None
    assert split is not None
    assert split < 0.95 * once


def test_only_beds_with_a_line_have_one() -> None:
    assert is_on_line(BED)
    assert not is_on_line(replace(BED, means="can"))
    assert not is_on_line(replace(BED, kind="pot"))
