"""``soakbook drip``: what an emitter or a drip line does to the soil."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.supply import told
from soakbook.cli.terminal import UnitSystem, echo_json, table, working

if TYPE_CHECKING:
    from soakbook.delivery.drip_answer import Answer


@app.command("drip")
def drip_command(
    soil: Annotated[
        str,
        typer.Option(
            "--soil",
            help="A texture class (see 'soakbook soils'), or up to three from the surface down, such as 'sandy loam 25 cm, clay loam'.",
        ),
    ] = "loam",
    flow: Annotated[
        str, typer.Option("--flow", help="What one emitter lets out, or with --line one metre of line.")
    ] = "2 L/h",
    run: Annotated[str, typer.Option("--run", help="For how long water runs in all, such as '45 min'.")] = "1 h",
    line: Annotated[bool, typer.Option("--line", help="A joined drip line or soaker, not single emitters.")] = False,
    buried: Annotated[str, typer.Option("--buried", help="How deep the source lies under the ground.")] = "0 cm",
    apart: Annotated[
        str | None,
        typer.Option("--apart", help="From one line to the next, or from one emitter to the next on a square."),
    ] = None,
    edge: Annotated[
        str | None, typer.Option("--edge", help="From the source to where water would run off the bed.")
    ] = None,
    deep: Annotated[
        str, typer.Option("--deep", help="How deep the soil should be wet, as deep as the roots.")
    ] = "30 cm",
    roots: Annotated[
        str | None, typer.Option("--roots", help="How deep the roots go, if not as deep as --deep.")
    ] = None,
    draws: Annotated[
        str, typer.Option("--draws", help="What the plants of one emitter, or of a metre of line, draw in a day.")
    ] = "0 L",
    pulses: Annotated[int, typer.Option("--pulses", help="In how many goes, with as long a pause after each.")] = 1,
    is_moist: Annotated[
        bool, typer.Option("--moist", help="The soil is still moist; else it is due for water, half used up.")
    ] = False,
    circle: Annotated[
        str | None, typer.Option("--circle", help="How wide the ground was wet when you turned the water off.")
    ] = None,
    dug: Annotated[
        str | None, typer.Option("--dug", help="And how deep the wet reached then, in a hole dug beside the emitter.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
    units: UnitsOption = None,
) -> None:
    """See how wide and deep an emitter or drip line wets the soil, how long to run it, how far apart emitters may stand."""
    from soakbook.delivery.drip_ground import parse_ground
    from soakbook.errors import InputError
    from soakbook.units import parse_quantity

    system = chosen_units(units)
    ground = parse_ground(soil)
    if (circle is None) != (dug is None):
        raise InputError(
            "A wet circle and a hole belong together (got one of them).", hint="Give --circle and --dug, both as seen when the water was turned off.",
            code="drip.seen", field="circle",
        )  # fmt: skip

    def length(text: str | None, field: str) -> float | None:
        return None if text is None else parse_quantity(text, "length", field=field)

    with working("Following the water"):
        from soakbook.delivery.drip import DUE_CM, MOIST_CM
        from soakbook.delivery.drip_answer import answer

        made = answer(
            ground, parse_quantity(flow, "flow", field="flow"), parse_quantity(run, "duration", field="run"), shape="line" if line else "emitter",
            depth_m=length(buried, "buried") or 0.0, apart_m=length(apart, "apart"), edge_m=length(edge, "edge"),
            first_head_cm=MOIST_CM if is_moist else DUE_CM, wanted_m=length(deep, "deep") or 0.0, pulses=pulses,
            seen_m=None if circle is None or dug is None else (length(circle, "circle") or 0.0, length(dug, "dug") or 0.0),
            roots_m=length(roots, "roots"), draws_l_day=parse_quantity(draws, "volume", field="draws"),
        )  # fmt: skip
    if as_json:
        echo_json("drip", 1, {name: value for name, value in asdict(made).items() if name != "cases"})
    else:
        typer.echo(_text(made, system))


def _text(made: Answer, system: UnitSystem) -> str:
    from soakbook.units import format_quantity as show

    def span(values: list[float], of: str = "length") -> str:
        low, high = show(min(values), of, system), show(max(values), of, system)
        return low if low == high else f"{low} to {high}"

    def share(low: float, high: float) -> str:
        return f"{low:.0%}" if high - low < 0.005 else f"{low:.0%} to {high:.0%}"

    rows = []
    for k, look in enumerate(made.runs[0]):
        all_of = [run[k] for run in made.runs]
        when = "water off" if k == 0 else "next day"
        rows.append([
            f"{when}, {show(look.hours, 'duration', system)}", span([e.surface_cm / 50.0 for e in all_of]), span([e.widest_cm / 50.0 for e in all_of]),
            span([e.depth_cm / 100.0 for e in all_of]),
            share(min(e.in_roots for e in all_of), max(e.in_roots for e in all_of)),
        ])  # fmt: skip
    return "\n".join([
        table(("", "wet on top", "at its widest", "deep", "within the roots"), rows), "",
        *told(made.told, system), "", "Mind:", *told(made.cautions, system),
    ])  # fmt: skip
