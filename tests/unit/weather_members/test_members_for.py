"""Members for a garden: from the ensemble, a dressed forecast, years of its own file, or normals."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from soakbook.advice.sky import members_for, weather_for
from soakbook.garden.model import Garden
from soakbook.weather.join import join
from soakbook.weather.members import WeatherMembers
from soakbook.weather.normals import expected_weather
from soakbook.weather.series import FORECAST, OBSERVED, WeatherSeries
from soakbook.weather.write import weather_csv
from tests.pace import within
from tests.unit.weather_members.record import station
from tests.unit.weather_members.test_ensemble import TODAY, Server, answer
from tests.unit.weather_members.weather import forecast, normals

GARDEN = Garden("Invented", 39.1, -96.6, 350.0, "America/Chicago", ())
LIVE = replace(GARDEN, weather="live")
DAYS = 16


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Server]:
    """An ensemble of 31 runs that reaches to the end; nothing kept from before."""
    server = Server()
    server.body = json.dumps(answer(members=30, days=DAYS + 1)).encode()
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_ENSEMBLE_URL", server.url)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    yield server
    server.http.shutdown()
    server.http.server_close()
    server.thread.join()


def live_series(rain_ahead_mm: float = 0.0) -> WeatherSeries:
    """As a live round has it: sixty days observed, sixteen of forecast, then what is usual."""
    seen = forecast(60, first=TODAY - timedelta(days=60), kind=OBSERVED)
    told = forecast(16, rain_mm=rain_ahead_mm, first=TODAY)
    return join(seen, told, expected_weather(normals(), TODAY + timedelta(days=16), TODAY + timedelta(days=45)))


def same(one: WeatherMembers, other: WeatherMembers) -> bool:
    return all(np.array_equal(one.get(name), other.get(name)) for name in one.columns)


def test_a_live_garden_has_the_runs_of_the_ensemble(server: Server) -> None:
    members = members_for(LIVE, live_series(), TODAY)
    assert (len(members), members.times[0], members.times[-1]) == (
        50,
        np.datetime64(TODAY),
        np.datetime64(TODAY + timedelta(days=DAYS)),
    )
    assert "31 runs of an ensemble" in members.source
    # Run k has k mm a day: each run stands once or twice.
    of_run, times = np.unique(members.get("rain_mm")[:, 1].round(6), return_counts=True)
    np.testing.assert_array_equal(of_run, np.arange(31.0))
    assert set(times) == {1, 2}
    assert "forecast_days=17" in server.asked[0]


def test_the_ensemble_is_asked_once_and_read_once(server: Server) -> None:
    first = members_for(LIVE, live_series(), TODAY)
    start = time.perf_counter()
    again = members_for(LIVE, live_series(), TODAY)
    assert within(time.perf_counter() - start, 0.3)  # to read an answer anew takes a quarter of a second
    assert len(server.asked) == 1
    assert same(first, again)


def test_where_the_ensemble_is_down_the_forecast_is_dressed_and_it_is_left_alone_for_a_while(server: Server) -> None:
    server.status = 500
    wet = members_for(LIVE, live_series(rain_ahead_mm=12.0), TODAY, count=400)
    dry = members_for(LIVE, live_series(rain_ahead_mm=0.0), TODAY, count=400)
    assert len(server.asked) == 1
    assert "a forecast" in wet.source
    chance = [(m.get("rain_mm")[:, 0] >= 1.0).mean() for m in (wet, dry)]
    assert chance[0] > 0.6
    assert chance[1] < 0.2
    # Nothing is left of it at the end.
    assert abs((wet.get("rain_mm")[:, -1] >= 1.0).mean() - (dry.get("rain_mm")[:, -1] >= 1.0).mean()) < 0.12


def test_an_answer_without_runs_is_as_good_as_none(server: Server) -> None:
    server.body = json.dumps(answer(members=0)).encode()
    assert "a forecast" in members_for(LIVE, live_series(), TODAY).source


def test_past_the_end_of_the_ensemble_made_weather_goes_on(server: Server) -> None:
    server.body = json.dumps(answer(members=30, days=8)).encode()
    members = members_for(LIVE, live_series(), TODAY)
    assert len(members.times) == DAYS + 1
    assert "31 runs" in members.source
    assert "made by chance" in members.source


def test_who_names_an_own_server_for_weather_is_not_sent_to_another(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SOAKBOOK_OPEN_METEO_ENSEMBLE_URL")
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", server.url)
    members_for(LIVE, live_series(), TODAY)
    assert len(server.asked) == 1


def test_only_live_weather_asks_anybody(server: Server, tmp_path: Path) -> None:
    usual = replace(GARDEN, weather="normals")
    members = members_for(usual, weather_for(usual, TODAY), TODAY)
    assert members.source == "days made by chance from monthly normals"
    assert not server.asked
    assert len(members.times) == DAYS + 1


@pytest.fixture
def from_file(tmp_path: Path) -> Garden:
    (tmp_path / "seven-years.csv").write_text(weather_csv(station()), encoding="utf-8")
    return replace(GARDEN, weather="seven-years.csv")


def test_a_file_garden_has_years_of_its_own_past_among_made_days(from_file: Garden, tmp_path: Path) -> None:
    on = date(2016, 7, 1)
    series = weather_for(from_file, on, folder=tmp_path)
    members = members_for(from_file, series, on, folder=tmp_path)
    assert "the same dates of 6 years" in members.source
    # Six years count as much as 6 / (6 + 10): 19 of 50 members are stretches of the file, and end before today.
    record = station().get("t_max_c")
    last = int((np.datetime64(on) - station().times[0]).astype(int))
    windows = np.lib.stride_tricks.sliding_window_view(record[:last], DAYS + 1)
    of_file = [bool(np.isclose(windows, run, atol=1e-3).all(1).any()) for run in members.get("t_max_c")]
    assert sum(of_file) == 19


def test_nothing_after_this_morning_is_looked_at(from_file: Garden, tmp_path: Path) -> None:
    """The same members whether or not the file goes on."""
    on = date(2016, 7, 1)
    whole = members_for(from_file, weather_for(from_file, on, folder=tmp_path), on, folder=tmp_path)
    (tmp_path / "until-then.csv").write_text(
        weather_csv(station().between(station().times[0], np.datetime64(on) - 1)), encoding="utf-8"
    )
    short = replace(from_file, weather="until-then.csv")
    assert same(whole, members_for(short, weather_for(short, on, folder=tmp_path), on, folder=tmp_path))


def test_a_changed_file_is_read_again(from_file: Garden, tmp_path: Path) -> None:
    on = date(2016, 7, 1)
    before = weather_for(from_file, on, folder=tmp_path)
    wetter = station()
    wetter = replace(wetter, columns={**wetter.columns, "rain_mm": wetter.get("rain_mm") + 1.0})
    (tmp_path / "seven-years.csv").write_text(weather_csv(wetter), encoding="utf-8")
    after = weather_for(from_file, on, folder=tmp_path)
    assert after.get("rain_mm")[0] == pytest.approx(before.get("rain_mm")[0] + 1.0)


def test_a_forecast_in_a_file_is_dressed(tmp_path: Path) -> None:
    series = live_series(rain_ahead_mm=12.0)
    (tmp_path / "kept.csv").write_text(weather_csv(series), encoding="utf-8")
    kept = replace(GARDEN, weather="kept.csv")
    weather = weather_for(kept, TODAY, folder=tmp_path)
    assert (weather.kind == FORECAST).sum() == 16
    members = members_for(kept, weather, TODAY, folder=tmp_path)
    assert (members.get("rain_mm")[:, 0] >= 1.0).mean() > 0.6


def test_the_seed_makes_the_members_and_the_count_is_kept() -> None:
    usual = replace(GARDEN, weather="normals")
    series = weather_for(usual, TODAY)
    one, again, other = (members_for(usual, series, TODAY, count=20, seed=s, days=20) for s in (1, 1, 2))
    assert same(one, again)
    assert not same(one, other)
    assert one.get("rain_mm").shape == (20, 21)
