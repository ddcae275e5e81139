"""``soakbook line``: what a line does to the several places on it, and what would even that out."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.round import DayOption, GardenOption, UnitsOption, chosen_units, opened
from soakbook.cli.terminal import UnitSystem, echo_json, in_measures, paragraph, table, working

if TYPE_CHECKING:
    from soakbook.delivery.line_fix import Fix, Shared

#: Days looked at when none are given.
USUAL_DAYS = 28


@app.command("line")
def line_command(
    name: Annotated[str | None, typer.Argument(help="The line; all that are shared when not given.")] = None,
    garden: GardenOption = None,
    demo: Annotated[bool, typer.Option("--demo", help="The shipped demo garden.")] = False,
    days: Annotated[int, typer.Option("--days", min=7, max=60, help="Days ahead that are looked at.")] = USUAL_DAYS,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """Several plantings on one line: who gets too much or too little, and what would fix it."""
    from soakbook.season.line_parts import line_named, none_shared, shared_lines
    from soakbook.season.timer_parts import places_ahead

    with working("Running the weeks ahead"):
        found, log, folder, day = opened(garden, demo, on)
        asked = None if name is None else line_named(found, name)
        places, source = places_ahead(found, log, folder, day, days)
        lines = shared_lines(found, places, day, days, asked)
    if not lines:
        raise none_shared()
    if as_json:
        echo_json("line", 1, {"garden": found.name, "invented": found.invented, "on": day.isoformat(), "weather": source, "lines": [line_json(one) for one in lines]})  # fmt: skip
        return
    head = f"{found.name}{' (an invented garden)' if found.invented else ''}: {day} to {day + timedelta(days=days - 1)}"
    typer.echo(
        "\n".join(
            [paragraph(head), *(line_text(one, chosen_units(units, found.units)) for one in lines), "", ending(source)]
        )
    )


def ending(source: str) -> str:
    """What the figures rest on, and what to mind when pipes are changed."""
    from soakbook.delivery.line_fix import HOW_TOLD
    from soakbook.delivery.tap import CAUTIONS

    return "\n".join(
        paragraph(text)
        for text in (
            str(HOW_TOLD),
            f"Weather: {source}.",
            *CAUTIONS,
        )
    )


def line_text(shared: Shared, system: UnitSystem) -> str:
    """One line: its places as it waters them, each as a line of its own would, and what would even it out. In 80 columns."""
    from soakbook.delivery.timer_judge import judged_text
    from soakbook.units import format_quantity

    def litres(value: float) -> str:
        return format_quantity(float(f"{value:.2g}"), "volume", system)

    rows = [
        (one.place, litres(one.given_l), str(judged_text(one)), litres(own.given_l), str(judged_text(own)))
        for one, own in zip(shared.judged, shared.alone, strict=True)
    ]
    lines = ["", paragraph(f"Line {shared.line}"), ""]
    lines.append(table(("place", "gets", "so it is", "by itself", "it would be"), rows, right=(1, 3)))
    even, *fixes = told(shared)
    lines += ["", paragraph(in_measures(even, system))]
    if fixes:
        lines += ["", "What would even it out, the one to begin with first:"]
        lines += [paragraph(f"{k}. {in_measures(text, system)}", "   ") for k, text in enumerate(fixes, 1)]
    lines += [paragraph(in_measures(text, system)) for text in shared.left_out]
    return "\n".join(lines)


def told(shared: Shared) -> list[Any]:
    """What would even a line out, in sentences; the one to begin with first."""
    from soakbook.delivery.line_fix import even_text, fix_text

    return [even_text(shared), *(fix_text(fix) for fix in shared.in_order)]


def line_json(shared: Shared) -> dict[str, Any]:
    """A line as plain data, described in docs/json.md."""
    from soakbook.cli.timer import judged_json

    def of_fix(fix: Fix) -> dict[str, Any]:
        return {"kind": fix.kind, "place": fix.place, "words": str(fix.text), "times": fix.times, "saves": fix.saves, "saves_litres": fix.saves_l,
                "places": [judged_json(one) for one in fix.after]}  # fmt: skip

    return {
        "line": shared.line, "days": shared.days, "cost": shared.cost, "cost_alone": shared.alone_cost,
        "places": [judged_json(one) for one in shared.judged], "alone": [judged_json(one) for one in shared.alone],
        "fixes": [of_fix(fix) for fix in shared.in_order], "left_out": [str(text) for text in shared.left_out],
    }  # fmt: skip
