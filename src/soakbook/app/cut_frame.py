"""Where things are on the cut: its scale, sides, watered strips and plants; and the words for wetness and lengths."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.cut_view import CutView

if TYPE_CHECKING:
    from soakbook.app.chart_parts import Reader

#: The drawing in px of a phone: width, ruler at the left, words at the right, and the most that soil and all may take.
WIDTH, RULER, WORDS = 340, 40, 104
SOIL_PX, ALL_PX = 250, 470
#: Least width and depth of a place that is shown. [m]
LEAST_WIDTH_M, LEAST_DEPTH_M = 0.16, 0.25
TEXT_PX, LINE_PX = 13, 16
#: Widths of texts are judged at this many px a letter.
LETTER_PX, BOLD_PX = 7.2, 7.4
MULCH_M = 0.04
#: Wetness at which the words and dots change; the last is anything above field capacity.
LEVELS = (0.1, 0.35, 0.6, 0.85, 1.08)


@dataclass(frozen=True)
class Frame:
    """Where things are on the drawing: px of a metre, of the surface and the sides of the soil."""

    scale: float
    left: float
    right: float
    surface: float
    depth_m: float
    uid: str

    def y(self, depth_m: float) -> float:
        return self.surface + depth_m * self.scale

    @property
    def middle(self) -> float:
        return 0.5 * (self.left + self.right)


def level(wetness: float) -> int:
    """Step of wetness, 0 (nothing left for roots) to 5 (wetter than the soil holds)."""
    return sum(wetness >= edge for edge in LEVELS)


def wetness_word(wetness: float, reader: Reader) -> str:
    """The word for a wetness."""
    words = (
        reader.t("bone dry"), reader.t("dry"), reader.t("getting dry"), reader.t("moist"), reader.t("full"),
        reader.t("wet, still draining"),
    )  # fmt: skip
    return words[level(wetness)]


def frame_of(view: CutView) -> Frame:
    above = view.plant.height_m if view.plant else 0.0
    if view.pot:
        depth, below, rim = view.bottom_m, 0.01 + 0.1 * view.pot.saucer_m, view.pot.height_m - view.pot.fill_m
        across = max(1.12 * max(view.pot.top_m, view.pot.base_m), 0.9 * view.plant.width_m if view.plant else 0.0)
    else:
        depth = min(view.bottom_m, max(1.35 * max(view.roots_m, view.soak_m or 0.0), LEAST_DEPTH_M))
        across, below, rim = view.width_m, 0.0, 0.0
    above = max(above, rim, MULCH_M if view.mulch else 0.0)
    room = WIDTH - RULER - WORDS
    scale = min(SOIL_PX / depth, ALL_PX / (depth + above + below), room / LEAST_WIDTH_M)
    if view.kind == "pot":  # a pot is shown whole
        scale = min(scale, room / across)
    half = 0.5 * min(view.width_m, room / scale) * scale
    uid = f"cut{zlib.crc32(view.place.encode()):08x}"
    middle = RULER + room / 2
    head = max(above * scale, 26.0) + 12
    return Frame(scale, middle - half, middle + half, head, depth, uid)


def plants_at(view: CutView, at: Frame) -> list[float]:
    """Middles of the plants that fit on the drawing; one in the middle when none is known."""
    if view.plant is None:
        return [at.middle]
    step = max(view.plant.spacing_m * at.scale, 7.0)
    count = max(1, min(24, int((at.right - at.left) / step + 0.05)))
    if view.pot and view.kind == "pot":
        count = 1
    return [at.middle + (i - (count - 1) / 2) * step for i in range(count)]


def strips_of(view: CutView, at: Frame, xs: list[float]) -> list[tuple[float, float]]:
    """Watered parts of the surface: round each plant where there are few, else one in the middle; to their true share."""
    if view.watered >= 0.999:
        return [(at.left, at.right)]
    whole = at.right - at.left
    if 1 < len(xs) <= 4:
        half = 0.5 * view.watered * whole / len(xs)
        step = whole / len(xs)
        return [(at.left + (i + 0.5) * step - half, at.left + (i + 0.5) * step + half) for i in range(len(xs))]
    half = 0.5 * view.watered * whole
    return [(at.middle - half, at.middle + half)]


def edge_at(view: CutView, at: Frame, depth_m: float, x: float) -> float:
    """A side of the soil at a depth: a pot tapers."""
    if not view.pot:
        return x
    share = depth_m / view.pot.height_m
    narrower = 1.0 + share * (view.pot.base_m / view.pot.top_m - 1.0) if view.kind == "pot" else 1.0
    return at.middle + (x - at.middle) * narrower


def probe_x(view: CutView, at: Frame, xs: list[float]) -> float:
    """Beside the plant in the middle, within its watered part."""
    x = min(xs, key=lambda v: abs(v - at.middle))
    strip = next(((a, b) for a, b in strips_of(view, at, xs) if a <= x <= b), (at.left, at.right))
    return x + max(min(0.62 * (strip[1] - x), 34.0), 6.0)


def length(metres: float, reader: Reader) -> str:
    return f"{plain_length(metres, reader)}\u00a0{reader.scale('length')[1]}"


def plain_length(metres: float, reader: Reader) -> str:
    value = metres * reader.scale("length")[0]
    return reader.number(value, 1 if value < 3 and abs(value - round(value)) > 0.06 else 0)
