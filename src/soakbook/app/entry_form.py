"""Entries between the page and the log: amounts as they are typed, and what an entry says in the reader's words."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.errors import InputError
from soakbook.garden.log import LogRow, flow_lph, parse_row

if TYPE_CHECKING:
    from soakbook.app.desk import Known
    from soakbook.garden.model import Garden, LogEntry, Place
    from soakbook.store import Entry, NewEntry, PastEntry

    AnyEntry = Entry | NewEntry | PastEntry | LogEntry

#: Units of the log's amounts, by the measures a reader uses.
_VOLUME = {"metric": "L", "US": "gal"}
_DEPTH = {"metric": "mm", "US": "in"}


def new_id() -> str:
    """An id for a new entry, made where the form is made so that sending it twice counts once."""
    return uuid.uuid4().hex


def amount_text(number: str, unit: str) -> str:
    """The amount as the log has it, from a number as the reader writes it and a unit word of the log.

    A number that brings its own unit is left as it is. ``1,5`` becomes ``1.5``; ``1,500`` stays, for the log to ask which
    of the two is meant. Without a number there is no amount.
    """
    number = " ".join(number.split())
    if any(c.isalpha() for c in number) or not number:
        return number
    if re.fullmatch(r"\d*,\d+", number) and not re.fullmatch(r"[1-9]\d{0,2},\d{3}", number):
        number = number.replace(",", ".")
    return f"{number} {unit.strip()}".strip()


def amount_parts(amount: str, reader: Reader) -> tuple[str, str]:
    """Number as the reader writes it and unit of an amount in the log; one that is more than that stays whole."""
    found = re.fullmatch(r"([\d.,]+)\s*([^\W\d_]+)", amount.strip())
    if not found:
        return amount, ""
    number = found[1] if re.fullmatch(r"[1-9]\d{0,2},\d{3}", found[1]) else found[1].replace(",", ".")
    return number.replace(".", reader.decimal), {"can": "cans"}.get(found[2], found[2])


def amount_units(place: Place | None, garden: Garden, reader: Reader) -> list[tuple[str, str]]:
    """Units in which water may be given to a place (None: to any), with their words; the one used most likely first."""
    cans = [("cans", reader.t("cans of {size}", size=reader.quantity(garden.supply.can_l, "volume")))]
    volume = [(_VOLUME[reader.units], _words(_VOLUME[reader.units], reader))]
    minutes = [("min", reader.t("minutes"))]
    depth = [(_DEPTH[reader.units], _words(_DEPTH[reader.units], reader))]
    cans = cans if garden.supply.can_l is not None else []
    if place is None:
        return cans + volume + minutes + depth
    minutes = minutes if flow_lph(place, garden) is not None else []
    if minutes and place.means != "can":
        return minutes + volume + cans + depth
    return cans + volume + minutes + depth if place.means == "can" else volume + cans + minutes + depth


def rain_units(reader: Reader) -> list[tuple[str, str]]:
    """The unit of a rain gauge, and the other one."""
    units = [("mm", "mm"), ("in", reader.t("inches"))]
    return units if reader.units == "metric" else units[::-1]


def depth_units(reader: Reader) -> list[tuple[str, str]]:
    """The unit of a depth in the soil, and the other one."""
    units = [("cm", "cm"), ("in", reader.t("inches"))]
    return units if reader.units == "metric" else units[::-1]


def with_unit(units: list[tuple[str, str]], unit: str, reader: Reader) -> list[tuple[str, str]]:
    """The units with one more that an entry has already."""
    known = {value.lower() for value, _ in units}
    return units if not unit or unit.lower() in known else [*units, (unit, _words(unit, reader))]


def _words(unit: str, reader: Reader) -> str:
    words = {
        "l": reader.t("litres"), "gal": reader.t("gallons"), "h": reader.t("hours"), "min": reader.t("minutes"),
        "mm": reader.t("mm of water"), "in": reader.t("inches of water"),
    }  # fmt: skip
    return words.get(unit.lower(), unit)


def reading_text(feel: str, dial: str, depth: str, unit: str) -> str:
    """A reading as the log has it: how it felt, or else where the dial stood, and how deep."""
    number = amount_text(dial, "").replace(",", ".")
    what = feel or (f"dial {number}" if number else "")
    deep = amount_text(depth, unit)
    return f"{what} at {deep}" if deep else what


def reading_parts(amount: str, reader: Reader) -> tuple[str, str, str, str]:
    """Feel, dial, depth and its unit of a reading in the log."""
    what, _, deep = (part.strip() for part in amount.partition(" at "))
    number, unit = amount_parts(deep, reader) if deep else ("", "")
    if what.lower().startswith("dial"):
        return "", what[4:].strip().replace(".", reader.decimal), number, unit
    return what.lower(), "", number, unit


def entry_words(entry: AnyEntry, known: Known, reader: Reader, gone: Mapping[str, str] | None = None) -> str:
    """What an entry says: "tomato bed was given 100 L", "it rained 14 mm", "bean rows felt moist at 25 cm".

    Parameters
    ----------
    entry
        Of the store, or of the log in litres.
    known
        The garden as it is now.
    gone
        Names by id of places the garden had once.
    """
    name = _name(entry, known, reader, gone)
    read = _read(entry, known)
    if read is None:
        amount = getattr(entry, "amount", "")
        said = {
            "water": reader.t("{place} got {amount}", place=name, amount=amount),
            "rain": reader.t("it rained {amount}", amount=amount),
            "reading": reader.t("{place} was read: {amount}", place=name, amount=amount),
        }
        return said.get(entry.kind) or _note(name, reader)
    if read.kind == "water":
        return _water_words(read, name, reader)
    if read.kind == "rain":
        return reader.t("it rained {amount}", amount=reader.quantity(read.rain_mm, "depth"))
    return _reading_words(read, name, reader) if read.kind == "reading" else _note(name, reader)


def _name(entry: AnyEntry, known: Known, reader: Reader, gone: Mapping[str, str] | None) -> str:
    place_id = getattr(entry, "place_id", None)
    if place_id is None:
        return str(getattr(entry, "place", ""))
    if not place_id:
        return ""
    return known.names.get(place_id) or (gone or {}).get(place_id) or reader.t("a place that is gone")


def _read(entry: AnyEntry, known: Known) -> LogEntry | None:
    """The entry in litres and mm; None when the garden no longer says how much that is."""
    from soakbook.garden.model import LogEntry

    if isinstance(entry, LogEntry):
        return entry
    name = known.names.get(entry.place_id, "")
    if entry.place_id and not name:
        return None
    try:
        return parse_row(LogRow(entry.at, entry.kind, name, entry.amount, entry.text, entry.id), known.garden)
    except InputError:
        return None


def _water_words(read: LogEntry, name: str, reader: Reader) -> str:
    amount = reader.quantity(read.litres, "volume")
    if read.minutes is not None:
        time = reader.quantity(read.minutes / 60.0, "duration")
        return reader.t("{place} got {amount} in {time}", place=name, amount=amount, time=time)
    return reader.t("{place} got {amount}", place=name, amount=amount)


def _reading_words(read: LogEntry, name: str, reader: Reader) -> str:
    deep = reader.quantity(read.depth_m, "length") if read.depth_m is not None else ""
    if read.dial is not None:
        dial = reader.number(read.dial, 0 if read.dial == int(read.dial) else 1)
        if deep:
            return reader.t("the dial stood at {dial} in {place}, {depth} deep", place=name, dial=dial, depth=deep)
        return reader.t("the dial stood at {dial} in {place}", place=name, dial=dial)
    if deep:
        return {
            "dry": reader.t("{place} felt dry at {depth}", place=name, depth=deep),
            "moist": reader.t("{place} felt moist at {depth}", place=name, depth=deep),
            "wet": reader.t("{place} felt wet at {depth}", place=name, depth=deep),
        }[read.feel or "moist"]
    return {
        "dry": reader.t("{place} felt dry", place=name),
        "moist": reader.t("{place} felt moist", place=name),
        "wet": reader.t("{place} felt wet", place=name),
    }[read.feel or "moist"]


def _note(name: str, reader: Reader) -> str:
    return reader.t("a note on {place}", place=name) if name else reader.t("a note")


def when_text(at: datetime | str, today: date, reader: Reader) -> str:
    """When something was: "today 07:40", "yesterday 19:00", "Tue 4 Jul 07:40"."""
    moment = datetime.fromisoformat(at) if isinstance(at, str) else at
    if moment.date() == today:
        return reader.t("today {time}", time=reader.time(moment))
    if moment.date() == today - timedelta(days=1):
        return reader.t("yesterday {time}", time=reader.time(moment))
    day = reader.day(moment.date(), "short" if moment.year == today.year else "numeric")
    return f"{day} {reader.time(moment)}"
