"""How much one run of a timer brings in: by the solver under a drip line, as the round has it, and else by Green-Ampt."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from soakbook.delivery import timer_place
from soakbook.delivery.drip import HOLDS_CM
from soakbook.delivery.goes import LONGEST_GO_MIN, _in_one, _standing_min, drip_goes, stand_of, takes_min
from soakbook.delivery.ground_of import Grounds, soils_of
from soakbook.delivery.timer_place import HALF_DRY, TimerPlace, timer_places
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Line, Place, Planting, SoilLayer
from soakbook.physics.infiltration import ponded_depth_explicit_mm
from tests.practice.sites import START
from tests.unit.advice.made import coming

BED = Place(
    "bed", "bed", (SoilLayer("texture", texture="clay_loam"),), 3.6, length_m=3.0, width_m=1.2, means="drip_line", line="north",
    plantings=(Planting("pepper_sweet", planted_out=START, count=10),),
)  # fmt: skip


def laid(place: Place, flow_lph: float = 45.0) -> tuple[Garden, TimerPlace]:
    garden = Garden("test", 40.0, 0.0, 100.0, "UTC", (place,), (Line("north", place.means, flow_lph),))
    (one,) = timer_places(garden, coming(members=3))
    return garden, one


def green_ampt_mm(one: TimerPlace) -> float:
    columns = one.days.laid.columns
    top = columns.thickness_mm[0, 0]
    room = (columns.sat_mm - columns.fc_mm)[0, 0, 0] / top + 0.5 * HALF_DRY * one.days.taw_mm[0, 0] / top
    return ponded_depth_explicit_mm(float(columns.intake_mm_h[0, 0]), float(columns.suction_mm[0, 0] * room), 1.0)


@pytest.mark.parametrize("texture", ["silt_loam", "clay_loam", "clay"])
@pytest.mark.parametrize("means", ["drip_line", "soaker", "emitters"])
def test_a_timer_sets_no_run_that_the_round_would_split_and_splits_none_that_it_would_not(
    means: str, texture: str
) -> None:
    place = replace(BED, means=means, soil=(SoilLayer("texture", texture=texture),))
    garden, one = laid(place)
    grounds = soils_of(place)
    stand = stand_of(place, garden, grounds)
    assert stand is not None
    minutes = one.takes_mm / one.depth_per_minute_mm
    if math.isinf(minutes):
        assert drip_goes(stand, grounds, HALF_DRY, LONGEST_GO_MIN)[0] is None
        return
    assert drip_goes(stand, grounds, HALF_DRY, 0.98 * minutes)[0] is None
    assert drip_goes(stand, grounds, HALF_DRY, 1.05 * minutes)[0] is not None


def test_what_a_line_gives_slowly_enough_all_goes_in() -> None:
    assert math.isinf(laid(replace(BED, soil=(SoilLayer("texture", texture="sand"),)))[1].takes_mm)


def test_nothing_runs_off_before_the_ground_is_under_what_may_stand() -> None:
    """By hand: 5 mm on 3.6 m² are 18 L, which 720 L/h bring in a minute and a half."""
    place = replace(BED, means="soaker", soil=(SoilLayer("texture", texture="clay"),))
    garden, one = laid(place, 720.0)
    stand = stand_of(place, garden, soils_of(place))
    assert stand is not None
    assert HOLDS_CM == 0.5
    assert _standing_min(stand) == pytest.approx(1.5)
    minutes = takes_min(stand, soils_of(place), HALF_DRY)
    assert 1.5 < minutes < 2.5
    assert one.takes_mm == pytest.approx(minutes * one.depth_per_minute_mm)
    looks, part = _in_one(stand, soils_of(place)[0], HALF_DRY, 90.0)
    assert (looks[0], part[0]) == (pytest.approx(1.5), 0.0)


def test_what_falls_evenly_and_ground_without_a_curve_are_reckoned_by_green_ampt(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, sprinkled = laid(replace(BED, means="sprinkler"))
    assert sprinkled.takes_mm == pytest.approx(green_ampt_mm(sprinkled))
    _, drip = laid(BED)
    assert drip.takes_mm != pytest.approx(green_ampt_mm(drip), rel=0.2)

    def unknown(place: Place) -> Grounds:
        raise InputError(f"of the soil of {place.name} too little is known", code="ground.fit", field="soil")

    monkeypatch.setattr(timer_place, "ground_of", unknown)
    assert laid(BED)[1].takes_mm == pytest.approx(green_ampt_mm(drip))
