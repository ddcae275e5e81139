"""What a timer has run counts as waterings: as if somebody had written every run into the log."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.advice.open import find_town, known_words
from soakbook.advice.round import today_round
from soakbook.advice.sky import weather_for
from soakbook.balance.place import place_days
from soakbook.errors import InputError, InputErrors
from soakbook.garden.file import parse_garden
from soakbook.garden.log import LogRow, parse_row
from soakbook.garden.model import Garden
from soakbook.garden.timer import Days, KeptTimer, Programme, Spell
from soakbook.garden.timer_runs import DAYS_BACK, timer_entries

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
    """Today's run is given today, the bed is wetter than without, and the next run is told."""
    garden = with_timer(KeptTimer("tap", setting=(replace(DAILY, minutes=(("north", 40),)),), since=date(2026, 6, 20)))
    weather = weather_for(garden, ON)
    with_runs, without = (today_round(garden, weather, ON, log) for log in (timer_entries(garden, ON), []))
    beans, bare = with_runs.jobs[0], without.jobs[0]
    assert beans.given_today_litres == pytest.approx(40 * 40 / 60)
    assert beans.advice.used < bare.advice.used
    said = " ".join(str(text) for text in with_runs.cautions)
    assert "Runs of tap since 2026-06-20 are counted" in said
    assert "The next run of tap: north on 2026-07-11 at 05:00 for 40 min" in said


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
