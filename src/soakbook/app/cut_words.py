"""The words of the cut: ruler, names of the soil, notes in the margin, legend, description, and the same as a table."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from soakbook.app.cut_frame import (
    BOLD_PX,
    LETTER_PX,
    LINE_PX,
    MULCH_M,
    RULER,
    WIDTH,
    WORDS,
    Frame,
    edge_at,
    length,
    level,
    plain_length,
    probe_x,
    strips_of,
    wetness_word,
)
from soakbook.app.cut_view import CutView, PlantCut

if TYPE_CHECKING:
    from soakbook.app.chart_parts import Reader


def cut_rows(view: CutView, reader: Reader) -> tuple[tuple[str, ...], ...]:
    """The same as rows of a table: depth, watered part, part never watered (where there is one)."""

    def part(wetness: float, theta: float) -> str:
        share = reader.percent(min(max(wetness, 0.0), 1.0))
        return reader.t(
            "{word}, {share} of the water roots can use, {theta} of the soil's volume",
            word=wetness_word(wetness, reader), share=share, theta=reader.percent(theta),
        )  # fmt: skip

    rows = []
    for band in view.bands:
        depth = reader.t(
            "{top} to {bottom}",
            top=length(band.top_m, reader) if band.top_m else "0",
            bottom=length(band.bottom_m, reader),
        )
        dry = () if band.dry is None or band.dry_theta is None else (part(band.dry, band.dry_theta),)
        rows.append((depth, part(band.wet, band.theta), *dry))
    return tuple(rows)


def title_of(view: CutView, reader: Reader) -> str:
    return reader.t("{place} cut open, to scale", place=view.place)


def description_of(view: CutView, reader: Reader) -> str:
    held = [b for b in view.bands if b.top_m < view.reach_m - 1e-9] or [view.bands[0]]
    words = [reader.t("Roots reach {depth} deep.", depth=length(view.roots_m, reader))]
    for band in held:
        words.append(
            reader.t(
                "{top} to {bottom}: {word}.", top=plain_length(band.top_m, reader), bottom=length(band.bottom_m, reader),
                word=wetness_word(band.wet, reader),
            )
        )  # fmt: skip
    if view.watered < 0.999:
        words.append(reader.t("{share} of the surface is watered.", share=reader.percent(view.watered)))
    words.append(reader.t("Probe {depth} down.", depth=length(view.probe_m, reader)))
    if view.soak_m is not None:
        words.append(reader.t("Today's soak goes {depth} deep.", depth=length(view.soak_m, reader)))
    return " ".join(words)


def _plate(x: float, y: float, text: str, cls: str = "cut-name") -> str:
    """A text on a plate of paper, its left end at ``x`` and its middle at ``y``."""
    wide = LETTER_PX * len(text) + 8
    return (
        f'<rect class="cut-plate" x="{x - 4:.1f}" y="{y - 9:.1f}" width="{wide:.1f}" height="17" rx="3"/>'
        f'<text class="{cls}" x="{x:.1f}" y="{y + 4.5:.1f}">{escape(text)}</text>'
    )


def soil_names(view: CutView, at: Frame, reader: Reader) -> str:
    """Names of the layers on plates at their foot; those wider than the pot stand beside it (:func:`words_beside`)."""
    side, out = _plates_from(view, at), []
    for soil in view.soils:
        lines = _plate_lines(view, at, reader.tell(soil.name))
        if soil.top_m >= at.depth_m - 0.01 or lines is None:
            continue
        bottom = at.y(min(soil.bottom_m, at.depth_m))
        if bottom - at.y(soil.top_m) < LINE_PX * len(lines) + 4:
            continue
        first = bottom - LINE_PX * len(lines) + 4
        out += [_plate(side, first + LINE_PX * i, t) for i, t in enumerate(lines)]
    return "".join(out)


def _plates_from(view: CutView, at: Frame) -> float:
    """Where the words on plates begin."""
    return edge_at(view, at, at.depth_m, at.left) + 8


def _plate_lines(view: CutView, at: Frame, name: str) -> list[str] | None:
    """A name in lines that fit between the sides; None when a word of it is too long for that."""
    room = 2 * (at.middle - _plates_from(view, at))
    lines = _wrapped(name, int((room - 4) / LETTER_PX))
    return lines if max(map(len, lines)) * LETTER_PX <= room + 4 else None


def _names_outside(view: CutView, at: Frame, reader: Reader) -> list[tuple[float, float, str, str]]:
    """Notes for the layers whose names do not fit within."""
    notes = []
    for soil in view.soils:
        name = reader.tell(soil.name)
        if soil.top_m < at.depth_m - 0.01 and _plate_lines(view, at, name) is None:
            middle_m = 0.5 * (soil.top_m + min(soil.bottom_m, at.depth_m))
            notes.append((at.y(middle_m), edge_at(view, at, middle_m, at.right) - 6, "soil", name))
    return notes


def _wrapped(text: str, letters: int) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        if lines[-1] and len(lines[-1]) + 1 + len(word) > max(letters, 8):
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def ruler(at: Frame, reader: Reader) -> str:
    """Depth from the surface down, in steps that leave room for the figures."""
    factor, unit = reader.scale("length")
    steps = (1, 2, 5, 10, 20, 50) if unit == "cm" else (0.5, 1, 2, 3, 6, 12, 24)
    step = next((s for s in steps if s / factor * at.scale >= 24), steps[-1])
    out = [f'<text class="cut-unit" x="{RULER - 10}" y="{at.surface - 12:.1f}" text-anchor="end">{escape(unit)}</text>']
    count = int(at.depth_m * factor / step + 1e-6)
    ticks = []
    for k in range(count + 1):
        y = at.y(k * step / factor)
        ticks.append(f"M{RULER - 7} {y:.2f}h7")
        value = reader.number(k * step, 1 if step == 0.5 else 0)
        out.append(f'<text class="cut-depth" x="{RULER - 10}" y="{y + 4.5:.2f}" text-anchor="end">{value}</text>')
    return (
        f'<path class="cut-ruler" d="M{RULER} {at.surface:.2f}V{at.y(at.depth_m):.2f}{"".join(ticks)}"/>{"".join(out)}'
    )


def words_beside(view: CutView, at: Frame, xs: list[float], reader: Reader) -> tuple[str, float]:
    """What the lines mean, in the right margin at their height, moved apart where they would touch; and where that ends."""
    notes = _names_outside(view, at, reader)
    if view.plant is not None and view.plant.shape != "seed":
        notes.append(
            (at.surface - view.plant.height_m * at.scale * 0.85, 0.0, "plant", _plant_words(view.plant, reader))
        )
    if view.mulch:
        notes.append((at.surface - 0.5 * MULCH_M * at.scale, at.right, "mulch", reader.tell(view.mulch)))
    notes.append(
        (
            at.y(view.probe_m),
            probe_x(view, at, xs) + 5,
            "probe",
            reader.t("probe here, {depth}", depth=length(view.probe_m, reader)),
        )
    )
    if view.plant is not None and view.plant.shape == "seed":
        notes.append(
            (
                at.y(view.plant.seed_m),
                xs[-1] + 3,
                "roots",
                reader.t("seed, {depth}", depth=length(view.plant.seed_m, reader)),
            )
        )
    elif view.plant is not None:
        notes.append(
            (
                at.y(min(view.roots_m, at.depth_m)),
                at.middle,
                "roots",
                reader.t("roots to {depth}", depth=length(view.roots_m, reader)),
            )
        )
    if view.soak_m is not None:
        deep = length(view.soak_m, reader)
        said = (
            reader.t("soak if dry to {depth}", depth=deep)
            if view.soak_if_dry
            else reader.t("soak today to {depth}", depth=deep)
        )
        y = at.y(min(view.soak_m, at.depth_m))
        notes.append((y, edge_at(view, at, view.soak_m, strips_of(view, at, xs)[-1][1]), "soak", said))
    return _spread(sorted(notes))


def _plant_words(plant: PlantCut, reader: Reader) -> str:
    return reader.t("{plant}, {height} high", plant=reader.tell(plant.name), height=length(plant.height_m, reader))


def _spread(notes: list[tuple[float, float, str, str]]) -> tuple[str, float]:
    x = WIDTH - WORDS + 12
    letters = int((WORDS - 12) / BOLD_PX)
    out, free = [], 8.0
    for y, start, cls, text in notes:
        lines = _wrapped(text, letters)
        top = max(y - LINE_PX * len(lines) / 2, free)
        middle = top + LINE_PX * len(lines) / 2
        if start:
            out.append(
                f'<path class="cut-lead cut-lead-{cls}" d="M{start:.1f} {y:.1f}H{WIDTH - WORDS:.1f}L{x - 3} {middle:.1f}"/>'
            )
        spans = "".join(
            f'<tspan x="{x}" y="{top + LINE_PX * (i + 0.78):.1f}">{escape(t)}</tspan>' for i, t in enumerate(lines)
        )
        out.append(f'<text class="cut-word cut-word-{cls}">{spans}</text>')
        free = top + LINE_PX * len(lines) + 3
    return "".join(out), free


def legend_below(view: CutView, at: Frame, y: float, reader: Reader) -> tuple[str, float]:
    """Words for the wetness that is on the drawing, and for the watered and the other part; and where the drawing ends."""
    shown = [b for b in view.bands if b.top_m < at.depth_m]
    steps = {level(b.wet): b.wet for b in shown} | {level(b.dry): b.dry for b in shown if b.dry is not None}
    items = [
        (f'<rect class="cut-key" width="22" height="14" fill="url(#{at.uid}-w{k})"/>', wetness_word(steps[k], reader))
        for k in sorted(steps)
    ]
    out, x = [], 4.0
    for picture, text in items:
        wide = 28 + LETTER_PX * len(text) + 12
        if x + wide > WIDTH and x > 4.0:
            x, y = 4.0, y + 22
        out.append(
            f'<g transform="translate({x:.1f} {y:.1f})">{picture}<text class="cut-word" x="28" y="11.5">{escape(text)}</text></g>'
        )
        x += wide
    if view.watered < 0.999:
        y += 24
        share = reader.percent(view.watered)
        out.append(
            f'<g transform="translate(4 {y:.1f})"><path class="cut-side" d="M4 -1V15M18 -1V15"/>'
            f'<text class="cut-word" x="28" y="11.5">{escape(reader.t("between these lines: watered, {share}", share=share))}</text></g>'
        )
    return "".join(out), y + 24
