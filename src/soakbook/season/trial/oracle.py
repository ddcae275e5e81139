"""One who knows the truth and the future: the least cost found in hindsight.

A grid of rules on the true state (how dry, how full, how far to look ahead at the rain that will come) is lived through, then
the cheapest schedule of all that was tried, whoever made it, is changed watering by watering as long as it gets cheaper. It is
a bound from above on the least cost there is: what no one found may be cheaper still.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from soakbook.season.trial.case import Case
from soakbook.season.trial.live import Copies, Season, live, replay
from soakbook.season.trial.score import costs
from soakbook.season.truth import uptake
from soakbook.season.truth.curves import Soil, water_content

FloatArray = NDArray[np.float64]

#: One who sees all the water that roots have, and the suction at which they begin to lack it, but no rain to come.
SEES = (1.0, 1.0, 0)
#: Watered from this part of the water easily drawn on, back by this part of what is missing, less the rain of so many days.
WHOLE = ((0.4, 0.7, 1.0, 1.4), (0.35, 0.7, 1.0), (0, 2, 5))
#: The same for a quick look.
QUICK = ((0.7, 1.1), (0.5, 1.0), (0, 3))
#: Head at which a bed is called full [cm]; a pot is full when it has drained to its height.
FULL_CM = -100.0
#: Hours over which it pours, so that hardly anything runs off.
SLOW_H = 4.0
#: Changes tried in a round, and what a watering is multiplied by.
CHANGES, FACTORS = 24, (0.0, 0.6, 1.4)
#: Stretches of the season that are watered more or less as a whole.
STRETCHES = 4


@dataclass(frozen=True)
class _Ground:
    """The cells of the true place: thickness, water when full, and soils by cell. [cm, m³/m³]"""

    thick_cm: FloatArray
    full: FloatArray
    soils: tuple[Soil, ...]

    def held_at(self, head_cm: float) -> FloatArray:
        """Water content of each cell at one head."""
        known = {s: float(water_content(s, head_cm)) for s in set(self.soils)}
        return np.array([known[s] for s in self.soils])


def _ground(case: Case) -> _Ground:
    hidden = case.hidden
    thick, soils = hidden.thick_cm[0], hidden.layers[0]
    height = np.cumsum(thick[::-1])[::-1] - 0.5 * thick
    heads = -height if case.place.kind == "pot" else np.full(len(thick), FULL_CM)
    full = np.array([float(water_content(s, h)) for s, h in zip(soils, heads, strict=True)])
    return _Ground(thick, full, soils)


def _roots(case: Case, day: int, thick_cm: FloatArray) -> FloatArray:
    """Part of each cell that roots reach."""
    hidden = case.hidden
    most = np.maximum(hidden.root_start_cm, hidden.root_most_cm)
    deep = uptake.root_depth_cm(day + 0.5, hidden.stage_days[:, :2].sum(axis=1), hidden.root_start_cm, most)
    depth = float(np.minimum(deep, hidden.root_stop_cm)[0])
    bottom = np.cumsum(thick_cm)
    return np.clip((depth - (bottom - thick_cm)) / thick_cm, 0.0, 1.0)


def rules(quick: bool = False) -> list[tuple[float, float, int]]:
    """The grid: from which part of the water easily drawn on, back by which part, less the rain of how many days."""
    return list(product(*(QUICK if quick else WHOLE)))


def knowing(case: Case, quick: bool = False) -> Season:
    """The grid of rules on the true state and the true rain to come."""
    hidden, ground = case.hidden, _ground(case)
    trigger, fill, ahead = (np.array(v) for v in zip(*rules(quick), strict=True))
    share = hidden.foot_share[0] * (hidden.foot_dose[0] > 0.0)
    rain = np.concatenate([case.rain_mm * float(hidden.rain_factor[0]), np.zeros(int(ahead.max()))])
    soon = np.array([[rain[d : d + n].sum() for n in ahead] for d in range(case.days)])
    through = float(hidden.flow_factor[0] * (1.0 - hidden.lost_share[0]))

    slowly = np.full(len(trigger), SLOW_H)

    def decide(day: int, truth: Copies) -> tuple[FloatArray, FloatArray]:
        reach = _roots(case, day, ground.thick_cm) * ground.thick_cm * 10.0
        demand = case.eto_mm[day] * float(hidden.kc[0])
        dry = ground.held_at(float(uptake.turning_head_cm(hidden.heads_cm, demand)[0]))
        _, theta = truth.water_content()
        short = np.maximum(ground.full - theta[:, :, : len(ground.full)], 0.0) @ reach  # (feet, copies) mm
        missing = share @ short
        easily = max(float(share.sum() * (np.maximum(ground.full - dry, 0.0) @ reach)), 0.5)
        wanted = np.maximum(fill * missing - share.sum() * soon[day], 0.0)
        is_due = (missing >= trigger * easily) | (missing >= 1.5 * easily)
        return np.where(is_due & (wanted > 0.5), wanted / through, 0.0), slowly

    return live(case, len(trigger), decide)


def improved(
    case: Case, tried: Sequence[Season], rounds: int, seed: int = 1, price: Callable[[Case, Season], FloatArray] = costs
) -> Season:  # fmt: skip
    """The cheapest season of all tried, changed as long as that helps; a season of one copy. ``price`` says what each copy costs."""
    each = [price(case, season) for season in tried]
    which = int(np.argmin([cost.min() for cost in each]))
    copy, start = int(np.argmin(each[which])), tried[which]
    asked, hours, least = start.asked_mm[:, copy], start.hours[:, copy], float(each[which][copy])
    rng = np.random.default_rng([case.seed, seed])

    def cost_of(factors: Sequence[FloatArray]) -> FloatArray:
        many = np.column_stack([asked * f for f in factors])
        return price(case, replay(case, many, np.repeat(hours[:, None], len(factors), axis=1)))

    for _ in range(rounds):
        moves = _moves(asked, rng)
        gains = least - cost_of(moves)
        order = [k for k in np.argsort(-gains).tolist() if gains[k] > 0.0]
        if not order:
            continue
        several = [_together(moves, order[:n]) for n in sorted({1, -(-len(order) // 2), len(order)})]
        found = cost_of(several)
        k = int(np.argmin(found))
        if float(found[k]) < least:
            asked, least = asked * several[k], float(found[k])
    return replay(case, asked[:, None], hours[:, None])


def _moves(asked: FloatArray, rng: np.random.Generator) -> list[FloatArray]:
    """Factors by day: single waterings left out, cut or raised, and whole stretches."""
    on = np.flatnonzero(asked[1:] > 0.0) + 1
    made = []
    for part in np.array_split(np.arange(len(asked)), STRETCHES):
        for factor in (0.8, 1.2):
            made.append(_factor(len(asked), part, factor))
    singles = [(d, f) for d in on.tolist() for f in FACTORS]
    picked = rng.permutation(len(singles))[: CHANGES - len(made)]
    return made + [_factor(len(asked), np.array([singles[k][0]]), singles[k][1]) for k in picked.tolist()]


def _factor(days: int, where: NDArray[np.int64], factor: float) -> FloatArray:
    made = np.ones(days)
    made[where] = factor
    return made


def _together(moves: Sequence[FloatArray], chosen: Sequence[int]) -> FloatArray:
    """Moves together; where two change one day, the first (the better) counts."""
    made = np.ones(len(moves[0]))
    for k in chosen:
        made = np.where(made == 1.0, moves[k], made)
    return made
