"""What stands in a garden document as the fields of forms, and back. Values are kept as they were written.

One list of fields for each table of the garden file, in the order of its description. A form may show only some of them:
entries whose fields it does not have stay as they are, and so does every entry whose fields come back unchanged.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from soakbook.errors import InputError, InputErrors
from soakbook.garden.build_place import COMPASS
from soakbook.garden.words import KnownWords, plain
from soakbook.said import Said, say
from soakbook.units import UnitSystem

Entry = dict[str, Any]
Form = Mapping[str, str]
Kind = Literal[
    "text", "quantity", "percent", "degrees", "fraction", "number", "whole", "day", "yes", "choice", "word", "soil",
    "sides", "base", "jar", "feel", "mulch", "sun", "table",
]  # fmt: skip

#: Rows of a form for what stands between the eight directions.
MORE_DIRECTIONS = 4
_BARE = re.compile(r"[+-]?[\d.,/\s½¼¾⅓⅔⅛⅜⅝⅞]+")
_SIDES = re.compile(r"\s*(?:[x×*]|\bby\b)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Field:
    """One entry. ``bare``: the units a number without one gets, metric and US. ``usual`` is what holds when it is left out."""

    key: str
    kind: Kind = "text"
    bare: tuple[str, str] = ("", "")
    usual: str = ""
    words: str = ""
    fields: tuple[Field, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The form fields it takes."""
        if self.kind in ("sides", "base"):
            return (f"{self.key}.1", f"{self.key}.2")
        if self.kind == "jar":
            return ("jar.sand", "jar.silt", "jar.clay")
        if self.kind == "sun":
            more = (f"sun.more{i}.{part}" for i in range(1, MORE_DIRECTIONS + 1) for part in ("way", "angle"))
            return (*(f"sun.{word}" for word in COMPASS), *more)
        if self.kind in ("table", "mulch"):
            return tuple(f"{self.key}.{name}" for field in self.fields for name in field.names)
        return (self.key,)


_SMALL, _LARGE, _FLOW, _VOLUME = ("cm", "in"), ("m", "ft"), ("L/h", "gal/h"), ("L", "gal")

GARDEN = (
    Field("name"), Field("where"), Field("latitude", "degrees"), Field("longitude", "degrees"),
    Field("elevation", "quantity", _LARGE), Field("time_zone"), Field("weather", usual="normals"),
    Field("units", "choice", usual="metric"), Field("invented", "yes"), Field("start", "day"),
)  # fmt: skip
SUPPLY = (
    Field("source", "choice", usual="mains"), Field("can", "quantity", _VOLUME), Field("tank", "quantity", _VOLUME), Field("hose"), Field("price"),
    Field("salt", "quantity", ("dS/m", "dS/m")),
)  # fmt: skip
WISHES = tuple(Field(key, "number", usual="1") for key in ("spare_water", "spare_time", "best_crop"))
LINE = (
    Field("name"), Field("means", "word", words="means"), Field("flow", "quantity", _FLOW), Field("measured", "yes"),
    Field("each", "quantity", _FLOW), Field("every", "quantity", _SMALL), Field("long", "quantity", _LARGE),
)  # fmt: skip
LAYER = (
    Field("thickness", "quantity", _SMALL), Field("texture", "word", words="textures"), Field("sand_pct", "percent"),
    Field("clay_pct", "percent"), Field("organic_matter_pct", "percent"), Field("stones_pct", "percent"),
    Field("compaction", "number"), Field("field_capacity", "fraction"), Field("wilting_point", "fraction"),
    Field("saturation", "fraction"), Field("conductivity", "quantity", ("mm/h", "in/h")), Field("jar", "jar", _SMALL),
    Field("feel", "feel"), Field("mix", "word", words="mixes"),
)  # fmt: skip
POT = (
    Field("volume", "quantity", _VOLUME), Field("diameter", "quantity", _SMALL), Field("sides", "sides", _SMALL),
    Field("height", "quantity", _SMALL), Field("base", "base", _SMALL), Field("filled", "percent"),
    Field("wall", "choice", usual="plastic"), Field("saucer", "quantity", _SMALL), Field("count", "whole"),
)  # fmt: skip
MULCH = (Field("kind", "word", words="mulches"), Field("cover", "percent"))
WETTED = (
    Field("flow", "quantity", _FLOW), Field("run", "quantity", ("min", "min")), Field("circle", "quantity", _SMALL),
    Field("dug", "quantity", _SMALL), Field("line", "yes"), Field("seen", "day"),
)  # fmt: skip
PLACE = (
    Field("name"), Field("kind", "choice"), Field("soil", "soil"), Field("size", "sides", _LARGE),
    Field("area", "quantity", ("m2", "sq ft")), Field("pot", "table", fields=POT), Field("barrier", "quantity", _SMALL),
    Field("mulch", "mulch", fields=MULCH), Field("sun", "sun", ("deg", "deg")), Field("shelter", "choice", usual="open"),
    Field("cover", "choice", usual="none"), Field("lets_through", "percent"),
    Field("surroundings", "choice", usual="garden"), Field("rain", "percent"), Field("watered", "word", words="means"),
    Field("line"), Field("line_share", "percent"), Field("emitters", "whole"), Field("each", "quantity", _FLOW),
    Field("wets", "percent"), Field("wetted", "table", fields=WETTED), Field("followed", "day"), Field("note"),
)  # fmt: skip
PLANTING = (
    Field("plant", "word", words="plants"), Field("sown", "day"), Field("planted", "day"), Field("established", "yes"),
    Field("cleared", "day"), Field("count", "whole"), Field("spacing", "quantity", _SMALL),
    Field("rows", "quantity", _SMALL), Field("width", "quantity", _SMALL), Field("height", "quantity", _SMALL),
    Field("measured", "day"), Field("share", "percent"),
)  # fmt: skip


# --- to the form ---------------------------------------------------------------------------------------------------------
def form_of(fields: Iterable[Field], entry: Entry, known: KnownWords) -> dict[str, str]:
    """The form fields of an entry, each as it was written."""
    form: dict[str, str] = {}
    for field in fields:
        form |= _shown(field, entry.get(field.key), known)
    return form


def _shown(field: Field, value: Any, known: KnownWords) -> dict[str, str]:
    blank = dict.fromkeys(field.names, "")
    if field.kind == "table":
        inside = value if isinstance(value, dict) else {}
        return {f"{field.key}.{name}": text for name, text in form_of(field.fields, inside, known).items()}
    if field.kind == "mulch":
        inside = {"kind": value} if isinstance(value, str) else value or {}
        return {f"{field.key}.{name}": text for name, text in form_of(field.fields, inside, known).items()}
    if value is None:
        return blank if not field.usual else {field.key: field.usual}
    if field.kind == "sun":
        return blank | _sun_shown(value)
    if field.kind in ("sides", "base"):
        return blank | dict(zip(field.names, _halves(str(value)), strict=False))
    if field.kind == "jar":
        return blank | dict(zip(field.names, map(_text, value), strict=False))
    if field.kind == "feel":
        return {field.key: ",".join(map(str, value))}
    if field.kind == "word":
        return {field.key: _word_of(field.words, str(value), known)}
    if field.kind == "choice":
        word = str(value).strip().replace(" ", "_").replace("-", "_")
        return {field.key: "US" if word.casefold() == "us" else word.casefold()}
    if field.kind == "soil" and not isinstance(value, str):
        return {field.key: ""}  # a table of its own, changed on the soil's page
    return {field.key: _text(value)}


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else ""
    return repr(value) if isinstance(value, float) else str(value)


def _word_of(words: str, value: str, known: KnownWords) -> str:
    try:
        return known.resolve(words, value)
    except InputError:
        return value


def _halves(text: str) -> list[str]:
    """Two lengths, each with its unit: ``20 x 12 cm`` is 20 cm and 12 cm."""
    halves = _SIDES.split(text.strip(), maxsplit=1)
    if len(halves) == 2 and _BARE.fullmatch(halves[0]):
        unit = re.sub(r"^[+-]?[\d.,/\s½¼¾⅓⅔⅛⅜⅝⅞]+", "", halves[1])
        halves[0] = f"{halves[0]} {unit}".strip()
    return halves


def _sun_shown(value: Any) -> dict[str, str]:
    """By direction; what stands in none of the eight goes into the rows below them."""
    by_degrees = {degrees: word for word, degrees in COMPASS.items()}
    form: dict[str, str] = {}
    if isinstance(value, dict):
        return {f"sun.{plain(word).replace(' ', '')}": _text(angle) for word, angle in value.items()}
    row = 0
    for way, angle in value:
        word = by_degrees.get(float(way)) if isinstance(way, int | float) else None
        if word is not None and f"sun.{word}" not in form:
            form[f"sun.{word}"] = _text(angle)
            continue
        row += 1
        form |= {f"sun.more{row}.way": _text(way), f"sun.more{row}.angle": _text(angle)}
    return form


# --- from the form -------------------------------------------------------------------------------------------------------
def entry_of(fields: Iterable[Field], form: Form, before: Entry, known: KnownWords, units: UnitSystem) -> Entry:
    """The entry a form makes of the one before. What is in the form as it was shown is kept as it was written.

    Raises
    ------
    InputError
        A number that is none, with the form's field; InputErrors when there are several. All else is for the check.
    """
    entry = dict(before)
    wrong: list[InputError] = []
    for field in fields:
        names = field.names
        if not any(name in form for name in names):
            continue
        old = _shown(field, before.get(field.key), known)
        new = {name: form.get(name, old.get(name, "")).strip() for name in (*names, *_extra_rows(field, form))}
        if new == {name: old.get(name, "") for name in new}:
            continue
        try:
            value = _value(field, new, before.get(field.key), known, units)
        except InputError as error:
            wrong += error.errors if isinstance(error, InputErrors) else [error]
            continue
        if value is None:
            entry.pop(field.key, None)
        else:
            entry[field.key] = value
    if wrong:
        raise wrong[0] if len(wrong) == 1 else InputErrors(wrong)
    return entry


def _extra_rows(field: Field, form: Form) -> tuple[str, ...]:
    """Rows of directions beyond the usual number, for a file that has many."""
    if field.kind != "sun":
        return ()
    return tuple(
        name for name in form if re.fullmatch(r"sun\.more[0-9]{1,3}\.(way|angle)", name) and name not in field.names
    )


def _value(field: Field, new: dict[str, str], before: Any, known: KnownWords, units: UnitSystem) -> Any:
    """What is written for the fields of one entry; None when all are empty."""
    if field.kind in ("table", "mulch"):
        cut = len(field.key) + 1
        inside = before if isinstance(before, dict) else {"kind": before} if isinstance(before, str) else {}
        try:
            made = entry_of(field.fields, {name[cut:]: text for name, text in new.items()}, inside, known, units)
        except InputError as error:
            raise _moved(error, field.key) from None
        if field.kind == "mulch" and not new["mulch.kind"]:
            return None
        return made or None
    if not any(new.values()):
        return None
    bare = field.bare[0 if units == "metric" else 1]
    if field.kind == "sun":
        return _sun(new)
    if field.kind in ("sides", "base"):
        first, second = (with_unit(new[name], bare) for name in field.names)
        return f"{first} x {second}" if second or field.kind == "sides" else first
    if field.kind == "jar":
        return [with_unit(new[name], bare) for name in field.names]
    text = new[field.key]
    if field.kind == "quantity":
        return with_unit(text, bare)
    return _plain_value(field, text)


def _plain_value(field: Field, text: str) -> Any:
    if field.kind == "percent":
        return with_unit(text, "%")
    if field.kind == "fraction":
        return _fraction(text)
    if field.kind in ("number", "degrees"):
        number = _number(text)
        if number is None and field.kind == "number":
            raise InputError(say("this must be a number, such as 1.1."), code="number", field=field.key)
        return text if number is None else number
    if field.kind == "whole":
        if not re.fullmatch(r"\d{1,9}", text):
            raise InputError(say("this must be a whole number, such as 6."), code="number.whole", field=field.key)
        return int(text)
    if field.kind == "yes":
        return True
    if field.kind == "feel":
        return [answer for answer in text.split(",") if answer]
    return text


def _number(text: str) -> int | float | None:
    plain_text = text.replace(",", ".").replace("−", "-")
    if re.fullmatch(r"[+-]?\d{1,12}", plain_text):
        return int(plain_text)
    return float(plain_text) if re.fullmatch(r"[+-]?\d{0,12}\.\d{1,12}", plain_text) else None


def _fraction(text: str) -> Any:
    """``0.31``, ``31 %``, or 31, which can only be percent."""
    number = _number(text)
    if number is None:
        return text
    return f"{text} %" if number >= 1 else number


def with_unit(text: str, unit: str) -> str:
    """The text, with the unit after it when it is a number alone.

    Examples
    --------
    >>> with_unit("45", "cm"), with_unit("1 ft 6 in", "cm")
    ('45 cm', '1 ft 6 in')
    """
    return f"{text} {unit}" if unit and _BARE.fullmatch(text) else text


def _sun(new: dict[str, str]) -> Any:
    """By the names of the directions, or by degrees where the names do not do. A side left empty is open: 0 is written,
    for between two directions the height runs from one to the other."""
    named = {word: with_unit(new[f"sun.{word}"] or "0", "deg") for word in COMPASS}
    rows = sorted({name.split(".")[1] for name in new if name.startswith("sun.more")}, key=lambda row: int(row[4:]))
    more = [(new.get(f"sun.{row}.way", ""), new.get(f"sun.{row}.angle", "")) for row in rows]
    more = [(way, angle) for way, angle in more if way or angle]
    if not more:
        return named
    pairs: list[list[Any]] = [[int(COMPASS[word]), angle] for word, angle in named.items()]
    return pairs + [
        [way if (number := _number(way)) is None else number, with_unit(angle, "deg")] for way, angle in more
    ]


def _moved(error: InputError, key: str) -> InputError:
    every = error.errors if isinstance(error, InputErrors) else [error]
    moved = [InputError(e.message, code=e.code, field=f"{key}.{e.field}", hint=e.hint) for e in every]
    return moved[0] if len(moved) == 1 else InputErrors(moved)


# --- errors ----------------------------------------------------------------------------------------------------------------
#: Entries of the file whose errors belong beside another field of the form.
_BESIDE = {
    "size": "size.1", "pot": "pot.diameter", "pot.sides": "pot.sides.1", "pot.base": "pot.base.1", "jar": "jar.sand",
    "mulch": "mulch.kind", "sun": "sun.south", "wetted": "wetted.circle",
}  # fmt: skip


def form_errors(error: InputError, prefix: str, names: Iterable[str]) -> dict[str, list[InputError]]:
    """Errors of a whole document by the fields of one form; ``prefix`` is where its entry stands, such as ``places.3``.

    Errors elsewhere, and of entries the form does not show, come under ``""`` and name their entry.
    """
    shown = set(names)
    found: dict[str, list[InputError]] = {}
    for one in error.errors if isinstance(error, InputErrors) else [error]:
        field = _form_field(one.field, prefix, shown)
        found.setdefault(field, []).append(_in_form_words(one))
    return found


def _form_field(field: str, prefix: str, shown: set[str]) -> str:
    inside = field.removeprefix(prefix + ".") if prefix and field.startswith(prefix + ".") else field
    if field == prefix:
        return ""
    inside = inside.removeprefix("layers.")
    while inside:
        for name in (inside, _BESIDE.get(inside, "")):
            if name in shown:
                return name
        inside = inside.rpartition(".")[0]
    return ""


def _in_form_words(error: InputError) -> InputError:
    """The file's own spelling means nothing in a form."""
    if error.code == "key.missing":
        return InputError(say("this is missing."), code=error.code, field=error.field)
    if error.code == "line.flow":
        told = say("a measured flow needs its number: give the flow, or take this mark away.")
        return InputError(told, code=error.code, field=error.field)
    hint = error.hint
    template = hint.template if isinstance(hint, Said) else hint
    if " = " in template or "quotes" in template or "[" in template:
        hint = ""
    return InputError(error.message, code=error.code, field=error.field, hint=hint)
