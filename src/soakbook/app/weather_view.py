"""The weather as its page shows it: where it is from, what was filled in, the own gauge beside it, and the days to come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from soakbook.app.outlook import outlook
from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.app.charts import Chart
    from soakbook.app.desk import Sky
    from soakbook.garden.model import Garden, LogEntry
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.odds import Odds
    from soakbook.weather.series import WeatherSeries

#: Stretches to look back over, the first unless another is asked for. [days]
STRETCHES = (30, 90, 160)
#: Days ahead that are shown one by one.
AHEAD_DAYS = 10


@dataclass(frozen=True)
class Filled:
    """Something that was not as the source had it: which quantity, on how many days, and what was done."""

    what: str
    days: int
    how: str


@dataclass(frozen=True)
class Gauge:
    """Own gauge beside the source. A row is day, gauge, source, difference; then the sums of the same."""

    rows: tuple[tuple[str, str, str, str], ...]
    sums: tuple[str, str, str, str]
    says: str


@dataclass(frozen=True)
class Ahead:
    """A day to come, written out. ``kind`` says how it is known, ``odds`` how likely rain is, ``is_wet`` whether it is likely."""

    day: str
    warmth: str
    demand: str
    rain: str
    kind: str
    odds: str
    is_wet: bool


def stretch(sky: Sky, today: date, days: int) -> tuple[WeatherSeries, date]:
    """The last days before today, as far as there are any, and the first of them."""
    first = max(today - timedelta(days=days), sky.series.times[0].astype(date))
    return sky.series.between(np.datetime64(first), np.datetime64(today) - np.timedelta64(1, "D")), first


def chart_of(sky: Sky, first: date, today: date, r: Reader) -> Chart:
    """Demand and rain by day."""
    from soakbook.app.charts import weather_by_day

    return weather_by_day(outlook(sky.series, first, today, with_usual=True), r)


def filled_in(part: WeatherSeries, r: Reader) -> list[Filled]:
    """What was filled in over a stretch, by quantity and by what was done, in plain words."""
    from soakbook.weather.series import EXPECTED

    names = {
        "t_max_c": r.t("highest temperature"), "t_min_c": r.t("lowest temperature"), "t_mean_c": r.t("mean temperature"),
        "vapour_pressure_kpa": r.t("humidity"), "dew_point_c": r.t("humidity"), "rh_max_pct": r.t("humidity"),
        "rh_min_pct": r.t("humidity"), "rh_mean_pct": r.t("humidity"), "solar_mj_m2": r.t("sunlight"),
        "sunshine_h": r.t("sunlight"), "wind_2m_ms": r.t("wind"), "rain_mm": r.t("rain"), "pressure_kpa": r.t("air pressure"),
    }  # fmt: skip
    seen = part.kind != EXPECTED
    usual = int(np.sum(~seen))
    out = [Filled(r.t("the whole day"), usual, r.t("not observed: what is usual in the month"))] if usual else []
    for column, flags in part.flags.items():
        for flag in np.unique(flags[(flags > 0) & seen]):
            n = int(np.sum((flags == flag) & seen))
            out.append(Filled(names.get(column, column), n, _how(column, int(flag), r)))
    return sorted(out, key=lambda f: (-f.days, f.what))


def _how(column: str, flag: int, r: Reader) -> str:
    from soakbook.weather.series import FILLED_NEIGHBOUR, FILLED_NORMALS, OWN_GAUGE, REJECTED

    if flag == OWN_GAUGE:
        return r.t("from your own rain gauge")
    if flag == REJECTED:
        return r.t("beyond what can be, so left out")
    if flag == FILLED_NEIGHBOUR:
        return r.t("taken from the days around it")
    if flag == FILLED_NORMALS:
        return r.t("taken from what is usual in the month")
    rules = {
        "wind_2m_ms": r.t("a light breeze of 2 m/s is taken"),
        "rain_mm": r.t("no figure: taken as dry"),
        "solar_mj_m2": r.t("told from how far apart the day's warmth and the night's lie"),
        "vapour_pressure_kpa": r.t("told from the coolest hour, when dew falls"),
    }
    return rules.get(column, r.t("told by rule from the others"))


def gauge_beside(sky: Sky, log: list[LogEntry], today: date, r: Reader) -> Gauge | None:
    """What the own gauge found, beside the source's rain of the days each reading stands for; None without a gauge."""
    from soakbook.advice.sky import gauge_day
    from soakbook.weather.gauge import MOST_DAYS_UNREAD

    first: date = sky.series.times[0].astype(date)
    found: dict[date, float] = {}
    for e in log:
        if e.kind == "rain" and e.rain_mm is not None and first <= gauge_day(e) < today:
            found[gauge_day(e)] = found.get(gauge_day(e), 0.0) + e.rain_mm
    if not found:
        return None
    rain, rows, before = sky.bare.get("rain_mm"), [], None
    own = grid = 0.0
    for day, mm in sorted(found.items()):
        at = (day - first).days
        start = at if before is None or at - before > MOST_DAYS_UNREAD else before + 1
        source = float(np.nansum(rain[start : at + 1]))
        own, grid, before = own + mm, grid + source, at
        span = (
            r.day(day)
            if start == at
            else r.t("{first} to {last}", first=r.day(first + timedelta(days=start)), last=r.day(day))
        )
        rows.append((span, _depth(mm, r), _depth(source, r), _difference(mm - source, r)))
    sums = (r.t("in all"), _depth(own, r), _depth(grid, r), _difference(own - grid, r))
    more = _depth(abs(own - grid), r)
    says = r.t("Your gauge found {more} more than the source.", more=more)
    if own < grid:
        says = r.t("Your gauge found {more} less than the source.", more=more)
    return Gauge(tuple(reversed(rows)), sums, says)


def _depth(mm: float, r: Reader) -> str:
    return r.quantity(mm, "depth", 1 if r.units == "metric" else 2)


def _difference(mm: float, r: Reader) -> str:
    return ("+" if mm >= 0.0 else "−") + _depth(abs(mm), r)


def coming(sky: Sky, today: date, r: Reader, members: WeatherMembers | None = None) -> list[Ahead]:
    """The days to come, today among them; with odds on rain where weather members are at hand."""
    from soakbook.weather.eto import series_eto
    from soakbook.weather.series import EXPECTED, FORECAST

    part = sky.series.between(np.datetime64(today), np.datetime64(today) + np.timedelta64(AHEAD_DAYS - 1, "D"))
    eto, rain, chance = series_eto(part), part.get("rain_mm"), part.get("rain_chance_pct")
    warm, cool = part.get("t_max_c"), part.get("t_min_c")
    words = {EXPECTED: r.t("usual"), FORECAST: r.t("forecast")}
    odds = odds_by_day(members, today, r)
    out = []
    for i, time in enumerate(part.times):
        on, kind = time.astype(date), int(part.kind[i])
        if kind == EXPECTED:
            wet = "–"
        else:
            wet = _depth(float(rain[i]), r)
            if np.isfinite(chance[i]):
                wet = r.t("{rain}, chance {chance}", rain=wet, chance=r.percent(float(chance[i]) / 100.0))
        warmth = r.t(
            "{low} to {high}",
            low=r.quantity(float(cool[i]), "temperature", 0),
            high=r.quantity(float(warm[i]), "temperature", 0),
        )
        out.append(Ahead(r.t("today") if on == today else r.day(on), warmth, _depth(float(eto[i]), r), wet,
                         words.get(kind, r.t("observed")), *odds.get(on, ("", False))))  # fmt: skip
    return out


def odds_by_day(members: WeatherMembers | None, today: date, r: Reader) -> dict[date, tuple[str, bool]]:
    """Odds on rain of each day ahead in a few words, and whether rain is likely."""
    from soakbook.weather.odds import rain_odds

    if members is None:
        return {}
    last = min(today + timedelta(days=AHEAD_DAYS - 1), members.times[-1].astype(date))
    days = [today + timedelta(days=k) for k in range((last - today).days + 1)]
    return {one.day: (odds_words(one, r), one.in_ten >= 7) for one in rain_odds(members, days)}


def odds_words(odds: Odds, r: Reader) -> str:
    """As the sentences of :func:`soakbook.weather.odds.in_words`, for a row that has its day already."""
    n, depth = odds.in_ten, r.quantity(odds.amount_mm, "depth", 0 if r.units == "metric" else 1)
    if n == 0:
        return r.t("none in sight")
    if n <= 2:
        return r.t("unlikely: {n} in 10, about {depth}", n=n, depth=depth)
    if n <= 4:
        return r.t("may come: {n} in 10, about {depth}", n=n, depth=depth)
    if n <= 6:
        return r.t("as likely as not: {n} in 10, about {depth}", n=n, depth=depth)
    if n <= 8:
        return r.t("likely: {n} in 10, about {depth}", n=n, depth=depth)
    return r.t("very likely: 9 in 10 or more, about {depth}", depth=depth)


def usual_months(garden: Garden, r: Reader) -> list[tuple[str, str, str, str, str]]:
    """What is usual at the place: month, warmth, rain, wet days, sunshine a day."""
    from calendar import monthrange

    from soakbook.weather.normals import normals_at

    usual = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    rows = []
    for m in range(12):
        low, high = (r.quantity(float(v[m]), "temperature", 0) for v in (usual.t_min_c, usual.t_max_c))
        hours = float(usual.sunshine_h[m]) / monthrange(2023, m + 1)[1]
        sun = r.t("{n} h", n=r.number(hours, 1)) if np.isfinite(hours) else ""
        depth = r.quantity(float(usual.rain_mm[m]), "depth", 0 if r.units == "metric" else 1)
        rows.append((r.month(date(2023, m + 1, 1), "short"), r.t("{low} to {high}", low=low, high=high), depth,
                     r.number(float(usual.wet_days[m])), sun))  # fmt: skip
    return rows


def usual_from(garden: Garden) -> list[str]:
    """Where the usual weather is from, and what is to be said about it."""
    from soakbook.weather.normals import normals_at

    return list(normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m).notes)


def kind_words(garden: Garden, r: Reader) -> str:
    """How the garden gets its weather."""
    if garden.weather == "live":
        return r.t("Live: the last weeks and the forecast are fetched for the garden's spot.")
    if garden.weather == "normals":
        return r.t("Usual weather only: no day is observed, each has what is usual in its month.")
    return r.t("From the file {name}.", name=Path(garden.weather).name)


def observed_until(series: WeatherSeries, today: date) -> date | None:
    """The last day before today that was observed."""
    from soakbook.weather.series import OBSERVED

    seen = series.times[(series.kind == OBSERVED) & (series.times < np.datetime64(today))]
    return seen[-1].astype(date) if len(seen) else None
