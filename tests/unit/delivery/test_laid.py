"""What a line is taken to be where the garden says little: the round, the timer and the page of the bed have it alike."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import pi

import pytest

from soakbook.delivery.drip import Case
from soakbook.delivery.goes import stand_of
from soakbook.delivery.ground_of import grounds_of_class, soils_of
from soakbook.delivery.laid import USUAL_PER_M, Laid, laid
from soakbook.delivery.on_bed import on_bed
from soakbook.delivery.on_bed_wet import cases_of
from soakbook.errors import InputError
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden, Line, Place, Planting, SoilLayer

DAY = date(2026, 7, 1)
BED = Place(
    "bed", "bed", (SoilLayer("texture", texture="loam"),), 3.6, 1.2, 3.0, means="drip_line", line="north",
    plantings=(Planting("carrot", planted_out=date(2026, 5, 10)),),
)  # fmt: skip
LINES = {
    "nothing but the flow": (BED, Line("north", "drip_line", 36.0)),
    "emitters": (BED, Line("north", "drip_line", 36.0, emitter_flow_lph=1.6, emitter_spacing_m=0.2)),
    "emitters far apart": (BED, Line("north", "drip_line", 36.0, emitter_flow_lph=4.0, emitter_spacing_m=0.6)),
    "emitters that do not join in sand": (replace(BED, soil=(SoilLayer("texture", texture="sand"),)), Line("north", "drip_line", 36.0)),
    "what one gives": (BED, Line("north", "drip_line", 36.0, emitter_flow_lph=4.0)),
    "how many there are": (replace(BED, emitters=30), Line("north", "drip_line", 36.0)),
    "how long it is": (BED, Line("north", "drip_line", 36.0, length_m=9.0)),
    "emitters of its own on a line not measured": (replace(BED, emitters=20, emitter_flow_lph=2.0), Line("north", "drip_line", 36.0)),
    "emitters of its own on a measured line": (replace(BED, emitters=20, emitter_flow_lph=2.0), Line("north", "drip_line", 36.0, flow_is_measured=True)),
    "a share of a joined line": (replace(BED, line_share=0.4), Line("north", "drip_line", 90.0, length_m=30.0)),
    "soaker": (replace(BED, means="soaker"), Line("north", "soaker", 75.0)),
    "soaker of a length": (replace(BED, means="soaker"), Line("north", "soaker", 75.0, length_m=12.0)),
    "single emitters": (replace(BED, means="emitters"), Line("north", "emitters", 36.0, emitter_flow_lph=4.0)),
    "a bed of unknown sides": (replace(BED, length_m=None, width_m=None), Line("north", "drip_line", 36.0)),
}  # fmt: skip


@pytest.mark.parametrize("known", LINES)
def test_the_round_and_the_page_have_one_line(known: str) -> None:
    place, line = LINES[known]
    garden = Garden("test", 40.0, 0.0, 100.0, "UTC", (place,), (line,))
    grounds = soils_of(place)
    stand, page = stand_of(place, garden, grounds), on_bed(place, line, DAY, grounds)
    assert stand is not None
    assert (page.shape, page.flow_lph) == (stand.shape, stand.flow_lph)
    assert stand.flow_lph * stand.count == pytest.approx(page.total_lph)
    assert page.total_lph == pytest.approx(flow_lph(place, garden))
    assert stand.count == (len(page.emitters) if page.shape == "emitter" else len(page.pipes_m) * page.length_m)
    for case in cases_of(page, grounds):
        assert case.edge_m == pytest.approx(stand.reach_m)
        assert ground_m(case) in (None, pytest.approx(stand.reach_m))
    ground = 2.0 * stand.reach_m if stand.shape == "line" else pi * stand.reach_m**2
    assert ground * stand.count == pytest.approx(place.area_m2)


def ground_m(case: Case) -> float | None:
    """How far the ground reaches that is solved; emitters on squares have a ring of as much ground."""
    return case.apart_m and case.apart_m / (2.0 if case.shape == "line" else pi**0.5)


def known_of(name: str) -> Laid:
    place, line = LINES[name]
    made = laid(place, line, soils_of(place))
    assert made is not None
    return made


def test_what_is_not_known_is_taken_as_usual_and_said() -> None:
    """Drip tape with emitters each 12 in gives 27 gal/h per 100 ft, 3.4 L/h a metre (Utah State University Extension, Water recommendations for vegetables): 36 L/h
    are 10.6 m, four pipes on a bed of 3 m. What is known is not said to be assumed."""
    usual = known_of("nothing but the flow")
    assert (usual.pipes, usual.along, usual.shape) == (4, 10, "line")
    assert USUAL_PER_M["drip_line"] == pytest.approx(27.0 * 3.785 / 30.48, abs=0.05)
    assert [str(text) for text in usual.assumed] == [
        "How far apart the emitters are is not known: 30 cm is taken (common practice).",
        "How much pipe lies here is not known: as many pipes as give about 3.4 L/h a metre are taken.",
    ]
    assert known_of("emitters").assumed == ()
    assert len(known_of("what one gives").assumed) == len(known_of("how long it is").assumed) == 1
    assert known_of("soaker of a length").pipes == 4
    assert known_of("soaker of a length").assumed == ()
    assert known_of("soaker").pipes == 3
    assert len(known_of("soaker").assumed) == 1


def test_what_grows_does_not_move_the_pipes() -> None:
    place, line = LINES["nothing but the flow"]
    bare = on_bed(replace(place, plantings=()), line, DAY, grounds_of_class("loam"))
    assert bare.pipes_m == on_bed(place, line, DAY, grounds_of_class("loam")).pipes_m


@pytest.mark.parametrize("means", ["sprinkler", "can"])
def test_what_does_not_drip_is_not_laid(means: str) -> None:
    place, line = replace(BED, means=means), Line("north", means, 36.0)
    assert laid(place, line, grounds_of_class("loam")) is None
    assert stand_of(place, Garden("test", 40.0, 0.0, 100.0, "UTC", (place,), (line,)), grounds_of_class("loam")) is None
    with pytest.raises(InputError):
        on_bed(place, line, DAY, grounds_of_class("loam"))
