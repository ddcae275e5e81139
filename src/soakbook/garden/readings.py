"""Readings as the log has them: words that a person writes and reads back, and the values they stand for.

What was read comes first, then the depth, then the instrument: ``moist at 25 cm``, ``squeezed wet``,
``dial 4 at 10 cm by probe 2``, ``weight 4.2 kg``, ``not wilted at dawn``, ``flow 9 L in 4 min``, ``meter 12.345 m3 of the line``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from soakbook.errors import InputError
from soakbook.garden.model import FEELS, SQUEEZES, LogEntry, Place, ReadingKind
from soakbook.said import Measure, say
from soakbook.units import parse_one_of, parse_quantity

LIFTS = ("light", "middling", "heavy")
#: Kinds that were seen or not, with the words for each.
SEEN: dict[ReadingKind, tuple[str, str]] = {
    "came out below": ("nothing came out below", "came out below"),
    "ran off": ("nothing ran off", "ran off"),
    "wilted at dawn": ("not wilted at dawn", "wilted at dawn"),
    "wilted at 4 pm": ("not wilted at 4 pm", "wilted at 4 pm"),
}
#: Kinds that are taken at a depth.
DEEP: tuple[ReadingKind, ...] = ("feel", "squeeze", "dial", "tension", "sensor")
#: Kinds that only a pot or tray can have.
LIFTED: tuple[ReadingKind, ...] = ("lift", "weight")
#: Least and most of the kinds with a number, in the unit used inside. Judged: beyond them it is a slip of the pen.
RANGES: dict[ReadingKind, tuple[float, float]] = {
    "dial": (0.0, 10.0),
    "tension": (0.0, 1500.0),
    "sensor": (0.0, 1.0),
    "weight": (0.01, 1000.0),
    "flow": (0.0, 100_000.0),
    "meter": (0.0, 1e8),
}
MAX_PROBE_M = 3.0
LONGEST_INSTRUMENT = 40
#: Kinds that may be of the whole line of a place.
OF_LINE: tuple[ReadingKind, ...] = ("flow", "meter")
#: The kind of quantity that a word of the log is followed by.
_QUANTITIES: dict[str, Literal["suction", "mass", "flow", "volume"]] = {
    "tension": "suction", "weight": "mass", "flow": "flow", "meter": "volume",
}  # fmt: skip
_OF_QUANTITY: dict[str, ReadingKind] = {"suction": "tension", "mass": "weight", "flow": "flow", "volume": "meter"}
_UNITS: dict[str, str] = {"tension": "kPa", "weight": "kg", "flow": "L/h", "sensor": "m3/m3", "meter": "L"}
_CONTENT = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(%|m3/m3|m³/m³)?")


@dataclass(frozen=True)
class Read:
    """A reading as it was written: ``value`` in the unit of :data:`~soakbook.garden.model.ReadingKind`, depth in m where one was
    given; ``of_line`` when a flow or a meter is that of the whole line."""

    reading: ReadingKind
    value: float
    depth_m: float | None = None
    instrument: str = ""
    of_line: bool = False


@dataclass(frozen=True)
class Parts:
    """The words of a reading, taken apart: what was read, how deep, with what."""

    what: str
    depth: str = ""
    instrument: str = ""
    of_line: bool = False


def parts_of(amount: str) -> Parts:
    """A reading in the log taken apart; its values are not looked at."""
    before, _, name = _cut(" ".join(amount.split()), " by ")
    if swapped := re.fullmatch(r"(.+?) at (\d.*)", name, re.IGNORECASE):  # the depth may come last as well
        before, name = f"{before} at {swapped[2]}", swapped[1]
    if _seen(before):
        return Parts(before, "", name)
    bare = re.sub(r" of (?:the|its) line$", "", before, flags=re.IGNORECASE)
    what, _, depth = _cut(bare, " at ")
    return Parts(what, depth, name, bare != before)


def _seen(text: str) -> tuple[ReadingKind, int] | None:
    """Kind and answer of words such as "nothing ran off"; None for all others."""
    plain = text.casefold().removeprefix("water ")
    return next(((kind, words.index(plain)) for kind, words in SEEN.items() if plain in words), None)


def parse_reading(amount: str) -> Read:
    """What a reading in the log says; InputError with the field ``amount`` when it is none."""
    parts = parts_of(amount)
    instrument = _instrument(parts.instrument) if parts.instrument else ""
    seen = _seen(parts.what)
    kind, value = (seen[0], float(seen[1])) if seen else _value(parts.what.casefold(), amount)
    if parts.of_line and kind not in OF_LINE:
        raise _no_reading(amount)
    depth_m = _depth(parts.depth, kind, amount) if parts.depth else None
    return Read(kind, value, depth_m, instrument, parts.of_line)


def _cut(text: str, word: str) -> tuple[str, bool, str]:
    """What stands before and after a word that may be there once."""
    at = text.casefold().find(word)
    return (text, False, "") if at < 0 else (text[:at].strip(), True, text[at + len(word) :].strip())


def _instrument(name: str) -> str:
    if not 0 < len(name) <= LONGEST_INSTRUMENT:
        raise InputError(
            say(
                '"{name}" must be a name of 1 to {most} characters.',
                name=name[: LONGEST_INSTRUMENT + 5],
                most=LONGEST_INSTRUMENT,
            ),
            code="log.amount.instrument",
            field="amount",
            hint=say('Such as "dial 4 by probe 2".'),
        )
    return name


def _depth(deep: str, kind: ReadingKind, amount: str) -> float:
    if kind not in DEEP:
        raise InputError(
            say('"{amount}" is not taken at a depth.', amount=amount[:40]),
            code="log.amount.depth",
            field="amount",
            hint=say("Leave the depth away."),
        )
    depth_m = parse_quantity(deep, "length", field="amount")
    if not 0.0 <= depth_m <= MAX_PROBE_M:
        raise InputError(
            say(
                '"{amount}" must be between 0 and {most} deep.', amount=amount[:40], most=Measure(MAX_PROBE_M, "length")
            ),
            code="log.amount.depth",
            field="amount",
        )
    return depth_m


def _value(what: str, amount: str) -> tuple[ReadingKind, float]:
    """Kind and value of what was read, without depth and instrument."""
    lifted = what.removeprefix("lift ")
    if what in FEELS:
        return "feel", float(FEELS.index(what))
    if lifted in LIFTS:
        return "lift", float(LIFTS.index(lifted))
    word, _, rest = what.partition(" ")
    if word == "squeezed":
        return "squeeze", _squeezed(rest, amount)
    if word == "dial":
        number = re.fullmatch(r"\d{1,2}(?:[.,]\d{1,2})?", rest)
        return "dial", _in_range("dial", float(rest.replace(",", ".")) if number else -1.0, amount)
    if word == "sensor" or re.fullmatch(r"[\d.,]+ ?(%|m3/m3|m³/m³)", what):
        return "sensor", _content(what.removeprefix("sensor").strip(), amount)
    if word in _QUANTITIES:
        kind = _OF_QUANTITY[_QUANTITIES[word]]
        if kind == "flow" and " in " in rest:
            return kind, _in_range(kind, _bucket(rest), amount)
        return kind, _in_range(kind, parse_quantity(rest, _QUANTITIES[word], field="amount"), amount)
    return _without_word(what, amount)


def _squeezed(how: str, amount: str) -> float:
    """The class of soil squeezed in the hand, 0 dry to 5 dripping."""
    found = next((float(k) for k, word in enumerate(SQUEEZES) if word == how), None)
    if found is None:
        raise InputError(
            say('"{amount}" is none of the six ways in which soil feels when squeezed.', amount=amount[:40]),
            code="log.amount.reading",
            field="amount",
            hint=say('Write "squeezed" and then dry, slightly moist, moist, wet, full or dripping.'),
        )
    return found


def _without_word(what: str, amount: str) -> tuple[ReadingKind, float]:
    """A number whose unit says what it is of: kPa, kg, L/h, or litres in a time."""
    if not re.match(r"[\d.,½¼¾⅓⅔]", what):
        raise _no_reading(amount)
    if " in " in what:
        return "flow", _in_range("flow", _bucket(what), amount)
    try:
        quantity, value = parse_one_of(what, ("suction", "mass", "flow"), field="amount")
    except InputError as error:
        raise _no_reading(amount) from error
    kind = _OF_QUANTITY[quantity]
    return kind, _in_range(kind, value, amount)


def _content(text: str, amount: str) -> float:
    """A water content: ``0.23``, ``0.23 m3/m3`` or ``23 %``. [m³/m³]"""
    found = _CONTENT.fullmatch(text)
    if found is None:
        raise InputError(
            say('"{amount}" is not a water content.', amount=amount[:40]),
            code="log.amount.reading",
            field="amount",
            hint=say('Write "sensor 0.23" or "sensor 23 %".'),
        )
    number = float(found[1].replace(",", "."))
    return _in_range("sensor", float(f"{number / 100.0:.12g}") if found[2] == "%" else number, amount)


def _bucket(text: str) -> float:
    """Litres that came in a time, as a flow. [L/h]"""
    volume, _, time = text.partition(" in ")
    litres = parse_quantity(volume, "volume", field="amount")
    hours = parse_quantity(time, "duration", field="amount")
    if hours <= 0.0:
        raise InputError(
            say('"{text}": the time must be more than 0.', text=text[:40]), code="log.amount.range", field="amount"
        )
    return float(f"{litres / hours:.12g}")


def _in_range(kind: ReadingKind, value: float, amount: str) -> float:
    low, high = RANGES[kind]
    if kind == "dial" and not low <= value <= high:
        raise _no_reading(amount)
    if not low <= value <= high:
        raise InputError(
            say(
                '"{amount}" must be between {low:g} and {high:g} {unit}.',
                amount=amount[:40],
                low=low,
                high=high,
                unit=_UNITS[kind],
            ),
            code="log.amount.range",
            field="amount",
            hint=say('A water content over 1 is written in percent: "sensor 23 %".') if kind == "sensor" else "",
        )
    return value


def _no_reading(amount: str) -> InputError:
    return InputError(
        say('"{amount}" is not a reading.', amount=amount[:40]),
        code="log.amount.reading",
        field="amount",
        hint=say(
            'Write dry, moist or wet, or "dial 4" (0 to 10), and the depth if you like: "moist at 25 cm". '
            'Or "squeezed slightly moist", "lift heavy", "weight 4.2 kg", "tension 25 kPa", "sensor 23 %", "came out below", "ran off", '
            '"wilted at dawn", "wilted at 4 pm", "flow 48 L/h", "meter 12345 L".'
        ),
    )


def reading_amount(read: Read) -> str:
    """A reading as the log has it, in metric units and to six decimals; :func:`parse_reading` gives it back.

    Examples
    --------
    >>> reading_amount(Read("sensor", 0.231, depth_m=0.2, instrument="box 3"))
    'sensor 0.231 m3/m3 at 20 cm by box 3'
    """
    parts = [_what(read)]
    if read.of_line:
        parts.append("of the line")
    if read.depth_m is not None:
        parts.append(f"at {100.0 * read.depth_m:.6g} cm")
    if read.instrument:
        parts.append(f"by {read.instrument}")
    return " ".join(parts)


def _what(read: Read) -> str:
    if read.reading in SEEN:
        return SEEN[read.reading][int(read.value)]
    if read.reading == "feel":
        return FEELS[int(read.value)]
    if read.reading == "squeeze":
        return f"squeezed {SQUEEZES[int(read.value)]}"
    if read.reading == "lift":
        return f"lift {LIFTS[int(read.value)]}"
    number = f"{read.value:.6f}".rstrip("0").rstrip(".")  # never 1e-05: people read this
    return f"{read.reading} {number} {_UNITS.get(read.reading, '')}".strip()


def check_read(read: Read, place: Place) -> None:
    """InputError when a place cannot have such a reading: only pots are lifted, only a place on a line has a line's flow or meter."""
    if read.reading in LIFTED and place.pot is None:
        raise InputError(
            say('"{place}" is no pot or tray: it cannot be lifted or weighed.', place=place.name),
            code="log.amount.pot",
            field="amount",
        )
    if read.of_line and place.line is None:
        raise InputError(
            say('"{place}" is on no line.', place=place.name),
            code="log.amount.line",
            field="amount",
            hint=say('Leave "of the line" away, or name a place on the line.'),
        )


def flow_at(entry: LogEntry, place: Place) -> float | None:
    """What a measured flow says reaches a place: its own, or its share of its line's; None for every other entry. [L/h]"""
    if entry.reading != "flow" or entry.value is None:
        return None
    if entry.line:
        return entry.value * place.line_share if entry.line == place.line else None
    return entry.value if entry.place == place.name else None
