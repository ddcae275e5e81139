"""``soakbook demo``: the demo garden's round."""

from __future__ import annotations

from typing import Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, make_round, round_text
from soakbook.cli.show import echo_json, paragraph, working


@app.command("demo")
def demo_command(
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """Today's round for an invented garden, from real weather of a public station."""
    with working("Working out the demo round"):
        made, system = make_round(None, True, None, units)
    if as_json:
        echo_json("round", 1, made.to_json())
        return
    typer.echo(round_text(made, system))
    typer.echo("")
    typer.echo(
        paragraph(
            "The garden is invented; the weather is that of the US Climate Reference Network station Manhattan 6 SSW, "
            "Kansas (NOAA, public domain), up to the day before. How an amount adds up: soakbook round --demo --reasons. "
            "Your own: soakbook garden new, or without any garden: soakbook ask."
        )
    )
