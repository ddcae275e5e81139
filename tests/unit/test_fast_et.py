"""The compiled daily form must give what the plain form gives, however the arrays are laid out."""

from __future__ import annotations

import sys
from typing import Any

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.physics import evapotranspiration as et


def weather(shape: tuple[int, ...], seed: int = 7) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    t_min = rng.uniform(-34.9, 35.0, shape)
    return {
        "t_max_c": t_min + rng.uniform(0.0, 19.9, shape),
        "t_min_c": t_min,
        "vapour_pressure_kpa": rng.uniform(0.0, 3.0, shape),
        "solar_mj_m2": rng.uniform(0.0, 40.0, shape),
        "wind_2m_ms": rng.uniform(0.0, 15.0, shape),
    }


def test_the_sample_lies_on_the_fitted_range() -> None:
    from soakbook.physics import _fast_et

    sample = weather((1100, 1501))
    assert sample["t_min_c"].min() >= _fast_et.T_LOW
    assert sample["t_max_c"].max() <= _fast_et.T_HIGH


def both(monkeypatch: pytest.MonkeyPatch, **call: Any) -> tuple[np.ndarray, np.ndarray]:
    monkeypatch.setattr(et, "FAST_FROM", 10**12)
    plain = et.reference_et_daily(**call)
    monkeypatch.setattr(et, "FAST_FROM", 1)
    return plain, et.reference_et_daily(**call)


@pytest.mark.parametrize("days", [300, 1100], ids=["each day once", "days that come again"])
@pytest.mark.parametrize(("convention", "surface"), [("FAO56", "short"), ("ASCE2005", "tall")])
def test_days_by_stations(monkeypatch: pytest.MonkeyPatch, days: int, convention: Any, surface: Any) -> None:
    plain, fast = both(
        monkeypatch,
        **weather((days, 1501)),
        elevation_m=np.linspace(-100.0, 4500.0, 1501),
        lat_deg=np.linspace(-90.0, 90.0, 1501),
        day_of_year=(np.arange(days) % 366 + 1)[:, None],
        convention=convention,
        surface=surface,
        soil_heat_mj_m2=0.3,
    )
    assert np.max(np.abs(plain - fast)) < 1e-9


@pytest.mark.parametrize(
    ("shape", "site"),
    [
        ((5000,), {"elevation_m": 50.0, "lat_deg": 48.0, "day_of_year": np.arange(5000) % 365 + 1}),
        ((40, 60), {"elevation_m": np.full((40, 60), 70.0), "lat_deg": 30.0, "day_of_year": 120}),
        ((40, 60), {"elevation_m": 70.0, "lat_deg": np.linspace(0, 60, 40)[:, None], "day_of_year": np.arange(1, 61)}),
        (
            (3, 40, 60),
            {"elevation_m": 70.0, "lat_deg": np.linspace(-60, 60, 60), "day_of_year": np.arange(1, 41)[:, None]},
        ),
    ],
    ids=["one place", "grid of elevations", "stations down", "three axes"],
)
def test_other_layouts(monkeypatch: pytest.MonkeyPatch, shape: tuple[int, ...], site: dict[str, Any]) -> None:
    plain, fast = both(monkeypatch, **weather(shape), **site)
    assert np.max(np.abs(plain - fast)) < 1e-9


def test_strided_input_and_given_room(monkeypatch: pytest.MonkeyPatch) -> None:
    w = {k: np.asfortranarray(v) for k, v in weather((30, 50)).items()}
    site = {"elevation_m": 10.0, "lat_deg": 45.0, "day_of_year": np.arange(1, 31)[:, None]}
    room = np.empty((30, 50))
    plain, fast = both(monkeypatch, **w, **site, out=room)
    assert fast is room
    np.testing.assert_allclose(room, et.reference_et_daily(**w, **site), rtol=0, atol=1e-9)
    assert plain is room
    striped = np.empty((50, 30)).T
    assert et.reference_et_daily(**w, **site, out=striped) is striped
    np.testing.assert_allclose(striped, room, rtol=0, atol=1e-9)


def test_temperatures_off_the_fitted_range_are_computed_exactly(monkeypatch: pytest.MonkeyPatch) -> None:
    w = weather((50, 80))
    w["t_max_c"][3, 4] = 71.0
    w["t_min_c"][40, 70] = -63.0
    plain, fast = both(monkeypatch, **w, elevation_m=0.0, lat_deg=45.0, day_of_year=np.arange(1, 51)[:, None])
    assert np.max(np.abs(plain - fast)) < 1e-9


def test_missing_values_stay_where_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    w = weather((50, 80))
    for row, values in enumerate(w.values()):
        values[row, 5] = np.nan
    plain, fast = both(monkeypatch, **w, elevation_m=0.0, lat_deg=45.0, day_of_year=np.arange(1, 51)[:, None])
    assert np.isnan(fast[:5, 5]).all()
    np.testing.assert_array_equal(np.isnan(plain), np.isnan(fast))
    np.testing.assert_allclose(plain, fast, rtol=0, atol=1e-9)


@pytest.mark.parametrize("name", ["vapour_pressure_kpa", "solar_mj_m2", "wind_2m_ms"])
@pytest.mark.parametrize("shape", [(50, 80), (4000,)])
def test_negative_weather_is_refused_alike(monkeypatch: pytest.MonkeyPatch, name: str, shape: tuple[int, ...]) -> None:
    w = weather(shape)
    w[name].flat[-1] = -0.25
    monkeypatch.setattr(et, "FAST_FROM", 1)
    with pytest.raises(InputError, match=rf"{name} must be 0 or more \(got -0.25\)"):
        et.reference_et_daily(**w, elevation_m=0.0, lat_deg=45.0, day_of_year=100)


def test_small_arrays_do_not_load_the_compiler() -> None:
    import subprocess

    code = (
        "import sys; from soakbook import reference_et_daily as f;"
        "f(25.0, 12.0, vapour_pressure_kpa=1.0, solar_mj_m2=20.0, wind_2m_ms=2.0, elevation_m=0.0, lat_deg=45.0,"
        " day_of_year=100); raise SystemExit('numba' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
