"""Gap filling by FAO-56 chapter 3 (R. G. Allen et al., FAO Irrigation and Drainage Paper 56, 1998)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.eto import series_eto
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import normals_at
from soakbook.weather.series import (
    FILLED_NEIGHBOUR,
    FILLED_NORMALS,
    FILLED_RULE,
    MEASURED,
    REJECTED,
    FloatArray,
    WeatherSeries,
)

NAN = float("nan")


def days(first: str = "2024-07-15", *, lat_deg: float = 45.72, **columns: list[float]) -> WeatherSeries:
    n = len(next(iter(columns.values())))
    values: dict[str, FloatArray] = {k: np.array(v, dtype=float) for k, v in columns.items()}
    return WeatherSeries(
        step="day", times=np.datetime64(first, "D") + np.arange(n), columns=values, lat_deg=lat_deg, lon_deg=5.08,
        elevation_m=200.0, time_zone="Europe/Paris", source="made up", kind=np.zeros(n, dtype=np.uint8),
    )  # fmt: skip


def test_example_20_with_temperatures_only() -> None:
    # FAO-56 example 20, p. 77: Lyon (45°43' N, 200 m), 15 July (day 196), Tmax 26.6, Tmin 14.8; printed Rs 22.29
    # (kRs 0.16), ea 1.68 from Tmin, u2 2 m/s, ETo 4.56 mm/day.
    filled = fill_gaps(days("2023-07-15", t_max_c=[26.6], t_min_c=[14.8]))
    assert filled.get("solar_mj_m2")[0] == pytest.approx(22.3, abs=0.05)
    assert filled.get("vapour_pressure_kpa")[0] == pytest.approx(1.68, abs=0.005)
    assert filled.get("wind_2m_ms")[0] == 2.0
    for column in ("solar_mj_m2", "vapour_pressure_kpa", "wind_2m_ms", "rain_mm"):
        assert filled.flag(column).tolist() == [FILLED_RULE]
    assert series_eto(filled)[0] == pytest.approx(4.56, abs=0.01)


def test_nothing_is_touched_where_everything_was_measured() -> None:
    series = days(
        t_max_c=[25.0], t_min_c=[12.0], vapour_pressure_kpa=[1.3], wind_2m_ms=[1.5], solar_mj_m2=[20.0], rain_mm=[3.0]
    )
    filled = fill_gaps(series)
    assert not filled.flags
    assert {k: v.tolist() for k, v in filled.columns.items()} == {k: v.tolist() for k, v in series.columns.items()}


def test_sunshine_goes_before_the_temperature_range() -> None:
    # FAO-56 example 10: Rio de Janeiro (22.9° S), May, 220 h of sunshine in 31 days (7.1 h a day), Rs = 14.5 MJ/m².
    series = days("2023-05-15", lat_deg=-22.9, t_max_c=[25.0], t_min_c=[19.0], sunshine_h=[7.1])
    filled = fill_gaps(series)
    assert filled.get("solar_mj_m2")[0] == pytest.approx(14.5, abs=0.1)
    assert any("sunshine" in n for n in filled.notes)


def test_measured_humidity_goes_before_the_rule() -> None:
    # FAO-56 example 5: Tmin 18 °C with RHmax 82 %, Tmax 25 °C with RHmin 54 %: ea = 1.70 kPa.
    series = days(t_max_c=[25.0, 25.0], t_min_c=[18.0, 18.0], rh_max_pct=[82.0, NAN], rh_min_pct=[54.0, NAN])
    filled = fill_gaps(series)
    assert filled.get("vapour_pressure_kpa")[0] == pytest.approx(1.70, abs=0.005)
    assert filled.flag("vapour_pressure_kpa").tolist() == [MEASURED, FILLED_RULE]


def test_dry_climates_have_their_dew_point_below_the_minimum() -> None:
    # FAO-56 Annex 6: dew point 2 to 3 °C below the minimum temperature in arid and semi-arid climates.
    phoenix, de_bilt = normals_at(33.43, -112.0, 337.0), normals_at(52.1, 5.18, 4.0)
    assert phoenix.aridity_index < 0.2 < 0.65 < de_bilt.aridity_index
    series = days(t_max_c=[35.0], t_min_c=[20.0])
    dry, humid = fill_gaps(series, phoenix), fill_gaps(series, de_bilt)
    assert humid.get("vapour_pressure_kpa")[0] == pytest.approx(2.338, abs=0.001)  # FAO-56 Annex 2, table 2.3, 20 °C
    assert dry.get("vapour_pressure_kpa")[0] == pytest.approx(2.064, abs=0.001)  # the same table, 18 °C


def test_coasts_have_the_other_coefficient() -> None:
    series = days(t_max_c=[22.0], t_min_c=[17.0])
    inland, coast = fill_gaps(series), fill_gaps(series, is_coastal=True)
    assert coast.get("solar_mj_m2")[0] / inland.get("solar_mj_m2")[0] == pytest.approx(0.19 / 0.16)


def test_wind_default_and_floor() -> None:
    series = days(t_max_c=[25.0] * 3, t_min_c=[12.0] * 3, wind_2m_ms=[NAN, 0.1, 3.0])
    filled = fill_gaps(series)
    assert filled.get("wind_2m_ms").tolist() == [2.0, 0.5, 3.0]
    assert filled.flag("wind_2m_ms").tolist() == [FILLED_RULE, FILLED_RULE, MEASURED]


def test_missing_rain_is_dry_flagged_and_counted() -> None:
    filled = fill_gaps(days(t_max_c=[25.0] * 3, t_min_c=[12.0] * 3, rain_mm=[1.0, NAN, NAN]))
    assert filled.get("rain_mm").tolist() == [1.0, 0.0, 0.0]
    assert filled.flag("rain_mm").tolist() == [0, FILLED_RULE, FILLED_RULE]
    assert any("rain_mm, 2 days" in n for n in filled.notes)


def test_short_gaps_of_temperature_are_bridged() -> None:
    filled = fill_gaps(days(t_max_c=[20.0, NAN, NAN, NAN, 28.0], t_min_c=[10.0] * 5))
    np.testing.assert_allclose(filled.get("t_max_c"), [20.0, 22.0, 24.0, 26.0, 28.0])
    assert filled.flag("t_max_c").tolist() == [0] + [FILLED_NEIGHBOUR] * 3 + [0]


def test_long_gaps_need_normals_and_the_error_names_the_days() -> None:
    gap = [20.0, NAN, NAN, NAN, NAN, 28.0]
    series = days(t_max_c=gap, t_min_c=gap)
    with pytest.raises(InputError, match="2024-07-16 to 2024-07-19"):
        fill_gaps(replace(series, columns={"t_max_c": np.array(gap), "t_min_c": np.array(gap) - 10}))
    filled = fill_gaps(days(t_max_c=gap, t_min_c=[10.0] * 6), normals_at(45.73, 5.08, 200.0))
    assert filled.flag("t_max_c").tolist() == [0] + [FILLED_NORMALS] * 4 + [0]
    # Lyon's mean July maximum is 26.6 °C in FAO-56 example 20 (earlier years); today's normals are a little warmer.
    assert 24.0 < filled.get("t_max_c")[2] < 31.0


def test_rejected_values_become_fills() -> None:
    series = days(t_max_c=[20.0, NAN, 24.0], t_min_c=[10.0] * 3)
    series = replace(series, flags={"t_max_c": np.array([0, REJECTED, 0], dtype=np.uint8)})
    assert fill_gaps(series).flag("t_max_c").tolist() == [0, FILLED_NEIGHBOUR, 0]


def test_a_filled_extreme_never_crosses_the_measured_one() -> None:
    filled = fill_gaps(days(t_max_c=[20.0, NAN, 20.0], t_min_c=[10.0, 22.0, 10.0]))
    assert (filled.get("t_max_c") >= filled.get("t_min_c")).all()
    assert filled.get("t_min_c")[1] == 22.0


def test_no_latitude_is_an_error() -> None:
    with pytest.raises(InputError, match="latitude"):
        fill_gaps(replace(days(t_max_c=[20.0], t_min_c=[10.0]), lat_deg=NAN))


def test_hours_are_filled_too() -> None:
    n = 48
    t = 20.0 + 5.0 * np.sin(np.arange(n) / 24.0 * 2 * np.pi)
    t[5] = NAN
    series = WeatherSeries(
        step="hour", times=np.datetime64("2024-07-01T00:00:00", "s") + np.arange(n) * np.timedelta64(3600, "s"),
        columns={"t_mean_c": t}, lat_deg=45.0, lon_deg=5.0, elevation_m=200.0, time_zone="Europe/Paris",
        source="made up", kind=np.zeros(n, dtype=np.uint8),
    )  # fmt: skip
    filled = fill_gaps(series)
    assert filled.flag("t_mean_c")[5] == FILLED_NEIGHBOUR
    # 1 July, 45° N: hours of night have no sun; FAO-56 table 2.6 puts Ra at 41.6 MJ/m² there.
    day = filled.get("solar_mj_m2")[:24]
    assert day.min() == 0.0
    assert day.sum() == pytest.approx(0.16 * np.sqrt(10.0) * 41.6, rel=0.03)
    assert np.isfinite(series_eto(filled)).all()
