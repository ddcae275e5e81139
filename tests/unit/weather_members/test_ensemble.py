"""The ensemble service's JSON, made after its documentation, read and fetched from a local server."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest

from soakbook.errors import InputError, SourceDown
from soakbook.weather.fetch import FetchSettings
from soakbook.weather.fetch_ensemble import fetch_ensemble
from soakbook.weather.sources.open_meteo_ensemble import parse_ensemble
from soakbook.weather.web import WebSettings
from tests.unit.weather_members.weather import normals

TODAY = date(2023, 6, 1)
NOW = datetime(2023, 6, 1, 12, 0, tzinfo=UTC)
UNITS = {
    "temperature_2m": "°C",
    "relative_humidity_2m": "%",
    "dew_point_2m": "°C",
    "precipitation": "mm",
    "wind_speed_10m": "m/s",
    "shortwave_radiation": "W/m²",
}


def answer(members: int = 3, days: int = 5, past_days: int = 1) -> dict[str, Any]:
    """Hours in local daylight time (UTC-5) from the day before on; run k is k °C warmer and has k mm on each noon."""
    hours = 24 * (days + past_days)
    start = int(datetime(2023, 6, 1, 5, tzinfo=UTC).timestamp()) - 86_400 * past_days
    of_day = np.arange(hours) % 24
    hourly: dict[str, Any] = {"time": [start + 3600 * i for i in range(hours)]}
    units = {"time": "unixtime"}
    for k in range(members + 1):
        values = {
            "temperature_2m": 20.0 + k + 6.0 * np.sin((of_day - 9) * np.pi / 12.0),
            "relative_humidity_2m": np.full(hours, 60.0),
            "dew_point_2m": np.full(hours, 12.0),
            "precipitation": np.where(of_day == 12, float(k), 0.0),
            "wind_speed_10m": np.full(hours, 3.0),
            "shortwave_radiation": np.maximum(700.0 * np.sin((of_day - 6) * np.pi / 12.0), 0.0),
        }
        for name, numbers in values.items():
            key = name if k == 0 else f"{name}_member{k:02d}"
            hourly[key] = [round(float(v), 2) for v in numbers]
            units[key] = UNITS[name]
    return {
        "latitude": 39.1,
        "longitude": -96.6,
        "elevation": 350.0,
        "generationtime_ms": 1.5,
        "utc_offset_seconds": -18_000,
        "timezone": "America/Chicago",
        "timezone_abbreviation": "CDT",
        "hourly_units": units,
        "hourly": hourly,
    }


def test_every_run_is_read_the_control_first() -> None:
    runs = parse_ensemble(json.dumps(answer()))
    assert len(runs) == 4
    assert [float(run.get("t_mean_c").mean()) for run in runs] == pytest.approx([20.0, 21.0, 22.0, 23.0], abs=0.01)
    assert [float(run.get("rain_mm").sum()) for run in runs] == pytest.approx([0.0, 6.0, 12.0, 18.0])
    assert {run.step for run in runs} == {"hour"}
    # 700 W/m² at noon
    assert max(runs[1].get("solar_mj_m2")) == pytest.approx(2.52)


def test_a_run_without_temperature_is_left_out() -> None:
    data = answer()
    data["hourly"]["temperature_2m_member02"] = [None] * len(data["hourly"]["time"])
    assert len(parse_ensemble(json.dumps(data))) == 3


def test_other_units_are_brought_over() -> None:
    data = answer(members=1)
    data["hourly_units"]["precipitation_member01"] = "inch"
    assert parse_ensemble(json.dumps(data))[1].get("rain_mm").sum() == pytest.approx(6 * 25.4)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d.pop("hourly"), "hourly is missing"),
        (lambda d: d.update(error=True, reason="no"), "answered with an error"),
        (lambda d: d["hourly"].update(precipitation_member01=[1.0]), "has 1 values"),
        (lambda d: d["hourly_units"].update(temperature_2m_member01="furlong"), "unit that fits"),
        (
            lambda d: [d["hourly"].pop(k) for k in list(d["hourly"]) if "_member" in k],
            "no run besides the control",
        ),
    ],
)
def test_what_is_wrong_is_said(change: Any, said: str) -> None:
    data = answer()
    change(data)
    with pytest.raises(InputError, match=said):
        parse_ensemble(json.dumps(data))


def test_half_an_answer_is_refused() -> None:
    with pytest.raises(InputError, match="not whole JSON"):
        parse_ensemble(json.dumps(answer())[:5000])


class Server:
    """Gives one answer to every question and keeps what was asked."""

    def __init__(self) -> None:
        self.body, self.status = json.dumps(answer()).encode(), 200
        self.asked: list[str] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                outer.asked.append(self.path)
                self.send_response(outer.status)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(outer.body)))
                self.end_headers()
                self.wfile.write(outer.body)

            def log_message(self, format: str, *args: object) -> None:
                """Quiet."""

        self.http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.http.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.http.server_port}"
        self.thread = threading.Thread(target=self.http.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        self.thread.start()


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    server = Server()
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_ENSEMBLE_URL", server.url)
    yield server
    server.http.shutdown()
    server.http.server_close()
    server.thread.join()


@pytest.fixture
def settings(tmp_path: Path) -> FetchSettings:
    return FetchSettings(cache_dir=tmp_path, web=WebSettings(timeout_s=2.0, total_s=4.0, attempts=1, wait_s=0.01))


def fetch(settings: FetchSettings, now: datetime = NOW, today: date = TODAY) -> Any:
    return fetch_ensemble(
        39.1, -96.6, 350.0, "America/Chicago", today=today, forecast_days=5, normals=normals(), settings=settings, now_utc=now
    )  # fmt: skip


def test_members_by_the_day_from_today_on(server: Server, settings: FetchSettings) -> None:
    members = fetch(settings)
    assert (len(members), str(members.times[0])) == (4, "2023-06-01")
    assert len(members.times) >= 4
    # The day's rain of run k is k mm, wherever the standard day begins.
    np.testing.assert_allclose(members.get("rain_mm")[:, :4], np.arange(4.0)[:, None] * np.ones(4))
    np.testing.assert_allclose(members.get("t_max_c")[:, 1], 26.0 + np.arange(4.0), atol=0.01)
    assert (members.eto_mm()[:, 1] > 3.0).all()
    asked = parse_qs(urlsplit(server.asked[0]).query)
    assert urlsplit(server.asked[0]).path == "/v1/ensemble"
    assert asked["models"] == ["gfs_seamless"]
    assert "temperature_2m" in asked["hourly"][0]


def test_a_fresh_answer_is_not_asked_for_again(server: Server, settings: FetchSettings) -> None:
    first = fetch(settings)
    again = fetch(settings, NOW + timedelta(minutes=30))
    assert len(server.asked) == 1
    np.testing.assert_array_equal(first.get("t_max_c"), again.get("t_max_c"))
    fetch(settings, NOW + timedelta(hours=2))
    assert len(server.asked) == 2


def test_an_old_answer_serves_when_the_service_is_down(server: Server, settings: FetchSettings) -> None:
    fetch(settings)
    server.status = 500
    old = fetch(settings, NOW + timedelta(days=2), date(2023, 6, 3))
    assert str(old.times[0]) == "2023-06-03"
    assert "fetched 2 days ago" in old.notes[-1]
    with pytest.raises(SourceDown):
        fetch(settings, NOW + timedelta(days=6), date(2023, 6, 3))


def test_an_answer_of_no_use_is_the_service_s_fault(server: Server, settings: FetchSettings) -> None:
    server.body = b'{"hourly": {}}'
    with pytest.raises(SourceDown, match="cannot be used"):
        fetch(settings)


def test_a_run_that_ends_early_is_left_out(server: Server, settings: FetchSettings) -> None:
    data = answer()
    hours = len(data["hourly"]["time"])
    for name in UNITS:
        data["hourly"][f"{name}_member03"][60:] = [None] * (hours - 60)
    server.body = json.dumps(data).encode()
    members = fetch(settings)
    assert len(members) == 3
    assert len(members.times) >= 4


def test_days_out_of_range_are_refused() -> None:
    with pytest.raises(InputError, match="between 1 and 35"):
        fetch_ensemble(39.1, -96.6, today=TODAY, forecast_days=36)
