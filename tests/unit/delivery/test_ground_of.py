"""A garden's soil as the solver wants it: against printed soils, the catalogue, and what stays of the spread."""

from __future__ import annotations

from dataclasses import replace
from math import inf, isinf, log

import pytest

from soakbook.catalog import read
from soakbook.delivery.drip import Case, follow
from soakbook.delivery.ground_of import fitted_curves, grounds_of_class, soils_of
from soakbook.errors import InputError
from soakbook.garden.model import Place, SoilLayer
from soakbook.physics.wetting.curves import VanGenuchten
from soakbook.physics.wetting.ground import Layer
from soakbook.physics.wetting.soils import CARSEL_PARRISH, class_soils


def bed(*layers: SoilLayer) -> Place:
    return Place("a bed", "bed", layers, 2.0)


def held(soil: VanGenuchten, suction_cm: float) -> float:
    return soil.theta_r + (soil.theta_s - soil.theta_r) * float(soil.saturation(-suction_cm))


LOAM = SoilLayer("texture", texture="loam")


def test_a_loam_by_any_route_is_the_loam_of_both_tables() -> None:
    by_sand = SoilLayer("particles", sand_pct=40.0, clay_pct=20.0)
    by_feel = SoilLayer("feel", feel=("ball", "short", "neither"))
    by_jar = SoilLayer("jar", jar_sand_mm=40.0, jar_silt_mm=40.0, jar_clay_mm=25.0)
    for layer in (LOAM, by_sand, by_feel, by_jar):
        assert soils_of(bed(layer)) == grounds_of_class("loam")
    assert [ground[0].soil for ground in soils_of(bed(LOAM))] == list(class_soils("loam"))


#: Saxton and Rawls 2006, Table 3: volume at 1500 and 33 kPa and at saturation [%], conductivity [mm/h].
TABLE_3 = {
    "loam": (14, 28, 46, 15.5), "silt_loam": (11, 31, 48, 16.1), "clay_loam": (22, 36, 48, 4.3), "clay": (30, 42, 50, 1.1),
    "silty_clay": (27, 41, 52, 3.7), "sandy_clay": (25, 36, 44, 1.4), "silt": (6, 30, 48, 22.0),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLE_3)
def test_a_curve_goes_through_what_the_laboratory_found(name: str) -> None:
    wilting, drained, full, ks = TABLE_3[name]
    for soil in fitted_curves(drained / 100.0, wilting / 100.0, full / 100.0, ks):
        assert held(soil, 15_000.0) == pytest.approx(wilting / 100.0, abs=0.01)
        assert held(soil, 33.0 * 10.197) == pytest.approx(drained / 100.0, abs=0.01)
        assert soil.theta_s == full / 100.0
        assert soil.ks_cm_h == pytest.approx(ks / 10.0)


def test_the_spread_stays_where_the_conductivity_is_not_known() -> None:
    one, other = fitted_curves(0.28, 0.14)
    assert other.ks_cm_h < 0.7 * one.ks_cm_h
    assert len(soils_of(bed(SoilLayer("measured", field_capacity=0.28, wilting_point=0.14)))) == 2


def test_curves_of_its_own_are_nearer_than_the_class() -> None:
    """Soils of the one table as the truth; known of them are field capacity, wilting point, saturation and conductivity. The rival is even given the right class."""
    own, by_class = [], []
    for name in ("sandy_loam", "loam", "silt_loam", "sandy_clay_loam", "clay_loam"):
        near, true = class_soils(name)
        drained_cm = 204.0 if name == "sandy_loam" else 336.5
        fitted = fitted_curves(held(true, drained_cm), held(true, 15_000.0), true.theta_s, 10.0 * true.ks_cm_h)[0]
        for soil, kept in ((fitted, own), (replace(near, ks_cm_h=true.ks_cm_h), by_class)):
            kept += [log(a / b) ** 2 for a, b in zip(reach(soil), reach(true), strict=True)]
    assert sum(own) < 0.25 * sum(by_class)


def reach(soil: VanGenuchten) -> tuple[float, float]:
    run = follow(Case((Layer(soil),), 2.0), 1.0)
    return max(e.widest_cm for e in run), max(e.depth_cm for e in run)


def test_layers_come_one_upon_the_other() -> None:
    mix = SoilLayer("mix", mix="topsoil_compost_half", thickness_m=0.25)
    one, other = soils_of(bed(mix, LOAM))
    assert [layer.thickness_cm for layer in one] == [25.0, inf]
    assert one[0] == other[0]
    assert one[1] != other[1]


def test_a_mix_is_its_curve_in_the_catalogue_and_can_be_followed() -> None:
    for name, row in read.mixes().items():
        (ground,) = soils_of(Place("a pot", "pot", (SoilLayer("mix", mix=name),), 0.1))
        soil = ground[0].soil
        assert isinstance(soil, VanGenuchten)
        assert isinf(ground[0].thickness_cm)
        assert (soil.theta_s, soil.n, 10.0 * soil.ks_cm_h) == pytest.approx(
            (row.theta_s.value, row.n.value, row.ks_mm_h.value)
        )
        assert follow(Case(ground, 2.0), 0.5)[0].depth_cm > 0.0


def test_stones_take_room_and_slow_the_water() -> None:
    """Saxton and Rawls 2006, Eq 22: with half the mass in stones (a third of the volume) about half the conductivity is left."""
    soil = soils_of(bed(SoilLayer("texture", texture="loam", stones_pct_w=50.0)))[0][0].soil
    _, full, _, _, ks_cm_day = CARSEL_PARRISH["loam"]
    assert isinstance(soil, VanGenuchten)
    assert soil.theta_s == pytest.approx(full * 2.0 / 3.0, rel=0.06)
    assert 0.4 < soil.ks_cm_h * 24.0 / ks_cm_day < 0.6


@pytest.mark.parametrize(
    ("layer", "code"),
    [
        (SoilLayer("mix", mix="moon dust"), "ground.mix"),
        (SoilLayer("measured", field_capacity=0.3), "ground.unknown"),
        (SoilLayer("measured", field_capacity=0.3, wilting_point=0.1, saturation=0.2), "ground.order"),
        (SoilLayer("particles", sand_pct=40.0), "ground.unknown"),
    ],
)  # fmt: skip
def test_what_is_not_known_is_said(layer: SoilLayer, code: str) -> None:
    with pytest.raises(InputError) as error:
        soils_of(bed(layer))
    assert error.value.code == code
