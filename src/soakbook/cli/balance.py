"""``soakbook balance``: a place day by day, every store and flux."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.round import DayOption, GardenOption, UnitsOption, chosen_day, chosen_units, opened, place_named
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table, working

if TYPE_CHECKING:
    from soakbook.advice.belief import Belief
    from soakbook.balance.columns import Result
    from soakbook.balance.place import PlaceDays


@app.command("balance")
def balance_command(
    place: Annotated[str, typer.Argument(help="The place, as the garden file names it.")],
    garden: GardenOption = None,
    demo: Annotated[bool, typer.Option("--demo", help="The shipped demo garden.")] = False,
    first: Annotated[str | None, typer.Option("--from", help="First day shown, YYYY-MM-DD.")] = None,
    on: DayOption = None,
    depths: Annotated[
        str | None, typer.Option("--depths", help="Depths at which to give water content, such as '5 cm, 20 cm'.")
    ] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV: every day, every number, in mm and m3/m3.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
    units: UnitsOption = None,
) -> None:
    """Day by day: what came, what went, and how wet the soil is at given depths (up to the morning of --on)."""
    from soakbook.advice.daybook import balance_rows, rows_text

    with working("Running the balance"):
        days, result, belief = run_place(place, garden, demo, first, on)
    system = chosen_units(units, days.garden.units)
    wanted = depths_wanted(depths, system, float(days.laid.edges_m[-1]))
    rows = [
        r for r in balance_rows(days, result, wanted, belief) if first is None or r["date"] >= str(chosen_day(first))
    ]
    if as_csv:
        typer.echo(rows_text(rows), nl=False)
    elif as_json:
        echo_json("balance", 1, {"place": place, "days": rows, "notes": list(days.notes)})
    else:
        typer.echo(_text(days, rows, wanted, system))


def depths_wanted(given: str | None, system: UnitSystem, deepest_m: float) -> list[float]:
    """Depths asked for, or the usual ones as far as the place's soil goes. [m]"""
    from soakbook.errors import InputError
    from soakbook.units import parse_quantity

    usual = "2 in, 4 in, 8 in, 20 in" if system == "US" else "5 cm, 10 cm, 20 cm, 50 cm"
    depths = [parse_quantity(text.strip(), "length", field="depths") for text in (given or usual).split(",")]
    if given is None:
        return [d for d in depths if d <= deepest_m] or [deepest_m]
    for depth in depths:
        if not 0.0 <= depth <= deepest_m:
            raise InputError(
                f"depths must lie between 0 and {100 * deepest_m:.0f} cm, the bottom of this place's soil "
                f"(got {100 * depth:g} cm).",
                code="balance.depth",
                field="depths",
            )
    return depths


def run_place(
    name: str, garden_path: Any, demo: bool, first: str | None, on: str | None
) -> tuple[PlaceDays, Result, Belief]:
    """Open the garden and run one of its places to the morning of ``on``: the best guess, or the mean of what readings leave."""
    import numpy as np

    from soakbook.advice.belief import belief_from, mean_members
    from soakbook.advice.round import starting
    from soakbook.advice.sky import BACK_DAYS, weather_for
    from soakbook.advice.start import Start
    from soakbook.balance.place import place_days, with_members
    from soakbook.errors import InputError

    garden, log, folder, day = opened(garden_path, demo, on)
    place = place_named(garden, name)
    shown_from = chosen_day(first) if first else None
    if shown_from is not None and shown_from >= day:
        raise InputError(
            f"the first day shown ({shown_from}) must come before the day of --on ({day}).",
            code="balance.from",
            field="from",
        )
    back = (day - shown_from).days if shown_from else 0
    weather = weather_for(garden, day, log, folder=folder, back_days=max(back, BACK_DAYS))
    usual = starting(garden, place, weather, day)
    begin = usual.times[0] if shown_from is None else min(np.datetime64(shown_from), usual.times[0])
    weather = weather.between(begin, weather.times[-1])
    entries = tuple(e for e in log if e.at.date() < day)
    days = place_days(garden, place, weather, entries)
    belief = belief_from(days, Start(weather, entries, ()), log, day)
    if belief.learnt is not None:
        days = with_members(days, mean_members(belief.learnt))
    return days, days.run(days.start(), 0, days.index(day)), belief


def _text(days: PlaceDays, rows: list[dict[str, Any]], depths_m: list[float], system: Any) -> str:
    from soakbook.units import format_quantity as show

    head = ["day", "ETo", "rain", "water", "gone", "lost", "missing", "used"]
    head += [show(d, "length", system) for d in depths_m]
    factor, places = (1.0, 1) if system == "metric" else (1 / 25.4, 2)
    lines = []
    for r in rows[-28:]:
        numbers = [
            r["eto_mm"], r["rain_mm"], r["irrigation_mm"], r["evaporation_mm"] + r["transpiration_mm"],
            r["drainage_mm"] + r["runoff_mm"], r["missing_mm"],
        ]  # fmt: skip
        cells = [f"{factor * v:.{places}f}" for v in numbers]
        cells += [f"{100 * r['used_fraction']:.0f} %"]
        cells += [f"{r[f'theta_{100 * d:g}cm']:.2f}" for d in depths_m]
        lines.append([f"{date.fromisoformat(r['date']):%d %b}", *cells])
    unit = "mm" if system == "metric" else "inches"
    last = days.days[0].astype("datetime64[D]").astype(object) + timedelta(days=len(rows))
    return "\n".join(
        [
            paragraph(f"{days.place.name}: the last {len(lines)} days up to the morning of {last}. Depths in {unit} over the "
                      "place; missing and used are of the roots' reach; under depths, water content in m³/m³."),
            "",
            table(head, lines, right=tuple(range(1, len(head)))),
            "",
            *[paragraph(f"Assumed: {n}") for n in days.notes if n],
            paragraph("Everything, every day, with the bands of what was used: --csv or --json."),
        ]
    )  # fmt: skip
