"""The closed-loop trial as a section of ``docs/validation.md``, from results that are kept beside the tests.

Living all cases through takes hours: ``scripts/validate trial`` does it anew, going on where it was stopped. What is kept is held
against a fresh run of two of its cases by ``tests/measured/test_trial.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from soakbook.season.trial.report import OURS, duel, lines, pairs, to_csv, way
from soakbook.season.trial.run import FULL, ORACLE, SEEING, SEEING_TUNED, TUNED, CaseResult, run_trial
from soakbook.season.trial.score import Outcome
from tests.measured.trial_cases import (
    DRAWS,
    KEPT,
    KEPT_FAULTY,
    LAWS,
    PLACE,
    SEED,
    SETTINGS,
    cases,
    faults_of_cases,
    faulty_cases,
    usual_rules_in,
    with_bounds,
    without_least_water,
)
from tests.measured.trial_cells import percent, signed, spread, table
from tests.measured.trial_goals import ALONG, SAVED, goals_part, in_one_place, least_of, limits_part, sparing_part
from tests.measured.trial_losses import beside_part, losses_part

_WEEKLY = FULL["weekly"]


def run_proof(finished: Path, jobs: int, progress: Callable[[int, int], None]) -> None:
    """Live the proof through, sound and faulty, and keep its results."""
    KEPT.parent.mkdir(exist_ok=True)
    for some, kept in ((cases(), KEPT), (faulty_cases(), KEPT_FAULTY)):
        results = run_trial(some, SETTINGS, jobs=jobs, kept=finished, progress=progress)
        kept.write_text(to_csv(results), encoding="utf-8")


def trial_section(
    results: Sequence[CaseResult], faulty: Sequence[CaseResult], bounds: Sequence[tuple[str, Outcome]] = ()
) -> str:  # fmt: skip
    """The section; every figure in it comes from the results, ``faulty`` those of seasons with a fault, ``bounds`` of those who know more than
    a grower can."""
    results = with_bounds(results, bounds)
    climates, grounds = (sorted({getattr(r, name) for r in results}) for name in ("climate", "ground"))
    return f"""
## The closed-loop trial

{len(results)} seasons of places whose truth was drawn around what the grower believes and is not our balance ([how it is done](trial.md)):
{len(climates)} climates ({"; ".join(climates)}), {len(grounds)} kinds of ground ({"; ".join(grounds)}).

{goals_part(results)}

{_said_limits()}

**What each way of watering did.** Medians, and the middle 80 % of places in brackets. Water and drainage in mm over the place; cost beyond the oracle's in hundredths of the harvest,
and its mean as well, for our advice goes by the mean of what may come.

{_ways(without_least_water(results))}

{beside_part(results)}

**Against the rules as people use them** (asked for: {SAVED:.0%} less water in the median place, at no more loss). Losses within half a
hundredth of the harvest count as equal. *Both*: in the same place {SAVED:.0%} less water (any less than the best fixed rule) and no more lost.

{_duels(results)}

{sparing_part(results)}

**From the best fixed rule to the oracle** (asked for: {ALONG:.0%} with weekly readings).

{_along(results)}

{limits_part(results)}

**By ground and by climate**, our advice with weekly readings:

{_groups(results)}

**Where we lose**: places where our advice with weekly readings cost two hundredths of the harvest or more beyond the other, or lost two hundredths of the harvest or more beyond it.

{losses_part(results)}

{_with_faults(faulty)}
"""


def _said_limits() -> str:
    """What the trial does not show."""
    return f"""**What this does not show.**

- {"One draw" if DRAWS == 1 else f"{DRAWS} draws"} of the truth for each climate and ground, from one seed ({SEED}), in one year of weather (2020). Another seed or year would give other figures; by how much was not measured.
- Each place stands alone. What is decided jointly for several places on a line is not proved by it.
- The bands *ahead* ([do they hold?](#do-the-bands-hold)) are scored with the weather that came. The fan that the app draws, of place and weather members together, is scored nowhere on this page.
- The truth is a model too, its spreads and the amounts of the rules are judged ([how far to believe it](trial.md#how-far-to-believe-it)).
- The oracle is the cheapest season that was found, not a proof that nothing is cheaper."""


def _with_faults(results: Sequence[CaseResult]) -> str:
    """The same where something is wrong."""
    if not results:
        return ""
    return f"""**With a fault**: {len(results)} seasons more, of set-ups left out above, in each of which something goes wrong (blocked, leaking, left on or never
opened, rain shadow, compacted layer, a mix that repels water; kind, day and size by chance), and nobody mends it. The oracle sees it.

{_ways(results)}

{beside_part(results)}

{_along(results)}

**Where we lose with a fault**, by the same measure:

{losses_part(results, faults_of_cases())}"""


def _ways(results: Sequence[CaseResult]) -> str:
    head = ("", "water", "harvest lost, %", "days dry", "days wet", "drained", "visits", "readings", "cost beyond the oracle's", "its mean")  # fmt: skip
    rows = [
        (x.policy, spread(x.water_mm), spread(x.loss_pct, 1), spread(x.stress_days), spread(x.wet_days),
         spread(x.drained_mm), spread(x.visits), spread(x.readings), spread(x.regret, 1), f"{x.regret_mean:.1f}")
        for x in sorted(lines(results), key=lambda x: 1 + OURS.index(x.policy) if x.policy in OURS else -(x.policy not in (SEEING, SEEING_TUNED, LAWS, PLACE, ORACLE)))
    ]  # fmt: skip
    return table(head, rows)


def _duels(results: Sequence[CaseResult]) -> str:
    head = ("ours", "against", "places", "water saved", "saved where no more was lost", "no more lost at", "both at", "lost beyond, %: median", "mean", "cheaper at")  # fmt: skip
    found = [duel(results, ours, rule) for ours in (*OURS, ORACLE) for rule in (*usual_rules_in(results), TUNED)]
    rows = [
        (d.ours, d.rule, str(d.places), f"{d.saved:.0%}", percent(d.saved_at_no_loss), f"{d.no_more_loss:.0%}",
         f"{in_one_place(results, d.ours, d.rule, least_of(d.rule)):.0%}", signed(d.loss_more_pct), signed(d.loss_more_mean_pct),
         f"{d.cheaper:.0%}")
        for d in found if d is not None
    ]  # fmt: skip
    return table(head, rows)


def _along(results: Sequence[CaseResult]) -> str:
    found = [way(results, one) for one in (*OURS, SEEING, SEEING_TUNED, LAWS, PLACE)]
    rows = [(w.ours, f"{w.pooled:.0%}", percent(w.median), str(w.places)) for w in found if w is not None]
    return table(("", "all places together", "median place", "places with something to be won"), rows)


def _groups(results: Sequence[CaseResult]) -> str:
    rows = []
    for name in ("ground", "climate"):
        for group in sorted({getattr(r, name) for r in results}):
            both = pairs([r for r in results if getattr(r, name) == group], _WEEKLY, TUNED)
            if both:
                saved = np.median([1.0 - a.water_mm / max(b.water_mm, 1e-9) for _, a, b in both])
                more = np.median([a.loss_pct - b.loss_pct for _, a, b in both])
                regrets = [
                    np.median([o.regret for o in side]) for side in zip(*((a, b) for _, a, b in both), strict=True)
                ]
                rows.append((group, str(len(both)), f"{saved:.0%}", f"{more:+.1f}", f"{regrets[0]:.1f}", f"{regrets[1]:.1f}"))  # fmt: skip
    head = (
        "",
        "places",
        "water saved against the best fixed rule",
        "harvest lost beyond its, %",
        "our regret",
        "its regret",
    )
    return table(head, rows)
