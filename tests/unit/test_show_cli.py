"""``soakbook show``: a place with readings and without, and what it says of what it does not know."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from soakbook.cli import main
from soakbook.cli.round import make_round, round_text
from soakbook.cli.show import look_at, place_text
from soakbook.demo import DAY, FOLDER

Shown = Callable[..., str]
READINGS = """r1,2017-06-28T08:00,reading,tomato bed,dry at 25 cm,
r2,2017-07-01T08:00,reading,tomato bed,moist at 25 cm,
r3,2017-07-05T08:00,reading,tomato bed,dry at 25 cm,
r4,2017-07-08T07:00,reading,tomato bed,dry at 25 cm,
"""
FLOWS = "".join(
    f"f{day},2017-{day}T08:00,reading,bean rows,flow 30 L/h of the line,\n" for day in ("06-20", "06-28", "07-05")
)


@pytest.fixture
def show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shown:
    for name in ("garden.toml", "garden.log.csv", "weather.csv.gz"):
        shutil.copy(FOLDER / name, tmp_path / name)
    monkeypatch.setenv("COLUMNS", "80")

    def run(place: str, *more: str, readings: str = "") -> str:
        log = tmp_path / "garden.log.csv"
        log.write_text((FOLDER / "garden.log.csv").read_text(encoding="utf-8") + readings, encoding="utf-8")
        given = ["--garden", str(tmp_path / "garden.toml"), "--on", DAY.isoformat(), *more]
        monkeypatch.setattr(sys, "argv", ["soakbook", "show", place, *given])
        with pytest.raises(SystemExit):
            main()
        return capsys.readouterr().out

    return run


def plain(show: Shown, place: str, readings: str = "") -> dict[str, Any]:
    made: dict[str, Any] = json.loads(show(place, "--json", readings=readings))
    return made


def test_a_place_nobody_read(show: Shown) -> None:
    got = plain(show, "Tomato Bed")
    assert got["place"] == "tomato bed"
    assert got["used_unread"] is None
    assert got["used_low"] < got["used"] < got["used_high"]
    assert (got["readings"], got["told"], got["suspicions"]) == (0, [], [])
    assert got["held"] == {"inside": 0, "readings": 0}
    assert "Nobody has read it yet" in show("tomato bed")


def test_a_place_with_readings(show: Shown) -> None:
    before, after = plain(show, "tomato bed"), plain(show, "tomato bed", READINGS)
    assert after["readings"] == 4
    assert after["used_unread"] == pytest.approx(before["used"], abs=1e-9)
    assert after["used"] > before["used"]
    assert after["used_low"] > before["used_low"]  # three of the four were dry
    assert 0 <= after["held"]["inside"] <= after["held"]["readings"] <= 4
    text = " ".join(show("tomato bed", readings=READINGS).split())
    assert f"The readings moved it from {100 * before['used']:.0f} % used to {100 * after['used']:.0f} %" in text


def test_the_round_and_the_place_tell_of_a_fault_in_the_same_words(tmp_path: Path) -> None:
    """A line that gives 30 L/h where the file has 75: something is blocked. Told once, beside the place it is of."""
    for name in ("garden.toml", "garden.log.csv", "weather.csv.gz"):
        shutil.copy(FOLDER / name, tmp_path / name)
    with (tmp_path / "garden.log.csv").open("a", encoding="utf-8") as file:
        file.write(FLOWS)
    path, on = tmp_path / "garden.toml", DAY.isoformat()
    job, trust, _ = look_at("bean rows", path, False, on, "metric")
    made, _ = make_round(path, False, on, "metric")
    (one,) = trust.to_json()["suspicions"]
    assert one["fault"] == "blocked"
    assert made.to_json()["suspicions"] == [{"place": "bean rows", **one}]
    told, shown = (" ".join(text.split()) for text in (round_text(made, "metric"), place_text(job, trust, "metric")))
    words = f"Something may be wrong: {one['text']} This is very likely (9 in 10 or more), perhaps since"
    for text in (told, shown):
        assert text.count("Something may be wrong") == text.count(words) == 1
        assert f"What would settle it: {one['check']}" in text
        assert "odds 100 %" not in text
    assert told.index("SOAK bean rows") < told.index(words) < told.index("SOAK carrot rows")


def test_an_unknown_place_is_named_with_the_nearest(
    show: Shown, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["soakbook", "show", "tomatoe bed", "--demo"])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 2
    assert 'Did you mean "tomato bed"?' in capsys.readouterr().err
