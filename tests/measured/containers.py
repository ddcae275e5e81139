"""Twenty large planted containers in Fürth, Germany, May 2022 to February 2025: computed drainage against pumped volumes.

A container is a pot of the garden file, run by the hour. Nothing is fitted to drainage. What its makers say: 0.70 by 0.58 m,
made from 300-litre tanks, the site's own soil, planted (with what, they do not say), open to rain, 111 litres of tap water
each in July 2022. Field capacity and wilting point are read off the containers' own probes by the rule used for the
stations of ``sward``.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from soakbook.balance.columns import AREA_WET, DRAINAGE, EVAPORATION, TRANSPIRATION, state_at
from soakbook.balance.layout import Members, best_guess
from soakbook.balance.place import PlaceDays, place_days
from soakbook.catalog import read as catalog
from soakbook.garden.model import Exposure, Garden, LogEntry, Place, Planting, PotShape, SoilLayer
from soakbook.physics.sun import declination_rad
from soakbook.weather.eto import series_eto
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import MonthlyNormals, normals_at
from soakbook.weather.series import WeatherSeries
from soakbook.weather.smooth import daily_from_months
from tests.measured.scores import DayArray, FloatArray, Score, days_of, numbers, read_rows, score

LAT_DEG, LON_DEG, ELEVATION_M = 49.49, 10.95, 300.0
ZONE = "Europe/Berlin"
AREA_M2 = 0.70 * 0.58
#: A 300-litre tank of that area is this tall; it is filled to the pot's usual 95 %. [m]
HEIGHT_M = 0.300 / AREA_M2
START = np.datetime64("2022-05-15")
#: After this sampling there is no watering, only rain.
WATERING_IS_OVER = np.datetime64("2022-09-13")
#: Probes that show no more than this have dropped out (the data's own note says 3 to 5 %). [%]
DROPPED_OUT_PCT = 5.0
#: A bucket that has stood beside such data before: store [mm] and Kc, as the note with the data has them.
BUCKET_MM, BUCKET_KC = 100.0, 0.6

SWARD = (Planting("grass", established=True),)
MEADOW = (Planting("meadow", established=True),)
SOWN = (Planting("grass", sown=dt.date(2022, 5, 15)),)


@dataclass(frozen=True)
class Setting:
    """How the containers are described. ``saturation`` None leaves it to the soil module."""

    name: str
    plantings: tuple[Planting, ...] = MEADOW
    is_bed: bool = False
    texture: str = ""
    surroundings: str = "lawn"
    is_open: bool = False
    shelter: str = "strong"
    sun_from_range: bool = False
    even_watering: bool = True
    rain_factor: float = 1.0
    demand_factor: float = 1.0


PLAIN = Setting("pot of the probes' soil under rough grass in an enclosed yard")
SETTINGS = (
    Setting("wind kept off a little (some shelter)", shelter="some"),
    Setting("shaded but not sheltered", shelter="open"),
    Setting("neither shaded nor sheltered", is_open=True, shelter="open"),
    Setting("dry surroundings, as a lone pot has", surroundings="garden"),
    Setting("a mown sward instead", plantings=SWARD),
    Setting(
        "mown sward, neither shaded nor sheltered, dry surroundings, water as logged: the first trial",
        plantings=SWARD,
        is_open=True,
        shelter="open",
        surroundings="garden",
        even_watering=False,
    ),
    Setting("grass sown on the first day", plantings=SOWN),
    Setting("nothing growing", plantings=()),
    Setting("sunlight from the temperature range", sun_from_range=True),
    Setting("soil: loam by its name", texture="loam"),
    Setting("soil: sandy loam by its name", texture="sandy_loam"),
    Setting("as a bed over a floor, by the day", is_bed=True),
    Setting("as a bed over a floor, nothing growing", is_bed=True, plantings=()),
    Setting("water in July, as the makers' log has it", even_watering=False),
    Setting("gauge catches 10 % too little", rain_factor=1.1),
)


@dataclass(frozen=True)
class Measured:
    """Mean drainage of the containers between samplings [mm], its standard deviation between them, and the probes' weekly
    water content: medians over the containers at 30 and 60 cm. [m³/m³]"""

    sampled: DayArray
    drained_mm: FloatArray
    spread_mm: FloatArray
    weeks: DayArray
    at_30: FloatArray
    at_60: FloatArray

    @property
    def field_capacity(self) -> float:
        """90th percentile of the mean of both depths."""
        return float(np.percentile(0.5 * (self.at_30 + self.at_60), 90))

    @property
    def wilting_point(self) -> float:
        """2nd percentile of the same."""
        return float(np.percentile(0.5 * (self.at_30 + self.at_60), 2))


@cache
def measured() -> Measured:
    """The shipped tables, brought to mm and m³/m³."""
    rows = read_rows("fuerth/drainage.csv")
    day, litres = days_of(rows), numbers(rows, "volume_l")
    sampled = np.unique(day)
    by_day = [litres[day == d] / AREA_M2 for d in sampled]
    rows = read_rows("fuerth/moisture_weekly.csv.gz")
    week = days_of(rows)
    theta = np.stack([numbers(rows, "moisture_30cm_pct"), numbers(rows, "moisture_60cm_pct")])
    theta = np.where(theta > DROPPED_OUT_PCT, theta, np.nan) / 100.0
    weeks = np.array([w for w in np.unique(week) if np.isfinite(theta[:, week == w]).any(1).all()])
    mid = np.array([np.nanmedian(theta[:, week == w], axis=1) for w in weeks])
    return Measured(
        sampled, np.array([v.mean() for v in by_day]), np.array([v.std() for v in by_day]), weeks, mid[:, 0], mid[:, 1]
    )


def normals() -> MonthlyNormals:
    """Monthly normals of the site."""
    return normals_at(LAT_DEG, LON_DEG, ELEVATION_M)


def weather(setting: Setting = PLAIN) -> WeatherSeries:
    """Official daily rain and mean temperature; the day's range is that of the month's normals until the station on site
    measures it (July 2024, with humidity); sunshine is the normals'. The rest is filled as for any garden."""
    rows = read_rows("fuerth/weather_official.csv")
    days, mean = days_of(rows), numbers(rows, "t_mean_c")
    usual = normals()
    half = 0.5 * daily_from_months(usual.t_max_c - usual.t_min_c, days[0], days[-1])
    high, low, humid = mean + half, mean - half, np.full(len(days), np.nan)
    site = read_rows("fuerth/weather_onsite.csv")
    at = (days_of(site) - days[0]).astype(int)
    t_max, t_min = numbers(site, "t_max_c"), numbers(site, "t_min_c")
    both = np.isfinite(t_max) & np.isfinite(t_min)
    high[at[both]], low[at[both]] = t_max[both], t_min[both]
    humid[at] = numbers(site, "rh_mean_pct")
    columns = {
        "t_max_c": high, "t_min_c": low, "rh_mean_pct": humid, "rain_mm": numbers(rows, "rain_mm") * setting.rain_factor,
    }  # fmt: skip
    if not setting.sun_from_range:
        columns["sunshine_h"] = daily_from_months(usual.sunshine_h, days[0], days[-1], is_total=True, at_least=0.0)
    series = WeatherSeries(
        "day", days, columns, LAT_DEG, LON_DEG, ELEVATION_M, ZONE, "DWD 03668", np.zeros(len(days), dtype=np.uint8)
    )
    return fill_gaps(series, usual)


def watering(setting: Setting = PLAIN) -> list[LogEntry]:
    """Evenly over May to August, as the note with the data has it; or by sampling interval from the makers' log. Every second
    morning, and more by what a can is taken to spill, so that all of the 111 litres go in."""
    spans = [
        (np.datetime64(row["after"]) + 1, np.datetime64(row["until"]) + 1, float(row["litres_per_pot"]))
        for row in read_rows("fuerth/watering.csv")
    ]
    if setting.even_watering:
        spans = [(START, np.datetime64("2022-09-01"), sum(litres for _, _, litres in spans))]
    log = []
    for first, last, litres in spans:
        days = np.arange(first, last)[::2]
        for day in days:
            at = dt.datetime.combine(day.astype(object), dt.time(8), ZoneInfo(ZONE))
            given = litres / len(days) / catalog.means()["can"].efficiency.value
            log.append(LogEntry(str(day), at, "water", "container", litres=given))
    return log


def horizon_deg() -> float:
    """How high the yard's horizon stands, from its own light sensor and not from drainage: the mean noon elevation of the sun in the brightest month in
    which even the best days stay without direct sun (under 80 % of a clear sky's light; in the open, the highest
    reading of a good day lies above it). Taken to be as high all round. [°]"""
    rows = read_rows("fuerth/weather_onsite.csv")
    days, light = days_of(rows), numbers(rows, "solar_max_w_m2")
    day_of_year = (days - days.astype("datetime64[Y]")).astype(int) + 1
    noon = 90.0 - LAT_DEG + np.degrees(declination_rad(day_of_year))
    clear = 1367.0 * 0.75 * np.sin(np.radians(noon))
    dark = [
        float(np.mean(noon[month]))
        for month in (days.astype("datetime64[M]") == m for m in np.unique(days.astype("datetime64[M]")))
        if np.percentile(light[month] / clear[month], 90) < 0.8
    ]
    return max(dark)


def container(setting: Setting = PLAIN) -> PlaceDays:
    """One container as a place of a garden."""
    probes = measured()
    soil = SoilLayer("measured", field_capacity=probes.field_capacity, wilting_point=probes.wilting_point)
    if setting.texture:
        soil = SoilLayer("texture", texture=setting.texture)
    horizon = () if setting.is_open else ((180.0, horizon_deg()),)
    spot = Exposure(horizon, setting.shelter, surroundings=setting.surroundings)  # type: ignore[arg-type]
    shape = PotShape(HEIGHT_M, AREA_M2, AREA_M2)
    place = Place("container", "pot", (soil,), AREA_M2, pot=shape, exposure=spot, plantings=setting.plantings)
    if setting.is_bed:
        depth = HEIGHT_M * shape.fill_fraction
        place = replace(place, kind="bed", pot=None, root_barrier_m=depth, wetted_fraction=1.0)
    garden = Garden("containers", LAT_DEG, LON_DEG, ELEVATION_M, ZONE, (place,))
    one = best_guess()
    members = Members(one.store_z, one.demand * setting.demand_factor, one.catch, one.delivery)
    return place_days(garden, place, weather(setting), watering(setting), members)


@dataclass(frozen=True)
class Run:
    """Computed drainage between samplings [mm] and how it does: over all of them, and without the watered summer.

    ``total_error``: computed over measured drainage, less 1. ``used_mm``: evaporation and transpiration.
    """

    name: str
    drained_mm: FloatArray
    used_mm: float
    capacity: float
    winter_30: float
    winter_60: float
    all: Score
    rain_only: Score
    total_error: float
    rain_only_error: float


def _run(name: str, drained: FloatArray, used: float, held: tuple[float, float, float]) -> Run:
    seen = measured()
    late = seen.sampled > WATERING_IS_OVER
    return Run(
        name, drained, used, *held, score(seen.drained_mm, drained), score(seen.drained_mm[late], drained[late]),
        float(drained.sum() / seen.drained_mm.sum() - 1.0),
        float(drained[late].sum() / seen.drained_mm[late].sum() - 1.0),
    )  # fmt: skip


def between_samplings(days: DayArray, daily_mm: FloatArray) -> FloatArray:
    """Sums from the day after one sampling to the day of the next."""
    ends = (measured().sampled - days[0]).astype(int) + 1
    so_far = np.concatenate([[0.0], np.cumsum(daily_mm)])
    return np.asarray(np.diff(so_far[np.concatenate([[0], ends])]))


def is_winter(days: DayArray) -> np.ndarray:
    """December to February, when soil stays near what it can hold."""
    return np.isin(days.astype("datetime64[M]").astype(int) % 12, (11, 0, 1))


def run(setting: Setting = PLAIN) -> Run:
    """Run the containers from their first day, full, to the last sampling."""
    days = container(setting)
    full = state_at(days.laid.columns, days.forcing.crop[:, 0, AREA_WET])
    result = days.run(full, 0, len(days.days))
    n = days.steps_a_day
    daily = result.fluxes[0, :, DRAINAGE, 0].reshape(-1, n).sum(1)
    totals, columns = result.totals[0, :, 0], days.laid.columns
    theta = result.water_mm[0, n - 1 :: n, 0, :, 0] / columns.thickness_mm[0]
    winter = theta[is_winter(days.days)].mean(0)
    layer = np.searchsorted(days.laid.edges_m, [0.30, 0.60]) - 1
    capacity = float(columns.fc_mm.sum() / columns.thickness_mm.sum())
    return _run(
        setting.name, between_samplings(days.days, daily), float(totals[EVAPORATION] + totals[TRANSPIRATION]),
        (capacity, float(winter[layer[0]]), float(winter[layer[1]])),
    )  # fmt: skip


def bucket(setting: Setting = PLAIN) -> Run:
    """The peer: one store, Kc 0.6 until half of it is used, all above it drains the same day."""
    series = weather(setting)
    arrives = catalog.means()["can"].efficiency.value
    eto, put = series_eto(series), series.get("rain_mm").copy()
    for entry in watering(setting):
        put[int((np.datetime64(entry.at.date()) - series.times[0]).astype(int))] += (
            arrives * (entry.litres or 0.0) / AREA_M2
        )
    held, used, daily = BUCKET_MM, 0.0, np.empty(len(eto))
    for day in range(len(eto)):
        held += put[day]
        daily[day] = max(held - BUCKET_MM, 0.0)
        held -= daily[day]
        drawn = min(BUCKET_KC * eto[day] * min(1.0, held / (0.5 * BUCKET_MM)), held)
        held, used = held - drawn, used + drawn
    nothing = float("nan")
    name = f"crude bucket, {BUCKET_MM:.0f} mm, Kc {BUCKET_KC:g}" + (
        ", even watering" if setting.even_watering else ", water as logged"
    )
    return _run(name, between_samplings(series.times, daily), used, (nothing, nothing, nothing))


@dataclass(frozen=True)
class ContainerFindings:
    """The plain run, the others beside it, and what the measurements alone say.

    ``came_mm`` rain and watering, ``eto_mm`` reference evapotranspiration (no surroundings factor) between samplings.
    """

    measured: Measured
    plain: Run
    others: tuple[Run, ...]
    came_mm: FloatArray
    eto_mm: FloatArray
    winter_30: float
    winter_60: float


def container_findings() -> ContainerFindings:
    """Run the containers in every setting."""
    seen, series = measured(), weather()
    arrives = catalog.means()["can"].efficiency.value
    came = series.get("rain_mm").copy()
    for entry in watering():
        came[int((np.datetime64(entry.at.date()) - series.times[0]).astype(int))] += (
            arrives * (entry.litres or 0.0) / AREA_M2
        )
    winter = is_winter(seen.weeks)
    return ContainerFindings(
        measured=seen,
        plain=run(),
        others=(*(run(s) for s in SETTINGS), bucket(Setting("", even_watering=False)), bucket()),
        came_mm=between_samplings(series.times, came),
        eto_mm=between_samplings(series.times, series_eto(series)),
        winter_30=float(np.median(seen.at_30[winter])),
        winter_60=float(np.median(seen.at_60[winter])),
    )
