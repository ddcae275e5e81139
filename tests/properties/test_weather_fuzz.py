"""Whatever a file holds, only errors meant for the user leave the readers, and what is read keeps its promises."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.weather.daily import hourly_to_daily
from soakbook.weather.fill import fill_gaps
from soakbook.weather.gazetteer import parse_coordinates
from soakbook.weather.read import decode, parse_weather
from soakbook.weather.regular import PHYSICAL_RANGE, Where
from soakbook.weather.series import WeatherSeries
from soakbook.weather.smooth import daily_from_months
from soakbook.weather.sources import epw, nws, open_meteo, table, tmy3, uscrn
from soakbook.weather.write import weather_csv

DATA = Path(__file__).parent.parent / "data" / "weather"
HERE = Where(48.0, 11.0, 500.0, "Europe/Berlin")
PARSERS: dict[str, tuple[Callable[..., WeatherSeries], str]] = {
    "table": (table.parse_table, "gridmet_johnson_2008_30_days.csv"),
    "hourly table": (table.parse_table, "flickner_2022_march.csv"),
    "uscrn": (uscrn.parse_uscrn, "uscrn_austin_2015_60_days.txt"),
    "uscrn heading": (uscrn.parse_uscrn, "uscrn_manhattan_2009_40_days.csv"),
    "tmy3": (tmy3.parse_tmy3, "phoenix_full_columns_3_days.tmy3"),
    "open-meteo": (open_meteo.parse_open_meteo, "open_meteo_forecast_melbourne_2024-01-16.json"),
    "nws grid": (nws.parse_nws, "nws_detailed_forecast.json"),
    "nws list": (nws.parse_nws, "nws_stations_observations.json"),
    "nws forecast": (nws.parse_nws, "nws_gridpoints_forecast_hourly_si.json"),
}
EPW_HEAD = "LOCATION,Example,-,XXX,made up,0,51.5,-0.1,0.0,25.0\n" + "X,0\n" * 7


def keeps_its_promises(series: WeatherSeries) -> None:
    """Values in range or NaN; what the series type itself checks was checked when it was made."""
    assert len(series) > 0
    for name, values in series.columns.items():
        low, high = PHYSICAL_RANGE[name][series.step]
        good = values[np.isfinite(values)]
        assert not np.isinf(values).any()
        assert ((good >= low) & (good <= high)).all()
    assert series.notes


def try_to(parse: Callable[..., WeatherSeries], text: str) -> None:
    try:
        series = parse(text, HERE)
    except InputError:
        return
    keeps_its_promises(series)


@pytest.mark.parametrize("name", PARSERS)
@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_file_with_damage(name: str, seed: int) -> None:
    parse, file = PARSERS[name]
    rng = random.Random(seed)
    whole = (DATA / file).read_text(encoding="utf-8")
    text = list(whole if "json" in file else whole[: whole.rindex("\n", 0, 6000)])
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(text))
        match rng.randrange(4):
            case 0:
                text[at] = rng.choice(",;.\n\t-9eNaé\x00\"'/:[]{}°")
            case 1:
                del text[at : at + rng.randint(1, 30)]
            case 2:
                text[at:at] = list(rng.choice(["-9999", "1e9", ",,", "\n\n", "NaN", "99999999999", "null", "24:00"]))
            case _:
                text[at:at] = text[max(0, at - 40) : at]
    try_to(parse, "".join(text))


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=400))
def test_any_text(text: str) -> None:
    for parse, _ in PARSERS.values():
        try_to(parse, text)
    try_to(epw.parse_epw, text)
    try_to(epw.parse_epw, EPW_HEAD + text)
    try_to(table.parse_table, "date,tmax,tmin\n" + text)
    try_to(tmy3.parse_tmy3, '1,"X",A,-7.0,33.4,-111.9,337\nDate (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C)\n' + text)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    try:
        text = decode(data, "file")
    except InputError:
        return
    try_to(parse_any, text)


def parse_any(text: str, where: Where) -> WeatherSeries:
    return parse_weather(text, where, name="file")


CELLS = st.one_of(
    st.integers(-10000, 10000).map(str), st.floats(-100, 100).map(lambda x: f"{x:.2f}"), st.text(max_size=5),
    st.sampled_from(["", "NA", "-9999", "1,5", "T", "inf", "2024-01-01", "24:00"]),
)  # fmt: skip
HEADINGS = [
    "date",
    "time",
    "tmax",
    "tmin (°F)",
    "rain in",
    "wind 10 m",
    "solar w/m2",
    "rh max",
    "lat",
    "doy",
    "kind",
    "x",
]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.sampled_from(HEADINGS), min_size=2, max_size=6),
    st.lists(st.lists(CELLS, min_size=2, max_size=6), max_size=6),
    st.sampled_from([",", ";", "\t"]),
)
def test_any_table(headings: list[str], rows: list[list[str]], delimiter: str) -> None:
    lines = [delimiter.join(headings)] + [delimiter.join((row * 3)[: len(headings)]) for row in rows]
    try_to(table.parse_table, "\n".join(lines))


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**12), 10**12) | st.floats(allow_nan=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_json_of_another_shape(data: st.DataObject) -> None:
    for name in ("open-meteo", "nws grid", "nws list", "nws forecast"):
        parse, file = PARSERS[name]
        tree = json.loads((DATA / file).read_text())
        _replace_somewhere(tree, data)
        try_to(parse, json.dumps(tree))


def _replace_somewhere(tree: Any, data: st.DataObject) -> None:
    """Walk down at random and put something else there."""
    while True:
        keys = list(tree) if isinstance(tree, dict) else list(range(len(tree)))[:20]
        key = data.draw(st.sampled_from(keys))
        inner = tree[key]
        if isinstance(inner, dict | list) and inner and data.draw(st.integers(0, 3)):
            tree = inner
            continue
        tree[key] = data.draw(JSON)
        return


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="0123456789.,-+ NSEWnsew°'\"", max_size=30))
def test_coordinates_are_a_pair_in_range_or_none(text: str) -> None:
    try:
        pair = parse_coordinates(text)
    except InputError:
        return
    assert pair is None or (abs(pair[0]) <= 90.0 and abs(pair[1]) <= 180.0)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-30, 45), st.floats(0, 20), st.floats(0, 80)), min_size=1, max_size=40),
    st.dates(date(1950, 1, 1), date(2090, 1, 1)),
    st.randoms(use_true_random=False),
)
def test_written_and_read_back(days: list[tuple[float, float, float]], first: date, rng: random.Random) -> None:
    lines = [f"{first + timedelta(days=i)},{t + r:.2f},{t:.2f},{mm:.1f}" for i, (t, r, mm) in enumerate(days)]
    head = "date,tmax °C,tmin °C,rain mm\n"
    series = table.parse_table(head + "\n".join(lines), HERE)
    rng.shuffle(lines)
    shuffled = table.parse_table(head + "\n".join(lines), HERE)
    back = table.parse_table(weather_csv(series))
    for other in (shuffled, back):
        assert (other.times == series.times).all()
        for name in series.columns:
            np.testing.assert_allclose(other.get(name), series.get(name), rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 500), min_size=12, max_size=12), st.integers(1990, 2040))
def test_monthly_totals_are_kept_and_never_negative(months: list[float], year: int) -> None:
    first, last = np.datetime64(f"{year}-01-01"), np.datetime64(f"{year}-12-31")
    days = daily_from_months(np.array(months), first, last, is_total=True, at_least=0.0)
    month = np.arange(first, last + 1).astype("datetime64[M]").astype(int) % 12
    assert (days >= 0.0).all()
    np.testing.assert_allclose(np.bincount(month, weights=days), months, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    st.sets(st.integers(0, 95), max_size=30),
    st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Sydney", "Asia/Kolkata"]),
    st.integers(0, 365),
)
def test_days_keep_the_rain_of_their_hours(missing: set[int], zone: str, start: int) -> None:
    rain = np.arange(96.0) % 7
    rain[list(missing)] = np.nan
    times = np.datetime64("2024-01-01T00:00", "s") + np.arange(24 * start, 24 * start + 96) * np.timedelta64(3600, "s")
    series = WeatherSeries(
        step="hour", times=times, columns={"rain_mm": rain, "t_mean_c": np.full(96, 10.0)}, lat_deg=50.0, lon_deg=8.0,
        elevation_m=100.0, time_zone=zone, source="made up", kind=np.zeros(96, dtype=np.uint8),
    )  # fmt: skip
    days = hourly_to_daily(series)
    assert np.nansum(days.get("rain_mm")) <= np.nansum(rain) + 1e-9
    filled = fill_gaps(days)
    assert all(np.isfinite(filled.get(n)).all() for n in ("t_max_c", "solar_mj_m2", "wind_2m_ms", "rain_mm"))
