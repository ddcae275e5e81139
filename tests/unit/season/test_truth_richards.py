"""The solver against an independent solution, closed forms and what physics demands."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.special import hyp2f1

from soakbook.season.truth import curves
from soakbook.season.truth.columns import Moved, advance, columns
from soakbook.season.truth.compiled import solver
from soakbook.season.truth.curves import Soil
from soakbook.season.truth.kinds import CLOSED, FREE, HEAD, SEEPAGE
from soakbook.season.truth.soils import CARSEL_PARRISH

LOAM = Soil(0.078, 0.43, 0.036, 1.56, 24.96 / 24.0)
SAND = Soil(0.045, 0.43, 0.145, 2.68, 712.8 / 24.0)
CLAY = Soil(0.068, 0.38, 0.008, 1.09, 4.8 / 24.0)
#: Ideal mix of the reference collection for containers.
MIX = Soil(0.110, 0.850, 0.1783, 1.509, 30.0)


def _closes(moved: Moved) -> None:
    passed = moved.inflow_cm - moved.drainage_cm - moved.transpiration_cm
    assert np.abs(moved.after_cm - moved.before_cm - passed).max() < 1e-7 * moved.before_cm.max()


@pytest.mark.parametrize("soil", [SAND, LOAM, CLAY, MIX])
def test_tables_agree_with_the_formulas(soil: Soil) -> None:
    """Between the points: water content to 1e-6, conductivity to a thousandth away from the kink."""
    look, made, x = solver()._look, curves.table(soil), np.geomspace(3.0, 2e4, 301)
    for suction in x:
        theta, slope, _, k = look(made, -suction)
        assert theta == pytest.approx(float(curves.water_content(soil, -suction)), abs=1e-6)
        assert k == pytest.approx(float(curves.conductivity_cm_h(soil, -suction)), rel=1e-3)
        assert slope > 0.0


def test_against_the_method_of_lines() -> None:
    """Wetting of a two-layered column under a steady rain, roots drawing, by scipy, with means of its own."""
    cells, roots = 60, np.exp(-np.arange(60) / 15.0)
    soils, thick, rain, want = [LOAM] * 30 + [Soil(0.065, 0.41, 0.075, 1.89, 4.42)] * 30, np.full(60, 1.0), 0.5, 0.02
    roots /= roots.sum()
    state = columns([thick], [soils], [-300.0], kind=FREE)
    state.roots[:], state.draws_cm[:] = roots, [-10.0, -25.0, -400.0, -8000.0]
    moved = advance(state, [8.0], rain, 0.0, want, tolerance=2e-5)

    at, weight = np.polynomial.legendre.leggauss(12)

    def mean(soil: Soil, a: float, b: float) -> float:
        """Mean conductivity over the heads between, by quadrature in the logarithm of suction."""
        la, lb = np.log(-a), np.log(-b)
        if abs(la - lb) < 1e-9:
            return float(curves.conductivity_cm_h(soil, a))
        y = 0.5 * (la + lb) + 0.5 * (lb - la) * at
        return float(
            (weight * curves.conductivity_cm_h(soil, -np.exp(y)) * np.exp(y)).sum() * 0.5 * (lb - la) / (a - b)
        )

    def change(_: float, head: np.ndarray) -> np.ndarray:
        flow = np.empty(cells + 1)
        flow[0] = rain
        for i in range(1, cells):
            above, below = mean(soils[i - 1], head[i - 1], head[i]), mean(soils[i], head[i - 1], head[i])
            flow[i] = 2.0 / (1.0 / above + 1.0 / below) * (head[i - 1] - head[i] + 1.0)
        flow[cells] = curves.conductivity_cm_h(soils[-1], head[-1])
        drawn = want * roots * np.interp(-head, [10.0, 25.0, 400.0, 8000.0], [0.0, 1.0, 1.0, 0.0])
        slope = np.array([float(curves.water_content(s, h + 1e-3) - curves.water_content(s, h - 1e-3)) / 2e-3
                          for s, h in zip(soils, head, strict=True)])  # fmt: skip
        return (flow[:-1] - flow[1:] - drawn) / slope

    band = {"lband": 1, "uband": 1}
    other = solve_ivp(change, (0.0, 8.0), np.full(cells, -300.0), method="LSODA", rtol=1e-6, atol=1e-4, **band)
    assert other.success
    theta = np.array([float(curves.water_content(s, h)) for s, h in zip(soils, other.y[:, -1], strict=True)])
    np.testing.assert_allclose(state.water_content()[0], theta, atol=2e-3)
    assert float(moved.after_cm[0]) == pytest.approx(theta.sum(), abs=2e-3)


@pytest.mark.parametrize(
    ("height_cm", "capacity"),
    [(4.0, 0.8016), (7.6, 0.7496), (10.0, 0.7192), (15.0, 0.6668), (20.0, 0.6258), (30.0, 0.5658), (40.0, 0.5234)],
)
def test_a_soaked_pot_drains_to_container_capacity(height_cm: float, capacity: float) -> None:
    """Mean water content of a hydrostatic pot, closed form of the reference collection; a month of draining gets there."""
    m = 1.0 - 1.0 / MIX.n
    closed = hyp2f1(m, 1.0 / MIX.n, 1.0 + 1.0 / MIX.n, -((MIX.alpha_per_cm * height_cm) ** MIX.n))
    assert MIX.theta_r + (MIX.theta_s - MIX.theta_r) * closed == pytest.approx(capacity, abs=1e-4)
    cells = max(12, round(2 * height_cm))
    thick = np.full(cells, height_cm / cells)
    state = columns([thick], [[MIX] * cells], [-0.1], kind=SEEPAGE)
    moved = advance(state, [24.0] * 30, 0.0, 0.0, 0.0)
    assert float(moved.after_cm[0]) / height_cm == pytest.approx(capacity, abs=1.5e-3)
    _closes(moved)


def test_still_water_stays_still() -> None:
    thick = np.full(50, 2.0)
    depth = np.cumsum(thick) - 1.0
    for soils in ([LOAM] * 50, [SAND] * 20 + [CLAY] * 30):
        state = columns([thick], [soils], [depth - 150.0], kind=CLOSED)
        advance(state, [240.0], 0.0, 0.0, 0.0)
        np.testing.assert_allclose(state.head_cm[0], depth - 150.0, atol=1e-3)


def test_steady_rain_drains_at_its_own_rate() -> None:
    """Under unit gradient K(h) equals the rain."""
    state = columns([np.full(40, 2.5)], [[LOAM] * 40], [-100.0], kind=FREE)
    advance(state, [2400.0], 0.02, 0.0, 0.0)
    np.testing.assert_allclose(curves.conductivity_cm_h(LOAM, state.head_cm[0]), 0.02, rtol=2e-3)


def test_more_than_the_soil_takes_ponds_and_runs_off() -> None:
    """Long ponded, soil takes Ks and a little for the pond: what is beyond runs off."""
    thick = 1.08 ** np.arange(28)
    state = columns([thick], [[CLAY] * 28], [-300.0], kind=FREE, pond_most_cm=0.5)
    advance(state, [400.0], 1.0, 0.0, 0.0)
    moved = advance(state, [10.0], 1.0, 0.0, 0.0)
    assert float(state.pond_cm[0]) == pytest.approx(0.5)
    assert float(moved.inflow_cm[0]) / 10.0 == pytest.approx(CLAY.ks_cm_h, rel=0.05)
    assert float(moved.inflow_cm[0] + moved.runoff_cm[0]) == pytest.approx(10.0, rel=1e-9)


def _evaporated(top_cm: float, head_cm: float, days: int) -> np.ndarray:
    count = round(np.log1p(0.08 * 100.0 / top_cm) / np.log(1.08))
    state = columns([top_cm * 1.08 ** np.arange(count)], [[LOAM] * count], [head_cm], kind=CLOSED)
    daily = [float(advance(state, [24.0], 0.0, 0.025, 0.0).evaporation_cm[0]) for _ in range(days)]
    assert state.head_cm.min() > -15_000.0
    return np.cumsum(daily)


def test_a_wet_soil_loses_what_the_air_asks_for() -> None:
    assert _evaporated(1.0, -20.0, 1)[0] == pytest.approx(0.6, rel=1e-6)


def test_a_drying_soil_loses_with_the_root_of_time() -> None:
    total = _evaporated(0.5, -150.0, 20)
    assert total[0] < 0.6
    assert total[19] / total[9] == pytest.approx(np.sqrt(2.0), rel=0.03)


def test_evaporation_does_not_hang_on_the_grid() -> None:
    assert _evaporated(1.0, -150.0, 10)[-1] == pytest.approx(_evaporated(0.1, -150.0, 10)[-1], rel=0.03)


def test_full_layers_conduct_as_resistances_in_a_row() -> None:
    """Darcy: length over the sum of length / Ks, exact on four cells since both layers stay full."""
    state = columns([[10.0] * 4], [[SAND] * 2 + [LOAM] * 2], [-1.0], kind=HEAD, below_cm=0.0, top_cm=0.0)
    advance(state, [200.0], 0.0, 0.0, 0.0)
    moved = advance(state, [10.0], 0.0, 0.0, 0.0)
    expected = 40.0 / (20.0 / SAND.ks_cm_h + 20.0 / LOAM.ks_cm_h)
    assert float(moved.inflow_cm[0]) / 10.0 == pytest.approx(expected, rel=1e-5)
    assert float(moved.drainage_cm[0]) / 10.0 == pytest.approx(expected, rel=1e-5)


def test_water_table_feeds_a_column_from_below() -> None:
    state = columns([np.full(40, 2.0)], [[LOAM] * 40], [-200.0], kind=HEAD, below_cm=0.0)
    moved = advance(state, [2400.0], 0.0, 0.0, 0.0)
    assert float(moved.drainage_cm[0]) < -1.0
    np.testing.assert_allclose(state.head_cm[0], state.middles_cm()[0] - 80.0, atol=0.5)


def test_roots_that_make_up_draw_no_more_than_the_plant_wants() -> None:
    def drawn(omega: float) -> np.ndarray:
        head = np.where(np.arange(40) < 15, -6000.0, -100.0)
        state = columns([np.full(40, 1.0)], [[LOAM] * 40], [head], kind=FREE, omega=omega)
        state.roots[:] = 1.0 / 40
        return advance(state, [12.0], 0.0, 0.0, 0.04).transpiration_cm

    assert float(drawn(1.0)[0]) < 0.9 * 12 * 0.04
    assert float(drawn(0.4)[0]) == pytest.approx(12 * 0.04, rel=0.01)
    assert float(drawn(0.4)[0]) <= 12 * 0.04 + 1e-9


def test_longer_rain_is_the_same_in_one_call_or_in_two() -> None:
    thick = 1.1 ** np.arange(25)
    one, two = (columns([thick], [[LOAM] * 25], [-800.0], kind=FREE) for _ in range(2))
    advance(one, [5.0, 7.0], [[1.0, 0.0]], 0.0, 0.0)
    advance(two, [5.0], 1.0, 0.0, 0.0)
    advance(two, [7.0], 0.0, 0.0, 0.0)
    np.testing.assert_allclose(one.head_cm, two.head_cm, rtol=1e-9)


@settings(max_examples=60)
@given(
    st.sampled_from(sorted(CARSEL_PARRISH)), st.sampled_from(sorted(CARSEL_PARRISH)), st.floats(0.7, 6.0),
    st.floats(0.0, 12.0), st.floats(0.0, 0.06), st.sampled_from([FREE, SEEPAGE, CLOSED]), st.integers(8, 40),
)  # fmt: skip
def test_any_soil_is_solved_and_its_water_adds_up(
    top: str, below: str, dry: float, rain: float, demand: float, kind: int, cells: int
) -> None:
    pair = [Soil(r, s, a, n, k / 24.0) for r, s, a, n, k in (CARSEL_PARRISH[top], CARSEL_PARRISH[below])]
    thick = 1.08 ** np.arange(cells)
    soils = [pair[0]] * (cells // 2) + [pair[1]] * (cells - cells // 2)
    state = columns([thick], [soils], [-(10.0 ** min(dry, 4.0))], kind=kind)
    state.roots[:] = np.exp(-np.arange(cells) / 6.0) / np.exp(-np.arange(cells) / 6.0).sum()
    moved = advance(state, [1.0, 11.0, 12.0], [[rain, 0.0, 0.0]], [[0.0, 0.04, 0.0]], [[0.0, demand, 0.0]])
    through = rain + float(moved.evaporation_cm[0] + moved.transpiration_cm[0] + abs(moved.drainage_cm[0]))
    gap = (
        rain
        - moved.runoff_cm
        - moved.evaporation_cm
        - moved.transpiration_cm
        - moved.drainage_cm
        - (moved.after_cm - moved.before_cm)
    )
    assert abs(float(gap[0])) <= 1e-6 * max(through, 0.1)
    assert 0.0 <= float(moved.transpiration_cm[0]) <= 11 * demand + 1e-9
    assert 0.0 <= float(state.pond_cm[0]) <= 0.5 + 1e-12
    assert float(moved.runoff_cm[0]) >= -1e-12
