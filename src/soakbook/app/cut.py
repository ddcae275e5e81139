"""The cut through a place's soil as one drawing to scale: SVG made on the server, with words in it and no script or style.

One scale holds across and down. Colours come from ``static/cut.css`` by class; wetness is told by the number of dots as well
as by shade, so that it survives a printer without colours.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from soakbook.app.cut_frame import (
    MULCH_M,
    RULER,
    WIDTH,
    WORDS,
    Frame,
    edge_at,
    frame_of,
    level,
    plants_at,
    probe_x,
    strips_of,
    wetness_word,
)
from soakbook.app.cut_plants import plant_paths, root_lines
from soakbook.app.cut_view import CutView, PlantCut, PotCut, WetBand, cut_view
from soakbook.app.cut_words import cut_rows, description_of, legend_below, ruler, soil_names, title_of, words_beside

if TYPE_CHECKING:
    from soakbook.app.chart_parts import Reader

__all__ = ["CutView", "cut_rows", "cut_svg", "cut_view", "wetness_word"]

#: Dots in one tile of 16 by 16 px at each level: none when it is dry.
_DOTS = (
    (), ((4, 4),), ((4, 4), (12, 12)), ((4, 4), (12, 12), (12, 4)), ((4, 4), (12, 12), (12, 4), (4, 12)),
    ((4, 4), (12, 12), (12, 4), (4, 12), (8, 8), (0, 8), (16, 8), (8, 0), (8, 16)),
)  # fmt: skip
_SIZES = (0.0, 1.1, 1.3, 1.5, 1.8, 2.0)


def cut_svg(view: CutView, reader: Reader) -> str:
    """Draw a place cut open.

    Parameters
    ----------
    view
        From :func:`soakbook.app.cut_view.cut_view`.
    reader
        Who reads it: language and measures.

    Returns
    -------
    str
        One ``svg`` element, safe to put into a page: every text in it is escaped.
    """
    at = frame_of(view)
    xs = plants_at(view, at)
    below = at.y(at.depth_m) + (14 if view.pot else 0)
    words, words_end = words_beside(view, at, xs, reader)
    legend, height = legend_below(view, at, max(below, words_end) + 14, reader)
    parts = [
        _defs(view, at),
        _soil(view, at, xs),
        _roots(view, at, xs),
        soil_names(view, at, reader),
        _soak(view, at, xs),
        _pot_walls(view.pot, at) if view.pot else _ground(view, at),
        _mulch(view, at) if view.mulch else "",
        _tops(view, at, xs),
        ruler(at, reader),
        _probe(view, at, xs),
        words,
        legend,
    ]
    title, desc = title_of(view, reader), description_of(view, reader)
    return (
        f'<svg class="cut" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" role="img" '
        f'aria-labelledby="{at.uid}-t {at.uid}-d"><title id="{at.uid}-t">{escape(title)}</title>'
        f'<desc id="{at.uid}-d">{escape(desc)}</desc>{"".join(parts)}</svg>'
    )


def _defs(view: CutView, at: Frame) -> str:
    tiles = []
    for step, (dots, size) in enumerate(zip(_DOTS, _SIZES, strict=True)):
        marks = "".join(f'<circle class="cut-dot" cx="{x}" cy="{y}" r="{size}"/>' for x, y in dots)
        if step == 0:
            marks = '<path class="cut-crack" d="M3 2l3 5l-2 4M12 6l-2 4l3 4"/>'
        tiles.append(
            f'<pattern id="{at.uid}-w{step}" width="16" height="16" patternUnits="userSpaceOnUse">'
            f'<rect class="cut-soil cut-wet{step}" width="16" height="16"/>{marks}</pattern>'
        )
    top, bottom = at.surface, at.y(at.depth_m)
    a, b, c, d = (
        edge_at(view, at, 0.0, at.left), edge_at(view, at, 0.0, at.right), edge_at(view, at, at.depth_m, at.right),
        edge_at(view, at, at.depth_m, at.left),
    )  # fmt: skip
    clip = f'<clipPath id="{at.uid}-s"><path d="M{a:.1f} {top:.1f}H{b:.1f}L{c:.1f} {bottom:.1f}H{d:.1f}Z"/></clipPath>'
    sky = f'<clipPath id="{at.uid}-a"><rect x="{RULER}" y="0" width="{WIDTH - RULER - WORDS}" height="{bottom:.1f}"/></clipPath>'
    return f"<defs>{''.join(tiles)}{clip}{sky if view.kind != 'pot' else ''}</defs>"


def _soil(view: CutView, at: Frame, xs: list[float]) -> str:
    """Layers as they are computed, the watered strips over what is never watered."""
    strips = strips_of(view, at, xs)
    out = [f'<g clip-path="url(#{at.uid}-s)">']
    for band in view.bands:
        if band.top_m >= at.depth_m:
            break
        if band.dry is not None:
            out.append(_box(at, band, band.dry, at.left, at.right))
        out.extend(_box(at, band, band.wet, a, b) for a, b in strips)
    if view.watered < 0.999:
        sides = [x for a, b in strips for x in (a, b) if at.left + 1 < x < at.right - 1]
        d = "".join(f"M{x:.1f} {at.surface:.1f}V{at.y(at.depth_m):.1f}" for x in sides)
        out.append(f'<path class="cut-side" d="{d}"/>')
    out.append("</g>")
    return "".join(out)


def _box(at: Frame, band: WetBand, wetness: float, left: float, right: float) -> str:
    bottom = min(band.bottom_m, at.depth_m)
    return (
        f'<rect class="cut-band" data-top="{band.top_m:.4f}" data-bottom="{bottom:.4f}" x="{left:.1f}" y="{at.y(band.top_m):.2f}" '
        f'width="{right - left:.1f}" height="{(bottom - band.top_m) * at.scale:.2f}" fill="url(#{at.uid}-w{level(wetness)})"/>'
    )


def _ground(view: CutView, at: Frame) -> str:
    top, bottom = at.surface, at.y(at.depth_m)
    lines = "".join(
        f"M{at.left:.1f} {at.y(s.top_m):.1f}H{at.right:.1f}" for s in view.soils if 0.0 < s.top_m < at.depth_m
    )
    goes_on = "" if at.depth_m >= view.bottom_m - 1e-9 else " cut-on"
    return (
        f'<path class="cut-edge" d="M{at.left:.1f} {top:.1f}V{bottom:.1f}M{at.right:.1f} {top:.1f}V{bottom:.1f}"/>'
        f'<path class="cut-floor{goes_on}" d="M{at.left:.1f} {bottom:.1f}H{at.right:.1f}"/>'
        f'<path class="cut-layer" d="{lines}"/>'
        f'<path class="cut-surface" d="M{at.left - 4:.1f} {top:.1f}H{at.right + 4:.1f}"/>'
    )


def _pot_walls(pot: PotCut, at: Frame) -> str:
    """Wall from the rim to the base and a saucer beneath; clay and wood are drawn thicker than plastic and fabric."""
    wall = 6.0 if pot.wall in ("clay", "wood", "glazed") else 3.5
    taper = pot.base_m / pot.top_m if at.right - at.left >= 0.98 * pot.top_m * at.scale else 1.0
    half = 0.5 * (at.right - at.left)
    rim, bottom = at.surface - (pot.height_m - pot.fill_m) * at.scale, at.y(at.depth_m)
    top_half = half * (1.0 + (1.0 - taper) * (pot.height_m - pot.fill_m) / pot.height_m)
    end_half = half * (1.0 + (taper - 1.0) * at.depth_m / pot.height_m)
    m = at.middle
    out = (
        f'<path class="cut-pot" stroke-width="{wall}" d="M{m - top_half - wall / 2:.1f} {rim:.1f}L{m - end_half - wall / 2:.1f} {bottom + wall / 2:.1f}'
        f'H{m + end_half + wall / 2:.1f}L{m + top_half + wall / 2:.1f} {rim:.1f}"/>'
        f'<path class="cut-surface" d="M{at.left:.1f} {at.surface:.1f}H{at.right:.1f}"/>'
    )
    if pot.saucer_m > 0.0:
        deep, wide = pot.saucer_m * at.scale, end_half + 12
        foot = bottom + wall + 2
        out += f'<path class="cut-pot cut-saucer" stroke-width="3" d="M{m - wide - 3:.1f} {foot - deep:.1f}L{m - wide + 3:.1f} {foot:.1f}H{m + wide - 3:.1f}L{m + wide + 3:.1f} {foot - deep:.1f}"/>'
    return out


def _mulch(view: CutView, at: Frame) -> str:
    """A layer on the surface, hatched: its thickness is a usual one, not measured."""
    deep = max(MULCH_M * at.scale, 6.0)
    top = at.surface - deep
    strokes = "".join(
        f"M{x:.1f} {top + (2 + (k * 5) % 7) / 9 * deep:.1f}l7 {(-1) ** k * 0.25 * deep:.1f}"
        for k, x in enumerate(range(int(at.left) + 1, int(at.right) - 6, 5))
    )
    return (
        f'<rect class="cut-mulch" x="{at.left:.1f}" y="{top:.1f}" width="{at.right - at.left:.1f}" height="{deep:.1f}"/>'
        f'<path class="cut-straw" d="{strokes}"/>'
    )


def _half_spread(view: CutView, at: Frame, plant: PlantCut) -> float:
    wide = max(plant.width_m, 0.03) * at.scale / 2
    room = plant.spacing_m * at.scale * 0.6 if len(plants_at(view, at)) > 1 else 0.48 * (at.right - at.left)
    return max(min(max(wide, 0.5 * view.roots_m * at.scale), room), 4.0)


def _roots(view: CutView, at: Frame, xs: list[float]) -> str:
    plant = view.plant
    if plant is None:
        return ""
    if plant.shape == "seed":
        seeds = "".join(f'<circle class="cut-seed" cx="{x:.1f}" cy="{at.y(plant.seed_m):.1f}" r="2.6"/>' for x in xs)
        return f'<g class="cut-seeds">{seeds}</g>'
    deep = min(view.roots_m, at.depth_m) * at.scale
    half = _half_spread(view, at, plant)
    d = "".join(root_lines(x, at.surface, deep, half) for x in xs)
    return f'<g clip-path="url(#{at.uid}-s)"><path class="cut-root-halo" d="{d}"/><path class="cut-root" data-depth="{min(view.roots_m, at.depth_m):.4f}" d="{d}"/></g>'


def _tops(view: CutView, at: Frame, xs: list[float]) -> str:
    plant = view.plant
    if plant is None:
        return ""
    height, width = plant.height_m * at.scale, plant.width_m * at.scale
    every = max(1, round(0.5 * plant.width_m / max(plant.spacing_m, 0.01)))  # a dense stand would only be a green wall
    shown = xs[(len(xs) - 1) % every // 2 :: every]
    drawn = "".join(plant_paths(plant.shape, x, at.surface, height, width) for x in shown)
    clip = "" if view.kind == "pot" else f' clip-path="url(#{at.uid}-a)"'
    return f'<g class="cut-plant"{clip}>{drawn}</g>'


def _soak(view: CutView, at: Frame, xs: list[float]) -> str:
    if view.soak_m is None:
        return ""
    y = at.y(min(view.soak_m, at.depth_m))
    d = ""
    for a, b in strips_of(view, at, xs):
        left, right = edge_at(view, at, view.soak_m, a), edge_at(view, at, view.soak_m, b)
        d += f"M{left:.1f} {y:.1f}H{right:.1f}"
    return f'<path class="cut-soak-halo" d="{d}"/><path class="cut-soak" data-depth="{view.soak_m:.4f}" d="{d}"/>'


def _probe(view: CutView, at: Frame, xs: list[float]) -> str:
    """A stick with a handle, its point at the depth to feel."""
    x, y = probe_x(view, at, xs), at.y(view.probe_m)
    handle = at.surface - 24
    return (
        f'<path class="cut-probe-halo" d="M{x:.1f} {handle:.1f}V{y:.1f}"/>'
        f'<path class="cut-probe" data-depth="{view.probe_m:.4f}" d="M{x:.1f} {handle:.1f}V{y:.1f}M{x - 6:.1f} {handle:.1f}h12"/>'
        f'<circle class="cut-tip" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'
    )
