"""The reduced roll-out once more, plainly and in double precision: one candidate at a time, numpy over the members.

Written for reading, not for speed: nothing is worked out ahead, nothing is left out.
"""

from __future__ import annotations

import numpy as np

from soakbook.balance import rollout_names as names
from soakbook.balance.rollout import Reduced
from soakbook.balance.rollout_steps import (
    DAMP_WITHIN,
    DRAIN_A,
    DRAIN_B,
    SEED_FROM,
    SEVERE_FROM,
    SEVERE_TIMES,
    SWING_FROM,
)

Row = dict[str, float]


def reference_roll(
    r: Reduced, first: np.ndarray, patience: np.ndarray, fill: np.ndarray, seen: np.ndarray
) -> np.ndarray:
    """Sums by candidate, kind and member, as :func:`soakbook.balance.rollout.roll` gives them."""
    return np.stack([_Candidate(r, *act, seen).rolled() for act in zip(first, patience, fill, strict=True)])


class _Candidate:
    def __init__(self, r: Reduced, first: float, patience: float, fill: float, seen: np.ndarray) -> None:
        self.r, self.first, self.patience, self.fill = r, first, patience, fill
        self.fix: Row = dict(zip(names.FIX, r.fix, strict=True))
        self.lane = dict(zip(names.LANE, r.lane, strict=True))
        self.layer = dict(zip(names.LAYER, r.layer, strict=True))
        self.a = r.water.copy()
        held = dict(zip(names.HELD, r.held.copy(), strict=True))
        self.skin, self.airless, self.rest, self.saucer = held["skin"], held["airless"], held["rest"], held["saucer"]
        self.seen = np.full(r.members, seen, dtype=float)
        self.sums = {name: np.zeros(r.members) for name in names.SUMS}

    def rolled(self) -> np.ndarray:
        for t, row in enumerate(self.r.day):
            day: Row = dict(zip(names.DAY, row, strict=True))
            sky = dict(zip(names.SKY, self.r.sky[:, t], strict=True))
            if day["mix"] > 0.0:
                self.a += day["mix"] * (self.rest * self.lane["rest_inv_taw"] / self.layer["inv_taw"] - self.a)
            used = self.lacks(day) * sky["inv_store"]
            gone = self.arrives(t, day, sky)
            gone, airless = self.drains(day, gone)
            self.sums["drained"] += self.into_saucer(sky, gone)
            took = self.evaporates(day, sky)
            took += self.draws(day, sky, airless)
            took += self.through_wall(sky)
            self.seen = np.minimum(sky["store"], self.seen + took * self.lane["inv_demand"])
            self.ails(day, sky, used)
        self.sums["missing"] = self.lacks(day)
        return np.stack([self.sums[name] for name in names.SUMS])

    def lacks(self, day: Row) -> np.ndarray:
        reach = np.array([day["reach_0"], day["reach_1"], day["reach_2"]])
        return np.asarray(reach @ np.maximum(self.layer["full"] - self.a, 0.0))

    def asked(self, t: int, day: Row, sky: dict[str, np.ndarray]) -> np.ndarray:
        """What the rule puts on. [mm over the watered part]"""
        earliest = 1 if self.first > 0.0 else self.fix["a_day"]
        if day["may_water"] == 0.0 or t < earliest:
            return np.zeros(self.r.members)
        thought = self.seen + self.fix["known"] * (self.lacks(day) - self.seen)
        asks = np.maximum(thought - sky["rain_by_night"], 0.0)
        tonight = asks + day["expected_use"] * sky["eto"]
        judged = np.minimum(day["judge_now"] * thought + day["judge_later"] * tonight, tonight)
        due = (judged >= day["limit"] * self.patience * sky["store"]) & (asks >= self.fix["least"])
        return np.where(due, asks * self.fill / self.fix["efficiency"], 0.0)

    def arrives(self, t: int, day: Row, sky: dict[str, np.ndarray]) -> np.ndarray:
        put = np.full(self.r.members, self.first) if t == 0 and self.first > 0.0 else self.asked(t, day, sky)
        through_mulch = np.maximum(put * self.lane["delivery"] - self.fix["mulch_takes"] * (put > 0.0), 0.0)
        arriving = through_mulch + sky["rain"]
        dry = np.clip(
            (self.fix["dry_from"] - self.a[0] * self.layer["inv_taw"][0]) * self.fix["inv_dry_from"], 0.0, 1.0
        )
        past = self.fix["bypass"] * dry * arriving
        self.a[0] += arriving - past
        self.skin = np.maximum(self.skin - (arriving - past), 0.0)
        self.seen = np.maximum(self.seen - sky["rain"] - put * self.fix["efficiency"], 0.0)
        self.sums["put"] += put * day["area"]
        self.sums["visits"] += put > 0.0
        if self.r.feet == 2:
            self.rest = np.clip(self.rest + sky["rain_rest"] - sky["off_rest"], 0.0, self.lane["rest_full"])
        return np.asarray(past)

    def drains(self, day: Row, gone: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        for k in range(names.LUMPS):
            x = np.maximum(self.a[k] - self.layer["full"][k], 0.0)
            u = x * self.layer["drain"][k]  # the kernel's stand-in for 1 / sqrt(1 + u²), checked by itself
            kept = (1.0 + DRAIN_A * u + DRAIN_B * u**2) / (1.0 + DRAIN_A * u + (DRAIN_B + 0.5) * u**2 + DRAIN_B * u**3)
            move = x - x * kept
            self.a[k] -= move
            if k + 1 < names.LUMPS:
                self.a[k + 1] += move
        gone = gone + move
        back = np.zeros_like(gone)
        for k in reversed(range(names.LUMPS)):
            self.a[k] += back
            back = np.maximum(self.a[k] - self.layer["saturated"][k], 0.0)
            self.a[k] -= back
        roots = np.array([day["root_0"], day["root_1"], day["root_2"]])
        air = (self.layer["saturated"] - self.a) * np.array([[self.fix[f"inv_air_{k}"]] for k in range(names.LUMPS)])
        return gone + back, roots @ np.maximum(1.0 - air, 0.0)

    def into_saucer(self, sky: dict[str, np.ndarray], gone: np.ndarray) -> np.ndarray:
        if self.fix["saucer"] == 0.0:
            return gone
        kept = np.minimum(gone, self.fix["saucer"] - self.saucer)
        back = np.minimum(self.saucer + kept, np.maximum(self.layer["full"][2] - self.a[2], 0.0))
        self.a[2] += back
        self.saucer = self.saucer + kept - back
        self.saucer -= np.minimum(self.saucer, 0.1 * sky["eto"])
        return np.asarray(gone - kept)

    def evaporates(self, day: Row, sky: dict[str, np.ndarray]) -> np.ndarray:
        short = self.lane["tew"] - self.skin
        kr = np.clip(short * self.lane["inv_stage_two"], 0.0, 1.0)
        bare = day["few"] * np.maximum(short, 1e-9)
        share = bare / (bare + sky["bare_rest"] + 1e-12)
        ke = np.minimum(kr * (day["kc_max"] - day["kcb"]) * share, day["few"] * day["kc_max"]) * day["ke_cut"]
        wants = ke / day["area"] * sky["eto"]
        parts = np.array([1.0 - self.fix["second"], self.fix["second"]])
        taken = np.minimum(parts[:, None] * wants, self.a[:2] - self.layer["least"][:2])
        self.a[:2] -= taken
        if day["few"] > 0.0:
            self.skin = np.minimum(self.skin + taken.sum(axis=0) * day["area"] / day["few"], self.lane["tew"])
        return np.asarray(taken.sum(axis=0))

    def draws(self, day: Row, sky: dict[str, np.ndarray], airless: np.ndarray) -> np.ndarray:
        area, wants = day["area"], day["kcb"] * sky["eto"]
        beside = 1.0 - area if self.r.feet == 2 and area < 1.0 else np.inf
        roots = np.array([day["root_0"], day["root_1"], day["root_2"]])[:, None]
        self.airless = self.airless + self.fix["lag"] * (airless - self.airless)
        noon = self.a - roots * self.fix["half"] * wants / area
        found = roots * np.clip(noon * self.layer["inv_taw"] * day["inv_1p"], 0.0, 1.0)
        noon_rest = self.rest - day["root_dry"] * self.fix["half"] * wants / beside
        found_rest = day["root_dry"] * np.clip(noon_rest * self.lane["rest_inv_taw"] * day["inv_1p"], 0.0, 1.0)
        ease = found.sum(axis=0) + found_rest
        finds = wants * np.minimum(ease * self.fix["inv_enough"], 1.0)
        pull = finds * (1.0 - self.airless) / np.maximum(ease, 1e-12)
        drawn = np.minimum(pull * found / area, np.maximum(self.a, 0.0))
        drawn_rest = np.minimum(pull * found_rest / beside, self.rest)
        self.a -= drawn
        self.rest = self.rest - drawn_rest
        for_air = finds * self.airless
        for_dry = np.maximum(wants - for_air - drawn.sum(axis=0) * area - drawn_rest * (1.0 - area), 0.0)
        severe = SEVERE_TIMES * np.maximum(for_dry - SEVERE_FROM * wants, 0.0)
        self.sums["wet"] += day["lose_wet"] * for_air
        self.sums["dry"] += day["lose_dry"] * (for_dry + severe)
        return np.asarray(drawn.sum(axis=0))

    def through_wall(self, sky: dict[str, np.ndarray]) -> np.ndarray:
        wall = np.array([self.fix["wall_0"], self.fix["wall_1"], self.fix["wall_2"]])[:, None] * sky["eto"]
        lost = wall * np.clip((self.a - self.layer["least"]) * self.layer["inv_taw"], 0.0, 1.0)
        self.a -= lost
        return np.asarray(lost.sum(axis=0))

    def ails(self, day: Row, sky: dict[str, np.ndarray], used: np.ndarray) -> None:
        after = np.minimum(self.lacks(day) * sky["inv_store"], 1.0)
        dry = np.maximum(used - SWING_FROM, 0.0)
        dried = np.maximum(self.layer["full"][0] - self.a[0], 0.0) * self.layer["inv_taw"][0]
        self.sums["swing"] += day["lose_swing"] * dry**2 * np.maximum(used - after, 0.0)
        self.sums["damp"] += day["lose_damp"] * np.maximum(1.0 - dried / DAMP_WITHIN, 0.0)
        self.sums["seed"] += day["lose_seed"] * np.maximum(after - SEED_FROM, 0.0) / (1.0 - SEED_FROM)
