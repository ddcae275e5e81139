"""The tables of a garden file and what each entry may hold. Values come out in the units used inside.

One flat model per table. What depends on several entries at once is checked where they are put together.
"""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo
from pydantic_core import PydanticCustomError

from soakbook.errors import InputError
from soakbook.garden.model import WETTED_RANGES
from soakbook.garden.price import parse_price
from soakbook.garden.tap_text import flow_cap_lph
from soakbook.garden.timer import DAY_KINDS
from soakbook.garden.timer_text import days_from, hours_from
from soakbook.garden.words import nearest, some
from soakbook.physics.feel import feel_class
from soakbook.said import say
from soakbook.unit_tables import KINDS
from soakbook.units import parse_quantity, parse_sides


def _refuse(message: str, code: str, hint: str = "") -> PydanticCustomError:
    return PydanticCustomError("soakbook", "{message}", {"message": message, "code": code, "hint": hint})


def _relay(error: InputError) -> PydanticCustomError:
    return _refuse(error.message, error.code, error.hint)


def _measure(kind: str, low: float, high: float, *, scale: float = 1.0) -> BeforeValidator:
    """A quantity of ``kind`` between ``low`` and ``high`` (units used inside), multiplied by ``scale``."""

    def check(value: Any) -> float:
        try:
            number = parse_quantity(value, kind)
        except InputError as error:
            raise _relay(error) from None
        if not low <= number <= high:
            raise _refuse(
                say(
                    '"{value}" must be between {low:g} and {high:g} {unit}.',
                    value=value,
                    low=low,
                    high=high,
                    unit=KINDS[kind].canonical,
                ),
                f"{kind}.range",
            )
        return number * scale

    return BeforeValidator(check)


def _fraction(value: Any) -> float:
    """A water content: ``0.28`` or ``"28 %"``."""
    if isinstance(value, str):
        try:
            number = parse_quantity(value, "percent") / 100.0 if "%" in value else float(value)
        except InputError as error:
            raise _relay(error) from None
        except ValueError:
            raise _refuse(
                say('"{value}" is not a water content.', value=value), "fraction", say('Write 0.28 or "28 %".')
            ) from None
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value) if abs(value) <= 1e9 else math.inf
    else:
        raise _refuse(
            say("{value} is not a water content.", value=repr(value)), "fraction", say('Write 0.28 or "28 %".')
        )
    if not 0.0 < number < 1.0:
        raise _refuse(
            say("{value} is not a water content between 0 and 1.", value=value),
            "fraction.range",
            say('Write 0.28 or "28 %".'),
        )
    return number


def _number(low: float, high: float) -> BeforeValidator:
    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise _refuse(say("{value} is not a number.", value=_shown(value)), "number")
        if not low <= value <= high:
            raise _refuse(
                say("{value} must be between {low:g} and {high:g}.", value=_shown(value), low=low, high=high),
                "number.range",
            )
        return float(value)

    return BeforeValidator(check)


def _whole(low: int, high: int) -> BeforeValidator:
    def check(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise _refuse(
                say("{value} is not a whole number.", value=_shown(value)),
                "number.whole",
                say("Write it without quotes."),
            )
        if not low <= value <= high:
            raise _refuse(
                say("{value} must be between {low} and {high}.", value=_shown(value), low=low, high=high),
                "number.range",
            )
        return value

    return BeforeValidator(check)


def _yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise _refuse(say("{value} must be true or false, without quotes.", value=_shown(value)), "yes_no")
    return value


def _text(most: int) -> BeforeValidator:
    def check(value: Any) -> str:
        if not isinstance(value, str):
            raise _refuse(say("{value} must be text in quotes.", value=_shown(value)), "text")
        text = value.strip()
        if not text:
            raise _refuse(say("it is empty."), "text.empty")
        if len(text) > most or not text.isprintable():
            raise _refuse(
                say("{value} must be at most {most} characters on one line.", value=_shown(value), most=most),
                "text.long",
            )
        return text

    return BeforeValidator(check)


def _date(value: Any) -> date:
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value.strip()):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            raise _refuse(say('"{value}" is not a day of the calendar.', value=value), "date") from None
    if isinstance(value, datetime) or not isinstance(value, date):
        raise _refuse(
            say("{value} is not a date.", value=_shown(value)), "date", say("Write year-month-day, such as 2026-04-20.")
        )
    if not 1900 <= value.year <= 2200:
        raise _refuse(say("{value} must be between the years 1900 and 2200.", value=value), "date.range")
    return value


def _choice(*allowed: str) -> BeforeValidator:
    def check(value: Any) -> str:
        word = value.strip().casefold().replace(" ", "_").replace("-", "_") if isinstance(value, str) else None
        for name in allowed:
            if word == name.casefold():
                return name
        near = nearest(value, allowed) if isinstance(value, str) else ""
        words = ", ".join(f'"{name}"' for name in allowed)
        raise _refuse(say("{value} must be one of {words}.", value=_shown(value), words=words), "word", near)

    return BeforeValidator(check)


def _word(kind: str) -> BeforeValidator:
    """A word of the catalogue, handed in as ``known`` with the validation context."""

    def check(value: Any, info: ValidationInfo) -> str:
        if not isinstance(value, str):
            raise _refuse(say("{value} must be text in quotes.", value=_shown(value)), "text")
        assert info.context is not None
        try:
            return str(info.context["known"].resolve(kind, value))
        except InputError as error:
            raise _relay(error) from None

    return BeforeValidator(check)


def _minutes(low: int, high: int) -> BeforeValidator:
    """A time in whole minutes: ``"30 min"``, ``"4 h"``."""

    def check(value: Any) -> int:
        try:
            minutes = 60.0 * parse_quantity(value, "duration")
        except InputError as error:
            raise _relay(error) from None
        if abs(minutes - round(minutes)) > 1e-6 or not low <= round(minutes) <= high:
            raise _refuse(
                say('"{value}" must be {low} to {high} whole minutes.', value=value, low=low, high=high),
                "duration.range",
            )
        return round(minutes)

    return BeforeValidator(check)


def _day_kinds(value: Any) -> tuple[str, ...]:
    words = [value] if isinstance(value, str) else value
    if not isinstance(words, list) or not words or any(word not in DAY_KINDS for word in words):
        raise _refuse(
            say("{value} must be a list of some of {words}.", value=_shown(value), words=", ".join(f'"{k}"' for k in DAY_KINDS)),
            "timer.days", say('Write days = ["weekdays", "every"].'),
        )  # fmt: skip
    return tuple(kind for kind in DAY_KINDS if kind in words)


def _hours(value: Any) -> tuple[tuple[int, int], ...]:
    if not isinstance(value, str):
        raise _refuse(say("{value} must be text in quotes.", value=_shown(value)), "text")
    try:
        hours = hours_from(value)
    except InputError as error:
        raise _relay(error) from None
    if not hours:
        raise _refuse(say("the rules leave no hour to water in."), "timer.hours", say('Write "04:00-10:00".'))
    return hours


def _flow_cap(value: Any) -> float:
    """A flow, or a tap: ``"600 L/h"`` or ``"3 bar, 12 L/min"``."""
    try:
        cap = flow_cap_lph(value, "flow_cap") if isinstance(value, str) else parse_quantity(value, "flow")
    except InputError as error:
        raise _relay(error) from None
    if not 1.0 <= cap <= 1e5:
        raise _refuse(
            say('"{value}" must be between {low:g} and {high:g} {unit}.', value=value, low=1.0, high=1e5, unit="L/h"), "flow.range"
        )  # fmt: skip
    return cap


def _days_allowed(value: Any) -> tuple[int, ...]:
    """Days of the week, 0 for Monday: ``"daily"`` or ``"tue,sat"``."""
    if not isinstance(value, str):
        raise _refuse(say("{value} must be text in quotes.", value=_shown(value)), "text")
    try:
        days = days_from(value, None)
    except InputError as error:
        raise _refuse(error.message, error.code, say('Write "daily" or "tue,sat".')) from None
    if days.kind != "weekdays":
        raise _refuse(
            say('"{value}" is not days of the week.', value=value[:40]), "timer.days",
            say('Write "daily" or "tue,sat"; odd or even dates go into dates.'),
        )  # fmt: skip
    return days.weekdays


def _feel(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value or not all(isinstance(v, str) and v.strip() for v in value):
        raise _refuse(say("{value} must be a list of answers in quotes.", value=_shown(value)), "feel")
    answers = tuple(v.strip() for v in value)
    try:
        feel_class(answers)
    except InputError as error:
        raise _relay(error) from None
    return answers


def _jar(value: Any) -> tuple[float, float, float]:
    """Heights of sand, silt and clay in a shaken jar. [mm]"""
    if not isinstance(value, list) or len(value) != 3:
        raise _refuse(
            say("a jar test has three heights: sand, silt, clay."), "jar", say('Write jar = ["4 cm", "3 cm", "1 cm"].')
        )
    try:
        sand, silt, clay = (1000.0 * parse_quantity(v, "length") for v in value)
    except InputError as error:
        raise _relay(error) from None
    if min(sand, silt, clay) < 0 or not 5 <= sand + silt + clay <= 1000:
        raise _refuse(
            say("the heights {heights} must be 0 or more and add up to 0.5 to 100 cm.", heights=some(map(str, value))),
            "jar.range",
        )
    return sand, silt, clay


def _sides(value: Any) -> tuple[float, float]:
    if not isinstance(value, str):
        raise _refuse(
            say("{value} is not two lengths.", value=_shown(value)),
            "size.two_lengths",
            say('Write size = "3 m x 1.2 m".'),
        )
    try:
        sides = parse_sides(value)
    except InputError as error:
        raise _relay(error) from None
    if not all(0.03 <= side <= 500 for side in sides):
        raise _refuse(say('"{value}": both lengths must be between 0.03 and 500 m.', value=value), "size.range")
    return sides


def _base(value: Any) -> tuple[float, ...]:
    """The base of a pot: one length (round) or two (with sides)."""
    if isinstance(value, str) and re.search(r"[x×*]|\bby\b", value, re.IGNORECASE):
        return _sides(value)
    try:
        length = parse_quantity(value, "length")
    except InputError as error:
        raise _relay(error) from None
    if not 0.01 <= length <= 5:
        raise _refuse(say('"{value}" must be between 0.01 and 5 m.', value=value), "length.range")
    return (length,)


def _price(value: Any) -> tuple[float, str]:
    """What a cubic metre costs, and in which money."""
    if not isinstance(value, str):
        raise _refuse(
            say("{value} must be text in quotes.", value=_shown(value)), "text", say('Write "2.40 EUR per m3".')
        )
    try:
        return parse_price(value)
    except InputError as error:
        raise _relay(error) from None


#: Units of the electrical conductivity of water, in dS/m. 1 mS/cm is 1 dS/m, and 1 mmho/cm is the same by its old name.
_SALT_UNITS = {"ds/m": 1.0, "ms/cm": 1.0, "mmho/cm": 1.0, "us/cm": 0.001, "\u03bcs/cm": 0.001}
#: More than sea water, which has about 50 dS/m (from memory), is a slip of the pen. Judged.
_MOST_SALT_DS_M = 60.0


def _salt(value: Any) -> float:
    """Electrical conductivity of water: ``"0.7 dS/m"`` or ``"700 µS/cm"``. [dS/m]"""
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(\S+)", value.strip()) if isinstance(value, str) else None
    factor = _SALT_UNITS.get(found[2].casefold()) if found else None  # both signs for micro fold to one
    if found is None or factor is None:
        raise _refuse(
            say("{value} is not the conductivity of water.", value=_shown(value)),
            "salt",
            say('Write "0.7 dS/m" or "700 µS/cm".'),
        )
    number = float(found[1].replace(",", ".")) * factor
    if number > _MOST_SALT_DS_M:
        raise _refuse(
            say("{value} must be at most {most:g} dS/m.", value=_shown(value), most=_MOST_SALT_DS_M), "salt.range"
        )
    return float(f"{number:.12g}")


def _bucket(value: Any) -> float:
    """A flow, or what came in a time: ``"12 L/min"`` or ``"9 L in 45 s"``. [L/h]"""
    volume, word, time = value.partition(" in ") if isinstance(value, str) else ("", "", "")
    if not word:
        return float(_HOSE.func(value))  # type: ignore[call-arg]
    try:
        litres, hours = parse_quantity(volume, "volume"), parse_quantity(time, "duration")
    except InputError as error:
        raise _relay(error) from None
    if hours <= 0.0:
        raise _refuse(say('"{value}": the time must be more than 0.', value=value), "flow.range")
    return float(_HOSE.func(f"{litres / hours:.12g} L/h"))  # type: ignore[call-arg]


def _shown(value: Any) -> str:
    """A value for a message, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict | list):
        return say("a table") if isinstance(value, dict) else say("a list")
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 42 else text[:40] + "…"


#: A can in a week and a fire hose are slips of the pen. Judged.
_HOSE = _measure("flow", 10, 20_000)

Name = Annotated[str, _text(80)]
Text = Annotated[str, _text(500)]
Day = Annotated[date, BeforeValidator(_date)]
YesNo = Annotated[bool, BeforeValidator(_yes_no)]
Percent = Annotated[float, _measure("percent", 0, 100)]
Share = Annotated[float, _measure("percent", 0.1, 100, scale=0.01)]
Fraction = Annotated[float, BeforeValidator(_fraction)]
Pair = Annotated[tuple[float, float], BeforeValidator(_sides)]


class Table(BaseModel):
    """One table of the file. Keys that are not listed are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class GardenTable(Table):
    """``[garden]``"""

    name: Name
    where: Name | None = None
    latitude: Annotated[float, _measure("angle", -90, 90)] | None = None
    longitude: Annotated[float, _measure("angle", -180, 180)] | None = None
    elevation: Annotated[float, _measure("length", -430, 6000)] | None = None
    time_zone: Name | None = None
    weather: Annotated[str, _text(300)] = "normals"
    units: Annotated[Literal["metric", "US"], _choice("metric", "US")] = "metric"
    invented: YesNo = False
    start: Day | None = None


class SupplyTable(Table):
    """``[supply]``"""

    source: Annotated[
        Literal["mains", "rain_barrel", "well", "greywater", "other"],
        _choice("mains", "rain_barrel", "well", "greywater", "other"),
    ] = "mains"
    can: Annotated[float, _measure("volume", 0.2, 100)] | None = None
    tank: Annotated[float, _measure("volume", 1, 1e6)] | None = None
    hose: Annotated[float, BeforeValidator(_bucket)] | None = None
    price: Annotated[tuple[float, str], BeforeValidator(_price)] | None = None
    salt: Annotated[float, BeforeValidator(_salt)] | None = None


class WishesTable(Table):
    """``[wishes]``"""

    spare_water: Annotated[float, _number(0, 3)] = 1.0
    spare_time: Annotated[float, _number(0, 3)] = 1.0
    best_crop: Annotated[float, _number(0, 3)] = 1.0


class LineTable(Table):
    """``[[lines]]``"""

    name: Name
    means: Annotated[str, _word("means")]
    flow: Annotated[float, _measure("flow", 0.1, 1e5)] | None = None
    measured: YesNo = False
    each: Annotated[float, _measure("flow", 0.05, 5000)] | None = None
    every: Annotated[float, _measure("length", 0.02, 20)] | None = None
    long: Annotated[float, _measure("length", 0.1, 1000)] | None = None


class TimerTable(Table):
    """``[[timers]]``, without the programmes set on it, which need the lines of the file."""

    name: Name
    programmes: Annotated[int, _whole(1, 12)] = 2
    starts: Annotated[int, _whole(1, 12)] = 4
    days: Annotated[tuple[str, ...], BeforeValidator(_day_kinds)] = ("weekdays",)
    step: Annotated[int, _minutes(1, 60)] = 1
    longest: Annotated[int, _minutes(1, 720)] = 240
    every_at_most: Annotated[int, _whole(1, 31)] = 7
    lines: Annotated[int, _whole(1, 64)] = 8
    together: YesNo = False
    opens: Any = None
    hours: Annotated[tuple[tuple[int, int], ...], BeforeValidator(_hours)] = ((240, 600), (1080, 1320))
    allowed: Annotated[tuple[int, ...], BeforeValidator(_days_allowed)] = (0, 1, 2, 3, 4, 5, 6)
    dates: Annotated[Literal["any", "odd", "even"], _choice("any", "odd", "even")] = "any"
    pause: Annotated[int, _minutes(0, 600)] = 30
    flow_cap: Annotated[float, BeforeValidator(_flow_cap)] | None = None
    tank: Annotated[float, _measure("volume", 1, 1e6)] | None = None
    refill: Annotated[float, _measure("volume", 0, 1e6)] = 0.0
    set: Any = None
    since: Day | None = None
    earlier: Any = None


class SpellTable(Table):
    """What ran on a timer before: one of ``earlier``."""

    set: Any
    since: Day
    until: Day


class SoilTable(Table):
    """One soil layer, however it came to be known."""

    thickness: Annotated[float, _measure("length", 0.01, 3)] | None = None
    texture: Annotated[str, _word("textures")] | None = None
    sand_pct: Percent | None = None
    clay_pct: Percent | None = None
    organic_matter_pct: Annotated[float, _measure("percent", 0, 30)] | None = None
    stones_pct: Annotated[float, _measure("percent", 0, 90)] | None = None
    compaction: Annotated[float, _number(0.8, 1.3)] | None = None
    field_capacity: Fraction | None = None
    wilting_point: Fraction | None = None
    saturation: Fraction | None = None
    conductivity: Annotated[float, _measure("rate", 0.001, 1e5)] | None = None
    jar: Annotated[tuple[float, float, float], BeforeValidator(_jar)] | None = None
    feel: Annotated[tuple[str, ...], BeforeValidator(_feel)] | None = None
    mix: Annotated[str, _word("mixes")] | None = None


class PotTable(Table):
    """``pot = { … }``"""

    volume: Annotated[float, _measure("volume", 0.02, 5000)] | None = None
    diameter: Annotated[float, _measure("length", 0.02, 3)] | None = None
    sides: Pair | None = None
    height: Annotated[float, _measure("length", 0.02, 2)] | None = None
    base: Annotated[tuple[float, ...], BeforeValidator(_base)] | None = None
    filled: Annotated[float, _measure("percent", 20, 100, scale=0.01)] | None = None
    wall: Annotated[
        Literal["plastic", "glazed", "clay", "fabric", "wood"],
        _choice("plastic", "glazed", "clay", "fabric", "wood"),
    ] = "plastic"
    saucer: Annotated[float, _measure("length", 0, 0.5)] = 0.0
    count: Annotated[int, _whole(1, 10_000)] = 1


class MulchTable(Table):
    """``mulch = { … }``"""

    kind: Annotated[str, _word("mulches")]
    cover: Share = 1.0


class WettedTable(Table):
    """``wetted = { … }``"""

    flow: Annotated[float, _measure("flow", *WETTED_RANGES["flow"])]
    run: Annotated[float, _measure("duration", *WETTED_RANGES["run"])]
    circle: Annotated[float, _measure("length", *WETTED_RANGES["circle"])]
    dug: Annotated[float, _measure("length", *WETTED_RANGES["dug"])]
    line: YesNo = False
    seen: Day | None = None


class PlantingTable(Table):
    """``[[places.plantings]]``"""

    plant: Annotated[str, _word("plants")]
    sown: Day | None = None
    planted: Day | None = None
    established: YesNo = False
    cleared: Day | None = None
    count: Annotated[int, _whole(1, 1_000_000)] | None = None
    spacing: Annotated[float, _measure("length", 0.005, 20)] | None = None
    rows: Annotated[float, _measure("length", 0.005, 20)] | None = None
    width: Annotated[float, _measure("length", 0.005, 20)] | None = None
    height: Annotated[float, _measure("length", 0.005, 30)] | None = None
    measured: Day | None = None
    share: Share = 1.0


class PlaceTable(Table):
    """``[[places]]``, without the tables inside it, which are read on their own."""

    name: Name
    kind: Annotated[Literal["bed", "pot", "tray"], _choice("bed", "pot", "tray")]
    soil: Any
    size: Pair | None = None
    area: Annotated[float, _measure("area", 0.001, 1e5)] | None = None
    pot: Any = None
    barrier: Annotated[float, _measure("length", 0.02, 3)] | None = None
    mulch: Any = None
    sun: Any = None
    shelter: Annotated[Literal["open", "some", "strong"], _choice("open", "some", "strong")] = "open"
    cover: Annotated[
        Literal["none", "shade_cloth", "fleece", "tunnel", "glass"],
        _choice("none", "shade_cloth", "fleece", "tunnel", "glass"),
    ] = "none"
    lets_through: Annotated[float, _measure("percent", 1, 100, scale=0.01)] | None = None
    surroundings: Annotated[Literal["garden", "lawn", "paving"], _choice("garden", "lawn", "paving")] = "garden"
    rain: Annotated[float, _measure("percent", 0, 100, scale=0.01)] | None = None
    watered: Annotated[str, _word("means")] | None = None
    line: Name | None = None
    line_share: Share | None = None
    emitters: Annotated[int, _whole(1, 100_000)] | None = None
    each: Annotated[float, _measure("flow", 0.05, 5000)] | None = None
    wets: Share | None = None
    followed: Day | None = None
    wetted: Any = None
    plantings: Any = None
    note: Text = ""
