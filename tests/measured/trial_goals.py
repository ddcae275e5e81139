"""What was asked for when the trial was planned, and whether it was reached: every verdict comes from the results."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakbook.season.trial.report import ALIKE_PCT, OURS, Duel, duel, pairs, rules_in, way
from soakbook.season.trial.run import FULL, ORACLE, SEEING_TUNED, TUNED, CaseResult
from tests.measured.trial_cells import listed, percent, signed, table

#: Asked for: water saved against rules as people use them; part of the way from the best fixed rule to the oracle with weekly readings.
SAVED, ALONG = 0.30, 0.85
MET, MISSED, BEYOND = "met", "missed", "beyond the oracle"
_WORDS = ((MET, "met"), (MISSED, "**missed**"), (BEYOND, "missed where the oracle misses them too"))
WEEKLY = FULL["weekly"]


@dataclass(frozen=True)
class Verdict:
    """One way of watering against one rule; ``least`` is the water to be saved, 0 for any at all."""

    found: Duel
    least: float
    said: str


def reached(found: Duel, least: float) -> bool:
    """Enough saved in the median place, enough as well in the median of the places where no more was lost, and no more lost in the median
    place. The two medians of water are asked for both, for a place that saves by letting its crop go has saved nothing."""
    enough = all(v >= least if least > 0.0 else v > 0.0 for v in (found.saved, found.saved_at_no_loss))
    return enough and found.loss_more_pct <= ALIKE_PCT


def verdict(results: Sequence[CaseResult], ours: str, rule: str, least: float) -> Verdict | None:
    """Met, missed, or missed where the oracle of the same places does not reach it either; None where no place had both."""
    found, best = duel(results, ours, rule), duel(results, ORACLE, rule)
    if found is None or best is None:
        return None
    if reached(found, least):
        return Verdict(found, least, MET)
    return Verdict(found, least, MISSED if reached(best, least) else BEYOND)


def way_verdict(results: Sequence[CaseResult]) -> str:
    """The goal of the way from the best fixed rule to the oracle; the oracle is at its end, so it is never beyond it."""
    found = way(results, WEEKLY)
    if found is None:
        return ""
    return MET if found.median >= ALONG else MISSED


def in_one_place(results: Sequence[CaseResult], ours: str, rule: str, least: float) -> float:
    """Share of places that saved enough and lost no more, both in the same place."""
    return float(
        np.mean(
            [
                a.loss_pct - b.loss_pct <= ALIKE_PCT
                and (a.water_mm <= (1.0 - least) * b.water_mm if least > 0.0 else a.water_mm < b.water_mm)
                for _, a, b in pairs(results, ours, rule)
            ]
        )
    )


def least_of(rule: str) -> float:
    """What was to be saved against a rule."""
    return 0.0 if rule == TUNED else SAVED


def tally(results: Sequence[CaseResult]) -> Counter[str]:
    """How many goals, over all places together, are met, missed, and beyond the oracle."""
    each = [verdict(results, ours, rule, least_of(rule)) for rule in (*rules_in(results), TUNED) for ours in OURS]
    said = [v.said for v in each if v is not None] + [way_verdict(results)]
    return Counter(text for text in said if text)


def goals_part(results: Sequence[CaseResult]) -> str:
    """The goals, what was measured, and the verdicts, over all places and over beds and pots apart."""
    rows = [row for rule in (*rules_in(results), TUNED) for row in _rows(results, rule)]
    rows += [_way_row(some, group) for group, some in _groups(results)]
    count = tally(results)
    return f"""**Goals, and whether they were reached.** In each cell: water saved in the median place; in brackets the same over those places only where no more
of the harvest was lost; then the share of places where no more was lost. A minus: more water. *Met*: both medians are as asked for, and the median place loses no more
(within half a hundredth of the harvest). *Beyond the oracle*: missed, but the oracle of the same places, which weighs harvest against water, does not do it
either. Of {sum(count.values())} goals over all places together {count[MET]} are met in the medians, {count[MISSED]} are **missed**, {count[BEYOND]} are beyond the oracle.{_few(results)}

{table(("asked for", "places", *OURS, ORACLE), rows)}

{_strictly(results)}

{_in_the_mean(results)}"""


def _few(results: Sequence[CaseResult]) -> str:
    pots = sum(r.kind != "bed" for r in results)
    return f" Of pots there are only {pots}." if 0 < pots < 10 else ""


def _groups(results: Sequence[CaseResult]) -> list[tuple[str, list[CaseResult]]]:
    """All, beds and pots; only one of them where it is all there is."""
    beds, pots = ([r for r in results if (r.kind == "bed") is bed] for bed in (True, False))
    if not beds or not pots:
        return [("beds" if beds else "pots", list(results))]
    return [("all", list(results)), ("beds", beds), ("pots", pots)]


def _counted(some: Sequence[CaseResult], group: str) -> str:
    return f"{len(some)}" if group == "all" else f"{len(some)} {group.removesuffix('s') if len(some) == 1 else group}"


def _rows(results: Sequence[CaseResult], rule: str) -> list[tuple[str, ...]]:
    least = least_of(rule)
    asked = f"{least:.0%} less than *{rule}*" if least else f"less than the *{rule}*"
    tried = [r for r in results if r.of(rule) is not None]
    rows = []
    for n, (group, some) in enumerate(_groups(tried)):
        best = duel(some, ORACLE, rule)
        cells = [_cell(verdict(some, ours, rule, least)) for ours in OURS]
        rows.append((asked if n == 0 else "", _counted(some, group), *cells, _figures(best)))
    return rows


def _way_row(some: Sequence[CaseResult], group: str) -> tuple[str, ...]:
    found = way(some, WEEKLY)
    said = (
        ""
        if found is None
        else f"{_said(way_verdict(some))}: {percent(found.median)} ({found.pooled:.0%} over all together)"
    )
    asked = f"{ALONG:.0%} of the way from the best fixed rule to the oracle, median place" if group == "all" else ""
    return (asked, _counted(some, group), *(said if ours == WEEKLY else "" for ours in OURS), "")


def _cell(found: Verdict | None) -> str:
    return "" if found is None else f"{_said(found.said)}: {_figures(found.found)}"


def _said(text: str) -> str:
    return f"**{text}**" if text == MISSED else text


def _figures(found: Duel | None) -> str:
    if found is None:
        return ""
    return f"{percent(found.saved)} ({percent(found.saved_at_no_loss) or 'none'}), {found.no_more_loss:.0%}"


def _strictly(results: Sequence[CaseResult]) -> str:
    """Both in one place, which medians do not tell."""
    rules = (*rules_in(results), TUNED)
    ours, best = (
        {rule: in_one_place(results, one, rule, least_of(rule)) for rule in rules} for one in (WEEKLY, ORACLE)
    )
    shares = ", ".join(f"*{rule}* {ours[rule]:.0%} (the oracle {best[rule]:.0%})" for rule in rules)
    halves = [listed([f"*{rule}*" for rule in rules if some[rule] >= 0.5]) or "none" for some in (ours, best)]
    return (
        "Medians do not say that one and the same place saves as much *and* loses no more: how to read the goal is our choice. Places that do both "
        f"({SAVED:.0%} less, or any less than the best fixed rule), with weekly readings: {shares}. Asked for at half of the places or more, "
        f"that would be met against {halves[0]}; by the oracle against {halves[1]}."
    )


def _in_the_mean(results: Sequence[CaseResult]) -> str:
    """What medians hide of the harvest lost."""
    found = [(ours, d.loss_more_mean_pct) for ours in OURS if (d := duel(results, ours, TUNED)) is not None]
    more = [f"{ours} {signed(mean)}" for ours, mean in found]
    return f"Nor do they tell of a few bad places. Harvest lost beyond the best fixed rule's, the mean over places in hundredths: {', '.join(more)}."


def sparing_part(results: Sequence[CaseResult]) -> str:
    """Rules against which the oracle does not reach the goal either, and what that does and does not say."""
    found = []
    for rule in rules_in(results):
        best = duel(results, ORACLE, rule)
        if best is not None and not reached(best, SAVED):
            both = pairs(results, ORACLE, rule)
            lost = [np.median([o.loss_pct for o in side]) for side in zip(*((a, b) for _, a, b in both), strict=True)]
            water = f"{abs(best.saved):.0%} {'less' if best.saved >= 0.0 else 'more'}"
            found.append(
                f"*{rule}* loses {lost[1]:.1f} % of the harvest in the median place, the oracle {lost[0]:.1f} % with {water} water"
            )
    if not found:
        return "The oracle reaches what was asked for against each of them."
    return (
        f"Against {len(found)} of the rules the oracle does not reach it either: {'; '.join(found)}. The oracle looks for the least cost, harvest, water and visits together, not for the least "
        "water at a given loss. It waters crops that these rules leave dry. Whether somebody could lose as much as they do with "
        f"{SAVED:.0%} less water was not looked for."
    )


def limits_part(results: Sequence[CaseResult]) -> str:
    """What the goal of the way comes to beside those who see the soil, and no more than the figures say."""
    ours, tuned = (way(results, one) for one in (WEEKLY, SEEING_TUNED))
    if ours is None or tuned is None:
        return ""
    reach = "is reached" if way_verdict(results) == MET else "is **not reached**"
    return f"""The goal {reach}: {percent(ours.median)} in the median place, {ours.pooled:.0%} over all places together (which is what the means come to). For comparison, one who knows, every morning,
all the water that roots have in the true place and the suction at which they begin to lack it, but no rain to come: *sees all soil water* waters when what is easily drawn on is gone,
and fills up; *tuned* is the cheapest of twelve such rules, chosen in hindsight for that very season: {percent(tuned.median)} in the median place, {tuned.pooled:.0%} over all places together. {_what_is_left(ours.median, tuned.median)}
{_how_far(tuned.median, tuned.pooled, ours.pooled)}"""


def _what_is_left(ours: float, tuned: float) -> str:
    """How much of what we leave one leaves as well who sees the soil and was chosen in hindsight."""
    if ours >= 1.0 or tuned <= ours:
        return "In the median place it does no better than weekly readings."
    left, known = round(100.0 * (1.0 - ours)), round(100.0 * (tuned - ours))
    how = "more" if tuned - ours > 0.5 * (1.0 - ours) else "no more"
    return (
        f"Of the {left} hundredths of the way that weekly readings leave, it gains {known} (medians taken from each other), {how} than half, without knowing the rain. "
        "How much of that by sight, and how much by the choice in hindsight, is not shown."
    )


def _how_far(median: float, pooled: float, ours_pooled: float) -> str:
    """What the figures of the rule that sees show of the goal."""
    at = (
        f"It is at {median:.0%} itself, {'at' if median >= ALONG else 'under'} the goal of {ALONG:.0%}, in the median place: "
        + ("so it can be reached there without knowing the rain." if median >= ALONG else "but twelve rules are few, so this does not show that the goal is out of reach.")
    )  # fmt: skip
    over = "less far than weekly readings" if pooled < ours_pooled else "at least as far as weekly readings"
    return f"{at} Over all places together it gets {over}: there are places where no such rule does well."


def missed_head(results: Sequence[CaseResult]) -> str:
    """For the top of the page: the goals that stand further down."""
    count = tally(results)
    if not count:
        return ""
    parts = [f"{count[said]} {'is' if count[said] == 1 else 'are'} {word}" for said, word in _WORDS if count[said]]
    return (
        f"**The goals of the closed-loop trial are not in this table.** Of its {sum(count.values())} goals {listed(parts)}: "
        "see [there](#the-closed-loop-trial)."
    )
