"""Readings of a place, and what its members hold at the moment each was taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import hypot
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import DRAINAGE, RUNOFF, STRESS, Result
from soakbook.balance.layout import BED_MIX_SUCTION_CM
from soakbook.balance.place import PlaceDays, standard_time
from soakbook.catalog import read as catalog
from soakbook.errors import InputError
from soakbook.garden.model import LogEntry, Place, SoilLayer
from soakbook.learning import observe
from soakbook.physics import potting
from soakbook.physics.feel import feel_class
from soakbook.physics.soil import field_capacity_suction_kpa, jar_to_particles
from soakbook.physics.texture import composition, texture_class
from soakbook.said import say

FloatArray = NDArray[np.float64]
Kind = Literal[
    "feel", "lift", "dial", "tension", "sensor", "weight", "came out below", "ran off", "wilted at dawn", "wilted at 4 pm"
]  # fmt: skip

#: Depth of a finger or probe when none was written down. Judged. [m]
USUAL_DEPTH_M = 0.10
#: Numbers that stay with an instrument, per kind of reading; the other kinds have none.
STAYS: dict[str, int] = {"feel": 1, "lift": 1, "dial": 2, "sensor": 1, "weight": 1}
#: Least and most a reading of a kind can be.
RANGES: dict[str, tuple[float, float]] = {
    "feel": (0, 2), "lift": (0, 2), "dial": (0, 10), "tension": (0, 1500), "sensor": (0, 1), "weight": (0.01, 1000),
    "came out below": (0, 1), "ran off": (0, 1), "wilted at dawn": (0, 1), "wilted at 4 pm": (0, 1),
}  # fmt: skip
#: Kinds whose value is a class or yes and no.
WHOLE = ("feel", "lift", "came out below", "ran off", "wilted at dawn", "wilted at 4 pm")
_FEELS = ("dry", "moist", "wet")
_CM_PER_KPA = 10.197


@dataclass(frozen=True)
class Reading:
    """One reading of one place. ``value`` is dry/moist/wet or light/middling/heavy as 0, 1, 2; marks of a dial; kPa; m³/m³; kg
    of one pot; or 1 seen and 0 not seen. ``instrument`` tells probes, sensors and hands apart."""

    id: str
    at: datetime
    kind: Kind
    value: float
    depth_m: float = USUAL_DEPTH_M
    instrument: str = ""

    def __post_init__(self) -> None:
        low, high = RANGES[self.kind]
        if not low <= self.value <= high or (self.kind in WHOLE and self.value != int(self.value)):
            raise InputError(
                say("a reading of {kind} must lie from {low:g} to {high:g} (got {value:g}).", kind=repr(self.kind), low=low, high=high, value=self.value),
                code="reading.range", field="value",
            )  # fmt: skip

    @property
    def by(self) -> tuple[str, str]:
        """What took it: kind and instrument."""
        return self.kind, self.instrument


@dataclass(frozen=True)
class Moment:
    """A time within a run: its step, and how much of what happens in that step has happened by then."""

    step: int
    part: float


def readings_of(log: Sequence[LogEntry], place: Place) -> list[Reading]:
    """The readings of a place in the garden's log."""
    found = []
    for entry in log:
        if entry.kind != "reading" or entry.place != place.name:
            continue
        depth = USUAL_DEPTH_M if entry.depth_m is None else entry.depth_m
        if entry.dial is not None:
            found.append(Reading(entry.id, entry.at, "dial", entry.dial, depth))
        if entry.feel is not None:
            found.append(Reading(f"{entry.id}.feel", entry.at, "feel", _FEELS.index(entry.feel), depth))
    return found


def moment_of(days: PlaceDays, at: datetime, log: Sequence[LogEntry]) -> Moment:
    """Where a time falls in a run; IndexError when it is outside the days.

    A step in which the place was watered counts whole after the watering and not at all before it; of two at the same minute
    the reading came first, for one looks and then waters. Else a bed's day is
    used up from 6 in the morning to 6 in the evening, as the sun has it.
    """
    zone = ZoneInfo(days.garden.time_zone)
    local, n = standard_time(at, zone), days.steps_a_day
    day = days.index(local.date())
    step = day * n + (local.hour if n > 1 else 0)
    poured = [
        when for e in log if e.kind == "water" and e.place == days.place.name
        and (when := standard_time(e.at, zone)).date() == local.date() and (n == 1 or when.hour == local.hour)
    ]  # fmt: skip
    if any(when < local for when in poured):
        return Moment(step, 1.0)
    if poured:
        return Moment(step, 0.0)
    hour = local.hour + local.minute / 60.0
    return Moment(step, hour - local.hour if n > 1 else min(max((hour - 6.0) / 12.0, 0.0), 1.0))


def log_likelihood(reading: Reading, moment: Moment, days: PlaceDays, run: Result, stays: FloatArray) -> FloatArray:
    """Logarithm of how likely a reading is in each member, (M,); ``stays`` (numbers of the instrument, M)."""
    kind, value = reading.kind, reading.value
    if kind in observe.WILT_KS:
        return observe.wilted(value == 1, _supply(days, run, moment, kind), kind)
    if kind == "came out below":
        return observe.water_seen(value == 1, _passed(days, run, moment, DRAINAGE), observe.SEEN_BELOW_MM)
    if kind == "ran off":
        return observe.water_seen(value == 1, _passed(days, run, moment, RUNOFF), observe.SEEN_RAN_OFF_MM)
    water = water_at(days, run, moment)
    if kind in ("lift", "weight") and days.place.pot is None:
        raise InputError(say("only a pot or tray can be lifted or weighed."), code="reading.pot", field="kind")
    if kind == "lift":
        return observe.lift(int(value), _whole_wetness(days, water), stays[0])
    if kind == "weight" and days.place.pot is not None:
        litres = water.sum(0) * days.laid.ground_m2 / days.place.pot.count
        return observe.weight(value, litres, stays[0], days.place.pot.volume_l)
    layer = layer_at(days, reading.depth_m)
    wetness = wetness_of(days, water)[layer]
    if kind == "feel":
        return observe.feel(int(value), wetness, stays[0], feel_group(days.place, reading.depth_m))
    if kind == "dial":
        return observe.dial(value, wetness, stays[0], stays[1])
    if kind == "tension":
        return observe.tension(value, suction_kpa(days, layer, wetness, reading.depth_m))
    held = water[layer] / days.laid.columns.thickness_mm[0, layer]
    # The member's wilting point is the best guess; how far that is off stays with the sensor.
    off = hypot(observe.SENSOR_OFFSET_SD, days.laid.layers[0].theta_wp_sd)
    return observe.sensor(value, held, stays[0], off)


def water_at(days: PlaceDays, run: Result, moment: Moment) -> FloatArray:
    """Water of the wetted part by layer at a moment, (L, M). [mm]"""
    after = run.water_mm[0, moment.step, 0]
    before = run.water_mm[0, moment.step - 1, 0] if moment.step else days.full().water_mm[0, 0]
    return np.asarray((1.0 - moment.part) * before + moment.part * after)


def wetness_of(days: PlaceDays, water_mm: FloatArray) -> FloatArray:
    """Water over that at the wilting point as a part of the available water, by layer, (L, M)."""
    return np.asarray((water_mm - days.laid.columns.wp_mm[0]) / days.taw_mm)


def layer_at(days: PlaceDays, depth_m: float) -> int:
    """The layer at a depth; the lowest for all below it."""
    edges = days.laid.edges_m
    return int(np.clip(np.searchsorted(edges, depth_m, side="left") - 1, 0, len(edges) - 2))


def feel_group(place: Place, depth_m: float) -> str:
    """The texture group of the feel method at a depth, or ``mix``; medium where only measured values are known."""
    layer = _soil_at(place, depth_m)
    if layer.route == "mix":
        return "mix"
    name = _texture(layer)
    return "medium" if name is None else observe.FEEL_GROUP[name]


def suction_kpa(days: PlaceDays, layer: int, wetness: FloatArray, depth_m: float) -> FloatArray:
    """Suction for a wetness, (M,): in soil a power law through field capacity and wilting point (Saxton & Rawls 2006, Eq 11), in a
    mix its van Genuchten curve, taken to stretch with what the member holds. [kPa]"""
    soil = _soil_at(days.place, depth_m)
    c = days.laid.columns
    if soil.route == "mix":
        mix = catalog.mixes()[soil.mix]
        at = (mix.theta_r.value, mix.theta_s.value, mix.alpha_per_cm.value, mix.n.value)
        base = days.laid.edges_m[-1] - 0.5 * (days.laid.edges_m[layer] + days.laid.edges_m[layer + 1])
        drained_cm = 100.0 * base if days.place.pot is not None else BED_MIX_SUCTION_CM
        full = float(potting.theta_van_genuchten(drained_cm, *at))
        return _van_genuchten_kpa(mix.wilting.value + wetness * (full - mix.wilting.value), *at)
    name = _texture(soil) or "loam"
    typical = composition(name)
    fc_kpa = float(field_capacity_suction_kpa(typical.sand_pct, typical.clay_pct))
    fc, wp = c.fc_mm[0, layer], c.wp_mm[0, layer]
    steep = np.log(1500.0 / fc_kpa) / np.log(fc / wp)
    held = np.maximum(wp + wetness * (fc - wp), 1e-3 * wp)
    return np.asarray(fc_kpa * (held / fc) ** -steep)


def _van_genuchten_kpa(theta: FloatArray, theta_r: float, theta_s: float, alpha_per_cm: float, n: float) -> FloatArray:
    filled = np.clip((theta - theta_r) / (theta_s - theta_r), 1e-6, 1.0 - 1e-9)
    return np.asarray((filled ** (-n / (n - 1.0)) - 1.0) ** (1.0 / n) / alpha_per_cm / _CM_PER_KPA)


def texture_at(place: Place, depth_m: float = USUAL_DEPTH_M) -> str | None:
    """The name of the texture class at a depth; None for a mix or where only measured values are known."""
    name = _texture(_soil_at(place, depth_m))
    return None if name is None else catalog.textures()[name].name


def _whole_wetness(days: PlaceDays, water_mm: FloatArray) -> FloatArray:
    return np.asarray((water_mm - days.laid.columns.wp_mm[0]).sum(0) / days.taw_mm.sum(0))


def _passed(days: PlaceDays, run: Result, moment: Moment, flux: int) -> FloatArray:
    """What drained or ran off in the day up to a moment; in a bed's whole day. [mm]"""
    n = days.steps_a_day
    first = moment.step - moment.step % n
    return np.asarray(run.fluxes[0, first : moment.step + 1, flux].sum(0))


def _supply(days: PlaceDays, run: Result, moment: Moment, when: str) -> FloatArray:
    """Ks of the afternoon before, for dawn; of the day (pots: from 1 to 4 pm) for 4 pm."""
    n = days.steps_a_day
    day = max(moment.step // n - (when == "wilted at dawn"), 0)
    hours = slice(day * n + 13, day * n + 16) if n > 1 else slice(day, day + 1)
    return np.asarray(run.fluxes[0, hours, STRESS].mean(0))


def _soil_at(place: Place, depth_m: float) -> SoilLayer:
    bottom = 0.0
    for layer in place.soil:
        bottom += float("inf") if layer.thickness_m is None else layer.thickness_m
        if depth_m <= bottom:
            return layer
    return place.soil[-1]


def _texture(layer: SoilLayer) -> str | None:
    """The texture class of a layer, None where it was not described by one."""
    if layer.route == "texture":
        return layer.texture
    if layer.route == "feel":
        return feel_class(layer.feel)
    if layer.route == "particles" and layer.sand_pct is not None and layer.clay_pct is not None:
        return str(texture_class(layer.sand_pct, layer.clay_pct))
    if layer.route == "jar" and None not in (layer.jar_sand_mm, layer.jar_silt_mm, layer.jar_clay_mm):
        heights = (layer.jar_sand_mm, layer.jar_silt_mm, layer.jar_clay_mm)
        return str(texture_class(*jar_to_particles(*(float(h) for h in heights if h is not None))))
    return None
