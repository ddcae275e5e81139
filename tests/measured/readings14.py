"""A soil probe read every 14 days at 32 stations under grass, 2020: what is known on the days between.

Each station of :mod:`tests.measured.sward` is a garden with one unwatered lawn, whose grower reads the station's own probes (5, 10
and 20 cm, where there are) every 14 days at noon and enters what they show. What the tool then expects the probes to show on each day
until the next reading is held against what they did show; the days of the readings are not scored. Nothing later than a day
is used for it: weather up to that day, readings up to the last one.

Beside it stand two ways to do without: to hold the last reading, and a crude bucket that is set to each reading. Bucket and (in the
first of two trials) garden are given field capacity and wilting point as the 90th and 2nd percentile of the year that is scored; in the
second trial every garden's soil is called a loam, whatever it is.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from soakbook.advice.sky import BACK_DAYS
from soakbook.balance.place import with_members
from soakbook.garden.model import Garden, Place, Planting, SoilLayer
from soakbook.learning import observe
from soakbook.learning.filter import Learnt, grouped, learn, pick, standing_for
from soakbook.learning.reading import Moment, Reading, layer_at, looked_at, sensor_offset_sd, store_in
from soakbook.learning.sensors import follow_sensors
from soakbook.weather.eto import series_eto
from soakbook.weather.series import WeatherSeries
from tests.measured.kept import keep, kept
from tests.measured.scores import FloatArray, Rows, numbers, read_rows, score
from tests.measured.sward import Station, stations, weather_of

EVERY_DAYS = 14
#: Days since the reading, from and to, by which errors are told apart.
LEADS = ((1, 1), (2, 3), (4, 7), (8, 13))
#: A probe is read on this day first and then on every fourteenth; the days scored begin in April.
FIRST_READ = np.datetime64("2020-01-08")
#: Members of one draw and draws at most (half of what a round uses, for speed), and members that stand for what was learnt.
COUNT, DRAWS, PICKED = 192, 3, 200
#: Share of the mean at each depth, as the data's own note has it.
SHARES = {3: np.array([0.25, 0.25, 0.5]), 2: np.array([0.5, 0.5])}
DEPTHS_CM = (5, 10, 20)


@dataclass(frozen=True)
class Probes:
    """What a station's probes showed, (depths, days) and their mean by depth (days,) [m³/m³]; the days they were read on."""

    station: Station
    shown: FloatArray
    read_on: tuple[int, ...]

    @property
    def depths_cm(self) -> tuple[int, ...]:
        """Depths that count: 5 and 10 cm, and 20 where that is complete."""
        return DEPTHS_CM[: len(self.shown)]

    @property
    def shares(self) -> FloatArray:
        """Share of the mean at each depth."""
        return SHARES[len(self.shown)]

    @property
    def scored(self) -> FloatArray:
        """The mean on the days between readings from April to October; NaN on all others."""
        found = self.station.is_scored.copy()
        found[list(self.read_on)] = np.nan
        found[: self.read_on[0]] = np.nan
        return found


@cache
def probes() -> tuple[Probes, ...]:
    """All stations. A reading that falls on a day on which a probe showed nothing is not taken."""
    by_wban: dict[str, Rows] = {}
    for row in read_rows("uscrn/stations_2020.csv.gz"):
        by_wban.setdefault(row["wban"], []).append(row)
    return tuple(_probes(s, by_wban[s.wban]) for s in stations())


def _probes(station: Station, rows: Rows) -> Probes:
    depths = DEPTHS_CM if station.depth_m > 0.2 else DEPTHS_CM[:2]
    shown = np.array([numbers(rows, f"soil_moisture_{depth}_daily") for depth in depths])
    days = np.arange(FIRST_READ, np.datetime64("2020-11-01"), EVERY_DAYS)
    at = (days - station.days[0]).astype(int)
    return Probes(station, shown, tuple(int(k) for k in at if np.isfinite(shown[:, k]).all()))


def readings(probes: Probes, until: int) -> list[Reading]:
    """What the grower has entered by a day: the day's mean of each probe, as if read at noon."""
    return [
        Reading(f"{k}/{depth}", _noon(probes.station, k), "sensor", float(shown[k]), depth / 100.0, f"{depth} cm")
        for k in probes.read_on
        if k <= until
        for depth, shown in zip(probes.depths_cm, probes.shown, strict=True)
    ]


def _noon(station: Station, day: int) -> dt.datetime:
    return dt.datetime.combine(station.days[day].astype(object), dt.time(12), ZoneInfo("UTC"))


@dataclass(frozen=True)
class Expected:
    """What the probes were expected to show on the mean of their depths, with an 80 % band, (days,); NaN where nothing was expected.
    ``effective`` is the middle effective number of members. [m³/m³]"""

    mean: FloatArray
    low: FloatArray
    high: FloatArray
    effective: float


def expected(probes: Probes, soil: SoilLayer) -> Expected:
    """Learn from the readings up to each, and run on to the next."""
    station, ends = probes.station, (*probes.read_on[1:], probes.read_on[-1] + EVERY_DAYS)
    garden, weather = _garden(station, soil), weather_of(station)
    mean, low, high = np.full((3, len(station.days)), np.nan)
    rng, effective = np.random.default_rng(int(station.wban)), []
    for read, end in zip(probes.read_on, ends, strict=True):
        if not np.isfinite(station.is_scored[read + 1 : end]).any():
            continue
        first = max(read - BACK_DAYS, 0)
        part = weather.between(weather.times[first], weather.times[end])
        today = station.days[end].astype(object)
        learnt = learn(garden, garden.places[0], part, (), readings(probes, read), today, count=COUNT, most_draws=DRAWS)
        shown, off = shown_by_members(learnt, probes)
        between, days = slice(read + 1 - first, end - first), slice(read + 1, end)
        mean[days] = shown[between].mean(1)
        shown = shown + off * rng.standard_normal(shown.shape)
        low[days], high[days] = np.percentile(shown[between], (10, 90), axis=1)
        effective.append(learnt.effective)
    return Expected(mean, low, high, float(np.median(effective)))


def _garden(station: Station, soil: SoilLayer) -> Garden:
    lawn = Place("sward", "bed", (soil,), 100.0, means="sprinkler", plantings=(Planting("grass", established=True),))
    at = station.normals
    return Garden(station.wban, at.lat_deg, at.lon_deg, at.elevation_m, "UTC", (lawn,))


def shown_by_members(learnt: Learnt, probes: Probes) -> tuple[FloatArray, FloatArray]:
    """What the mean of the probes would show at noon of each day in members that stand for what was learnt, with what each takes spot
    and probes to be off by; and the standard deviation of the rest, as the filter itself has it, (days, members). [m³/m³]"""
    members, _ = pick(learnt, PICKED)
    numbers = learnt.z[standing_for(learnt.weights, PICKED)]
    days = with_members(learnt.days, members)
    run = days.run(days.start(), 0, learnt.today)
    sights = [(r, Moment(days.index(r.at.date()), 0.5)) for r in learnt.readings]
    groups = grouped(sights, learnt.names)
    seen = np.zeros((len(sights), PICKED))
    for group in groups:
        seen[group.at] = looked_at(group.sights, days, run)
    followed = follow_sensors(days, numbers, groups, seen).followed
    since = np.arange(learnt.today) - sights[-1][1].step
    lasting, sd = followed.later(np.maximum(since, 0))
    shown, size = np.zeros((learnt.today, PICKED)), 0.0
    for depth, share in zip(probes.depths_cm, probes.shares, strict=True):
        noons = [(_as_if_read(probes.station, depth), Moment(day, 0.5)) for day in range(learnt.today)]
        stays = numbers[:, learnt.names.index(f"sensor/{depth} cm/0")]
        shown += share * (looked_at(noons, days, run) + sensor_offset_sd(days) * stays)
        size += share * store_in(days, layer_at(days, depth / 100.0))
    return shown + size * lasting, np.hypot(observe.SENSOR_SD * float(np.linalg.norm(probes.shares)), size * sd)


def _as_if_read(station: Station, depth_cm: int) -> Reading:
    return Reading("", _noon(station, 0), "sensor", 0.0, depth_cm / 100.0, f"{depth_cm} cm")


def held(probes: Probes) -> FloatArray:
    """The last reading, held."""
    out = np.full(len(probes.station.days), np.nan)
    for k in probes.read_on:
        out[k:] = probes.station.theta[k]
    return out


def bucket_with_resets(probes: Probes) -> FloatArray:
    """The crude bucket of :mod:`tests.measured.sward`, set to each reading on its day."""
    station = probes.station
    weather: WeatherSeries = weather_of(station)
    eto, rain = series_eto(weather), weather.get("rain_mm")
    size = 1000.0 * station.depth_m
    full_mm = size * (station.field_capacity - station.wilting_point)
    water, theta = full_mm, np.empty(len(eto))
    for day in range(len(eto)):
        water = min(water + rain[day], full_mm)
        water = max(water - eto[day] * min(1.0, water / (0.5 * full_mm)), 0.0)
        if day in probes.read_on:
            water = size * (station.theta[day] - station.wilting_point)
        theta[day] = station.wilting_point + water / size
    return theta


@dataclass(frozen=True)
class Between:
    """One station's days between readings: RMSE of each way [m³/m³], mean error of ours, the part of the days on which the probes lay
    within our 80 % band, the band's middle width, and how many members stood behind it."""

    wban: str
    n: int
    rmse: float
    bias: float
    covered: float
    width: float
    effective: float
    bucket: float
    hold: float


@dataclass(frozen=True)
class ByLead:
    """One station's RMSE of each way on the days of each of :data:`LEADS`. [m³/m³]"""

    wban: str
    ours: tuple[float, ...]
    bucket: tuple[float, ...]
    hold: tuple[float, ...]


@dataclass(frozen=True)
class ProbeFindings:
    """By station with the soil's two figures known, and with every soil called a loam; and RMSE over all stations by days since the
    reading: (days from, days to, ours, bucket, hold)."""

    known: tuple[Between, ...]
    loam: tuple[Between, ...]
    by_lead: tuple[tuple[int, int, float, float, float], ...]

    def middle(self, what: str, *, is_loam: bool = False) -> float:
        """Median over the stations of one figure."""
        return float(np.median([getattr(b, what) for b in (self.loam if is_loam else self.known)]))

    def covered(self, *, is_loam: bool = False) -> float:
        """Part of all days of all stations within the band."""
        some = self.loam if is_loam else self.known
        return sum(b.covered * b.n for b in some) / sum(b.n for b in some)


def between(probes: Probes, found: Expected) -> Between:
    """Score one station."""
    seen = probes.scored
    both = np.isfinite(seen) & np.isfinite(found.mean)
    ours = score(seen, found.mean)
    return Between(
        probes.station.wban, ours.n, ours.rmse, ours.bias,
        float(((found.low <= seen) & (seen <= found.high))[both].mean()), float(np.median((found.high - found.low)[both])),
        found.effective, score(np.where(both, seen, np.nan), bucket_with_resets(probes)).rmse,
        score(np.where(both, seen, np.nan), held(probes)).rmse,
    )  # fmt: skip


def looked_at_station(one: Probes) -> tuple[Between, Between, ByLead]:
    """One station with the soil's two figures known and called a loam, and the former by days since the reading."""
    station = one.station
    measured = SoilLayer("measured", field_capacity=station.field_capacity, wilting_point=station.wilting_point)
    found = expected(one, measured)
    return between(one, found), between(one, expected(one, SoilLayer("texture", texture="loam"))), _by_lead(one, found)


def keep_probe() -> None:
    """Run all stations, and keep what was found."""
    known, loam, leads = zip(*(looked_at_station(one) for one in probes()), strict=True)
    keep("probe", {"known": known, "loam": loam})
    keep("probe_by_lead", {"known": leads})


def probe_findings() -> ProbeFindings:
    """What was kept of all stations."""
    some, (leads,) = kept("probe", Between), kept("probe_by_lead", ByLead).values()
    ways = np.array([(one.ours, one.bucket, one.hold) for one in leads])
    by_lead = [(*span, *np.median(ways[:, :, k], axis=0).tolist()) for k, span in enumerate(LEADS)]
    return ProbeFindings(some["known"], some["loam"], tuple(by_lead))


def _by_lead(probes: Probes, found: Expected) -> ByLead:
    """RMSE of the three ways on the days from one to another after a reading."""
    e = _errors(probes, found)
    ways = np.array([np.sqrt((e[1:, (first <= e[0]) & (e[0] <= last)] ** 2).mean(1)) for first, last in LEADS])
    return ByLead(probes.station.wban, *(tuple(way) for way in ways.T.tolist()))


def _errors(probes: Probes, found: Expected) -> FloatArray:
    """Days since the reading and errors of the three ways, (4, days scored)."""
    seen = probes.scored
    days = np.arange(len(seen))
    since = days - np.array([max((k for k in probes.read_on if k <= d), default=-1) for d in days])
    ways = np.array([since, found.mean - seen, bucket_with_resets(probes) - seen, held(probes) - seen])
    return np.asarray(ways[:, np.isfinite(ways).all(0)])
