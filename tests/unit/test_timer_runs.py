"""What a timer has run counts as waterings: as if somebody had written every run into the log."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from soakbook.advice.ahead import dues_ahead
from soakbook.advice.job import Job
from soakbook.advice.open import find_town, known_words
from soakbook.advice.round import standings_of, timers_said, today_round
from soakbook.advice.sky import members_for, weather_for
from soakbook.balance.columns import IRRIGATION
from soakbook.balance.place import place_days, standard_time
from soakbook.errors import InputError, InputErrors
from soakbook.garden.file import parse_garden
from soakbook.garden.log import LogRow, parse_row
from soakbook.garden.model import Garden
from soakbook.garden.timer import Days, KeptTimer, Programme, Spell
from soakbook.garden.timer_runs import DAYS_BACK, timer_entries
from soakbook.weather.series import WeatherSeries

ON = date(2026, 7, 10)  # a Friday
WEDNESDAYS = Programme("A", Days("weekdays", (2,)), (360, 1200), (("north", 30), ("south", 10)))
DAILY = Programme("A", Days(), (300,), (("north", 12),))
FILE = """
[garden]
name = "Taps"
latitude = 44.5
longitude = -78.3
elevation = "200 m"
time_zone = "America/Toronto"
invented = true
weather = "normals"
[[lines]]
name = "north"
means = "drip line"
flow = "40 L/h"
[[lines]]
name = "south"
means = "drip line"
[[places]]
name = "beans"
kind = "bed"
soil = "loam"
size = "1 m x 3 m"
line = "north"
[[places.plantings]]
plant = "bush bean"
sown = 2026-05-20
[[places]]
name = "kale"
kind = "bed"
soil = "loam"
size = "1 m x 3 m"
line = "south"
"""


def garden_of(text: str) -> Garden:
    return parse_garden(text, known_words(), find_town).garden


def with_timer(*timers: KeptTimer) -> Garden:
    return replace(garden_of(FILE), timers=timers)


def test_every_run_is_a_watering_of_the_places_on_its_line() -> None:
    """40 L/h for half an hour twice each Wednesday from 1 July (a Wednesday) to the 10th: four times 20 L; of the south nobody knows the flow."""
    entries = timer_entries(with_timer(KeptTimer("tap", setting=(WEDNESDAYS,), since=date(2026, 7, 1))), ON)
    assert [(e.at.date().isoformat(), f"{e.at:%H:%M}", e.place, e.litres) for e in entries] == [
        (day, at, "beans", 20.0) for day in ("2026-07-01", "2026-07-08") for at in ("06:00", "20:00")
    ]
    assert all(e.at.utcoffset() == timedelta(hours=-4) for e in entries)
    assert len({e.id for e in entries}) == 4


def test_without_a_day_nothing_counts_and_other_lines_are_left_alone() -> None:
    assert timer_entries(with_timer(KeptTimer("tap", setting=(DAILY,))), ON) == []
    assert (
        timer_entries(with_timer(KeptTimer("tap", opens=("south",), setting=(DAILY,), since=date(2026, 7, 1))), ON)
        == []
    )
    assert timer_entries(with_timer(KeptTimer("tap", setting=(DAILY,), since=date(2026, 7, 11))), ON) == []


def test_what_ran_earlier_counts_until_the_change() -> None:
    earlier = Spell((WEDNESDAYS,), date(2026, 6, 20), date(2026, 7, 8))
    entries = timer_entries(
        with_timer(KeptTimer("tap", setting=(DAILY,), since=date(2026, 7, 8), earlier=(earlier,))), ON
    )
    assert [(e.at.day, e.minutes) for e in entries] == [
        (24, 30.0),
        (24, 30.0),
        (1, 30.0),
        (1, 30.0),
        (8, 12.0),
        (9, 12.0),
        (10, 12.0),
    ]


def test_runs_of_years_ago_are_not_gone_through() -> None:
    entries = timer_entries(with_timer(KeptTimer("tap", setting=(DAILY,), since=date(2020, 1, 1))), ON)
    assert len(entries) == DAYS_BACK + 1


def test_the_balance_is_as_if_each_run_had_been_written_down() -> None:
    garden = with_timer(KeptTimer("tap", setting=(DAILY,), since=date(2026, 6, 20)))
    weather = weather_for(garden, ON)
    written = [
        parse_row(LogRow(f"2026-{day:%m-%d}T05:00", "water", "beans", "12 min", "", f"e{day:%m%d}"), garden)
        for day in (date(2026, 6, 20) + timedelta(days=d) for d in range(21))
    ]
    by_timer, by_hand = (
        place_days(garden, garden.place("beans"), weather, log, until=ON).forcing.irrigation_mm
        for log in (timer_entries(garden, ON), written)
    )
    assert by_timer == pytest.approx(by_hand)
    assert np.count_nonzero(by_hand) >= 21


def test_the_round_knows_of_them() -> None:
    """Today's run is told and not taken for a watering by hand, the bed is wetter than without, and the next run is told."""
    garden = with_timer(KeptTimer("tap", setting=(replace(DAILY, minutes=(("north", 40),)),), since=date(2026, 6, 20)))
    weather = weather_for(garden, ON)
    with_runs, without = (today_round(garden, weather, ON, log) for log in (timer_entries(garden, ON), []))
    beans, bare = with_runs.jobs[0], without.jobs[0]
    assert beans.given_today_litres == 0.0
    assert beans.advice.timer_litres == pytest.approx(40 * 40 / 60)
    assert beans.advice.used < bare.advice.used
    said = " ".join(str(text) for text in with_runs.cautions)
    assert "Runs of tap since 2026-06-20 are counted" in said
    assert "The next run of tap after today: north on 2026-07-11 at 05:00 for 40 min" in said


def test_a_timer_that_begins_later_is_told_for_its_runs_are_reckoned_with() -> None:
    garden = with_timer(KeptTimer("tap", setting=(DAILY,), since=ON + timedelta(days=3)))
    said = " ".join(str(text) for text in timers_said(garden, ON))
    assert "are counted as waterings" not in said
    assert "The next run of tap after today: north on 2026-07-13 at 05:00 for 12 min" in said


def test_a_year_far_ahead_is_questioned() -> None:
    said = " ".join(timers_said(with_timer(KeptTimer("tap", setting=(DAILY,), since=date(2099, 1, 1))), ON))
    assert "more than a year ahead: is the year right?" in said
    soon = timers_said(with_timer(KeptTimer("tap", setting=(DAILY,), since=ON + timedelta(days=300))), ON)
    assert not any("is the year right" in text for text in soon)


def test_a_place_that_gets_nobody_knows_how_much_is_named() -> None:
    """The round asks for water at the kale as if the timer gave none."""
    kale = '[[places.plantings]]\nplant = "kale"\nplanted = 2026-05-20\n'
    garden = replace(garden_of(FILE + kale), timers=(KeptTimer("tap", setting=(WEDNESDAYS,), since=date(2026, 7, 1)),))
    assert any("What tap gives kale is not counted" in str(text) for text in timers_said(garden, ON))
    known = replace(garden, lines=tuple(replace(line, flow_lph=30.0) for line in garden.lines))
    assert not any("is not counted" in str(text) for text in timers_said(known, ON))


def round_of(*, minutes: int, since: date = ON, spared: bool = False) -> Job:
    """The beans in a dry spell: a timer set today, or spared from running."""
    timer = KeptTimer("tap", setting=(replace(DAILY, minutes=(("north", minutes),)),), since=since)
    garden = with_timer(replace(timer, since=None) if spared else timer)
    weather = dry(weather_for(garden, ON))
    ahead = members_for(garden, weather, ON, count=20)
    return today_round(garden, weather, ON, timer_entries(garden, ON), ahead=ahead).jobs[0]


def dry(weather: WeatherSeries) -> WeatherSeries:
    """No rain for two weeks before the day."""
    soon = (weather.times >= np.datetime64(ON - timedelta(14))) & (weather.times < np.datetime64(ON))
    return replace(weather, columns={**weather.columns, "rain_mm": np.where(soon, 0.0, weather.get("rain_mm"))})


def test_what_comes_by_itself_is_not_asked_for() -> None:
    """The plain rule asks for what is missing less what the timer brings, litre for litre; a timer that brings all leaves nothing to do, and that is no
    rain to wait for."""
    alone, little, all_of_it = (round_of(minutes=m, spared=m == 0) for m in (0, 6, 150))
    assert alone.advice.verdict == "soak"
    assert alone.rule is not None
    assert little.rule is not None
    assert little.rule.litres == pytest.approx(alone.rule.litres - 4.0, abs=0.1)
    assert 0.0 < little.advice.litres < alone.advice.litres
    assert all_of_it.advice.verdict == "hold"
    assert all_of_it.rule is not None
    assert all_of_it.rule.verdict == "hold"
    assert all_of_it.advice.litres == 0.0


def test_less_rain_does_what_the_soak_would_where_the_timer_brings_part() -> None:
    """By hand: 4 L over 3 m², of which a part is watered; what arrives of it need not come as rain."""
    gauges = []
    for minutes in (0, 6):
        timer = KeptTimer("tap", setting=(replace(DAILY, minutes=(("north", minutes),)),), since=ON)
        garden = with_timer(timer)
        weather = dry(weather_for(garden, ON))
        log = timer_entries(garden, ON)
        (standing, _), jobs = standings_of(garden, weather, ON, log), today_round(garden, weather, ON, log).jobs
        due = dues_ahead(garden, standing, jobs[0], ON + timedelta(days=2))[0]
        assert due.on == ON
        gauges.append(due.gauge_mm)
    days = standing.days
    arrives = 4.0 * float(days.laid.columns.delivery[0, 0]) / (3.0 * days.area_wet(days.index(ON)))
    assert gauges[0] is not None
    assert gauges[1] == pytest.approx(gauges[0] - arrives)


def test_a_timer_that_suffices_lets_nothing_fall_due() -> None:
    """40 L/h for 20 minutes is 4.4 mm a day over 3 m², about what beans use in July at 44° north; without it the bed is due in days."""
    since = date(2026, 6, 1)
    kept, left = (round_of(minutes=20, since=since, spared=spared) for spared in (False, True))
    assert left.advice.next_due is not None
    assert left.advice.next_due < ON + timedelta(days=12)
    assert kept.advice.verdict == "hold"
    assert kept.advice.next_due is None or kept.advice.next_due > left.advice.next_due + timedelta(days=7)


def test_runs_to_come_are_as_if_given_on_those_days() -> None:
    garden = with_timer(KeptTimer("tap", setting=(WEDNESDAYS,), since=ON))
    days = place_days(garden, garden.place("beans"), weather_for(garden, ON), until=ON)
    today, last = days.index(ON), days.index(date(2026, 7, 23))
    wednesdays = [days.index(date(2026, 7, 15)), days.index(date(2026, 7, 22))]
    given = [(day, days.depth_mm(40.0, day)) for day in wednesdays]  # twice half an hour of 40 L/h
    start = days.run(days.start(), 0, today).end
    bare = replace(days, coming_mm=np.zeros_like(days.coming_mm))
    to_come, by_hand = days.run(start, today, last, logged=False), bare.run(start, today, last, given, logged=False)
    assert to_come.end.water_mm == pytest.approx(by_hand.end.water_mm)
    arrives = float(days.laid.columns.delivery[0, 0])
    assert to_come.totals[0, IRRIGATION, 0] * days.laid.ground_m2 == pytest.approx(80.0 * arrives)
    assert days.part(today, last, logged=False, coming=False).irrigation_mm.sum() == 0.0


@pytest.mark.parametrize("place", ["beans", "mint"])
def test_a_run_after_midnight_is_one_of_its_day_in_summer_time(place: str) -> None:
    """00:30 by summer time is 23:30 of the day before by standard time, by which the balance goes: it is no run of that day, nor lost between the two."""
    pot = '[[places]]\nname = "mint"\nkind = "pot"\nsoil = "multipurpose"\npot = { volume = "10 L" }\nline = "north"\n'
    at_night = KeptTimer("tap", setting=(replace(WEDNESDAYS, starts=(30,)),), since=date(2026, 7, 15))
    garden = replace(garden_of(FILE + pot), timers=(at_night,))
    wednesday = date(2026, 7, 15)
    (litres,) = [e.litres for e in timer_entries(garden, wednesday) if e.place == place]
    for k, (coming, so_far) in enumerate([(0.0, 0.0), (litres, 0.0), (0.0, litres)]):
        on = wednesday + timedelta(days=k - 1)
        log = [e for e in timer_entries(garden, on) if e.at.date() < on]
        days, bare = (
            place_days(garden, garden.place(place), weather_for(garden, on), some, until=on) for some in (log, ())
        )
        today, n = days.index(on), days.steps_a_day
        assert days.litres(days.coming_today_mm(today), today) == pytest.approx(coming)
        runs = days.forcing.irrigation_mm[0] - bare.forcing.irrigation_mm[0]
        given = runs.sum(axis=1).reshape(-1, n).sum(axis=1)
        assert sum(days.litres(mm, d) for d, mm in enumerate(given[:today])) == pytest.approx(so_far)
        assert days.litres(given[days.index(wednesday)], days.index(wednesday)) == pytest.approx(so_far)


@pytest.mark.parametrize(
    ("zone", "at", "hour"),
    [
        ("Europe/Paris", "2026-07-15T00:30", 0),
        ("Europe/Paris", "2026-07-15T23:30", 22),
        ("Africa/Casablanca", "2026-03-01T23:30", 23),  # an hour back from 15 February to 22 March 2026 (IANA time zone database)
        ("Australia/Lord_Howe", "2026-01-15T00:15", 0),
    ],
)  # fmt: skip
def test_standard_time_stays_on_the_day_of_the_clock(zone: str, at: str, hour: int) -> None:
    clock = datetime.fromisoformat(at)
    found = standard_time(clock, ZoneInfo(zone))
    assert (found.date(), found.hour) == (clock.date(), hour)


@pytest.mark.parametrize(
    ("lines", "field"),
    [
        ('since = "yesterday"', "since"),
        ('since = 2026-07-01\nearlier = [{ set = ["daily 05:00 north 5 min"], since = 2026-06-01, until = 2026-07-02 }]', "since"),
        ('earlier = [{ set = ["daily 05:00 north 5 min"], since = 2026-06-01, until = 2026-06-01 }]', "since"),
        ('earlier = [{ set = ["daily 05:00 west 5 min"], since = 2026-06-01, until = 2026-06-03 }]', "set"),
        ('earlier = [{ set = ["daily 05:00 north 5 min"], since = 2026-06-01 }]', "until"),
        ('earlier = "always"', "earlier"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_is_told(lines: str, field: str) -> None:
    text = f'{FILE}\n[[timers]]\nname = "tap"\nset = ["daily 05:00 north 5 min"]\n{lines}\n'
    with pytest.raises(InputError) as error:
        garden_of(text)
    found = error.value.errors if isinstance(error.value, InputErrors) else [error.value]
    assert any(field in one.field for one in found)
