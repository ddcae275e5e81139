"""The grower's own rain gauge over the source's rain."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.gauge import with_own_gauge
from soakbook.weather.series import FILLED_NORMALS, OWN_GAUGE, WeatherSeries


def days(rain: list[float]) -> WeatherSeries:
    n = len(rain)
    return WeatherSeries(
        step="day", times=np.datetime64("2024-06-01", "D") + np.arange(n), columns={"rain_mm": np.array(rain)},
        lat_deg=50.0, lon_deg=8.0, elevation_m=100.0, time_zone="Europe/Berlin", source="made up",
        kind=np.zeros(n, dtype=np.uint8),
    )  # fmt: skip


def june(day: int) -> date:
    return date(2024, 6, day)


def test_a_reading_replaces_the_day() -> None:
    series = with_own_gauge(days([2.0, 5.0, 0.0]), [(june(2), 8.0)])
    assert series.get("rain_mm").tolist() == [2.0, 8.0, 0.0]
    assert series.flag("rain_mm").tolist() == [0, OWN_GAUGE, 0]


def test_a_reading_after_a_pause_is_shared_like_the_rain_of_the_source() -> None:
    series = with_own_gauge(days([1.0, 2.0, 6.0, 2.0]), [(june(1), 0.0), (june(4), 5.0)])
    np.testing.assert_allclose(series.get("rain_mm"), [0.0, 1.0, 3.0, 1.0])
    assert series.flag("rain_mm").tolist() == [OWN_GAUGE] * 4
    assert any("several days" in n for n in series.notes)


def test_where_the_source_was_dry_the_rain_falls_on_the_last_day() -> None:
    series = with_own_gauge(days([0.0, 0.0, 0.0]), [(june(1), 0.0), (june(3), 4.0)])
    assert series.get("rain_mm").tolist() == [0.0, 0.0, 4.0]


def test_zero_says_it_did_not_rain() -> None:
    series = with_own_gauge(days([3.0, 3.0]), [(june(1), 0.0), (june(2), 0.0)])
    assert series.get("rain_mm").tolist() == [0.0, 0.0]


def test_the_total_of_the_readings_is_kept() -> None:
    readings = [(june(2), 3.3), (june(5), 7.1), (june(5), 0.4), (june(6), 1.2)]
    series = with_own_gauge(days([9.0, 1.0, 0.5, float("nan"), 2.0, 8.0, 4.0]), readings)
    changed = series.flag("rain_mm") == OWN_GAUGE
    assert series.get("rain_mm")[changed].sum() == pytest.approx(12.0)
    assert changed.tolist() == [False, True, True, True, True, True, False]


def test_order_of_readings_does_not_matter() -> None:
    readings = [(june(1), 1.0), (june(3), 2.0), (june(4), 3.0)]
    one, other = with_own_gauge(days([1.0] * 5), readings), with_own_gauge(days([1.0] * 5), readings[::-1])
    assert one.get("rain_mm").tolist() == other.get("rain_mm").tolist()


def test_after_a_long_pause_only_the_day_itself_counts() -> None:
    series = with_own_gauge(days([1.0] * 12), [(june(1), 0.0), (june(12), 9.0)])
    assert series.get("rain_mm").tolist() == [0.0] + [1.0] * 10 + [9.0]


def test_what_the_source_had_measured_stands_beside_the_gauge() -> None:
    """Only on days of the gauge, and not where the source's rain was put there by us."""
    bare = days([1.0, 2.0, 6.0, 2.0])
    flags = np.array([0, FILLED_NORMALS, 0, 0], dtype=np.uint8)
    series = with_own_gauge(replace(bare, flags={"rain_mm": flags}), [(june(1), 0.0), (june(3), 5.0)])
    np.testing.assert_array_equal(series.get("rain_source_mm"), [1.0, np.nan, 6.0, np.nan])


@pytest.mark.parametrize(("day", "rain_mm"), [(june(1), -1.0), (june(1), float("nan")), (date(2023, 1, 1), 3.0)])
def test_readings_that_cannot_be(day: date, rain_mm: float) -> None:
    with pytest.raises(InputError):
        with_own_gauge(days([0.0]), [(day, rain_mm)])
