"""What was asked for when the trial was planned, and whether it was reached: every verdict comes from the results."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soakbook.season.trial.report import ALIKE_PCT, OURS, Duel, Way, duel, pairs, way
from soakbook.season.trial.run import FULL, ORACLE, SEEING_TUNED, TUNED, CaseResult
from tests.measured.trial_cases import LAWS, PLACE, least_water, usual_rules_in
from tests.measured.trial_cells import listed, percent, signed, table

#: Asked for: water saved against rules as people use them; part of the way from the best fixed rule to the oracle with weekly readings.
SAVED, ALONG = 0.30, 0.85
MET, MISSED, BEYOND = "met", "missed", "out of reach"
_WORDS = (
    (MET, "met"),
    (MISSED, "**missed**"),
    (BEYOND, "missed where those who know what no grower knows miss them too"),
)
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
    """Met, missed, or out of reach: missed where who knows everything about the same places, and looks for the least water (for the least cost where
    that was not looked for), does not reach it either. None where no place had both."""
    found, best = duel(results, ours, rule), duel(results, least_water(rule), rule) or duel(results, ORACLE, rule)
    if found is None or best is None:
        return None
    if reached(found, least):
        return Verdict(found, least, MET)
    return Verdict(found, least, MISSED if reached(best, least) else BEYOND)


def way_verdict(results: Sequence[CaseResult]) -> str:
    """The goal of the way from the best fixed rule to the oracle. Out of reach: who has the same readings, and knows by which laws and spreads
    places come about, misses it too, in the median place and over all together, and so does the better of that and our advice, place by place."""
    found, best = way(results, WEEKLY), _better(results)
    if found is None:
        return ""
    if found.median >= ALONG:
        return MET
    return BEYOND if best is not None and max(best.median, best.pooled) < ALONG else MISSED


def _better(results: Sequence[CaseResult]) -> Way | None:
    """The way of the better of who knows the laws and our advice, with the same readings, chosen place by place in hindsight."""
    made = []
    for r in results:
        both = [o for name in (LAWS, WEEKLY) if (o := r.of(name)) is not None]
        if len(both) == 2:
            better = replace(min(both, key=lambda o: o.cost), policy=LAWS)
            made.append(replace(r, outcomes=(*(o for o in r.outcomes if o.policy != LAWS), better)))
    return way(made, LAWS)


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
    each = [verdict(results, ours, rule, least_of(rule)) for rule in (*usual_rules_in(results), TUNED) for ours in OURS]
    said = [v.said for v in each if v is not None] + [way_verdict(results)]
    return Counter(text for text in said if text)


def goals_part(results: Sequence[CaseResult]) -> str:
    """The goals, what was measured, and the verdicts, over all places and over beds and pots apart."""
    rows = [row for rule in (*usual_rules_in(results), TUNED) for row in _rows(results, rule)]
    rows += [_way_row(some, group) for group, some in _groups(results)]
    count = tally(results)
    return f"""**Goals, and whether they were reached.** In each cell: water saved in the median place; in brackets the same over those places only where no more
of the harvest was lost; then the share of places where no more was lost. A minus: more water. *Met*: both medians are as asked for, and the median place loses no more
(within half a hundredth of the harvest). *Out of reach*: missed, but missed as well by those who know what no grower knows, as told below. Of {sum(count.values())} goals over all places together {count[MET]} are met in the medians, {count[MISSED]} are **missed**, {count[BEYOND]} are out of reach.{_few(results)}

{table(("asked for", "places", *OURS, ORACLE), rows)}

{_strictly(results)} {_loosely(results)}

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
    rules = (*usual_rules_in(results), TUNED)
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


def _loosely(results: Sequence[CaseResult]) -> str:
    """The goals against the rules as people use them by the plain medians of water and harvest alone."""
    found = [d for rule in usual_rules_in(results) for ours in OURS if (d := duel(results, ours, rule)) is not None]
    met = sum(d.saved >= SAVED and d.loss_more_pct <= ALIKE_PCT for d in found)
    strict = sum(reached(d, SAVED) for d in found)
    return f"Read the other way, less strictly (water saved in the median place, and no more lost in the median place, whichever places they are), {met} of the {len(found)} goals against rules as people use them are met, in place of {strict}."


def _in_the_mean(results: Sequence[CaseResult]) -> str:
    """What medians hide of the harvest lost."""
    found = [(ours, d.loss_more_mean_pct) for ours in OURS if (d := duel(results, ours, TUNED)) is not None]
    more = [f"{ours} {signed(mean)}" for ours, mean in found]
    return f"Medians do not tell of a few bad places either. Harvest lost beyond the best fixed rule's, the mean over places in hundredths: {', '.join(more)}."


def sparing_part(results: Sequence[CaseResult]) -> str:
    """Rules against which the oracle does not reach the goal either, and the least water with which anybody could lose no more than they."""
    found = []
    for rule in usual_rules_in(results):
        best = duel(results, ORACLE, rule)
        if best is not None and not reached(best, SAVED):
            both = pairs(results, ORACLE, rule)
            lost = [np.median([o.loss_pct for o in side]) for side in zip(*((a, b) for _, a, b in both), strict=True)]
            water = f"{abs(best.saved):.0%} {'less' if best.saved >= 0.0 else 'more'}"
            found.append(
                f"*{rule}* loses {lost[1]:.1f} % of the harvest in the median place, the oracle {lost[0]:.1f} % with {water} water"
                + _least(results, rule)
            )
    if not found:
        return "The oracle reaches what was asked for against each of them."
    return (
        f"Against {len(found)} of the rules the oracle does not reach it: {'; '.join(found)}. The oracle looks for the least cost, harvest, water and visits together, "
        "not for the least water at a given loss: it waters crops that these rules leave dry. So the least water was looked for as well, knowing the true place and all "
        "weather to come: the cheapest of the same rules and schedules by water alone, changed watering by watering, that loses no more than the rule does. It is the least "
        "that was found, no proof that less would not do."
    )


def _least(results: Sequence[CaseResult], rule: str) -> str:
    """How much less water would do, for who loses as much."""
    found = duel(results, least_water(rule), rule)
    if found is None:
        return ""
    at = in_one_place(results, least_water(rule), rule, SAVED)
    return f"; losing as much as the rule, the least water found is {found.saved:.0%} less in the median place, and {SAVED:.0%} less or more at {at:.0%} of places"


def limits_part(results: Sequence[CaseResult]) -> str:
    """What the goal of the way comes to beside those who know more, and no more than the figures say."""
    ours, tuned = (way(results, one) for one in (WEEKLY, SEEING_TUNED))
    if ours is None or tuned is None:
        return ""
    reach = "is reached" if way_verdict(results) == MET else "is **not reached**"
    return f"""{_who_knows(results)}

The goal {reach}: {percent(ours.median)} in the median place, {ours.pooled:.0%} over all places together (which is what the means come to). For comparison, one who knows, every morning,
all the water that roots have in the true place and the suction at which they begin to lack it, but no rain to come: *sees all soil water* waters when what is easily drawn on is gone,
and fills up; *tuned* is the cheapest of twelve such rules, chosen in hindsight for that very season: {percent(tuned.median)} in the median place, {tuned.pooled:.0%} over all places together. {_what_is_left(ours.median, tuned.median)}
{_how_far(tuned.median, tuned.pooled, ours.pooled)}"""


def _who_knows(results: Sequence[CaseResult]) -> str:
    """What the weather to come leaves of the way, and what weekly readings leave of it, for who knows as much as can be known otherwise."""
    ours, laws, place, better = (*(way(results, one) for one in (WEEKLY, LAWS, PLACE)), _better(results))
    if ours is None or laws is None or place is None or better is None:
        return ""
    said = "does not get there either" if max(laws.median, laws.pooled) < ALONG else "gets there"
    return (
        f"**What readings can tell.** Two more ways show how far anybody gets. *{PLACE.capitalize()}*: the true place and all its water, every morning, and of the weather to come only the "
        "forecast that our advice gets; each morning it rolls the true place forward, over members of that forecast, and takes the act of least expected cost: "
        f"{_both(place)}. *{LAWS.capitalize()}*: the same, but of the place it has what our advice has, the description and one reading a week; besides, it has the very laws and spreads by which "
        f"the true places were drawn, which no grower and no tool has, and goes by those of some hundred places drawn alike that bear out its readings: {_both(laws)}. "
        f"So in the median place the weather to come leaves {100.0 * (1.0 - place.median):.0f} hundredths of the way open, and knowing the place by weekly readings only {100.0 * (place.median - laws.median):.0f} more (medians taken from each "
        f"other); who waters by one reading a week {said} (asked for: {ALONG:.0%}). Our advice, with the same readings and without those "
        f"laws, is at {_both(ours)}. The better of these two, chosen place by place in hindsight, is at {_both(better)}. The two who know search among a few amounts and ways of going on: they show what can be done, and are no proof that more cannot."
    )


def _both(found: Way) -> str:
    return f"{found.median:.0%} of the way in the median place, {found.pooled:.0%} over all together"


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
    if pooled < ours_pooled:
        return f"{at} Over all places together it gets less far than weekly readings: there are places where no such rule does well."
    return f"{at} Over all places together it gets at least as far as weekly readings."


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
