"""The reader of a page: language, measures, clock, order of dates, decimal sign; and everything written that way."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, datetime, time
from functools import cached_property
from typing import Any, Literal, cast
from urllib.parse import unquote

from babel import Locale
from babel.core import negotiate_locale
from babel.dates import format_date

from soakbook.app.texts import translate
from soakbook.said import Measure, Said, as_written, retell, say, say_n
from soakbook.units import UnitSystem, format_quantity

LANGUAGES = {"en": "English", "es": "Español"}
CHOICES: dict[str, tuple[str, ...]] = {
    "language": tuple(LANGUAGES),
    "units": ("metric", "US"),
    "clock": ("24", "12"),
    "dates": ("dmy", "mdy", "ymd"),
    "decimal": (".", ","),
    "theme": ("auto", "light", "dark", "sun"),
}
#: Where months come before days, noon twice a day, and gallons are counted.
_US = {"US", "LR"}
_TWELVE = {"US", "CA", "AU", "NZ", "IN", "PH", "MX", "CO"}
_PATTERNS = {
    ("dmy", "short"): "EEE d MMM", ("mdy", "short"): "EEE MMM d", ("ymd", "short"): "EEE MM-dd",
    ("dmy", "tiny"): "d MMM", ("mdy", "tiny"): "MMM d", ("ymd", "tiny"): "MM-dd",
    ("dmy", "long"): "EEEE d MMMM y", ("mdy", "long"): "EEEE, MMMM d, y", ("ymd", "long"): "EEEE y-MM-dd",
    ("dmy", "numeric"): "dd/MM/y", ("mdy", "numeric"): "MM/dd/y", ("ymd", "numeric"): "y-MM-dd",
}  # fmt: skip
_SPANISH_LONG = {"dmy": "EEEE d 'de' MMMM 'de' y", "mdy": "EEEE, MMMM d 'de' y"}
#: Axis units: factor from the unit used inside, and its sign.
_SCALES = {
    ("depth", "metric"): (1.0, "mm"), ("depth", "US"): (1 / 25.4, "in"),
    ("length", "metric"): (100.0, "cm"), ("length", "US"): (1 / 0.0254, "in"),
    ("volume", "metric"): (1.0, "L"), ("volume", "US"): (1 / 3.785411784, "gal"),
    ("area", "metric"): (1.0, "m²"), ("area", "US"): (10.763910417, "sq ft"),
    ("distance", "metric"): (1.0, "m"), ("distance", "US"): (1 / 0.3048, "ft"),
    ("flow", "metric"): (1.0, "L/h"), ("flow", "US"): (1 / 3.785411784, "gal/h"),
    ("pressure", "metric"): (1.0, "kPa"), ("pressure", "US"): (0.1450377377, "psi"),
    ("temperature", "metric"): (1.0, "°C"), ("temperature", "US"): (1.8, "°F"),
}  # fmt: skip


@dataclass(frozen=True)
class Reader:
    """What the reader has chosen. All writing of numbers, days and sentences on pages goes through here."""

    language: str = "en"
    units: UnitSystem = "metric"
    clock: Literal["24", "12"] = "24"
    dates: Literal["dmy", "mdy", "ymd"] = "dmy"
    decimal: Literal[".", ","] = "."
    theme: Literal["auto", "light", "dark", "sun"] = "auto"

    def t(self, template: str, /, **values: Any) -> str:
        """A sentence in the reader's language, with values put in as the reader writes them."""
        return self.tell(say(template, **values))

    def tn(self, one: str, many: str, n: int, **values: Any) -> str:
        """As :meth:`t`, by number."""
        return self.tell(say_n(one, many, n, **values))

    def tell(self, text: str) -> str:
        """A sentence of the rooms below, said again for the reader; a plain text is looked up as it stands."""
        return retell(text, self._translate, self._show) if isinstance(text, Said) else self._translate(text, None, 1)

    @cached_property
    def _translate(self) -> Any:
        return translate(self.language)

    def _show(self, value: Any, spec: str) -> str:
        if isinstance(value, Measure):
            return self.quantity(value.value, value.kind, value.digits)
        if isinstance(value, datetime):
            return f"{self.day(value.date())} {self.time(value)}"
        if isinstance(value, date):
            return self._dated(value, spec)
        if isinstance(value, float):
            return self._signed(as_written(value, spec or "g"))
        return as_written(value, spec)

    def _dated(self, value: date, spec: str) -> str:
        if spec == "%Y":
            return str(value.year)
        return self.day(value, spec or "numeric")

    def _signed(self, text: str) -> str:
        return re.sub(r"(?<=\d)\.(?=\d)", self.decimal, text)

    def number(self, value: float, digits: int = 0) -> str:
        """A number with so many decimals."""
        return self._signed(f"{value:.{digits}f}")

    def percent(self, fraction: float) -> str:
        """A share as whole percent."""
        return f"{100 * fraction:.0f} %"

    def quantity(self, value: float | None, kind: str, digits: int | None = None) -> str:
        """A quantity in the reader's measures."""
        if value is None:
            return "–"
        text = self._signed(format_quantity(value, kind, self.units, digits))
        number, _, unit = text.rpartition(" ")
        return f"{number} {self._translate(unit, None, 1)}" if unit in ("cup", "cups") else text

    def amount(self, litres: float) -> str:
        """Litres to two figures, which is what a can can do."""
        return self.quantity(float(f"{litres:.2g}"), "volume")

    def scale(self, kind: str) -> tuple[float, str]:
        """Factor and unit for an axis."""
        return _SCALES[kind, self.units]

    def day(self, value: date, form: str = "short") -> str:
        """A day: ``short`` (Tue 11 Jul), ``tiny`` (11 Jul), ``long`` or ``numeric``."""
        pattern = _PATTERNS[self.dates, form]
        if self.language == "es" and form == "long":
            pattern = _SPANISH_LONG.get(self.dates, pattern)
        return format_date(value, pattern, locale=self.language)

    def month(self, value: date, form: str = "long") -> str:
        """A month: ``long`` (July 2017) or ``short`` (Jul)."""
        return format_date(value, "LLLL y" if form == "long" else "LLL", locale=self.language)

    def time(self, value: datetime | time) -> str:
        """A time of day."""
        if self.clock == "24":
            return f"{value:%H:%M}"
        return f"{value.hour % 12 or 12}:{value:%M} {'am' if value.hour < 12 else 'pm'}"

    def listed(self, items: Sequence[str]) -> str:
        """Things in a row, the last with *and*."""
        if len(items) < 2:
            return "".join(items)
        return self.t("{first} and {last}", first=", ".join(items[:-1]), last=items[-1])

    def to_json(self) -> dict[str, str]:
        """The choices as plain data."""
        return {f.name: getattr(self, f.name) for f in fields(self)}


def reader_for(chosen: Mapping[str, Any], accept_language: str = "", units: UnitSystem | None = None) -> Reader:
    """The reader from what was chosen, and for the rest from the browser's languages and the garden's measures."""
    language, region = _wanted(accept_language)
    decimal = str(Locale.parse(f"{language}_{region}" if region else language).number_symbols["latn"]["decimal"])
    guessed = Reader(
        language=language,
        units=units or ("US" if region in _US else "metric"),
        clock="12" if region in _TWELVE else "24",
        dates="mdy" if region in _US else "dmy",
        decimal="," if decimal == "," else ".",
    )
    kept = {name: chosen[name] for name, allowed in CHOICES.items() if chosen.get(name) in allowed}
    return replace(guessed, **cast(Any, kept))


def _wanted(accept_language: str) -> tuple[str, str]:
    """Language we have and region, from an Accept-Language header."""
    wanted = [part.split(";")[0].strip() for part in accept_language[:200].split(",")]
    tags = [tag for tag in wanted if re.fullmatch(r"[A-Za-z]{2,3}(-[A-Za-z]{2}|-\d{3})?", tag)]
    language = negotiate_locale([tag.split("-")[0].lower() for tag in tags], list(LANGUAGES)) or "en"
    region = next((tag[3:].upper() for tag in tags if tag.lower().startswith(language + "-") and len(tag) == 5), "")
    try:
        Locale.parse(f"{language}_{region}" if region else language)
    except ValueError:
        region = ""
    except LookupError:  # a region nobody has heard of
        region = ""
    return language, region


def chosen_from(text: str | None) -> dict[str, Any]:
    """Choices kept as JSON; anything else is no choice."""
    try:
        data = json.loads(unquote(text)) if text else {}
    except ValueError:
        return {}
    return data if isinstance(data, dict) else {}
