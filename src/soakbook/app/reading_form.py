"""Readings on the log's form: what was read, the fields it takes, the words of the log, and what it says to a reader."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from soakbook.app.entry_amount import amount_parts, amount_text
from soakbook.app.reader import Reader
from soakbook.catalog.words import SQUEEZED
from soakbook.errors import InputError
from soakbook.garden.model import FEELS, SQUEEZES, ReadingKind
from soakbook.garden.readings import DEEP, LIFTS, OF_LINE, SEEN, Parts, parse_reading, parts_of
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.garden.model import LogEntry

#: Fields of the form for a reading.
FIELDS = (
    "what", "feel", "squeeze", "dial", "lift", "seen", "weight", "weight_unit", "tension", "sensor", "sensor_unit", "flow", "flow_unit",
    "meter", "meter_unit", "bucket", "bucket_unit", "time", "time_unit", "of_line", "depth", "depth_unit", "by",
)  # fmt: skip
#: What can be read, in the order of the form, with its words and what they mean.
WHAT: tuple[tuple[ReadingKind, str, str], ...] = (
    ("feel", say("How it feels"), say("a finger or a handful of soil")),
    ("squeeze", say("A handful, squeezed"), say("six steps, from dry to dripping")),
    ("dial", say("A dial probe"), say("pushed in, 0 to 10")),
    ("lift", say("A lifted pot"), say("light, middling or heavy")),
    ("weight", say("A weighed pot"), say("on scales")),
    ("came out below", say("Water out below"), say("from the pot or a drain, that day")),
    ("ran off", say("Water ran off"), say("over the surface, that day")),
    ("wilted at dawn", say("Wilted at dawn"), say("before the sun was on it")),
    ("wilted at 4 pm", say("Wilted at 4 pm"), say("in the heat of the day")),
    ("tension", say("A tensiometer"), say("kPa, or cbar")),
    ("sensor", say("A moisture sensor"), say("percent of water")),
    ("flow", say("A measured flow"), say("bucket or meter")),
    ("meter", say("A water meter"), say("the number it shows")),
)
#: Units to choose from, by the measures of the reader; the first is the usual one.
_UNITS: dict[str, dict[str, tuple[str, ...]]] = {
    "weight": {"metric": ("kg", "g", "lb"), "US": ("lb", "oz", "kg")},
    "flow": {"metric": ("L/h", "L/min", "gal/h"), "US": ("gal/h", "gal/min", "L/h")},
    "meter": {"metric": ("L", "m3", "gal"), "US": ("gal", "ft3", "L", "m3")},
    "bucket": {"metric": ("L", "gal"), "US": ("gal", "L")},
    "time": dict.fromkeys(("metric", "US"), ("min", "s")),
    "sensor": dict.fromkeys(("metric", "US"), ("%", "m3/m3")),
}


def units(name: str, reader: Reader) -> list[tuple[str, str]]:
    """The units a number may have, the reader's own first."""
    words = {
        "L": reader.t("litres"), "gal": reader.t("gallons"), "min": reader.t("minutes"), "s": reader.t("seconds"),
        "m3/m3": "m³/m³", "m3": "m³", "ft3": "ft³",
    }  # fmt: skip
    return [(unit, words.get(unit, unit)) for unit in _UNITS[name][reader.units]]


def what_of(typed: Mapping[str, str]) -> str:
    """What was read: as chosen; a form that does not ask (the round, the place's page) has a feel or a dial."""
    return typed.get("what", "") or ("dial" if typed["dial"].strip() and not typed["feel"] else "feel")


def reading_text(typed: Mapping[str, str]) -> str:
    """A reading as the log has it, from the fields of its kind; empty where nothing was filled in."""
    what = what_of(typed)
    said = _said(what, typed)
    if not said:
        return ""
    if what in OF_LINE and typed.get("of_line"):
        said += " of the line"
    deep = amount_text(typed["depth"], typed["depth_unit"]) if what in DEEP else ""
    by = " ".join(typed.get("by", "").split())
    return said + (f" at {deep}" if deep else "") + (f" by {by}" if by else "")


def _said(what: str, typed: Mapping[str, str]) -> str:
    if what == "feel":
        return typed["feel"]
    if what == "squeeze":
        return f"squeezed {typed['squeeze']}" if typed["squeeze"] else ""
    if what == "lift":
        return f"lift {typed['lift']}" if typed["lift"] else ""
    if what in SEEN:
        return SEEN[what][int(typed["seen"] == "yes")] if typed["seen"] else ""
    if what == "flow" and typed["bucket"].strip():
        volume, time = (
            amount_text(typed["bucket"], typed["bucket_unit"]),
            amount_text(typed["time"], typed["time_unit"]),
        )
        return f"flow {volume} in {time}" if time else ""
    unit = {
        "weight": typed["weight_unit"],
        "flow": typed["flow_unit"],
        "meter": typed["meter_unit"],
        "tension": "kPa",
        "sensor": typed["sensor_unit"],
    }.get(what, "")
    number = amount_text(typed.get(what, ""), unit)
    return f"{what} {number.replace(',', '.') if what == 'dial' else number}" if number else ""


def reading_typed(amount: str, reader: Reader) -> dict[str, str]:
    """The fields of a reading in the log, each as it was written."""
    try:
        kind, parts = parse_reading(amount).reading, parts_of(amount)
    except InputError:
        return {"feel": amount}  # nothing the form knows; it says so when it is sent
    depth, depth_unit = amount_parts(parts.depth, reader) if parts.depth else ("", "")
    typed = {"what": kind, "depth": depth, "depth_unit": depth_unit, "by": parts.instrument}
    return typed | _typed(kind, parts, reader)


def _typed(kind: ReadingKind, parts: Parts, reader: Reader) -> dict[str, str]:
    what = parts.what.casefold()
    if kind == "feel":
        return {"feel": what}
    if kind == "squeeze":
        return {"squeeze": what.removeprefix("squeezed ")}
    if kind == "lift":
        return {"lift": what.removeprefix("lift ")}
    if kind in SEEN:
        return {"seen": "yes" if what.removeprefix("water ") == SEEN[kind][1] else "no"}
    rest = parts.what[len(kind) :].strip() if what.startswith(f"{kind} ") else parts.what
    if kind == "dial":
        return {"dial": rest.replace(".", reader.decimal)}
    if kind == "sensor":
        number = rest.removesuffix("%").removesuffix("m3/m3").removesuffix("m³/m³").strip()
        return {"sensor": number.replace(".", reader.decimal), "sensor_unit": "%" if "%" in rest else "m3/m3"}
    if kind == "flow" and " in " in rest:
        volume, _, time = rest.partition(" in ")
        (bucket, bucket_unit), (took, unit) = amount_parts(volume, reader), amount_parts(time, reader)
        return {
            "bucket": bucket, "bucket_unit": bucket_unit, "time": took, "time_unit": unit, "of_line": "yes" if parts.of_line else "",
        }  # fmt: skip
    number, unit = _number_parts(rest, reader)
    typed = {kind: number if kind != "tension" or unit in ("kPa", "") else rest, f"{kind}_unit": unit}
    return typed | {"of_line": "yes" if parts.of_line else ""}


def _number_parts(text: str, reader: Reader) -> tuple[str, str]:
    """Number and unit, also of units with a stroke such as L/h."""
    number, _, unit = text.partition(" ")
    if unit and all(c.isdigit() or c in ".," for c in number) and " " not in unit:
        return amount_parts(f"{number} x", reader)[0], unit
    return text, ""


def missing_words(typed: Mapping[str, str]) -> str:
    """What to fill in for this kind of reading."""
    what = what_of(typed)
    return {
        "feel": say("Say how it felt, or where the dial stood."),
        "squeeze": say("Say how it felt when you squeezed it."),
        "dial": say("Write where the dial stood."),
        "lift": say("Say how heavy it was."),
        "weight": say("Write what it weighed."),
        "tension": say("Write what the tensiometer showed."),
        "sensor": say("Write what the sensor showed."),
        "flow": say("Write how much flowed, and in how much time."),
        "meter": say("Write what the meter showed."),
    }.get(what, say("Say whether you saw it."))


def reading_words(read: LogEntry, name: str, reader: Reader) -> str:
    """What a reading says: "bean rows felt moist at 25 cm", "a pot of herbs weighed 4.2 kg (by kitchen scales)"."""
    deep = reader.quantity(read.depth_m, "length") if read.depth_m is not None else ""
    words = _numbers(read, read.line or name, deep, reader) or _seen_words(read, name, reader)
    return reader.t("{words} (by {instrument})", words=words, instrument=read.instrument) if read.instrument else words


def _numbers(read: LogEntry, name: str, deep: str, reader: Reader) -> str:
    """Of the kinds that have a number or a class."""
    value, t = read.value or 0.0, reader.t
    if read.reading == "feel":
        return _feel_words(FEELS[int(value)], name, deep, reader)
    if read.reading == "squeeze":
        how = reader.tell(SQUEEZED[SQUEEZES[int(value)]][0])
        if deep:
            return t("{place}, a handful squeezed at {depth}: {how}", place=name, how=how, depth=deep)
        return t("{place}, a handful squeezed: {how}", place=name, how=how)
    if read.reading == "lift":
        return {
            "light": t("{place} felt light when lifted", place=name),
            "middling": t("{place} felt middling when lifted", place=name),
            "heavy": t("{place} felt heavy when lifted", place=name),
        }[LIFTS[int(value)]]
    if read.reading == "dial":
        dial = reader.number(value, 0 if value == int(value) else 1)
        if deep:
            return t("the dial stood at {dial} in {place}, {depth} deep", place=name, dial=dial, depth=deep)
        return t("the dial stood at {dial} in {place}", place=name, dial=dial)
    if read.reading == "tension":
        shown = reader.quantity(value, "suction")
        if deep:
            return t("the tensiometer showed {value} in {place}, {depth} deep", place=name, value=shown, depth=deep)
        return t("the tensiometer showed {value} in {place}", place=name, value=shown)
    if read.reading == "sensor":
        shown = t("{n} % of water", n=reader.number(100.0 * value, 1))
        if deep:
            return t("the sensor showed {value} in {place}, {depth} deep", place=name, value=shown, depth=deep)
        return t("the sensor showed {value} in {place}", place=name, value=shown)
    if read.reading == "weight":
        return t(
            "{place} weighed {value} a pot",
            place=name,
            value=reader.quantity(value, "mass", 2 if value >= 1.0 else None),
        )
    if read.reading == "flow":
        return t("{value} flowed to {place}", place=name, value=reader.quantity(value, "flow"))
    if read.reading == "meter":
        return t("the meter showed {value} at {place}", place=name, value=reader.quantity(value, "volume"))
    return ""


def _feel_words(feel: str, name: str, deep: str, reader: Reader) -> str:
    if deep:
        return {
            "dry": reader.t("{place} felt dry at {depth}", place=name, depth=deep),
            "moist": reader.t("{place} felt moist at {depth}", place=name, depth=deep),
            "wet": reader.t("{place} felt wet at {depth}", place=name, depth=deep),
        }[feel]
    return {
        "dry": reader.t("{place} felt dry", place=name),
        "moist": reader.t("{place} felt moist", place=name),
        "wet": reader.t("{place} felt wet", place=name),
    }[feel]


def _seen_words(read: LogEntry, name: str, reader: Reader) -> str:
    """Of the kinds that were seen or not."""
    t = reader.t
    no, yes = {
        "came out below": (
            t("no water came out below {place}", place=name), t("water came out below {place}", place=name)
        ),
        "ran off": (t("no water ran off {place}", place=name), t("water ran off {place}", place=name)),
        "wilted at dawn": (
            t("{place} was not wilted at dawn", place=name), t("{place} was wilted at dawn", place=name)
        ),
        "wilted at 4 pm": (
            t("{place} was not wilted at 4 pm", place=name), t("{place} was wilted at 4 pm", place=name)
        ),
    }[str(read.reading)]  # fmt: skip
    return yes if read.value else no
