"""What the pipe commands share: the supply and heads as one says them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.terminal import UnitSystem, in_measures, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterable

    from soakbook.physics.pipes import Feed

TankOption = Annotated[
    str | None,
    typer.Option("--tank", help="A barrel or tank: how high its water stands above the line, such as '1 m'."),
]
PressureOption = Annotated[
    str | None,
    typer.Option(
        "--pressure",
        help="Pressure held at the line's start, such as '1 bar', '15 psi' or '10 m'; 1 bar if no supply is given.",
    ),
]
TapOption = Annotated[
    str | None,
    typer.Option(
        "--tap", help="A tap: its pressure when shut, and what it runs freely into a bucket, such as '3 bar, 12 L/min'."
    ),
]
ReducerOption = Annotated[
    str | None, typer.Option("--reducer", help="With --tap: the head a pressure reducer is set to, such as '1 bar'.")
]


def feed_from(tank_text: str | None, pressure: str | None, tap_text: str | None, reducer: str | None) -> Feed:
    """The one supply that was given; 1 bar held when none was."""
    from soakbook.errors import InputError
    from soakbook.garden.tap_text import head_m, tap_from
    from soakbook.physics.pipes import held, tank
    from soakbook.units import parse_quantity

    if sum(text is not None for text in (tank_text, pressure, tap_text)) > 1:
        raise InputError("give one of --tank, --pressure and --tap.", code="supply.several", field="supply")
    if reducer is not None and tap_text is None:
        raise InputError(
            "--reducer needs --tap.", code="supply.reducer", field="reducer", hint="Without a tap give --pressure."
        )
    if tank_text is not None:
        height = parse_quantity(tank_text, "length", field="tank")
        if not 0.5 <= height <= 100.0:
            raise InputError(
                f"a tank must stand 0.5 m to 100 m above the line (got {height:g} m).", code="supply.tank", field="tank",
                hint="With less, filters, valves and emitters let hardly anything through.",
            )  # fmt: skip
        return tank(height)
    if tap_text is not None:
        return tap_from(tap_text, "tap", set_m=math.inf if reducer is None else head_m(reducer, "reducer"))
    return held(head_m(pressure or "1 bar", "pressure"))


def told(texts: Iterable[str], system: UnitSystem) -> list[str]:
    """Sentences in the measures asked for, each indented."""
    return [paragraph(in_measures(text, system), "  ") for text in texts]


def pressure(head: float, system: UnitSystem) -> str:
    """A head as one reads it off a gauge."""
    from soakbook.physics.pipes import KPA_PER_M
    from soakbook.units import format_quantity

    return format_quantity(head * KPA_PER_M, "pressure", system, 1 if system == "US" or head < 2.0 else 0)
