"""``soakbook soils``: what the texture classes, bed mixes and potting mixes hold, and how fast they drink."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.plants import how_known, notes, source_line, sources_as_json
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.show import UnitSystem, echo_json, paragraph, table

if TYPE_CHECKING:
    from soakbook.catalog.model import Mix, TextureClass, Value

#: Height of the pot whose water is shown, and the suction a bed mix is taken to drain to. [m], [cm]
POT_M, BED_SUCTION_CM = 0.20, 60.0

LABELS = {
    "sand_pct": "sand, % by mass",
    "clay_pct": "clay, % by mass",
    "spread_fc": "field capacity, give or take, m³/m³",
    "spread_wp": "wilting point, give or take, m³/m³",
    "green_ampt_suction_mm": "pull of dry soil on water, mm",
    "green_ampt_k_mm_h": "steady intake of the surface, mm/h",
    "rew_mm": "water the surface loses at full speed, mm",
    "theta_r": "water never given up, m³/m³",
    "theta_s": "water when full, m³/m³",
    "alpha_per_cm": "retention curve, alpha, 1/cm",
    "n": "retention curve, n",
    "ks_mm_h": "flow when full, mm/h",
    "wilting": "water plants cannot take, m³/m³",
    "critical_dry": "below this it is hard to wet, m³/m³",
}


@app.command("soils")
def soils(
    name: Annotated[str | None, typer.Argument(help="A texture class or mix; all when left out.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON, in metric units.")] = False,
    units: UnitsOption = None,
) -> None:
    """List soil textures and mixes with the water they hold, or show one with its sources."""
    from soakbook.catalog import read

    textures, mixes = list(read.textures().values()), list(read.mixes().values())
    if name:
        kinds: dict[str, TextureClass | Mix] = {**read.textures(), **read.mixes()}
        found = read.pick(name, kinds, read.index_of(kinds), what="soil")
        textures, mixes = [t for t in textures if t is found], [m for m in mixes if m is found]
    if as_json:
        rows: list[TextureClass | Mix] = [*textures, *mixes]
        used = {v.source for row in rows for v in _values(row).values()}
        payload = {"textures": [_texture_json(t) for t in textures], "mixes": [_mix_json(m) for m in mixes]}
        echo_json("soils", 1, payload | {"sources": sources_as_json(used)})
        return
    system = chosen_units(units)
    parts = [_textures(textures, system)] if textures else []
    if mixes:
        parts.append(_mixes(mixes, system))
    if name:
        parts.append(_origins((textures or mixes)[0]))
    typer.echo("\n\n".join(parts))


def _textures(rows: list[TextureClass], units: UnitSystem) -> str:
    from soakbook.units import format_quantity

    cells = []
    for row in rows:
        holds = _texture_water(row)
        cells.append(
            (
                row.name,
                f"{100 * holds['field_capacity']:.0f} %",
                f"{100 * holds['wilting_point']:.0f} %",
                _per_depth(holds["available_mm_per_m"], units),
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
    from soakbook.units import format_quantity

    cells = []
    for row in rows:
        holds = _mix_water(row)
        cells.append(
            (
                row.name,
                row.use,
                f"{100 * holds['drained']:.0f} %",
                f"{100 * row.wilting.value:.0f} %",
                _per_depth(holds["available_mm_per_m"], units),
            )
        )
    head = ("mix", "for", "when drained", "at wilting", "plants can take")
    pot = format_quantity(POT_M, "length", units)
    note = f"Drained: potting mixes in a pot {pot} tall, bed mixes to 6 kPa."
    text = f"MIXES\n{table(head, cells, right=(2, 3, 4))}\n{paragraph(note)}"
    return f"{text}\n{paragraph(rows[0].note)}" if len(rows) == 1 else text


def _per_depth(mm_per_m: float, units: UnitSystem) -> str:
    """Water per depth of soil: 1 in/ft is 1/12 of the depth."""
    return f"{mm_per_m:.0f} mm/m" if units == "metric" else f"{mm_per_m * 12 / 1000:.1f} in/ft"


def _origins(row: TextureClass | Mix) -> str:
    values = _values(row)
    cells = [(LABELS[field], f"{v.value:g}", v.standing, v.source) for field, v in values.items()]
    why = notes((LABELS[field], v) for field, v in values.items())
    known = how_known({v.standing for v in values.values()})
    names = [source_line(key) for key in sorted({v.source for v in values.values()})]
    shown = table(("", "value", "how known", "source"), cells, right=(1,))
    return "\n".join([shown, "", *known, "", "Why these:", *why, "", "Sources:", *names])


def _values(row: TextureClass | Mix) -> dict[str, Value]:
    return {field: value for field in LABELS if (value := getattr(row, field, None)) is not None}


def _texture_water(row: TextureClass) -> dict[str, float]:
    from soakbook.physics.soil import soil_from_texture

    water = soil_from_texture(row.id)
    return {
        "field_capacity": float(water.theta_fc),
        "wilting_point": float(water.theta_wp),
        "available_mm_per_m": 1000.0 * float(water.theta_fc - water.theta_wp),
    }


def _mix_water(row: Mix) -> dict[str, float]:
    from soakbook.physics.potting import container_capacity, theta_van_genuchten

    curve = (row.theta_r.value, row.theta_s.value, row.alpha_per_cm.value, row.n.value)
    drained = container_capacity(POT_M, *curve) if row.use == "pot" else theta_van_genuchten(BED_SUCTION_CM, *curve)
    return {"drained": float(drained), "available_mm_per_m": 1000.0 * (float(drained) - row.wilting.value)}


def _texture_json(row: TextureClass) -> dict[str, Any]:
    return asdict(row) | _texture_water(row)


def _mix_json(row: Mix) -> dict[str, Any]:
    return asdict(row) | _mix_water(row)
