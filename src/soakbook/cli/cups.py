"""``soakbook cups``: the catch-cup test: how evenly water comes out, where it is worst, why, and how long to run."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.supply import told
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table

if TYPE_CHECKING:
    from soakbook.delivery.cups import CupTest


@app.command("cups")
def cups(
    caught: Annotated[
        list[str],
        typer.Argument(
            help="What each cup caught, in order along its line, all in one measure; '/' begins the next line."
        ),
    ],
    after: Annotated[str | None, typer.Option("--after", help="How long they stood, such as '30 min'.")] = None,
    need: Annotated[
        float | None, typer.Option("--need", help="What each emitter should give in one watering, in the same measure.")
    ] = None,
    label: Annotated[
        float | None,
        typer.Option("--label", help="What the label says one emitter gives an hour, in the same measure."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
    units: UnitsOption = None,
) -> None:
    """Judge a catch-cup test: set cups under emitters, let it run, type in what they caught."""
    from soakbook.delivery.cups import judge_cups, lines_read
    from soakbook.errors import InputError
    from soakbook.units import parse_quantity

    system = chosen_units(units)
    if (need is not None or label is not None) and after is None:
        raise InputError("--need and --label want --after: how long the cups stood.", code="cups.after", field="after")
    hours = None if after is None else parse_quantity(after, "duration", field="after")
    test = judge_cups(lines_read(" ".join(caught), "cups"), caught_hours=hours, need=need, label_per_hour=label)
    if as_json:
        echo_json("cups", 1, asdict(test))
    else:
        typer.echo(_text(test, system))


def _text(test: CupTest, system: UnitSystem) -> str:
    from soakbook.units import format_quantity

    parts = [
        paragraph(
            f"{test.cups} cups, mean {test.mean:.4g}. Driest quarter {test.low_quarter:.4g}: distribution uniformity {test.du_pct:.0f} %, "
            f"{test.uniformity_class}. Christiansen's uniformity {test.cu_pct:.0f} %."
        )
    ]
    if test.times_longer is not None:
        extra = 100.0 * (test.times_longer - 1.0)
        parts.append(paragraph(f"To give the driest quarter what the mean gets, run {extra:.0f} % longer."))
    else:
        parts.append(paragraph("The driest quarter got nothing: no run time is right for it."))
    if test.run_hours is not None:
        parts.append(paragraph(f"Run {format_quantity(test.run_hours, 'duration', system)} for what you need."))
    rows = [[str(p.line), str(p.at), f"{p.amount:g}", f"{100 * p.of_mean:.0f} %"] for p in test.worst]
    parts += ["", "Driest:", table(("line", "cup", "caught", "of the mean"), rows, right=(0, 1, 2, 3))]
    if test.causes:
        parts += ["", "Likely causes:", *told(test.causes, system)]
    if test.notes:
        parts += ["", *told(test.notes, system)]
    parts += [
        "",
        paragraph(
            "Classes: Merriam & Keller 1978, from memory. What counts as a cause is judged: look before you dig."
        ),
    ]
    return "\n".join(parts)
