"""What a line wets on its bed while it runs: in each soil that may be meant, how wide the strip is, how deep, and which plants it misses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import hypot, pi

from soakbook.delivery.drip import CELL_CM, LONGEST_H, Case, Frame, filling, follow, run_time_h
from soakbook.delivery.drip_answer import WORTH_SAYING, run_time_told
from soakbook.delivery.goes import Stand, drip_goes
from soakbook.delivery.ground_of import Grounds
from soakbook.delivery.on_bed import OnBed
from soakbook.delivery.tap import CAUTIONS
from soakbook.physics.wetting.extent import Extent
from soakbook.said import Measure, Said, say, say_n

#: Looks while water runs.
LOOKS = 10
#: Part of the available water that is used in soil that is due. Judged.
DUE_USED = 0.5
#: Run that is shown where half a day does not wet the roots in any soil that may be meant. [h]
INSTEAD_H = 2.0


@dataclass(frozen=True)
class OnBedWet:
    """A run of ``hours``. For each soil that may be meant: ``frames``, the looks while it runs and the next day; ``looks``, what is seen at each; ``halves_m``, how far from pipe or
    emitter it is wet at each; ``run_times_h`` for the wanted depth. ``missed``: plants that the narrower strip does not reach. ``told``: in words."""

    hours: float
    run_times_h: tuple[float | None, ...]
    frames: tuple[tuple[Frame, ...], ...]
    looks: tuple[tuple[Extent, ...], ...]
    halves_m: tuple[tuple[float, ...], ...]
    missed: int
    told: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def cases_of(bed: OnBed, grounds: Grounds) -> tuple[Case, ...]:
    """What is solved, one for each soil: neighbours half way, each single emitter on its share of the bed; water that stands is kept on it."""
    ys = bed.pipes_m
    gaps = [b - a for a, b in pairwise(ys)]
    if bed.shape == "emitter":
        gaps = [2.0 * (bed.length_m * bed.width_m / len(bed.emitters) / pi) ** 0.5]
    return tuple(
        Case(layers, bed.flow_lph, bed.shape, 0.0, min(gaps) if gaps else None, root_depth_m=bed.wanted_m)
        for layers in grounds
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
    known = [t for t in times if t is not None]
    run = hours if hours is not None else max(known, default=INSTEAD_H)
    filled = [_filled(case, run) for case in cases]
    looks = tuple(seen for _, seen in filled)
    halves = tuple(tuple(_half_m(e, case) for e in seen) for seen, case in zip(looks, cases, strict=True))
    sure_m = min(max(one) for one in halves)
    missed = sum(1 for p in bed.plants if _away(bed, p.x_m, p.y_m) > sure_m)
    told = [
        say("{flow} on this bed: {each}.", flow=Measure(bed.total_lph, "flow"), each=_each(bed)),
        run_time_told(times, bed.wanted_m), *_off(cases, looks, run, bed, grounds), _strip(halves, cases[0], run, bed), *_misses(missed, len(bed.plants)), *bed.assumed,
    ]  # fmt: skip
    return OnBedWet(run, times, tuple(frames for frames, _ in filled), looks, halves, missed, tuple(told))


@lru_cache(maxsize=64)
def _filled(case: Case, hours: float) -> tuple[tuple[Frame, ...], tuple[Extent, ...]]:
    return filling(case, min(hours, LONGEST_H), LOOKS)


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


def _off(
    cases: tuple[Case, ...], looks: tuple[tuple[Extent, ...], ...], hours: float, bed: OnBed, grounds: Grounds
) -> list[Said]:
    """What would run off over the edge of the bed in one go, and in how many goes to run it instead."""
    edge = max(0.02, min(bed.pipes_m[0], bed.width_m - bed.pipes_m[-1]))
    parts = [
        _runs_off(replace(case, edge_m=edge), hours) if max(e.stands_cm for e in seen) > 95.0 * edge else 0.0
        for case, seen in zip(cases, looks, strict=True)
    ]
    if max(parts) <= WORTH_SAYING:
        return []
    area = bed.length_m * bed.width_m
    count = len(bed.emitters) if bed.shape == "emitter" else len(bed.pipes_m) * bed.length_m
    reach = (area / count / pi) ** 0.5 if bed.shape == "emitter" else 0.5 * area / count
    goes = drip_goes(Stand(bed.shape, bed.flow_lph, reach, count), grounds, DUE_USED, 60.0 * hours)
    if goes is None or goes.run_minutes is None:
        return [say("In one go up to {part:.0%} of it may run off over the edge of the bed, and goes with pauses would not change that much: an emitter that gives less would help.", part=max(parts))]  # fmt: skip
    run, pause = Measure(goes.run_minutes / 60.0, "duration"), Measure(goes.pause_minutes / 60.0, "duration")
    return [say(
        "In one go up to {part:.0%} of it may run off over the edge of the bed: run it in {n} goes of {run}, {pause} apart.", part=max(parts), n=goes.count, run=run, pause=pause,
    )]  # fmt: skip


@lru_cache(maxsize=64)
def _runs_off(case: Case, hours: float) -> float:
    end = follow(case, min(hours, LONGEST_H))[-1]
    return end.ran_off_l / end.given_l
