"""Readings on the picture of a balance: about where each lies, and what it said, in a few words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from soakbook.app.reader import Reader
from soakbook.catalog.words import SQUEEZED
from soakbook.garden.model import SQUEEZES

if TYPE_CHECKING:
    from soakbook.balance.place import PlaceDays
    from soakbook.garden.model import LogEntry

#: Where a feel, and the weight in the hand, are drawn, as the used fraction. Judged: only the word is meant.
_HAND_AT = (0.75, 0.4, 0.05)
#: Where a squeeze is drawn: the middle of its quarter; field capacity and all above it at the top.
_SQUEEZED_AT = (0.875, 0.625, 0.375, 0.125, 0.0, 0.0)
#: Kinds that say how wet the soil is; the others are signs, drawn apart.
WETNESS = ("feel", "squeeze", "lift", "dial", "sensor", "tension")


def read_at(entry: LogEntry, days: PlaceDays) -> float | None:
    """About which used fraction a reading stands for, 0 to 1; None for a sign, which stands for none."""
    if entry.value is None or entry.reading not in WETNESS:
        return None
    if entry.reading in ("feel", "lift"):
        return _HAND_AT[int(entry.value)]
    if entry.reading == "squeeze":
        return _SQUEEZED_AT[int(entry.value)]
    if entry.reading == "dial":
        return 1.0 - entry.value / 10.0
    return float(np.clip(1.0 - _wetness(entry, days), 0.0, 1.0))


def _wetness(entry: LogEntry, days: PlaceDays) -> float:
    """Of a sensor or a tensiometer: water over the wilting point as a part of the available water, by the best guess."""
    from soakbook.learning.reading import USUAL_DEPTH_M, layer_at, suction_kpa

    depth_m = USUAL_DEPTH_M if entry.depth_m is None else entry.depth_m
    layer, value = layer_at(days, depth_m), float(entry.value or 0.0)
    columns = days.laid.columns
    if entry.reading == "sensor":
        wp, fc = float(columns.wp_mm[0, layer, 0]), float(columns.fc_mm[0, layer, 0])
        return (value * float(columns.thickness_mm[0, layer]) - wp) / (fc - wp)
    wetness = np.linspace(0.0, 1.0, 101)
    kpa = suction_kpa(days, layer, wetness[:, None], depth_m)[:, 0]
    return float(np.interp(value, kpa[::-1], wetness[::-1]))


def said_by_day(readings: Sequence[LogEntry], r: Reader) -> dict[date, str]:
    """What was read on each day."""
    said: dict[date, list[str]] = {}
    for entry in readings:
        said.setdefault(entry.at.date(), []).append(reading_words(entry, r))
    return {day: "; ".join(words) for day, words in said.items()}


def reading_words(entry: LogEntry, r: Reader) -> str:
    """What a reading said, without its place."""
    value = entry.value or 0.0
    if entry.reading == "feel":
        return (r.t("felt dry"), r.t("felt moist"), r.t("felt wet"))[int(value)]
    if entry.reading == "squeeze":
        return r.t("squeezed: {how}", how=r.tell(SQUEEZED[SQUEEZES[int(value)]][0]))
    if entry.reading == "lift":
        return (r.t("light in the hand"), r.t("middling in the hand"), r.t("heavy in the hand"))[int(value)]
    if entry.reading == "dial":
        return r.t("dial at {dial}", dial=r.number(value, 0 if value == int(value) else 1))
    if entry.reading == "sensor":
        return r.t("sensor at {share}", share=r.percent(value))
    if entry.reading == "tension":
        return r.t("tension {n} kPa", n=r.number(value))
    if entry.reading == "weight":
        return r.t("weighed {mass}", mass=r.quantity(value, "mass"))
    if entry.reading == "flow":
        return r.t("flow {flow}", flow=r.quantity(value, "flow"))
    if entry.reading == "meter":
        return r.t("meter at {value}", value=r.quantity(value, "volume"))
    seen, not_seen = {
        "came out below": (r.t("came out below"), r.t("nothing came out below")),
        "ran off": (r.t("ran off"), r.t("nothing ran off")),
        "wilted at dawn": (r.t("wilted at dawn"), r.t("not wilted at dawn")),
        "wilted at 4 pm": (r.t("wilted at 4 pm"), r.t("not wilted at 4 pm")),
    }[entry.reading or "ran off"]
    return seen if value else not_seen
