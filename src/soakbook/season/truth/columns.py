"""Columns of soil as arrays, and one call that moves them on in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import SoakbookError
from soakbook.season.truth.curves import EXPONENTIAL, FloatArray, Soil, tables
from soakbook.season.truth.kinds import FAILED, SUMS

IntArray = NDArray[np.int64]

#: Accuracy asked of a step: half the change of rate times the step, in water content [m³/m³].
TOLERANCE = 3e-3


@dataclass
class Columns:
    """The state and the make of C columns of at most L cells; heads and lengths in cm, times in h.

    ``top_cm`` is a head held at the surface, NaN where rain and evaporation rule there; ``draws_cm`` are the four heads of Feddes
    uptake; ``omega`` is the share of the demand under which roots elsewhere no longer make up for dry ones (1: they never do).
    """

    cells: IntArray
    head_cm: FloatArray
    rate: FloatArray
    pond_cm: FloatArray
    dt_h: FloatArray
    thick_cm: FloatArray
    soil: IntArray
    tables: FloatArray
    rows: FloatArray
    roots: FloatArray
    draws_cm: FloatArray
    omega: FloatArray
    kind: IntArray
    below_cm: FloatArray
    top_cm: FloatArray
    pond_most_cm: FloatArray
    driest_cm: FloatArray
    air_least: FloatArray

    def __len__(self) -> int:
        return len(self.cells)

    def copy(self) -> Columns:
        """The same columns, free to go another way. What never changes (the soils) is shared."""
        shared = {"tables", "rows", "thick_cm", "soil", "cells"}
        return replace(self, **{f.name: getattr(self, f.name).copy() for f in fields(self) if f.name not in shared})

    def water_content(self) -> FloatArray:
        """Water content of each cell, NaN below the bottom. [m³/m³]"""
        row = self.rows[self.soil]
        x = np.maximum(-self.head_cm, 0.0)
        exponential = row[..., EXPONENTIAL] > 0
        n = np.where(exponential, 2.0, row[..., 3])
        s = np.where(exponential, np.exp(-row[..., 2] * x), (1.0 + (row[..., 2] * x) ** n) ** (1.0 / n - 1.0))
        found = row[..., 0] + (row[..., 1] - row[..., 0]) * s
        return np.where(np.arange(found.shape[1]) < self.cells[:, None], found, np.nan)

    def middles_cm(self) -> FloatArray:
        """Depth of the middle of each cell."""
        return np.asarray(np.cumsum(self.thick_cm, axis=1) - 0.5 * self.thick_cm)


def columns(
    thick_cm: Sequence[ArrayLike],
    soils: Sequence[Sequence[Soil]],
    head_cm: Sequence[ArrayLike],
    *,
    kind: ArrayLike,
    below_cm: ArrayLike = 0.0,
    top_cm: ArrayLike = np.nan,
    pond_most_cm: ArrayLike = 0.5,
    driest_cm: ArrayLike = -15_000.0,
    omega: ArrayLike = 1.0,
    air_least: ArrayLike = 0.10,
) -> Columns:
    """Columns from the thickness, the soil and the head of each of their cells, top to bottom.

    ``kind`` is what lies below (:data:`~soakbook.season.truth.kinds.FREE`, ``SEEPAGE``, ``HEAD`` or ``CLOSED``);
    standing water beyond ``pond_most_cm`` runs off; evaporation cannot dry the surface beyond ``driest_cm``.
    """  # fmt: skip
    lengths = [len(s) for s in soils]
    count, most = len(soils), max(lengths)
    known = list(dict.fromkeys(s for column in soils for s in column))
    at = {s: i for i, s in enumerate(known)}
    thick, soil, head = np.zeros((count, most)), np.zeros((count, most), dtype=np.int64), np.full((count, most), -100.0)
    for c, (length, column) in enumerate(zip(lengths, soils, strict=True)):
        thick[c, :length], soil[c, :length], head[c, :length] = thick_cm[c], [at[s] for s in column], head_cm[c]
    made, rows = tables(known)

    def each(value: ArrayLike) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(value, dtype=float), (count,)))

    return Columns(
        cells=np.array(lengths), head_cm=head, rate=np.zeros((count, most)), pond_cm=np.zeros(count),
        dt_h=np.full(count, 0.01), thick_cm=thick, soil=soil, tables=made, rows=rows, roots=np.zeros((count, most)),
        draws_cm=np.tile([-10.0, -25.0, -400.0, -8000.0], (count, 1)), omega=each(omega),
        kind=each(kind).astype(np.int64), below_cm=each(below_cm), top_cm=each(top_cm), pond_most_cm=each(pond_most_cm),
        driest_cm=each(driest_cm), air_least=each(air_least),
    )  # fmt: skip


@dataclass(frozen=True)
class Moved:
    """What became of the water of each column over a call [cm]; ``uptake_cm`` by cell, ``air`` the mean air-filled share
    where the roots are, ``wet_h`` the hours it was under the least they need."""

    inflow_cm: FloatArray
    runoff_cm: FloatArray
    evaporation_cm: FloatArray
    transpiration_cm: FloatArray
    drainage_cm: FloatArray
    before_cm: FloatArray
    after_cm: FloatArray
    air: FloatArray
    wet_h: FloatArray
    uptake_cm: FloatArray
    steps: FloatArray
    iterations: FloatArray


def advance(
    state: Columns,
    hours: ArrayLike,
    arriving_cm_h: ArrayLike,
    leaving_cm_h: ArrayLike,
    demand_cm_h: ArrayLike,
    *,
    tolerance: float = TOLERANCE,
) -> Moved:
    """Move the columns on, in place, through intervals of ``hours`` each.

    Parameters
    ----------
    arriving_cm_h, leaving_cm_h, demand_cm_h
        Water at the surface, potential evaporation, potential transpiration: columns × intervals. [cm/h]

    Raises
    ------
    SoakbookError
        A column could not be solved; nothing it says can be used.
    """  # fmt: skip
    from soakbook.season.truth.compiled import solver

    length = np.ascontiguousarray(hours, dtype=float)
    shape = (len(state), len(length))
    forcing = [
        np.array(np.broadcast_to(np.asarray(f, dtype=float), shape)) for f in (arriving_cm_h, leaving_cm_h, demand_cm_h)
    ]
    sums, taken = np.zeros((len(state), SUMS)), np.zeros_like(state.head_cm)
    solver().run_columns(
        state.cells, state.head_cm, state.rate, state.pond_cm, state.dt_h, state.thick_cm, state.soil, state.tables,
        state.rows, length, *forcing, state.roots, state.draws_cm, state.omega, state.kind, state.below_cm, state.top_cm,
        state.pond_most_cm, state.driest_cm, state.air_least, tolerance, sums, taken,
    )  # fmt: skip
    if np.any(sums[:, FAILED] > 0):
        bad = int(np.argmax(sums[:, FAILED] > 0))
        raise SoakbookError(f"Column {bad} could not be solved.", code="truth.unsolved")
    inflow, runoff, evaporation, transpiration, drainage, before, after, air, wet, steps, iterations, _ = sums.T
    return Moved(
        inflow,
        runoff,
        evaporation,
        transpiration,
        drainage,
        before,
        after,
        air / length.sum(),
        wet,
        taken,
        steps,
        iterations,
    )
