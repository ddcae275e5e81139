"""Made weather and past years against a station's record, April to October.

The record (class A station, Kansas) had no part in fitting what the generator adds to the normals, but for the part of the
variance that goes on for weeks (SLOW_PART). Where made weather differs from it, the bounds below say by how much; wind is kept
at 2 m/s on both sides.
"""

from __future__ import annotations

from datetime import date
from functools import cache

import numpy as np
import pytest

from soakbook.weather.eto import series_eto
from soakbook.weather.generator import made_weather
from soakbook.weather.members import WeatherMembers, members_of, past_years
from soakbook.weather.normals import normals_at
from tests.unit.weather_members.record import HEIGHT, LAT, LON, normals_of, station

RECORD_YEARS = np.datetime64("2011-01-01"), np.datetime64("2016-12-31")


def season(members: WeatherMembers) -> np.ndarray:
    month = members.times.astype("datetime64[M]").astype(int) % 12
    return (month >= 3) & (month <= 9)


def mean_spell(is_state: np.ndarray) -> float:
    edges = np.diff(np.pad(is_state.astype(int), ((0, 0), (1, 1))), axis=1)
    return float(is_state.sum() / (edges == 1).sum())


def figures(members: WeatherMembers) -> dict[str, float]:
    eto, rain, of_season = members.eto_mm(), members.get("rain_mm"), season(members)
    month = members.times.astype("datetime64[M]").astype(int) % 12
    usual = np.array([eto[:, month == m].mean() for m in range(12)])[month]
    off = eto - usual
    starts = np.flatnonzero(of_season)[:-7]

    def weekly(values: np.ndarray) -> np.ndarray:
        return np.array([values[:, i : i + 7].sum(1) for i in starts])

    wet = rain[:, of_season] >= 1.0
    return {
        "demand": float(eto[:, of_season].mean()),
        "demand of a day, spread": float(off[:, of_season].std()),
        "demand of a week, spread": float(weekly(off).std()),
        "wet spell": mean_spell(wet),
        "dry spell": mean_spell(~wet),
        "rain of a week, spread": float(weekly(rain).std()),
        "rain of a week, middle": float(np.median(weekly(rain))),
        "rain of a week, 9 of 10": float(np.percentile(weekly(rain), 90)),
        "dry weeks": float((weekly(rain) < 1.0).mean()),
        "demand when wet over dry": float(eto[:, of_season][wet].mean() / eto[:, of_season][~wet].mean()),
    }


@cache
def ratios() -> dict[str, float]:
    record = station().between(*RECORD_YEARS)
    made = made_weather(
        normals_of(record), date(2018, 1, 1), date(2018, 12, 31), 300, np.random.default_rng(3), wind_cv=0.0
    )
    of_record = figures(members_of([record], "record"))
    return {name: value / of_record[name] for name, value in figures(made).items()}


@pytest.mark.parametrize(
    ("figure", "least", "most"),
    [
        ("demand", 0.97, 1.03),
        ("demand of a day, spread", 0.90, 1.08),
        ("demand of a week, spread", 0.90, 1.10),  # seen 0.98
        ("wet spell", 0.95, 1.14),  # the chain of Geng et al. stays wet somewhat too long here: seen 1.09
        ("dry spell", 0.95, 1.12),
        ("rain of a week, spread", 0.92, 1.20),
        ("rain of a week, middle", 0.80, 1.15),
        ("rain of a week, 9 of 10", 0.90, 1.12),
        ("dry weeks", 0.90, 1.25),  # seen 1.15, with the longer spells
        ("demand when wet over dry", 0.82, 1.05),  # wet days are too dark: seen 0.88
    ],
)
def test_made_weather_is_like_the_record(figure: str, least: float, most: float) -> None:
    assert least < ratios()[figure] < most


@cache
def covered() -> dict[tuple[str, str], float]:
    """Part of the 14-day sums on record within the members' 80 % band; starts every ten days of five seasons."""
    record, rng, days = station(), np.random.default_rng(9), 14
    eto, rain = series_eto(record), record.get("rain_mm")
    usual, own = normals_at(LAT, LON, HEIGHT), normals_of(record.between(*RECORD_YEARS))
    inside: dict[tuple[str, str], list[bool]] = {}
    for year in range(2013, 2018):
        for first in np.arange(np.datetime64(f"{year}-04-01"), np.datetime64(f"{year}-09-20"), 10):
            i, last = int((first - record.times[0]).astype(int)), first + (days - 1)
            if i + days > len(record):
                continue
            ways = {
                "past": past_years(record, first, last, 150, rng),
                "made": made_weather(usual, first.item(), last.item(), 150, rng, was_wet=bool(rain[i - 1] >= 1.0)),
                "own": made_weather(own, first.item(), last.item(), 150, rng, was_wet=bool(rain[i - 1] >= 1.0)),
            }
            for way, members in ways.items():
                sums = {"demand": (members.eto_mm(), eto), "rain": (members.get("rain_mm"), rain)}
                sums["net"] = (sums["demand"][0] - sums["rain"][0], eto - rain)
                for what, (drawn, seen) in sums.items():
                    low, high = np.percentile(drawn.sum(1), [10, 90])
                    inside.setdefault((way, what), []).append(bool(low <= seen[i : i + days].sum() <= high))
    return {key: float(np.mean(values)) for key, values in inside.items()}


@pytest.mark.parametrize("way", ["past", "made", "own"])
@pytest.mark.parametrize("what", ["demand", "rain", "net"])
def test_a_fortnight_on_record_lies_within_its_band_about_as_often_as_it_should(way: str, what: str) -> None:
    """80 % is wanted. Some 85 starts that overlap in weather leave about 0.07 to chance, and few years of past, normals of other
    stations and years of their own add to it."""
    assert 0.66 <= covered()[way, what] <= 0.92
