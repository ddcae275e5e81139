"""How a computed series is held against a measured one, and the gates it must pass."""

from __future__ import annotations

import csv
import gzip
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
DayArray = NDArray[np.datetime64]
Rows = list[dict[str, str]]

DATA = Path(__file__).parent.parent / "data"


@dataclass(frozen=True)
class Score:
    """Computed against measured: correlation, root mean square error, mean error, the error left without the mean
    error, and the standard deviation of what was measured; all but ``r`` in the unit of the data."""

    n: int
    r: float
    rmse: float
    bias: float
    unbiased: float
    sd: float


@dataclass(frozen=True)
class Gate:
    """What came out, and the bound it must keep."""

    name: str
    value: float
    bound: float
    at_least: bool
    digits: int

    @property
    def is_met(self) -> bool:
        """Whether the value keeps the bound."""
        return self.value >= self.bound if self.at_least else self.value <= self.bound


def score(measured: FloatArray, computed: FloatArray) -> Score:
    """Scores over the steps on which both are known."""
    both = np.isfinite(measured) & np.isfinite(computed)
    a, b = measured[both], computed[both]
    error = b - a
    return Score(
        n=int(both.sum()),
        r=float(np.corrcoef(a, b)[0, 1]),
        rmse=float(np.sqrt(np.mean(error**2))),
        bias=float(error.mean()),
        unbiased=float(error.std()),
        sd=float(a.std()),
    )


def median(scores: Sequence[Score], what: str) -> float:
    """Median of one figure over several scores."""
    return float(np.median([getattr(s, what) for s in scores]))


def read_rows(path: str) -> Rows:
    """Rows of a table under ``tests/data``, packed or not."""
    file = DATA / path
    text = gzip.decompress(file.read_bytes()).decode() if file.suffix == ".gz" else file.read_text()
    return list(csv.DictReader(text.splitlines()))


def numbers(rows: Rows, name: str) -> FloatArray:
    """A column as numbers; NaN where a cell is empty."""
    return np.array([float(row[name]) if row[name] else np.nan for row in rows])


def days_of(rows: Rows, name: str = "date") -> DayArray:
    """A column of dates."""
    return np.array([row[name] for row in rows], dtype="datetime64[D]")
