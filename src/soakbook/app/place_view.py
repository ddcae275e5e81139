"""A place as its page shows it: through time, why, from which figures, and what was written down about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from soakbook.app.charts import Chart, Held, balance_through_time, reasons_chart
from soakbook.app.entry_form import entry_words, when_text
from soakbook.app.fan_view import Fan, fan_of
from soakbook.app.reader import Reader
from soakbook.app.reading_view import read_at, said_by_day
from soakbook.app.wet_circle import seen_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from soakbook.advice.belief import Belief
    from soakbook.advice.round import Job, Standing
    from soakbook.app.desk import Desk, Known
    from soakbook.garden.model import LogEntry, Place, Planting
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.series import WeatherSeries

    FloatArray = NDArray[np.float64]

#: Days of the balance drawn: back and ahead.
BACK_DAYS, AHEAD_DAYS = 30, 14
#: Entries of the log, and days of the day-by-day table, that a page shows.
ENTRIES, TABLE_DAYS = 8, 14


@dataclass(frozen=True)
class Grown:
    """A planting of the place's history."""

    id: str
    plant: str
    begun: str
    cleared: str
    count: str
    state: str


@dataclass(frozen=True)
class Written:
    """An entry of the log."""

    id: str
    kind: str
    when: str
    words: str
    text: str
    who: str


def neighbours(known: Known, place_id: str) -> tuple[tuple[str, str] | None, tuple[str, str] | None]:
    """Id and name of the places before and after in walking order."""
    order = list(known.names.items())
    at = next(i for i, (one, _) in enumerate(order) if one == place_id)
    return (order[at - 1] if at else None), (order[at + 1] if at + 1 < len(order) else None)


def balance_chart(standing: Standing, ahead: WeatherMembers, job: Job, log: Sequence[LogEntry], r: Reader) -> Chart:
    """The balance of the last weeks with what came and what was read, and the fan of the days ahead."""
    days, today = standing.days, standing.known.today
    first = max(0, today - BACK_DAYS)
    soak_mm = days.depth_mm(job.advice.litres, today) if job.advice.verdict == "soak" else 0.0
    fan = fan_of(standing.belief, ahead, AHEAD_DAYS, days.depth_mm(job.given_today_litres, today), soak_mm)
    last = today + len(fan.middle) - 1
    past = _past(standing)[first:today].copy()
    past[-1] = standing.advice.used  # this morning, as the advice has it: roots reach as deep as today
    begin = _day(standing, first)
    own = [e for e in log if e.place == days.place.name and begin <= e.at.date() <= _day(standing, today)]
    readings = [e for e in own if e.kind == "reading"]
    held = Held(
        first=begin,
        past=today - first,
        used=[*past.tolist(), *fan.middle[1:].tolist()],
        limit=_limits(standing)[first:last],
        waterings=[(e.at.date(), e.litres) for e in own if e.kind == "water" and e.litres],
        rain=[(_day(standing, k), float(days.rain_mm[k])) for k in range(first, last) if days.rain_mm[k] > 0.0],
        readings=[(e.at.date(), at) for e in readings if (at := read_at(e, days)) is not None],
        signs=[e.at.date() for e in readings if read_at(e, days) is None],
        bands=[
            (r.t("where it lies, 8 times in 10"), fan.wide[0].tolist(), fan.wide[1].tolist()),
            (r.t("5 times in 10"), fan.narrow[0].tolist(), fan.narrow[1].tolist()),
        ],
        lay=_lay(standing.belief, fan, today - first),
        soaked=[] if fan.soaked is None else fan.soaked[1:].tolist(),
        said=said_by_day(readings, r),
    )
    made = balance_through_time(held, r)
    return made if grows(standing) else _for_nothing(made, held, r)


def _past(standing: Standing) -> FloatArray:
    """The used fraction at the end of each past day: by the best guess, or the middle of what readings leave of it."""
    belief = standing.belief
    if belief.learnt is not None and belief.today == standing.known.today:
        return belief.past_mid
    return np.asarray(standing.days.used_by_day(standing.known.past, 0)[:, 0])


def _lay(belief: Belief, fan: Fan, count: int) -> tuple[list[float], list[float]]:
    """Between what the place lay at the end of each of the last days, this morning as the fan has it."""
    last = slice(belief.today - count, belief.today)
    low, high = belief.past_low[last].tolist(), belief.past_high[last].tolist()
    return [*low[:-1], float(fan.wide[0][0])], [*high[:-1], float(fan.wide[1][0])]


def grows(standing: Standing) -> bool:
    """Whether anything grows in the place today."""
    from soakbook.balance.crops import NONE

    return standing.advice.phase != NONE


def _limits(standing: Standing) -> list[float]:
    """The limit by day; where nothing grows, all the water may go."""
    from soakbook.advice.decide import limits
    from soakbook.balance.crops import NONE

    return [float(v) for v in np.where(standing.days.crops.phase == NONE, 1.0, limits(standing.days))]


def _for_nothing(chart: Chart, held: Held, r: Reader) -> Chart:
    """The same where nothing grows today: no limit is passed, and none is drawn where there never is one."""
    share = r.percent(held.used[held.past - 1])
    says = r.t(
        "Nothing grows here now. {share} of what the upper soil can hold for roots is gone; that does no harm.",
        share=share,
    )
    if min(held.limit) < 1.0:
        return replace(chart, says=says)
    left = {"limit", "too-dry"}
    block = {
        **chart.block, "marks": [m for m in chart.block["marks"] if m["look"] not in left],
        "key": [k for k in chart.block["key"] if k["look"] not in left],
    }  # fmt: skip
    return replace(chart, says=says, block=block)


def _day(standing: Standing, index: int) -> date:
    first: date = standing.days.days[0].astype(date)
    return first + timedelta(days=index)


def reasons(standing: Standing, r: Reader) -> Chart | None:
    """How what is missing adds up; None when nothing is, or nobody misses it."""
    parts = standing.advice.reasons
    return reasons_chart(parts, r) if parts and standing.advice.missing_mm > 0.05 and grows(standing) else None


def sum_words(standing: Standing, r: Reader) -> str:
    """From what is missing to what is put on. Much missing and little put on is where rain may come, or a soak be split."""
    advice = standing.advice
    if not grows(standing):
        return r.t("Nothing grows here now, so no water is asked for.")
    if advice.missing_mm <= 0.05:
        return r.t("The soil is full as deep as the roots reach: nothing is missing.")
    share = r.percent(advice.efficiency)
    words = r.t(
        "{litres} are missing as deep as the roots reach, {depth}. Of what is put on, {share} gets there.",
        litres=r.amount(advice.missing_litres), depth=r.quantity(advice.reach_m, "length"), share=share,
    )  # fmt: skip
    need = advice.litres or advice.if_dry_litres
    if advice.runs_out:
        words += " " + r.t(
            "{share} of that is to run out below, so that the mix gets wet all through.",
            share=r.percent(advice.runs_out),
        )
    if advice.timer_litres:
        words += " " + r.t("The timer brings {litres} today.", litres=r.amount(advice.timer_litres))
    if need and advice.fills(need):
        return words + " " + r.t("So {litres} are to be put on.", litres=r.amount(need))
    if need:
        return words + " " + r.t(
            "To fill it would take {full}; {litres} is what is expected to cost least.", full=r.amount(advice.full_litres), litres=r.amount(need),
        )  # fmt: skip
    return words


# --- what grows and grew, what was written, what is set ----------------------------------------------------------
def plantings(known: Known, place_id: str, standing: Standing, today: date, r: Reader) -> list[Grown]:
    """All plantings of the place, those to come and those gone too, the latest first."""
    from soakbook.catalog import read as catalog

    written = next(w for w in known.document["places"] if w["id"] == place_id).get("plantings", [])
    rows = []
    for raw, p in zip(written, known.place(place_id).plantings, strict=True):
        start = p.planted_out or p.sown
        begun = r.t("in place before the season")
        if p.planted_out is not None:
            begun = r.t("planted {day}", day=r.day(p.planted_out, "numeric"))
        elif p.sown is not None:
            begun = r.t("sown {day}", day=r.day(p.sown, "numeric"))
        cleared = r.day(p.cleared, "numeric") if p.cleared else ""
        plant = r.tell(catalog.plant(p.plant).name)
        rows.append((start or date.min, Grown(
            str(raw["id"]), plant, begun, cleared, str(p.count or ""), _state(p, today, standing, r))))  # fmt: skip
    return [one for _, one in sorted(rows, key=lambda pair: pair[0], reverse=True)]


def _state(planting: Planting, today: date, standing: Standing, r: Reader) -> str:
    from soakbook.balance.crops import PHASE_WORDS

    if planting.cleared is not None and planting.cleared <= today:
        return r.t("gone")
    start = planting.planted_out or planting.sown
    if start is not None and start > today:
        return r.t("to come")
    return r.tell(PHASE_WORDS[standing.advice.phase]) if len(standing.days.plantings) == 1 else r.t("growing")


def written(desk: Desk, known: Known, place_id: str, r: Reader) -> tuple[list[Written], int]:
    """The last entries about the place, newest first, and how many there are."""
    today = desk.today(known.garden)
    own = [e for e in desk.entries(known) if e.place_id == place_id]
    last = sorted(own, key=lambda e: (e.at, e.id), reverse=True)[:ENTRIES]
    rows = []
    for e in last:
        words = entry_words(e, known, r)
        rows.append(Written(e.id, e.kind, when_text(e.at, today, r), words[:1].upper() + words[1:], e.text, e.by))
    return rows, len(own)


def settings(place: Place, known: Known, r: Reader) -> list[tuple[str, str]]:
    """How the place is set up, in words."""
    from soakbook.catalog import read as catalog
    from soakbook.garden.log import flow_lph

    out = [(r.t("kind"), {"bed": r.t("bed"), "pot": r.t("pot"), "tray": r.t("tray")}[place.kind])]
    if place.pot is not None:
        size = r.t("{volume} of mix", volume=r.amount(place.pot.volume_l))
        if place.pot.count > 1:
            size = r.t("{n} alike, {volume} of mix in each", n=place.pot.count, volume=r.amount(place.pot.volume_l))
        out.append((r.t("size"), size))
    elif place.length_m and place.width_m:
        out.append((r.t("size"), f"{r.quantity(place.length_m, 'length')} × {r.quantity(place.width_m, 'length')}"))
    else:
        out.append((r.t("size"), r.quantity(place.area_m2, "area")))
    out.append((r.t("watered by"), r.tell(catalog.means()[place.means].name)))
    flow = flow_lph(place, known.garden)
    if place.line:
        out.append((r.t("on line"), place.line))
    if flow:
        out.append((r.t("flow"), r.quantity(flow, "flow")))
    if place.wetted is not None:
        out.append((r.t("wet ground seen"), seen_words(place.wetted, r)))
    if place.mulch is not None:
        cover = r.percent(place.mulch.cover_fraction)
        out.append(
            (
                r.t("mulch"),
                r.t("{mulch}, {cover} covered", mulch=r.tell(catalog.mulches()[place.mulch.kind].name), cover=cover),
            )
        )
    out.append((r.t("sun"), r.t("something stands in its way") if place.exposure.horizon else r.t("open to the sky")))
    wind = {"open": r.t("open"), "some": r.t("some shelter"), "strong": r.t("well sheltered")}
    out.append((r.t("wind"), wind[place.exposure.shelter]))
    if place.note:
        out.append((r.t("note"), place.note))
    return out


def soil_link(known: Known, place_id: str) -> str:
    """Which soil of the set-up the place has: one of the garden's by its id, else its own."""
    raw = next(w for w in known.document["places"] if w["id"] == place_id)
    named = next((s["id"] for s in known.document.get("soils", []) if s.get("name") == raw.get("soil")), None)
    return str(named) if named is not None else f"in-{place_id}"


# --- day by day ---------------------------------------------------------------------------------------------------
def day_rows(standing: Standing, units: str) -> list[dict[str, Any]]:
    """Every day run so far with every number."""
    from soakbook.advice.daybook import balance_rows

    usual = (0.0508, 0.1016, 0.2032, 0.508) if units == "US" else (0.05, 0.1, 0.2, 0.5)
    deepest = float(standing.days.laid.edges_m[-1])
    depths = [d for d in usual if d <= deepest] or [deepest]
    return balance_rows(standing.days, standing.known.past, depths, standing.belief)


def day_table(rows: Sequence[dict[str, Any]], r: Reader) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The last days for reading: head and rows, newest first."""
    head = (
        r.t("day"),
        r.t("demand"),
        r.t("rain"),
        r.t("put on"),
        r.t("used up"),
        r.t("lost"),
        r.t("missing"),
        r.t("used"),
    )
    digits = 1 if r.units == "metric" else 2
    out = []
    for row in reversed(rows[-TABLE_DAYS:]):
        depths = (
            row["eto_mm"], row["rain_mm"], row["irrigation_mm"], row["evaporation_mm"] + row["transpiration_mm"],
            row["drainage_mm"] + row["runoff_mm"], row["missing_mm"],
        )  # fmt: skip
        cells = (r.quantity(v, "depth", digits) for v in depths)
        out.append((r.day(date.fromisoformat(row["date"])), *cells, r.percent(row["used_fraction"])))
    return head, out


def weather_words(series: WeatherSeries, members: WeatherMembers, today: date, r: Reader) -> str:
    """What the days ahead rest on."""
    from soakbook.weather.series import FORECAST

    ways = r.t(
        "The days to come are drawn over {n} ways the weather may go, rain among them: {source}.",
        n=len(members), source=r.tell(members.source),
    )  # fmt: skip
    n = int(np.sum(series.kind[series.times >= np.datetime64(today)] == FORECAST))
    if n == 0:
        return ways
    return f"{ways} {r.tn('One day ahead is forecast.', '{n} days ahead are forecast.', n)}"
