"""In how many goes a drip line runs: where its water stands, what runs off, and when one go will do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soakbook.delivery.goes import LET_BE, MOST_GOES, Stand, _in_one, _runs_off, _takes_all, drip_goes, stand_of
from soakbook.delivery.ground_of import Grounds, grounds_of_class
from soakbook.garden.model import Garden, Line, Place, SoilLayer

SLOW = Stand("line", 7.5, 0.24, 10.0)
LOAM = grounds_of_class("loam")


def garden_of(place: Place, line: Line) -> Garden:
    return Garden("test", 40.0, 0.0, 100.0, "UTC", (replace(place, line=line.name),), (line,))


def bed(means: str, **more: object) -> Place:
    return Place("bed", "bed", (SoilLayer("texture", texture="loam"),), 3.6, means=means, line="north", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("means", "line"),
    [
        ("drip_line", Line("north", "drip_line", 36.0)),
        ("drip_line", Line("north", "drip_line", 36.0, emitter_flow_lph=2.0, emitter_spacing_m=0.3)),
        ("drip_line", Line("north", "drip_line", 36.0, emitter_flow_lph=4.0, emitter_spacing_m=0.6)),
        ("soaker", Line("north", "soaker", 75.0)),
        ("emitters", Line("north", "emitters", 36.0, emitter_flow_lph=4.0)),
    ],
)
def test_all_the_water_and_all_the_ground_are_shared_out(means: str, line: Line) -> None:
    place = bed(means)
    stand = stand_of(place, garden_of(place, line), LOAM)
    assert stand is not None
    assert line.flow_lph is not None
    assert stand.flow_lph * stand.count == pytest.approx(line.flow_lph)
    ground = 2.0 * stand.reach_m if stand.shape == "line" else np.pi * stand.reach_m**2
    assert ground * stand.count == pytest.approx(place.area_m2)


def test_emitters_far_apart_are_solved_one_by_one() -> None:
    place = bed("drip_line")
    near, far = (
        stand_of(
            place, garden_of(place, Line("north", "drip_line", 36.0, emitter_flow_lph=2.0, emitter_spacing_m=s)), LOAM
        )
        for s in (0.3, 0.6)
    )
    assert near is not None
    assert far is not None
    assert (near.shape, far.shape) == ("line", "emitter")


def test_by_hand_or_without_a_flow_there_is_nothing_to_solve() -> None:
    for means, flow in (("can", 36.0), ("sprinkler", 36.0), ("drip_line", None)):
        place = bed(means)
        assert stand_of(place, garden_of(place, Line("north", means, flow)), LOAM) is None


@pytest.mark.parametrize("texture", ["sandy_loam", "loam", "silt_loam"])
def test_soil_that_passes_on_all_that_comes_loses_nothing(texture: str) -> None:
    """Water standing on soil goes in at the saturated conductivity at least (W. H. Green and G. A. Ampt, 1911): so says the solver, too."""
    for layers in grounds_of_class(texture):
        most = 0.9 * 2.0 * 0.2 * 100.0 * layers[0].soil.ks_cm_h / 10.0
        stand = Stand("line", most, 0.2, 1.0)
        assert _takes_all(stand, layers)
        assert not _takes_all(replace(stand, flow_lph=1.2 * most), layers)
        assert _in_one(stand, layers, 0.5, 270.0)[1].max() < 1e-6


def test_water_runs_off_slow_soil_and_pauses_lessen_it() -> None:
    layers = grounds_of_class("clay_loam")[0]
    lost = [_runs_off(SLOW, layers, 0.6, 70.0, n) for n in (1, 2, 4)]
    assert lost[0] > LET_BE
    assert lost[0] > lost[1] > lost[2]
    looks, part = _in_one(SLOW, layers, 0.6, 90.0)
    assert np.interp(70.0, looks, looks * part) / 70.0 == pytest.approx(lost[0], abs=0.01)
    assert part[0] == 0.0
    assert np.all(np.diff(part) >= 0.0)


def ground(texture: str) -> Grounds:
    return grounds_of_class(texture)


def test_goes_are_told_where_they_help() -> None:
    assert drip_goes(SLOW, ground("sandy_loam"), 0.6, 70.0) == (None, 0.0)
    split, lost = drip_goes(SLOW, ground("clay_loam"), 0.6, 70.0)
    assert lost <= LET_BE
    assert split is not None
    assert 2 <= split.count <= MOST_GOES
    assert split.run_minutes is not None
    assert split.count * split.run_minutes == pytest.approx(70.0)
    assert split.run_minutes + split.pause_minutes >= 60.0
    assert drip_goes(SLOW, ground("clay_loam"), 0.6, 5.0)[0] is None


def test_what_runs_off_even_in_goes_is_told() -> None:
    """Ten hours of a soaker on slow ground: no pauses help."""
    slow, lost = drip_goes(SLOW, ground("clay_loam")[:1], 0.6, 600.0)
    least = min(_runs_off(SLOW, ground("clay_loam")[0], 0.6, 600.0, n) for n in (1, 2, 3, 4))
    assert slow is None or slow.count > 1
    assert lost == pytest.approx(least, abs=0.05)
    assert lost > 0.3
