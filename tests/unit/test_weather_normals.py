"""Offline normals: months conserved, heights and distances, annual totals computed independently."""

from __future__ import annotations

import time
from datetime import date

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather import normals as room
from soakbook.weather.eto import series_eto
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import expected_weather, normals_at
from soakbook.weather.series import EXPECTED
from soakbook.weather.smooth import daily_from_months
from tests.pace import within

#: Annual reference evapotranspiration of the stations' normals with u2 = 2 m/s, computed by another program when the
#: table was made: De Bilt 637, Seville 1494, Phoenix 1985, Sacramento 1380, Heathrow 710, Nairobi 1549 mm.
ANNUAL = [
    (52.10, 5.18, 4.0, 637.0),
    (37.42, -5.88, 31.0, 1494.0),
    (33.43, -112.00, 337.0, 1985.0),
    (38.51, -121.50, 7.0, 1380.0),
    (51.48, -0.45, 25.0, 710.0),
    (-1.32, 36.93, 1624.0, 1549.0),
]


@pytest.mark.parametrize(("lat", "lon", "height", "annual_mm"), ANNUAL)
def test_annual_reference_evapotranspiration(lat: float, lon: float, height: float, annual_mm: float) -> None:
    normals = normals_at(lat, lon, height)
    year = fill_gaps(expected_weather(normals, date(2023, 1, 1), date(2023, 12, 31)), normals)
    assert series_eto(year).sum() == pytest.approx(annual_mm, rel=0.03)


@pytest.mark.parametrize("year", [2023, 2024])
@pytest.mark.parametrize(("lat", "lon"), [(52.1, 5.18), (37.42, -5.88), (38.51, -121.5), (-33.9, 18.4), (1.3, 103.9)])
def test_each_month_is_conserved(year: int, lat: float, lon: float) -> None:
    normals = normals_at(lat, lon)
    series = expected_weather(normals, date(year, 1, 1), date(year, 12, 31))
    month = series.times.astype("datetime64[M]").astype(int) % 12
    for m in range(12):
        here = month == m
        assert series.get("t_max_c")[here].mean() == pytest.approx(normals.t_max_c[m], abs=1e-9)
        assert series.get("t_min_c")[here].mean() == pytest.approx(normals.t_min_c[m], abs=1e-9)
        assert series.get("rain_mm")[here].sum() == pytest.approx(normals.rain_mm[m], abs=1e-6)
    assert (series.get("rain_mm") >= 0.0).all()
    assert (series.kind == EXPECTED).all()


def test_days_do_not_depend_on_where_the_span_begins() -> None:
    normals = normals_at(50.0, 8.6)
    year = expected_weather(normals, date(2023, 1, 1), date(2024, 12, 31))
    week = expected_weather(normals, date(2023, 7, 10), date(2023, 7, 16))
    part = year.between(week.times[0], week.times[-1])
    np.testing.assert_allclose(week.get("t_max_c"), part.get("t_max_c"), atol=0.02)
    np.testing.assert_allclose(week.get("rain_mm"), part.get("rain_mm"), atol=0.02)


def test_a_constant_year_is_constant_every_day() -> None:
    days = daily_from_months(np.full(12, 7.5), np.datetime64("2024-01-01"), np.datetime64("2024-12-31"))
    np.testing.assert_allclose(days, 7.5)


def test_daily_values_are_smooth_across_months() -> None:
    normals = normals_at(52.1, 5.18)
    days = expected_weather(normals, date(2023, 1, 1), date(2023, 12, 31)).get("t_max_c")
    # The steepest month-to-month change is about 5 K in 30 days.
    assert np.abs(np.diff(days)).max() < 0.35


def test_a_month_without_rain_has_none_on_any_day() -> None:
    months = np.array([80, 60, 40, 10, 0, 0, 0, 0, 5, 30, 60, 90], dtype=float)
    days = daily_from_months(
        months, np.datetime64("2023-01-01"), np.datetime64("2023-12-31"), is_total=True, at_least=0.0
    )
    assert (days >= 0.0).all()
    assert days[120:243].max() < 1e-12  # May to August
    assert days.sum() == pytest.approx(375.0)


def test_height_cools_by_the_lapse_rate() -> None:
    low, high = normals_at(47.0, 11.0, 600.0), normals_at(47.0, 11.0, 601.0)
    # ICAO standard atmosphere: 6.5 K per km.
    np.testing.assert_allclose(low.t_max_c - high.t_max_c, 0.0065, atol=5e-3)
    assert high.vapour_pressure_kpa[6] < low.vapour_pressure_kpa[6]


def test_without_height_that_of_the_stations_is_taken_and_said() -> None:
    normals = normals_at(52.1, 5.18)
    assert normals.elevation_m == pytest.approx(4.0, abs=1.0)
    assert any("Elevation is not known" in n for n in normals.notes)


def test_stations_and_distances_are_said() -> None:
    normals = normals_at(52.1, 5.18, 4.0)
    assert normals.stations[0].name == "De Bilt"
    assert normals.stations[0].distance_km < 1.0
    assert sum(s.weight for s in normals.stations) == pytest.approx(1.0)
    assert "De Bilt (Netherlands" in normals.notes[0]


def test_distance_on_the_sphere() -> None:
    # A quarter of the meridian of a 6371 km sphere is 10 007.5 km.
    assert room.distances_km(0.0, 0.0, np.array([90.0]), np.array([0.0]))[0] == pytest.approx(10_007.5, abs=0.1)
    # Across the date line.
    assert room.distances_km(0.0, 179.5, np.array([0.0]), np.array([-179.5]))[0] == pytest.approx(111.19, abs=0.01)


def test_the_open_ocean_has_no_normals() -> None:
    with pytest.raises(InputError, match="no weather station lies within 1000 km"):
        normals_at(-45.0, -120.0)


def test_far_stations_are_a_warning() -> None:
    far = normals_at(23.0, 11.0)  # the middle of the Sahara
    assert far.stations[0].distance_km > 150.0
    assert any("rough guess" in n for n in far.notes)


def test_rain_of_a_wet_day() -> None:
    normals = normals_at(52.1, 5.18, 4.0)
    np.testing.assert_allclose(normals.wet_day_rain_mm * normals.wet_days, normals.rain_mm)
    assert (normals_at(37.42, -5.88, 31.0).wet_day_rain_mm[6]) == 0.0  # no rain day in a July of Seville


def test_normals_load_quickly() -> None:
    room._table.cache_clear()
    begin = time.perf_counter()
    normals_at(50.0, 8.6)
    assert within(time.perf_counter() - begin, 0.25)  # 0.015 s on an idle machine; room for a busy one


def test_days_in_the_wrong_order() -> None:
    with pytest.raises(InputError, match="before the first"):
        expected_weather(normals_at(50.0, 8.6), date(2024, 2, 1), date(2024, 1, 1))
