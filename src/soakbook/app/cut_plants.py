"""Plants and roots of the cut: simple outlines of our own, to the height and width they have, as SVG paths in pixels."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

#: Branch roots of one plant, and the golden ratio by which they are spread evenly without looking regular.
ROOTS = 16
_GOLDEN = 0.618034

Draw = Callable[[float, float, float, float], Iterator[str]]


def _leaf(x: float, y: float, length: float, angle: float, breadth: float = 0.34) -> str:
    """A pointed leaf from a stalk's end; ``angle`` in degrees from upright."""
    a = math.radians(angle)
    tip_x, tip_y = x + length * math.sin(a), y - length * math.cos(a)
    side_x, side_y = breadth * length * math.cos(a), breadth * length * math.sin(a)
    mid_x, mid_y = (x + tip_x) / 2, (y + tip_y) / 2
    return (
        f"M{x:.1f} {y:.1f}Q{mid_x - side_x:.1f} {mid_y - side_y:.1f} {tip_x:.1f} {tip_y:.1f}"
        f"Q{mid_x + side_x:.1f} {mid_y + side_y:.1f} {x:.1f} {y:.1f}Z"
    )


def _path(cls: str, d: str) -> str:
    return f'<path class="{cls}" d="{d}"/>'


def _staked(x: float, y: float, height: float, width: float) -> Iterator[str]:
    yield _path("cut-stake", f"M{x + 3:.1f} {y + 8:.1f}V{y - height - 6:.1f}")
    yield _path("cut-stem", f"M{x:.1f} {y:.1f}V{y - height:.1f}")
    tiers = max(3, min(7, round(height / 26)))
    for k in range(tiers):
        up = y - height * (0.16 + 0.8 * k / (tiers - 1))
        reach = width * (0.5 - 0.2 * k / (tiers - 1))
        for side in (-1, 1):
            yield _path("cut-leaf", _leaf(x, up, reach, side * 72))
            yield _path("cut-leaf", _leaf(x, up, reach * 0.72, side * 38))
    yield _path("cut-leaf", _leaf(x, y - height * 0.94, height * 0.06 + 3, 0, 0.5))


def _bush(x: float, y: float, height: float, width: float) -> Iterator[str]:
    size = 0.2 * min(height, width) + 3
    for angle in (-68, 68, -46, 46, -24, 24, 0):
        a = math.radians(angle)
        length = 0.86 / math.hypot(math.sin(a) / (width / 2), math.cos(a) / height)
        end_x, end_y = x + length * math.sin(a), y - length * math.cos(a) - 0.04 * height
        yield _path(
            "cut-stem",
            f"M{x:.1f} {y:.1f}Q{x + 0.35 * (end_x - x):.1f} {y + 0.75 * (end_y - y):.1f} {end_x:.1f} {end_y:.1f}",
        )
        pairs = max(2, min(4, round(length / size / 0.9)))
        for j in range(pairs):
            part = 0.48 + 0.42 * j / (pairs - 1)
            px = x + (end_x - x) * (0.7 * part * (1 - part) + part * part)
            py = y + (end_y - y) * (1.5 * part * (1 - part) + part * part)
            for side in (-1, 1):
                yield _path("cut-leaf", _leaf(px, py, size, angle + side * 62, 0.42))
        yield _path("cut-leaf", _leaf(end_x, end_y, 0.14 * min(length, size * 5) + 2, angle, 0.42))


def _rosette(x: float, y: float, height: float, width: float) -> Iterator[str]:
    for angle in (-66, 66, -46, 46, -26, 26, -8, 10):
        a = math.radians(angle)
        length = 1.0 / math.hypot(math.sin(a) / (width / 2), math.cos(a) / height)
        yield _path("cut-leaf", _leaf(x, y - 1, length, angle, 0.32))


def _root(x: float, y: float, height: float, width: float) -> Iterator[str]:
    for angle in (-46, 46, -28, 28, -12, 10):
        a = math.radians(angle)
        length = 1.0 / math.hypot(math.sin(a) / (width / 2), math.cos(a) / height)
        yield _path("cut-leaf", _leaf(x, y, length, angle, 0.16))
    r = min(0.16 * width, 0.14 * height) + 1.5
    yield _path("cut-store", f"M{x - r:.1f} {y:.1f}Q{x:.1f} {y - r:.1f} {x + r:.1f} {y:.1f}Q{x + 0.5 * r:.1f} {y + 3 * r:.1f} {x:.1f} {y + 5 * r:.1f}"
                f"Q{x - 0.5 * r:.1f} {y + 3 * r:.1f} {x - r:.1f} {y:.1f}Z")  # fmt: skip


def _blades(x: float, y: float, height: float, width: float) -> Iterator[str]:
    yield _path("cut-stem", f"M{x:.1f} {y:.1f}V{y - 0.9 * height:.1f}")
    for k in range(6):
        side = -1 if k % 2 else 1
        up = y - height * (0.1 + 0.12 * k)
        out, top = side * width / 2, max(up - 0.3 * height, y - height)
        yield _path("cut-leaf", f"M{x:.1f} {up:.1f}Q{x + 0.35 * out:.1f} {top:.1f} {x + out:.1f} {up - 0.06 * height:.1f}"
                    f"Q{x + 0.4 * out:.1f} {top + 0.12 * height:.1f} {x:.1f} {up + 0.05 * height:.1f}Z")  # fmt: skip
    yield _path("cut-leaf", _leaf(x, y - 0.8 * height, 0.2 * height, 0, 0.22))


def _vine(x: float, y: float, height: float, width: float) -> Iterator[str]:
    for k in range(7):
        share = (k - 3) / 3.0
        foot = x + share * width * 0.36
        up = height * (0.95 - 0.35 * abs(share))
        yield _path("cut-stem", f"M{x:.1f} {y:.1f}Q{foot:.1f} {y - 0.2 * up:.1f} {foot:.1f} {y - 0.6 * up:.1f}")
        yield _path("cut-leaf", _leaf(foot, y - 0.5 * up, 0.5 * up, -80 + 20 * (k % 2), 0.6))
        yield _path("cut-leaf", _leaf(foot, y - 0.5 * up, 0.5 * up, 60 - 20 * (k % 2), 0.6))


def _shrub(x: float, y: float, height: float, width: float) -> Iterator[str]:
    for k in range(5):
        angle = (-32, -16, 0, 16, 32)[k]
        a = math.radians(angle)
        length = 0.93 / math.hypot(math.sin(a) / (width / 2), math.cos(a) / height)
        yield _path("cut-stem", f"M{x:.1f} {y:.1f}L{x + length * math.sin(a):.1f} {y - length * math.cos(a):.1f}")
        for j in range(4):
            at = length * (0.35 + 0.2 * j)
            px, py = x + at * math.sin(a), y - at * math.cos(a)
            size = 0.16 * min(height, width) + 2
            yield _path("cut-leaf", _leaf(px, py, size, angle - 55, 0.4))
            yield _path("cut-leaf", _leaf(px, py, size, angle + 55, 0.4))


_DRAW: dict[str, Draw] = {
    "staked": _staked, "bush": _bush, "rosette": _rosette, "root": _root, "blades": _blades, "vine": _vine, "shrub": _shrub,
}  # fmt: skip


def plant_paths(shape: str, x: float, y: float, height: float, width: float) -> str:
    """A plant standing at ``(x, y)``, ``height`` and ``width`` px. A seed is not up yet: nothing."""
    return "" if shape == "seed" else "".join(_DRAW[shape](x, y, height, width))


def root_lines(x: float, y: float, depth: float, half_width: float) -> str:
    """Path data of one plant's roots: a main root to ``depth`` and branches, most of them near the surface.

    Branches leave the main root at the depths that part its uptake evenly (1.8 - 1.6 x over the relative depth, as
    :mod:`soakbook.physics.roots` has it).
    """
    lines = [f"M{x:.1f} {y:.1f}Q{x + 2:.1f} {y + depth / 2:.1f} {x - 1:.1f} {y + depth:.1f}"]
    for k in range(ROOTS):
        share = (k + 0.5) / ROOTS
        at = (1.8 - math.sqrt(3.24 - 3.2 * share)) / 1.6
        side = -1 if k % 2 else 1
        long = half_width * (0.4 + 0.6 * ((k * _GOLDEN) % 1.0)) * (1.0 - 0.7 * at)
        start, fall = y + at * depth, min((0.2 + 0.4 * ((3 * k * _GOLDEN) % 1.0)) * long, 0.9 * (1.0 - at) * depth)
        lines.append(
            f"M{x:.1f} {start:.1f}Q{x + side * 0.5 * long:.1f} {start + 0.15 * fall:.1f} {x + side * long:.1f} {start + fall:.1f}"
        )
    return "".join(lines)
