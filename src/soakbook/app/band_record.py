"""How well the bands have held so far: of so many readings, how many lay where most of them should."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.learning.bands import Held

#: What share of readings the band is to hold.
BAND = 0.8
#: With fewer readings nothing is made of how many lay within. Judged.
LEAST_READINGS = 8
#: How unlikely a count must be, were the bands right, for them to be called too narrow or too wide. Judged.
UNLIKELY = 0.05


@dataclass(frozen=True)
class Record:
    """How many readings were held against the band that was there before them, and how many lay within, to the nearest whole number;
    ``in_parts``: some are classes (dry, moist, wet) and count with the part that lies within."""

    n: int
    inside: int
    in_parts: bool = False


def record_of(held: Sequence[Held]) -> Record:
    """The count of some readings."""
    within = [one.inside for one in held]
    return Record(len(held), round(sum(within)), any(0.0 < part < 1.0 for part in within))


def garden_record(desk: Desk, known: Known) -> Record:
    """The count over all places of a garden."""
    return record_of([one for place_id in known.names for one in desk.held(known, place_id)])


def at_most(inside: int, n: int) -> float:
    """How likely it is that no more than ``inside`` of ``n`` lie within, were the bands right: a binomial sum.

    Readings of one place hang together somewhat; they are counted as if they did not, so "too narrow" is said a little early. Classes count in
    parts, whose sum spreads less about the same mean than whole readings do: with many of them either is said a little late.

    Examples
    --------
    >>> round(at_most(1, 2), 2)
    0.36
    """
    return sum(comb(n, k) * BAND**k * (1.0 - BAND) ** (n - k) for k in range(inside + 1))


def record_words(record: Record, r: Reader) -> str:
    """The count in words, and what to make of it; empty where nothing was read."""
    if record.n == 0:
        return ""
    words = r.tn(
        "The one reading so far was held against the band known before it: {inside} of 1 lay within.",
        "Of {n} readings so far, {inside} lay within the band known before each of them.",
        record.n,
        inside=record.inside,
    )
    if record.in_parts:
        words += " " + r.t("A reading such as dry or moist counts with the part of it that lies within.")
    return f"{words} {_verdict(record, r)}"


def _verdict(record: Record, r: Reader) -> str:
    if record.n < LEAST_READINGS:
        return r.t("8 in 10 should; these are too few to say whether they do.")
    if at_most(record.inside, record.n) < UNLIKELY:
        return r.t("8 in 10 should: the bands have been too narrow here so far, so trust them less than they say.")
    if 1.0 - at_most(record.inside - 1, record.n) < UNLIKELY:
        return r.t("8 in 10 should: the bands have been wider here than need be.")
    return r.t("8 in 10 should, so the bands have held.")
