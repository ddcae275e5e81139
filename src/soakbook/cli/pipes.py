"""``soakbook pipes``: what comes out along a line, or several off a header, and what limits it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.supply import PressureOption, ReducerOption, TankOption, TapOption, feed_from, pressure, told
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table, working

if TYPE_CHECKING:
    from soakbook.delivery.line import Judged, Kind, Outlet
    from soakbook.physics.pipes_tree import Lateral


@app.command("pipes")
def pipes(
    length: Annotated[str, typer.Option("--length", help="Of one line, such as '15 m'.")] = "15 m",
    every: Annotated[str, typer.Option("--every", help="From emitter to emitter.")] = "30 cm",
    emitter: Annotated[str, typer.Option("--emitter", help="What one emitter gives by its label.")] = "2 L/h",
    at: Annotated[str, typer.Option("--at", help="The pressure at which it gives that.")] = "1 bar",
    exponent: Annotated[
        float | None,
        typer.Option("--exponent", help="How flow follows pressure: 0.5 for most emitters, 1 for soaker hose."),
    ] = None,
    compensating: Annotated[bool, typer.Option("--compensating", help="They give the same from --at up.")] = False,
    soaker: Annotated[
        str | None, typer.Option("--soaker", help="Soaker hose instead: what one metre of it gives, such as '8 L/h'.")
    ] = None,
    bore: Annotated[str, typer.Option("--bore", help="Inside width of the line.")] = "13.6 mm",
    rise: Annotated[
        float, typer.Option("--rise", help="How far the ground rises along it, in percent; below 0 it falls.")
    ] = 0.0,
    lines: Annotated[int, typer.Option("--lines", min=1, max=200, help="How many lines alike.")] = 1,
    apart: Annotated[str, typer.Option("--apart", help="From line to line along the header.")] = "40 cm",
    header: Annotated[str, typer.Option("--header", help="Inside width of the header and the pipe to it.")] = "16 mm",
    lead: Annotated[str, typer.Option("--lead", help="From the supply to the first line.")] = "0 m",
    tank: TankOption = None,
    pressure_held: PressureOption = None,
    tap: TapOption = None,
    reducer: ReducerOption = None,
    law: Annotated[str, typer.Option("--law", help="darcy, or hazen for comparison.")] = "darcy",
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
    units: UnitsOption = None,
) -> None:
    """What each emitter of a line gives, how even that is, and what limits it."""
    from soakbook.errors import InputError
    from soakbook.units import parse_quantity

    system = chosen_units(units)
    if law not in {"darcy", "hazen"}:
        raise InputError(f"--law must be darcy or hazen (got {law!r}).", code="pipes.law", field="law")
    feed = feed_from(tank, pressure_held, tap, reducer)
    lateral = _lateral(length, every, emitter, at, exponent, compensating, soaker, bore, rise)
    with working("Working out the flows"):
        from soakbook.delivery.line import judge_lines
        from soakbook.physics.pipes_tree import Manifold

        manifold = Manifold(
            parse_quantity(header, "length", field="header"), parse_quantity(apart, "length", field="apart"),
            parse_quantity(lead, "length", field="lead"),
        )  # fmt: skip
        judged = judge_lines(
            lateral, lines, manifold, feed, means="soaker" if soaker else "drip",
            friction="darcy" if law == "darcy" else "hazen_williams",
        )  # fmt: skip
    if as_json:
        echo_json("pipes", 1, asdict(judged))
    else:
        typer.echo(_text(judged, lateral, lines, soaker is not None, system))


def _lateral(
    length: str, every: str, emitter: str, at: str, exponent: float | None, is_compensating: bool, soaker: str | None,
    bore: str, rise: float,
) -> Lateral:  # fmt: skip
    from soakbook.delivery.line import lateral_of
    from soakbook.errors import InputError
    from soakbook.garden.tap_text import head_m
    from soakbook.units import parse_quantity

    if soaker is not None and is_compensating:
        raise InputError("soaker hose does not compensate.", code="pipes.soaker", field="compensating")
    kind: Kind = "soaker" if soaker is not None else "compensating" if is_compensating else "plain"
    flow = emitter if soaker is None else soaker
    return lateral_of(
        kind, parse_quantity(length, "length", field="length"), parse_quantity(every, "length", field="every"),
        parse_quantity(flow, "flow", field="emitter" if soaker is None else "soaker"), head_m(at, "at"),
        parse_quantity(bore, "length", field="bore"), exponent=exponent, rise=rise / 100.0,
    )  # fmt: skip


def _shown(outlets: tuple[Outlet, ...], lines: int) -> list[Outlet]:
    """Some places of the first line and of the last."""
    out = []
    for line in sorted({1, lines}):
        own = [o for o in outlets if o.line == line]
        picked = sorted({round(i * (len(own) - 1) / 5) for i in range(6)})
        out += [own[i] for i in picked]
    return out


def _text(j: Judged, lateral: Lateral, lines: int, is_soaker: bool, system: UnitSystem) -> str:
    from soakbook.units import format_quantity as show

    of = (
        f"{lines} soaker {'hose' if lines == 1 else 'hoses'}"
        if is_soaker
        else f"{lines} {'line' if lines == 1 else 'lines'}, {lateral.count} emitters each"
    )
    head = f"{of}: {show(j.total_lph, 'flow', system, 1)} in all at {pressure(j.supply_head_m, system)}."
    # Hose is solved in short pieces; what one of them gives tells nobody anything.
    times, per_m = (1.0 / lateral.spacing_m, " a metre") if is_soaker else (1.0, "")
    rows = [
        [
            str(o.line),
            show(o.at_m, "length", system),
            show(times * o.flow_lph, "flow", system, 3),
            pressure(o.head_m, system),
        ]
        for o in _shown(j.outlets, lines)
    ]
    parts = [paragraph(head), "", table(("line", "at", f"gives{per_m}", "pressure"), rows, right=(0, 1, 2, 3)), ""]
    least, most = (times * f(o.flow_lph for o in j.outlets) for f in (min, max))
    parts.append(paragraph(
        f"Least {show(least, 'flow', system, 3)}{per_m}, most {show(most, 'flow', system, 3)}{per_m}: they differ by {100 * j.variation:.1f} %, {j.verdict}. "
        f"Emission uniformity of the design {j.eu_pct:.0f} % (emitters of one kind unlike by 5 %)."
    ))  # fmt: skip
    if j.dry:
        parts.append(paragraph(f"{j.dry} of them give nothing: the pressure does not reach them."))
    if j.longest_count and not is_soaker:
        parts.append(
            paragraph(
                f"The longest line like this within a tenth: {show(j.longest_m, 'length', system)}, {j.longest_count} emitters."
            )
        )
    if j.at_once is not None:
        parts.append(
            paragraph(
                f"Lines like this that the supply feeds at once by its flow, with a fifth to spare: {j.at_once}. What the header loses comes on top."
            )
        )
    if j.limits:
        parts += ["", "What takes the pressure:", *told(j.limits, system)]
    parts += ["", "What belongs before the lines:", *told(j.fittings, system), "", "Mind:", *told(j.cautions, system)]
    return "\n".join(parts)
