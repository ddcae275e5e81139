"""Members of a place: how far apart they stand, and that the kernel takes them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from statistics import NormalDist

import numpy as np
import pytest

from soakbook.balance.layout import Members, best_guess, lay_out
from soakbook.balance.member_weather import eto_and_rain, members_at
from soakbook.balance.place import runs_out
from soakbook.balance.site import site_eto, site_factor, weather_at
from soakbook.balance.spread import (
    FLOW_MEASURED,
    FLOW_PRINTED,
    FLOW_UNKNOWN,
    LITRES_COUNTED,
    MOST_Z,
    catch_sd,
    delivery_sd,
    demand_sd,
    draw_members,
    factor,
    litres_sd,
    tailed,
    untailed,
)
from soakbook.balance.wander import begun
from soakbook.errors import InputError
from soakbook.garden.model import Exposure, Line, Place, Planting, PotShape, SoilLayer
from soakbook.weather.generator import made_weather
from tests.unit.weather_members.weather import FIRST, LAST, normals

LOAM = (SoilLayer("texture", texture="loam"),)
BED = Place("bed", "bed", LOAM, 4.0)
POT = Place("pot", "pot", (SoilLayer("mix", mix="multipurpose"),), 0.07, pot=PotShape(0.3, 0.07, 0.05))


def drawn(place: Place = BED, count: int = 400, seed: int = 1, line: Line | None = None) -> Members:
    return draw_members(place, count, np.random.default_rng(seed), line)


def test_the_best_guess_comes_first() -> None:
    members, one = drawn(), best_guess()
    assert len(members) == 400
    for name in ("store_z", "demand", "catch", "delivery"):
        assert getattr(members, name)[0] == getattr(one, name)[0]
    assert members.drainage_z is not None
    assert members.drainage_z[0] == 0.0


@pytest.mark.parametrize("place", [BED, POT], ids=["bed", "pot"])
def test_factors_have_mean_1_and_the_spread_stated(place: Place) -> None:
    """Rain caught and water delivered may fail grossly, which takes a little off their mean and spreads their lower end."""
    members = drawn(place)
    assert members.demand[1:].mean() == pytest.approx(1.0, abs=0.005)
    assert members.demand[1:].std() == pytest.approx(demand_sd(place), rel=0.05)
    for values, sd in ((members.catch, catch_sd(place)), (members.delivery, delivery_sd(place))):
        assert values[1:].mean() == pytest.approx(1.0, abs=0.015)
        upper, middle = np.quantile(np.log(values[1:]), (0.8413, 0.5))
        assert upper - middle == pytest.approx(sd, rel=0.05)
        assert values.min() > 0.0


def test_one_printed_flow_in_forty_brings_half_or_less() -> None:
    """Normal numbers in even slices: the share of factors under a half and a quarter, with 0.22 in the logarithm (a printed flow)."""
    z = np.array([NormalDist().inv_cdf((k + 0.5) / 40_000) for k in range(40_000)])
    flows = factor(tailed(z), 0.22)
    assert (flows < 0.5).mean() == pytest.approx(1 / 40, abs=0.006)
    assert (flows < 0.25).mean() == pytest.approx(1 / 300, abs=0.002)
    assert untailed(tailed(z)) == pytest.approx(z, abs=1e-9)


def test_standard_deviations_are_normal_and_cut_off() -> None:
    for z in (drawn().store_z, drawn().drainage_z):
        assert z is not None
        assert np.abs(z).max() <= MOST_Z
        assert z[1:].mean() == pytest.approx(0.0, abs=0.02)
        # A normal distribution cut off at 2 has a standard deviation of 0.880 (N. L. Johnson, S. Kotz, 1970).
        assert z[1:].std() == pytest.approx(0.880, abs=0.01)


def test_quantities_are_independent_of_each_other() -> None:
    m = drawn()
    assert m.drainage_z is not None
    together = np.corrcoef([m.store_z[1:], m.demand[1:], m.catch[1:], m.delivery[1:], m.drainage_z[1:]])
    assert np.abs(together - np.eye(5)).max() < 4.0 / np.sqrt(399)


def test_the_same_seed_draws_alike() -> None:
    np.testing.assert_array_equal(drawn(seed=3).store_z, drawn(seed=3).store_z)
    assert (drawn(seed=3).store_z[1:] != drawn(seed=4).store_z[1:]).any()


def test_members_after_the_first_can_be_exchanged() -> None:
    early = np.array([drawn(count=11, seed=s).demand[1] for s in range(300)])
    late = np.array([drawn(count=11, seed=s).demand[10] for s in range(300)])
    assert abs(early.mean() - late.mean()) < 4.0 * early.std() * np.sqrt(2.0 / 300.0)
    assert late.std() == pytest.approx(early.std(), rel=0.2)


def test_what_was_measured_is_known_better() -> None:
    drip = replace(BED, means="drip_line", line="a")
    measured, printed = Line("a", "drip_line", 20.0, flow_is_measured=True), Line("a", "drip_line", 20.0)
    unknown = Line("a", "drip_line")
    assert [litres_sd(drip, line) for line in (measured, printed, unknown)] == [
        FLOW_MEASURED,
        FLOW_PRINTED,
        FLOW_UNKNOWN,
    ]
    assert litres_sd(replace(BED, means="can")) == LITRES_COUNTED
    assert delivery_sd(drip, measured) < delivery_sd(drip, printed) < delivery_sd(drip, unknown)
    assert delivery_sd(replace(BED, means="can")) < delivery_sd(replace(BED, means="wand"))
    seen = Planting("tomato", planted_out=date(2023, 5, 1), width_m=0.5, height_m=1.0)
    guessed = Planting("tomato", planted_out=date(2023, 5, 1))
    assert demand_sd(replace(BED, plantings=(seen,))) < demand_sd(replace(BED, plantings=(guessed,)))
    shaded = replace(BED, exposure=Exposure(horizon=((90.0, 30.0), (180.0, 0.0))))
    assert demand_sd(shaded) > demand_sd(BED)
    assert catch_sd(shaded) > catch_sd(BED)
    assert catch_sd(POT) > catch_sd(BED)


def store_spread(*soil: SoilLayer) -> float:
    columns = lay_out(replace(BED, soil=soil), 0.6, drawn()).columns
    store = (columns.fc_mm - columns.wp_mm)[0].sum(0)
    return float(store.std() / store[0])


def test_the_store_is_known_by_how_it_was_come_by() -> None:
    measured = store_spread(SoilLayer("measured", field_capacity=0.28, wilting_point=0.14))
    texture = store_spread(LOAM[0])
    assert measured < texture
    assert 0.05 < measured < 0.2
    assert 0.2 < texture <= 0.35


def test_the_store_of_every_soil_stays_a_store() -> None:
    for texture in ("sand", "loamy_sand", "loam", "sandy_clay_loam", "clay"):
        columns = lay_out(replace(BED, soil=(SoilLayer("texture", texture=texture),)), 0.6, drawn()).columns
        assert (columns.fc_mm > columns.wp_mm).all()
        assert (columns.sat_mm > columns.fc_mm).all()


def test_drainage_and_intake_move_with_conductivity() -> None:
    columns = lay_out(BED, 0.6, drawn()).columns
    ks, intake = columns.ks_mm_h[0, 0], columns.intake_mm_h[0]
    z = drawn().drainage_z
    assert z is not None
    assert np.log(ks / ks[0]) == pytest.approx(1.6 * z)
    assert np.log(intake / intake[0]) == pytest.approx(0.8 * z)


def test_members_without_drainage_leave_it_as_it_was() -> None:
    one = np.ones(3)
    columns = lay_out(BED, 0.6, Members(np.array([0.0, 1.0, -1.0]), one, one, one)).columns
    assert (columns.ks_mm_h == columns.ks_mm_h[..., :1]).all()
    assert (columns.intake_mm_h == columns.intake_mm_h[..., :1]).all()


def test_no_members_are_refused() -> None:
    assert len(drawn(count=1)) == 1
    with pytest.raises(InputError, match="at least one member"):
        drawn(count=0)


EXPOSURES = {
    "open": Exposure(),
    "walls": Exposure(horizon=((80.0, 25.0), (200.0, 10.0), (300.0, 0.0)), shelter="some"),
    "tunnel": Exposure(cover="tunnel"),
    "eaves": Exposure(rain_fraction=0.4, surroundings="paving", shelter="strong"),
}


@pytest.mark.parametrize("name", EXPOSURES)
def test_members_reach_a_place_as_a_single_line_does(name: str) -> None:
    place = replace(BED, exposure=EXPOSURES[name])
    weather = made_weather(normals(), FIRST, LAST, 3, np.random.default_rng(1))
    here, (eto, rain) = members_at(place, weather), eto_and_rain(place, weather)
    assert eto.shape == rain.shape == (60, 3)
    for k in range(3):
        single = weather_at(place.exposure, weather.series(k))
        np.testing.assert_allclose(here.get("solar_mj_m2")[k], single.get("solar_mj_m2"), rtol=1e-12)
        np.testing.assert_allclose(rain[:, k], single.get("rain_mm"), rtol=1e-12)
        np.testing.assert_allclose(eto[:, k], site_factor(place) * site_eto(single), rtol=1e-12)


@pytest.mark.parametrize("place", [BED, POT], ids=["bed", "pot"])
def test_the_kernel_runs_drawn_members_under_member_weather(place: Place) -> None:
    """run_columns raises where the water does not add up to 1e-9."""
    from soakbook.balance.columns import DRAINAGE, STRESS, state_at
    from soakbook.balance.place import place_days
    from soakbook.balance.run import run_columns
    from soakbook.garden.model import Garden

    planted = replace(place, plantings=(Planting("tomato", planted_out=date(2023, 5, 1)),))
    garden = Garden("g", 39.1, -96.6, 350.0, "America/Chicago", (planted,))
    weather = made_weather(normals(), FIRST, LAST, 50, np.random.default_rng(1))
    days = place_days(garden, planted, weather.series(0), members=draw_members(planted, 50, np.random.default_rng(2)))
    eto, rain = eto_and_rain(planted, weather)
    # The first member's weather is the line that the days were laid out over.
    np.testing.assert_allclose(eto[:, 0], days.forcing.eto_mm[0, :, 0], rtol=1e-9)
    np.testing.assert_allclose(rain[:, 0], days.forcing.rain_mm[0, :, 0], rtol=1e-9)
    forcing = replace(days.forcing, eto_mm=eto[None], rain_mm=rain[None])
    start = state_at(days.laid.columns, forcing.crop[:, 0, -1])
    result = run_columns(days.laid.columns, forcing, start)
    assert np.isfinite(result.fluxes).all()
    assert result.totals[0, DRAINAGE].std() > 0.0
    assert result.fluxes[0, :, STRESS].std(axis=-1).max() > 0.02


def test_a_pot_begins_evenly_between_half_full_and_full() -> None:
    """By the number of the path alone; three quarters for the best guess. As many in each tenth of the range, to one, for as many members as there usually are."""
    held = begun(np.arange(201))
    assert held[0] == 0.75
    counts = np.histogram(held[1:], bins=10, range=(0.5, 1.0))[0]
    assert counts.sum() == 200
    assert counts.min() >= 19
    assert np.array_equal(begun(np.array([7, 3])), held[[7, 3]])


def test_only_a_pot_watered_from_above_is_to_run_out() -> None:
    assert [runs_out(replace(POT, means=means)) for means in ("can", "emitters", "tray", "clay_pot")] == [
        0.2,
        0.2,
        0.0,
        0.0,
    ]
    assert runs_out(BED) == 0.0
