"""What a line wets on its bed while it runs: in each soil that may be meant, how wide the strip is, how deep, and which plants it misses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import hypot, pi

from soakbook.delivery.drip import CELL_CM, LONGEST_H, Case, Frame, filling, follow, run_time_h
from soakbook.delivery.drip_answer import COMPARED_GOES, WORTH_SAYING, run_time_told
from soakbook.delivery.ground_of import Grounds
from soakbook.delivery.on_bed import OnBed
from soakbook.delivery.tap import CAUTIONS
from soakbook.physics.wetting.extent import Extent
from soakbook.said import Measure, Said, say, say_n

#: Looks while water runs.
LOOKS = 10
#: Run that is shown where half a day does not wet the roots in any soil that may be meant. [h]
INSTEAD_H = 2.0


@dataclass(frozen=True)
class OnBedWet:
    """A run of ``hours`` in all, in so many ``goes`` with as long a pause after each. For each soil that may be meant: ``frames``, the looks while it runs and the next day; ``looks``, what is seen at each; ``halves_m``, how far from pipe or
    emitter it is wet at each; ``run_times_h`` for the wanted depth. ``missed``: plants that the narrower strip does not reach. ``told``: in words."""

    hours: float
    goes: int
    run_times_h: tuple[float | None, ...]
    frames: tuple[tuple[Frame, ...], ...]
    looks: tuple[tuple[Extent, ...], ...]
    halves_m: tuple[tuple[float, ...], ...]
    missed: int
    told: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def cases_of(bed: OnBed, grounds: Grounds) -> tuple[Case, ...]:
    """What is solved, one for each soil: neighbours half way, each single emitter on its share of the bed; water runs off where that ends."""
    apart: float | None = pi**0.5 * bed.reach_m
    if bed.shape == "line":
        apart = 2.0 * bed.reach_m if len(bed.pipes_m) > 1 else None
    return tuple(
        Case(layers, bed.flow_lph, bed.shape, 0.0, apart, bed.reach_m, root_depth_m=bed.wanted_m) for layers in grounds
    )


def on_bed_wet(bed: OnBed, grounds: Grounds, hours: float | None = None) -> OnBedWet:
    """Follow the water of a line on its bed.

    Parameters
    ----------
    bed
        From :func:`soakbook.delivery.on_bed.on_bed`.
    grounds
        Its soil.
    hours
        For how long it runs; as long as the slower soil needs to be wet to the wanted depth, when left out. [h]
    """
    cases = cases_of(bed, grounds)
    times = tuple(run_time_h(case, bed.wanted_m) for case in cases)
    run = hours if hours is not None else _longest(times)
    lost = max(_runs_off(case, run, 1) for case in cases)
    pulses = COMPARED_GOES if lost > WORTH_SAYING else 1
    if pulses > 1:
        times = tuple(run_time_h(case, bed.wanted_m, pulses=pulses) for case in cases)
        run = hours if hours is not None else _longest(times)
    filled = [_filled(case, run, pulses) for case in cases]
    looks = tuple(seen for _, seen in filled)
    halves = tuple(tuple(_half_m(e, case) for e in seen) for seen, case in zip(looks, cases, strict=True))
    sure_m = min(max(one) for one in halves)
    missed = sum(1 for p in bed.plants if _away(bed, p.x_m, p.y_m) > sure_m)
    told = [
        say("{flow} on this bed: {each}.", flow=Measure(bed.total_lph, "flow"), each=_each(bed)),
        run_time_told(times, bed.wanted_m), *_off(lost, max(_runs_off(case, run, pulses) for case in cases), pulses), _strip(halves, cases[0], run, bed), *_misses(missed, len(bed.plants)), *bed.assumed,
    ]  # fmt: skip
    return OnBedWet(run, pulses, times, tuple(frames for frames, _ in filled), looks, halves, missed, tuple(told))


def _longest(times_h: tuple[float | None, ...]) -> float:
    return max((t for t in times_h if t is not None), default=INSTEAD_H)


@lru_cache(maxsize=64)
def _filled(case: Case, hours: float, pulses: int) -> tuple[tuple[Frame, ...], tuple[Extent, ...]]:
    return filling(case, min(hours, LONGEST_H), LOOKS, pulses=pulses)


def _half_m(look: Extent, case: Case) -> float:
    """How far out it is wet; all the way to the half with the neighbour where it reaches the last cell."""
    half = max(look.widest_cm, look.stands_cm) / 100.0
    return half if case.apart_m is None or half < 0.5 * case.apart_m - 1.5 * CELL_CM / 100.0 else 0.5 * case.apart_m


def _away(bed: OnBed, x_m: float, y_m: float) -> float:
    """How far a plant stands from the nearest emitter, or from the nearest pipe of a joined line. [m]"""
    if bed.shape == "line":
        return min(abs(y_m - y) for y in bed.pipes_m)
    return min(hypot(x_m - x, y_m - y) for x, y in bed.emitters)


def _each(bed: OnBed) -> Said:
    flow = Measure(bed.flow_lph, "flow", 1)
    if bed.shape == "line":
        return say_n(
            "{flow} from each metre of {n} pipe", "{flow} from each metre of {n} pipes", len(bed.pipes_m), flow=flow
        )
    return say_n("{flow} from {n} emitter", "{flow} from each of {n} emitters", len(bed.emitters), flow=flow)


def _strip(halves_m: tuple[tuple[float, ...], ...], case: Case, hours: float, bed: OnBed) -> Said:
    widths, is_line = [2.0 * max(one) for one in halves_m], bed.shape == "line"
    run = Measure(hours, "duration")
    if case.apart_m is not None and min(widths) >= case.apart_m:
        return say("With a run of {run} the wet strips join.", run=run) if is_line else say("With a run of {run} the wet circles join.", run=run)  # fmt: skip
    low, high = Measure(min(widths), "length"), Measure(max(widths), "length")
    if max(widths) < 1.05 * min(widths):
        if is_line:
            return say("With a run of {run} the wet strip becomes {high} wide.", run=run, high=high)
        return say("With a run of {run} the wet circles become {high} wide.", run=run, high=high)
    if is_line:
        return say("With a run of {run} the wet strip becomes {low} to {high} wide, as two tables of soils have it.", run=run, low=low, high=high)  # fmt: skip
    return say("With a run of {run} the wet circles become {low} to {high} wide, as two tables of soils have it.", run=run, low=low, high=high)  # fmt: skip


def _misses(missed: int, of: int) -> list[Said]:
    if not missed:
        return []
    return [say_n(
        "{n} of {of} plants stands beside the wet ground: its roots may still reach there, a young plant's do not. Move the line nearer, or lay another.",
        "{n} of {of} plants stand beside the wet ground: their roots may still reach there, young plants' do not. Move the line nearer, or lay another.", missed, of=of,
    )]  # fmt: skip


def _off(in_one: float, in_goes: float, goes: int) -> list[Said]:
    """What would run off over the edge of the bed in one go, and still does in several."""
    if goes == 1:
        return []
    told = [say("In one go up to {part:.0%} of it would run off over the edge of the bed: it is run here in {n} goes with pauses as long; the times are without the pauses.", part=in_one, n=goes)]  # fmt: skip
    if in_goes > WORTH_SAYING:
        told.append(say("Even so up to {part:.0%} of it runs off: an emitter or hose that gives less would help.", part=in_goes))  # fmt: skip
    return told


@lru_cache(maxsize=64)
def _runs_off(case: Case, hours: float, pulses: int) -> float:
    end = follow(case, min(hours, LONGEST_H), pulses=pulses)[-1]
    return end.ran_off_l / end.given_l
