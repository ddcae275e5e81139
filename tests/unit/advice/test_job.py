"""A job in the grower's measures: how deep a soak goes, and what comes out where a flow was measured."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from soakbook.advice.job import make_job, wetted_to_m
from soakbook.advice.round import Round, Standing, standings_of, today_round
from soakbook.advice.sky import members_for, weather_for
from soakbook.advice.weigh import TIE
from soakbook.cli.round import under
from soakbook.demo import DAY, demo_garden
from soakbook.garden.model import LogEntry
from soakbook.weather.series import WeatherSeries

GARDEN, LOG, FOLDER = demo_garden()


@pytest.fixture(scope="module")
def weather() -> WeatherSeries:
    return weather_for(GARDEN, DAY, LOG, folder=FOLDER)


@pytest.fixture(scope="module")
def tomatoes(weather: WeatherSeries) -> Standing:
    return standings_of(replace(GARDEN, places=GARDEN.places[:1]), weather, DAY, LOG)[0]


def test_a_soak_that_fills_goes_as_deep_as_roots(tomatoes: Standing) -> None:
    advice, reach_m = tomatoes.advice, float(tomatoes.days.crops.reach_m[tomatoes.known.today])
    for times in (1.0 + 1e-9, 2.0):
        assert wetted_to_m(tomatoes.known, times * advice.missing_mm / advice.efficiency) == pytest.approx(reach_m)


def test_a_small_soak_fills_from_above(tomatoes: Standing) -> None:
    """By hand: the upper two layers to field capacity, and half of what the third lacks, are two layers and half a layer deep."""
    days, known = tomatoes.days, tomatoes.known
    columns = days.laid.columns
    lacks = columns.fc_mm[0, :, 0] - known.now.water_mm[0, 0, :, 0]
    assert np.all(lacks[:3] > 1.0)
    thickness_mm = columns.thickness_mm[0]
    needs_mm = (lacks[0] + lacks[1] + 0.5 * lacks[2]) / float(columns.delivery[0, 0])
    deep_m = (thickness_mm[0] + thickness_mm[1] + 0.5 * thickness_mm[2]) / 1000.0
    assert wetted_to_m(known, needs_mm) == pytest.approx(deep_m)
    assert wetted_to_m(known, 0.0) == 0.0


def measured(weather: WeatherSeries, flow_lph: float, set_down_lph: float = 75.0) -> Round:
    """The round of the bean rows alone after the flow of their line was caught in a bucket three times."""
    lines = tuple(replace(one, flow_lph=set_down_lph) if one.name == "soaker" else one for one in GARDEN.lines)
    beans = replace(GARDEN, places=tuple(p for p in GARDEN.places if p.line == "soaker"), lines=lines)
    flows = [
        LogEntry(
            f"f{day}",
            datetime(2017, 7, day, 7, tzinfo=ZoneInfo(GARDEN.time_zone)),
            "reading",
            line="soaker",
            reading="flow",
            value=flow_lph,
        )
        for day in (2, 4, 6)
    ]
    return today_round(beans, weather, date(2017, 7, 8), [*LOG, *flows])


def test_a_low_flow_that_was_measured_is_what_comes_out(weather: WeatherSeries) -> None:
    """What a line gives in a time is its flow times the time; and so little at a time does not run off, whatever flow is set down."""
    (low,), (set_anew,) = measured(weather, 30.0).jobs, measured(weather, 30.0, 30.0).jobs
    told = re.search(r"by the flow that was measured about (\d+) L come out", low.note)
    assert told is not None
    assert low.minutes is not None
    assert float(told[1]) == pytest.approx(30.0 * low.minutes / 60.0, rel=0.15)
    assert "run off" not in low.note
    assert set_anew.note == ""


def test_a_flow_as_set_down_is_not_told(weather: WeatherSeries) -> None:
    (job,) = measured(weather, 74.0).jobs
    assert "measured" not in job.note


def test_what_comes_out_is_a_part_of_the_litres(tomatoes: Standing) -> None:
    made = make_job(GARDEN, tomatoes.days, tomatoes.advice, comes=0.5)
    same = make_job(GARDEN, tomatoes.days, tomatoes.advice, comes=0.95)
    assert made.minutes == same.minutes
    assert str(round(0.5 * tomatoes.advice.litres)) in made.note
    assert same.note == ""


def test_why_says_what_decides_where_a_place_has_little_to_win(weather: WeatherSeries) -> None:
    """The tomato bed of the demo would as soon wait: it is watered for the pepper bed of its line."""
    ahead = members_for(GARDEN, weather, DAY, folder=FOLDER)
    north = replace(GARDEN, places=tuple(p for p in GARDEN.places if p.line == "north"))
    for job in today_round(north, weather, DAY, LOG, ahead=ahead).jobs:
        assert job.plan is not None
        saved = sum(part.cost for part in job.plan.saved)
        text = " ".join(under(job, "metric", reasons=False, why=True))
        assert ("its line decides" in text) == (saved < TIE)
