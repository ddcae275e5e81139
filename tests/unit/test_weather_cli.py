"""``soakbook weather show`` and ``soakbook weather fetch``."""

from __future__ import annotations

import json
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

import soakbook.cli.weather
from soakbook.cli.app import app
from soakbook.errors import InputError, SourceDown
from soakbook.weather.read import read_weather
from tests.contracts.test_weather_network import METEO, Server, hours_answer, reply

DATA = Path(__file__).parent.parent / "data" / "weather"
assert soakbook.cli.weather  # importing it registers the commands


@pytest.fixture
def service() -> Iterator[Server]:
    server = Server()
    yield server
    server.close()


def run(*args: str) -> Result:
    return CliRunner().invoke(app, ["weather", *args])


def test_show_says_what_was_made_of_the_file() -> None:
    result = run("show", str(DATA / "uscrn_tucson_2020_40_days.csv"), "--at", "32.24, -111.17", "--units", "metric")
    assert result.exit_code == 0, result.output
    assert "40 days from 2020-01-01 to 2020-02-09" in result.output
    assert "40 filled by a rule of FAO-56 chapter 3" in " ".join(result.output.split())
    assert "2.0r" in result.output
    assert max(len(line) for line in result.output.splitlines()) <= 80


def test_show_in_us_units() -> None:
    result = run("show", str(DATA / "uscrn_tucson_2020_40_days.csv"), "--at", "Tucson, AZ", "--units", "US")
    assert "max °F" in result.output
    # 14.6 °C on the first day are 58.3 °F; the second day's 0.4 mm are 0.02 in.
    assert "58.3" in result.output
    assert "0.02" in result.output


def test_show_without_a_place_asks_for_it() -> None:
    result = run("show", str(DATA / "uscrn_tucson_2020_40_days.csv"))
    assert result.exit_code == 0
    assert "Give --at PLACE" in result.output


def test_show_as_json() -> None:
    data = _json(run("show", str(DATA / "phoenix_full_columns_3_days.tmy3"), "--json"))
    assert (data["kind"], data["version"]) == ("weather_series", 1)
    assert data["day_kind"] == ["observed"] * 3
    assert len(data["days"]) == len(data["columns"]["t_max_c"]) == len(data["reference_evapotranspiration_mm"]) == 3
    assert data["elevation_m"] == 337.0
    assert data["time_zone"] == "Etc/GMT+7"


def _json(result: Result) -> dict[str, Any]:
    assert result.exit_code == 0, result.output
    data: dict[str, Any] = json.loads(result.output)
    return data


def test_units_must_be_known() -> None:
    with pytest.raises(InputError, match="units must be metric or US"):
        CliRunner().invoke(app, ["weather", "show", "x.csv", "--units", "ell"], catch_exceptions=False)


def test_fetch_writes_what_can_be_read_back(
    service: Server,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    service.script[METEO] = [reply(200, hours_answer())]
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", service.url)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    out = tmp_path / "days.csv"
    data = _json(run("fetch", "Melbourne, Australia", "--days", "2", "--out", str(out), "--json"))
    assert data["days"] == ["2024-01-16", "2024-01-17"]
    series = read_weather(out)
    assert [str(t) for t in series.times] == data["days"]
    assert series.get("t_max_c").tolist() == pytest.approx(data["columns"]["t_max_c"], abs=1e-4)
    shown = run("fetch", "Melbourne, Australia", "--days", "2", "--units", "metric")
    assert "ETo mm" in shown.output
    assert len(service.asked) == 1  # the second time from what was kept


def test_fetch_says_when_the_service_is_down(
    service: Server,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(404)
        handler.end_headers()

    service.script[METEO] = [refuse]
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", service.url)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    with pytest.raises(SourceDown, match="refused"):
        CliRunner().invoke(app, ["weather", "fetch", "48.1, 11.6"], catch_exceptions=False)


def test_fetch_to_a_place_that_cannot_be_written(
    service: Server,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    service.script[METEO] = [reply(200, hours_answer())]
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", service.url)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    with pytest.raises(InputError, match="cannot be written"):
        CliRunner().invoke(app, ["weather", "fetch", "48.1, 11.6", "--out", str(tmp_path)], catch_exceptions=False)
