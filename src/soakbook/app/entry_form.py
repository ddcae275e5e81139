"""Entries between the page and the log: units to choose from, and what an entry says in the reader's words."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.app.reading_form import reading_words
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
            "forget": reader.t("forget what was learnt about {place} up to then", place=name),
        }
        return said.get(entry.kind) or _note(name, reader)
    if read.kind == "water":
        return _water_words(read, name, reader)
    if read.kind == "rain":
        return reader.t("it rained {amount}", amount=reader.quantity(read.rain_mm, "depth"))
    if read.kind == "forget":
        return reader.t("forget what was learnt about {place} up to then", place=name)
    return reading_words(read, name, reader) if read.kind == "reading" else _note(name, reader)


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
