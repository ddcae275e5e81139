"""Live weather through a real local server that answers well, badly, slowly, or not at all."""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest

from soakbook.errors import InputError, SourceDown
from soakbook.weather.cache import Cache, age_words, default_cache_dir
from soakbook.weather.fetch import FetchSettings, fetch_weather
from soakbook.weather.series import FORECAST, OBSERVED, WeatherSeries
from soakbook.weather.web import NotCovered, WebSettings, ask_json

DATA = Path(__file__).parent.parent / "data" / "weather"
NOW = datetime(2024, 1, 17, 0, 30, tzinfo=UTC)
PATIENCE = WebSettings(timeout_s=0.3, total_s=1.0, attempts=3, wait_s=0.01)
Answer = Callable[[BaseHTTPRequestHandler], None]


def reply(status: int, body: bytes, kind: str = "application/json", *, claim: int | None = None) -> Answer:
    """An answer; ``claim`` is the length it claims to have."""

    def send(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(status)
        handler.send_header("Content-Type", kind)
        handler.send_header("Content-Length", str(len(body) if claim is None else claim))
        handler.end_headers()
        handler.wfile.write(body)

    return send


def slow(seconds: float, then: Answer) -> Answer:
    def send(handler: BaseHTTPRequestHandler) -> None:
        time.sleep(seconds)
        then(handler)

    return send


def hours_answer(n_hours: int = 72, **changes: Any) -> bytes:
    """The Melbourne answer repeated to more hours, as if fetched with past days."""
    data = json.loads((DATA / "open_meteo_forecast_melbourne_2024-01-16.json").read_text())
    del data["daily"], data["daily_units"]
    first = data["hourly"]["time"][0] - 24 * 3600
    for key, values in data["hourly"].items():
        data["hourly"][key] = (values * (n_hours // 24 + 1))[:n_hours]
    data["hourly"]["time"] = [first + 3600 * i for i in range(n_hours)]
    data["hourly"].update(changes)
    return json.dumps(data).encode()


class Server:
    """A server on the loopback that gives the answers of ``script`` in turn, the last one for ever."""

    def __init__(self) -> None:
        self.script: dict[str, list[Answer]] = {}
        self.asked: list[str] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                outer.asked.append(self.path)
                path = urlsplit(self.path).path
                answers = outer.script.get(path) or [reply(404, b"{}")]
                answer = answers.pop(0) if len(answers) > 1 else answers[0]
                try:
                    answer(self)
                except (BrokenPipeError, ConnectionResetError):
                    self.close_connection = True

            def log_message(self, format: str, *args: object) -> None:
                """Quiet."""

        self.http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.http.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.http.server_port}"
        self.thread = threading.Thread(target=self.http.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        self.thread.start()

    def close(self) -> None:
        self.http.shutdown()
        self.http.server_close()
        self.thread.join()


@pytest.fixture
def server() -> Iterator[Server]:
    server = Server()
    yield server
    server.close()


@pytest.fixture
def settings(server: Server, tmp_path: Path) -> FetchSettings:
    return FetchSettings(open_meteo_url=server.url, nws_url=server.url, cache_dir=tmp_path / "kept", web=PATIENCE)


def melbourne(settings: FetchSettings, now: datetime = NOW, **kwargs: Any) -> WeatherSeries:
    return fetch_weather(-37.81, 144.96, 19.0, settings=settings, now_utc=now, past_days=2, forecast_days=2, **kwargs)


METEO = "/v1/forecast"


def test_a_good_answer_becomes_days(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer())]
    series = melbourne(settings)
    assert series.step == "day"
    assert (str(series.times[0]), len(series)) == ("2024-01-16", 2)
    assert series.kind.tolist() == [OBSERVED, FORECAST]
    assert np.isfinite(series.get("t_max_c")).all()
    query = parse_qs(urlsplit(server.asked[0]).query)
    assert (query["past_days"], query["forecast_days"], query["timeformat"]) == (["2"], ["2"], ["unixtime"])
    assert "shortwave_radiation" in query["hourly"][0]


def test_hours_are_to_be_had(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer())]
    series = melbourne(settings, step="hour")
    assert (series.step, len(series)) == ("hour", 72)
    assert (series.kind[series.times < np.datetime64(NOW.replace(tzinfo=None), "h")] == OBSERVED).all()


def test_today_sets_where_the_forecast_begins(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer())]
    assert melbourne(settings, today=date(2024, 1, 16)).kind.tolist() == [FORECAST, FORECAST]


@pytest.mark.parametrize(
    "bad",
    [
        reply(500, b"oops"),
        reply(503, b""),
        reply(429, b"{}"),
        reply(200, hours_answer()[:4000]),
        reply(200, hours_answer()[:4000], claim=9000),
        reply(200, b"<html>login</html>", "text/html"),
        reply(200, b"[1, 2]"),
        slow(0.6, reply(200, hours_answer())),
    ],
    ids=["500", "503", "429", "cut short", "connection lost", "a login page", "a list", "too slow"],
)
def test_a_passing_failure_is_tried_again(server: Server, settings: FetchSettings, bad: Answer) -> None:
    server.script[METEO] = [bad, reply(200, hours_answer())]
    assert len(melbourne(settings)) == 2
    assert len(server.asked) == 2


@pytest.mark.parametrize(
    ("bad", "says", "tries"),
    [
        (reply(500, b"oops"), "status 500", 3),
        (reply(200, hours_answer()[:4000]), "cut short", 3),
        (slow(0.6, reply(200, hours_answer())), "did not answer in time", 3),
        (reply(404, b"{}"), "refused the question", 1),
        (reply(400, b'{"error": true, "reason": "Latitude -37.81 is bad"}'), "refused the question", 1),
        (reply(200, b'{"hello": "world"}'), "cannot be used", 1),
        (reply(200, hours_answer(temperature_2m=[None] * 72)), "cannot be used", 1),
    ],
    ids=["500", "cut short", "slow", "404", "400", "other JSON", "all null"],
)
def test_a_lasting_failure_is_one_clear_error(
    server: Server, settings: FetchSettings, bad: Answer, says: str, tries: int
) -> None:
    server.script[METEO] = [bad]
    with pytest.raises(SourceDown, match=says) as caught:
        melbourne(settings)
    assert caught.value.exit_code == 3
    assert len(server.asked) == tries
    told = f"{caught.value} {caught.value.to_json()}"
    for secret in ("37.8", "144.9", "127.0.0.1", "http"):
        assert secret not in told


def test_nothing_is_logged_about_the_place(
    server: Server, settings: FetchSettings, caplog: pytest.LogCaptureFixture
) -> None:
    server.script[METEO] = [reply(500, b"oops"), reply(200, hours_answer())]
    with caplog.at_level(logging.INFO):
        melbourne(settings)
    assert "37.8" not in caplog.text


def test_nobody_listens(settings: FetchSettings, server: Server, tmp_path: Path) -> None:
    gone = FetchSettings(
        open_meteo_url="http://127.0.0.1:9", nws_url="http://127.0.0.1:9", cache_dir=tmp_path, web=PATIENCE
    )
    with pytest.raises(SourceDown, match="could not be reached"):
        melbourne(gone)


def test_single_nulls_stay_missing(server: Server, settings: FetchSettings) -> None:
    answer = json.loads(hours_answer())
    answer["hourly"]["precipitation"][3:5] = [None, None]
    server.script[METEO] = [reply(200, json.dumps(answer).encode())]
    assert np.isnan(melbourne(settings, step="hour").get("rain_mm")[3:5]).all()


def test_a_fresh_answer_is_not_asked_for_again(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer())]
    first = melbourne(settings)
    second = melbourne(settings, NOW + timedelta(minutes=40))
    assert len(server.asked) == 1
    assert (first.get("t_max_c") == second.get("t_max_c")).all()
    assert any("40 minutes ago" in n for n in second.notes)
    melbourne(settings, NOW + timedelta(hours=2))
    assert len(server.asked) == 2


def test_offline_an_old_answer_serves_and_says_its_age(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer()), reply(500, b"")]
    melbourne(settings)
    series = melbourne(settings, NOW + timedelta(hours=5))
    assert len(series) == 2
    assert any("did not answer" in n and "5 hours ago" in n for n in series.notes)
    with pytest.raises(SourceDown):
        melbourne(settings, NOW + timedelta(days=6))


def test_a_broken_cache_is_as_none(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer())]
    melbourne(settings)
    (kept,) = settings.cache_dir.glob("*.json")
    assert "37" not in kept.name
    for broken in ("", "{", '{"version": 1, "text": 5, "fetched_utc": "x"}', '{"version": 1, "text": "{}"}'):
        kept.write_text(broken)
        assert len(melbourne(settings)) == 2
    assert len(server.asked) == 5


def test_a_cache_that_cannot_be_written_is_a_note(server: Server, tmp_path: Path) -> None:
    wall = tmp_path / "file"
    wall.write_text("")
    settings = FetchSettings(open_meteo_url=server.url, nws_url=server.url, cache_dir=wall / "kept", web=PATIENCE)
    server.script[METEO] = [reply(200, hours_answer())]
    series = melbourne(settings)
    assert any("could not be kept" in n for n in series.notes)


def test_no_part_files_are_left(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(200, hours_answer())]
    melbourne(settings)
    assert [p.suffix for p in settings.cache_dir.iterdir()] == [".json"]


def test_a_clock_set_back_does_not_keep_an_answer_for_ever(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    assert cache.put("q", "{}", NOW) == ""
    kept = cache.get("q")
    assert kept is not None
    assert kept.fetched_utc == NOW
    assert cache.get("another") is None


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (timedelta(seconds=20), "0 minutes"),
        (timedelta(minutes=1), "1 minute"),
        (timedelta(hours=5), "5 hours"),
        (timedelta(days=3), "3 days"),
    ],
)
def test_ages(age: timedelta, words: str) -> None:
    assert age_words(age) == words


def test_the_cache_follows_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_cache_dir() == tmp_path / "soakbook" / "weather"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    assert default_cache_dir() == Path.home() / ".cache" / "soakbook" / "weather"


def test_the_address_follows_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", "http://127.0.0.1:1")
    assert FetchSettings().open_meteo_url == "http://127.0.0.1:1"
    monkeypatch.delenv("SOAKBOOK_OPEN_METEO_URL")
    assert FetchSettings().open_meteo_url == "https://api.open-meteo.com"


@pytest.mark.parametrize("days", [{"past_days": -1}, {"past_days": 93}, {"forecast_days": 0}, {"forecast_days": 17}])
def test_days_the_service_does_not_have(settings: FetchSettings, days: dict[str, int]) -> None:
    with pytest.raises(InputError):
        fetch_weather(-37.8, 145.0, settings=settings, **days)  # type: ignore[arg-type]


# The second source, for places in the United States


def observations(first: datetime, n: int) -> bytes:
    data = json.loads((DATA / "nws_stations_observations.json").read_text())
    (one,) = data["features"]
    data["features"] = []
    for i in range(n):
        feature = json.loads(json.dumps(one))
        feature["properties"]["timestamp"] = (first + timedelta(hours=i)).isoformat()
        feature["properties"]["temperature"]["value"] = 15.0
        data["features"].append(feature)
    return json.dumps(data).encode()


def stations(*names: str) -> bytes:
    return json.dumps({"features": [{"properties": {"stationIdentifier": n}} for n in names]}).encode()


def florida(settings: FetchSettings) -> WeatherSeries:
    return fetch_weather(30.0, -85.0, 5.0, settings=settings, now_utc=datetime(2022, 2, 4, 3, 20, tzinfo=UTC))


def nws_script(server: Server) -> None:
    server.script |= {
        METEO: [reply(500, b"")],
        "/points/30.0000,-85.0000": [reply(200, (DATA / "nws_points.json").read_bytes())],
        "/gridpoints/TAE/58,65": [reply(200, (DATA / "nws_detailed_forecast.json").read_bytes())],
        "/gridpoints/TAE/58,65/stations": [reply(200, stations("KXXX", "KAAF"))],
        "/stations/KAAF/observations": [reply(200, observations(datetime(2022, 2, 1, 4, 53, tzinfo=UTC), 70))],
    }


def test_in_the_united_states_the_weather_service_stands_in(server: Server, settings: FetchSettings) -> None:
    nws_script(server)
    series = florida(settings)
    assert (str(series.times[0]), str(series.times[-1])) == ("2022-02-01", "2022-02-10")
    # 03:20 UTC is still the evening of 3 February there
    assert series.kind.tolist() == [OBSERVED] * 2 + [FORECAST] * 8
    assert series.get("t_max_c")[1] == 15.0
    assert series.time_zone == "America/New_York"
    assert (series.lat_deg, series.lon_deg) == (30.0, -85.0)
    assert any("National Weather Service did" in n for n in series.notes)
    # the first station had nothing; the second was asked
    assert any("/stations/KXXX/" in a for a in server.asked)


def test_without_observations_the_forecast_alone_serves(server: Server, settings: FetchSettings) -> None:
    nws_script(server)
    del server.script["/stations/KAAF/observations"]
    series = florida(settings)
    assert any("No station near has observations" in n for n in series.notes)
    assert str(series.times[0]) == "2022-02-04"


def test_where_both_fail_the_first_error_is_told(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(500, b"")]
    with pytest.raises(SourceDown, match="Open-Meteo gave no weather"):
        florida(settings)


def test_elsewhere_the_second_source_is_not_asked(server: Server, settings: FetchSettings) -> None:
    server.script[METEO] = [reply(500, b"")]
    with pytest.raises(SourceDown):
        melbourne(settings)
    assert not any("/points/" in a for a in server.asked)


def test_an_endless_answer_is_cut(server: Server) -> None:
    server.script["/big"] = [reply(200, b" " * 300_000)]
    small = WebSettings(timeout_s=0.3, total_s=1.0, attempts=1, wait_s=0.01, most_bytes=100_000)
    with pytest.raises(SourceDown, match="too large"):
        ask_json(server.url, "/big", {}, "The service", small)


def test_a_trickle_is_given_up(server: Server) -> None:
    def drip(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(200)
        handler.end_headers()
        for _ in range(60):
            handler.wfile.write(b" ")
            handler.wfile.flush()
            time.sleep(0.02)

    server.script["/drip"] = [drip]
    hasty = WebSettings(timeout_s=0.3, total_s=0.2, attempts=1, wait_s=0.01)
    begin = time.monotonic()
    with pytest.raises(SourceDown, match="in time"):
        ask_json(server.url, "/drip", {}, "The service", hasty)
    assert time.monotonic() - begin < 1.0


def test_a_refusal_is_told_apart(server: Server) -> None:
    with pytest.raises(NotCovered):
        ask_json(server.url, "/nothing", {}, "The service", PATIENCE)
