"""The round: its sums add up, its measures agree, it does not know the future, and its log counts once."""

from __future__ import annotations

import gzip
import json
import re
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from soakbook.advice.round import Job, Round, today_round
from soakbook.advice.sky import weather_for
from soakbook.cli import main
from soakbook.cli.round import amount_text, make_round, round_text, under
from soakbook.cli.terminal import UnitSystem
from soakbook.demo import DAY, FOLDER, demo_garden
from soakbook.garden.log import read_log

#: NIST Special Publication 811 (2008), appendix B.8: 1 gallon (U.S.) = 231 cubic inches, 1 inch = 25.4 mm exactly; 16 cups
#: and 128 fluid ounces a gallon (NIST Handbook 44, appendix C).
GALLON_L = 3.785411784
UNITS_L = {"mL": 0.001, "L": 1.0, "gal": GALLON_L, "cup": GALLON_L / 16, "fl oz": GALLON_L / 128}
QUARTERS = {"": 0.0, "¼": 0.25, "½": 0.5, "¾": 0.75}
AMOUNT = re.compile(r"(-?)(\d*(?:\.\d+)?)([¼½¾]?) (mL|L|gal|cup|fl oz)s?\b(?! a )")
#: Dry, rainy, cool and hot days of the demo's record, the demo's own among them.
DAYS = [date(2017, 5, 20), date(2017, 6, 18), date(2017, 7, 1), DAY, date(2017, 7, 22), date(2017, 8, 20)]
HEADING = "id,at,kind,place,amount,text"
NAMES = [place.name for place in demo_garden()[0].places]


def amounts_l(text: str) -> list[tuple[float, float]]:
    """Each amount of water in a text, with half the last step shown. [L]"""
    found = []
    for sign, number, quarter, unit in AMOUNT.findall(text):
        step = 0.25 if unit == "cup" else 10.0 ** -len(number.partition(".")[2])
        value = (float(number or 0) + QUARTERS[quarter]) * UNITS_L[unit]
        found.append((-value if sign else value, 0.5 * step * UNITS_L[unit]))
    return found


def shown_l(job: Job, system: UnitSystem) -> list[tuple[float, float]]:
    """The amounts of a job's line and of its sum."""
    sums = [line for line in under(job, system, True) if re.match(r" *-?[\d¼½¾]", line)]
    return amounts_l(amount_text(job, system)) + [one for line in sums for one in amounts_l(line)]


def true_l(job: Job) -> list[float]:
    a = job.advice
    litres = a.litres or a.if_dry_litres
    each = [job.each_litres] if litres and job.each_litres and abs(job.each_litres - litres) > 1e-9 else []
    parts = [reason.litres for reason in a.reasons]
    put = [litres] if a.fills(litres) else [litres, a.full_litres]
    sums = [*parts, a.missing_litres, *(put if litres else [])] if a.count else []
    return [*([litres] if litres else []), *each, *sums]


@pytest.fixture(scope="module")
def demo() -> Round:
    return make_round(None, True, None, None)[0]


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_reasons_add_up_to_what_is_missing(day: date) -> None:
    made = make_round(None, True, day.isoformat(), None)[0]
    jobs = made.to_json()["jobs"]
    assert len(jobs) == 12
    for job in jobs:
        assert sum(r["depth_mm"] for r in job["reasons"]) == pytest.approx(job["missing_mm"], rel=0, abs=1e-6)
        assert sum(r["litres"] for r in job["reasons"]) == pytest.approx(job["missing_litres"], rel=1e-9, abs=1e-6)
    assert max(job["missing_mm"] for job in jobs) > 1.0


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_amounts_of_a_job_agree_with_each_other(day: date) -> None:
    garden = demo_garden()[0]
    for job in make_round(None, True, day.isoformat(), None)[0].jobs:
        a = job.advice
        rule = job.rule or a
        given = rule.litres or rule.if_dry_litres
        assert (a.litres > 0) == (a.verdict == "soak")
        assert (a.if_dry_litres > 0) == (a.verdict == "probe first")
        if (
            given and not job.given_today_litres
        ):  # what arrives makes up for what is missing, for what a mulch keeps of it and what runs out of a pot; never more
            held = 4.0 * garden.place(a.place).area_m2  # no mulch of the catalogue holds more than 4 mm
            stays = rule.efficiency * (1.0 - rule.runs_out)
            assert rule.missing_litres * (1 - 1e-9) <= given * stays <= rule.missing_litres + held
        if a.next_due is not None and a.verdict in ("soak", "probe first"):
            assert a.next_due > day


def test_no_pot_is_given_more_than_it_holds(demo: Round) -> None:
    garden, _, _ = demo_garden()
    pots = [(job, garden.place(job.advice.place)) for job in demo.jobs if job.kind != "bed"]
    assert len(pots) == 3
    for job, place in pots:
        assert place.pot is not None
        assert job.rule is not None
        assert job.rule.litres < place.pot.volume_l * place.pot.count
        assert job.advice.litres < place.pot.volume_l * place.pot.count


@pytest.mark.parametrize("system", ["metric", "US"])
def test_a_text_shows_the_amounts_of_the_round(demo: Round, system: UnitSystem) -> None:
    for job in demo.jobs:
        shown, true = shown_l(job, system), true_l(job)
        assert len(shown) == len(true), job.advice.place
        for (value, half), litres in zip(shown, true, strict=True):
            # Said to two figures, which is 5 % at the most, and then to the digits of the unit.
            assert abs(value - litres) <= half + 0.05 * abs(litres), (
                f"{job.advice.place}: {litres} L shown as {value} L"
            )


def test_a_quick_hose_is_told_in_seconds(demo: Round) -> None:
    """A hose of 10 L in 4 s fills a pot in 17 s, which is not no time."""
    one = next(job for job in demo.jobs if job.advice.litres)
    assert "17 s" in amount_text(replace(one, minutes=17.0 / 60.0, goes=None), "metric")


def test_metric_and_us_texts_show_the_same_amounts(demo: Round) -> None:
    for job in demo.jobs:
        for (metric, half), (us, other) in zip(shown_l(job, "metric"), shown_l(job, "US"), strict=True):
            assert abs(metric - us) <= half + other + 0.002 * metric


def test_ten_gallons_are_ten_gallons(demo: Round) -> None:
    job = next(job for job in demo.jobs if job.advice.verdict == "soak")
    exact = replace(job, advice=replace(job.advice, litres=10 * GALLON_L), each_litres=1.5 * GALLON_L)
    assert amount_text(exact, "US").startswith("10 gal,")
    assert "1.5 gal each" in amount_text(exact, "US")
    assert amount_text(exact, "metric").startswith("38 L,")  # 37.85


def test_odds_on_rain_are_told_in_the_readers_measures(demo: Round) -> None:
    assert demo.rain
    metric, us = (" ".join(round_text(demo, system).split()) for system in ("metric", "US"))
    for one in demo.rain:
        assert f"on {one.day:%a} {one.day.day} {one.day:%b} ({one.in_ten} in 10), about" in metric
    assert re.search(r"\d in 10\), about [\d.]+ mm if it", metric)
    assert re.search(r"\d in 10\), about [\d.]+ in if it", us)
    assert "No rain to reckon with in the next 7 days." in round_text(replace(demo, rain=()), "metric")
    assert "reckon" not in round_text(replace(demo, rain=None), "metric")


@pytest.mark.parametrize("system", ["metric", "US"])
def test_a_text_keeps_to_its_measures(demo: Round, system: UnitSystem) -> None:
    text = round_text(demo, system, reasons=True)
    other = r"\d (?:gal|cups?|in(?! 10\b)|ft|fl oz)\b" if system == "metric" else r"\d (?:m?L|[cm]?m|m²)\b"
    assert not re.search(other, text)


@pytest.mark.parametrize("system", ["metric", "US"])
def test_every_place_is_named_once_in_walking_order(demo: Round, system: UnitSystem) -> None:
    text = " ".join(round_text(demo, system).split())
    at = [text.index(f" {job.advice.verdict.upper()} {job.advice.place} ") for job in demo.jobs]
    assert at == sorted(at)


def test_words_are_counted_in_the_plural_where_they_are_many(demo: Round) -> None:
    text = round_text(demo, "metric", reasons=True)
    assert not re.search(r"(?<![\d.])1 (?:days|goes|cans|plants|pots|places)\b", text)
    assert not re.search(r"\b(?:[2-9]|\d\d+) (?:day|go|can|plant|pot|place)\b", text)


# --- A folder of one's own -----------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("garden.toml", "garden.log.csv", "weather.csv.gz"):
        shutil.copy(FOLDER / name, tmp_path / name)
    return tmp_path


Rounds = Callable[[Path], dict[str, Any]]


@pytest.fixture
def round_of(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Rounds:
    """The round of the demo's day as ``soakbook round --json`` prints it."""

    def run(folder: Path) -> dict[str, Any]:
        given = ["--garden", str(folder / "garden.toml"), "--on", DAY.isoformat(), "--json"]
        monkeypatch.setattr(sys, "argv", ["soakbook", "round", *given])
        with pytest.raises(SystemExit) as left:
            main()
        assert not left.value.code
        made: dict[str, Any] = json.loads(capsys.readouterr().out)
        return made

    return run


def rewrite_weather(folder: Path, change: Callable[[date, str], str | None]) -> int:
    """Change rows of the weather file (None removes one); how many were changed."""
    path = folder / "weather.csv.gz"
    heading, *rows = gzip.decompress(path.read_bytes()).decode().splitlines()
    new = [change(date.fromisoformat(row[:10]), row) for row in rows]
    kept = [row for row in new if row is not None]
    path.write_bytes(gzip.compress("\n".join([heading, *kept, ""]).encode()))
    return sum(a != b for a, b in zip(rows, new, strict=True))


def garbage(day: date) -> str:
    """A readable row of weather that never was: by turns scorching and flooded."""
    return f"{day},49.9,38.0,0,33.0,9,3" if day.toordinal() % 2 else f"{day},-20.0,-30.0,300,0.5,100,99"


@pytest.mark.parametrize(
    "later", [lambda day: None, garbage, lambda day: f"{day},,,,,,"], ids=["removed", "garbage", "empty"]
)
def test_the_round_does_not_know_the_future(
    folder: Path, round_of: Rounds, later: Callable[[date], str | None]
) -> None:
    before = round_of(folder)
    assert rewrite_weather(folder, lambda day, row: later(day) if day >= DAY else row) > 40
    assert round_of(folder) == before


def test_the_demo_is_that_round(folder: Path, round_of: Rounds, demo: Round) -> None:
    assert round_of(folder) == {"kind": "round", "version": 1, **json.loads(json.dumps(demo.to_json()))}


def test_a_weather_series_is_not_looked_at_from_the_day_on() -> None:
    """The function alone: what was observed on or after the day is not in what :func:`weather_for` gives."""
    garden, log, where = demo_garden()
    weather = weather_for(garden, DAY, log, folder=where)
    observed = weather.kind == 0
    assert bool(observed.any())
    assert weather.times[observed].max() == np.datetime64(DAY) - np.timedelta64(1, "D")


def test_the_round_knows_the_day_before(folder: Path, round_of: Rounds) -> None:
    before = round_of(folder)
    assert rewrite_weather(folder, lambda day, row: garbage(day) if day == DAY - timedelta(days=1) else row) == 1
    assert round_of(folder)["jobs"] != before["jobs"]


def log_lines(folder: Path) -> list[str]:
    heading, *lines = (folder / "garden.log.csv").read_text(encoding="utf-8").splitlines()
    assert heading == HEADING
    return lines


def write_log(folder: Path, lines: list[str]) -> None:
    (folder / "garden.log.csv").write_text("\n".join([HEADING, *lines, ""]), encoding="utf-8")


def test_the_same_entry_twice_counts_once(folder: Path, round_of: Rounds) -> None:
    before, lines = round_of(folder), log_lines(folder)
    write_log(folder, [line for line in lines for _ in range(2)])
    assert round_of(folder) == before


def test_another_entry_counts(folder: Path, round_of: Rounds) -> None:
    before, lines = round_of(folder), log_lines(folder)
    write_log(folder, [*lines, "new1,2017-07-07T18:00,water,bean rows,30 L,"])
    after = round_of(folder)
    changed = {a["place"] for a, b in zip(after["jobs"], before["jobs"], strict=True) if a != b}
    assert changed == {"bean rows"}
    assert missing(after, "bean rows") < missing(before, "bean rows")


def missing(made: dict[str, Any], place: str) -> float:
    found: float = next(job["missing_mm"] for job in made["jobs"] if job["place"] == place)
    return found


def test_the_order_of_lines_does_not_matter(folder: Path, round_of: Rounds) -> None:
    before, lines = round_of(folder), log_lines(folder)
    write_log(folder, list(reversed(lines)))
    assert round_of(folder) == before
    write_log(folder, [lines[i] for i in np.random.default_rng(7).permutation(len(lines))])
    assert round_of(folder) == before


@pytest.mark.parametrize("at", ["2017-07-09T06:00", "2017-08-01T12:00"])
@pytest.mark.parametrize("what", ["water,bean rows,90 L", "rain,,60 mm"])
def test_an_entry_of_a_later_day_is_ignored(folder: Path, round_of: Rounds, at: str, what: str) -> None:
    before, lines = round_of(folder), log_lines(folder)
    if at.startswith("2017-07-09") and what.startswith("rain"):
        at = "2017-07-09T13:00"  # a reading of the next morning would tell of this day
    write_log(folder, [f"late,{at},{what},", *lines])
    assert round_of(folder) == before


def test_a_gauge_read_this_morning_tells_of_the_night(folder: Path, round_of: Rounds) -> None:
    """Common practice: a reading before noon is what fell in the 24 hours before."""
    lines = log_lines(folder)
    dry = job_of(round_of(folder), "pepper bed")
    write_log(folder, ["night,2017-07-08T07:00,rain,,40 mm,", *lines])
    wet = job_of(round_of(folder), "pepper bed")
    assert wet["missing_mm"] < dry["missing_mm"]
    write_log(folder, ["noon,2017-07-08T13:00,rain,,40 mm,", *lines])
    assert job_of(round_of(folder), "pepper bed") == dry


def test_what_was_watered_today_comes_off_today(folder: Path, round_of: Rounds) -> None:
    lines = log_lines(folder)
    before = next(job for job in round_of(folder)["jobs"] if job["verdict"] == "soak")
    name, some = before["place"], 0.25 * before["litres"]
    write_log(folder, [f"now,2017-07-08T06:00,water,{name},{some:.3f} L,", *lines])
    part = job_of(round_of(folder), name)
    assert part["litres"] == pytest.approx(before["litres"] - some, abs=1e-3)
    assert part["given_today_litres"] == pytest.approx(some, abs=1e-3)
    write_log(folder, [f"now,2017-07-08T06:00,water,{name},300 L,", *lines])
    done = job_of(round_of(folder), name)
    assert done["verdict"] == "hold"
    assert done["litres"] == 0.0


def job_of(made: dict[str, Any], place: str) -> dict[str, Any]:
    return next(job for job in made["jobs"] if job["place"] == place)


READINGS = [
    "r1,2017-06-28T08:00,reading,tomato bed,dry at 25 cm,",
    "r2,2017-07-05T08:00,reading,tomato bed,moist at 25 cm,",
    "r3,2017-07-08T06:30,reading,tomato bed,dry at 25 cm,",
]


def test_readings_move_only_their_own_place_and_say_so(folder: Path, round_of: Rounds) -> None:
    lines = [line for line in log_lines(folder) if ",reading," not in line]
    write_log(folder, lines)
    before = round_of(folder)
    assert not any(job["moved"] for job in before["jobs"])
    write_log(folder, [*lines, *READINGS])
    after = round_of(folder)
    moved = {job["place"] for job in after["jobs"] if job["moved"]}
    assert moved == {"tomato bed"}
    rules = [{job["place"]: job["rule"] for job in made["jobs"]} for made in (before, after)]
    assert {place for place in rules[0] if rules[0][place] != rules[1][place]} == {"tomato bed"}


def test_the_order_of_readings_does_not_matter(folder: Path, round_of: Rounds) -> None:
    lines = log_lines(folder)
    write_log(folder, [*lines, *READINGS])
    one = round_of(folder)
    write_log(folder, [*READINGS[::-1], *lines])
    assert round_of(folder) == one


def test_readings_taken_out_are_as_if_they_had_never_been(folder: Path, round_of: Rounds) -> None:
    before, lines = round_of(folder), log_lines(folder)
    write_log(folder, [*lines, *READINGS])
    assert round_of(folder) != before
    write_log(folder, lines)
    assert round_of(folder) == before


def test_probe_first_is_settled_once_it_was_read(folder: Path, round_of: Rounds) -> None:
    lines = log_lines(folder)
    write_log(folder, [*lines, *(f"p{n},2017-07-08T06:30,reading,{name},moist," for n, name in enumerate(NAMES))])
    assert {job["verdict"] for job in round_of(folder)["jobs"]} <= {"soak", "hold", "let drain", "rain will do"}


def test_a_note_changes_nothing(folder: Path, round_of: Rounds) -> None:
    before, lines = round_of(folder), log_lines(folder)
    write_log(folder, [*lines, "n9,2017-07-05T07:00,note,bean rows,,aphids"])
    assert round_of(folder) == before


def test_order_does_not_matter_to_the_function_either() -> None:
    garden, log, where = demo_garden()
    weather = weather_for(garden, DAY, log, folder=where)
    shuffled = list(reversed(log))
    assert weather_for(garden, DAY, shuffled, folder=where).get("rain_mm") == pytest.approx(weather.get("rain_mm"))
    assert today_round(garden, weather, DAY, shuffled).to_json() == today_round(garden, weather, DAY, log).to_json()


def test_the_same_entry_twice_counts_once_in_the_function() -> None:
    garden, log, where = demo_garden()
    weather = weather_for(garden, DAY, log, folder=where)
    assert today_round(garden, weather, DAY, [*log, *log]).to_json() == today_round(garden, weather, DAY, log).to_json()


def test_a_garden_without_a_log_has_a_round(folder: Path, round_of: Rounds) -> None:
    before = round_of(folder)
    (folder / "garden.log.csv").unlink()
    assert read_log(folder / "garden.log.csv", demo_garden()[0]) == []
    after = round_of(folder)
    assert len(after["jobs"]) == 12
    assert sum(job["missing_litres"] for job in after["jobs"]) > sum(job["missing_litres"] for job in before["jobs"])
