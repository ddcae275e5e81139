"""What is advised: the act that costs least on average, told as an advice, with the plain rule's kept beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from soakbook.advice.decide import RAIN_DAYS, Advice, Verdict, due_after, share_used
from soakbook.advice.standing import Standing
from soakbook.balance.crops import NONE
from soakbook.garden.model import Garden
from soakbook.said import say
from soakbook.weather.series import EXPECTED

if TYPE_CHECKING:
    from soakbook.advice.plan import Plan
    from soakbook.weather.members import WeatherMembers


def with_plans(
    garden: Garden, standings: Sequence[Standing], ahead: WeatherMembers, on: date
) -> tuple[Standing, ...]:  # fmt: skip
    """The standings with their plans, and what those advise.

    Parameters
    ----------
    garden
        The garden; its wishes weigh the costs.
    standings
        Of all its places, for the morning of ``on``.
    ahead
        Members of the weather from ``on`` on.
    on
        The day.
    """
    from soakbook.advice.plan import plan_round

    plans = plan_round(garden, [s.belief for s in standings], ahead, on, advices=[s.rule for s in standings])
    return tuple(
        replace(s, plan=p, advice=advice_by(s, p)) for s, p in zip(standings, plans, strict=True)
    )  # fmt: skip


def advice_by(standing: Standing, plan: Plan) -> Advice:
    """The rule's advice with what the plan makes of it: verdict, amount, the line of reasons, and when next."""
    rule, known = standing.rule, standing.known
    if int(known.days.crops.phase[known.today]) == NONE:
        return rule
    verdict, depth, litres = plan.verdict, plan.depth_mm, plan.litres
    probes = verdict == "probe first"
    if verdict == rule.verdict and not probes and abs(litres - rule.litres) < 1e-9:
        return rule
    due = _due(standing, verdict, depth)
    return replace(
        rule, verdict=verdict, litres=litres if verdict == "soak" else 0.0, depth_mm=depth if verdict == "soak" else 0.0,
        if_dry_litres=litres if probes else 0.0, why=_why(standing, verdict),
        next_due=None if due is None else rule.on + timedelta(days=due - known.today),
        next_due_kind=_kind(standing, due),
    )  # fmt: skip


def _due(standing: Standing, verdict: Verdict, depth_mm: float) -> int | None:
    """The day it falls due next by the best guess, as an index."""
    today = standing.known.today
    if verdict == "probe first":
        return today + 1
    due = due_after(standing.known, depth_mm)
    return max(due, today + RAIN_DAYS) if due is not None and verdict == "rain will do" else due


def _kind(standing: Standing, due: int | None) -> int:
    return EXPECTED if due is None else int(standing.weather.kind[min(due, len(standing.weather) - 1)])


def _why(standing: Standing, verdict: Verdict) -> str:
    if verdict == standing.rule.verdict:
        return standing.rule.why
    if verdict == "let drain":
        return say("the roots lack air: too wet to water")
    share = share_used(standing.known, standing.rule)
    if verdict == "probe first":
        return say("{share}, may be either", share=share)
    return say("{why}; {reading}", why=share, reading=standing.read) if standing.read else share
