"""Weather that may come: many equally likely runs of days instead of one line.

Members are interchangeable: none of them is the best guess, and the order says nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics import air
from soakbook.physics.evapotranspiration import reference_et_daily
from soakbook.said import say
from soakbook.weather.eto import series_vapour_pressure
from soakbook.weather.series import EXPECTED, FloatArray, WeatherSeries, one_after_another

#: What every member has by the day: what reference evapotranspiration needs, and rain.
MEMBER_COLUMNS = ("t_max_c", "t_min_c", "vapour_pressure_kpa", "solar_mj_m2", "wind_2m_ms", "rain_mm")
#: The least that a day's maximum lies above its minimum where made weather would cross them. [°C] (judged)
LEAST_RANGE_C = 0.5
#: Fewer earlier years are no past to draw from.
LEAST_YEARS = 3


@dataclass(frozen=True)
class WeatherMembers:
    """Days of weather at one spot, several times over.

    ``times`` is ``datetime64[D]`` of local days, one after the other; ``columns`` holds each of
    :data:`MEMBER_COLUMNS` as (members, days), without gaps.
    """

    times: NDArray[np.datetime64]
    columns: dict[str, FloatArray]
    lat_deg: float
    lon_deg: float
    elevation_m: float
    source: str
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if set(self.columns) != set(MEMBER_COLUMNS):
            raise InputError(
                say("weather members need the columns {wanted}.", wanted=", ".join(MEMBER_COLUMNS)),
                code="members.columns",
            )
        shape = (len(self), len(self.times))
        for name, values in self.columns.items():
            if values.shape != shape or not bool(np.isfinite(values).all()):
                raise InputError(
                    say(
                        "weather members: {name} must be {members} members of {days} days without gaps.",
                        name=name,
                        members=shape[0],
                        days=shape[1],
                    ),
                    code="members.shape",
                    field=name,
                )
        if len(self.times) > 1 and not bool(np.all(np.diff(self.times) == np.timedelta64(1, "D"))):
            raise InputError(say("weather steps must follow each other without gap or overlap."), code="members.days")

    def __len__(self) -> int:
        return len(self.columns["rain_mm"])

    def get(self, name: str) -> FloatArray:
        """A column, (members, days)."""
        return self.columns[name]

    def eto_mm(self) -> FloatArray:
        """Reference evapotranspiration of short grass (FAO-56), not below 0, (members, days). [mm/day]"""
        computed = reference_et_daily(
            self.get("t_max_c"),
            self.get("t_min_c"),
            vapour_pressure_kpa=self.get("vapour_pressure_kpa"),
            solar_mj_m2=self.get("solar_mj_m2"),
            wind_2m_ms=self.get("wind_2m_ms"),
            elevation_m=self.elevation_m,
            lat_deg=self.lat_deg,
            day_of_year=day_of_year(self.times),
        )
        return np.maximum(computed, 0.0)

    def between(self, first: np.datetime64, last: np.datetime64) -> WeatherMembers:
        """The days from ``first`` to ``last``, both included."""
        keep = (self.times >= first) & (self.times <= last)
        return replace(self, times=self.times[keep], columns={k: v[:, keep] for k, v in self.columns.items()})

    def pick(self, which: NDArray[np.int64]) -> WeatherMembers:
        """The members named, in that order; one may stand twice."""
        return replace(self, columns={k: v[which] for k, v in self.columns.items()})

    def series(self, member: int, time_zone: str = "") -> WeatherSeries:
        """One member as a daily series, all of it expected weather."""
        return WeatherSeries(
            step="day",
            times=self.times,
            columns={k: v[member] for k, v in self.columns.items()},
            lat_deg=self.lat_deg,
            lon_deg=self.lon_deg,
            elevation_m=self.elevation_m,
            time_zone=time_zone,
            source=self.source,
            kind=np.full(len(self.times), EXPECTED, dtype=np.uint8),
            notes=self.notes,
        )


def day_of_year(days: NDArray[np.datetime64]) -> FloatArray:
    """1 to 366."""
    return np.asarray((days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1.0)


def ordered(t_max_c: FloatArray, t_min_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Maxima and minima at least :data:`LEAST_RANGE_C` apart: where made ones are not, they are set apart about their
    middle, which keeps the day's mean."""
    lack = np.maximum(LEAST_RANGE_C - (t_max_c - t_min_c), 0.0)
    return t_max_c + 0.5 * lack, t_min_c - 0.5 * lack


def not_above_saturation(vapour_kpa: FloatArray, t_max_c: FloatArray, t_min_c: FloatArray) -> FloatArray:
    """Vapour pressure held to what the day's air can take up (FAO-56 Eq. 12). [kPa]"""
    return np.minimum(vapour_kpa, air.mean_saturation_vapour_pressure_kpa(t_max_c, t_min_c))


def members_of(runs: Sequence[WeatherSeries], source: str, notes: tuple[str, ...] = ()) -> WeatherMembers:
    """Members from daily series of one spot with their gaps filled; the days that all of them cover.

    Raises
    ------
    InputError
        No run, a run that is not daily, or no day in common.
    """
    if not runs or any(run.step != "day" for run in runs):
        raise InputError(say("weather members are made of daily series, at least one."), code="members.empty")
    first, last = max(run.times[0] for run in runs), min(run.times[-1] for run in runs)
    if first > last:
        raise InputError(say("the weather members have no day in common."), code="members.days")
    rows: dict[str, list[FloatArray]] = {name: [] for name in MEMBER_COLUMNS}
    for run in runs:
        part = run.between(first, last)
        for name in MEMBER_COLUMNS:
            rows[name].append(series_vapour_pressure(part) if name == "vapour_pressure_kpa" else part.get(name))
    one = runs[0]
    return WeatherMembers(
        times=np.arange(first, last + np.timedelta64(1, "D")),
        columns={name: np.array(values) for name, values in rows.items()},
        lat_deg=one.lat_deg,
        lon_deg=one.lon_deg,
        elevation_m=one.elevation_m,
        source=source,
        notes=notes,
    )


def spread_over(members: WeatherMembers, count: int, rng: np.random.Generator) -> WeatherMembers:
    """``count`` members out of these, each as often as any other (once more for some), in random order."""
    if count < 1:
        raise InputError(say("at least one member is needed (got {count}).", count=count), code="members.count")
    n = len(members)
    whole = np.repeat(np.arange(n), count // n)
    rest = rng.choice(n, size=count % n, replace=False)
    return members.pick(rng.permutation(np.concatenate([whole, rest])))


def together(one: WeatherMembers, other: WeatherMembers, rng: np.random.Generator) -> WeatherMembers:
    """All members of two that cover the same days, in random order."""
    if not np.array_equal(one.times, other.times):
        raise InputError(say("weather members of different days cannot stand side by side."), code="members.days")
    both = replace(
        one,
        columns={k: np.concatenate([v, other.get(k)]) for k, v in one.columns.items()},
        source=say("{one} and {other}", one=one.source, other=other.source),
        notes=(*one.notes, *other.notes),
    )
    return both.pick(rng.permutation(len(both)))


def followed_by(before: WeatherMembers, after: WeatherMembers) -> WeatherMembers:
    """Members that go on with others, one with one; where both have a day the first stands.

    Raises
    ------
    InputError
        Different numbers of members, or days missing between.
    """
    if len(before) != len(after):
        raise InputError(
            say("{n} members cannot go on with {other}.", n=len(before), other=len(after)), code="members.count"
        )
    rest = after.between(before.times[-1] + np.timedelta64(1, "D"), after.times[-1])
    if len(rest.times) == 0:
        return before
    return replace(
        before,
        times=np.concatenate([before.times, rest.times]),
        columns={k: np.concatenate([v, rest.get(k)], axis=1) for k, v in before.columns.items()},
        source=one_after_another(before.source, after.source),
        notes=(*before.notes, *after.notes),
    )


def past_years(
    record: WeatherSeries,
    first: np.datetime64,
    last: np.datetime64,
    count: int,
    rng: np.random.Generator,
    *,
    window_days: int = 7,
) -> WeatherMembers:
    """What the same dates brought at the same station in years before, each year also moved by some days.

    Parameters
    ----------
    record
        Observed daily weather with its gaps filled. Days from ``first`` on are not looked at.
    first, last
        Days wanted, both included.
    count
        Members wanted. Runs are drawn without doubles as long as there are enough.
    rng
        Where chance comes from.
    window_days
        The most days by which a year is moved, either way. Half the width of what climatologies usually pool (judged).

    Returns
    -------
    WeatherMembers
        Each member is one unbroken stretch of the record, so that spells are as long as they were.

    Raises
    ------
    InputError
        When fewer than three years before cover the dates.
    """
    days = int((last - first) / np.timedelta64(1, "D")) + 1
    starts, years = _stretches(record, first, days, window_days)
    if years < LEAST_YEARS:
        raise InputError(
            say(
                "only {n} earlier years cover {day} (3 are needed to expect anything from them).",
                n=years,
                day=first.item(),
            ),
            code="weather.past",
            hint=say("Use normals instead."),
        )
    chosen = _drawn(starts, count, rng)
    at_days = chosen[:, None] + np.arange(days)
    vapour = series_vapour_pressure(record)
    columns = {n: (vapour if n == "vapour_pressure_kpa" else record.get(n))[at_days] for n in MEMBER_COLUMNS}
    return WeatherMembers(
        times=np.arange(first, last + np.timedelta64(1, "D")),
        columns=columns,
        lat_deg=record.lat_deg,
        lon_deg=record.lon_deg,
        elevation_m=record.elevation_m,
        source=say("the same dates of {n} years at the same station", n=years),
    )


def years_before(record: WeatherSeries, first: np.datetime64, last: np.datetime64, *, window_days: int = 7) -> int:
    """How many earlier years of a record :func:`past_years` could draw from."""
    return _stretches(record, first, int((last - first) / np.timedelta64(1, "D")) + 1, window_days)[1]


def _stretches(
    record: WeatherSeries, first: np.datetime64, days: int, window_days: int
) -> tuple[NDArray[np.int64], int]:
    """Where the stretches of so many days begin that lie about the date in earlier years and end before it; of how many years."""
    end = int(np.searchsorted(record.times, first))
    this = first.astype("datetime64[Y]")
    into_year = min(int((first - this.astype("datetime64[D]")) / np.timedelta64(1, "D")), 364)
    starts: list[int] = []
    years = 0
    for back in range(1, int((this - record.times[0].astype("datetime64[Y]")).astype(int)) + 1):
        day = (this - back).astype("datetime64[D]") + np.timedelta64(into_year, "D")
        at = int((day - record.times[0]) / np.timedelta64(1, "D"))
        found = [s for s in range(at - window_days, at + window_days + 1) if s >= 0 and s + days <= end]
        starts += found
        years += bool(found)
    return np.array(starts, dtype=np.int64), years


def _drawn(starts: NDArray[np.int64], count: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """So many of the starts, none twice before all have stood once."""
    rounds = [rng.permutation(starts) for _ in range(-(-count // len(starts)))]
    return np.concatenate(rounds)[:count]
