"""What a trial found: figures by way of watering, held against each other place by place, and the places where we lose."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

import numpy as np

from soakbook.season.trial.run import FULL, ORACLE, SEEING, SEEING_TUNED, THRESHOLD, TUNED, CaseResult
from soakbook.season.trial.score import Outcome

#: Losses this close count as equal. Judged: no grower could tell. [hundredths of the harvest]
ALIKE_PCT = 0.5
#: Places whose best fixed rule costs no more than this beyond the oracle leave nothing to be won. [hundredths]
NOTHING_LEFT = 0.5
OURS = (THRESHOLD, *FULL.values())


@dataclass(frozen=True)
class Spread:
    """Median and the middle 80 % over places."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True)
class Line:
    """One way of watering over all places that it was tried on; ``regret_mean`` is what the advice makes small: its choice goes by the
    expected cost."""

    policy: str
    places: int
    water_mm: Spread
    stress_days: Spread
    loss_pct: Spread
    wet_days: Spread
    drained_mm: Spread
    visits: Spread
    readings: Spread
    regret: Spread
    regret_mean: float


@dataclass(frozen=True)
class Duel:
    """One of our ways against a rule, place by place: water saved as a part of the rule's (median), the same where no more harvest
    was lost, the share of places where that is so, the median and mean difference of losses (ours less theirs), and how often ours was cheaper."""

    ours: str
    rule: str
    places: int
    saved: float
    saved_at_no_loss: float
    no_more_loss: float
    loss_more_pct: float
    loss_more_mean_pct: float
    cheaper: float


@dataclass(frozen=True)
class Way:
    """How far one of our ways is along the way from the best fixed rule to the oracle: over all places together, and the median of
    places with something to be won."""

    ours: str
    pooled: float
    median: float
    places: int


def ways_of_watering(results: Sequence[CaseResult]) -> list[str]:
    """All names: the rules in the order in which they first stand, the best of them, the oracle, then ours."""
    found = list(dict.fromkeys(o.policy for r in results for o in r.outcomes))
    last = (TUNED, SEEING, SEEING_TUNED, ORACLE, *OURS)
    return [p for p in found if p not in last] + [p for p in last if p in found]


def lines(results: Sequence[CaseResult]) -> list[Line]:
    """A line for each way of watering."""
    made = []
    for policy in ways_of_watering(results):
        found = [o for r in results if (o := r.of(policy)) is not None]

        def spread(of: Callable[[Outcome], float], found: list[Outcome] = found) -> Spread:
            low, mid, high = np.quantile([of(o) for o in found], (0.1, 0.5, 0.9))
            return Spread(float(low), float(mid), float(high))

        made.append(
            Line(
                policy, len(found), spread(lambda o: o.water_mm), spread(lambda o: o.stress_days),
                spread(lambda o: o.loss_pct), spread(lambda o: o.wet_days), spread(lambda o: o.drained_mm),
                spread(lambda o: o.visits), spread(lambda o: o.readings), spread(lambda o: o.regret),
                float(np.mean([o.regret for o in found])),
            )
        )  # fmt: skip
    return made


def pairs(results: Sequence[CaseResult], ours: str, other: str) -> list[tuple[CaseResult, Outcome, Outcome]]:
    """Places on which both were tried."""
    both = [(r, r.of(ours), r.of(other)) for r in results]
    return [(r, a, b) for r, a, b in both if a is not None and b is not None]


def duel(results: Sequence[CaseResult], ours: str, rule: str) -> Duel | None:
    """One of our ways against a rule; None where no place had both."""
    both = pairs(results, ours, rule)
    if not both:
        return None
    saved = np.array([1.0 - a.water_mm / b.water_mm if b.water_mm > 0.0 else np.nan for _, a, b in both])
    more = np.array([a.loss_pct - b.loss_pct for _, a, b in both])
    fine = more <= ALIKE_PCT
    return Duel(
        ours, rule, len(both), float(np.nanmedian(saved)),
        float(np.nanmedian(saved[fine])) if bool(fine.any()) else float("nan"),
        float(np.mean(fine)), float(np.median(more)), float(np.mean(more)), float(np.mean([a.cost <= b.cost for _, a, b in both])),
    )  # fmt: skip


def rules_in(results: Sequence[CaseResult]) -> list[str]:
    """The rules as people use them."""
    return [p for p in ways_of_watering(results) if p not in (TUNED, SEEING, SEEING_TUNED, ORACLE, *OURS)]


def way(results: Sequence[CaseResult], ours: str) -> Way | None:
    """How far along the way from the best fixed rule to the oracle."""
    found = [(r.of(ours), r.of(TUNED)) for r in results]
    regrets = [(a.regret, b.regret) for a, b in found if a is not None and b is not None]
    if not regrets or sum(b for _, b in regrets) <= 0.0:
        return None
    each = [1.0 - a / b for a, b in regrets if b > NOTHING_LEFT]
    pooled = 1.0 - sum(a for a, _ in regrets) / sum(b for _, b in regrets)
    return Way(ours, pooled, float(np.median(each)) if each else float("nan"), len(each))


def losing(
    results: Sequence[CaseResult], ours: str, rule: str, by_pct: float = 2.0
) -> list[tuple[CaseResult, Outcome, Outcome]]:
    """Places where our way cost more by so much or more, or lost so much more of the harvest; what cost most beyond the other first."""
    worse = [
        (r, a, b)
        for r, a, b in pairs(results, ours, rule)
        if a.cost - b.cost >= by_pct or a.loss_pct - b.loss_pct >= by_pct
    ]
    return sorted(worse, key=lambda found: found[2].cost - found[1].cost)


def to_csv(results: Sequence[CaseResult]) -> str:
    """Every place and way of watering as a row."""
    out = io.StringIO()
    head = ("key", "climate", "ground", "kind", "plant", "means", "days", "eto_mm", "rain_mm")
    columns = list(Outcome.__dataclass_fields__)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*head, *columns])
    for r in results:
        for o in r.outcomes:
            values = asdict(o)
            figures = [values["policy"], *(f"{values[c]:.2f}" for c in columns[1:])]
            writer.writerow([r.key, r.climate, r.ground, r.kind, r.plant, r.means, r.days, f"{r.eto_mm:.1f}", f"{r.rain_mm:.1f}", *figures])  # fmt: skip
    return out.getvalue()


def from_csv(text: str) -> tuple[CaseResult, ...]:
    """Results as :func:`to_csv` wrote them."""
    made: dict[str, CaseResult] = {}
    for row in csv.DictReader(io.StringIO(text)):
        o = Outcome(row["policy"], *(float(row[c]) for c in list(Outcome.__dataclass_fields__)[1:]))
        key = row["key"]
        before = made[key].outcomes if key in made else ()
        made[key] = CaseResult(
            key, row["climate"], row["ground"], row["kind"], row["plant"], row["means"], int(row["days"]),
            float(row["eto_mm"]), float(row["rain_mm"]), (*before, o),
        )  # fmt: skip
    return tuple(made.values())
