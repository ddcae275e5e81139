"""The part of ``docs/validation.md`` on faults."""

from __future__ import annotations

from collections.abc import Sequence

from scripts.tables import table
from tests.measured.faults import ASK_EVERY, MOST_DAYS, FaultFindings, Told

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


def section(found: FaultFindings) -> str:
    """Detection and false alarms, by fault and by how closely the grower looks."""
    names = sorted({t.fault for t in found.faulty["plain"]})
    plain, close = found.sound["plain"], found.sound["close"]
    rows = table(
        ("fault", "seasons", "plain: told", "named", "named first", "days until told", "close: told", "named", "named first", "days until told"),
        [
            (name, str(sum(t.fault == name for t in found.faulty["plain"])), *_told(found.faulty["plain"], name), *_told(found.faulty["close"], name))
            for name in names
        ],
    )  # fmt: skip
    total = [sum(t.day is not None for t in found.faulty[look]) for look in ("plain", "close")]
    return f"""
## Faults

Hidden gardens that share no soil physics with the balance (one-dimensional Richards, with soils, roots, probe and faults of their own),
each under the 2020 weather of one of eight stations, lived through to the harvest or for {MOST_DAYS} days. {len(plain)} are sound, in {len(found.faulty["plain"])} one thing is wrong: each kind of fault in turn, its day and size
by chance, so some faults begin late, are slight, or come when rain does the watering. The line's flow is known from its packet, the grower waters by a plain budget,
writes everything down as meant, and looks once a week: *plain*, a dial probe at one depth, and whether water came out below or ran off; *close*, also whether leaves hang at 4 pm and
what a bucket finds the flow to be. Every {ASK_EVERY} weeks the odds are asked for. Asked every week there are more chances of a false alarm than are counted here. Told before the fault began counts as a false alarm, not as found. The settings were tuned on other draws.

**False alarms** in sound seasons: {sum(t.early for t in plain)} of {len(plain)} (plain), {sum(t.early for t in close)} of {len(close)} (close); warnings before a fault began in {sum(t.early for t in found.faulty["plain"])} and {sum(t.early for t in found.faulty["close"])} of {len(found.faulty["plain"])}.

**Found**: {total[0]} (plain) and {total[1]} (close) of {len(found.faulty["plain"])}.

{rows}

{_worth(found)}
"""


def _worth(found: FaultFindings) -> str:
    """What each look is worth, in words that follow from the figures."""
    names = sorted({t.fault for t in found.faulty["plain"]})
    counts = {look: {n: _found(some, n) for n in names} for look, some in found.faulty.items()}
    seasons = {n: sum(t.fault == n for t in found.faulty["plain"]) for n in names}
    gained = [n for n in names if counts["close"][n] > counts["plain"][n]]
    hidden = [n for n in names if 5 * counts["close"][n] < seasons[n]]
    lines = [
        f"Looking closely finds more of these: {_list(gained, counts, seasons)}." if gained
        else "Looking closely finds no more of any fault here."
    ]  # fmt: skip
    if hidden:
        lines.append(
            f"Weekly looks do **not** find these (fewer than one season in five, even close): {_list(hidden, counts, seasons)}. No warning does not mean that they are not there."
        )
        lines += [f"- {n}: {WOULD_FIND[n]}" for n in hidden]
    return "\n".join(line if line.startswith("- ") else line + "\n" for line in lines)


def _found(some: Sequence[Told], fault: str) -> int:
    """Seasons with a fault in which it was among those named."""
    return sum(t.fault == fault and fault in t.named for t in some)


def _list(names: Sequence[str], counts: dict[str, dict[str, int]], seasons: dict[str, int]) -> str:
    return ", ".join(f"{n} ({counts['plain'][n]} of {seasons[n]} plain, {counts['close'][n]} close)" for n in names)


def _told(some: Sequence[Told], fault: str) -> tuple[str, str, str, str]:
    """Told at all, the fault among those named, named first, and the days it took."""
    mine = [t for t in some if t.fault == fault and t.day is not None]
    days = ", ".join(str(d) for d in sorted(t.day - t.since for t in mine if t.day is not None))
    named = sum(fault in t.named for t in mine), sum(t.named[:1] == (fault,) for t in mine)
    return str(len(mine)), str(named[0]), str(named[1]), days
