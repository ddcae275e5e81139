"""True places lived through day by day: what happens to them, and what of it a grower could see.

Weather inside a day, noise of readings and the rest of chance come from the seed and the day alone, so that two ways of
watering the same places meet the same rain and the same dial.
"""

from __future__ import annotations

import copy

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.season.truth import uptake
from soakbook.season.truth.columns import Columns, Moved, advance, columns
from soakbook.season.truth.curves import FloatArray
from soakbook.season.truth.day import HOURS, LIGHT, Account, DayTruth, DayWeather, Seen, storm, watered
from soakbook.season.truth.draw import FEET, Fault, Hidden
from soakbook.season.truth.kinds import FREE, SEEPAGE

#: Drawing less than this share of what it wants, a plant has a day of stress.
STRESSED_BELOW = 0.9
#: Share of air where the roots are below which they lack oxygen.
AIR_LEAST = 0.10
#: Heads at which a feeling hand calls a soil drained and dry [cm]: field capacity as a hand knows it, a day or two after rain, and the
#: wilting point. A pot is drained at the mean head over its height. Judged.
_DRAINED_CM, _WILTED_CM = -100.0, -15_000.0
#: How far off a hand takes the share of the available water. Judged.
FEEL_SD = 0.1


class Truth:
    """True places and the day they are in. ``step`` moves them on; ``clone`` lets an oracle try a future."""

    def __init__(self, hidden: Hidden) -> None:
        self.hidden = hidden
        self.day = 0
        self.days: list[DayTruth] = []
        self._feet = [_foot_of(hidden) for _ in range(FEET)]
        self._left_on = np.zeros(len(hidden), dtype=bool)
        size = len(hidden)
        self._by_stage = np.zeros((2, size, 4))
        self._stress, self._wet, self._waterings = np.zeros(size), np.zeros(size), np.zeros(size)

    def __len__(self) -> int:
        return len(self.hidden)

    def clone(self) -> Truth:
        """The same places at the same moment, free to go another way."""
        other = copy.copy(self)
        other._feet, other.days = [f.copy() for f in self._feet], list(self.days)
        for name in ("_left_on", "_by_stage", "_stress", "_wet", "_waterings"):
            setattr(other, name, getattr(self, name).copy())
        return other

    @property
    def feet(self) -> tuple[Columns, ...]:
        """The columns of each foot, hidden."""
        return tuple(self._feet)

    def lacking_mm(self) -> FloatArray:
        """What leaves have lacked in each stage so far, hidden. (places, 4) [mm]"""
        return np.asarray(self._by_stage[1] - self._by_stage[0])

    def ripe(self) -> NDArray[np.bool_]:
        """Places whose crop has run its course: their account stands still."""
        return np.asarray(self.day >= self.hidden.stage_days.sum(axis=1))

    def step(self, weather: DayWeather, asked_mm: ArrayLike = 0.0) -> Seen:
        """Live through a day on which the grower means to put ``asked_mm`` on each place (over all of its area).

        What leaves the tap is the true flow for the time the believed flow would take; see :class:`DayTruth` in
        ``days[-1]`` for what became of it.
        """
        eto, rain, asked = (
            np.broadcast_to(np.asarray(v, dtype=float), (len(self),))
            for v in (weather.eto_mm, weather.rain_mm, asked_mm)
        )
        put_on, reached = self._delivered(asked)
        leaves, ground = self._demand(eto)
        self._ready(leaves)
        bypass = self._bypass()
        moved, run_on = self._move(
            reached * (1.0 - bypass), rain * self.hidden.rain_factor * (1.0 - bypass), leaves, ground
        )
        day = self._told(moved, run_on, put_on, reached, rain * self.hidden.rain_factor, leaves, bypass)
        self._count(day, asked)
        self.days.append(day)
        self.day += 1
        return self._seen(day, rain)

    def probe(self, depth_cm: ArrayLike, pushed_in: int = 0) -> FloatArray:
        """What each place's own dial shows at a depth today, 0 to 10 in halves; the tip is in the watered foot. The first time it is
        pushed in is 0; each other time has chance of its own."""
        noise = self.hidden.probe.noise
        shown = self.dial_mean(depth_cm) + noise * self._chance(1 + 100 * pushed_in).standard_normal(len(self))
        return np.asarray(np.clip(np.round(2.0 * shown) / 2.0, 0.0, 10.0))  # a dial has two ends

    def dial_mean(self, depth_cm: ArrayLike) -> FloatArray:
        """What the dial would show without its noise and its ends, hidden."""
        dial, wetness = self.hidden.probe, self._at(depth_cm, _wetness(self._feet[0]))
        return np.asarray(dial.low + (dial.high - dial.low) * wetness**dial.bend + dial.salt)

    def feel(self, depth_cm: ArrayLike) -> NDArray[np.int64]:
        """The class a hand would give the soil at a depth: 0 dry, then by quarters of the available water, 4 drained full, 5
        wetter; now and then one class off."""
        share = self.feel_mean(depth_cm) + FEEL_SD * self._chance(2).standard_normal(len(self))
        return np.asarray(np.digitize(share, [0.25, 0.5, 0.75, 1.0, 1.15]))

    def feel_mean(self, depth_cm: ArrayLike) -> FloatArray:
        """The share of the available water that a hand has between its fingers at a depth, hidden."""
        foot = self._feet[0]
        rows = foot.rows[foot.soil]
        theta = self._at(depth_cm, foot.water_content())
        middle_cm = 0.5 * foot.thick_cm.sum(axis=1)[:, None]
        drained = np.where(self.hidden.is_pot[:, None], -middle_cm, _DRAINED_CM)
        full, dry = (self._at(depth_cm, content_at(rows, h)) for h in (drained, _WILTED_CM))
        return np.asarray((theta - dry) / (full - dry))

    def weigh(self) -> FloatArray:
        """Water in each place by its weight, two in a hundred off; for pots. [mm over the pot]"""
        return np.asarray(self.stored_mm() * (1.0 + 0.02 * self._chance(3).standard_normal(len(self))))

    def stored_mm(self) -> FloatArray:
        """All water in each place, hidden."""
        water = [np.nansum(f.water_content() * f.thick_cm, axis=1) + f.pond_cm for f in self._feet]
        return self._over_feet(10.0 * np.array(water))

    def water_content(self) -> tuple[FloatArray, FloatArray]:
        """Depths of the cells [cm], places × cells, and their water content, feet × places × cells, hidden."""
        return self._feet[0].middles_cm(), np.array([f.water_content() for f in self._feet])

    def account(self) -> Account:
        """The season so far."""

        def total(name: str) -> FloatArray:
            return np.sum([getattr(d, name) for d in self.days], axis=0) if self.days else np.zeros(len(self))

        return Account(
            put_on_mm=total("put_on"), runoff_mm=total("runoff"), drainage_mm=total("drainage"),
            evaporation_mm=total("evaporation"), transpiration_mm=total("transpiration"), wanted_mm=total("wanted"),
            stress_days=self._stress.copy(), wet_days=self._wet.copy(), waterings=self._waterings.copy(),
            yield_loss=uptake.yield_loss(self._by_stage[0], self._by_stage[1], self.hidden.ky, self.hidden.ky_season),
        )  # fmt: skip

    def _chance(self, what: int) -> np.random.Generator:
        return np.random.default_rng([self.hidden.seed, self.day, what])

    def _fault(self, kind: Fault) -> NDArray[np.bool_]:
        return np.asarray((self.hidden.fault == kind) & (self.day >= self.hidden.fault_day))

    def _delivered(self, asked: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What leaves the tap and what reaches the soil [mm over the place]. Sizes of faults judged."""
        hidden, size = self.hidden, self.hidden.fault_size
        put_on, reach = asked * hidden.flow_factor, 1.0 - hidden.lost_share
        put_on = np.where(self._fault(Fault.BLOCKED), put_on * (0.1 + 0.5 * size), put_on)
        leaking = self._fault(Fault.LEAK)
        put_on = np.where(leaking, put_on * (1.1 + 0.4 * size), put_on)
        reach = np.where(leaking, reach * (0.7 - 0.4 * size), reach)
        shut = self._fault(Fault.NEVER_OPENED) & (self.day < hidden.fault_day + 4.0 + 10.0 * size)
        put_on = np.where(shut, 0.0, put_on)
        running = self._fault(Fault.LEFT_ON) & ~self._left_on & (asked > 0.0)
        self._left_on |= running
        put_on = np.where(running, put_on + 20.0 + 60.0 * size, put_on)
        return put_on, put_on * reach

    def _demand(self, eto: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What leaves want and what the ground could lose [mm over the place]."""
        hidden = self.hidden
        age = np.full(len(self), self.day + 0.5)
        lai = uptake.leaf_area(age, hidden.stage_days, hidden.lai_most, hidden.lai_last)
        fade = np.clip((age - hidden.stage_days[:, :3].sum(axis=1)) / hidden.stage_days[:, 3], 0.0, 1.0)
        here = eto * hidden.demand_factor
        leaves, _ = uptake.split(here * (hidden.kc + fade * (hidden.kc_end - hidden.kc)), lai, hidden.extinction)
        _, ground = uptake.split(here * hidden.ground_factor, lai, hidden.extinction)
        return leaves * hidden.leaf_factor, ground

    def _ready(self, wanted: FloatArray) -> None:
        """Roots as deep as they are by now, and the head at which they begin to lack water on a day of such demand."""
        hidden = self.hidden
        most = np.maximum(hidden.root_start_cm, hidden.root_most_cm)
        depth = uptake.root_depth_cm(self.day + 0.5, hidden.stage_days[:, :2].sum(axis=1), hidden.root_start_cm, most)
        depth = np.minimum(depth, hidden.root_stop_cm)
        for foot in self._feet:
            foot.roots[:] = uptake.root_shares(foot.thick_cm, depth, hidden.root_steepness)
            foot.draws_cm[:, 2] = uptake.turning_head_cm(hidden.heads_cm, wanted)

    def _bypass(self) -> FloatArray:
        """Share of water that runs straight through a mix that repels, once its upper half is dry. Judged."""
        upper = self._feet[0].middles_cm() < 0.5 * self._feet[0].thick_cm.sum(axis=1)[:, None]
        wet = np.mean([np.nanmean(np.where(upper, _wetness(f), np.nan), axis=1) for f in self._feet], axis=0)
        return np.where(self._fault(Fault.REPELS) & (wet < 0.35), 0.5 + 0.4 * self.hidden.fault_size, 0.0)

    def _move(
        self, water: FloatArray, rain: FloatArray, leaves: FloatArray, ground: FloatArray
    ) -> tuple[list[Moved], FloatArray]:
        """Each foot through the day; what a wetted strip does not take runs on to the dry rest beside it [mm of place]."""
        hidden = self.hidden
        falling = rain[:, None] * storm(float(rain.max()), self._chance(0))
        run_on, moved = np.zeros(len(self)), []
        for f, foot in enumerate(self._feet):
            share = hidden.foot_share[:, f]
            arriving = watered(water * hidden.foot_dose[:, f] + run_on / share, hidden.rate_mm_h) + falling
            wanted = leaves * hidden.foot_roots[:, f] / share
            moved.append(
                advance(
                    foot,
                    HOURS,
                    0.1 * arriving / HOURS,
                    0.1 * ground[:, None] * LIGHT / HOURS,
                    0.1 * wanted[:, None] * LIGHT / HOURS,
                )
            )
            if f == 0:
                run_on = np.where(hidden.foot_dose[:, 1] == 0.0, 10.0 * moved[0].runoff_cm * share, 0.0)
        return moved, run_on

    def _over_feet(self, value: FloatArray) -> FloatArray:
        """Values of feet × places, over the whole place."""
        return np.asarray((value.T * self.hidden.foot_share).sum(axis=1))

    def _told(
        self, moved: list[Moved], run_on: FloatArray, put_on: FloatArray, reached: FloatArray, rain: FloatArray,
        wanted: FloatArray, bypass: FloatArray,
    ) -> DayTruth:  # fmt: skip
        def over(name: str) -> FloatArray:
            return self._over_feet(10.0 * np.array([getattr(m, name) for m in moved]))

        straight = bypass * (reached + rain)
        runoff, evaporation, transpiration = (
            over("runoff_cm") - run_on,
            over("evaporation_cm"),
            over("transpiration_cm"),
        )
        drainage, after = over("drainage_cm") + straight, over("after_cm")
        error = reached + rain - runoff - evaporation - transpiration - drainage - (after - over("before_cm"))
        air = (np.array([m.air for m in moved]).T * self.hidden.foot_roots).sum(axis=1)
        return DayTruth(put_on, reached, rain, runoff, evaporation, transpiration, wanted, drainage, after, air, error)

    def _count(self, day: DayTruth, asked: FloatArray) -> None:
        grows = ~self.ripe()
        ends = np.cumsum(self.hidden.stage_days, axis=1)
        stage = np.minimum((self.day + 0.5 > ends).sum(axis=1), 3)
        places = np.arange(len(self))
        self._by_stage[0, places, stage] += np.where(grows, day.transpiration, 0.0)
        self._by_stage[1, places, stage] += np.where(grows, day.wanted, 0.0)
        self._stress += grows & (day.transpiration < STRESSED_BELOW * day.wanted)
        self._wet += grows & (day.air < AIR_LEAST)
        self._waterings += asked > 0.0

    def _seen(self, day: DayTruth, rain: FloatArray) -> Seen:
        shadow = np.where(self._fault(Fault.GAUGE_IN_SHADOW), 0.3 + 0.4 * self.hidden.fault_size, 1.0)
        off = np.exp(0.05 * self._chance(4).standard_normal(len(self)))
        return Seen(self.hidden.is_pot & (day.drainage > 0.5), day.runoff > 0.5, rain * shadow * off)

    def _at(self, depth_cm: ArrayLike, values: FloatArray) -> FloatArray:
        """Values of the cell that holds a depth, in the first foot of each place; the last cell for depths below."""
        foot = self._feet[0]
        depth = np.broadcast_to(np.asarray(depth_cm, dtype=float), (len(self),))
        cell = np.minimum((np.cumsum(foot.thick_cm, axis=1) < depth[:, None]).sum(axis=1), foot.cells - 1)
        return np.asarray(values[np.arange(len(self)), cell])


def _foot_of(hidden: Hidden) -> Columns:
    """A column for each place as the season opens: beds at an even head, pots drained and then dried a little."""
    heads = []
    for thick, wet, is_pot in zip(hidden.thick_cm, hidden.wetness_start, hidden.is_pot, strict=True):
        height = np.cumsum(thick[::-1])[::-1] - 0.5 * thick
        heads.append(
            -height - 40.0 * (1.0 - wet) if is_pot else np.full(len(thick), -60.0 * (1000.0 / 60.0) ** (1.0 - wet))
        )
    made = columns(
        hidden.thick_cm, hidden.layers, heads, kind=np.where(hidden.is_pot, SEEPAGE, FREE),
        pond_most_cm=0.1 * hidden.pond_mm, omega=hidden.omega, air_least=AIR_LEAST,
    )  # fmt: skip
    made.draws_cm[:] = hidden.heads_cm[:, [0, 1, 2, 4]]
    return made


def content_at(rows: FloatArray, head_cm: ArrayLike) -> FloatArray:
    """Water content of van Genuchten soils at a head, one for all or one for each."""
    n = np.where(rows[..., 3] > 1.0, rows[..., 3], 2.0)
    s = (1.0 + (rows[..., 2] * -np.asarray(head_cm)) ** n) ** (1.0 / n - 1.0)
    return np.asarray(rows[..., 0] + (rows[..., 1] - rows[..., 0]) * s)


def _wetness(state: Columns) -> FloatArray:
    """Effective saturation of each cell; NaN below the bottom."""
    row = state.rows[state.soil]
    return np.asarray((state.water_content() - row[..., 0]) / (row[..., 1] - row[..., 0]))
