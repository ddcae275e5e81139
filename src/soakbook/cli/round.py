"""``soakbook round``: today's jobs, one line each, with one line of reasons."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo

import typer

from soakbook.cli.app import app
from soakbook.cli.garden import garden_path as find_garden
from soakbook.cli.terminal import UnitSystem, echo_json, in_measures, paragraph, table, units_from_locale, working

if TYPE_CHECKING:
    from soakbook.advice.decide import Advice
    from soakbook.advice.plan import Plan
    from soakbook.advice.round import Job, Round
    from soakbook.garden.model import Garden, LogEntry, Place
    from soakbook.learning.faults import Suspicion
    from soakbook.weather.odds import Odds

GardenOption = Annotated[
    Path | None,
    typer.Option("--garden", "-g", help="Garden file; else $SOAKBOOK_GARDEN, else garden.toml here."),
]
UnitsOption = Annotated[
    str | None,
    typer.Option("--units", help="metric or US; the garden's own, else your locale's, when not given."),
]
DayOption = Annotated[str | None, typer.Option("--on", help="The day, as YYYY-MM-DD; today when not given.")]


_HOW_TO_READ = (
    "Used: of the water the roots can reach. Probe first: dry, soak; moist, leave it. Next: unless it rains. "
    "Soak in the early morning where no other time is said."
)
_PLAIN = {
    "t_max_c": "maximum temperature",
    "t_min_c": "minimum temperature",
    "t_mean_c": "mean temperature",
    "vapour_pressure_kpa": "humidity",
    "wind_2m_ms": "wind",
    "solar_mj_m2": "sun",
    "rain_mm": "rain",
}


def chosen_units(given: str | None, otherwise: UnitSystem | None = None) -> UnitSystem:
    """The measures to show: as asked for, else the garden's, else the locale's."""
    from soakbook.errors import InputError

    if given is None:
        return otherwise or units_from_locale()
    if given.lower() == "metric":
        return "metric"
    if given.lower() == "us":
        return "US"
    raise InputError(f"units must be metric or US (got {given!r}).", code="units.unknown", field="units")


def chosen_day(given: str | None, otherwise: date | None = None) -> date:
    """A day from YYYY-MM-DD."""
    from soakbook.errors import InputError

    if given is None:
        return otherwise or date.today()
    try:
        day = date.fromisoformat(given)
    except ValueError as error:
        raise InputError(f"the day must be YYYY-MM-DD (got {given!r}).", code="date.form", field="on") from error
    if not 1901 <= day.year <= 2199:
        raise InputError(f"the day must lie in the years 1901 to 2199 (got {day}).", code="date.range", field="on")
    return day


@app.command("round")
def round_command(
    garden: GardenOption = None,
    demo: Annotated[bool, typer.Option("--demo", help="The shipped demo garden.")] = False,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
    reasons: Annotated[bool, typer.Option("--reasons", help="Show how each amount adds up.")] = False,
    why: Annotated[bool, typer.Option("--why", help="Show what waiting would cost, and what was weighed.")] = False,
) -> None:
    """Today's round: what to water, how much, how long, and why."""
    with working("Working out the round"):
        made, system = make_round(garden, demo, on, units)
    if as_json:
        echo_json("round", 1, made.to_json())
    else:
        typer.echo(round_text(made, system, reasons=reasons, why=why))


def make_round(garden_path: Path | None, demo: bool, on: str | None, units: str | None) -> tuple[Round, UnitSystem]:
    """Open the garden, its log and its weather, and make the round."""
    from soakbook.advice.round import today_round
    from soakbook.advice.sky import members_for, weather_for
    from soakbook.advice.trust import suspected_in

    garden, log, folder, day = opened(garden_path, demo, on)
    weather = weather_for(garden, day, log, folder=folder)
    ahead = members_for(garden, weather, day, folder=folder)
    wrong = suspected_in(garden, weather, log, day)
    return today_round(garden, weather, day, log, ahead=ahead, suspicions=wrong), chosen_units(units, garden.units)


def opened(garden_path: Path | None, demo: bool, on: str | None) -> tuple[Garden, list[LogEntry], Path, date]:
    """The garden asked for, its log with what its timers have run, the folder its weather lies in, and the day."""
    from soakbook.garden.timer_runs import timer_entries

    if demo:
        from soakbook.demo import DAY, demo_garden

        day = chosen_day(on, DAY)
        garden, log, folder = demo_garden()
        return garden, [*log, *timer_entries(garden, day)], folder, day
    from soakbook.advice.open import open_garden
    from soakbook.garden.log import log_path, read_log

    path = find_garden(garden_path)
    garden = open_garden(path)
    here = datetime.now(ZoneInfo(garden.time_zone)).date()
    day = chosen_day(on, here)
    return garden, [*read_log(log_path(path), garden), *timer_entries(garden, day)], path.parent, day


def place_named(garden: Garden, name: str) -> Place:
    """The place of a name, upper and lower case alike; InputError with the nearest when there is none."""
    from soakbook.errors import InputError
    from soakbook.garden.words import nearest

    for place in garden.places:
        if place.name.casefold() == name.strip().casefold():
            return place
    names = [place.name for place in garden.places]
    raise InputError(
        f"there is no place {name!r}; there are {', '.join(names)}.",
        code="place.unknown", field="place", hint=nearest(name, names),
    )  # fmt: skip


def round_text(made: Round, system: UnitSystem, *, reasons: bool = False, why: bool = False) -> str:
    """The round as a table in 80 columns."""
    invented = " (an invented garden)" if made.invented else ""
    lines = [paragraph(f"{made.garden}{invented}: round for {made.on:%A} {made.on.day} {made.on:%B %Y}"), ""]
    rows = [
        (str(number), job.advice.verdict.upper(), job.advice.place, amount_text(job, system))
        for number, job in enumerate(made.jobs, 1)
    ]
    head = table(("", "do", "place", "how much"), rows, right=(0,)).split("\n")
    lines += head[:2]
    body = _by_row(head[2:])
    for text, job in zip(body, made.jobs, strict=True):
        lines += text
        lines += [paragraph(t, "     ") for t in under(job, system, reasons, why)]
        lines += [paragraph(t, "     ") for t in wrong_lines(made.suspicions, job.advice.place, system)]
    if made.lines:
        from soakbook.advice.round import line_text

        lines += [
            "",
            paragraph("Lines:"),
            *(paragraph(in_measures(line_text(one), system), "  ") for one in made.lines),
        ]
        if any(gets.more_litres for one in made.lines for gets in one.gets):
            lines.append(paragraph("What would even that out: 'soakbook line'."))
    if made.probe:
        lines += ["", paragraph(f"If you have time for one probe: {made.probe}.")]
    lines.append("")
    if made.rain is not None:
        lines.append(paragraph(_rain_line(made.rain, system)))
    lines.append(paragraph(f"Weather: {made.weather}."))
    if made.filled:
        parts = ", ".join(
            f"{_PLAIN.get(name, name)} on {n} day{'' if n == 1 else 's'}" for name, n in sorted(made.filled.items())
        )
        lines.append(paragraph(f"Filled in or from your own gauge: {parts}."))
    from soakbook.advice.round import ALWAYS

    lines += [paragraph(text) for text in (_HOW_TO_READ, *made.cautions, ALWAYS)]
    return "\n".join(lines)


def wrong_lines(suspicions: Sequence[Suspicion], place: str, system: UnitSystem) -> list[str]:
    """What may be wrong with a place, a line for each fault suspected."""
    from soakbook.advice.trust import suspicion_said

    return [in_measures(suspicion_said(one), system) for one in suspicions if one.place == place]


def _rain_line(rain: Sequence[Odds], system: UnitSystem) -> str:
    """Odds on rain over the coming days, the days worth telling only."""
    from soakbook.weather.odds import told_ahead

    text = in_measures(told_ahead(rain, lambda day: f"{day:%a} {day.day} {day:%b}"), system).removesuffix(".")
    return f"{text[0].upper()}{text[1:]}."


def _by_row(lines: list[str]) -> list[list[str]]:
    """Lines of a table's body, grouped by row: a row begins with its number."""
    rows: list[list[str]] = []
    for line in lines:
        if line[:2].strip():
            rows.append([])
        rows[-1].append(line)
    return rows


def amount_text(job: Job, system: UnitSystem) -> str:
    """What to put on, as said aloud."""
    from soakbook.units import format_quantity as show

    a = job.advice
    litres = a.litres or a.if_dry_litres
    if not litres:
        return "nothing" if a.verdict != "rain will do" else "nothing yet"
    parts = [show(two_figures(litres), "volume", system)]
    if job.per_m2_litres:
        parts.append(per_area(job.per_m2_litres, system))
    if job.each_litres and abs(job.each_litres - litres) > 1e-9:
        each = show(two_figures(job.each_litres), "volume", system)
        parts.append(f"{each} each {'pot' if job.kind == 'pot' else 'plant'}")
    if job.cans:
        some = f"{job.cans:.1f} cans" if job.cans < 10 else f"{job.cans:.0f} cans"
        parts.append("a little of a can" if job.cans < 0.2 else some)
    if a.verdict == "soak" and job.kind == "bed" and job.deep_m is not None:
        parts.append(f"{show(job.deep_m, 'length', system)} deep")
    if job.minutes:
        parts.append(show(job.minutes / 60.0, "duration", system))
    if job.goes:
        parts.append(f"in {job.goes.count} goes {job.goes.pause_minutes:.0f} min apart")
    text = ", ".join(parts)
    return f"if dry: {text}" if a.verdict == "probe first" else text


def two_figures(value: float) -> float:
    """An amount to two figures: no can or tap is more exact."""
    return float(f"{value:.2g}")


def per_area(litres_m2: float, system: UnitSystem) -> str:
    """Litres a square metre, or gallons a square foot."""
    from soakbook.units import parse_quantity

    if system == "metric":
        return f"{litres_m2:.2g} L a m²" if litres_m2 < 10 else f"{litres_m2:.0f} L a m²"
    square_foot_m2 = parse_quantity("1 ft", "length") ** 2
    return f"{litres_m2 * square_foot_m2 / parse_quantity('1 gal', 'volume'):.2g} gal a sq ft"


def under(job: Job, system: UnitSystem, reasons: bool, why: bool = False) -> list[str]:
    """The lines under a job: why, and when next; what would flip it, and what the plain rule says where that differs; a note on its
    line; and if asked for, what it rests on and the sums."""
    lines = [_reason_line(job, system), *_weighed_lines(job, system)]
    if job.moved:
        lines.append(f"{job.moved[0].upper()}{job.moved[1:]}.")
    if job.given_today_litres:
        from soakbook.units import format_quantity as show

        lines.append(f"Given today already: {show(two_figures(job.given_today_litres), 'volume', system)}.")
    if job.advice.timer_litres:
        from soakbook.units import format_quantity as show

        lines.append(f"The timer brings {show(two_figures(job.advice.timer_litres), 'volume', system)} today.")
    if job.note:
        lines.append(f"Note: {in_measures(job.note, system)}.")
    if reasons and job.advice.count:
        lines += _sum_lines(job, system)
    if why and job.plan is not None:
        lines += _cost_lines(job.plan)
    return lines


def _reason_line(job: Job, system: UnitSystem) -> str:
    from soakbook.balance.crops import OVER, PHASE_WORDS
    from soakbook.units import format_quantity as show

    a = job.advice
    parts = [a.why]
    if a.verdict == "probe first":
        look = "lift a pot" if job.kind == "pot" else f"feel {show(a.probe_depth_m, 'length', system, 0)} down"
        parts = [f"{look}: {a.why}"]
    if a.verdict == "rain will do" and a.rain_soon_mm >= 0.5:
        parts.append(f"{show(a.rain_soon_mm, 'depth', system)} of rain forecast")
    elif a.verdict == "rain will do":
        parts.append("rain may well come")
    if a.verdict == "soak" and job.when != "early morning":
        parts.append(job.when)
    if a.verdict in ("hold", "rain will do") and a.count and a.next_due == a.on + timedelta(days=1):
        parts.append("look again tomorrow")
    elif a.verdict != "probe first" and a.count:
        parts.append(f"next {a.next_due:%a} {a.next_due.day} {a.next_due:%b}" if a.next_due else "not due in sight")
    if job.phase == PHASE_WORDS[OVER]:
        parts.append("past its usual season: clear it?")
    return "; ".join(parts)


def _weighed_lines(job: Job, system: UnitSystem) -> list[str]:
    """What would turn the advice round, and why it is not what the plain rule says."""
    if job.plan is None:
        return []
    flip = job.plan.flip.text if job.plan.flip is not None else ""
    texts = [in_measures(text, system) for text in (flip, job.plan.differs) if text]
    return [f"{text[0].upper()}{text[1:]}." for text in texts]


def _sum_lines(job: Job, system: UnitSystem) -> list[str]:
    """How the amount adds up."""
    from soakbook.units import format_quantity as show

    a = job.advice
    demand = show(a.demand_mm, "depth", system)
    lines = [f"{job.plants}: {job.phase}; roots {show(a.reach_m, 'length', system)}; demand today {demand}."]
    litres = a.litres or a.if_dry_litres
    lines.append(f"Since {a.since.day} {a.since:%b}:")
    sums = [(part.litres, part.cause) for part in a.reasons] + [(a.missing_litres, "missing this morning")]
    if a.timer_litres:
        sums.append((-a.timer_litres * a.efficiency, "what the timer brings today"))
    if litres:
        sums.append((litres, _put_on(a, litres, system)))
    return lines + [f"{_signed(amount, system):>10}  {cause}" for amount, cause in sums]


def _put_on(a: Advice, litres: float, system: UnitSystem) -> str:
    """How what is put on comes from what is missing: it fills, or another amount is expected to cost least."""
    from soakbook.units import format_quantity as show

    arrives = f"{100 * a.efficiency:.0f} %" + (" of it" if a.fills(litres) else "") + " arrives"
    if a.runs_out:
        arrives += f" and {100 * a.runs_out:.0f} % of that is to run out below"
    if a.fills(litres):
        return f"to put on, as {arrives}"
    filled = show(two_figures(a.full_litres), "volume", system)
    return f"to put on, expected to cost least; to fill it would take {filled}, as {arrives}"


def _cost_lines(plan: Plan) -> list[str]:
    """What doing nothing today would cost beyond this, and what this costs, part by part."""
    from soakbook.advice.weigh import TIE

    lines = ["In hundredths of this place's harvest:"]
    if plan.saved:
        lines += [f"{part.cost:>10.2f}  {part.cause}" for part in plan.saved]
        saved = sum(part.cost for part in plan.saved)
        lines.append(f"{saved:>10.2f}  saved against doing nothing today{'' if saved >= TIE else _decides(plan)}")
    lines += [f"{part.cost:>10.2f}  {part.cause}" for part in plan.parts]
    return [*lines, f"{plan.cost:>10.2f}  still to be expected with it"]


def _decides(plan: Plan) -> str:
    """What decides where the place itself has next to nothing to win."""
    return ": about the same, " + ("its line decides" if plan.alone is not None else "the plain rule decides")


def _signed(litres: float, system: UnitSystem) -> str:
    from soakbook.units import format_quantity as show

    return ("-" if litres < 0 else "") + show(abs(litres), "volume", system)
