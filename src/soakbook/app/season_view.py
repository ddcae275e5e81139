"""The season so far: which stretch it is, where its runs come from, and what its page says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from soakbook.app.charts import Account as Bars
from soakbook.app.charts import season_accounts
from soakbook.app.reader import Reader
from soakbook.errors import InputError
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.advice.account import Account, PlaceRun, Water
    from soakbook.app.charts import Chart
    from soakbook.app.desk import Desk, Known
    from soakbook.garden.model import Garden, LogEntry, Place
    from soakbook.weather.series import WeatherSeries

GALLON_L = 3.785411784


@dataclass(frozen=True)
class Season:
    """A season's account with the weather it rests on; ``places_without`` had nothing growing and were not watered."""

    year: int
    account: Account
    weather: WeatherSeries
    places_without: tuple[str, ...]
    cut_short: bool


@dataclass(frozen=True)
class Table:
    """A table of litres or gallons: its first column are names, the last row the sums."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sums: tuple[str, ...]


def season_span(garden: Garden, year: int) -> tuple[date, date]:
    """First day of a season and the day after its last: the calendar year, south of the equator July to June."""
    month = 7 if garden.lat_deg < 0.0 else 1
    return date(year, month, 1), date(year + 1, month, 1)


def season_of(garden: Garden, day: date) -> int:
    """The year a season is called by: that of its first day."""
    return day.year if day >= season_span(garden, day.year)[0] else day.year - 1


def season_name(garden: Garden, year: int) -> str:
    """What a season is called: 2017, or 2017/18."""
    return str(year) if garden.lat_deg >= 0.0 else f"{year}/{(year + 1) % 100:02d}"


def years_of(desk: Desk, known: Known) -> list[int]:
    """Seasons something is known of, the latest first."""
    garden, today = known.garden, desk.today(known.garden)
    starts = [p.planted_out or p.sown for place in garden.places for p in place.plantings]
    days = [d for d in [*starts, *(e.at.date() for e in desk.log(known) if e.kind == "water")] if d and d <= today]
    return sorted({season_of(garden, d) for d in [*days, today]}, reverse=True)


def season_kept(desk: Desk, known: Known, year: int) -> Season:
    """The account of a season up to this morning, kept while nothing it rests on has changed."""
    today = desk.today(known.garden)
    if year not in years_of(desk, known):
        raise InputError(
            say("nothing is known of the season {year}.", year=str(year)), code="season.unknown", field="year"
        )
    before = tuple(e for e in desk.log(known) if e.at.date() < today)
    key = ("season", known.key, known.version, hash(before), desk.sky(known).stamp, today, year)
    made: Season = desk.keep(key, lambda: _season(desk, known, year, before))
    return made


def _season(desk: Desk, known: Known, year: int, before: Sequence[LogEntry]) -> Season:
    from soakbook.advice.account import PlaceRun, account

    garden, today = known.garden, desk.today(known.garden)
    first, end = season_span(garden, year)
    end = min(end, today)
    weather = _weather(desk, known, first, end, before)
    reaches: date = weather.times[0].astype(date)
    standings = {s.days.place.name: s for s in desk.standings(known)} if end == today else {}
    runs: list[PlaceRun] = []
    without, cut_short = [], False
    for place in garden.places:
        stretch = counted(garden, place, before, first, end)
        if stretch is None:
            without.append(place.name)
            continue
        start, stop = stretch
        cut_short = cut_short or start < reaches
        start = max(start, reaches)
        standing = standings.get(place.name)
        if standing is not None and standing.days.days[0].astype(date) <= start:
            runs.append(PlaceRun(standing.days, standing.known.past, start, stop))
        elif start < stop:
            runs.append(_run(garden, place, weather, before, start, stop))
    return Season(year, account(runs, before, first, end), weather, tuple(without), cut_short)


def counted(garden: Garden, place: Place, log: Sequence[LogEntry], first: date, end: date) -> tuple[date, date] | None:
    """The stretch of a season a place counts for: from its first planting or watering until it is cleared; None if neither."""
    begins = [e.at.date() for e in log if e.kind == "water" and e.place == place.name and first <= e.at.date() < end]
    stops = [d + timedelta(days=1) for d in begins]
    for p in place.plantings:
        begin = max(first, p.planted_out or p.sown or garden.start or first)
        stop = min(end, p.cleared or end)
        if begin < stop:
            begins.append(begin)
            stops.append(stop)
    return (min(begins), max(stops)) if begins and min(begins) < end else None


def _weather(desk: Desk, known: Known, first: date, end: date, log: Sequence[LogEntry]) -> WeatherSeries:
    """Daily weather over a season as far back as there is any. What is fetched reaches as far as today's round has it."""
    import numpy as np

    from soakbook.advice.sky import weather_for

    series = desk.sky(known).series
    garden = known.garden
    if garden.weather == "live" or series.times[0] <= np.datetime64(first) < series.times[-1]:
        return series
    return weather_for(garden, end, log, folder=known.folder, back_days=max((end - first).days, 10))


def _run(
    garden: Garden, place: Place, weather: WeatherSeries, log: Sequence[LogEntry], start: date, stop: date
) -> PlaceRun:
    """A run of its own for a place that today's round does not reach back far enough for."""
    import numpy as np

    from soakbook.advice.account import PlaceRun
    from soakbook.balance.place import place_days

    part = weather.between(np.datetime64(start), np.datetime64(stop) - np.timedelta64(1, "D"))
    days = place_days(garden, place, part, log, until=stop)
    return PlaceRun(days, days.run(days.start(), 0, len(days.days)), start, stop)


def much(litres: float, r: Reader) -> str:
    """A lot of water: in cubic metres from a thousand litres on, or in gallons."""
    if r.units == "US" or abs(litres) < 1000.0:
        return r.amount(litres)
    return f"{r.number(litres / 1000.0, 1)} m³"


def headline(season: Season, r: Reader) -> str:
    """The season in one sentence."""
    all_ = season.account.total
    if all_.came <= 0.0:
        return r.t("No water has come to any place yet.")
    share = r.percent(all_.drained_now / all_.came)
    return r.t(
        "So far {given} went on and rain gave {rain}; {share} of both drained below the roots.",
        given=much(all_.put_on, r), rain=much(all_.rain, r), share=share,
    )  # fmt: skip


def charts(season: Season, r: Reader) -> tuple[Chart, Chart]:
    """Water by month and by place as pictures."""
    by_month = [_bars(r.month(m), w) for m, w in season.account.by_month.items()]
    by_place = [_bars(name, w) for name, w in season.account.by_place.items()]
    return season_accounts(by_month, "month", r), season_accounts(by_place, "place", r)


def _bars(label: str, water: Water) -> Bars:
    return Bars(label, water.put_on, water.rain_used, water.drained)


def tables(season: Season, r: Reader) -> tuple[Table, Table, Table]:
    """Everything by month, everything by place, and what was put on by place and month."""
    made = season.account
    digits = 1 if made.total.came < 200.0 else 0
    by_month = _table(r.t("month"), [(r.month(m), w) for m, w in made.by_month.items()], made.total, digits, r)
    by_place = _table(r.t("place"), list(made.by_place.items()), made.total, digits, r)
    months = list(made.by_month)
    rows = []
    for name, water in made.by_place.items():
        cells = [made.cells.get((name, m)) for m in months]
        rows.append(
            (name, *(_litres(c.put_on, digits, r) if c else "–" for c in cells), _litres(water.put_on, digits, r))
        )
    sums = (
        r.t("in all"), *(_litres(made.by_month[m].put_on, digits, r) for m in months), _litres(made.total.put_on, digits, r),
    )  # fmt: skip
    both = Table((r.t("place"), *(r.month(m, "short") for m in months), r.t("in all")), tuple(rows), sums)
    return by_month, by_place, both


def _table(first: str, named: list[tuple[str, Water]], all_: Water, digits: int, r: Reader) -> Table:
    head = (
        first, r.t("put on"), r.t("rain"), r.t("rain used"), r.t("drawn by plants"), r.t("dried off"), r.t("drained below"),
        r.t("ran off"), r.t("lost on the way"), r.t("more in the soil"),
    )  # fmt: skip

    def cells(w: Water) -> tuple[str, ...]:
        parts = (w.put_on, w.rain, w.rain_used, w.drawn, w.dried_off, w.drained, w.ran_off, w.missed, w.stored)
        return tuple(_litres(v, digits, r) for v in parts)

    rows = tuple((name, *cells(w)) for name, w in named)
    return Table(head, rows, (r.t("in all"), *cells(all_)))


def _litres(value: float, digits: int, r: Reader) -> str:
    number = value if r.units == "metric" else value / GALLON_L
    text = r.number(abs(number), digits)
    return f"−{text}" if number < 0.0 and float(f"{abs(number):.{digits}f}") > 0.0 else text


def money(season: Season, garden: Garden, r: Reader) -> str:
    """What the water put on has cost, where it has a price."""
    from soakbook.advice.account import cost

    paid = cost(garden.supply, season.account.total.given)
    if paid is None:
        return ""
    per, unit = garden.supply.price_per_m3 or 0.0, r.t("a cubic metre")
    if r.units == "US":
        per, unit = per * GALLON_L, r.t("for 1000 gallons")
    return r.t(
        "The water in the log cost {paid} {currency}, at {price} {currency} {unit}.", paid=r.number(paid, 2),
        currency=garden.supply.currency, price=r.number(per, 2), unit=unit,
    )  # fmt: skip


def doubts(season: Season, desk: Desk, known: Known, r: Reader) -> list[str]:
    """What is not certain about the figures."""
    import numpy as np

    from soakbook.advice.sky import described
    from soakbook.weather.series import EXPECTED, MEASURED, OWN_GAUGE, sources_in_turn

    made = season.account
    out: list[str] = []
    if not made.since:
        return out
    begins = min(made.since.values())
    waterings = [e.at.date() for e in desk.log(known) if e.kind == "water" and begins <= e.at.date() < made.end]
    if not waterings:
        out.append(r.t("No watering of this season is in the log: what was given is not counted."))
    elif min(waterings) > begins + timedelta(days=1):
        out.append(
            r.t(
                "No watering before {day} is in the log; what was given earlier is not counted.",
                day=r.day(min(waterings)),
            )
        )
    if made.total.assumed >= 0.5:
        out.append(
            r.t("{litres} of what was put on are assumed: plantings watered in without an entry in the log.",
                litres=r.amount(made.total.assumed))
        )  # fmt: skip
    part = season.weather.between(np.datetime64(begins), np.datetime64(made.end) - np.timedelta64(1, "D"))
    flags = part.flag("rain_mm")
    usual = int(np.sum(part.kind == EXPECTED))
    source = described(season.weather) if usual else sources_in_turn(season.weather.source)[0]
    out.append(r.t("Rain is that of {source}.", source=r.tell(source)))
    own = int(np.sum(flags == OWN_GAUGE))
    out.append(
        r.tn("On {n} day it is from your own gauge.", "On {n} days it is from your own gauge.", own)
        if own else r.t("None of it is from a gauge of your own: a shower can miss a garden.")
    )  # fmt: skip
    gaps = int(np.sum((flags != MEASURED) & (flags != OWN_GAUGE)))
    if gaps:
        out.append(
            r.tn("{n} day had no rain figure and counts as dry.", "{n} days had no rain figure and count as dry.", gaps)
        )
    if usual:
        out.append(
            r.tn("{n} day has the usual weather of the place, not what was observed.",
                 "{n} days have the usual weather of the place, not what was observed.", usual)
        )  # fmt: skip
    if season.cut_short:
        out.append(
            r.t("Weather reaches back to {day} only; what came before is not counted.", day=r.day(made_first(season)))
        )
    out.append(
        r.t("Each place begins with full soil, and counts from its first planting or watering until it is cleared.")
    )
    if season.places_without:
        out.append(r.t("Not counted, for nothing grew there: {places}.", places=r.listed(season.places_without)))
    return out


def made_first(season: Season) -> date:
    """The first day weather is there for."""
    first: date = season.weather.times[0].astype(date)
    return first


def csv_rows(season: Season, known: Known) -> list[dict[str, Any]]:
    """Every number by place and month, in litres."""
    from soakbook.advice.account import Water

    names = [f.name for f in fields(Water)]
    return [
        {"place": place, "month": f"{month:%Y-%m}", **{f"{n}_l": round(getattr(w, n), 3) for n in names},
         "rain_used_l": round(w.rain_used, 3)}
        for (place, month), w in season.account.cells.items()
    ]  # fmt: skip
