"""A grower's own garden in the trial."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from soakbook.catalog import read as catalog
from soakbook.demo import demo_garden
from soakbook.errors import InputError
from soakbook.garden.model import Exposure, Garden, Mulch, Place, Wishes
from soakbook.season.trial.case import Case
from soakbook.season.trial.own import left_out_of, own_cases


def test_places_of_a_garden_become_what_truths_are_drawn_around() -> None:
    garden, _, folder = demo_garden()
    cases, left_out = own_cases(garden, 2, folder=folder)
    names = {c.place.name for c in cases}
    assert names
    assert len(cases) == 2 * len(names)
    assert len({c.key for c in cases}) == len(cases)
    assert len(names) + len(left_out) == len(garden.places)
    for case in cases:
        assert case.days >= 40
        assert case.believed.plant == case.place.plantings[0].plant
        assert case.weather.times[0] < case.weather.times[case.at]


def test_a_garden_without_weather_of_its_own_gets_years_made_by_chance() -> None:
    garden, _, folder = demo_garden()
    first, second = own_cases(replace(garden, weather="normals"), 2, folder=folder)[0][:2]
    assert first.weather.get("rain_mm").sum() != second.weather.get("rain_mm").sum()


def test_a_garden_with_nothing_to_try_says_so() -> None:
    garden, _, folder = demo_garden()
    bare = replace(garden, places=tuple(replace(p, plantings=()) for p in garden.places))
    with pytest.raises(InputError, match="no place"):
        own_cases(bare, 1, folder=folder)


def _case_of(change: dict[str, Any], name: str = "bean rows") -> Case:
    """The demo garden's bed under usual weather, with some of it changed."""
    garden, _, folder = demo_garden()
    place = replace(garden.place(name), **change)
    (case,), _ = own_cases(replace(garden, places=(place,), weather="normals"), 1, folder=folder)
    return case


def test_shade_and_cover_act_on_the_truth_as_on_what_is_believed() -> None:
    """A wall of 60 degrees all round leaves some of the demand; glass keeps off the rain. Both sides go by the same."""
    wall = tuple((float(a), 60.0) for a in range(0, 360, 45))
    plain, shaded = _case_of({}), _case_of({"exposure": Exposure(horizon=wall)})
    assert 0.3 * plain.eto_mm.sum() < shaded.eto_mm.sum() < 0.9 * plain.eto_mm.sum()
    glazed = _case_of({"exposure": Exposure(cover="glass")})
    assert plain.rain_mm.sum() > 0.0
    assert glazed.rain_mm.sum() == 0.0
    for case in (plain, shaded, glazed):
        np.testing.assert_allclose(case.eto_mm, case.laid.eto_mm)
        np.testing.assert_allclose(case.rain_mm, case.laid.rain_mm)


def test_mulch_and_a_root_barrier_are_in_the_truth() -> None:
    """Straw's cut of evaporation, over half the ground; roots stop at the barrier."""
    cut = float(catalog.mulches()["straw"].evaporation_cut)
    bare = _case_of({"mulch": None}).hidden
    covered = _case_of({"mulch": Mulch("straw", 0.5), "root_barrier_m": 0.2}).hidden
    assert covered.ground_factor / bare.ground_factor == pytest.approx(1.0 - 0.5 * cut)
    assert covered.root_stop_cm == pytest.approx(20.0)
    assert np.isinf(bare.root_stop_cm)


def test_the_wetted_part_of_a_bed_is_as_the_grower_says() -> None:
    """The same chance, around another middle: the wet strip grows."""
    narrow, wide = (_case_of({"wetted_fraction": f}, "tomato bed").hidden.foot_share[0, 0] for f in (0.2, 0.6))
    assert narrow < wide


def test_what_the_trial_leaves_out_is_said_of_the_places_it_applies_to() -> None:
    garden, log, _ = demo_garden()

    def said(place: Place, garden: Garden = garden) -> list[str]:
        others = tuple(p for p in garden.places if p.name != place.name)
        return [
            str(t) for t in left_out_of(replace(garden, places=(place, *others)), log) if t.startswith(f"{place.name}:")
        ]

    beans, tomatoes = garden.place("bean rows"), garden.place("tomato bed")
    assert said(beans) == ["bean rows: the trial leaves out what its readings taught"]
    assert said(tomatoes) == [
        "tomato bed: the trial leaves out what lies below the first layer of its soil, the other places on its line"
    ]
    two = replace(tomatoes, plantings=2 * tomatoes.plantings, soil=tomatoes.soil[:1], line=None)
    assert said(two) == ["tomato bed: the trial leaves out its other plantings"]
    assert said(replace(tomatoes, plantings=())) == []
    assert not any("wishes" in t for t in left_out_of(garden))
    assert any("wishes" in t for t in left_out_of(replace(garden, wishes=Wishes(spare_water=2.0))))
