"""The part of ``docs/validation.md`` on drip, pipes and timers."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10

import numpy as np
from scripts.tables import table
from scripts.validate_orders import drawn_section, orders_section
from tests.measured.delivery import DRIP, EPANET, EXAMPLES, DeliveryFindings
from tests.measured.delivery_check import Check
from tests.measured.delivery_pipes import HEADS_M
from tests.measured.timer_seasons import JUDGED as SEASON_JUDGED
from tests.measured.timer_seasons import MOST, SeasonRow
from tests.measured.timer_seasons import SEEN as SEASON_SEEN
from tests.measured.timer_seasons import UNIFORM as SEASON_UNIFORM
from tests.measured.timers import EVERY, MASKS, MINUTES, SPOTS, STARTS, UNIFORM, TimerRow


def section(found: DeliveryFindings) -> str:
    """Drip, pipes and timers, each with what is not met."""
    return f"""
## Putting the water there

What ours is off by against exact solutions, printed examples and other programs, and what it may be off by. None of it was measured in a garden:
it shows that the equations are solved as they should be, not that a soil follows them ([drip](drip.md), [pipes](pipes.md), [timers](timers.md)). *Found* is the largest error over all points of a row.

### Drip on soil

The errors allowed for A to F came with the values they are held against; the rest is judged, as parts of a cell. F is another solver's, on another grid, and not exact. By BDF and FiPy the
same cells are solved. What has no exact solution here: layers, roots and pauses around an emitter, and a wet circle that grows while water stands; there only the balance of water and finer grids
speak for the figures: see *how fast errors fall*, and *wet edges in cells of 2 cm*.

Why ours is the smaller throughout in F: its figures are those of the arithmetic mean of conductivity between cells of 0.75 cm and, for loam and clay loam, of curves drawn out so that the soil is full and conducts
in full from a suction of 2 cm on. That soil conducts 1.7 and 2.5 times as much as ours wherever it is drier; ours leaves Mualem's curve only over these 2 cm. A third solver that does both finds all 36 figures of F, to
0.04 cm, and edges 0.3 to 1.0 cm farther out in cells of 1.5 cm, as F says of itself. With the cells halved, what its edges lie beyond ours on the same curves falls to about half or
less; in clay loam with cells of 0.19 cm they meet ours to 0.01 cm. F does not say how it takes the mean, nor how it makes the air entry: that is inferred from the figures. Which curves are nearer to a real loam it cannot tell.

{_checks(found.checks[DRIP])}

{_stands(found.checks[DRIP])}

{orders_section(found.orders)}

{drawn_section(found.drawn)}

### Pipes: worked examples

Allowed is the last digit printed, or what the friction laws differ by: some marches have Blasius from Reynolds 2000 on, where ours has a cubic up to 4000.

{_checks(found.checks[EXAMPLES])}

{_stands(found.checks[EXAMPLES])}

### Pipes: whole trees against EPANET

Heads of {", ".join(f"{h:g}" for h in HEADS_M)} m, every node, Hazen and Williams in both where nothing is said. The largest error of head under the same law is {_short(found.epanet_mm)} mm.

{_checks(found.checks[EPANET])}

{_stands(found.checks[EPANET])}

{_timers(found)}

{_seasons(found.seasons)}
"""


def _checks(checks: Sequence[Check]) -> str:
    return table(
        ("", "held against", "found", "allowed", "unit", ""),
        [
            (
                one.name,
                one.source,
                _found(one),
                np.format_float_positional(one.allowed, trim="-"),
                one.unit,
                "met" if one.is_met else "**not met**",
            )
            for one in checks
        ],
    )


def _found(one: Check) -> str:
    """Two digits, and no more than tell anything beside what is allowed."""
    least = one.allowed / 1000.0
    return (
        f"under {np.format_float_positional(float(f'{least:.2g}'), trim='-')}"
        if one.found < least
        else _short(one.found)
    )


def _short(value: float) -> str:
    """Two digits that count, without powers of ten."""
    return f"{value:.{max(0, 1 - floor(log10(value)))}f}" if value > 0.0 else f"{value:g}"


def _stands(checks: Sequence[Check]) -> str:
    """How many are met, which are not, and which only just."""
    missed = [one.name for one in checks if not one.is_met]
    near = [one.name for one in checks if one.is_met and one.found > 0.9 * one.allowed]
    said = f"{len(checks) - len(missed)} of {len(checks)} are met."
    if missed:
        said += f" **Not met**: {'; '.join(missed)}."
    if near:
        said += f" Less than a tenth of what is allowed is left at: {'; '.join(near)}."
    return said


def _timers(found: DeliveryFindings) -> str:
    rows = found.timers
    lost = sorted((row for row in rows if not row.is_better), key=lambda row: row.uniform - row.plan)
    before = sum(row.bucket <= row.uniform + 1e-9 for row in rows)
    half = sum(row.plan <= 0.5 * row.uniform for row in rows)
    can = sum(row.plan <= row.can_be_set + 1e-9 for row in rows)
    good = sum(row.bucket <= row.uniform + 1e-9 for row in lost)
    medians = table(
        ("", "median", "from", "to"),
        [
            (name, f"{found.middle(what):.1f}", *(f"{v:.1f}" for v in np.percentile([getattr(r, what) for r in rows], (10, 90))))
            for name, what in (("the plan", "plan"), ("the plan before the balance makes it finer", "bucket"), ("the best uniform programme in hindsight", "uniform"), ("no water", "dry"))
        ],
    )  # fmt: skip
    named = table(
        ("garden", "lines", "places", "of them pots", "latitude, longitude", "plan", "before", "best uniform", "which is", "no water"),
        [_garden(row) for row in lost],
    )  # fmt: skip
    worse = f"""It is worse in {len(lost)}, by up to {max(row.plan - row.uniform for row in lost):.1f}. In {good} of these the plan was no worse before the balance made it finer.

{named}""" if lost else "There is none where it is worse."  # fmt: skip
    return f"""### Timers, {len(rows)} random gardens

Two to six lines, beds and pots, {len(SPOTS)} climates ([timers](timers.md)). The plan of a timer is held against {UNIFORM} programmes that run all lines alike ({len(MASKS)} sets of weekdays or every {EVERY[0]} to {EVERY[-1]} days, {len(MINUTES)} run times, 1 to {len(STARTS)} starts, kept neither to
the allowed hours nor to what the timer can store), the best of which is picked in hindsight; both are judged by our own balance, on weather and gardens that the plan has not seen. So this shows that the plan is well chosen under the
model, not that the model is right. Costs are in hundredths of growth, *from* and *to* the tenth and ninetieth of a hundred gardens.

{medians}

The plan is no worse in {len(rows) - len(lost)} of {len(rows)} gardens ({found.better_pct:.1f}%), and costs at most half in {half}. Against the uniform programmes that the timer can hold under its rules (no others can be set) it is no worse in {can}. Before the balance makes it finer it is no worse in {before}. {worse}"""


def _seasons(rows: Sequence[SeasonRow]) -> str:
    def line(name: str, what: str) -> tuple[str, ...]:
        values = [getattr(row, what) for row in rows]
        return (name, f"{np.median(values):.1f}", *(f"{v:.1f}" for v in np.percentile(values, (10, 90))))

    medians = table(
        ("", "median", "from", "to"),
        [
            line("the season's settings", "plan"), line("one setting all season, planned the same way", "single"),
            line("the best uniform programme in hindsight", "uniform"), line("no water", "dry"),
        ],
    )  # fmt: skip
    worse = [row for row in rows if not row.is_better]
    over = [row for row in rows if row.plan > row.single + 1e-9]
    named = ", ".join(f"garden {row.garden} ({row.plan:.1f} against {row.uniform:.1f})" for row in worse)
    counts = [(n, sum(row.times_set == n for row in rows)) for n in range(1, MOST + 1)]
    times = ", ".join(f"{n} in {count} gardens" for n, count in counts if count)
    return f"""### Timers through a season, {len(rows)} random gardens

The same gardens, from the day the timer is set to the end of the season ({min(row.days for row in rows)} to {max(row.days for row in rows)} days), with at most {MOST} settings ({times}). The plan knows
{SEASON_SEEN} members of the usual weather; all is judged on {SEASON_JUDGED} others, by our own balance. The uniform programmes are {SEASON_UNIFORM}, those of one start.

{medians}

The settings are no worse than the best uniform programme in hindsight in {len(rows) - len(worse)} of {len(rows)} gardens{f"; worse in {named}" if worse else ""}. They are worse than one setting all season, on weather that
neither has seen, in {len(over)}{f", by up to {max(row.plan - row.single for row in over):.1f}" if over else ""}."""


def _garden(row: TimerRow) -> tuple[str, ...]:
    return (
        str(row.garden), str(row.lines), str(row.places), str(row.pots), row.spot.replace(" ", ", "), f"{row.plan:.1f}", f"{row.bucket:.1f}",
        f"{row.uniform:.1f}", row.uniform_is, f"{row.dry:.1f}",
    )  # fmt: skip
