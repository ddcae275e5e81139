"""Values of a sensor that stays in the soil, thinned to readings of the log.

A sensor that speaks every few minutes says the same thing over and over, and its own error with it. So each day has one reading, the
middle value of the early morning, when nothing is drawn and what was poured has settled; while listening, a jump is written as well.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from statistics import median
from typing import Literal

from soakbook.errors import InputError
from soakbook.garden.log import LogRow, parse_row
from soakbook.garden.model import Garden, ReadingKind
from soakbook.garden.readings import RANGES, Read, reading_amount
from soakbook.said import say

Unit = Literal["m3/m3", "%", "kPa"]
UNITS: tuple[Unit, ...] = ("m3/m3", "%", "kPa")
#: The hours of the morning that count, from the first to before the second. Judged: transpiration is near nil before 8, and water
#: poured in the evening has mostly moved on by 4.
MORNING_HOURS = (4, 8)
#: What counts as a jump from the last reading. Judged: well over the noise of a sensor, and what a shower or a watering makes. [m³/m³]
JUMP_CONTENT = 0.03
#: The same for a tensiometer, as a ratio. Judged.
JUMP_TENSION = 1.5
#: The least time between two readings that are written for jumps. Judged.
BETWEEN_JUMPS = timedelta(hours=1)
MOST_PAYLOAD = 65_536


@dataclass(frozen=True)
class Sample:
    """One value of a sensor, in the unit its readings have inside; ``at`` is the garden's local time with its zone."""

    at: datetime
    value: float


@dataclass(frozen=True)
class Sensor:
    """Where a sensor is and what it is called. ``place`` is the name of the place."""

    place: str
    unit: Unit = "m3/m3"
    depth_m: float | None = None
    instrument: str = ""

    @property
    def reading(self) -> ReadingKind:
        """What its readings are of."""
        return "tension" if self.unit == "kPa" else "sensor"


def sensor_of(garden: Garden, place: str, unit: str, depth: str, by: str) -> Sensor:
    """The sensor that these words describe, its place by the name it has; InputError when one of them cannot be used."""
    known = next((one for one in UNITS if one.casefold() == unit.strip().casefold()), None)
    if known is None:
        raise InputError(
            say('"{unit}" must be one of {units}.', unit=unit[:40], units=", ".join(UNITS)),
            code="sensor.unit",
            field="unit",
        )
    amount = (
        ("tension 0" if known == "kPa" else "sensor 0")
        + (f" at {depth}" if depth else "")
        + (f" by {by}" if by else "")
    )
    entry = parse_row(LogRow("2000-01-01T06:00", "reading", place, amount, "", "new"), garden)
    return Sensor(entry.place, known, entry.depth_m, entry.instrument)


def sensor_value(number: float, unit: Unit) -> float:
    """A number the sensor gave in the unit used inside; InputError outside what such a sensor can show.

    Examples
    --------
    >>> sensor_value(23.5, "%")
    0.235
    """
    value = float(f"{number / 100.0:.12g}") if unit == "%" else number
    low, high = RANGES["tension" if unit == "kPa" else "sensor"]
    if not (math.isfinite(value) and low <= value <= high):
        scale = 100.0 if unit == "%" else 1.0
        raise InputError(
            say(
                "{number:g} must be between {low:g} and {high:g} {unit}.",
                number=number,
                low=low * scale,
                high=high * scale,
                unit=unit,
            ),
            code="sensor.range",
            field="value",
            hint=say("Choose the unit that the sensor has: {units}.", units=", ".join(UNITS)),
        )
    return value


def parse_number(text: str) -> float:
    """A number as a logger or sensor writes it, with a point or a comma; InputError when it is none."""
    plain = text.strip().removesuffix("%").strip().replace(",", ".").replace("\u2212", "-")
    if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", plain):
        raise InputError(say('"{text}" is not a number.', text=text.strip()[:40]), code="sensor.number", field="value")
    return float(plain)


def parse_payload(data: bytes, key: str = "") -> float:
    """The number in a message: the message as a whole, or what stands under ``key`` in its JSON (``soil.moisture`` for one within
    another). InputError when there is none."""
    if len(data) > MOST_PAYLOAD:
        raise InputError(
            say("the message is too long ({n} bytes).", n=len(data)), code="sensor.payload", field="payload"
        )
    text = data.decode("utf-8", errors="replace")
    if not key:
        return parse_number(text)
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError(
            say('the message is not JSON ("{text}").', text=_shown(text)), code="sensor.payload", field="payload"
        ) from None
    for part in key.split("."):
        found = found.get(part) if isinstance(found, dict) else None
    if isinstance(found, str):
        return parse_number(found)
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise InputError(
            say('the message has no number under "{key}" ("{text}").', key=key, text=_shown(text)),
            code="sensor.payload",
            field="payload",
        )
    return float(found)


def _shown(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text[:60])


# --- a whole record ------------------------------------------------------------------------------------------------
def mornings(samples: Iterable[Sample]) -> list[Sample]:
    """One for each day: the median of the early morning, at the time of the middle one; where the morning has none, the day's first."""
    days: dict[date, list[Sample]] = {}
    for sample in sorted(samples, key=lambda one: one.at):
        days.setdefault(sample.at.date(), []).append(sample)
    return [_of_day(day) for day in days.values()]


def _of_day(day: list[Sample]) -> Sample:
    early = [one for one in day if is_morning(one.at)]
    return middle(early) if early else day[0]


def is_morning(at: datetime) -> bool:
    """Whether a local time is within the hours that count."""
    return MORNING_HOURS[0] <= at.hour < MORNING_HOURS[1]


def middle(samples: list[Sample]) -> Sample:
    """The median value, at the time of the middle one."""
    return Sample(samples[len(samples) // 2].at, float(f"{median(one.value for one in samples):.6g}"))


def sensor_row(sensor: Sensor, sample: Sample, id_: str = "") -> LogRow:
    """A sample as a line of the log. Without an id it gets that of the sensor's reading of the day, so that the same record read
    again counts once."""
    read = Read(sensor.reading, sample.value, sensor.depth_m, sensor.instrument)
    at = sample.at.replace(tzinfo=None).isoformat(timespec="minutes")
    return LogRow(at, "reading", sensor.place, reading_amount(read), "", id_ or daily_id(sensor, sample.at.date()))


def daily_id(sensor: Sensor, day: date) -> str:
    """The id of the day's reading of a sensor."""
    return f"sensor-{_digest(sensor)}-{day:%Y%m%d}"


def jump_id(sensor: Sensor, at: datetime) -> str:
    """The id of a reading that was written for a jump."""
    return f"sensor-{_digest(sensor)}-{at:%Y%m%d-%H%M}"


def _digest(sensor: Sensor) -> str:
    depth = "" if sensor.depth_m is None else f"{sensor.depth_m:.4f}"
    said = "\x1f".join((sensor.place, sensor.reading, depth, sensor.instrument))
    return hashlib.sha256(said.encode()).hexdigest()[:12]


# --- a stream ------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Heard:
    """What has been heard of a sensor so far: this morning's samples, the last reading written, and the day that has its own."""

    early: tuple[Sample, ...] = ()
    last: Sample | None = None
    done: date | None = None


@dataclass(frozen=True)
class Due:
    """A reading that is to be written; ``is_jump`` when it is beside the day's own."""

    sample: Sample
    is_jump: bool = False


def hear(heard: Heard, sample: Sample, kind: ReadingKind = "sensor") -> tuple[Heard, list[Due]]:
    """Take in one more sample, later than all before, and say what is to be written for it."""
    heard, due = passed(heard, sample.at)
    if heard.last is not None and _is_jump(heard.last, sample, kind):
        return replace(heard, early=(), last=sample), [*due, Due(sample, is_jump=True)]
    if heard.done == sample.at.date():
        return heard, due
    if is_morning(sample.at):
        return replace(heard, early=(*heard.early, sample)), due
    if sample.at.hour < MORNING_HOURS[0]:  # the morning is still to come
        return heard, due
    return Heard((), sample, sample.at.date()), [*due, Due(sample)]


def passed(heard: Heard, now: datetime) -> tuple[Heard, list[Due]]:
    """What is to be written because the morning is over."""
    if not heard.early:
        return heard, []
    day = heard.early[0].at.date()
    if now.date() == day and now.hour < MORNING_HOURS[1]:
        return heard, []
    return ended(heard)


def ended(heard: Heard) -> tuple[Heard, list[Due]]:
    """What is still to be written when listening stops: what was heard of the morning so far."""
    if not heard.early:
        return heard, []
    one = middle(list(heard.early))
    return Heard((), one, one.at.date()), [Due(one)]


def _is_jump(last: Sample, sample: Sample, kind: ReadingKind) -> bool:
    if sample.at - last.at < BETWEEN_JUMPS:
        return False
    if kind == "tension":
        low, high = sorted((max(last.value, 1.0), max(sample.value, 1.0)))
        return high / low >= JUMP_TENSION
    return abs(sample.value - last.value) >= JUMP_CONTENT
