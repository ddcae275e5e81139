"""The weather's page: where it is from, what was filled in, the own gauge beside it, the days to come."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from soakbook.app.desk import Sky
from soakbook.app.reader import Reader
from soakbook.app.weather_view import coming, filled_in, gauge_beside, observed_until
from soakbook.demo import DAY
from soakbook.garden.model import LogEntry
from soakbook.store import NewEntry
from soakbook.weather.series import (
    COLUMNS,
    EXPECTED,
    FILLED_NORMALS,
    FILLED_RULE,
    FORECAST,
    OBSERVED,
    OWN_GAUGE,
    REJECTED,
    WeatherSeries,
)
from tests.pace import within
from tests.unit.app.kept_garden import Kept, kept_gardens

TODAY = date(2017, 7, 8)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    with kept_gardens(tmp_path_factory.mktemp("weather")) as kept:
        yield kept


def text_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def series(days: int = 30, ahead: int = 5, rain: float = 2.0) -> WeatherSeries:
    n = days + ahead
    kind = np.full(n, OBSERVED, dtype=np.uint8)
    kind[days:] = EXPECTED
    columns = {name: np.full(n, value) for name, value in (
        ("t_max_c", 25.0), ("t_min_c", 15.0), ("vapour_pressure_kpa", 1.5), ("wind_2m_ms", 2.0), ("solar_mj_m2", 20.0),
        ("rain_mm", rain), ("rain_chance_pct", 80.0))}  # fmt: skip
    first = np.datetime64(TODAY) - np.timedelta64(days, "D")
    return WeatherSeries(
        "day", np.arange(first, first + np.timedelta64(n, "D")), columns, 39.0, -96.0, 300.0, "UTC", "x", kind
    )


def sky(made: WeatherSeries) -> Sky:
    return Sky(made, "s", made, datetime(2017, 7, 8, tzinfo=UTC))


def rain(day: date, mm: float, hour: int = 20) -> LogEntry:
    return LogEntry(f"r{day}{hour}", datetime(day.year, day.month, day.day, hour, tzinfo=UTC), "rain", rain_mm=mm)


def test_the_page_has_no_names_of_columns_or_folders(app: Kept) -> None:
    for key in (app.demo, app.odd):
        page = app.client.get(f"/g/{key}/weather")
        shown = text_of(page.text.split("<details>")[0])
        assert page.status_code == 200
        assert not [name for name in COLUMNS if name in shown]
        assert "/tmp" not in shown
        assert str(app.desk.known(app.demo).folder) not in page.text


def test_the_gauge_stands_beside_what_the_source_had(app: Kept) -> None:
    page = text_of(app.client.get(f"/g/{app.demo}/weather").text)
    assert "58.0 mm 51.4 mm +6.6 mm" in page  # the station's 51.4 mm of 29 June, and the demo's own gauge
    assert "Your gauge found 6.6 mm more than the source." in page
    assert "No rain from a gauge of your own is in the log." in text_of(app.client.get(f"/g/{app.odd}/weather").text)


def test_how_far_back_can_be_chosen_and_nonsense_is_the_usual(app: Kept) -> None:
    for days in (30, 90, 160):
        page = app.client.get(f"/g/{app.demo}/weather?days={days}").text
        assert f'href="?days={days}" aria-current="true"' in page
    assert 'href="?days=30" aria-current="true"' in app.client.get(f"/g/{app.demo}/weather?days=7").text
    assert app.client.get(f"/g/{app.demo}/weather?days=x").status_code == 422


def test_the_file_reads_back_as_the_series(app: Kept, tmp_path_factory: pytest.TempPathFactory) -> None:
    from soakbook.weather.read import read_weather

    answer = app.client.get(f"/g/{app.demo}/weather.csv")
    file = tmp_path_factory.mktemp("csv") / "weather.csv"
    file.write_text(answer.text, encoding="utf-8")
    back, kept = read_weather(file), app.desk.sky(app.desk.known(app.demo)).series
    assert np.array_equal(back.times, kept.times)
    assert back.get("rain_mm") == pytest.approx(kept.get("rain_mm"), nan_ok=True)


def test_only_live_weather_can_be_fetched(app: Kept) -> None:
    assert "Fetch now" not in app.client.get(f"/g/{app.demo}/weather").text
    before = app.desk.sky(app.desk.known(app.demo)).looked_utc
    answer = app.client.post(f"/g/{app.demo}/weather/fetch")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/g/{app.demo}/weather")
    assert app.desk.sky(app.desk.known(app.demo)).looked_utc == before


def test_when_no_service_answers_the_page_says_so_and_goes_on(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    monkeypatch.setenv("SOAKBOOK_OPEN_METEO_URL", "http://127.0.0.1:9")  # nothing listens there
    monkeypatch.setenv("SOAKBOOK_NWS_URL", "http://127.0.0.1:9")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
    with kept_gardens(tmp_path_factory.mktemp("live")) as own:
        own.store.change(own.odd, lambda d: {**d, "garden": {**d["garden"], "weather": "live"}}, check=lambda _: None)
        assert own.client.post(f"/g/{own.odd}/weather/fetch").status_code == 303
        page = own.client.get(f"/g/{own.odd}/weather").text
        assert "Fetch now" in page
        assert "The usual weather of the place stands in." in page
        assert "nothing observed" in page


def test_a_fetch_asks_anew_and_shows_what_came(app: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    known = app.desk.known(app.odd)
    live = replace(known, version=known.version + 1000, garden=replace(known.garden, weather="live"))
    asked: list[float] = []

    def fetch(*_: object, settings: object = None, **__: object) -> WeatherSeries:
        asked.append(getattr(settings, "fresh_h", 1.0))
        return series(90, 10)

    monkeypatch.setattr("soakbook.weather.fetch.fetch_weather", fetch)
    app.desk.fetch_now(live)
    assert asked[0] < 0.1  # an answer older than some minutes does not count
    assert app.desk.sky(live).series.get("t_max_c")[-60] == 25.0
    app.desk._skies.clear()


def test_rain_written_down_counts_at_once(tmp_path_factory: pytest.TempPathFactory) -> None:
    with kept_gardens(tmp_path_factory.mktemp("rain")) as own:
        own.client.get(f"/g/{own.demo}/weather")
        own.store.put(own.demo, NewEntry("g2", "2017-07-03T20:00", "rain", "", "9 mm", ""), by="")
        page = text_of(own.client.get(f"/g/{own.demo}/weather").text)
        assert re.search(r"Jun 30 to Mon Jul 3 9.0 mm \d", page) or re.search(r"30 Jun to Mon 3 Jul 9.0 mm \d", page)
        assert "67.0 mm" in page


def test_readings_after_a_pause_stand_beside_the_sum_of_their_days() -> None:
    log = [rain(TODAY - timedelta(days=8), 3.0), rain(TODAY - timedelta(days=5), 10.0)]
    made = gauge_beside(sky(series()), log, TODAY, Reader(dates="ymd"))
    assert made is not None
    assert [row[1:] for row in made.rows] == [("10.0 mm", "6.0 mm", "+4.0 mm"), ("3.0 mm", "2.0 mm", "+1.0 mm")]
    assert made.sums[1:] == ("13.0 mm", "8.0 mm", "+5.0 mm")


def test_a_gauge_that_caught_less() -> None:
    made = gauge_beside(sky(series()), [rain(TODAY - timedelta(days=3), 0.5)], TODAY, Reader())
    assert made is not None
    assert made.rows[0][3] == "−1.5 mm"
    assert made.says == "Your gauge found 1.5 mm less than the source."


def test_a_morning_reading_of_today_counts_and_an_evening_one_not_yet() -> None:
    assert gauge_beside(sky(series()), [rain(TODAY, 4.0)], TODAY, Reader()) is None
    assert gauge_beside(sky(series()), [rain(TODAY, 4.0, hour=7)], TODAY, Reader()) is not None


def test_what_was_filled_in_is_counted_by_what_was_done() -> None:
    flags = {name: np.zeros(30, dtype=np.uint8) for name in ("rain_mm", "wind_2m_ms", "t_max_c")}
    flags["rain_mm"][:3], flags["rain_mm"][5:7] = OWN_GAUGE, FILLED_RULE
    flags["wind_2m_ms"][:], flags["t_max_c"][4], flags["t_max_c"][6] = FILLED_RULE, FILLED_NORMALS, REJECTED
    made = replace(series(30, 0), flags=flags)
    found = {(f.what, f.how): f.days for f in filled_in(made, Reader())}
    assert found == {
        ("wind", "a light breeze of 2 m/s is taken"): 30, ("rain", "from your own rain gauge"): 3,
        ("rain", "no figure: taken as dry"): 2, ("highest temperature", "taken from what is usual in the month"): 1,
        ("highest temperature", "beyond what can be, so left out"): 1,
    }  # fmt: skip


def test_days_that_are_merely_usual_are_filled_in_whole() -> None:
    (found,) = filled_in(series(0, 10), Reader())
    assert (found.what, found.days) == ("the whole day", 10)


def test_the_days_to_come_say_how_they_are_known() -> None:
    made = series(30, 5)
    kind = made.kind.copy()
    kind[30:32] = FORECAST
    ahead = coming(sky(replace(made, kind=kind)), TODAY, Reader())
    assert [one.kind for one in ahead] == ["forecast", "forecast", "usual", "usual", "usual"]
    assert [one.rain for one in ahead[1:3]] == ["2.0 mm, chance 80 %", "–"]
    assert ahead[0].day == "today"


def test_the_last_observed_day() -> None:
    assert observed_until(series(), TODAY) == TODAY - timedelta(days=1)
    assert observed_until(series(0, 5), TODAY) is None


def test_the_weather_is_quick(app: Kept) -> None:
    assert within(app.seconds(f"/g/{app.demo}/weather?days=160"), 0.15)
    assert DAY == TODAY
