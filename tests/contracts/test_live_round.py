"""A round on live weather, through a real local server: fresh, then offline on what was kept, then without either.

The service's answer has the shape of its documented JSON (see tests/data/weather); its figures are invented: warm dry weeks,
then rain the day after tomorrow.
"""

from __future__ import annotations

import json
import math
import os
import socket
import subprocess
import sys
import threading
from bisect import bisect_left
from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit
from zoneinfo import ZoneInfo

import pytest

from soakbook.cli import main
from soakbook.machine_code import cache_folder

TODAY = datetime.now(ZoneInfo("Europe/Paris")).date()  # the garden's day, whatever the machine's
GARDEN = f"""
[garden]
name = "Live"
latitude = 45.76
longitude = 4.84
elevation = "173 m"
time_zone = "Europe/Paris"
weather = "live"
start = {(TODAY - timedelta(days=85)).isoformat()}

[[places]]
name = "bed"
kind = "bed"
soil = "loam"
size = "2 m x 2 m"
watered = "sprinkler"
[[places.plantings]]
plant = "tomato"
planted = {(TODAY - timedelta(days=85)).isoformat()}
count = 6
"""


def answer(past: int, ahead: int, rain_mm: float) -> bytes:
    """Hours from midnight UTC, the same warm day again and again, with rain on the next two days."""
    begin = datetime.combine(TODAY - timedelta(days=past), time(), UTC)
    hours = [begin + timedelta(hours=k) for k in range(24 * (past + ahead))]
    wet = [TODAY + timedelta(days=1), TODAY + timedelta(days=2)]
    rain = [rain_mm / 24.0 if h.date() in wet else 0.0 for h in hours]
    sun = [max(0.0, math.sin(math.pi * (h.hour - 5) / 14)) for h in hours]
    return json.dumps(
        {
            "latitude": 45.76, "longitude": 4.84, "elevation": 173.0, "utc_offset_seconds": 3600,
            "timezone": "Europe/Paris", "timezone_abbreviation": "CET",
            "hourly_units": {
                "time": "unixtime", "temperature_2m": "°C", "relative_humidity_2m": "%", "precipitation": "mm",
                "shortwave_radiation": "W/m²", "wind_speed_10m": "m/s", "precipitation_probability": "%",
            },
            "hourly": {
                "time": [int(h.timestamp()) for h in hours], "temperature_2m": [16 + 14 * s for s in sun],
                "relative_humidity_2m": [85 - 45 * s for s in sun], "precipitation": rain,
                "shortwave_radiation": [800 * s for s in sun], "wind_speed_10m": [2.5] * len(hours),
                "precipitation_probability": [95 if r else 5 for r in rain],
            },
        }
    ).encode()  # fmt: skip


class Service(BaseHTTPRequestHandler):
    rain_mm = 0.0
    asked: list[str] = []  # noqa: RUF012 -- shared by all requests on purpose

    def do_GET(self) -> None:
        Service.asked.append(self.path)
        query = parse_qs(urlsplit(self.path).query)
        body = answer(int(query["past_days"][0]), int(query["forecast_days"][0]), Service.rain_mm)
        self.send_response(200)
        self.send_header("Content-Type", "application/json")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        del format, args


@pytest.fixture
def service() -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Service)
    Service.asked, Service.rain_mm = [], 0.0
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


def closed_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


def surroundings(folder: Path, url: str) -> dict[str, str]:
    return {
        "SOAKBOOK_OPEN_METEO_URL": url, "SOAKBOOK_NWS_URL": url, "XDG_CACHE_HOME": str(folder / "cache"),
        "NUMBA_CACHE_DIR": str(cache_folder()), "COLUMNS": "80",
    }  # fmt: skip


def round_json(folder: Path, url: str) -> tuple[int, dict[str, object], str]:
    env = {**os.environ, **surroundings(folder, url)}
    done = subprocess.run(
        [sys.executable, "-m", "soakbook", "round", "--garden", str(folder / "garden.toml"), "--json"],
        capture_output=True, text=True, env=env, check=False,
    )  # fmt: skip
    return done.returncode, json.loads(done.stdout), done.stderr


def test_a_round_on_live_weather_then_offline(service: str, tmp_path: Path) -> None:
    (tmp_path / "garden.toml").write_text(GARDEN)
    code, got, said = round_json(tmp_path, service)
    assert code == 0, said
    assert len([path for path in Service.asked if path.startswith("/v1/forecast")]) == 1
    job = got["jobs"][0]  # type: ignore[index]
    assert job["rule"]["verdict"] == "soak"  # weeks and weeks of warm dry days and nothing in the log
    gone = f"http://127.0.0.1:{closed_port()}"
    code, kept, said = round_json(tmp_path, gone)
    assert code == 0, said
    assert kept["jobs"] == got["jobs"]  # the kept answer is fresh enough to be used as it is


def test_forecast_rain_that_comes_in_time_will_do(
    service: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The bed was soaked so long ago that it is just due: by the plain rule it is watered without rain in sight, and with
    rain it is not. Asked in this process, many times over; that a process of its own answers is shown above."""
    for name, value in surroundings(tmp_path, service).items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "argv", ["soakbook", "round", "--garden", str(tmp_path / "garden.toml"), "--json"])
    (tmp_path / "garden.toml").write_text(GARDEN)

    def verdict(days_ago: int, rain_mm: float) -> str:
        watered = TODAY - timedelta(days=days_ago)
        (tmp_path / "garden.log.csv").write_text(
            f"id,at,kind,place,amount,text\na1,{watered.isoformat()}T07:00,water,bed,1000 L,soaked through\n"
        )
        Service.rain_mm = rain_mm
        for kept in (tmp_path / "cache").rglob("*"):
            if kept.is_file():
                kept.unlink()
        before = len(Service.asked)
        with pytest.raises(SystemExit) as left:
            main()
        said = capsys.readouterr()
        assert not left.value.code, said.err
        assert len(Service.asked) > before  # nothing kept from the time before
        return str(json.loads(said.out)["jobs"][0]["rule"]["verdict"])

    days = list(range(20, 85, 4))
    first = bisect_left(days, True, key=lambda ago: verdict(ago, 0.0) == "soak")
    assert first < len(days)
    assert verdict(days[first], 60.0) == "rain will do"


def test_without_network_and_without_anything_kept(tmp_path: Path) -> None:
    (tmp_path / "garden.toml").write_text(GARDEN)
    code, got, said = round_json(tmp_path, f"http://127.0.0.1:{closed_port()}")
    assert code == 3
    assert got["kind"] == "error"
    assert "45.7" not in said
    assert "127.0.0.1" not in said
