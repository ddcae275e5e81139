"""What to do before leaving: each measure is the place in another state, lived through again by the same members in the same weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import SAUCER, State
from soakbook.balance.crops import ESTABLISHING, SEEDBED
from soakbook.garden.model import Exposure, Mulch, Place
from soakbook.said import Said, say
from soakbook.season.away_run import Leaving, Outcome, changed, fill_mm, live
from soakbook.weather.members import WeatherMembers

FloatArray = NDArray[np.float64]

#: A mulch is offered where less than this of the soil is covered.
COVERED = 0.8
#: Depth of a saucer put under a pot. Common practice: a few centimetres. [m]
SAUCER_M = 0.03
#: Roots and a hand's depth below what they will reach by the return are soaked. Judged. [m]
BELOW_M = 0.05
#: Horizon of the shady side of a wall, as azimuth from the wall's back and elevation. Judged: the sky on the wall's side is gone.
WALL = ((-91.0, 0.0), (-89.0, 80.0), (0.0, 80.0), (89.0, 80.0), (91.0, 0.0))
#: Savings and losses smaller than this are not worth the work, or the word. Judged. [hundredths of the harvest]
SMALL = 0.5

WORDS: dict[str, Said] = {
    "soak": say("soak deeply on the morning of leaving"),
    "mulch": say("mulch with straw, a hand deep"),
    "shade": say("hang up shade cloth that lets half the light through"),
    "together": say("stand the pots close together, out of the wind"),
    "wall": say("stand the pots close together on the shady side of a wall"),
    "saucer": say("stand the pots in full saucers"),
}
#: Measures of which only one can be taken: they change what the sky sends.
_OF_THE_SKY = ("shade", "together", "wall")


@dataclass(frozen=True)
class Effect:
    """What a measure saves at a place: ``saved`` (M,) by member, harm below nothing [hundredths of the harvest]; ``litres`` what has to be put on
    for it; ``outcome`` what becomes of the place; ``taken`` the measures taken together, of ``"all"``."""

    measure: str
    place: str
    saved: FloatArray
    litres: float
    outcome: Outcome
    taken: tuple[str, ...] = ()

    @property
    def mean(self) -> float:
        """What it is expected to save. [hundredths]"""
        return float(self.saved.mean())


@dataclass(frozen=True)
class Ranked:
    """A measure over all places it fits. ``mean``, ``low`` and ``high`` (10 and 90 % of the members) are what it saves where it helps, of the garden's
    harvest with places counting alike [hundredths]; ``helps`` the places in falling order, ``harms`` those where it does harm."""

    measure: str
    mean: float
    low: float
    high: float
    helps: tuple[Effect, ...]
    harms: tuple[Effect, ...]


@dataclass(frozen=True)
class Prepared:
    """A place as a measure leaves it on the morning of leaving."""

    leaving: Leaving
    soak_mm: float = 0.0


def effects_at(leaving: Leaving, ahead: WeatherMembers, plain: Outcome, visits: Sequence[int] = ()) -> list[Effect]:
    """Every measure that fits a place, by itself, and then the best of them together.

    Parameters
    ----------
    leaving
        The place as it is; its timer runs where it has one.
    ahead
        Members of the weather over the days away.
    plain
        What becomes of it without a measure, with the same timer and visits.
    visits
        Days away on which somebody comes.

    Returns
    -------
    list of Effect
        In falling order of what they save; after them one whose ``measure`` is ``"all"``, where several help.
    """
    if not leaving.grows[0]:
        return []
    found = [_effect(m, _prepared(leaving, ahead, [m]), plain, visits) for m in fitting(leaving)]
    found.sort(key=lambda e: (-e.mean, e.measure))
    together = _added_up(leaving, ahead, plain, visits, found)
    return [*found, together] if together is not None else found


def _added_up(
    leaving: Leaving, ahead: WeatherMembers, plain: Outcome, visits: Sequence[int], found: Sequence[Effect]
) -> Effect | None:
    """The best measure with every other one that still helps beside it (a mulch helps over wet soil that does not over dry); None without two."""
    if found[0].mean <= SMALL:
        return None
    best, taken = found[0], [found[0].measure]
    for other in (e.measure for e in found[1:]):
        if other in _OF_THE_SKY and any(m in _OF_THE_SKY for m in taken):
            continue
        tried = _effect("all", _prepared(leaving, ahead, [*taken, other]), plain, visits)
        if tried.mean > best.mean + SMALL:
            best, taken = tried, [*taken, other]
    return replace(best, taken=tuple(taken)) if len(taken) > 1 else None


def ranked(effects: Sequence[Effect], places: int) -> tuple[Ranked, ...]:
    """Measures by what they save over the whole garden, the best first; what saves nothing anywhere is left out unless it does harm."""
    out = []
    for measure in WORDS:
        mine = sorted((e for e in effects if e.measure == measure), key=lambda e: (-e.mean, e.place))
        helps, harms = [e for e in mine if e.mean > SMALL], [e for e in mine if e.mean < -SMALL]
        if not helps and not harms:
            continue
        total = np.sum([e.saved for e in helps], axis=0) / places if helps else np.zeros(1)
        low, high = np.quantile(total, (0.1, 0.9))
        out.append(Ranked(measure, float(total.mean()), float(low), float(high), tuple(helps), tuple(harms)))
    return tuple(sorted(out, key=lambda r: (-r.mean, r.measure)))


def fitting(leaving: Leaving) -> list[str]:
    """The measures that can be taken at a place."""
    place, days = leaving.place, leaving.days
    young = int(days.crops.phase[leaving.first]) in (SEEDBED, ESTABLISHING)
    found = ["soak"]
    covered = place.mulch.cover_fraction if place.mulch is not None else 0.0
    if covered < COVERED and place.kind != "tray" and not young:  # it would smother what is coming up
        found.append("mulch")
    if place.exposure.cover == "none":
        found.append("shade")
    if place.kind == "pot":
        found += ["together", "wall", "saucer"]
    elif place.kind == "tray":
        found.append("wall")
    return found


def _effect(measure: str, prepared: Prepared, plain: Outcome, visits: Sequence[int]) -> Effect:
    outcome = live(prepared.leaving, visits=visits, soak_mm=prepared.soak_mm)
    days, first = prepared.leaving.days, prepared.leaving.first
    return Effect(measure, plain.place, plain.loss - outcome.loss, days.litres(prepared.soak_mm, first), outcome)


def _prepared(leaving: Leaving, ahead: WeatherMembers, measures: Sequence[str]) -> Prepared:
    """The place with these measures taken."""
    place = leaving.place
    for measure in measures:
        place = with_measure(place, measure, leaving.days.garden.lat_deg)
    now = leaving if place == leaving.place else changed(leaving, place, ahead)
    if "saucer" in measures:
        now = replace(now, now=_saucer_filled(now))
    return Prepared(now, deep_soak_mm(now) if "soak" in measures else 0.0)


def with_measure(place: Place, measure: str, lat_deg: float) -> Place:
    """The place after a measure, as data; a soak, and a saucer that is there already, change nothing of it."""
    sky = place.exposure
    if measure == "mulch":
        return replace(place, mulch=Mulch("straw"))
    if measure == "shade":
        return replace(place, exposure=replace(sky, cover="shade_cloth"))
    if measure == "together":
        return replace(place, exposure=_sheltered(sky))
    if measure == "wall":
        back = 180.0 if lat_deg >= 0.0 else 0.0
        horizon = tuple(sorted(((back + azimuth) % 360.0, height) for azimuth, height in WALL))
        return replace(place, exposure=replace(_sheltered(sky), horizon=horizon))
    if measure == "saucer" and place.pot is not None:
        return replace(place, pot=replace(place.pot, saucer_depth_m=max(place.pot.saucer_depth_m, SAUCER_M)))
    return place


def _sheltered(sky: Exposure) -> Exposure:
    """Pots among pots: the next shelter word, and leaves around instead of bare ground. Judged."""
    return replace(sky, shelter="some" if sky.shelter == "open" else "strong", surroundings="lawn")


def _saucer_filled(leaving: Leaving) -> State:
    holds = float(leaving.days.laid.columns.fixed[0, SAUCER])
    return replace(leaving.now, saucer_mm=np.full_like(leaving.now.saucer_mm, holds))


def deep_soak_mm(leaving: Leaving) -> float:
    """Depth over the watered part that fills the soil as deep as roots will go by the return, and :data:`BELOW_M` below; a pot right through.
    What was given this morning counts, and what a timer gives on it. [mm]"""
    timer_mm = float(leaving.timer_mm[0]) if leaving.timer_mm is not None else 0.0
    return max(_to_fill_mm(leaving) - leaving.given_mm - timer_mm, 0.0)


def _to_fill_mm(leaving: Leaving) -> float:
    days, state = leaving.days, leaving.now
    if leaving.place.kind != "bed":
        return fill_mm(
            days, state, float(np.maximum(days.laid.columns.fc_mm[0] - state.water_mm[0, 0], 0.0).sum(axis=0).mean())
        )
    edges = days.laid.edges_m
    depth = float(days.crops.reach_m[leaving.first : leaving.first + leaving.count].max()) + BELOW_M
    share = np.clip(depth - edges[:-1], 0.0, np.diff(edges)) / np.diff(edges)
    missing = float((share @ np.maximum(days.laid.columns.fc_mm[0] - state.water_mm[0, 0], 0.0)).mean())
    return fill_mm(days, state, missing)
