"""A grower's own garden as cases of the trial: "what would this save me?"

Each place becomes what truths are drawn around: its soil by name, its means, its crop and its pot. Seasons are the years of the
garden's own weather file where it has some, else years made by chance from the usual weather of the spot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from soakbook.catalog import read as catalog
from soakbook.errors import InputError
from soakbook.garden.model import Garden, LogEntry, Place, Planting, Wishes
from soakbook.learning.reading import texture_id
from soakbook.said import Said, say
from soakbook.season.trial.case import LEAST_DAYS, MOST_DAYS, SOUND, Case
from soakbook.season.truth.draw import Believed, Spread
from soakbook.weather.generator import made_weather
from soakbook.weather.normals import MonthlyNormals, normals_at
from soakbook.weather.series import OBSERVED, WeatherSeries

#: Days of weather before planting.
BEFORE_DAYS = 5


def own_cases(
    garden: Garden, draws: int, *, seed: int = 1, folder: Path | None = None, spread: Spread = SOUND
) -> tuple[list[Case], list[Said]]:
    """Cases of a garden, ``draws`` truths (each with a season) a place, and why places were left out.

    Raises
    ------
    InputError
        No place can be tried.
    """
    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    record = _record(garden, folder)
    cases: list[Case] = []
    left_out: list[Said] = []
    for n, place in enumerate(garden.places):
        planting, ground = _planting(place), _ground(place)
        if planting is None or ground is None:
            left_out.append(_why_not(place, planting))
            continue
        for k in range(draws):
            this_seed = seed + 1000 * n + k
            weather, first = _season(record, normals, planting, k, this_seed)
            cases.append(_case(garden, place, planting, ground, weather, first, this_seed, spread))
    if not cases:
        raise InputError(
            say("no place of the garden can be tried."), code="trial.places",
            hint=say("It needs a planting with a date, and a soil by name, feel, jar, particles or mix."),
        )  # fmt: skip
    return cases, left_out


def _why_not(place: Place, planting: Planting | None) -> Said:
    if planting is None:
        return say("{place} is left out: no planting with a date", place=place.name)
    return say("{place} is left out: its soil is known by measurement only", place=place.name)


def left_out_of(garden: Garden, log: Sequence[LogEntry] = ()) -> list[Said]:
    """What garden file and log say of places that are tried and the trial does not have: a sentence for each place that has such.

    Shade, shelter, cover, surroundings, mulch, root barrier and the wetted part are in the truth.
    """
    said = []
    for place in garden.places:
        if _planting(place) is None or _ground(place) is None:
            continue
        if what := _not_in_it(garden, place, log):
            said.append(say("{place}: the trial leaves out {what}", place=place.name, what=what))
    if garden.wishes != Wishes():
        said.append(say("Costs are counted at the usual weights, not at those of your wishes"))
    return said


def _not_in_it(garden: Garden, place: Place, log: Sequence[LogEntry]) -> list[Said]:
    found = []
    if len(place.soil) > 1:
        found.append(say("what lies below the first layer of its soil"))
    if len(place.plantings) > 1:
        found.append(say("its other plantings"))
    if place.line is not None and any(other.line == place.line and other is not place for other in garden.places):
        found.append(say("the other places on its line"))
    if any(entry.kind == "reading" and entry.place == place.name for entry in log):
        found.append(say("what its readings taught"))
    return found


def _planting(place: Place) -> Planting | None:
    """The planting that is tried: the first with a date."""
    return next((p for p in place.plantings if (p.planted_out or p.sown) is not None), None)


def _ground(place: Place) -> str | None:
    """The texture class or mix a truth is drawn around; None where only measured values are known, or no truth of it."""
    layer = place.soil[0]
    return layer.mix if layer.route == "mix" else texture_id(layer)


def _record(garden: Garden, folder: Path | None) -> WeatherSeries | None:
    """The garden's own weather file, daily and with its gaps filled; None where it has none."""
    if garden.weather in ("normals", "live"):
        return None
    from soakbook.advice.sky import weather_of_file

    return weather_of_file(garden, folder)


def _season(
    record: WeatherSeries | None, normals: MonthlyNormals, planting: Planting, k: int, seed: int
) -> tuple[WeatherSeries, date]:
    """Weather of the k-th season and its first day: of the record's years in turn, or made by chance."""
    begun = planting.planted_out or planting.sown
    assert begun is not None
    plant = catalog.plant(planting.plant)
    up = timedelta(days=0 if planting.planted_out else round(float(plant.germination_days)) + 1)
    years = [] if record is None else _years(record, begun + up)
    if record is not None and years:
        return record, years[k % len(years)]
    first = begun + up
    made = made_weather(
        normals, first - timedelta(days=BEFORE_DAYS), first + timedelta(days=MOST_DAYS), 1, np.random.default_rng(seed)
    ).series(0)  # fmt: skip
    return replace(made, kind=np.full(len(made), OBSERVED, dtype=np.uint8)), first


def _years(record: WeatherSeries, day: date) -> list[date]:
    """The date in each year of the record that has weather from some days before it to a season after."""
    first, last = record.times[0].astype(date), record.times[-1].astype(date)
    found = []
    for year in range(first.year, last.year + 1):
        this = date(year, day.month, min(day.day, 28))
        if first + timedelta(days=BEFORE_DAYS) <= this and this + timedelta(days=2 * LEAST_DAYS) <= last:
            found.append(this)
    return found


def _case(
    garden: Garden, place: Place, planting: Planting, ground: str, weather: WeatherSeries, first: date, seed: int,
    spread: Spread,
) -> Case:  # fmt: skip
    plant = catalog.plant(planting.plant)
    if planting.planted_out is not None:
        moved = replace(planting, planted_out=first, sown=None, cleared=None, measured_on=None)
    else:
        moved = replace(
            planting,
            sown=first - timedelta(days=round(float(plant.germination_days)) + 1),
            cleared=None,
            measured_on=None,
        )
    one = replace(place, plantings=(moved,), followed=None)
    alone = replace(garden, places=(one,), start=None)
    height = 100.0 * place.pot.height_m * place.pot.fill_fraction if place.pot is not None else 25.0
    believed = Believed(
        planting.plant, ground, place.means, "bed" if place.kind == "bed" else "pot", height,
        wetted_fraction=place.wetted_fraction,
    )  # fmt: skip
    return Case(
        f"{place.name}, {first.year}, {seed}", garden.name, place.name, alone, believed, weather, first, seed, spread
    )
