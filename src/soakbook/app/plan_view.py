"""The plan of a place as pages show it: what waiting and watering cost, cause by cause, and what would turn the advice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.learnt_view import sentence
from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.advice.plan import Plan

#: Costs that differ by less than this are told as alike. [hundredths of the harvest]
ALIKE = 0.1
#: Costs below this are nothing to speak of. [hundredths of the harvest]
LEAST_SHOWN = 0.005


@dataclass(frozen=True)
class PlanShown:
    """A plan in words. ``rows`` are cause, cost if nothing is put on today, cost as advised (empty where nothing is advised);
    ``total`` the same of their sums; ``says`` what of it matters."""

    says: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...]
    flip: str
    differs: str


def plan_shown(plan: Plan, r: Reader) -> PlanShown:
    """A plan in words; its columns add up as they are read to within the last digit."""
    acts = plan.verdict == "soak"
    now = {r.tell(part.cause): part.cost for part in plan.parts}
    waits = dict(now)
    for part in plan.saved:
        cause = r.tell(part.cause)
        waits[cause] = waits.get(cause, 0.0) + part.cost
    causes = [
        c for c in dict.fromkeys([*now, *waits]) if max(abs(now.get(c, 0.0)), abs(waits.get(c, 0.0))) >= LEAST_SHOWN
    ]
    rows = tuple(
        (c, cost_text(waits.get(c, 0.0), r), *((cost_text(now.get(c, 0.0), r),) if acts else ())) for c in causes
    )
    nothing = plan.cost + sum(part.cost for part in plan.saved)
    total = (r.t("in all"), cost_text(nothing, r), *((cost_text(plan.cost, r),) if acts else ()))
    head = (r.t("cause"), r.t("nothing today"), *((r.t("as advised"),) if acts else ()))
    flip = sentence(r.tell(plan.flip.text)) if plan.flip is not None else ""
    return PlanShown(
        _says(plan, nothing, r), head, rows, total, flip, sentence(r.tell(plan.differs)) if plan.differs else ""
    )


def _says(plan: Plan, nothing: float, r: Reader) -> str:
    """What the act saves, or what watering all the same would cost more."""
    if plan.verdict == "probe first":
        return r.t(
            "A reading first is expected to save {cost} of its harvest: what it says decides.",
            cost=share_text(plan.reading_worth, r),
        )
    if plan.verdict == "soak":
        saved = nothing - plan.cost
        if saved < ALIKE:
            return _alike(plan, r)
        return r.t(
            "Watering today is expected to save {cost} of its harvest over the coming days.", cost=share_text(saved, r)
        )
    mean = plan.costs.mean(axis=1)
    wet = plan.acts_mm > 0.0
    if not wet.any():
        return ""
    more = float(mean[wet].min() - plan.cost)
    if more < ALIKE:
        return _alike(plan, r)
    return r.t(
        "The best watering today would cost {cost} of its harvest more than leaving it.", cost=share_text(more, r)
    )


def _alike(plan: Plan, r: Reader) -> str:
    if plan.alone is not None:
        return r.t(
            "Watering today and leaving it cost this place about the same: what is best for all places of its line decides."
        )
    return r.t("Watering today and leaving it for a day are expected to cost about the same: the plain rule decides.")


def cost_text(cost: float, r: Reader) -> str:
    """A cost in hundredths of the harvest, to the hundredth of one."""
    return r.number(cost + 0.0 if abs(cost) >= LEAST_SHOWN else 0.0, 2)


def share_text(cost: float, r: Reader) -> str:
    """The same as a share of the harvest: "0.4 %"."""
    return (
        r.t("less than {share} %", share=r.number(0.1, 1)) if cost < 0.1 else r.t("{share} %", share=r.number(cost, 1))
    )
