"""The soil of a place: layers, and the route by which each is known, told by the entries that are there."""

from __future__ import annotations

from typing import Any

from soakbook.garden.locate import Path
from soakbook.garden.model import SoilLayer, SoilRoute
from soakbook.garden.problems import Problems
from soakbook.garden.schema import SoilTable
from soakbook.said import say

#: The entries by which each route is recognised, and what else belongs to it.
ROUTES: dict[SoilRoute, tuple[str, ...]] = {
    "texture": ("texture",),
    "particles": ("sand_pct", "clay_pct"),
    "measured": ("field_capacity", "wilting_point"),
    "jar": ("jar",),
    "feel": ("feel",),
    "mix": ("mix",),
}
_EXTRAS: dict[str, tuple[SoilRoute, ...]] = {
    "organic_matter_pct": ("texture", "particles", "jar", "feel"),
    "stones_pct": ("texture", "particles", "jar", "feel"),
    "compaction": ("texture", "particles", "jar", "feel"),
    "saturation": ("measured",),
    "conductivity": ("measured",),
}
MAX_DEPTH_M = 5.0
_WAYS = say("texture, sand_pct and clay_pct, field_capacity and wilting_point, jar, feel or mix")


def build_soil(raw: Any, path: Path, problems: Problems) -> tuple[SoilLayer, ...] | None:
    """The layers of one soil table, or None with the problems noted."""
    if not isinstance(raw, dict) or "layers" not in raw:
        layer = _layer(raw, path, problems)
        return None if layer is None else (layer,)
    for key in raw:
        if key != "layers":
            problems.add((*path, key), say("beside layers, this belongs into one of the layers."), code="soil.layers")
    at = (*path, "layers")
    tables = problems.tables(raw["layers"], at, 'layers = [ { texture = "loam" } ]')
    if not tables and not problems.any_under(at):
        problems.add(at, say("it has no layer."), code="soil.layers")
    layers = [_layer(item, p, problems) for p, item in tables]
    for p, layer in zip((p for p, _ in tables[:-1]), layers[:-1], strict=True):
        if layer is not None and layer.thickness_m is None:
            problems.add(
                (*p, "thickness"),
                say('"thickness" is missing; only the lowest layer may leave it out.'),
                code="soil.thickness",
            )
    total = sum(layer.thickness_m or 0.0 for layer in layers if layer is not None)
    if total > MAX_DEPTH_M:
        problems.add(
            at,
            say("the layers add up to {total:g} m; at most {most:g} m.", total=total, most=MAX_DEPTH_M),
            code="soil.thickness",
        )
    return None if problems.any_under(path) else tuple(layer for layer in layers if layer is not None)


def _layer(raw: Any, path: Path, problems: Problems) -> SoilLayer | None:
    table = problems.table(SoilTable, raw, path)
    if table is None:
        return None
    route = _route(table, path, problems)
    if route is None:
        return None
    for key, routes in _EXTRAS.items():
        if getattr(table, key) is not None and route not in routes:
            problems.add(
                (*path, key),
                say("it does not go with {others}.", others=" and ".join(ROUTES[route])),
                code="soil.extra",
            )
    if route == "particles":
        _check_particles(table, path, problems)
    if route == "measured":
        _check_measured(table, path, problems)
    return None if problems.any_under(path) else _to_layer(table, route)


def _route(table: SoilTable, path: Path, problems: Problems) -> SoilRoute | None:
    here: list[SoilRoute] = [r for r, keys in ROUTES.items() if any(getattr(table, k) is not None for k in keys)]
    if len(here) == 1:
        for key in ROUTES[here[0]]:
            if getattr(table, key) is None:
                other = next(k for k in ROUTES[here[0]] if k != key)
                problems.add(
                    (*path, key), say('"{key}" is missing beside {other}.', key=key, other=other), code="key.missing"
                )
                return None
        return here[0]
    if here:
        found = [k for r in here for k in ROUTES[r] if getattr(table, k) is not None]
        problems.add(
            (*path, found[1]),
            say("the soil is given in several ways ({found}); one is wanted.", found=", ".join(found)),
            code="soil.route.several",
        )
    else:
        problems.add(path, say("it does not say what the soil is: give {ways}.", ways=_WAYS), code="soil.route.none")
    return None


def _check_particles(table: SoilTable, path: Path, problems: Problems) -> None:
    assert table.sand_pct is not None
    assert table.clay_pct is not None
    total = table.sand_pct + table.clay_pct
    if total > 100:
        problems.add(
            (*path, "sand_pct"),
            say("sand and clay add up to {total:g} %; at most 100 %, the rest is silt.", total=total),
            code="soil.particles",
        )


def _check_measured(table: SoilTable, path: Path, problems: Problems) -> None:
    wilting, full = table.wilting_point, table.field_capacity
    assert wilting is not None
    assert full is not None
    if wilting >= full:
        problems.add(
            (*path, "wilting_point"),
            say("the wilting point {wilting:g} must be below the field capacity {full:g}.", wilting=wilting, full=full),
            code="soil.order",
        )
    if table.saturation is not None and table.saturation <= full:
        problems.add(
            (*path, "saturation"),
            say(
                "the saturation {saturation:g} must be above the field capacity {full:g}.",
                saturation=table.saturation,
                full=full,
            ),
            code="soil.order",
        )


def _to_layer(table: SoilTable, route: SoilRoute) -> SoilLayer:
    jar = table.jar or (None, None, None)
    plain = SoilLayer(route)
    return SoilLayer(
        route=route,
        thickness_m=table.thickness,
        texture=table.texture or "",
        sand_pct=table.sand_pct,
        clay_pct=table.clay_pct,
        organic_matter_pct=_or(table.organic_matter_pct, plain.organic_matter_pct),
        stones_pct_w=_or(table.stones_pct, plain.stones_pct_w),
        compaction=_or(table.compaction, plain.compaction),
        field_capacity=table.field_capacity,
        wilting_point=table.wilting_point,
        saturation=table.saturation,
        conductivity_mm_h=table.conductivity,
        jar_sand_mm=jar[0],
        jar_silt_mm=jar[1],
        jar_clay_mm=jar[2],
        feel=table.feel or (),
        mix=table.mix or "",
    )


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
