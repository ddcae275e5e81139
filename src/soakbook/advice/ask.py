"""The first answer: one plant, one place, no garden. How much, how often month by month, what today, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from soakbook.advice.decide import HORIZON_DAYS, Known, advise
from soakbook.advice.job import wetted_to_m
from soakbook.advice.members import nine
from soakbook.advice.round import BACKFLOW, HEAT, HOT_C, Job, make_job, unless_it_rains
from soakbook.advice.season import Month, Season, water_by_rule
from soakbook.advice.sky import described
from soakbook.balance.crops import OVER
from soakbook.balance.place import PlaceDays, place_days, without_log
from soakbook.catalog import read as catalog
from soakbook.garden.model import Garden, Place, Planting, Supply
from soakbook.said import say
from soakbook.weather.fill import fill_gaps
from soakbook.weather.join import in_showers, join
from soakbook.weather.normals import MonthlyNormals, expected_weather, normals_at
from soakbook.weather.series import WeatherSeries


@dataclass(frozen=True)
class Answer:
    """``today`` is None when the day lies outside the season; ``season`` is that of the usual weather and ``ends`` its last
    day (None for perennials)."""

    where: str
    today: Job | None
    season: Season
    months: tuple[Month, ...]
    ends: date | None
    units_count: int
    count_word: str
    weather: str
    assumptions: tuple[str, ...]
    unsure: tuple[str, ...]
    cautions: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain data of version 1, described in docs/json.md."""
        from soakbook.advice.job import job_json

        return {
            "where": self.where,
            "today": job_json(self.today) if self.today else None,
            "months": [
                {
                    "month": m.month.strftime("%Y-%m"),
                    "growing_days": m.days,
                    "waterings": m.soaks,
                    "every_days": None if np.isnan(m.every_days) else m.every_days,
                    "litres_each_time": m.litres_each_time,
                    "litres": m.litres,
                    "eto_mm_day": m.eto_mm_day,
                    "rain_mm": m.rain_mm,
                }
                for m in self.months
            ],
            "ends": self.ends.isoformat() if self.ends else None,
            self.count_word + "s": self.units_count,
            "waterings": [{"on": s.on.isoformat(), "litres": s.litres} for s in self.season.soaks],
            "weather": self.weather,
            "assumptions": list(self.assumptions),
            "not_printed_for_this_crop": list(self.unsure),
        }


def one_place_garden(
    place: Place, where: str, lat_deg: float, lon_deg: float, elevation_m: float, time_zone: str, can_l: float | None
) -> Garden:
    """A garden of a single place, under normals."""
    return Garden(where, lat_deg, lon_deg, elevation_m, time_zone, (place,), supply=Supply(can_l=can_l))


def season_dates(planting: Planting, on: date) -> tuple[date, date]:
    """First and last day to look at: from the start of the planting (the year, for perennials) for up to 300 days."""
    start = planting.planted_out or planting.sown
    if start is None:
        return date(on.year, 1, 1), date(on.year, 12, 31)
    return start, start + timedelta(days=300)


def usual_weather(garden: Garden, normals: MonthlyNormals, first: date, last: date) -> WeatherSeries:
    """The weather the place usually has, its rain in showers of the usual size."""
    return in_showers(fill_gaps(expected_weather(normals, first, last), normals), normals.wet_day_rain_mm)


def answer(garden: Garden, on: date, live: WeatherSeries | None = None) -> Answer:
    """Answer for the single place of a garden.

    Parameters
    ----------
    garden
        As :func:`one_place_garden` makes it.
    on
        The day asked about.
    live
        Fetched weather of the last weeks and the days ahead, gaps filled; None to use the usual weather throughout.

    Returns
    -------
    Answer
        Until ``on`` the place is taken as watered by the rule, since nobody has said how it was.
    """
    place = garden.places[0]
    planting = place.plantings[0]
    plant = catalog.plant(planting.plant)
    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    first, last = season_dates(planting, on)
    season_weather = usual_weather(garden, normals, first, last)
    days = place_days(garden, place, season_weather)
    season = water_by_rule(days)
    today, hot = None, False
    if first <= on <= last:
        series = usual_weather(garden, normals, min(first, on - timedelta(days=10)), on + timedelta(days=HORIZON_DAYS))
        if live is not None:
            series = _with_live(series, live, on)
        today = _today(garden, place, series, on)
        hot = bool(series.get("t_max_c")[series.times == np.datetime64(on)][0] >= HOT_C)
    pots = place.pot.count if place.pot is not None else None
    notes = [
        *(without_log(n) for n in days.notes),
        say("until today watered by the rule, as nothing was said about it"),
    ]
    unsure = [say("{what}: {why}", what=what, why=why or standing) for what, standing, why in catalog.unsure(plant)]
    return Answer(
        garden.name, today, season, season.months, _ends(days), pots or int(days.crops.count.max()), "pot" if pots else "plant", described(season_weather),
        tuple(n for n in notes if n), tuple(unsure), tuple(_cautions(place, hot)),
    )  # fmt: skip


def _cautions(place: Place, hot: bool) -> list[str]:
    piped = place.line is not None or place.means not in ("can", "tray", "clay_pot")
    return [text for text, holds in ((BACKFLOW, piped), (HEAT, hot)) if holds]


def _ends(days: PlaceDays) -> date | None:
    past = days.crops.phase == OVER
    if not bool(past.any()):
        return None
    last: date = days.days[int(np.argmax(past)) - 1].astype(date)
    return last


def _with_live(usual: WeatherSeries, live: WeatherSeries, on: date) -> WeatherSeries:
    before = usual.between(usual.times[0], live.times[0] - np.timedelta64(1, "D"))
    parts: Sequence[WeatherSeries] = [live, usual] if len(before) == 0 else [before, live, usual]
    joined = join(*parts)
    return replace(joined, source=live.source)


def _today(garden: Garden, place: Place, series: WeatherSeries, on: date) -> Job:
    series = unless_it_rains(series, on)
    best = place_days(garden, place, series)
    days: PlaceDays = place_days(garden, place, series, members=nine())
    soaks = water_by_rule(best, 0, best.index(on)).soaks
    given = [(days.index(s.on), s.depth_mm) for s in soaks]
    index = days.index(on)
    known = Known(days, days.run(days.start(), 0, index, given), index)
    advice = advise(known, series)
    return make_job(garden, days, advice, deep_m=wetted_to_m(known, advice.depth_mm))
