"""Readings of a place, and what its members hold at the moment each was taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import hypot
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.balance.columns import DRAINAGE, RUNOFF, STRESS, Result
from soakbook.balance.layout import BED_MIX_SUCTION_CM
from soakbook.balance.place import PlaceDays, standard_time
from soakbook.balance.spread import evenness_sd
from soakbook.catalog import read as catalog
from soakbook.errors import InputError
from soakbook.garden.log import flow_lph
from soakbook.garden.model import LogEntry, Place, ReadingKind, SoilLayer
from soakbook.learning import observe
from soakbook.learning.lasting import FRESH_SD, LASTING_SD
from soakbook.physics import potting
from soakbook.physics.feel import feel_class
from soakbook.physics.soil import field_capacity_suction_kpa, jar_to_particles
from soakbook.physics.texture import composition, texture_class
from soakbook.said import say

FloatArray = NDArray[np.float64]
Kind = ReadingKind

#: Depth of a finger or probe when none was written down. Judged. [m]
USUAL_DEPTH_M = 0.10
#: Numbers that stay with an instrument, per kind of reading; the other kinds have none.
STAYS: dict[str, int] = {"feel": 1, "lift": 1, "dial": 2, "sensor": 1, "weight": 1}
#: Kinds that are taken with the instrument of another, and share what stays with it: one hand feels and squeezes.
TAKEN_AS: dict[str, str] = {"squeeze": "feel"}
#: Least and most a reading of a kind can be.
RANGES: dict[str, tuple[float, float]] = {
    "feel": (0, 2), "squeeze": (0, 5), "lift": (0, 2), "dial": (0, 10), "tension": (0, 1500), "sensor": (0, 1), "weight": (0.01, 1000),
    "came out below": (0, 1), "ran off": (0, 1), "wilted at dawn": (0, 1), "wilted at 4 pm": (0, 1), "flow": (0, 1e6),
    "meter": (0, 1e8),
}  # fmt: skip
#: Kinds whose value is a class or yes and no.
WHOLE = ("feel", "squeeze", "lift", "came out below", "ran off", "wilted at dawn", "wilted at 4 pm")
_CM_PER_KPA = 10.197


@dataclass(frozen=True)
class Reading:
    """One reading of one place. ``value`` is dry/moist/wet or light/middling/heavy as 0, 1, 2; dry to dripping of a squeeze as 0 to 5;
    marks of a dial; kPa; m³/m³; kg of one pot; 1 seen and 0 not seen; or L/h. ``instrument`` tells probes, sensors and hands apart;
    ``line`` is set where a flow is of the whole line."""

    id: str
    at: datetime
    kind: Kind
    value: float
    depth_m: float = USUAL_DEPTH_M
    instrument: str = ""
    line: str = ""

    def __post_init__(self) -> None:
        low, high = RANGES[self.kind]
        if not low <= self.value <= high or (self.kind in WHOLE and self.value != int(self.value)):
            raise InputError(
                say("a reading of {kind} must lie from {low:g} to {high:g} (got {value:g}).", kind=repr(self.kind), low=low, high=high, value=self.value),
                code="reading.range", field="value",
            )  # fmt: skip

    @property
    def by(self) -> tuple[str, str]:
        """What took it: kind and instrument; the hand that feels is the one that squeezes."""
        return TAKEN_AS.get(self.kind, self.kind), self.instrument


@dataclass(frozen=True)
class Moment:
    """A time within a run: its step, and how much of what happens in that step has happened by then."""

    step: int
    part: float


def readings_of(log: Sequence[LogEntry], place: Place) -> list[Reading]:
    """The readings of a place in the garden's log: those after the last entry that says to forget the ones before.

    A flow of the line that feeds the place is one of its readings.
    """
    forgotten = max((e.at for e in log if e.kind == "forget" and e.place == place.name), default=None)
    return [
        Reading(
            e.id, e.at, e.reading, e.value, USUAL_DEPTH_M if e.depth_m is None else e.depth_m, e.instrument,
            "" if e.place else e.line,
        )
        for e in log
        if e.kind == "reading" and e.reading is not None and e.value is not None and _is_of(e, place)
        and (forgotten is None or e.at > forgotten)
    ]  # fmt: skip


def _is_of(entry: LogEntry, place: Place) -> bool:
    return entry.place == place.name or (not entry.place and bool(entry.line) and entry.line == place.line)


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
        and abs(e.at.toordinal() - at.toordinal()) <= 2  # near, whatever zones the two are written in
        and (when := standard_time(e.at, zone)).date() == local.date() and (n == 1 or when.hour == local.hour)
    ]  # fmt: skip
    if any(when < local for when in poured):
        return Moment(step, 1.0)
    if poured:
        return Moment(step, 0.0)
    hour = local.hour + local.minute / 60.0
    return Moment(step, hour - local.hour if n > 1 else min(max((hour - 6.0) / 12.0, 0.0), 1.0))


def steps_for(sights: Sequence[tuple[Reading, Moment]], n: int, days: int) -> NDArray[np.int64]:
    """Steps of a run of so many days that must be kept for its readings: every day's last, and those the readings look at."""
    steps = set(range(n - 1, days * n, n))
    for reading, moment in sights:
        steps |= {moment.step - 1, moment.step}
        if reading.kind in observe.WILT_KS and n > 1:
            steps |= set(range(_day_of(reading.kind, moment, n) * n + 12, _day_of(reading.kind, moment, n) * n + 16))
    return np.array(sorted(steps - {-1}), dtype=np.int64)


def log_likelihood(reading: Reading, moment: Moment, days: PlaceDays, run: Result, stays: FloatArray) -> FloatArray:
    """Logarithm of how likely a reading is in each member, (M,); ``stays`` (numbers of the instrument, M)."""
    return likely(reading, reading.value, looked_at([(reading, moment)], days, run)[0], days, stays)


def looked_at(
    sights: Sequence[tuple[Reading, Moment]], days: PlaceDays, run: Result, wetter: FloatArray | float = 0.0
) -> FloatArray:  # fmt: skip
    """What readings of one kind at one depth look at, (R, M): wetness, kPa, m³/m³, litres of a pot, mm that passed, supply, or
    delivery over what was meant. ``wetter``: how much wetter the spot is than the balance has it, in wetness, (R, M)."""
    first = sights[0][0]
    kind, moments = first.kind, [m for _, m in sights]
    if kind in observe.WILT_KS:
        return np.array([_supply(days, run, m, kind) for m in moments])
    if kind in ("came out below", "ran off"):
        return np.array([_passed(days, run, m, DRAINAGE if kind == "came out below" else RUNOFF) for m in moments])
    if kind == "flow":
        given = days.laid.columns.delivery[0] / catalog.means()[days.place.means].efficiency.value
        return np.broadcast_to(given, (len(sights), len(given)))
    if kind in ("lift", "weight"):
        if days.place.pot is None:
            raise InputError(say("only a pot or tray can be lifted or weighed."), code="reading.pot", field="kind")
        whole, store = _waters(days, run, moments, slice(None)).sum(1), days.taw_mm.sum(0)
        if kind == "lift":
            return np.asarray((whole - days.laid.columns.wp_mm[0].sum(0)) / store + wetter)
        return np.asarray((whole + wetter * store) * days.laid.ground_m2 / days.place.pot.count)
    layer = layer_at(days, first.depth_m)
    water = _waters(days, run, moments, layer) + wetter * days.taw_mm[layer]
    if kind == "sensor":
        return np.asarray(water / days.laid.columns.thickness_mm[0, layer])
    wetness = (water - days.laid.columns.wp_mm[0, layer]) / days.taw_mm[layer]
    return suction_kpa(days, layer, wetness, first.depth_m) if kind == "tension" else np.asarray(wetness)


def likely(first: Reading, values: ArrayLike, seen: FloatArray, days: PlaceDays, stays: FloatArray) -> FloatArray:
    """Logarithm of how likely values are, read as ``first`` was, given what members have there (:func:`looked_at`): values (R, 1)
    for ``seen`` (R, M), or any that broadcast; ``stays`` (numbers of the instrument, M)."""
    kind = first.kind
    off = observe.BED_MODEL_SD if days.place.kind == "bed" else observe.MODEL_SD
    if kind in observe.WILT_KS:
        return observe.wilted(np.asarray(values) == 1, seen, kind)
    if kind in ("came out below", "ran off"):
        half = observe.SEEN_BELOW_MM if kind == "came out below" else observe.SEEN_RAN_OFF_MM
        return observe.water_seen(np.asarray(values) == 1, seen, half)
    if kind == "flow":
        meant = flow_meant(days, first)
        assert meant is not None
        return observe.flow(np.asarray(values) / meant, seen, evenness_sd(days.place))
    if kind == "lift":
        return observe.lift(values, seen, stays[0])
    if kind == "weight" and days.place.pot is not None:
        litres = float(days.taw_mm[:, 0].sum()) * days.laid.ground_m2 / days.place.pot.count
        return observe.weight(values, seen, stays[0], days.place.pot.volume_l, off * litres)
    if kind == "feel":
        return observe.feel(values, seen, stays[0], feel_group(days.place, first.depth_m), off)
    if kind == "squeeze":
        return observe.squeeze(values, seen, stays[0], feel_group(days.place, first.depth_m), off)
    if kind == "dial":
        return observe.dial(values, seen, stays[0], stays[1], off)
    if kind == "tension":
        return observe.tension(values, seen)
    layer = layer_at(days, first.depth_m)
    model = hypot(LASTING_SD, FRESH_SD) * store_in(days, layer)
    return observe.sensor(values, seen, stays[0], sensor_offset_sd(days), model)


def sensor_offset_sd(days: PlaceDays) -> float:
    """How far a sensor may be off as long as it stays: the member's wilting point is the best guess, and how far that is off stays
    with the sensor. [m³/m³]"""
    return hypot(observe.SENSOR_OFFSET_SD, days.laid.layers[0].theta_wp_sd)


def store_in(days: PlaceDays, layer: int) -> float:
    """Water between wilting point and field capacity in a layer, of the first member. [m³/m³]"""
    return float(days.taw_mm[layer, 0] / days.laid.columns.thickness_mm[0, layer])


def flow_meant(days: PlaceDays, reading: Reading) -> float | None:
    """The flow that the garden file has for what was measured; None where it has none. [L/h]"""
    if not reading.line:
        return flow_lph(days.place, days.garden)
    return next((line.flow_lph for line in days.garden.lines if line.name == reading.line), None)


def _waters(days: PlaceDays, run: Result, moments: Sequence[Moment], layer: int | slice) -> FloatArray:
    """Water of the wetted part of a layer, or of all, at several moments: (R, M) or (R, L, M). [mm]"""
    start = days.start().water_mm[0, 0][layer] if any(m.step == 0 for m in moments) else None
    out = []
    for m in moments:
        after = run.water_mm[0, run.slot(m.step), 0][layer]
        before = start if m.step == 0 and start is not None else run.water_mm[0, run.slot(m.step - 1), 0][layer]
        out.append((1.0 - m.part) * before + m.part * after)
    return np.array(out)


def water_at(days: PlaceDays, run: Result, moment: Moment) -> FloatArray:
    """Water of the wetted part by layer at a moment, (L, M). [mm]"""
    return np.asarray(_waters(days, run, [moment], slice(None))[0])


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
    name = texture_id(layer)
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
    name = texture_id(soil) or "loam"
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
    name = texture_id(_soil_at(place, depth_m))
    return None if name is None else catalog.textures()[name].name


def _passed(days: PlaceDays, run: Result, moment: Moment, flux: int) -> FloatArray:
    """What drained or ran off in the day up to a moment; in a bed's whole day. [mm]"""
    n = days.steps_a_day
    first, after = np.searchsorted(run.steps, (moment.step - moment.step % n, moment.step + 1))
    return np.asarray(run.fluxes[0, first:after, flux].sum(0))


def _supply(days: PlaceDays, run: Result, moment: Moment, when: str) -> FloatArray:
    """Ks of the afternoon before, for dawn; of the day (pots: from 1 to 4 pm) for 4 pm."""
    n = days.steps_a_day
    day = _day_of(when, moment, n)
    hours = range(day * n + 13, day * n + 16) if n > 1 else range(day, day + 1)
    return np.asarray(run.fluxes[0, [run.slot(h) for h in hours], STRESS].mean(0))


def _day_of(kind: str, moment: Moment, n: int) -> int:
    """The day whose supply a wilted plant tells of: the one before, for dawn."""
    return max(moment.step // n - (kind == "wilted at dawn"), 0)


def _soil_at(place: Place, depth_m: float) -> SoilLayer:
    bottom = 0.0
    for layer in place.soil:
        bottom += float("inf") if layer.thickness_m is None else layer.thickness_m
        if depth_m <= bottom:
            return layer
    return place.soil[-1]


def texture_id(layer: SoilLayer) -> str | None:
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
