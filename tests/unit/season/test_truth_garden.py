"""Drawing true places and living through days in them."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.season.truth import soils
from soakbook.season.truth.day import HOURS, LIGHT, DayWeather, storm, watered
from soakbook.season.truth.draw import Believed, Fault, Hidden, Spread, draw
from soakbook.season.truth.garden import Truth

BED = Believed("tomato_tall", "loam", "wand")
DRIP = Believed("zucchini", "clay_loam", "drip_line")
POT = Believed("lettuce_leaf", "multipurpose", "can", "pot", 25.0)
SOUND = Spread(faults=0.0)


def _with_fault(places: list[Believed], kind: Fault, *, day: int = 0, seed: int = 5) -> Hidden:
    made = draw(places, seed, spread=SOUND)
    size = len(made)
    return replace(made, fault=np.full(size, int(kind)), fault_day=np.full(size, day), fault_size=np.full(size, 0.5))


def _season(hidden: Hidden, days: int, every: int = 3, amount: float = 15.0) -> Truth:
    truth = Truth(hidden)
    for day in range(days):
        rain = 12.0 if day % 7 == 2 else 0.0
        truth.step(DayWeather(5.0, rain), amount if day % every == 0 else 0.0)
    return truth


def test_the_same_seed_is_the_same_garden() -> None:
    one, two, other = (draw([BED, POT], seed) for seed in (3, 3, 4))
    np.testing.assert_array_equal(one.kc, two.kc)
    assert one.layers == two.layers
    assert not np.any(one.kc == other.kc)


def test_a_place_does_not_change_with_its_neighbours() -> None:
    alone, beside = draw([BED], 3), draw([BED, POT], 3)
    assert alone.layers[0] == beside.layers[0]
    assert alone.flow_factor[0] == beside.flow_factor[0]


def test_every_ground_draws_soils_around_the_usual() -> None:
    """Medians of many draws of porosity within 0.03, of n - 1 and conductivity within a third of the middle."""
    for ground in [*soils.CARSEL_PARRISH, "multipurpose", "topsoil_compost_half"]:
        drawn = np.array([soils.draw_soil(ground, np.random.default_rng(i)).row() for i in range(200)])
        usual = soils.usual_soil(ground)
        middle = np.median(drawn, axis=0)
        assert middle[1] == pytest.approx(usual.theta_s, abs=0.03)
        assert middle[4] == pytest.approx(usual.ks_cm_h, rel=0.5)
        assert drawn[:, 3].min() >= 1.2 - 1e-12
        assert np.all(drawn[:, 1] > drawn[:, 0] + 0.15)


def test_two_loams_differ() -> None:
    """Water between -330 and -15,000 cm of nine loams in ten spans more than a third of the median."""
    from soakbook.season.truth.curves import water_content

    drawn = [soils.draw_soil("loam", np.random.default_rng(i)) for i in range(200)]
    held = np.array([float(water_content(s, -330.0) - water_content(s, -15_000.0)) for s in drawn])
    low, middle, high = np.quantile(held, [0.05, 0.5, 0.95])
    assert 0.08 < middle < 0.25
    assert (high - low) / middle > 0.33


def test_faults_come_as_often_as_asked() -> None:
    made = draw([BED, POT, DRIP] * 200, 1, spread=Spread(faults=0.3))
    assert np.mean(made.fault != Fault.NONE) == pytest.approx(0.3, abs=0.06)
    assert not np.any((made.fault == Fault.REPELS) & ~made.is_pot)
    assert not np.any((made.fault == Fault.COMPACTED) & made.is_pot)
    assert set(made.fault.tolist()) == {int(f) for f in Fault}


@pytest.mark.parametrize("wrong", [{"plant": "triffid"}, {"ground": "cheese"}, {"means": "rain_dance"}])
def test_what_is_not_in_the_catalogue_is_refused(wrong: dict[str, str]) -> None:
    with pytest.raises(InputError):
        draw([replace(BED, **wrong)], 1)


def test_feet_carry_all_the_water_and_all_the_roots() -> None:
    made = draw([BED, DRIP, POT], 2)
    np.testing.assert_allclose((made.foot_share * made.foot_dose).sum(axis=1), 1.0)
    np.testing.assert_allclose(made.foot_share.sum(axis=1), 1.0)
    np.testing.assert_allclose(made.foot_roots.sum(axis=1), 1.0)


def test_a_day_is_whole() -> None:
    assert HOURS.sum() == pytest.approx(24.0)
    assert LIGHT.sum() == pytest.approx(1.0)
    np.testing.assert_allclose(watered(np.array([10.0, 600.0]), np.array([300.0, 2.0])).sum(axis=1), [10.0, 600.0])
    for i in range(20):
        assert storm(20.0, np.random.default_rng(i)).sum() == pytest.approx(1.0)


def test_water_adds_up_every_day() -> None:
    """To a millionth of what passed through and is stored, sound places and faulty ones."""
    for kind in (Fault.NONE, Fault.LEAK, Fault.COMPACTED, Fault.REPELS):
        truth = _season(_with_fault([BED, DRIP, POT], kind), 25)
        for day in truth.days:
            passed = day.reached + day.rain + day.transpiration + day.evaporation + day.drainage + day.runoff
            assert np.all(np.abs(day.balance_error) <= 1e-6 * np.maximum(passed, 1.0))


def test_a_plant_never_draws_more_than_it_wants() -> None:
    truth = _season(draw([BED, DRIP, POT] * 3, 8, spread=Spread(compensating=1.0)), 30)
    for day in truth.days:
        assert np.all(day.transpiration <= day.wanted * (1.0 + 1e-6) + 1e-9)


def test_drought_costs_harvest_and_plenty_does_not() -> None:
    made = draw([BED, POT], 8, spread=SOUND)
    dry, wet = Truth(made), Truth(made)
    for _ in range(60):
        dry.step(DayWeather(6.0, 0.0), 0.0)
        wet.step(DayWeather(6.0, 0.0), 9.0)
    assert np.all(dry.account().yield_loss > wet.account().yield_loss + 0.05)
    assert np.all(dry.account().stress_days > wet.account().stress_days)
    assert np.all(dry.account().put_on_mm == 0.0)


def test_drowning_is_seen_and_counted() -> None:
    truth = Truth(draw([Believed("carrot", "clay", "sprinkler")], 2, spread=SOUND))
    for _ in range(10):
        seen = truth.step(DayWeather(1.0, 0.0), 60.0)
    assert truth.account().wet_days[0] > 5
    assert truth.account().drainage_mm[0] + truth.account().runoff_mm[0] > 200.0
    assert seen.ran_off[0]


def test_a_pot_drips_after_a_soaking_and_not_when_dry() -> None:
    truth = Truth(draw([POT], 2, spread=SOUND))
    assert truth.step(DayWeather(4.0, 0.0), 80.0).drained_below[0]
    for _ in range(6):
        seen = truth.step(DayWeather(4.0, 0.0), 0.0)
    assert not seen.drained_below[0]


def test_the_gauge_in_shadow_reads_less_than_falls() -> None:
    sound, shaded = Truth(_with_fault([BED], Fault.NONE)), Truth(_with_fault([BED], Fault.GAUGE_IN_SHADOW))
    a, b = (t.step(DayWeather(2.0, 10.0)) for t in (sound, shaded))
    assert b.gauge_mm[0] == pytest.approx(0.5 * a.gauge_mm[0])
    assert sound.days[0].rain[0] == shaded.days[0].rain[0]


@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [(Fault.BLOCKED, 0.3, 0.4), (Fault.NEVER_OPENED, 0.0, 0.0), (Fault.LEAK, 1.2, 1.4), (Fault.LEFT_ON, 3.0, 12.0)],
)
def test_faults_of_delivery_start_on_their_day(kind: Fault, low: float, high: float) -> None:
    sound, faulty = Truth(_with_fault([BED], Fault.NONE)), Truth(_with_fault([BED], kind, day=1))
    for truth in (sound, faulty):
        for _ in range(2):
            truth.step(DayWeather(4.0, 0.0), 10.0)
    before, after = (faulty.days[d].put_on[0] / sound.days[d].put_on[0] for d in (0, 1))
    assert before == 1.0
    assert low <= after <= high


def test_a_leak_spends_more_and_brings_less() -> None:
    sound, leaking = Truth(_with_fault([BED], Fault.NONE)), Truth(_with_fault([BED], Fault.LEAK))
    for truth in (sound, leaking):
        truth.step(DayWeather(4.0, 0.0), 10.0)
    assert leaking.days[0].put_on[0] > sound.days[0].put_on[0]
    assert leaking.days[0].reached[0] < 0.8 * sound.days[0].reached[0]


def test_a_mix_that_repels_lets_water_through_once_dry() -> None:
    sound, repelling = Truth(_with_fault([POT], Fault.NONE)), Truth(_with_fault([POT], Fault.REPELS))
    for truth in (sound, repelling):
        for _ in range(70):
            truth.step(DayWeather(7.0, 0.0), 0.0)
        truth.step(DayWeather(7.0, 0.0), 10.0)
    assert sound.days[-1].drainage[0] < 0.1
    assert repelling.days[-1].drainage[0] > 0.6 * repelling.days[-1].reached[0]


def test_a_hard_layer_holds_water_up_and_roots_back() -> None:
    soft, hard = (_with_fault([BED], Fault.NONE), draw([BED] * 30, 5, spread=Spread(faults=1.0)))
    assert np.isinf(soft.root_stop_cm[0])
    packed = hard.fault == Fault.COMPACTED
    assert packed.any()
    assert np.all(hard.root_stop_cm[packed] < 40.0)
    assert all(len(set(hard.layers[i])) == 3 for i in np.flatnonzero(packed))


def test_the_probe_rises_with_wetness_and_is_the_same_when_read_twice() -> None:
    truth = Truth(replace(draw([BED, POT], 2, spread=SOUND)))
    dry = [truth.probe(10.0) for _ in (0, 1)]
    np.testing.assert_array_equal(dry[0], dry[1])
    truth.step(DayWeather(1.0, 0.0), 60.0)
    assert np.all(truth.probe(10.0) >= dry[0] - 1.0)
    assert np.all(truth.feel(10.0) >= 3)
    for _ in range(50):
        truth.step(DayWeather(7.0, 0.0), 0.0)
    assert np.all(truth.probe(10.0) < dry[0] + 1.0)
    assert np.all(truth.feel(10.0) <= 2)


def test_a_clone_goes_its_own_way_under_the_same_sky() -> None:
    truth = _season(draw([BED, POT], 2), 10)
    other = truth.clone()
    for each in (truth, other):
        each.step(DayWeather(5.0, 8.0), 0.0)
    for f in fields(truth.days[-1]):
        np.testing.assert_array_equal(getattr(truth.days[-1], f.name), getattr(other.days[-1], f.name))
    other.step(DayWeather(5.0, 0.0), 30.0)
    assert truth.day == 11
    assert len(truth.days) == 11
    np.testing.assert_array_less(truth.stored_mm(), other.stored_mm())


def test_what_a_wetted_strip_sheds_runs_onto_the_dry_ground_beside() -> None:
    made = draw([Believed("carrot", "silty_clay", "drip_line")], 3, spread=SOUND)
    truth = Truth(made)
    _, before = truth.water_content()
    truth.step(DayWeather(1.0, 0.0), 40.0)
    _, after = truth.water_content()
    assert np.nansum(after[1] - before[1]) > 0.05
    assert abs(truth.days[0].balance_error[0]) < 1e-4


def test_the_season_ends_with_the_crop() -> None:
    made = draw([BED], 2, spread=SOUND)
    truth = Truth(replace(made, stage_days=np.array([[1.0, 1.0, 1.0, 1.0]])))
    for _ in range(8):
        truth.step(DayWeather(5.0, 0.0))
    assert truth.ripe()[0]
    stopped = truth.account().yield_loss[0]
    truth.step(DayWeather(9.0, 0.0))
    assert truth.account().yield_loss[0] == stopped
