"""Sentences that can be said again in the reader's language and measures.

:func:`say` makes an English sentence that keeps the pattern it was made from and what was put in. Whoever only wants
English has a plain ``str``; a page asks :func:`retell` for the same sentence in another language, other measures and
another way of writing numbers and dates.
"""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any


@dataclass(frozen=True)
class Measure:
    """A quantity in the unit used inside, shown in the reader's measures; ``kind`` as in :func:`soakbook.units.format_quantity`."""

    value: float
    kind: str
    digits: int | None = None


class Said(str):
    """An English sentence with its ``template``, the ``values`` put in, and ``many``: the template when ``n`` is not one."""

    template: str
    many: str | None
    values: Mapping[str, Any]

    __slots__ = ("many", "template", "values")

    def __deepcopy__(self, memo: dict[int, Any]) -> Said:
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        return _made, (self.template, self.many, dict(self.values))


def say(template: str, **values: Any) -> Said:
    """A sentence from a pattern with ``{names}``; values may be text, numbers, dates, :class:`Measure`, a Said, or a list of these.

    Examples
    --------
    >>> say("{place} holds {store}", place="Tomato bed", store=Measure(0.45, "length"))
    'Tomato bed holds 45 cm'
    """
    return _made(template, None, values)


def say_n(one: str, many: str, n: int, **values: Any) -> Said:
    """As :func:`say`, by number: ``one`` when ``n`` is 1, else ``many``; both may use ``{n}``.

    Examples
    --------
    >>> say_n("{n} day", "{n} days", 3)
    '3 days'
    """
    return _made(one, many, {**values, "n": n})


def join_said(parts: Sequence[str], between: str = " ") -> Said:
    """Sentences one after another, each kept for retelling; empty ones are left out."""
    said = {f"p{i}": part for i, part in enumerate(part for part in parts if part)}
    return say(_as_it_is(between).join("{" + name + "}" for name in said), **said)


def pattern(text: str) -> str:
    """Marks the pattern of sentences that are made elsewhere, by a room that knows nothing of languages."""
    return text


def recognised(text: str, patterns: Sequence[str]) -> str:
    """A plain sentence that was made by one of these patterns, so that it can be retold; any other as it is.

    Examples
    --------
    >>> recognised("taken as a typical silt loam", ["taken as a typical {texture}"]).values["texture"]
    'silt loam'
    """
    for template in patterns:
        if found := _recogniser(template).fullmatch(text):
            return _made(template, None, {name: say(_as_it_is(value)) for name, value in found.groupdict().items()})
    return text


@cache
def _recogniser(template: str) -> re.Pattern[str]:
    parts = string.Formatter().parse(template)
    return re.compile(
        "".join(re.escape(literal) + (f"(?P<{name}>.+)" if name else "") for literal, name, _, _ in parts)
    )


def retell(text: str, translate: Callable[[str, str | None, int], str], show: Callable[[Any, str], str]) -> str:
    """Say a sentence again.

    Parameters
    ----------
    text
        A :class:`Said`; any other text is returned as it is.
    translate
        ``translate(template, many, n)`` gives the pattern in the reader's language.
    show
        ``show(value, spec)`` writes a number, date or :class:`Measure` as the reader does; ``spec`` is the format after the colon.
    """
    if not isinstance(text, Said):
        return text
    template = translate(text.template, text.many, 1 if text.many is None else int(text.values["n"]))

    def told(value: Any, spec: str) -> str:
        if isinstance(value, str):
            return retell(value, translate, show)
        if isinstance(value, list | tuple):
            return ", ".join(told(v, spec) for v in value)
        return show(value, spec)

    return _filled(template, text.values, told)


def _as_it_is(text: str) -> str:
    """A text as the pattern that makes it."""
    return text.replace("{", "{{").replace("}", "}}")


def _made(template: str, many: str | None, values: Mapping[str, Any]) -> Said:
    pattern = template if many is None or values.get("n") == 1 else many
    said = Said(_filled(pattern, values, _english))
    said.template, said.many, said.values = template, many, dict(values)
    return said


def _filled(pattern: str, values: Mapping[str, Any], show: Callable[[Any, str], str]) -> str:
    out = []
    for literal, name, spec, _ in string.Formatter().parse(pattern):
        out.append(literal)
        if name is not None:
            out.append(show(values[name], spec or ""))
    return "".join(out)


def _english(value: Any, spec: str) -> str:
    if isinstance(value, Measure):
        from soakbook.units import format_quantity

        return format_quantity(value.value, value.kind, "metric", value.digits)
    if isinstance(value, list | tuple):
        return ", ".join(_english(v, spec) for v in value)
    if isinstance(value, date) and spec == "tiny":
        return f"{value.day} {value:%b}"
    if isinstance(value, date) and not spec:
        return value.isoformat()
    return as_written(value, spec)


def as_written(value: Any, spec: str) -> str:
    """A value by its format, with the digits of a large or small number instead of its powers of ten.

    Examples
    --------
    >>> as_written(1e6, "g"), as_written(0.25, "g")
    ('1000000', '0.25')
    """
    text = format(value, spec)
    return format(Decimal(text), "f") if spec == "g" and "e" in text else text
