"""What a gardener asks about drip, answered in sentences from :mod:`soakbook.delivery.drip`."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from soakbook.delivery.drip import (
    APART_M,
    BURIED_M,
    DUE_CM,
    EDGE_M,
    HOLDS_CM,
    ROOTED_M,
    Case,
    Fitted,
    follow,
    grid_of,
    is_nearly_full,
    joins_at_m,
    run_time_h,
)
from soakbook.delivery.drip_ground import Ground, tables_of
from soakbook.delivery.ground_seen import best_fit, fit_of
from soakbook.delivery.tap import CAUTIONS
from soakbook.errors import InputError
from soakbook.garden.model import Place
from soakbook.physics.wetting.extent import SEEN_PART, Extent
from soakbook.physics.wetting.ground import Shape
from soakbook.said import Measure, Said, say

#: Goes that are compared with a run in one, where water runs off. Common practice is two to six.
COMPARED_GOES = 4
#: Less than this part of the water is not worth a sentence. Judged.
WORTH_SAYING = 0.03


@dataclass(frozen=True)
class Answer:
    """``cases``: what was run, for each soil that may be meant. ``runs``: for each what is seen at each look. ``run_times_h`` and ``joins_m`` likewise: how long to run for the wanted depth (None where
    half a day does not do), and how far apart emitters may stand, by what one wets that has no neighbours. ``meets``: with neighbours, whether the wet ground reaches half way to them; None
    without. ``spread``: whether more than one soil may be meant. ``told``: in words."""

    cases: tuple[Case, ...]
    runs: tuple[tuple[Extent, ...], ...]
    run_times_h: tuple[float | None, ...]
    joins_m: tuple[float, ...]
    meets: tuple[bool, ...] | None
    spread: bool
    fit: Fitted | None
    told: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def answer(
    ground: str | Ground, flow_lph: float, hours: float, *, shape: Shape = "emitter", depth_m: float = 0.0, apart_m: float | None = None,
    edge_m: float | None = None, first_head_cm: float = DUE_CM, wanted_m: float = 0.3, pulses: int = 1, seen_m: tuple[float, float] | None = None,
    roots_m: float | None = None, draws_l_day: float = 0.0,
) -> Answer:  # fmt: skip
    """Follow the water in the soils that a texture's name may mean, or in the one that fits what was seen.

    Parameters
    ----------
    ground
        Texture class, or layers of several (:func:`soakbook.delivery.drip_ground.parse_ground`).
    flow_lph
        Of one emitter; of a line, of one metre.
    hours
        For how long it runs in all.
    shape, depth_m, apart_m, edge_m, first_head_cm
        As for :class:`soakbook.delivery.drip.Case`.
    wanted_m
        How deep the soil should be wet.
    pulses
        In how many goes.
    seen_m
        Width of the wet circle and depth of the wet when the water was turned off, where somebody looked.
    roots_m, draws_l_day
        How deep roots go, as deep as the soil should be wet if not said, and what plants draw in a day.
    """
    _check(wanted_m, depth_m, apart_m, edge_m)
    layered = ((ground, math.inf),) if isinstance(ground, str) else ground
    cases = [
        Case(layers, flow_lph, shape, depth_m, apart_m, edge_m, first_head_cm, wanted_m if roots_m is None else roots_m, draws_l_day)
        for layers in tables_of(layered)
    ]  # fmt: skip
    fit = None
    if seen_m is not None:
        _, fit = best_fit(cases, hours, seen_m)
        fits = [replace(case, layers=(replace(case.layers[0], soil=fit.soil), *case.layers[1:])) for case in cases]
        cases = fits if len(layered) > 1 else fits[:1]
    runs = tuple(follow(case, hours, pulses=pulses) for case in cases)
    times = tuple(run_time_h(case, wanted_m, pulses=pulses) for case in cases)
    widest = tuple(max(run, key=lambda e: e.widest_cm) for run in runs)
    meets, alone = None, widest
    if apart_m is not None:
        meets = tuple(bool(e.widest_cm >= grid_of(case).out_cm[-1]) for e, case in zip(widest, cases, strict=True))
        alone = tuple(_widest_alone(case, hours, pulses) for case in cases)
    joins = tuple(joins_at_m(e) for e in alone)
    told = [
        *_of_fit(fit, seen_m, is_layered=len(layered) > 1), run_time_told(times, wanted_m), *_of_goes(times, pulses), *_of_spacing(joins, shape, apart_m, meets),
        *_of_water(cases, runs, hours, pulses),
        *_of_roots(cases, runs),
    ]  # fmt: skip
    if fit is None:
        told.append(say("Soils of this name differ: each figure runs from one table of soils to another. The width of the wet ground and the depth of the wet in a hole beside it, seen when the water is turned off, say more than the name."))  # fmt: skip
    return Answer(tuple(cases), runs, times, joins, meets, len(cases) > 1, fit, tuple(told))


def _check(wanted_m: float, depth_m: float, apart_m: float | None, edge_m: float | None) -> None:
    def ends(allowed: tuple[float, float], got: float) -> dict[str, Measure]:
        low, high = allowed
        return {"low": Measure(low, "length"), "high": Measure(high, "length"), "got": Measure(got, "length")}

    def is_within(allowed: tuple[float, float], got: float) -> bool:
        return allowed[0] <= got <= allowed[1]

    if not is_within(ROOTED_M, wanted_m):
        raise InputError(say("The wanted depth must be from {low} to {high} (got {got}).", **ends(ROOTED_M, wanted_m)), code="drip.deep", field="deep")  # fmt: skip
    if not is_within(BURIED_M, depth_m):
        raise InputError(say("The source must lie from {low} to {high} deep (got {got}).", **ends(BURIED_M, depth_m)), code="drip.buried", field="buried")  # fmt: skip
    if apart_m is not None and not is_within(APART_M, apart_m):
        raise InputError(say("From one to the next it must be from {low} to {high} (got {got}).", **ends(APART_M, apart_m)), code="drip.apart", field="apart")  # fmt: skip
    if edge_m is not None and not is_within(EDGE_M, edge_m):
        raise InputError(say("The edge of the bed must be from {low} to {high} away (got {got}).", **ends(EDGE_M, edge_m)), code="drip.edge", field="edge")  # fmt: skip


def told_of(place: Place) -> tuple[Said, ...]:
    """What the wet ground that was seen at a place says of its soil, in words; nothing where nobody looked."""
    fit = fit_of(place)
    if fit is None or place.wetted is None:
        return ()
    return tuple(_of_fit(fit, (place.wetted.circle_m, place.wetted.dug_m), is_layered=len(place.soil) > 1))


def run_time_told(times: tuple[float | None, ...], wanted_m: float) -> Said:
    """How long to run for a depth, from the one soil that may be meant to the other; ``times`` as :func:`soakbook.delivery.drip.run_time_h` finds them. [h]"""
    deep = Measure(wanted_m, "length")
    known = [t for t in times if t is not None]
    if not known:
        return say("Half a day of running does not wet it {deep} deep.", deep=deep)
    low, high = (Measure(t, "duration") for t in (min(known), max(known)))
    if len(known) < len(times):
        return say("To wet it {deep} deep by the next day it has to run {low}, or in a slower soil of that name more than half a day.", deep=deep, low=low)  # fmt: skip
    if max(known) < 1.1 * min(known):
        return say("To wet it {deep} deep by the next day it has to run {high}.", deep=deep, high=high)
    return say("To wet it {deep} deep by the next day it has to run {low} to {high}.", deep=deep, low=low, high=high)


def _of_goes(times: tuple[float | None, ...], pulses: int) -> list[Said]:
    """What a run time means in several goes."""
    if pulses == 1 or not any(times):
        return []
    return [say("That is how long water runs in all, in {n} goes; the pauses come on top.", n=pulses)]


def _widest_alone(case: Case, hours: float, pulses: int) -> Extent:
    """What is wetted where no neighbour keeps water back: neighbours bound what a run can wet, and its width then says nothing of how far apart they may stand."""
    return max(follow(replace(case, apart_m=None), hours, pulses=pulses), key=lambda e: e.widest_cm)


def _of_spacing(
    joins: tuple[float, ...], shape: Shape, apart_m: float | None, meets: tuple[bool, ...] | None
) -> list[Said]:
    """How far apart they may stand, and what they wet as far apart as they do."""
    most = Measure(min(joins), "length")
    is_line = shape == "line"
    up_to = say("Lines up to {apart} apart wet all of the bed.", apart=most) if is_line else say("Emitters up to {apart} apart wet a joined strip.", apart=most)  # fmt: skip
    if apart_m is None or meets is None:
        return [up_to]
    apart = Measure(apart_m, "length")
    if all(meets) and apart_m <= min(joins):
        if is_line:
            return [say("Lines {apart} apart wet all of the bed; they might stand up to {most} apart.", apart=apart, most=most)]  # fmt: skip
        return [say("Emitters {apart} apart wet the ground from one to the next; they might stand up to {most} apart.", apart=apart, most=most)]  # fmt: skip
    if all(meets):
        found = say("The water of lines {apart} apart just meets.", apart=apart) if is_line else say("The water of emitters {apart} apart just meets.", apart=apart)  # fmt: skip
    elif any(meets):
        found = say("Lines {apart} apart wet the ground from one to the next in one table's soil of that name, and leave some dry in the other's.", apart=apart) if is_line else say("Emitters {apart} apart wet the ground from one to the next in one table's soil of that name, and leave some dry in the other's.", apart=apart)  # fmt: skip
    else:
        found = say("Lines {apart} apart leave dry ground between them.", apart=apart) if is_line else say("Emitters {apart} apart leave dry ground between them.", apart=apart)  # fmt: skip
    return [found, up_to]


def _of_water(cases: list[Case], runs: tuple[tuple[Extent, ...], ...], hours: float, pulses: int) -> list[Said]:
    """What stands, runs off or sinks below the roots."""
    told = []
    stands = max(e.stands_cm for run in runs for e in run)
    if stands > 3.0:
        wide = Measure(stands / 50.0, "length")
        told.append(say("Water stands up to {wide} wide around it before it has gone in.", wide=wide))
    off = max(run[-1].ran_off_l / run[-1].given_l for run in runs)
    if off > WORTH_SAYING and cases[0].edge_m is None:
        reach = Measure(float(grid_of(cases[0]).out_cm[-1]) / 100.0, "length")
        told.append(
            say(
                "Up to {part:.0%} of it does not go in within {reach} of the source, but puddles and runs on: an emitter that gives less would help.",
                part=off,
                reach=reach,
            )
        )
    elif off > WORTH_SAYING:
        goes = pulses if pulses > 1 else COMPARED_GOES
        other = [follow(case, hours, pulses=1 if pulses > 1 else goes) for case in cases]
        once, many = (runs, other) if pulses == 1 else (other, runs)
        parts = [max(run[-1].ran_off_l / run[-1].given_l for run in some) for some in (once, many)]
        if parts[1] > parts[0] - WORTH_SAYING:
            told.append(say("Up to {part:.0%} of it runs off over the edge, in one go or in several: an emitter that gives less would help.", part=off))  # fmt: skip
        else:
            told.append(say(
                "Up to {part:.0%} of it runs off over the edge; in {goes} goes with pauses as long it would be {less:.0%}, in one {more:.0%}.",
                part=off, goes=goes, less=parts[1], more=parts[0],
            ))  # fmt: skip
    if off > WORTH_SAYING and cases[0].edge_m is not None:
        told.append(say("The bed is taken to be level and to hold {deep} of water before it runs over; on a slope it holds less.", deep=Measure(HOLDS_CM / 100.0, "length")))  # fmt: skip
    if any(run[-1].stands_cm > 0.0 for run in runs):
        told.append(say("By the next day some of it may still stand: that is too much for this soil at a time."))
    if any(is_nearly_full(case) for case in cases):
        told.append(say("Such soil may be nearly full even before: little more goes into it, and the wet is hard to see or feel. It is counted as wet where it has taken up {part:.0%} of what it still can.", part=SEEN_PART))  # fmt: skip
    if any(run[-1].depth_cm == 0.0 < run[-1].given_l - run[-1].ran_off_l for run in runs):
        told.append(say("By the next day the water has spread so thinly that how deep it is wet cannot be told."))
    below = max(run[-1].below for run in runs)
    if below > WORTH_SAYING:
        told.append(say("By the next day up to {part:.0%} of it lies deeper than the roots.", part=below))
    return told


def _of_roots(cases: list[Case], runs: tuple[tuple[Extent, ...], ...]) -> list[Said]:
    """What roots took of what they want."""
    if not cases[0].draws_l_day:
        return []
    hours = runs[0][-1].hours
    wanted = cases[0].draws_l_day * hours / 24.0
    got = [run[-1].drawn_l for run in runs]
    span, all_of_it = Measure(hours, "duration"), Measure(wanted, "volume")
    low, high = min(got) / wanted, max(got) / wanted
    if low > 1.0 - WORTH_SAYING:
        return [say("In {span} roots take all of the {wanted} they want.", span=span, wanted=all_of_it)]
    if high - low < 0.01:
        return [
            say("In {span} roots take {part:.0%} of the {wanted} they want.", span=span, part=high, wanted=all_of_it)
        ]
    return [say("In {span} roots take {low:.0%} to {high:.0%} of the {wanted} they want.", span=span, low=low, high=high, wanted=all_of_it)]  # fmt: skip


def _of_fit(fit: Fitted | None, seen_m: tuple[float, float] | None, *, is_layered: bool) -> list[Said]:
    if fit is None or seen_m is None:
        return []
    told = [say(
        "What you saw fits a soil that takes water in {faster:.2g} times as fast as the table has it, and draws it {farther:.2g} times as far; it is used in place of the name.",
        faster=fit.faster, farther=fit.farther,
    )]  # fmt: skip
    if is_layered:
        told.append(say("Only the top soil is fitted; those beneath are as the tables have them."))
    if fit.missed_cm > 3.0:
        told.append(say(
            "It still misses by {miss}: was it the flow that was given, and the wet at the moment the water went off?", miss=Measure(fit.missed_cm / 100.0, "length"),
        ))  # fmt: skip
    return told
