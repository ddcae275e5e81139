"""The closed-loop trial as a section of ``docs/validation.md``, from results that are kept beside the tests.

Living all cases through takes hours: ``scripts/validate trial`` does it anew, going on where it was stopped. What is kept is held
against a fresh run of two of its cases by ``tests/measured/test_trial.py``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from soakbook.season.trial.case import SOUND, Case
from soakbook.season.trial.proof import SETUPS, proof_set
from soakbook.season.trial.report import OURS, Spread, duel, from_csv, lines, losing, pairs, rules_in, to_csv, way
from soakbook.season.trial.run import FULL, ORACLE, SEEING, SEEING_TUNED, TUNED, CaseResult, Settings, run_trial
from soakbook.season.truth.draw import Spread as TruthSpread

_FOLDER = Path(__file__).parents[1] / "data" / "trial"
KEPT, KEPT_FAULTY = _FOLDER / "proof.csv", _FOLDER / "faulty.csv"
#: One draw each. Nothing was tuned on this seed: faults of model and plan were looked for on others (1 to 3, 1001 to 1003, 2000 to 2199).
DRAWS, SEED, SETTINGS = 1, 7001, Settings(rounds=1)
#: Climates taken; of each every other set-up, the other half in the next, so that the whole takes an hour of one processor.
CLIMATES_TAKEN = 6
#: Asked for when the trial was planned: water saved against rules as people use them; part of the way from the best fixed rule to the oracle.
SAVED, ALONG = 0.30, 0.85
_WEEKLY = FULL["weekly"]
#: As the proof has it, with a fault in every place.
FAULTY = replace(SOUND, faults=1.0)


def cases() -> list[Case]:
    """The seasons of the proof."""
    return [case for k, case in enumerate(_all(SOUND)) if (k // len(SETUPS) + k) % 2 == 0]


def faulty_cases() -> list[Case]:
    """Seasons with one fault each, of a kind drawn by chance: every other of the set-ups that the proof leaves out."""
    left_out = [case for k, case in enumerate(_all(FAULTY)) if (k // len(SETUPS) + k) % 2 == 1]
    return left_out[::2]


def _all(spread: TruthSpread) -> list[Case]:
    return proof_set(DRAWS, SEED, spread)[: CLIMATES_TAKEN * len(SETUPS)]


def run_proof(finished: Path, jobs: int, progress: Callable[[int, int], None]) -> None:
    """Live the proof through, sound and faulty, and keep its results."""
    _FOLDER.mkdir(exist_ok=True)
    for some, kept in ((cases(), KEPT), (faulty_cases(), KEPT_FAULTY)):
        results = run_trial(some, SETTINGS, jobs=jobs, kept=finished, progress=progress)
        kept.write_text(to_csv(results), encoding="utf-8")


def kept_results(kept: Path = KEPT) -> tuple[CaseResult, ...]:
    """The results as kept; none before the first run."""
    return from_csv(kept.read_text(encoding="utf-8")) if kept.exists() else ()


def trial_section(results: Sequence[CaseResult], faulty: Sequence[CaseResult]) -> str:
    """The section; every figure in it comes from the results, ``faulty`` those of seasons with a fault."""
    climates, grounds = (sorted({getattr(r, name) for r in results}) for name in ("climate", "ground"))
    return f"""
## The closed-loop trial

{len(results)} seasons of places whose truth was drawn around what the grower believes and is not our balance ([how it is done](trial.md)):
{len(climates)} climates ({", ".join(climates)}), {len(grounds)} kinds of ground ({", ".join(grounds)}).
Medians, and the middle 80 % of places in brackets. Water and drainage in mm over the place; cost beyond the oracle's in hundredths of the harvest.

{_ways(results)}

**Against the rules as people use them** (asked for: {SAVED:.0%} less water in the median place, at no more loss). Losses within half a
hundredth of the harvest count as equal.

{_duels(results)}

{_sparing(results)}

**From the best fixed rule to the oracle** (asked for: {ALONG:.0%} with weekly readings).

{_along(results)}

{_limits(results)}

**By ground and by climate**, our advice with weekly readings:

{_groups(results)}

**Where we lose**: places where our advice with weekly readings cost two hundredths of the harvest or more beyond the best fixed rule.

{_losses(results)}

{_with_faults(faulty)}
"""


def _with_faults(results: Sequence[CaseResult]) -> str:
    """The same where something is wrong."""
    if not results:
        return ""
    return f"""**With a fault**: {len(results)} seasons more, of set-ups left out above, in each of which something goes wrong (blocked, leaking, left on or never
opened, rain shadow, compacted layer, a mix that repels water; kind, day and size by chance), and nobody mends it. The oracle sees it.

{_ways(results)}

{_along(results)}"""


def _ways(results: Sequence[CaseResult]) -> str:
    head = (
        "",
        "water",
        "harvest lost, %",
        "days dry",
        "days wet",
        "drained",
        "visits",
        "readings",
        "beyond the oracle",
    )
    rows = [
        (x.policy, _spread(x.water_mm), _spread(x.loss_pct, 1), _spread(x.stress_days), _spread(x.wet_days),
         _spread(x.drained_mm), _spread(x.visits), _spread(x.readings), _spread(x.regret, 1))
        for x in lines(results)
    ]  # fmt: skip
    return table(head, rows)


def _duels(results: Sequence[CaseResult]) -> str:
    head = ("ours", "against", "places", "water saved", "saved where no more was lost", "no more lost at", "cheaper at")
    found = [duel(results, ours, rule) for ours in (*OURS, ORACLE) for rule in (*rules_in(results), TUNED)]
    rows = [
        (d.ours, d.rule, str(d.places), f"{d.saved:.0%}", _percent(d.saved_at_no_loss), f"{d.no_more_loss:.0%}", f"{d.cheaper:.0%}")
        for d in found if d is not None
    ]  # fmt: skip
    return table(head, rows)


def _sparing(results: Sequence[CaseResult]) -> str:
    """Rules so sparing that even the oracle does not put on so much less than they do, and what they lose by it."""
    found = []
    for rule in rules_in(results):
        best = duel(results, ORACLE, rule)
        if best is not None and best.saved < SAVED:
            both = pairs(results, ORACLE, rule)
            lost = [np.median([o.loss_pct for o in side]) for side in zip(*((a, b) for _, a, b in both), strict=True)]
            water = f"{abs(best.saved):.0%} {'less' if best.saved >= 0.0 else 'more'} water"
            found.append(
                f"*{rule}* (the oracle: {water}, {lost[0]:.1f} % of the harvest lost where they lose {lost[1]:.1f})"
            )
    if not found:
        return "The oracle puts on less than any of them by as much as was asked for."
    return f"What was asked for is beyond the oracle itself against those who put on too little for their crop: {'; '.join(found)}."


def _along(results: Sequence[CaseResult]) -> str:
    found = [way(results, one) for one in (*OURS, SEEING, SEEING_TUNED)]
    rows = [(w.ours, f"{w.pooled:.0%}", _percent(w.median), str(w.places)) for w in found if w is not None]
    return table(("", "all places together", "median place", "places with something to be won"), rows)


def _limits(results: Sequence[CaseResult]) -> str:
    """What the goal comes to, beside those who see the soil."""
    ours, sees, tuned = (way(results, one) for one in (_WEEKLY, SEEING, SEEING_TUNED))
    if ours is None or sees is None or tuned is None:
        return ""
    reached = "is reached" if ours.median >= ALONG else "is **not reached**"
    beyond = (
        "So what was asked for is beyond what sight of the soil leaves, as far as such rules tell: the rest is the weather to come, "
        "and how far to let each crop go, which no reading of the soil says."
        if tuned.median < ALONG
        else "So sight of the soil would be enough, with the right rule."
    )
    return f"""The goal {reached}: {_percent(ours.median)} in the median place. How much there is to be known: *sees all soil water* knows, every morning, all the
water that roots have in the true place and the suction at which they begin to lack it, but no rain to come; it waters when what is easily drawn on is
gone, and fills up. That alone gets {_percent(sees.median)} of the way in the median place. *Tuned* is the cheapest of twelve such rules, chosen in hindsight for that very season:
{_percent(tuned.median)} ({tuned.pooled:.0%} over all places together, for there are places where no such rule does well). {beyond}"""


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


def _losses(results: Sequence[CaseResult]) -> str:
    found = losing(results, _WEEKLY, TUNED)
    if not found:
        return "None."
    rows = [
        (r.climate, r.ground, r.plant, r.means, f"{a.loss_pct:.1f}", f"{b.loss_pct:.1f}", f"{a.water_mm:.0f}",
         f"{b.water_mm:.0f}", f"{a.cost - b.cost:.1f}")
        for r, a, b in found
    ]  # fmt: skip
    head = (
        "climate",
        "ground",
        "crop",
        "means",
        "lost, ours %",
        "lost, theirs %",
        "water, ours",
        "water, theirs",
        "cost beyond",
    )
    return f"{len(found)} of {len(pairs(results, _WEEKLY, TUNED))} places.\n\n{table(head, rows)}"


def _spread(s: Spread, digits: int = 0) -> str:
    return f"{s.mid:.{digits}f} [{s.low:.{digits}f}, {s.high:.{digits}f}]"


def _percent(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.0%}"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of the page."""
    return "\n".join(f"| {' | '.join(cells)} |" for cells in [head, ["---"] * len(head), *rows])
