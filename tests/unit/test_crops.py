"""How plantings add up in a place, and when they count."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from soakbook.balance.columns import INTO_WET
from soakbook.balance.crops import ESTABLISHING, GROWING, SEEDBED, CropDays
from soakbook.garden.model import Mulch, Place, Planting
from tests.practice.sites import START, bed, days_of, season


def crops(place: Place, days: int = 100) -> CropDays:
    return days_of(place, "warm", days).crops


def test_how_a_bed_is_divided_does_not_matter() -> None:
    whole = crops(bed("lettuce_leaf", "loam"))
    half = Planting("lettuce_leaf", planted_out=START, share=0.5)
    halves = crops(replace(bed("lettuce_leaf", "loam"), plantings=(half, half)))
    assert halves.kcb == pytest.approx(whole.kcb, rel=0.03)  # plants are whole numbers
    assert halves.cover == pytest.approx(whole.cover, rel=0.03)
    alone = crops(replace(bed("lettuce_leaf", "loam"), plantings=(half,)))
    assert alone.kcb == pytest.approx(0.5 * whole.kcb, rel=0.03)


def test_cleared_and_coming_plants_are_not_counted() -> None:
    change = START + timedelta(days=30)
    first = Planting("lettuce_leaf", planted_out=START, count=30, cleared=change)
    then = Planting("cabbage", planted_out=change, count=6)
    both = crops(replace(bed("cabbage", "loam", means="can"), plantings=(first, then)))
    assert both.count[10] == 30
    assert both.count[40] == 6
    assert both.kcb[29] > both.kcb[31]


def test_a_seedbed_leads_beside_a_grown_crop() -> None:
    sown = START + timedelta(days=60)
    tomato = Planting("tomato_tall", planted_out=START, count=4, share=0.7)
    carrot = Planting("carrot", sown=sown, share=0.3)
    mixed = crops(replace(bed("tomato_tall", "loam"), plantings=(tomato, carrot)))
    assert mixed.phase[62] == SEEDBED
    assert mixed.reach_m[62] == pytest.approx(0.05)
    assert mixed.root_m[62] > 0.4  # but the tomato draws from its own depth
    assert mixed.phase[50] >= GROWING


def test_a_transplant_starts_with_its_root_ball() -> None:
    """Common practice: plugs and small pots are 5 to 9 cm deep, whatever the crop."""
    for plant in ("beet", "pea", "sweet_corn", "lettuce_leaf", "tomato_tall"):
        young = crops(bed(plant, "loam"))
        assert young.root_m[0] == pytest.approx(0.08), plant
        assert young.phase[0] == ESTABLISHING


def test_growth_never_leaps() -> None:
    """Whatever day the weather begins on, a crop grows from day to day."""
    for early in (0, 60, 120):
        place = replace(
            bed("tomato_tall", "loam"), plantings=(Planting("tomato_tall", planted_out=START + timedelta(days=early)),)
        )
        grown = crops(place, 149)
        assert np.max(np.abs(np.diff(grown.width_m))) < 0.03


def test_a_perennial_planted_years_ago_grows_like_an_established_one() -> None:
    old = Planting("strawberry", planted_out=START - timedelta(days=700), count=18)
    there = Planting("strawberry", established=True, count=18)
    a, b = (crops(replace(bed("strawberry", "loam"), plantings=(p,))) for p in (old, there))
    assert a.kcb == pytest.approx(b.kcb)
    assert a.root_m == pytest.approx(b.root_m)


def test_a_line_beneath_the_mulch_loses_nothing_to_it() -> None:
    straw = Mulch("straw")
    drip = replace(bed("tomato_tall", "loam", count=6, means="drip_line"), mulch=straw)
    over = replace(bed("tomato_tall", "loam", count=6, means="sprinkler"), mulch=straw)
    for place, kept in ((drip, False), (over, True)):
        laid = days_of(place, "warm", 60)
        result = laid.run(laid.start(), 50, 51, [(50, 10.0)], logged=False)
        arrived = 10.0 * float(laid.laid.columns.delivery[0, 0])
        held = arrived - float(result.totals[0, INTO_WET, 0])
        assert held == pytest.approx(3.5 if kept else 0.0, abs=1e-9)  # what the catalogue has straw hold


def test_soaks_refill_what_was_missing_under_mulch_too() -> None:
    place = replace(bed("tomato_tall", "loam", count=6, means="sprinkler"), mulch=Mulch("straw"))
    laid, got = season(place, "warm", 100)
    late = [s for s in got.soaks if s.on > START + timedelta(days=70)]
    day = laid.index(late[-1].on)
    assert late[-1].depth_mm * 0.7 > laid.store_mm(day)[0] * 0.3
