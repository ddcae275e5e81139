"""What was seen of the wet ground of a place decides its soil."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soakbook.delivery.drip import Case, follow
from soakbook.delivery.ground_of import soils_of
from soakbook.delivery.ground_seen import fit_of, ground_of
from soakbook.garden.model import Place, SoilLayer, Wetted
from soakbook.physics.wetting.ground import Layer
from soakbook.physics.wetting.soils import class_soils

LOAM = Place("bed", "bed", (SoilLayer("texture", texture="loam"),), 3.0, means="drip_line")


def test_nothing_seen_leaves_what_the_name_may_mean() -> None:
    assert ground_of(LOAM) == soils_of(LOAM)
    assert fit_of(LOAM) is None


def test_what_another_soil_would_show_is_found_again() -> None:
    """The wet circle and depth that a soil twice as fast leaves, seen on a bed said to be loam."""
    truth = replace(class_soils("loam")[0], ks_cm_h=2.0 * class_soils("loam")[0].ks_cm_h)
    end = next(e for e in follow(Case((Layer(truth),), 2.0), 1.0) if e.hours >= 1.0)
    seen = replace(LOAM, wetted=Wetted(2.0, 1.0, 2.0 * end.surface_cm / 100.0, end.depth_cm / 100.0))
    (layers,) = ground_of(seen)
    again = next(e for e in follow(Case(layers, 2.0), 1.0) if e.hours >= 1.0)
    # The finger's width to which such a hole is read.
    assert again.surface_cm == pytest.approx(end.surface_cm, abs=1.5)
    assert again.depth_cm == pytest.approx(end.depth_cm, abs=1.5)
    fit = fit_of(seen)
    assert fit is not None
    assert fit.missed_cm < 1.5


def test_only_the_top_layer_is_fitted() -> None:
    two = replace(LOAM, soil=(SoilLayer("texture", 0.25, texture="loam"), SoilLayer("texture", texture="clay_loam")))
    (layers,) = ground_of(replace(two, wetted=Wetted(2.0, 1.0, 0.4, 0.15)))
    beneath = [ground[1] for ground in soils_of(two)]
    assert layers[1] in beneath
    assert layers[0].thickness_cm == 25.0
    assert layers[0].soil not in [ground[0].soil for ground in soils_of(two)]
