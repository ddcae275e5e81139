"""``soakbook soils``: what the texture classes, bed mixes and potting mixes hold, and how fast they drink."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.plants import how_known, notes, source_line, sources_as_json
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table

if TYPE_CHECKING:
    from soakbook.catalog.model import Mix, TextureClass


@app.command("soils")
def soils(
    name: Annotated[str | None, typer.Argument(help="A texture class or mix; all when left out.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON, in metric units.")] = False,
    units: UnitsOption = None,
) -> None:
    """List soil textures and mixes with the water they hold, or show one with its sources."""
    from soakbook.catalog import read
    from soakbook.catalog.words import soil_values

    textures, mixes = list(read.textures().values()), list(read.mixes().values())
    if name:
        kinds: dict[str, TextureClass | Mix] = {**read.textures(), **read.mixes()}
        found = read.pick(name, kinds, read.index_of(kinds), what="soil")
        textures, mixes = [t for t in textures if t is found], [m for m in mixes if m is found]
    if as_json:
        rows: list[TextureClass | Mix] = [*textures, *mixes]
        used = {v.source for row in rows for v in soil_values(row).values()}
        used |= {key for row in read.feel().values() for key in (row.source, row.low_pct.source, row.high_pct.source)}
        payload = {"textures": [_texture_json(t) for t in textures], "mixes": [_mix_json(m) for m in mixes]}
        payload["feel"] = [asdict(row) for row in read.feel().values()]
        echo_json("soils", 1, payload | {"sources": sources_as_json(used)})
        return
    system = chosen_units(units)
    parts = [_textures(textures, system)] if textures else []
    if mixes:
        parts.append(_mixes(mixes, system))
    if name:
        parts += [_in_the_hand((textures or mixes)[0]), _origins((textures or mixes)[0])]
    typer.echo("\n\n".join(parts))


def _textures(rows: list[TextureClass], units: UnitSystem) -> str:
    from soakbook.catalog.holds import texture_holds
    from soakbook.units import format_quantity

    cells = []
    for row in rows:
        holds = texture_holds(row)
        cells.append(
            (
                row.name,
                f"{100 * holds.drained:.0f} %",
                f"{100 * holds.wilting:.0f} %",
                _per_depth(holds.available_mm_per_m, units),
                format_quantity(row.green_ampt_k_mm_h.value, "rate", units),
            )
        )
    head = ("texture", "when drained", "at wilting", "plants can take", "steady intake")
    note = (
        "Saxton & Rawls 2006 at 2.5 % organic matter, drained to 33 kPa (sandy soils 10 to 20); intake: "
        "Rawls, Brakensiek & Miller 1983. Soils of one name differ by a third: measure if you can."
    )
    return f"SOILS BY TEXTURE\n{table(head, cells, right=(1, 2, 3, 4))}\n{paragraph(note)}"


def _mixes(rows: list[Mix], units: UnitSystem) -> str:
    from soakbook.catalog.holds import POT_M, mix_holds
    from soakbook.units import format_quantity

    cells = []
    for row in rows:
        holds = mix_holds(row)
        cells.append(
            (
                row.name,
                row.use,
                f"{100 * holds.drained:.0f} %",
                f"{100 * holds.wilting:.0f} %",
                _per_depth(holds.available_mm_per_m, units),
            )
        )
    head = ("mix", "for", "when drained", "at wilting", "plants can take")
    pot = format_quantity(POT_M, "length", units)
    note = f"Drained: potting mixes in a pot {pot} tall, bed mixes to 6 kPa."
    text = f"MIXES\n{table(head, cells, right=(2, 3, 4))}\n{paragraph(note)}"
    return f"{text}\n{paragraph(rows[0].note)}" if len(rows) == 1 else text


def _in_the_hand(row: TextureClass | Mix) -> str:
    """What a squeezed handful feels like, class by class; its words have sources of their own."""
    from soakbook.catalog.read import feel_chart
    from soakbook.catalog.words import FEEL_GROUPS, SQUEEZED

    group = _group(row)
    told = [
        paragraph(f"{each.seen} ({SQUEEZED[each.seen][1]}): {each.feels}{' [from memory]' if each.standing == 'memory' else ''}", "  ")
        for each in feel_chart(group)
    ]  # fmt: skip
    first = f"A squeezed handful ({FEEL_GROUPS[group]}). In percent: of the water plants can take. A ribbon is soil pressed out flat between thumb and finger."
    names = [source_line(key) for key in sorted({each.source for each in feel_chart(group)})]
    return "\n".join(["IN THE HAND", paragraph(first), *(line.replace("  ", "", 1) for line in told), *names])


def _group(row: TextureClass | Mix) -> str:
    """The row of the feel chart that a soil is judged by."""
    from soakbook.learning.observe import FEEL_GROUP

    return FEEL_GROUP.get(row.id, "mix")


def _per_depth(mm_per_m: float, units: UnitSystem) -> str:
    """Water per depth of soil: 1 in/ft is 1/12 of the depth."""
    return f"{mm_per_m:.0f} mm/m" if units == "metric" else f"{mm_per_m * 12 / 1000:.1f} in/ft"


def _origins(row: TextureClass | Mix) -> str:
    from soakbook.catalog.words import SOIL_LABELS, soil_values

    values = soil_values(row)
    cells = [(SOIL_LABELS[field], f"{v.value:g}", v.standing, v.source) for field, v in values.items()]
    why = notes((SOIL_LABELS[field], v) for field, v in values.items())
    known = how_known({v.standing for v in values.values()})
    names = [source_line(key) for key in sorted({v.source for v in values.values()})]
    shown = table(("", "value", "how known", "source"), cells, right=(1,))
    return "\n".join([shown, "", *known, "", "Why these:", *why, "", "Sources:", *names])


def _texture_json(row: TextureClass) -> dict[str, Any]:
    from soakbook.catalog.holds import texture_holds

    holds = texture_holds(row)
    water = {"field_capacity": holds.drained, "wilting_point": holds.wilting}
    return asdict(row) | water | {"available_mm_per_m": holds.available_mm_per_m, "feel_group": _group(row)}


def _mix_json(row: Mix) -> dict[str, Any]:
    from soakbook.catalog.holds import mix_holds

    holds = mix_holds(row)
    return asdict(row) | {"drained": holds.drained, "available_mm_per_m": holds.available_mm_per_m}
