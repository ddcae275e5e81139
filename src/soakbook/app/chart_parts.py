"""What all charts are made of: marks, points, keys, axes, and the reader they are written for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

Block = dict[str, Any]


class Reader(Protocol):
    """What the pictures need of :class:`soakbook.app.reader.Reader`: sentences, numbers and days as the reader writes them."""

    def t(self, template: str, /, **values: Any) -> str: ...
    def tn(self, one: str, many: str, n: int, **values: Any) -> str: ...
    def tell(self, text: str) -> str: ...
    def number(self, value: float, digits: int = 0) -> str: ...
    def percent(self, fraction: float) -> str: ...
    def quantity(self, value: float | None, kind: str, digits: int | None = None) -> str: ...
    def amount(self, litres: float) -> str: ...
    def scale(self, kind: str) -> tuple[float, str]: ...
    def day(self, value: date, form: str = "short") -> str: ...
    def month(self, value: date, form: str = "long") -> str: ...


#: Height of a row of a chart that is read downwards: up to two lines of words above its bar. [px]
ROW_PX = 54
#: Room under an axis for its texts. [px]
AXIS_PX = 40


@dataclass(frozen=True)
class Chart:
    """One picture: its name, title, the sentence that says what it shows, the data to draw, and the same as a table."""

    name: str
    title: str
    says: str
    block: Block
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def mark(kind: str, look: str, items: Iterable[Sequence[Any]]) -> Block:
    rounded = [[round(v, 4) if isinstance(v, float) else v for v in item] for item in items]
    return {"type": kind, "look": look, "items": rounded}


def point(start: float, end: float, label: str) -> Block:
    return {"from": start, "to": end, "label": label}


def key(*parts: tuple[str, str, str]) -> list[Block]:
    return [{"type": kind, "look": look, "text": text} for kind, look, text in parts]


def nice_ticks(most: float, count: int = 4) -> list[float]:
    """Round steps of 1, 2, 2.5 or 5 from 0 that reach ``most`` or beyond in about ``count`` steps.

    >>> nice_ticks(9.2)
    [0.0, 2.5, 5.0, 7.5, 10.0]
    """
    if most <= 0.0:
        return [0.0, 1.0]
    rough = most / count
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(s * power for s in (1.0, 2.0, 2.5, 5.0, 10.0) if s * power >= rough * 0.999)
    return [i * step for i in range(math.ceil(most / step - 1e-9) + 1)]


def axis_from_zero(most: float, kind: str, reader: Reader, count: int = 4) -> Block:
    """An axis from 0 in the reader's unit; ``most`` in the unit used inside."""
    factor, unit = reader.scale(kind)
    ticks = nice_ticks(most * factor, count)
    step = ticks[1] - ticks[0]
    digits = max(0, -math.floor(math.log10(step) + 1e-9)) + (1 if str(round(step, 6)).rstrip("0").endswith("25") else 0)
    texts = [[round(t / factor, 6), reader.number(t, digits)] for t in ticks]
    texts[-1][1] = f"{texts[-1][1]} {unit}"
    return {"from": 0, "to": texts[-1][0], "ticks": texts}


def axis_between(low: float, high: float, kind: str, reader: Reader, count: int = 4) -> Block:
    """An axis over a range that need not begin with 0, in the reader's unit; the ends in the unit used inside."""
    factor, unit = reader.scale(kind)
    step = nice_ticks((high - low) * factor, count)[1]
    first, last = math.floor(low * factor / step + 1e-9), math.ceil(high * factor / step - 1e-9)
    digits = max(0, -math.floor(math.log10(step) + 1e-9)) + (1 if str(round(step, 6)).rstrip("0").endswith("25") else 0)
    texts: list[list[Any]] = [
        [round(k * step / factor, 6), reader.number(k * step, digits)] for k in range(first, max(last, first + 1) + 1)
    ]
    texts[-1][1] = f"{texts[-1][1]} {unit}"
    return {"from": texts[0][0], "to": texts[-1][0], "ticks": texts}


def rows_axis(count: int) -> Block:
    return {"from": count, "to": 0, "ticks": []}


def depth_text(depth_mm: float, reader: Reader) -> str:
    """A depth of water to a tenth of a millimetre, or as fine in inches, so that parts add up as they are read."""
    return reader.quantity(depth_mm, "depth", 1 if reader.scale("depth")[0] == 1.0 else 2)
