"""docs/json.md and what ``--json`` prints name the same fields, kind by kind."""

from __future__ import annotations

import json
import re
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from soakbook.cli import main
from soakbook.demo import FOLDER

DOCS = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")
Run = Callable[..., dict[str, Any]]

BED = (
    "ask",
    "--where",
    "45.7, 4.8",
    "--soil",
    "loam",
    "--plant",
    "tomato",
    "--planted",
    "2026-05-15",
    "--bed",
    "3 m x 1 m",
)
POT = ("ask", "--where", "45.7, 4.8", "--plant", "tomato", "--planted", "2026-05-15", "--pot", "15 L", "--pots", "2")
PLACED = ("--lat", "45", "--lon", "5", "--elevation", "200")
WEATHER = "date,tmax (°C),tmin (°C),rain (mm)\n2026-07-01,28,15,0\n2026-07-02,29,,2\n2026-07-03,30,16,0\n"
BROKEN = '[garden]\nname = "x"\nlatitude = 45\ncolour = "red"\n'


def documented(title: str) -> set[str]:
    """Fields in the first column of the table under a heading that begins with ``title``."""
    part = re.search(rf"^##+ {re.escape(title)}.*?(?=^##|\Z)", DOCS, re.MULTILINE | re.DOTALL)
    assert part, f"docs/json.md has no section {title!r}"
    rows = re.findall(r"^\| (`.*?) \|", part[0], re.MULTILINE)
    fields = [name for row in rows for name in re.findall(r"`([^`]+)`", row)]
    assert len(fields) == len(set(fields)), f"{title}: a field is named twice"
    return set(fields)


def kinds_documented() -> dict[str, int]:
    return {kind: int(v) for kind, v in re.findall(r"^## `(\w+)`, version (\d+)$", DOCS, re.MULTILINE)}


def top(data: dict[str, Any]) -> set[str]:
    return set(data) - {"kind", "version"}


def pattern(name: str) -> str:
    """The documented form of a column that has depths in its name."""
    return re.sub(r"^store_\d+_\d+cm_mm$", "store_…_…cm_mm", re.sub(r"^theta_[\d.]+cm$", "theta_…cm", name))


@pytest.fixture
def printed(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run a command with --json in a folder of its own; the one object on standard output, of a documented kind."""
    shutil.copytree(FOLDER, tmp_path, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__", "*.py"))
    (tmp_path / "three.csv").write_text(WEATHER, encoding="utf-8")
    (tmp_path / "broken.toml").write_text(BROKEN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str, kind: str) -> dict[str, Any]:
        monkeypatch.setattr(sys, "argv", ["soakbook", *arguments, "--json"])
        with pytest.raises(SystemExit):
            main()
        data: dict[str, Any] = json.loads(capsys.readouterr().out)
        assert isinstance(data, dict)
        assert (data["kind"], data["version"]) == (kind, kinds_documented()[kind])
        assert next(iter(data)) == "kind"
        return data

    return run


def test_every_kind_has_one_section() -> None:
    titles = re.findall(r"^## `(\w+)`", DOCS, re.MULTILINE)
    assert sorted(titles) == sorted(
        [
            "round",
            "place",
            "ask",
            "balance",
            "eto",
            "plants",
            "soils",
            "drip",
            "lay",
            "pipes",
            "cups",
            "weather_series",
            "garden_check",
            "log_entries",
            "sensor_readings",
            "trial",  # tests/unit/season/trial/test_cli.py
            "away",
            "line",
            "timer_plan",
            "timer_season",
            "timer_check",
            "error",
        ]
    )


def test_round(printed: Run) -> None:
    data = printed("round", "--demo", kind="round")
    assert top(data) == documented("`round`")
    for one in data["lines"]:
        assert set(one) == documented("A line")
        assert all(set(gets) == {"place", "litres", "wants_litres", "cost"} for gets in one["gets"])
    for job in data["jobs"]:
        assert set(job) == documented("A job")
    assert {key for one in data["rain"] for key in one} == {"day", "chance", "amount_mm", "text"}
    assert data["suspicions"] == []  # what one has: tests/unit/test_show_cli.py
    assert printed("round", "--demo", "--units", "US", kind="round") == data


def test_parts_of_a_job(printed: Run) -> None:
    jobs = printed("round", "--demo", kind="round")["jobs"]
    assert {key for job in jobs for reason in job["reasons"] for key in reason} == {"cause", "depth_mm", "litres"}
    goes = [job["goes"] for job in jobs if job["goes"]]
    assert {key for go in goes for key in go} == {"count", "run_minutes", "pause_minutes"}


def test_what_was_weighed(printed: Run) -> None:
    for job in printed("round", "--demo", kind="round")["jobs"]:
        assert set(job["rule"]) == documented("The plain rule")
        assert set(job["plan"]) == documented("The plan")
        assert {key for part in job["plan"]["parts"] + job["plan"]["saved"] for key in part} == {"cause", "cost"}


def test_line(printed: Run) -> None:
    data = printed("line", "north", "--demo", kind="line")
    assert top(data) == documented("`line`")
    for one in data["lines"]:
        assert set(one) == documented("A shared line")
        assert one["fixes"]
        for fix in one["fixes"]:
            assert set(fix) == documented("A fix")
        for place in (*one["places"], *one["alone"], *one["fixes"][0]["places"]):
            assert set(place) == documented("A place on a timer")


def test_timer(printed: Run) -> None:
    plan = printed("timer", "plan", "--demo", kind="timer_plan")
    assert top(plan) == documented("`timer_plan`")
    season = printed("timer", "season", "--demo", "--settings", "2", "--on", "2017-08-12", kind="timer_season")
    assert top(season) == documented("`timer_season`")
    assert {key for one in season["by_times_set"] for key in one} == documented("What setting it so often does")
    assert {key for one in season["settings"] for key in one} == {"from", "programmes"}
    check = printed("timer", "check", "--demo", "--set", "mon,thu 06:00 north 20 min", kind="timer_check")
    assert top(check) == documented("`timer_check`")
    for place in (*plan["places"], *season["places"], *check["places"], *check["places_after"]):
        assert set(place) == documented("A place on a timer")
    for programme in (*plan["programmes"], *season["settings"][0]["programmes"], *check["programmes_after"]):
        assert set(programme) == {"name", "days", "starts", "minutes"}


def test_place(printed: Run) -> None:
    data = printed("show", "bean rows", "--demo", kind="place")
    assert top(data) == documented("`place`")
    assert set(data["held"]) == {"inside", "readings"}
    assert documented("A suspicion") == {"fault", "odds", "since", "text", "check"}


def test_ask(printed: Run) -> None:
    bed, pots = printed(*BED, "--on", "2026-07-01", kind="ask"), printed(*POT, "--on", "2026-07-01", kind="ask")
    assert top(bed) | top(pots) == documented("`ask`")
    assert top(bed) ^ top(pots) == {"plants", "pots"}
    assert set(bed["today"]) == set(pots["today"]) == documented("A job")
    assert set(bed["months"][0]) == documented("A month")
    assert set(bed["waterings"][0]) == {"on", "litres"}


def test_balance(printed: Run) -> None:
    data = printed("balance", "bean rows", "--demo", "--depths", "5 cm, 12.5 cm", kind="balance")
    assert top(data) == documented("`balance`")
    assert {pattern(name) for name in data["days"][0]} == documented("A day")


def test_eto(printed: Run) -> None:
    data = printed("eto", "three.csv", *PLACED, kind="eto")
    assert top(data) == documented("`eto`")
    assert set(data["steps"][0]) == documented("A step")


def test_plants(printed: Run) -> None:
    data = printed("plants", kind="plants")
    assert top(data) == documented("`plants`")
    values = []
    for plant in data["plants"]:
        assert set(plant) == documented("A plant")
        values += [value for value in plant.values() if isinstance(value, dict)]
    for value in values:
        assert set(value) == {"value", "source", "standing", "note"}
        assert value["standing"] in {"printed", "borrowed", "judged", "memory"}
        assert set(data["sources"][value["source"]]) == {
            "key", "title", "authors", "year", "where", "usage", "standing",
        }  # fmt: skip


def test_soils(printed: Run) -> None:
    data = printed("soils", kind="soils")
    assert top(data) == documented("`soils`")
    assert all(set(row) == documented("A texture") for row in data["textures"])
    assert all(set(row) == documented("A mix") for row in data["mixes"])
    assert top(printed("soils", "loam", kind="soils")) == documented("`soils`")


def test_drip(printed: Run) -> None:
    data = printed("drip", "--run", "20 min", kind="drip")
    assert top(data) == documented("`drip`")
    assert all(set(look) == documented("A look") for run in data["runs"] for look in run)
    assert printed("drip", "--circle", "40 cm", "--dug", "12 cm", kind="drip")["fit"]["missed_cm"] < 5.0


def test_lay(printed: Run) -> None:
    data = printed("lay", "--bed", "3 m x 1.2 m", "--rows", "3", "--tap", "3 bar, 10 L/min", kind="lay")
    assert top(data) == documented("`lay`")
    assert all(set(part) == documented("A part") for part in data["parts"])
    assert set(data["drawing"]) == documented("The drawing")
    assert top(printed("lay", "--bed", "3 m x 1.2 m", "--tank", "1 m", kind="lay")) == documented("`lay`")


def test_pipes(printed: Run) -> None:
    data = printed("pipes", "--lines", "2", kind="pipes")
    assert top(data) == documented("`pipes`")
    assert len(data["outlets"]) == 100
    assert all(set(one) == documented("An outlet") for one in data["outlets"])


def test_cups(printed: Run) -> None:
    data = printed("cups", "0", "0", "/", "3", "4", kind="cups")
    assert top(data) == documented("`cups`")
    assert data["times_longer"] is None
    assert all(set(one) == documented("A cup") for one in data["worst"])


def test_weather_series(printed: Run) -> None:
    data = printed("weather", "show", "three.csv", kind="weather_series")
    assert top(data) == documented("`weather_series`")
    assert len(data["days"]) == len(data["day_kind"]) == 3
    assert data["reference_evapotranspiration_mm"] is None
    placed = printed("weather", "show", "three.csv", "--at", "45, 5", kind="weather_series")
    assert top(placed) == documented("`weather_series`")
    assert all(value > 0 for value in placed["reference_evapotranspiration_mm"])


def test_garden_check(printed: Run) -> None:
    usable = printed("garden", "check", kind="garden_check")
    broken = printed("garden", "check", "broken.toml", kind="garden_check")
    assert (usable["is_usable"], broken["is_usable"]) == (True, False)
    assert top(usable) | top(broken) == documented("`garden_check`")
    assert "errors" not in usable
    assert all(set(place) == documented("A place") for place in usable["places"])
    assert all(set(error) == documented("`error`") for error in broken["errors"])
    assert len(broken["errors"]) >= 2


@pytest.mark.parametrize(
    "entry",
    [
        ("water", "bean rows", "20 min"),
        ("rain", "3 mm"),
        ("note", "aphids", "--place", "bean rows"),
        ("reading", "bean rows", "dial 4"),
        ("forget", "bean rows"),
    ],
)
def test_log_entries(printed: Run, entry: tuple[str, ...]) -> None:
    data = printed("log", *entry, "--on", "2017-07-08", kind="log_entries")
    assert top(data) == documented("`log_entries`")
    assert [set(one) for one in data["entries"]] == [documented("An entry")]


def test_sensor_readings(printed: Run) -> None:
    Path("box.csv").write_text("time,value\n2017-07-07 05:00,23.5\nlater,1\n", encoding="utf-8")
    data = printed("log", "sensor", "box.csv", "bean rows", "--unit", "%", kind="sensor_readings")
    assert top(data) == documented("`sensor_readings`")
    assert [set(one) for one in data["entries"]] == [documented("An entry")]
    assert [set(one) for one in data["unused"]] == [documented("`error`")]


def test_away(printed: Run) -> None:
    data = printed("away", "--demo", "--visits", "1", "--every", "3", "--timer", "--until", "2017-07-14", kind="away")
    assert top(data) == documented("`away`")
    for place in data["places"]:
        assert set(place) == documented("One place over the days")
        assert (
            set(place["nobody"]) == set(place["visited"]) == set(place["programme"]) == documented("What becomes of it")
        )
        for one in place["before"]:
            assert set(one) == {"measure", "saved", "saved_low", "saved_high", "litres", "does_harm", "taken"}
    assert all(set(one) == documented("A measure") for one in data["measures"])
    gifts = [gift for visit in data["visits"] for gift in visit["gifts"]]
    assert gifts
    both = data["timer_and_visits"]
    assert set(both) == documented("The timer and visits together")
    assert set(data["places"][0]["timer_and_visits"]) == documented("What becomes of it")
    gifts += [gift for visit in both["visits"] for gift in visit["gifts"]]
    assert all(set(gift) == {"place", "litres", "each_litres", "cans", "minutes", "gauge_mm"} for gift in gifts)


def test_error(printed: Run) -> None:
    assert top(printed("plants", "no such plant", kind="error")) == documented("`error`")
