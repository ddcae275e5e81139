"""Drip on soil drawn at random, harder than what pages mostly ask: layers, buried sources, several goes, again on the next day, roots that draw, beds with an edge, close neighbours.

Each case must be solved and its water add up to a part in a million, which the solver checks for itself and :func:`run` once more from what it returns. What is kept is for the page;
how long they take is for the benches, since machines differ.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nan

import numpy as np

from soakbook.delivery.drip import HOLDS_CM, Case, grid_of
from soakbook.errors import SoakbookError
from soakbook.physics.wetting.curves import SPECIFIC_STORAGE_PER_CM, VanGenuchten
from soakbook.physics.wetting.ground import Grid, Layer, Roots, Source, soil_of_rows
from soakbook.physics.wetting.soils import CARSEL_PARRISH, CLASS_AVERAGE
from soakbook.physics.wetting.solve import BALANCE, wet
from tests.measured.kept import keep, kept

NAME, SEED = "delivery_drawn", 29
TEXTURES = tuple(CARSEL_PARRISH)
#: Cases for each texture of the top soil.
EACH = 8
COUNT = EACH * len(TEXTURES)


@dataclass(frozen=True)
class Drawn:
    """One case: what it is, Newton iterations, and by what part of the water given it does not add up; no number where it was not solved."""

    case: int
    texture: str
    shape: str
    layers: int
    depth_cm: float
    goes: int
    days: int
    has_roots: bool
    has_edge: bool
    has_neighbours: bool
    iterations: int
    off: float

    @property
    def is_solved(self) -> bool:
        """Solved, and the water adds up."""
        return self.off <= BALANCE


@dataclass(frozen=True)
class Drawing:
    """What is run."""

    texture: str
    layers: tuple[Layer, ...]
    grid: Grid
    source: Source
    goes: int
    days: int
    first_head_cm: float
    roots: Roots | None
    times_h: tuple[float, ...]


def _soil(rng: np.random.Generator, texture: str) -> VanGenuchten:
    """A soil of a class: spread as the 360 of ``tests/benchmarks/bench_wetting.py``, around either table."""
    r, s, alpha, n, ks = (CARSEL_PARRISH, CLASS_AVERAGE)[int(rng.integers(2))][texture]
    return VanGenuchten(
        r, s, alpha * rng.lognormal(0.0, 0.4), 1.0 + (n - 1.0) * rng.lognormal(0.0, 0.2), ks / 24.0 * rng.lognormal(0.0, 1.0)
    )  # fmt: skip


def draw(case: int) -> Drawing:
    """One of them, always the same: by its number the texture of the top soil and whether it is an emitter or a line; all else is drawn."""
    rng = np.random.default_rng((SEED, case))
    texture, shape = TEXTURES[case // EACH], "line" if case % 2 else "emitter"
    others = [TEXTURES[int(k)] for k in rng.integers(len(TEXTURES), size=int(rng.integers(3)))]
    names = [texture, *others]
    layers = tuple(Layer(_soil(rng, name), float(rng.uniform(3.0, 60.0)) if k + 1 < len(names) else inf) for k, name in enumerate(names))  # fmt: skip
    hours, goes, days = float(rng.uniform(0.3, 4.0)), int(rng.integers(1, 5)), 2 if rng.random() < 0.3 else 1
    each, pause = hours / goes, float(rng.uniform(0.2, 2.0)) * hours / goes
    runs = tuple((24.0 * day + k * (each + pause), 24.0 * day + k * (each + pause) + each) for day in range(days) for k in range(goes))  # fmt: skip
    depth = float(rng.uniform(5.0, 40.0)) if rng.random() < 0.4 else 0.0
    apart = float(rng.uniform(0.2, 0.8)) if rng.random() < 0.4 else None
    edge = float(rng.uniform(10.0, 40.0)) if rng.random() < 0.4 else inf
    grid = grid_of(Case(layers, 1.0, shape, apart_m=apart))
    deep, draws = float(rng.uniform(10.0, 100.0)), float(rng.uniform(0.2, 6.0))
    roots = Roots(draws / 24.0, deep, min(deep, float(grid.out_cm[-1]))) if rng.random() < 0.7 else None
    source = Source(float(rng.uniform(0.5, 6.0)), runs, depth, most_cm=edge, holds_cm=HOLDS_CM if edge < inf else 0.0)
    off = runs[-1][1]
    return Drawing(texture, layers, grid, source, goes, days, -float(rng.lognormal(6.5, 0.7)), roots, (off, off + 24.0))


def run(case: int) -> Drawn:
    """Solve one, and see whether the water adds up and lies where it can."""
    one = draw(case)
    iterations, off = 0, nan
    try:
        got = wet(one.layers, one.grid, one.source, one.times_h, first_head_cm=one.first_head_cm, roots=one.roots)
    except SoakbookError:
        pass  # not solved: no number, which is told on the page
    else:
        iterations = got.iterations
        given = one.source.flow_lph * sum(b - a for a, b in one.source.runs_h)
        held = float(got.added_l()[-1].sum())
        came = float(got.taken_l[-1] + got.ran_off_l[-1] + got.stood_l[-1])
        off = max(abs(came - given), abs(held - float(got.taken_l[-1] - got.below_l[-1] - got.drawn_l[-1]))) / given
        full = np.array([layer.soil.theta_s for layer in one.layers])[soil_of_rows(one.layers, one.grid)][:, None]
        if not np.all(got.theta <= full + SPECIFIC_STORAGE_PER_CM * np.maximum(got.head_cm, 0.0) + 1e-9):
            off = nan
    return Drawn(
        case, one.texture, one.grid.shape, len(one.layers), one.source.depth_cm, one.goes, one.days, one.roots is not None, bool(one.source.most_cm < inf),
        float(one.grid.out_cm[-1]) < 80.0, iterations, off,
    )  # fmt: skip


def keep_drawn() -> None:
    """Run all, and keep what was found."""
    keep(NAME, {"all": [run(case) for case in range(COUNT)]})


def kept_drawn() -> tuple[Drawn, ...]:
    """What was kept."""
    return kept(NAME, Drawn)["all"]
