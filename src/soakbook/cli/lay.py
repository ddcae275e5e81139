"""``soakbook lay``: drip lines for a bed: how many, how far apart, which emitters, what they take, what to buy."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.supply import PressureOption, ReducerOption, TankOption, TapOption, feed_from, pressure, told
from soakbook.cli.terminal import UnitSystem, echo_json, in_measures, paragraph, table, working

if TYPE_CHECKING:
    from soakbook.delivery.lay import Layout


@app.command("lay")
def lay_command(
    bed: Annotated[str, typer.Option("--bed", help="Its sides, such as '3 m x 1.2 m'; lines run along the longer.")],
    rows: Annotated[
        int, typer.Option("--rows", min=0, max=100, help="Crop rows along it; 0 for a bed sown all over.")
    ] = 0,
    soil: Annotated[str, typer.Option("--soil", help="A texture class: see 'soakbook soils'.")] = "loam",
    wet: Annotated[
        str | None,
        typer.Option("--wet", help="Width of the wet circle you saw under one emitter after an hour or two."),
    ] = None,
    plants: Annotated[str | None, typer.Option("--plants", help="From plant to plant in the row.")] = None,
    emitter: Annotated[str | None, typer.Option("--emitter", help="What one emitter gives; else by the soil.")] = None,
    rise: Annotated[
        float, typer.Option("--rise", help="How far the ground rises along the bed, in percent; below 0 it falls.")
    ] = 0.0,
    lead: Annotated[str, typer.Option("--lead", help="From the supply to the bed.")] = "0 m",
    tank: TankOption = None,
    pressure_held: PressureOption = None,
    tap: TapOption = None,
    reducer: ReducerOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
    units: UnitsOption = None,
) -> None:
    """Lay drip lines on a bed: lines, spacing, emitters, flow, and what to buy."""
    from soakbook.catalog import read
    from soakbook.units import parse_quantity, parse_sides

    system = chosen_units(units)
    width_m, length_m = sorted(parse_sides(bed, field="bed"))
    textures = read.textures()
    texture = read.pick(soil, textures, read.index_of(textures), what="soil").id
    feed = feed_from(tank, pressure_held, tap, reducer)
    with working("Laying lines"):
        from soakbook.delivery.ground_of import grounds_of_class
        from soakbook.delivery.lay import drawing, lay

        made = lay(
            length_m, width_m, rows=rows, feed=feed, rise=rise / 100.0,
            wetted_m=None if wet is None else parse_quantity(wet, "length", field="wet"), grounds=grounds_of_class(texture),
            plants_apart_m=None if plants is None else parse_quantity(plants, "length", field="plants"),
            lead_m=parse_quantity(lead, "length", field="lead"),
            emitter_lph=None if emitter is None else parse_quantity(emitter, "flow", field="emitter"),
        )  # fmt: skip
    if as_json:
        echo_json("lay", 1, asdict(made) | {"drawing": drawing(made)})
    else:
        typer.echo(_text(made, system))


def _text(made: Layout, system: UnitSystem) -> str:
    from soakbook.delivery.lay import place_digits
    from soakbook.units import format_quantity as show

    count = len(made.lines_m)
    places = ", ".join(show(y, "length", system, place_digits(y, system)) for y in made.lines_m)
    kind = "compensating" if made.is_compensating else "plain"
    figures = [
        ("lines", f"{count}, at {places} from the long edge"),
        ("emitters", f"{kind}, {show(made.emitter_lph, 'flow', system, 1)}, every {show(made.emitter_spacing_m, 'length', system)}, {made.emitters_per_line} to a line"),
        ("wet circle", f"{show(made.wetted_m, 'length', system)}, {'as you saw it' if made.wetted_most_m is None else 'by the soil'}"),
        ("flow", f"{show(made.flow_lph, 'flow', system)} in all, {show(made.rate_mm_h, 'rate', system)} over the bed"),
        ("least pressure", pressure(made.lowest_head_m, system)),
        ("evenness", f"emitters differ by {100 * made.variation:.1f} %; emission uniformity {made.eu_pct:.0f} %"),
    ]  # fmt: skip
    if made.at_once is not None:
        figures.append(("at once", f"{made.at_once} such lines, with a fifth of the flow to spare"))
    parts = [
        table(("", "what"), figures),
        "",
        "Why:",
        *told(made.reasons, system),
        "",
        "To buy, a tenth of pipe to spare:",
    ]
    bought = [
        [
            "" if p.count is None else str(p.count),
            "" if p.length_m is None else show(p.length_m, "length", system),
            in_measures(p.what, system),
        ]
        for p in made.parts
    ]
    parts += [table(("pieces", "length", "part"), bought, right=(0, 1)), "", "What belongs before the lines:"]
    parts += [*told(made.fittings, system), "", "Mind:", *told(made.cautions, system)]
    parts += ["", paragraph("Dig beside an emitter after a run and see how wide it is wet: --wet takes it.")]
    return "\n".join(parts)
