"""A reader without a language file: English, metric or US measures, for the tests of pictures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from soakbook.units import UnitSystem, format_quantity

_SCALES = {
    ("depth", "metric"): (1.0, "mm"), ("depth", "US"): (1 / 25.4, "in"),
    ("length", "metric"): (100.0, "cm"), ("length", "US"): (1 / 0.0254, "in"),
    ("volume", "metric"): (1.0, "L"), ("volume", "US"): (1 / 3.785411784, "gal"),
}  # fmt: skip
_DAYS = {"short": "%a %-d %b", "tiny": "%-d %b", "long": "%A %-d %B %Y", "numeric": "%Y-%m-%d"}


@dataclass(frozen=True)
class PlainReader:
    """Keeps to what :class:`soakbook.app.charts.Reader` asks for."""

    units: UnitSystem = "metric"

    def t(self, template: str, /, **values: Any) -> str:
        return template.format(**values)

    def tn(self, one: str, many: str, n: int, **values: Any) -> str:
        return (one if n == 1 else many).format(n=n, **values)

    def tell(self, text: str) -> str:
        return text

    def number(self, value: float, digits: int = 0) -> str:
        return f"{value:.{digits}f}"

    def percent(self, fraction: float) -> str:
        return f"{100 * fraction:.0f} %"

    def quantity(self, value: float | None, kind: str, digits: int | None = None) -> str:
        return "–" if value is None else format_quantity(value, kind, self.units, digits)

    def amount(self, litres: float) -> str:
        return self.quantity(float(f"{litres:.2g}"), "volume")

    def scale(self, kind: str) -> tuple[float, str]:
        return _SCALES[kind, self.units]

    def day(self, value: date, form: str = "short") -> str:
        return value.strftime(_DAYS[form])

    def month(self, value: date, form: str = "long") -> str:
        return value.strftime("%B %Y" if form == "long" else "%b")
