"""The part of ``docs/validation.md`` on faults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median

from scripts.tables import table
from tests.measured.faults import ASK_EVERY, LOOKS, MOST_DAYS, FaultFindings, Told
from tests.measured.faults_limits import Limit

#: What would settle a fault that looks at the soil do not find. Common practice; not measured here.
WOULD_FIND = {
    "blocked": "a bucket and a watch at the tap, or a cup under two emitters.",
    "leak": "the water meter with everything shut, and wet ground along the line; the flow at the tap only when what it was before is known.",
    "left on": "the water meter before and after each watering, written down in place of what was meant.",
    "never opened": "the water meter before and after each watering, or being there when the line runs.",
    "gauge in rain shadow": "a second straight-sided jar in the open through one rain, set against the gauge.",
    "compacted": "a thin rod pushed into moist soil at three spots (mind buried pipes and cables).",
    "repels": "water poured on slowly: does the pot get heavier, or does it run out below at once?",
}


#: Odds in the logarithm that it takes to go from about 1 in 40 to 7 in 10.
TO_BE_TOLD = 4.5


def section(found: FaultFindings, limits: Mapping[str, Sequence[Limit]]) -> str:
    """Detection and false alarms, by fault and by how closely the grower looks."""
    looks = list(LOOKS)
    first = found.faulty[looks[0]]
    names = sorted({t.fault for t in first})
    rows = table(
        ("fault", "seasons", *(f"{look}: {what}" for look in looks for what in ("told", "named (first)", "days until told"))),
        [(n, str(sum(t.fault == n for t in first)), *(cell for look in looks for cell in _told(found.faulty[look], n))) for n in names],
    )  # fmt: skip
    alarms = "; ".join(
        f"{look}: {sum(t.early for t in found.sound[look])} of {len(found.sound[look])}, and before a fault began "
        f"{sum(t.early for t in found.faulty[look])} of {len(found.faulty[look])}"
        for look in looks
    )
    total = ", ".join(f"{_all_named(found.faulty[look])} ({look})" for look in looks)
    return f"""
## Faults

Hidden gardens that share no soil physics with the balance (one-dimensional Richards, with soils, roots, probe and faults of their own),
each under the 2020 weather of one of eight stations, lived through to the harvest or for {MOST_DAYS} days. {len(found.sound[looks[0]])} are sound, in {len(first)} one thing is wrong: each kind of fault in turn, its day and size
by chance, so some faults begin late, are slight, or come when rain does the watering. The line's flow is known from its packet, the grower waters by a plain budget,
writes everything down as meant, and looks once a week: *plain*, a dial probe at one depth, and whether water came out below or ran off; *close*, also whether leaves hang at 4 pm and
what a bucket finds the flow to be; *thorough*, also the number on a water meter, in beds the dial probe at twice the depth, and what a pot weighs. Every {ASK_EVERY} weeks the odds are asked for. Asked every week there are more chances of a false alarm than are counted here. Told before the fault began counts as a false alarm, not as found. The settings were tuned on other draws.

**False alarms** in sound seasons: {alarms}.

**Found and named**, of {len(first)}: {total}.

{rows}

{_worth(found)}

{_limits(limits)}
"""


def _limits(limits: Mapping[str, Sequence[Limit]]) -> str:
    """What a dial could tell at all."""
    rows = table(
        ("fault", "gardens", "one depth: median", f"over {TO_BE_TOLD:g}", "two depths: median", f"over {TO_BE_TOLD:g}"),
        [
            (
                name, str(len(some)), f"{median([x.one for x in some]):.1f}", str(sum(x.one > TO_BE_TOLD for x in some)),
                f"{median([x.two for x in some]):.1f}", str(sum(x.two > TO_BE_TOLD for x in some)),
            )
            for name, some in limits.items()
        ],
    )  # fmt: skip
    return f"""What a dial could tell at all of the two faults that leave the tap alone: more hidden gardens, each lived through with the fault and without it, all else the same.
The figures are what a season of weekly readings would be worth, in the logarithm of the odds, if everything but the fault were known; to be told of takes about {TO_BE_TOLD:g}, and much of it goes into what is not known.

{rows}

A gauge in a rain shadow hardly shows in the soil: where the grower waters by the gauge, what rain brings is watered in beside it, and goes on down.
What tells is the rain of the weather's source, week by week, though it has showers of its own: on draws that the odds were set by, 4 of 24 such gauges were
named (those that catch less than half, for most of a season), and 1 of 56 sound gardens was told of anything."""


def _worth(found: FaultFindings) -> str:
    """What each look is worth, in words that follow from the figures."""
    looks = list(LOOKS)
    first = found.faulty[looks[0]]
    names = sorted({t.fault for t in first})
    counts = {look: {n: _found(some, n) for n in names} for look, some in found.faulty.items()}
    seasons = {n: sum(t.fault == n for t in first) for n in names}
    lines = []
    for before, look in pairwise(looks):
        gained = [n for n in names if counts[look][n] > counts[before][n]]
        lines.append(
            f"A {look} look finds more than a {before} one of these: {_list(gained, counts, seasons)}." if gained
            else f"A {look} look finds no more of any fault here than a {before} one."
        )  # fmt: skip
    hidden = [n for n in names if 5 * counts[looks[-1]][n] < seasons[n]]
    if hidden:
        lines.append(
            f"Weekly looks do **not** find these (fewer than one season in five, even {looks[-1]}): {_list(hidden, counts, seasons)}. No warning does not mean that they are not there."
        )
        lines.append("\n".join(f"- {n}: {WOULD_FIND[n]}" for n in hidden))
    close = [n for n in names if n not in hidden and 5 * counts[looks[-2]][n] < seasons[n]]
    if close:
        lines.append(
            f"Only a {looks[-1]} look finds these: {_list(close, counts, seasons)}. Without it, what would settle them:"
        )
        lines.append("\n".join(f"- {n}: {WOULD_FIND[n]}" for n in close))
    return "\n\n".join(lines)


def _found(some: Sequence[Told], fault: str) -> int:
    """Seasons with a fault in which it was among those named."""
    return sum(t.fault == fault and fault in t.named for t in some)


def _all_named(some: Sequence[Told]) -> int:
    return sum(t.fault in t.named for t in some)


def _list(names: Sequence[str], counts: Mapping[str, Mapping[str, int]], seasons: Mapping[str, int]) -> str:
    of = {n: ", ".join(f"{counts[look][n]} {look}" for look in counts) for n in names}
    return "; ".join(f"{n} ({of[n]}, of {seasons[n]})" for n in names)


def _told(some: Sequence[Told], fault: str) -> tuple[str, str, str]:
    """Told at all, the fault among those named and first of them, and the days it took."""
    mine = [t for t in some if t.fault == fault and t.day is not None]
    days = ", ".join(str(d) for d in sorted(t.day - t.since for t in mine if t.day is not None))
    named = sum(fault in t.named for t in mine), sum(t.named[:1] == (fault,) for t in mine)
    return str(len(mine)), f"{named[0]} ({named[1]})", days
