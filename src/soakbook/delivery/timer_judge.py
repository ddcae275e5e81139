"""A setting judged by running it through the balance over many members of the weather: too dry, too wet, wasted, place by place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from soakbook.balance.columns import DEPLETION_P, DRAINAGE, ENOUGH, RUNOFF, SOGGY, STRESS, TRANSPIRATION, WANTED
from soakbook.balance.crops import SEEDBED
from soakbook.delivery.timer_model import Programme
from soakbook.delivery.timer_need import WASTE_PRICE, FloatArray
from soakbook.delivery.timer_place import TimerPlace, kept_full, put_by
from soakbook.said import Measure, Said, join_said, say, say_n

#: What part of its runs each line gets under a setting, by day.
Shares = Callable[[Sequence[Programme]], Mapping[str, FloatArray]]
#: A day is too dry when dryness holds growth back by a tenth; too wet when want of air does by three tenths, as in the round. Judged.
DRY_DAY, WET_DAY = 0.9, 0.7
#: How much more growth lost for want of air counts, as in the advice.
AIRLESS_TIMES = 2.0
#: Part of the seedlings lost on a day on which a seedbed's thin layer is used up, and the used part of it from which they are; as in the advice.
SEEDS_LOST, SEED_FROM = 0.04, 0.6


@dataclass(frozen=True)
class Judged:
    """What a setting does to a place, means over the members.

    ``dry_days`` and ``wet_days`` of ``growing_days``; ``dry_days_bad`` in one year of ten. ``lost_dry`` and ``lost_wet``: parts of the
    growth, seeds that dried up among the former. ``given_l``, ``drained_l``, ``ran_off_l``: litres; of the latter two, what would not have been without the timer. ``idle_l``: litres given
    after the last day on which anything grows there. ``cost`` in
    hundredths of the growth over these days.
    """

    place: str
    line: str
    growing_days: int
    dry_days: float
    dry_days_bad: float
    wet_days: float
    lost_dry: float
    lost_wet: float
    given_l: float
    drained_l: float
    ran_off_l: float
    idle_l: float
    cost: float

    @property
    def wasted_l(self) -> float:
        """Litres that did no plant any good."""
        return max(self.drained_l + self.ran_off_l, self.idle_l)


class Judge:
    """Places with what happens to each without a timer, so that many settings can be held against it.

    ``shares``: what part of its runs each line gets under a setting, by day, where a tank may run empty; all of it where not given.
    """

    def __init__(self, places: Sequence[TimerPlace], days: int | None = None, shares: Shares | None = None) -> None:
        self.places = tuple(places)
        self.shares = shares
        self.days = min(len(p.days.days) for p in places) if days is None else days
        self._known: dict[tuple[int, bytes], Judged] = {}

    @cached_property
    def _bare(self) -> tuple[FloatArray, ...]:
        """Drained and run off without a timer, (2, M) for each place. [mm over the place]"""
        return tuple(
            one.run(np.zeros(self.days * one.days.steps_a_day), 0, self.days, one.start, keep=False).totals[
                0, [DRAINAGE, RUNOFF]
            ]
            for one in self.places
        )

    @cached_property
    def _use(self) -> tuple[float, ...]:
        """What each place uses when it never dries, by which waste is priced. [mm over the place]"""
        return tuple(float(kept_full(one, self.days).mean(axis=1).sum()) * one.days.area_wet(0) for one in self.places)

    def judge(self, setting: Sequence[Programme]) -> tuple[Judged, ...]:
        """Every place under a setting."""
        shares = self.shares(setting) if self.shares is not None else None
        return tuple(self._of_place(k, setting, shares) for k in range(len(self.places)))

    def cost(self, setting: Sequence[Programme]) -> float:
        """Mean cost over the places. [hundredths of growth]"""
        return float(np.mean([one.cost for one in self.judge(setting)]))

    def _of_place(self, k: int, setting: Sequence[Programme], shares: Mapping[str, FloatArray] | None) -> Judged:
        """One place under a setting; the same water is judged once."""
        put, off = put_by(setting, self.places[k], shares)
        return self.of_water(k, put[: self.days * self.places[k].days.steps_a_day], float(off[: self.days].sum()))

    def of_water(self, k: int, put_mm: FloatArray, ran_off_mm: float) -> Judged:
        """One place under what goes into its soil by step; ``ran_off_mm`` of what was poured did not. [mm over the watered part]"""
        key = (k, put_mm.tobytes() + np.float64(ran_off_mm).tobytes())
        if key not in self._known:
            self._known[key] = self._judged(k, put_mm, ran_off_mm)
        return self._known[key]

    def _judged(self, k: int, put_mm: FloatArray, ran_off_mm: float) -> Judged:
        one = self.places[k]
        n, days = one.days.steps_a_day, self.days
        result = one.run(put_mm, 0, days, one.start)
        flux = result.fluxes[0]  # (days, fluxes, M)
        grows = one.grows[:days]
        grown = flux[grows]
        stress, airy = grown[:, STRESS] / n, grown[:, SOGGY] / n
        wanted = grown[:, WANTED].sum(axis=0)
        asks = wanted > 0.0  # before anything has come up nothing is drawn, and no growth can be lost
        wanted = np.where(asks, wanted, 1.0)
        dry = (grown[:, WANTED] * (1.0 - stress)).sum(axis=0) / wanted
        seeds = seeds_lost(one, flux[:, STRESS] / n)
        wet = np.where(asks, np.maximum(1.0 - grown[:, TRANSPIRATION].sum(axis=0) / wanted - dry, 0.0), 0.0)
        dry = np.minimum(dry + seeds, np.maximum(1.0 - wet, dry))
        more = np.maximum(result.totals[0, [DRAINAGE, RUNOFF]] - self._bare[k], 0.0)
        off = ran_off_mm * one.days.area_wet(0)
        idle = float(
            put_mm[(int(np.flatnonzero(grows)[-1]) + 1 if grows.any() else 0) * n :].sum()
        ) * one.days.area_wet(0)
        waste = np.maximum(more.sum(axis=0) + off, idle)
        cost = 100.0 * (dry + AIRLESS_TIMES * wet + WASTE_PRICE * waste / max(self._use[k], 0.1))
        dry_days, ground = (stress < DRY_DAY).sum(axis=0), one.days.laid.ground_m2
        return Judged(
            place=one.name, line=one.line, growing_days=int(grows.sum()), dry_days=float(dry_days.mean()),
            dry_days_bad=float(np.quantile(dry_days, 0.9)), wet_days=float((airy < WET_DAY).sum(axis=0).mean()),
            lost_dry=float(dry.mean()), lost_wet=float(wet.mean()),
            given_l=float(put_mm.sum() + ran_off_mm) * one.days.area_wet(0) * ground,
            drained_l=float(more[0].mean()) * ground, ran_off_l=float(more[1].mean() + off) * ground, idle_l=idle * ground, cost=float(cost.mean()),
        )  # fmt: skip


def seeds_lost(one: TimerPlace, stress: FloatArray) -> FloatArray:
    """Part of the seedlings of a place that is lost to dryness before they come up, (M,).

    ``stress`` (days, M): what dryness leaves of growth, 1 none. By it and what is drawn at ease it is known how much of the seedbed's layer is
    used; seedlings die from :data:`SEED_FROM` on, as in the advice.
    """
    days, n = len(stress), one.days.steps_a_day
    at_ease = one.forcing.crop[0, : days * n : n, DEPLETION_P]
    used = 1.0 - stress * ((1.0 - at_ease) * float(one.days.laid.columns.fixed[0, ENOUGH]))[:, None]
    parched = np.maximum(used - SEED_FROM, 0.0) / (1.0 - SEED_FROM)
    return np.asarray(SEEDS_LOST * parched[one.days.crops.phase[:days] == SEEDBED].sum(axis=0))


def judged_text(one: Judged) -> Said:
    """What a setting does to a place, in plain words."""
    if not one.growing_days:
        return say("nothing grows there in these days")
    parts = [
        say("too dry on {n:.0f} of {of} days", n=one.dry_days, of=one.growing_days) if one.dry_days > 0.5 else say("never too dry"),
        say("too wet on {n:.0f}", n=one.wet_days) if one.wet_days > 0.5 else "",
        say("{part:.0f} % of its growth lost", part=100.0 * (one.lost_dry + one.lost_wet))
        if one.lost_dry + one.lost_wet >= 0.005
        else "",
        say("{part:.0f} % of the water wasted", part=100.0 * one.wasted_l / one.given_l)
        if one.given_l > 0 and one.wasted_l >= 0.005 * one.given_l
        else "",
    ]  # fmt: skip
    return join_said(parts, ", ")


def growth_lost(judged: Sequence[Judged]) -> float:
    """Part of the growth that is lost, mean over the places."""
    return sum(one.lost_dry + one.lost_wet for one in judged) / len(judged)


def gain_text(before: Sequence[Judged], after: Sequence[Judged]) -> Said:
    """What a change brings, all places together."""

    def wasted(judged: Sequence[Judged]) -> Measure:
        return Measure(float(f"{sum(one.wasted_l for one in judged):.2g}"), "volume")

    return say(
        "Then {lost:.0f} % of the growth is lost rather than {lost_now:.0f} %, and {wasted} of water wasted rather than {wasted_now}.",
        lost=100.0 * growth_lost(after), lost_now=100.0 * growth_lost(before), wasted=wasted(after), wasted_now=wasted(before),
    )  # fmt: skip


def days_text(n: int) -> Said:
    """Days by number."""
    return say_n("{n} day", "{n} days", n)
