"""Where our advice does worse than others, named place by place, and what each of our ways costs beside the plain rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from soakbook.season.trial.report import losing, pairs
from soakbook.season.trial.run import FULL, THRESHOLD, TUNED, CaseResult
from soakbook.season.trial.score import Outcome
from tests.measured.trial_cases import usual_rules_in
from tests.measured.trial_cells import signed, table

#: Worse by this: hundredths of the harvest, of cost or of harvest lost.
WORSE = 2.0
_WEEKLY = FULL["weekly"]
Place = tuple[CaseResult, Outcome, Outcome]


def losses_part(results: Sequence[CaseResult], faults: Mapping[str, str] | None = None) -> str:
    """Places where weekly readings do worse than the best fixed rule, and how often and where the worst than each of the other rules.

    ``faults`` names what is wrong in a place, by its key.
    """
    found = losing(results, _WEEKLY, TUNED, WORSE)
    named = _named(found, faults) if found else ""
    count = f"{len(found)} of {len(pairs(results, _WEEKLY, TUNED))} places"
    return f"Against the best fixed rule, in hindsight: {count}.\n\n{named}\n\nAgainst the rules as people use them:\n\n{_by_rule(results)}"


def _named(found: Sequence[Place], faults: Mapping[str, str] | None) -> str:
    rows = [
        (r.climate, r.ground, r.plant, r.means, *([faults.get(r.key, "")] if faults else []), f"{a.loss_pct:.1f}", f"{b.loss_pct:.1f}",
         signed(a.loss_pct - b.loss_pct), f"{a.water_mm:.0f}", f"{b.water_mm:.0f}", signed(a.cost - b.cost))
        for r, a, b in found
    ]  # fmt: skip
    head = ("climate", "ground", "crop", "means", *(["fault"] if faults else []), "lost, ours %", "lost, theirs %", "lost beyond",
            "water, ours", "water, theirs", "cost beyond")  # fmt: skip
    return table(head, rows)


def _by_rule(results: Sequence[CaseResult]) -> str:
    """How many places, and the worst by cost and by harvest."""
    rows = []
    for rule in usual_rules_in(results):
        found = losing(results, _WEEKLY, rule, WORSE)
        dear = [one for one in found if one[1].cost - one[2].cost >= WORSE]
        lost = sorted((one for one in found if _lost(one) >= WORSE), key=_lost, reverse=True)
        rows.append((
            rule, str(len(pairs(results, _WEEKLY, rule))), str(len(dear)), str(len(lost)),
            "; ".join(f"{_name(one)} {signed(one[1].cost - one[2].cost)}" for one in dear[:1]),
            "; ".join(f"{_name(one)} {signed(_lost(one))}" for one in lost[:1]),
        ))  # fmt: skip
    head = ("against", "places", f"cost {WORSE:g} or more beyond", f"lost {WORSE:g} % or more beyond", "worst by cost", "worst by harvest lost, %")  # fmt: skip
    return table(head, rows)


def _lost(one: Place) -> float:
    return one[1].loss_pct - one[2].loss_pct


def _name(one: Place) -> str:
    found = one[0]
    return f"{found.plant}, {found.ground if found.kind == 'bed' else 'a pot'} ({found.climate})"


def beside_part(results: Sequence[CaseResult]) -> str:
    """What each way of our advice costs beside our own plain rule, which takes no readings."""
    rows, said = [], []
    for ours in FULL.values():
        both = pairs(results, ours, THRESHOLD)
        if both:
            more, lost = (
                np.array([getattr(a, of) - getattr(b, of) for _, a, b in both]) for of in ("cost", "loss_pct")
            )
            at = int((more > 0.0).sum())
            rows.append(
                (
                    ours,
                    f"{at} of {len(both)}",
                    *(signed(float(f(x))) for x in (more, lost) for f in (np.median, np.mean)),
                )
            )
            said.append(
                f"{ours.removeprefix('our advice, ')}, at {at} (median {signed(float(np.median(more)))}, mean {signed(float(more.mean()))})"
            )
    if not rows:
        return ""
    head = ("", "costs more at", "cost beyond its: median", "mean", "harvest lost beyond its, %: median", "mean")
    return f"""**Beside our own plain rule**, which takes no readings. Our advice costs more than it, of {len(pairs(results, FULL["none"], THRESHOLD))} places: {"; ".join(said)}. The mean is what the advice makes small, not the median.

{table(head, rows)}"""
