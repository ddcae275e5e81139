"""How little water anybody could lose as much with as a rule does: the oracle once more, looking for the least water and not for the least cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from soakbook.season.trial import oracle, rules
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import Season, follow
from soakbook.season.trial.report import ALIKE_PCT
from soakbook.season.trial.score import Outcome, outcome
from tests.measured.trial_cases import least_water

FloatArray = NDArray[np.float64]

#: Rules against which the oracle of least cost puts on more water or hardly less, for it waters crops that they leave dry.
SPARED = ("inch a week", "probe below 40 %")
#: Rounds of changes, and water that a hundredth of the harvest lost beyond the rule's counts for: so much that it is never worth it. [mm]
ROUNDS, BEYOND_MM = 8, 1000.0


def spared(case: Case, losses_pct: Mapping[str, float]) -> list[Outcome]:
    """The least water found for each of some rules, knowing the true place and all weather to come, and losing no more than the rule did (within
    what counts as equal)."""
    tried = [
        follow(case, rules.usual_rules(case)),
        rules.tried_in_hindsight(case, rules.grid(case)),
        oracle.knowing(case),
    ]
    made = []
    for rule, lost in losses_pct.items():

        def water(_: Case, season: Season, most: float = lost + ALIKE_PCT) -> FloatArray:
            a = season.account
            return np.asarray(a.put_on_mm + BEYOND_MM * np.maximum(100.0 * a.yield_loss - most, 0.0))

        found = oracle.improved(case, tried, ROUNDS, price=water)
        made.append(replace(outcome(case, found, 0, least_water(rule)), readings=0.0))
    return made
