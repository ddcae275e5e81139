"""Charts read day by day: the coming week, the balance of a place, the weather of a season."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from soakbook.app.chart_parts import Chart, Reader, axis_from_zero, depth_text, key, mark, point

#: Lanes of the balance above "full" (waterings) and below "nothing left" (rain), in the same fractions.
_WATERINGS_AT, _SIGNS_AT, _RAIN_FROM, _RAIN_TO = -0.07, 1.04, 1.38, 1.1


@dataclass(frozen=True)
class DayWeather:
    """Demand and rain of one day. [mm] ``is_filled``: a part of it was not recorded but filled in or taken from normals; ``is_usual``: it is
    to come and nobody forecast it, its demand is the usual one and its rain is not known."""

    on: date
    demand_mm: float
    rain_mm: float
    is_filled: bool = False
    is_usual: bool = False


@dataclass(frozen=True)
class Held:
    """A place through time. ``used`` and ``limit``: fractions of what the roots can reach, at the end of each day from
    ``first`` on; ``past`` of those days have been lived. ``waterings`` are litres, ``rain`` mm, ``readings`` the used fraction
    that was read, ``signs`` the days of readings that are no fraction; ``bands`` are (name, low, high) of the used fraction over the days to come, the widest first, and may begin with
    this morning; ``lay`` is low and high of the days lived, at their ends, as wide as the first of the bands; ``soaked`` is
    the used fraction of the days to come with today's soak; ``said`` what a reading said, where that is no fraction."""

    first: date
    past: int
    used: Sequence[float]
    limit: Sequence[float]
    waterings: Sequence[tuple[date, float]] = ()
    rain: Sequence[tuple[date, float]] = ()
    readings: Sequence[tuple[date, float]] = ()
    signs: Sequence[date] = ()
    bands: Sequence[tuple[str, Sequence[float], Sequence[float]]] = ()
    lay: tuple[Sequence[float], Sequence[float]] = ((), ())
    soaked: Sequence[float] = ()
    said: Mapping[date, str] = field(default_factory=dict)


def week_strip(days: Sequence[DayWeather], reader: Reader, usual_rain_mm: float = 0.0) -> Chart:
    """Demand and rain of the coming days, side by side. ``usual_rain_mm`` is what the days without a forecast usually bring together."""
    rows = _weather_rows(days, reader)
    said = [
        reader.t("{day}: rain {rain}, demand {demand}", day=day, demand=demand, rain=rain) for day, demand, rain in rows
    ]
    return Chart(
        name="week",
        title=reader.t("The coming days"),
        says=_week_says(days, reader, usual_rain_mm),
        block={
            "height": 118,
            "along": "x",
            "x": {"from": 0, "to": len(days), "ticks": [[i + 0.5, reader.day(d.on).split()[0]] for i, d in enumerate(days)]},
            "y": axis_from_zero(max([6.0, *(v for d in days for v in (d.demand_mm, d.rain_mm))]), "depth", reader, 2),
            "marks": [
                mark("bar", "demand", [[i + 0.14, i + 0.49, 0, d.demand_mm] for i, d in enumerate(days)]),
                mark("bar", "rain", [[i + 0.51, i + 0.86, 0, d.rain_mm] for i, d in enumerate(days)]),
                mark("dot", "none", [[i + 0.685, 0] for i, d in enumerate(days) if d.rain_mm < 0.05 and not d.is_usual]),
            ],
            "points": [point(i, i + 1, text) for i, text in enumerate(said)],
            "key": key(("bar", "demand", reader.t("demand of sun and wind")), ("bar", "rain", reader.t("rain"))),
            "help": reader.t("Touch the picture or use the arrow keys to read it day by day."),
        },
        head=(reader.t("day"), reader.t("demand"), reader.t("rain")),
        rows=rows,
    )  # fmt: skip


def _week_says(days: Sequence[DayWeather], reader: Reader, usual_rain_mm: float) -> str:
    demand = reader.quantity(sum(d.demand_mm for d in days), "depth")
    known, n = [d for d in days if not d.is_usual], len(days)
    rain = reader.quantity(sum(d.rain_mm for d in known), "depth")
    if len(known) == n:
        return reader.t(
            "Sun and wind ask for {demand} in {n} days; {rain} of rain is expected.", n=n, demand=demand, rain=rain
        )
    usual = reader.quantity(usual_rain_mm, "depth", 0 if reader.scale("depth")[0] == 1.0 else None)
    if not known:
        return reader.t(
            "Sun and wind usually ask for {demand} in {n} days; about {usual} of rain is usual, on days nobody knows.",
            n=n, demand=demand, usual=usual,
        )  # fmt: skip
    return reader.t(
        "Sun and wind ask for {demand} in {n} days; {rain} of rain is expected up to {day}, and after that about {usual} is usual, on days nobody knows.",
        n=n, demand=demand, rain=rain, day=reader.day(known[-1].on), usual=usual,
    )  # fmt: skip


def _weather_rows(days: Sequence[DayWeather], reader: Reader) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (
            reader.day(d.on), depth_text(d.demand_mm, reader),
            reader.t("not known") if d.is_usual else depth_text(d.rain_mm, reader),
        )
        for d in days
    )  # fmt: skip


def balance_through_time(held: Held, reader: Reader) -> Chart:
    """How much of the roots' water is used, day by day, with what came and what was read."""
    days = [held.first + timedelta(days=i) for i in range(len(held.used))]
    lived = [[i + 1.0, u] for i, u in enumerate(held.used[: held.past])]
    ahead = [[i + 1.0, u] for i, u in enumerate(held.used) if i >= held.past - 1]
    soaked = [[held.past + 0.0, held.used[held.past - 1]]] if held.soaked and held.past else []
    soaked += [[held.past + k + 1.0, u] for k, u in enumerate(held.soaked)]
    limit = [[float(i), held.limit[min(i, len(days) - 1)]] for i in range(len(days) + 1)]
    most_rain = max([10.0, *(mm for _, mm in held.rain)])

    def at(day: date) -> float:
        return (day - held.first).days + 0.5

    def rain_text(mm: float) -> str:
        return reader.quantity(mm, "depth", 0 if reader.scale("depth")[0] == 1.0 else 1)

    rain = [(at(day), mm) for day, mm in held.rain if mm >= 0.5]
    named = [(x, mm) for x, mm in rain if mm >= 0.12 * most_rain]
    lane = _RAIN_TO - _RAIN_FROM
    marks = [
        mark("band", "too-dry", [[x, y, 1.0] for x, y in limit]),
        mark("band", "fan-0", [[i + 1.0, a, b] for i, (a, b) in enumerate(zip(*held.lay, strict=True))]),
        *(
            mark("band", f"fan-{i}", [[len(days) - len(low) + k + 1.0, a, b] for k, (a, b) in enumerate(zip(low, high, strict=True))])
            for i, (_, low, high) in enumerate(held.bands)
        ),
        mark("line", "limit", limit),
        mark("rule", "today", [[held.past]]),
        mark("bar", "rain", [[x - 0.38, x + 0.38, _RAIN_FROM, _RAIN_FROM + lane * mm / most_rain] for x, mm in rain]),
        mark("text", "amount", [[x, _RAIN_FROM + lane * mm / most_rain, rain_text(mm)] for x, mm in named]),
        mark("line", "held", lived),
        mark("line", "ahead", ahead),
        mark("line", "soaked", soaked),
        mark("dot", "watering", [[at(day), _WATERINGS_AT] for day, _ in held.waterings]),
        mark("text", "amount", [[at(day), _WATERINGS_AT - 0.05, reader.amount(litres)] for day, litres in held.waterings]),
        mark("dot", "reading", [[at(day), used] for day, used in held.readings]),
        mark("dot", "sign", [[at(day), _SIGNS_AT] for day in held.signs]),
    ]  # fmt: skip
    parts = [
        ("line", "held", reader.t("water used, so far")),
        ("line", "ahead", reader.t("to come, if nothing is given")),
        ("line", "soaked", reader.t("to come, if you soak today")),
        ("line", "limit", reader.t("limit: thirst begins")),
        ("band", "too-dry", reader.t("too dry")),
        ("dot", "watering", reader.t("watered")),
        ("bar", "rain", reader.t("rain")),
        ("dot", "reading", reader.t("reading")),
        ("dot", "sign", reader.t("something seen")),
    ]
    present = {(m["type"], m["look"]) for m in marks if m["items"]}
    fans = [("band", f"fan-{i}", name) for i, (name, _, _) in enumerate(held.bands)]
    ticks = [
        [i + 0.5, reader.t("today") if i == held.past else reader.day(d, "tiny")]
        for i, d in enumerate(days)
        if (i - held.past) % 7 == 0
    ]
    rows = _balance_rows(held, days, reader)
    return Chart(
        name="balance",
        title=reader.t("Water in the roots' reach"),
        says=_balance_says(held, reader),
        block={
            "height": 300,
            "along": "x",
            "start": held.past,
            "x": {"from": 0, "to": len(days), "ticks": ticks},
            "y": {
                "from": 1.4,
                "to": -0.22,
                "ticks": [[0, reader.t("full")], [0.5, reader.t("half")], [1, reader.t("none left")]],
            },
            "marks": marks,
            "points": [point(i, i + 1, ", ".join(p for _, p in row if p)) for i, row in enumerate(rows)],
            "key": key(*(k for k in parts if k[:2] in present), *fans),
            "help": reader.t("Touch the picture or use the arrow keys to read it day by day."),
        },
        head=(
            reader.t("day"), reader.t("used"), reader.t("limit"), reader.t("watered"), reader.t("rain"),
            reader.t("reading"), reader.t("so far or to come"), *((reader.t("if you soak today"),) if held.soaked else ()),
            *((held.bands[0][0],) if held.bands else ()),
        ),
        rows=tuple(tuple(cell for cell, _ in row) for row in rows),
    )  # fmt: skip


def _balance_rows(held: Held, days: Sequence[date], reader: Reader) -> list[list[tuple[str, str]]]:
    """Per day the cells of the table, each with what is said of it (nothing where there is nothing)."""
    put: dict[date, float] = {}
    for on, litres in held.waterings:
        put[on] = put.get(on, 0.0) + litres
    rain, read = dict(held.rain), dict(held.readings)
    spans = _spans(held, reader)
    rows = []
    for i, day in enumerate(days):
        used, limit = reader.percent(held.used[i]), reader.percent(held.limit[i])
        water = reader.amount(put[day]) if day in put else ""
        wet = depth_text(rain[day], reader) if rain.get(day, 0.0) >= 0.05 else ""
        seen = held.said.get(day) or (reader.percent(read[day]) if day in read else "")
        seen_said = seen if day in held.said else reader.t("read as {share} used", share=seen) if seen else ""
        k = i - held.past
        soaked = reader.percent(held.soaked[k]) if 0 <= k < len(held.soaked) else ""
        rows.append([
            (reader.day(day), reader.day(day)),
            (used, reader.t("{share} used", share=used)),
            (limit, reader.t("limit {share}", share=limit)),
            (water, reader.t("watered {amount}", amount=water) if water else ""),
            (wet, reader.t("rain {amount}", amount=wet) if wet else ""),
            (seen, seen_said),
            (reader.t("so far"), "") if i < held.past else (reader.t("to come"), reader.t("to come")),
            *(((soaked, reader.t("{share} if you soak today", share=soaked) if soaked else ""),) if held.soaked else ()),
            *(((spans[i], reader.t("likely {span}", span=spans[i]) if spans[i] else ""),) if held.bands else ()),
        ])  # fmt: skip
    return rows


def _spans(held: Held, reader: Reader) -> list[str]:
    """Per day, between what the widest band lies; empty where there is none."""
    ahead = len(held.used) - held.past
    low, high = (
        [*held.lay[k], *(held.bands[0][1 + k][-ahead:] if held.bands and ahead else ())] for k in (0, 1)
    )  # fmt: skip
    said = [
        reader.t("{low} to {high}", low=reader.percent(a), high=reader.percent(b))
        for a, b in zip(low, high, strict=True)
    ]
    return [""] * (len(held.used) - len(said)) + said


def _balance_says(held: Held, reader: Reader) -> str:
    now = held.used[held.past - 1] if held.past else held.used[0]
    over = next((i for i in range(held.past, len(held.used)) if held.used[i] >= held.limit[i]), None)
    share = reader.percent(now)
    if now >= held.limit[max(held.past - 1, 0)]:
        return reader.t("{share} of the water is used: past the limit.", share=share)
    if over is None:
        return reader.t("{share} of the water is used; the limit is not reached in the days shown.", share=share)
    day = reader.day(held.first + timedelta(days=over))
    says = reader.t(
        "{share} of the water is used; the limit is reached on {day} if nothing is given.", share=share, day=day
    )
    return f"{says} {_when_over(held, reader)}".rstrip()


def _when_over(held: Held, reader: Reader) -> str:
    """Between which days the limit is passed, as the widest band has it; empty where that is one day."""
    if not held.bands:
        return ""
    ahead = len(held.used) - held.past
    _, low, high = held.bands[0]
    limit = held.limit[held.past :]

    def first(band: Sequence[float]) -> int | None:
        return next((k for k, (used, most) in enumerate(zip(band, limit, strict=True)) if used >= most), None)

    early, late = first(high[-ahead:]), first(low[-ahead:])
    if early is None or early == late:
        return ""
    day = reader.day(held.first + timedelta(days=held.past + early))
    if late is None:
        return reader.t("It may be as early as {day}, or not in the days shown.", day=day)
    last = reader.day(held.first + timedelta(days=held.past + late))
    return reader.t("It may be as early as {day} or as late as {last}.", day=day, last=last)


def weather_by_day(days: Sequence[DayWeather], reader: Reader) -> Chart:
    """Demand and rain of a season, day by day; days with something filled in carry a diamond."""
    most = max([6.0, *(v for d in days for v in (d.demand_mm, d.rain_mm))])
    axis = axis_from_zero(most, "depth", reader)
    filled = [i for i, d in enumerate(days) if d.is_filled]
    firsts = [[i + 0.5, reader.month(d.on, "short")] for i, d in enumerate(days) if d.on.day == 1]
    weeks = [[i + 0.5, reader.day(d.on, "tiny")] for i, d in enumerate(days) if i % 7 == 0]
    parts = [
        ("bar", "rain", reader.t("rain")),
        ("line", "demand", reader.t("demand of sun and wind")),
    ]
    if filled:
        parts.append(("dot", "filled", reader.t("something filled in")))
    rows = tuple(
        (*row, reader.t("filled in") if d.is_filled else reader.t("recorded"))
        for row, d in zip(_weather_rows(days, reader), days, strict=True)
    )
    return Chart(
        name="weather",
        title=reader.t("Demand and rain by day"),
        says=reader.tn(
            "From {start} to {end} sun and wind asked for {demand}; {rain} of rain fell; {n} day has something filled in.",
            "From {start} to {end} sun and wind asked for {demand}; {rain} of rain fell; {n} days have something filled in.",
            len(filled), start=reader.day(days[0].on), end=reader.day(days[-1].on),
            demand=reader.quantity(sum(d.demand_mm for d in days), "depth"),
            rain=reader.quantity(sum(d.rain_mm for d in days), "depth"),
        ),
        block={
            "height": 220,
            "along": "x",
            "x": {"from": 0, "to": len(days), "ticks": firsts if len(firsts) > 2 else weeks},
            "y": {**axis, "from": -0.06 * axis["to"] if filled else 0},
            "marks": [
                mark("bar", "rain", [[i + 0.1, i + 0.9, 0, d.rain_mm] for i, d in enumerate(days) if d.rain_mm > 0]),
                mark("line", "demand", [[i + 0.5, d.demand_mm] for i, d in enumerate(days)]),
                mark("dot", "filled", [[i + 0.5, -0.035 * axis["to"]] for i in filled]),
            ],
            "points": [
                point(
                    i, i + 1, reader.t("{day}: rain {rain}, demand {demand} ({how})", day=a, demand=b, rain=c, how=how)
                )
                for i, (a, b, c, how) in enumerate(rows)
            ],
            "key": key(*parts),
            "help": reader.t("Touch the picture or use the arrow keys to read it day by day."),
        },
        head=(reader.t("day"), reader.t("demand"), reader.t("rain"), reader.t("how known")),
        rows=rows,
    )  # fmt: skip
