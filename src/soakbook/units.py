"""Units at the edges: text such as ``"45 cm"`` to the one unit used inside, and back for the reader.

Inside the program every length is in m, every depth of water in mm, every flow in L/h.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from functools import reduce
from typing import Literal

from soakbook.errors import InputError
from soakbook.said import Said, join_said, say
from soakbook.unit_tables import FOOT_M, INCH_M, KINDS, POUND_KG, PSI_KPA, US_GALLON_L, Kind, Unit

UnitSystem = Literal["metric", "US"]
_MAX_TEXT = 80
_KIND_WORDS = {
    "length": say("length"),
    "depth": say("depth"),
    "area": say("area"),
    "volume": say("volume"),
    "flow": say("flow"),
    "temperature": say("temperature"),
    "speed": say("speed"),
    "rate": say("rate"),
    "pressure": say("pressure"),
    "duration": say("duration"),
    "mass": say("mass"),
    "angle": say("angle"),
    "percent": say("percent"),
    "suction": say("suction"),
}
_A_KIND = {
    "length": say("a length"),
    "depth": say("a depth"),
    "area": say("an area"),
    "volume": say("a volume"),
    "flow": say("a flow"),
    "temperature": say("a temperature"),
    "speed": say("a speed"),
    "rate": say("a rate"),
    "pressure": say("a pressure"),
    "duration": say("a duration"),
    "mass": say("a mass"),
    "angle": say("an angle"),
    "percent": say("a percent"),
    "suction": say("a suction"),
}

#: Units that an example is given in, where the first of the list is not what a gardener would write.
_EXAMPLE = {"length": "cm", "volume": "L", "flow": "L/h", "duration": "min"}


def _key(unit_text: str) -> str:
    text = unit_text.lower().replace(".", "").replace("^", "")
    text = re.sub(r"\s*/\s*|\s+per\s+", "/", text)
    return " ".join(text.split())


def _lookup(kind: Kind) -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for unit in kind.units:
        for name in (unit.name, *unit.aliases):
            table[_key(name)] = unit
    return table


_TABLES = {name: _lookup(kind) for name, kind in KINDS.items()}

_NUMBER = r"[0-9]+\s+[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+"
_PART = re.compile(
    rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>(?:[^\W\d_]\^?[23]?(?![0-9.,])|[^\W\d_]|[°%'\"/.]|\s+(?=[^\W\d_]))*)"
)


def _plain(text: str) -> str:
    """Typographic quotes, fractions, superscripts and signs as plain characters."""
    for chars, plain in (("″“”", '"'), ("′‘’", "'"), ("−–", "-"), ("º˚", "°")):
        for char in chars:
            text = text.replace(char, plain)
    text = text.replace("''", '"')
    pieces = []
    for char in text:
        fraction = unicodedata.decomposition(char).startswith("<fraction>")
        pieces.append(f" {unicodedata.normalize('NFKC', char)} " if fraction else char)
    text = unicodedata.normalize("NFKC", "".join(pieces)).replace("\u2044", "/")
    return " ".join(text.split())


def _number(text: str, whole: str, field: str) -> float:
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", text):
        digits = text.replace(",", "")
        raise InputError(
            say('"{whole}" can be read two ways.', whole=whole),
            code="number.ambiguous",
            field=field,
            hint=say("Write {digits} or {number}.", digits=digits, number=f"{float(text.replace(',', '.')):g}"),
        )
    total = 0.0
    for piece in text.replace(",", ".").split():
        if "/" in piece:
            top, bottom = piece.split("/")
            if not int(bottom):
                raise InputError(say('"{whole}" divides by zero.', whole=whole), code="quantity.number", field=field)
            total += int(top) / int(bottom)
        else:
            total += float(piece)
    return total


def _hint(kind: Kind, unit_text: str) -> str:
    near = difflib.get_close_matches(_key(unit_text), list(_TABLES[kind.name]), n=1, cutoff=0.5)
    allowed = _units_of(kind)
    return join_said([_did_you_mean(_TABLES[kind.name][near[0]].name), allowed]) if near else allowed


def _units_of(kind: Kind) -> Said:
    return say("Units of {kind}: {units}.", kind=_KIND_WORDS[kind.name], units=", ".join(_shown(kind)))


def _did_you_mean(word: str) -> Said:
    return say('Did you mean "{word}"?', word=word)


def _shown(kind: Kind) -> tuple[str, ...]:
    names = kind.names()
    return names if len(names) <= 14 else tuple(n for n in names if n.endswith(("/h", "/min")))


def _unit(unit_text: str, kind: Kind, whole: str, field: str) -> Unit:
    key = _key(unit_text)
    table = _TABLES[kind.name]
    for candidate in (key, key.removesuffix("s"), key.replace("s/", "/")):
        if candidate in table:
            return table[candidate]
    if re.match(r"(x|by)\b", key):
        raise InputError(
            say('"{whole}" is more than one {kind}; one is wanted here.', whole=whole, kind=_KIND_WORDS[kind.name]),
            code="quantity.several",
            field=field,
            hint=say('Give one, such as "20 {unit}".', unit=_EXAMPLE.get(kind.name, kind.units[0].name)),
        )
    for other in KINDS.values():
        if key in _TABLES[other.name]:
            raise InputError(
                say(
                    '"{whole}" is {other}; {kind} is wanted here.',
                    whole=whole,
                    other=_A_KIND[other.name],
                    kind=_A_KIND[kind.name],
                ),
                code="unit.wrong_kind",
                field=field,
                hint=_hint(kind, unit_text),
            )
    raise InputError(
        say('"{whole}": the unit "{unit_text}" is not known.', whole=whole, unit_text=unit_text.strip()),
        code="unit.unknown",
        field=field,
        hint=_hint(kind, unit_text),
    )


def _kind(name: str) -> Kind:
    if name not in KINDS:
        raise InputError(
            say('"{name}" is not a kind of quantity; kinds are {kinds}.', name=name, kinds=", ".join(KINDS)),
            code="unit.kind",
        )
    return KINDS[name]


def _bare(value: float, kind: Kind, bare: str | None, field: str, given: str) -> float:
    if not math.isfinite(value):
        raise InputError(
            say("{given} is not a number that can be used.", given=given), code="number.not_finite", field=field
        )
    unit_name = bare or kind.bare
    if unit_name is None:
        raise InputError(
            say("{given} has no unit.", given=given),
            code="unit.missing",
            field=field,
            hint=join_said(
                [
                    say(
                        'Write the unit in quotes, such as "{given} {unit}".',
                        given=given,
                        unit=_EXAMPLE.get(kind.name, kind.units[0].name),
                    ),
                    _units_of(kind),
                ]
            ),
        )
    unit = _TABLES[kind.name].get(_key(unit_name))
    if unit is None:
        raise InputError(
            say('"{unit_name}" is not a unit of {kind}.', unit_name=unit_name, kind=_KIND_WORDS[kind.name]),
            code="unit.unknown",
            field=field,
        )
    return unit.factor * value + unit.offset


def _in_range(value: float, kind: Kind, given: str, field: str) -> float:
    if not math.isfinite(value):
        raise InputError(say('"{given}" is too large to use.', given=given), code="number.not_finite", field=field)
    if not kind.low <= value <= kind.high:
        raise InputError(
            say(
                '"{given}" must be between {low:g} and {high:g} {canonical}.',
                given=given,
                low=kind.low,
                high=kind.high,
                canonical=kind.canonical,
            ),
            code=f"{kind.name}.range",
            field=field,
        )
    return value


def parse_quantity(text: str | int | float, kind: str, *, bare: str | None = None, field: str = "") -> float:
    """Read a quantity with its unit into the unit used inside.

    Parameters
    ----------
    text
        Such as ``"45 cm"``, ``"1 ft 6 in"``, ``"½ gal/h"`` or ``"1,5 m"``. A comma is a decimal comma.
        Gallons are US gallons unless written ``"imp gal"``.
    kind
        length [m], depth [mm], area [m²], volume [L], flow [L/h], temperature [°C], speed [m/s], rate [mm/h],
        pressure [kPa], duration [h], mass [kg], angle [°], percent [0..100] or suction [kPa].
    bare
        Unit of a number without one. Without it a bare number is an error, except for angles and percent.
    field
        Which entry it is, for the error.

    Returns
    -------
    float
        The value in the unit used inside, finite.

    Raises
    ------
    InputError
        Unit unknown, missing or of another kind; text that is no number; more than one quantity.

    Examples
    --------
    >>> parse_quantity("45 cm", "length")
    0.45
    >>> parse_quantity("1 ft 6 in", "length")
    0.4572
    """
    the_kind = _kind(kind)
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise InputError(
            say("{text} is not a {kind}.", text=repr(text), kind=_KIND_WORDS[kind]), code="quantity.number", field=field
        )
    if not isinstance(text, str):
        try:
            value = float(text)
        except OverflowError:
            value = math.inf
        given = str(text) if isinstance(text, int) and math.isfinite(value) else f"{value:g}"
        return _in_range(_bare(value, the_kind, bare, field, given), the_kind, given, field)
    if len(text) > _MAX_TEXT:
        raise InputError(
            say('"{text}…" is too long for a {kind}.', text=text[:20], kind=_KIND_WORDS[kind]),
            code="quantity.number",
            field=field,
        )
    return _in_range(_parse_text(text, the_kind, bare, field), the_kind, text.strip(), field)


def _parse_text(text: str, kind: Kind, bare: str | None, field: str) -> float:
    plain = _plain(text)
    sign = -1.0 if plain.startswith("-") else 1.0
    rest = plain.removeprefix("-").removeprefix("+")
    parts: list[tuple[str, str]] = []
    at = 0
    while at < len(rest) and (match := _PART.match(rest, at)):
        parts.append((match["number"], match["unit"].strip()))
        at = match.end()
    if not parts or rest[at:].strip():
        example = f'"20 {_EXAMPLE.get(kind.name, kind.units[0].name)}"'
        raise InputError(
            say('"{text}" cannot be read as {kind}.', text=text.strip(), kind=_A_KIND[kind.name]),
            code="quantity.number" if plain else "quantity.empty",
            field=field,
            hint=say(
                "Write a number and its unit, such as {example}. Units: {known}.",
                example=example,
                known=", ".join(_shown(kind)),
            ),
        )
    if len(parts) == 1 and not parts[0][1]:
        return _bare(sign * _number(parts[0][0], plain, field), kind, bare, field, plain)
    return sign * _sum(parts, kind, text.strip(), field) if len(parts) > 1 else _one(parts[0], sign, kind, plain, field)


def _one(part: tuple[str, str], sign: float, kind: Kind, whole: str, field: str) -> float:
    unit = _unit(part[1], kind, whole, field)
    # Inches and gallons come out as 12 x 25.4 mm exactly, without the last binary digit of noise.
    return float(f"{unit.factor * sign * _number(part[0], whole, field) + unit.offset:.15g}")


def _sum(parts: list[tuple[str, str]], kind: Kind, whole: str, field: str) -> float:
    """``1 ft 6 in``: several units of one quantity, each smaller than the one before."""
    units = [_unit(unit_text, kind, whole, field) if unit_text else None for _, unit_text in parts]
    total, last = 0.0, math.inf
    for (number, _), unit in zip(parts, units, strict=True):
        if unit is None or not kind.compound or unit.factor >= last:
            raise InputError(
                say('"{whole}" cannot be read as one {kind}.', whole=whole, kind=_KIND_WORDS[kind.name]),
                code="quantity.several",
                field=field,
                hint=say('Give one, such as "20 {unit}".', unit=_EXAMPLE.get(kind.name, kind.units[0].name)),
            )
        total += unit.factor * _number(number, whole, field)
        last = unit.factor
    return float(f"{total:.15g}")


def parse_one_of(text: str, kinds: tuple[str, ...], *, field: str = "") -> tuple[str, float]:
    """Read a quantity that may be of several kinds, told by its unit: the kind, and the inside value."""
    for kind in kinds:
        try:
            return kind, parse_quantity(text, kind, field=field)
        except InputError as error:
            if error.code not in {"unit.wrong_kind", "unit.unknown", "unit.missing"}:
                raise
    examples = [f'"20 {_kind(kind).canonical}"' for kind in kinds]
    match = _PART.match(_plain(text))
    words = {word: unit.name for kind in kinds for word, unit in _TABLES[kind].items()}
    near = difflib.get_close_matches(_key(match["unit"]) if match else "", list(words), n=1, cutoff=0.5)
    raise InputError(
        say('"{text}" does not have a unit that fits here.', text=text.strip()),
        code="unit.unknown",
        field=field,
        hint=join_said(
            [
                _did_you_mean(words[near[0]]) if near else "",
                say(
                    "Give {examples}.",
                    examples=reduce(lambda one, other: say("{one} or {other}", one=one, other=other), examples),
                ),
            ]
        ),
    )


def parse_sides(text: str, *, bare: str | None = None, field: str = "") -> tuple[float, float]:
    """Read two lengths such as ``"3 m x 1.2 m"`` or ``"20 x 12 cm"``. [m, m]

    A unit on the second length counts for the first as well when that has none.
    """
    halves = re.split(r"\s*(?:[x×*]|\bby\b)\s*", text.strip(), flags=re.IGNORECASE) if len(text) <= _MAX_TEXT else []
    if len(halves) != 2 or not all(halves):
        raise InputError(
            say('"{text}" is not two lengths.', text=text.strip()[:_MAX_TEXT]),
            code="size.two_lengths",
            field=field,
            hint=say('Write length and width, such as "3 m x 1.2 m".'),
        )
    second = parse_quantity(halves[1], "length", bare=bare, field=field)
    if re.search(r"[^\W\d_]|['\"′″’”]", halves[0]):
        return parse_quantity(halves[0], "length", field=field), second
    match = _PART.match(_plain(halves[1]))
    shared = match["unit"].strip() if match else ""
    return parse_quantity(halves[0], "length", bare=shared or bare, field=field), second


def _decimals(value: float, places: int | None, significant: int = 2) -> str:
    """``value`` with ``places`` decimals, or to about ``significant`` digits; whole numbers are never cut."""
    if places is None:
        size = abs(value)
        places = max(0, significant - 1 - math.floor(math.log10(size))) if size > 1e-9 else 0
        places = min(places, 6)
        return f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
    return f"{value:.{places}f}"


#: Ladders of (from this many canonical units up, unit shown, canonical per unit, word), largest first.
_LADDERS: dict[tuple[str, str], tuple[tuple[float, float, str], ...]] = {
    ("length", "metric"): ((0.995, 1.0, "m"), (0.0095, 0.01, "cm"), (0.0, 0.001, "mm")),
    ("length", "US"): ((3 * FOOT_M, FOOT_M, "ft"), (0.0, INCH_M, "in")),
    ("depth", "metric"): ((0.0, 1.0, "mm"),),
    ("depth", "US"): ((0.0, 1000 * INCH_M, "in"),),
    ("area", "metric"): ((0.0995, 1.0, "m²"), (0.0, 1e-4, "cm²")),
    ("area", "US"): ((0.995 * FOOT_M**2, FOOT_M**2, "sq ft"), (0.0, INCH_M**2, "sq in")),
    ("volume", "metric"): ((0.995, 1.0, "L"), (0.0, 0.001, "mL")),
    ("volume", "US"): ((0.3 * US_GALLON_L, US_GALLON_L, "gal"),),
    ("flow", "metric"): ((0.0, 1.0, "L/h"),),
    ("flow", "US"): ((0.0, US_GALLON_L, "gal/h"),),
    ("speed", "metric"): ((0.0, 1.0, "m/s"),),
    ("speed", "US"): ((0.0, 1609.344 / 3600, "mph"),),
    ("rate", "metric"): ((0.0, 1.0, "mm/h"),),
    ("rate", "US"): ((0.0, 1000 * INCH_M, "in/h"),),
    ("pressure", "metric"): ((0.0, 1.0, "kPa"),),
    ("pressure", "US"): ((0.0, PSI_KPA, "psi"),),
    ("mass", "metric"): ((0.995, 1.0, "kg"), (0.0, 0.001, "g")),
    ("mass", "US"): ((POUND_KG, POUND_KG, "lb"), (0.0, POUND_KG / 16, "oz")),
    ("suction", "metric"): ((0.0, 1.0, "kPa"),),
    ("suction", "US"): ((0.0, 1.0, "kPa"),),
}
_QUARTERS = ("", "¼", "½", "¾")


def format_quantity(value: float, kind: str, system: UnitSystem, digits: int | None = None) -> str:
    """Write a quantity the way a gardener reads it.

    Parameters
    ----------
    value
        In the unit used inside (see :func:`parse_quantity`).
    kind
        Kind of quantity.
    system
        ``"metric"`` (mL, L, cm, m, mm) or ``"US"`` (cups, gallons, inches, feet).
    digits
        Decimals to show; None rounds to what can be measured out (about two figures).

    Returns
    -------
    str
        Such as ``"750 mL"``, ``"2½ cups"`` or ``"45 min"``; ``"not known"`` for NaN.

    Examples
    --------
    >>> format_quantity(0.75, "volume", "metric")
    '750 mL'
    >>> format_quantity(3.785411784, "volume", "US")
    '1 gal'
    """
    _kind(kind)
    if math.isnan(value):
        return "not known"
    if value < 0 and kind != "temperature":
        return "-" + format_quantity(-value, kind, system, digits)
    if kind == "duration":
        return _format_duration(value)
    if kind == "temperature":
        number, unit = (value, "°C") if system == "metric" else (value * 1.8 + 32, "°F")
        return f"{number:.{0 if digits is None else digits}f} {unit}".replace("-0 ", "0 ")
    if kind in {"angle", "percent"}:
        return f"{value:.{digits or 0}f}" + ("°" if kind == "angle" else " %")
    if kind == "volume" and system == "US" and value < 0.3 * US_GALLON_L:
        return _format_cups(value, digits)
    for start, per_unit, word in _LADDERS[kind, system]:
        if value >= start:
            return f"{_decimals(value / per_unit, digits)} {word}"
    raise AssertionError(f"no unit for {value} of {kind}")  # every ladder ends at zero


def _format_cups(litres: float, digits: int | None) -> str:
    """Cups to the quarter, as measuring cups have them; fluid ounces below a quarter cup."""
    cups = litres / (US_GALLON_L / 16)
    if cups < 0.25:
        return f"{_decimals(cups * 8, digits)} fl oz"
    if digits is not None:
        return f"{cups:.{digits}f} cups"
    quarters = round(cups * 4)
    word = say("cup") if quarters <= 4 else say("cups")
    return f"{quarters // 4 or ''}{_QUARTERS[quarters % 4]} {word}"


def _format_duration(hours: float) -> str:
    seconds = round(hours * 3600)
    if seconds < 90 and seconds != 60:
        return f"{seconds} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    if minutes >= 48 * 60:
        return f"{_decimals(minutes / 1440, None)} d"
    return f"{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")
