"""The catch-cup test: what cups under the emitters caught, how even that is, where it is worst, what may be the cause, and how long to run.

References
----------
.. [1] J. L. Merriam and J. Keller, "Farm Irrigation System Evaluation", 1978 (classes from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics.uniformity import (
    FloatArray,
    christiansen_uniformity_pct,
    low_quarter_mean,
    low_quarter_uniformity_pct,
    uniformity_class,
)
from soakbook.said import say, say_n

#: Fewer cups say little (common practice: 16 or more, four places on four or five lines).
CUPS_ENOUGH, CUPS_LEAST = 16, 4
#: A cup this far below (above) what its line gives there stands out; at least, and so many times the usual scatter. Judged.
STANDS_OUT, SCATTERS = 0.15, 3.5
#: From start to end of a line, or a line against the others, that is more than chance; and the first over its standard error by the scatter of the cups. Judged.
FALLS, LINE_LOW, GAINS = 0.08, 0.10, 3.0
#: All of the cups against the label. Judged.
LABEL_OFF = 0.15

_AMOUNT = re.compile(r"\d{1,6}([.,]\d{1,4})?|[.,]\d{1,4}")
_TWO_WAYS = re.compile(r"[1-9]\d{0,2},\d{3}")


@dataclass(frozen=True)
class Place:
    """One cup: its line and place along it, both from 1, what it caught, and that over the mean."""

    line: int
    at: int
    amount: float
    of_mean: float


@dataclass(frozen=True)
class CupTest:
    """What the cups say; amounts in the unit given. ``times_longer`` is the run that is right for the driest quarter over that for the mean, None
    where that quarter got nothing."""

    cups: int
    mean: float
    low_quarter: float
    du_pct: float
    cu_pct: float
    uniformity_class: str
    times_longer: float | None
    run_hours: float | None
    worst: tuple[Place, ...]
    causes: tuple[str, ...]
    notes: tuple[str, ...]


def judge_cups(lines: Sequence[Sequence[float]], *, caught_hours: float | None = None, need: float | None = None,
               label_per_hour: float | None = None) -> CupTest:  # fmt: skip
    """Judge a catch-cup test.

    Parameters
    ----------
    lines
        What the cups of each line caught, in order from its start to its end; any one unit.
    caught_hours
        How long they stood. [h]
    need
        What each emitter should give in one watering, same unit; with ``caught_hours`` it yields ``run_hours``.
    label_per_hour
        What the label says of one emitter, same unit an hour; only compared when ``caught_hours`` is given.
    """
    rows = [np.asarray(line, dtype=float) for line in lines if len(line)]
    values = np.concatenate(rows) if rows else np.zeros(0)
    if values.size < CUPS_LEAST or not np.isfinite(values).all() or (values < 0.0).any() or not values.any():
        raise InputError(
            say("A test needs {n} cups or more, none below 0, not all of them empty (got {got}).", n=CUPS_LEAST, got=values.size),
            code="cups.amounts", field="cups", hint=say("16 or more, evenly spread over the lines, tell most."),
        )  # fmt: skip
    for name, value in (("caught_hours", caught_hours), ("need", need), ("label_per_hour", label_per_hour)):
        if value is not None and not value > 0.0:
            raise InputError(
                say("{name} must be above 0 (got {value:g}).", name=name, value=value),
                code="cups.above_zero",
                field=name,
            )
    mean, low = float(np.mean(values)), low_quarter_mean(values)
    du = low_quarter_uniformity_pct(values)
    run = None if need is None or caught_hours is None or low == 0.0 else caught_hours * need / low
    return CupTest(
        values.size, mean, low, du, christiansen_uniformity_pct(values), uniformity_class(du),
        mean / low if low > 0.0 else None, run, _worst(rows, mean), tuple(_causes(rows, mean, caught_hours, label_per_hour)),
        tuple(_notes(values.size, du)),
    )  # fmt: skip


def lines_read(text: str, field: str) -> tuple[tuple[float, ...], ...]:
    """Amounts by line: each line of a text, or part between strokes, is one line of the bed; between cups stand blanks."""
    rows = [[part.rstrip(",") for part in re.split(r"[\s;]+", row)] for row in re.split(r"[\n/]", text)]
    lines = (tuple(amount_read(word, field) for word in row if word) for row in rows)
    return tuple(line for line in lines if line)


def amount_read(word: str, field: str) -> float:
    """One amount; a comma is a decimal comma.

    Raises
    ------
    InputError
        What is no amount, or might be a decimal comma as well as one between thousands.
    """
    if _TWO_WAYS.fullmatch(word):
        raise InputError(
            say('"{whole}" can be read two ways.', whole=word), code="number.ambiguous", field=field,
            hint=say("Put blanks between the cups, and a point before decimals."),
        )  # fmt: skip
    if not _AMOUNT.fullmatch(word):
        raise InputError(
            say('"{word}" is not an amount.', word=word[:20]), code="cups.number", field=field,
            hint=say("Numbers in one measure, with blanks between them, such as 120 118 110."),
        )  # fmt: skip
    return float(word.replace(",", "."))


def _worst(rows: list[FloatArray], mean: float) -> tuple[Place, ...]:
    """The driest quarter, driest first, at most six."""
    places = [Place(i + 1, j + 1, float(v), float(v) / mean) for i, row in enumerate(rows) for j, v in enumerate(row)]
    places.sort(key=lambda p: p.amount)
    return tuple(places[: min(6, max(1, len(places) // 4))])


def _expected(row: FloatArray, middle_of_all: float) -> FloatArray:
    """What a line would give at each of its cups: A. F. Siegel's line of repeated medians (Biometrika 69:242-244, 1982, from memory), which up to half of the cups cannot draw aside; one bad cup of four
    is three of the six slopes between them. Of three cups their middle, of two the one that is more like all the others."""
    n = row.size
    if n < 3:
        return np.full(n, row[np.argmin(np.abs(row - middle_of_all))])
    middle = float(np.median(row))
    if n < 4 or middle <= 0.0:
        return np.full(n, middle)
    at = np.arange(n)
    slope = _slope(at, row)
    return np.asarray(np.maximum(slope * at + float(np.median(row - slope * at)), 0.0))


def _slope(at: NDArray[np.int64], row: FloatArray) -> float:
    away = at[None, :] - at[:, None]
    between = (row[None, :] - row[:, None])[away != 0] / away[away != 0]
    return float(np.median(np.median(between.reshape(row.size, row.size - 1), axis=1)))


def _fitted(row: FloatArray, kept: NDArray[np.bool_], first: FloatArray) -> tuple[float, FloatArray]:
    """What a line gains from its first cup to its last over its middle, and what it would give at each cup, by those that do not stand out from ``first``: the median of the slopes between
    them (Theil's). Fewer than three tell nothing more than ``first``."""
    if row.size < 4 or kept.sum() < 3 or not float(np.median(row[kept])) > 0.0:
        return 0.0, first
    at, rest = np.flatnonzero(kept), row[kept]
    i, j = np.triu_indices(rest.size, 1)
    slope = float(np.median((rest[j] - rest[i]) / (at[j] - at[i])))
    line = slope * np.arange(row.size) + float(np.median(rest - slope * at))
    return slope * (row.size - 1) / float(np.median(rest)), np.asarray(np.maximum(line, 0.0))


def _limit(offs: list[FloatArray], mean: float) -> float:
    """How far off its line a cup stands out."""
    return max(STANDS_OUT * mean, SCATTERS * 1.4826 * float(np.median(np.abs(np.concatenate(offs)))))


def _spread(offs: list[FloatArray], kept: list[NDArray[np.bool_]]) -> float:
    """Standard deviation of cups that do not stand out about the line of theirs, which takes two of them."""
    squares = sum(float(np.sum(off[fit] ** 2)) for off, fit in zip(offs, kept, strict=True))
    return math.sqrt(squares / max(sum(max(int(fit.sum()) - 2, 0) for fit in kept), 1))


def _causes(rows: list[FloatArray], mean: float, hours: float | None, label_per_hour: float | None) -> list[str]:
    out: list[str] = []
    middle_of_all = float(np.median(np.concatenate(rows)))
    firsts = [_expected(row, middle_of_all) for row in rows]
    limit = _limit([row - first for row, first in zip(rows, firsts, strict=True)], mean)
    fits = [_fitted(row, np.abs(row - first) <= limit, first) for row, first in zip(rows, firsts, strict=True)]
    offs = [row - line for row, (_, line) in zip(rows, fits, strict=True)]
    limit = _limit(offs, mean)
    kept = [np.abs(off) <= limit for off in offs]
    spread = _spread(offs, kept)
    for k, (row, off, (gain, _)) in enumerate(zip(rows, offs, fits, strict=True), start=1):
        out += _along(k, gain, spread, row)
        low, high = np.flatnonzero(off < -limit) + 1, np.flatnonzero(off > limit) + 1
        if low.size:
            out.append(
                say(
                    "Line {line}, cup {at}: far less than its neighbours. A clogged emitter: open it, flush the line, look at the filter.",
                    line=k,
                    at=low.tolist(),
                )
            )
        if high.size:
            out.append(
                say(
                    "Line {line}, cup {at}: far more than its neighbours. A leak, a damaged emitter or one of another flow.",
                    line=k,
                    at=high.tolist(),
                )
            )
    middles = np.array([float(np.median(row[own] if own.any() else row)) for row, own in zip(rows, kept, strict=True)])
    for k, middle in enumerate(middles, start=1):
        others = np.delete(middles, k - 1)
        if others.size and middle < (1.0 - LINE_LOW) * float(np.median(others)):
            out.append(
                say(
                    "Line {line} is low as a whole: a kink, a valve partly shut, a blocked start, or the far end of a header that is too thin.",
                    line=k,
                )
            )
    if hours is not None and label_per_hour is not None and not out:
        of_label = float(np.median(np.concatenate(rows))) / hours / label_per_hour
        if of_label < 1.0 - LABEL_OFF:
            out.append(
                say(
                    "All give less than the label, {part:.0f} % of it: too little pressure, a dirty filter, or emitters of another flow.",
                    part=100 * of_label,
                )
            )
        elif of_label > 1.0 + LABEL_OFF:
            out.append(
                say(
                    "All give more than the label, {part:.0f} % of it: too much pressure; look at the reducer.",
                    part=100 * of_label,
                )
            )
    if not out and low_quarter_uniformity_pct(np.concatenate(rows)) < 90.0:
        out.append(say("Low cups stand here and there: emitters wear and clog unevenly, or different ones are mixed."))
    return out


def _ends(gain: float) -> float:
    """What the end of a line gives over what its start does, from the gain over its middle; a start all but dry counts as a tenth of the middle."""
    return max(1.0 + 0.5 * gain, 0.0) / max(1.0 - 0.5 * gain, 0.1)


def _along(line: int, gain: float, spread: float, row: FloatArray) -> list[str]:
    """Whether a line gives less and less, or more and more, toward its end."""
    n = row.size
    if n < 4 or abs(gain) < FALLS:
        return []
    chance = spread * (12.0 * (n - 1) / (n * (n + 1))) ** 0.5  # of what cups alike gain from the first to the last
    if abs(gain) * float(np.median(row)) < GAINS * chance:
        return []
    if gain < 0.0:
        return [say("Line {line} gives less and less toward its end, {part:.0f} % less: pressure is lost. It is too long or too thin, or the ground rises; "
                    "feed it from its middle, shorten it, or take compensating emitters.", line=line, part=100 * (1.0 - _ends(gain)))]  # fmt: skip
    return [say("Line {line} gives more toward its end, {part:.0f} % more: the ground falls along it. Lay it along the slope's contour or take "
                "compensating emitters.", line=line, part=100 * (_ends(gain) - 1.0))]  # fmt: skip


def _notes(cups: int, du_pct: float) -> list[str]:
    out: list[str] = []
    if cups < CUPS_ENOUGH:
        out.append(say_n("{n} cup is few: 16 or more tell most.", "{n} cups are few: 16 or more tell most.", cups))
    if du_pct < 70.0:
        out.append(say("Mend this before you run longer: the wettest places would drown."))
    return out
