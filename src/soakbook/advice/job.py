"""An advice in the grower's own measures: each plant or pot, cans, minutes on the line, goes, the part of the day."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from soakbook.advice.decide import Advice, Known
from soakbook.balance.columns import HOLD, OVERHEAD
from soakbook.balance.crops import ESTABLISHING, PHASE_WORDS, SEEDBED
from soakbook.balance.place import PlaceDays
from soakbook.catalog import read as catalog
from soakbook.delivery.goes import MOST_GOES, Goes, drip_goes, pause_min, stand_of
from soakbook.delivery.ground_seen import ground_of
from soakbook.delivery.laid import is_on_line
from soakbook.errors import InputError
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden
from soakbook.physics.infiltration import ponded_depth_explicit_mm
from soakbook.said import Measure, join_said, say
from soakbook.weather.series import KIND_WORDS

if TYPE_CHECKING:
    from soakbook.advice.plan import Part, Plan

#: Plants in a bed beyond which an amount is said by the square metre. Judged.
CROWD = 40
#: Part of a soak running off from which it is told. Judged.
TOLD_OFF = 0.05
#: Water that may stand on a level bed while it soaks in. Judged. [mm]
PUDDLE_MM = 5.0
#: A flow that was measured is told where it is this part off the one set down: a bucket and a watch are no closer. Judged.
FLOW_OFF = 0.15


@dataclass(frozen=True)
class Job:
    """One line of the round. Amounts are for the whole place unless ``each``.

    ``advice`` is what is advised now. ``rule`` is what the plain rule says of the same morning (None where nothing else was asked),
    ``plan`` the weighing by expected cost that ``advice`` comes from, where one was made. ``moved`` says by how much readings
    moved the picture of the place, empty without readings. ``deep_m`` is how deep the soil is wetted (:func:`wetted_to_m`), None where
    nothing is put on or that was not asked.
    """

    advice: Advice
    kind: str
    plants: str
    phase: str
    each_litres: float | None
    per_m2_litres: float | None
    cans: float | None
    minutes: float | None
    goes: Goes | None
    when: str
    how: str
    given_today_litres: float = 0.0
    note: str = ""
    rule: Advice | None = None
    plan: Plan | None = None
    moved: str = ""
    deep_m: float | None = None


def make_job(
    garden: Garden, days: PlaceDays, advice: Advice, *, already_litres: float = 0.0, rule: Advice | None = None,
    plan: Plan | None = None, moved: str = "", comes: float = 1.0, deep_m: float | None = None,
) -> Job:  # fmt: skip
    """Advice in the grower's measures: each plant or pot, cans, minutes on the line, goes, the part of the day.

    ``already_litres`` is what the log says was given today: it is taken off the amount, and the job is done when nine
    tenths of it are there. ``comes`` is the part of the flow set down that comes out, as far as it was measured: litres are those of
    the flow set down (as minutes in the log are), goes and what runs off go by what comes out.
    """
    if already_litres > 0.0:
        left = max(0.0, advice.litres - already_litres)
        done = left < 0.1 * advice.litres or advice.verdict == "probe first"
        if advice.verdict in ("soak", "probe first"):
            share = left / advice.litres if advice.litres else 0.0
            advice = replace(
                advice, verdict="hold" if done else "soak", litres=0.0 if done else left,
                depth_mm=0.0 if done else share * advice.depth_mm, if_dry_litres=0.0,
            )  # fmt: skip
    place = days.place
    litres = advice.litres or advice.if_dry_litres
    units = place.pot.count if place.pot is not None else advice.count
    crowd = place.kind == "bed" and (advice.phase == SEEDBED or advice.count > CROWD)
    each = litres / units if units and litres and not crowd else None
    per_m2 = litres / place.area_m2 if litres and crowd else None
    flow = flow_lph(place, garden)
    minutes = 60.0 * litres / flow if flow and litres else None
    by_can = place.means in ("can", "tray", "clay_pot") and not flow
    cans = litres / garden.supply.can_l if garden.supply.can_l and litres and by_can else None
    alive = [
        plant.name for planting, plant in days.plantings if planting.cleared is None or planting.cleared > advice.on
    ]
    comes = comes if flow and abs(comes - 1.0) > FLOW_OFF else 1.0
    goes, lost = _goes(garden, days, advice, comes * litres, flow, comes) if litres else (None, 0.0)
    plants = join_said(list(dict.fromkeys(alive)), " + ") if alive else say("empty")
    return Job(
        advice=advice, kind=place.kind, plants=plants, phase=PHASE_WORDS[advice.phase], each_litres=each,
        per_m2_litres=per_m2, cans=cans,
        minutes=minutes, goes=goes,
        when=_when(days, advice), how=catalog.means()[place.means].name,
        given_today_litres=already_litres, rule=rule, plan=plan, moved=moved,
        deep_m=deep_m if litres else None, note=join_said([_comes_out(comes, litres), _runs_off(goes, lost)], "; "),
    )  # fmt: skip


def wetted_to_m(known: Known, depth_mm: float) -> float:
    """How deep a soak of ``depth_mm`` over the watered part wets it, with what timers bring today: from above, each layer to field capacity before the
    next gets any, as drainage has it. What a mulch keeps is left out, and what goes deeper than roots."""
    days, columns, now = known.days, known.days.laid.columns, known.now
    left = float(columns.delivery[0, 0]) * (depth_mm + days.coming_today_mm(known.today))
    if columns.fixed[0, OVERHEAD] > 0.0:
        left = max(left - max(float(columns.fixed[0, HOLD] - now.held_mm[0, 0, 0]), 0.0), 0.0)
    within, deep_mm = days.reach[known.today], 0.0
    lacks_mm = within * np.maximum(columns.fc_mm[0, :, 0] - now.water_mm[0, 0, :, 0], 0.0)
    for thickness_mm, lack in zip(within * columns.thickness_mm[0], lacks_mm, strict=True):
        if lack > left:
            return (deep_mm + float(left / lack * thickness_mm)) / 1000.0
        deep_mm, left = deep_mm + float(thickness_mm), left - lack
    return deep_mm / 1000.0


def _comes_out(comes: float, litres: float) -> str:
    """How much of the litres of a line's flow as set down come out, where another flow was measured."""
    if comes == 1.0 or not litres:
        return ""
    return say(
        "by the flow that was measured about {litres} come out in that time; where that is to stay so, set the line's flow anew",
        litres=Measure(comes * litres, "volume"),
    )


def _runs_off(goes: Goes | None, lost: float) -> str:
    """What of a soak is lost even in goes, where that is worth a word."""
    if lost < TOLD_OFF:
        return ""
    if goes is None:
        return say("about {part:.0%} of it may run off, and pauses would not help: give part of it tomorrow", part=lost)
    return say("even in {n} goes about {part:.0%} of it may run off: give part of it tomorrow", n=goes.count, part=lost)


def _goes(
    garden: Garden, days: PlaceDays, advice: Advice, litres: float, flow: float | None, comes: float
) -> tuple[Goes | None, float]:
    """Goes of a soak, and the part that runs off even so: by drip the soil under the line is solved (:mod:`soakbook.delivery.goes`), else water falls evenly (:func:`goes_for`).

    ``litres`` are those that come out, ``flow`` the one set down, of which the part ``comes`` does.
    """
    flow = comes * flow if flow else flow
    if flow and is_on_line(days.place):
        try:
            grounds = ground_of(days.place)
            stand = stand_of(days.place, garden, grounds)
            if stand is not None:
                stand = replace(stand, flow_lph=comes * stand.flow_lph)
                return drip_goes(stand, grounds, advice.used, 60.0 * litres / flow)
        except InputError:  # a soil with too little known for its curves; what is needed here is known of every place
            pass
    return goes_for(days, days.index(advice.on), advice.used, litres, flow), 0.0


def goes_for(days: PlaceDays, day: int, used: float, litres: float, flow: float | None) -> Goes | None:
    """Runs and rests so that water soaks in rather than running off; None when one go will do.

    A go is what the dry surface takes in while ponded for an hour (Green-Ampt; see :mod:`soakbook.physics.infiltration`),
    plus, without a line, :data:`PUDDLE_MM` that may stand on a level bed. Nobody walks a round more than :data:`MOST_GOES` times.
    """
    means = catalog.means()[days.place.means]
    columns = days.laid.columns
    wet_m2 = days.laid.ground_m2 * days.area_wet(day)
    swept = flow is None or means.id == "wand"  # falls faster than it goes on over all the bed
    rate = means.rate_mm_h.value if swept else (flow or 0.0) / wet_m2
    intake, suction = float(columns.intake_mm_h[0, 0]), float(columns.suction_mm[0, 0])
    if rate <= intake:
        return None
    depth_mm = litres / wet_m2
    top = columns.thickness_mm[0, 0]
    room = float((columns.sat_mm - columns.fc_mm)[0, 0, 0] / top) + 0.5 * used * float(days.taw_mm[0, 0] / top)
    takes = ponded_depth_explicit_mm(intake, suction * room, 1.0) + (0.0 if days.place.line else PUDDLE_MM)
    count = min(MOST_GOES, math.ceil(depth_mm / takes))
    if count < 2:
        return None
    run = 60.0 * (litres / flow if flow else depth_mm / rate) / count
    return Goes(count, run if flow else None, pause_min(run))


def _when(days: PlaceDays, advice: Advice) -> str:
    means = catalog.means()[days.place.means]
    if advice.twice_a_day:
        return say("half in the morning, half towards evening")
    if advice.phase == SEEDBED:
        return say("as a gentle spray, again at evening if dry")
    if means.wets_leaves:
        return say("early morning, so that leaves dry soon")
    if advice.phase == ESTABLISHING and days.place.kind == "bed":
        return say("early morning, close to the stems")
    return say("early morning") if days.place.kind == "bed" else say("morning")


def job_json(job: Job) -> dict[str, Any]:
    """A job as plain data, described in docs/json.md."""
    data = asdict(job.advice)
    data["on"] = job.advice.on.isoformat()
    data["since"] = job.advice.since.isoformat()
    data["next_due"] = job.advice.next_due.isoformat() if job.advice.next_due else None
    data["next_due_from"] = KIND_WORDS[job.advice.next_due_kind]
    del data["next_due_kind"]
    more = asdict(replace(job, rule=None, plan=None))
    del more["advice"]
    more["phase"] = job.phase
    more["rule"] = _rule_json(job.rule or job.advice)
    more["plan"] = _plan_json(job.plan) if job.plan is not None else None
    return {**data, **more}


def _rule_json(rule: Advice) -> dict[str, Any]:
    return {
        "verdict": rule.verdict, "litres": rule.litres, "depth_mm": rule.depth_mm, "if_dry_litres": rule.if_dry_litres,
        "why": rule.why,
    }  # fmt: skip


def _plan_json(plan: Plan) -> dict[str, Any]:
    return {
        "cost": plan.cost,
        "parts": [_part_json(part) for part in plan.parts],
        "saved": [_part_json(part) for part in plan.saved],
        "flip": plan.flip.text if plan.flip is not None else "",
        "differs": plan.differs,
        "reading_worth": plan.reading_worth,
    }


def _part_json(part: Part) -> dict[str, Any]:
    return {"cause": part.cause, "cost": part.cost}
