"""The plan of a timer against every uniform programme, in 200 gardens drawn at random, by the water balance.

Each garden has 2 to 6 lines with one or two places each, in one of eight climates. The plan sees some members of the weather and of what is
not known of the places; it and the uniform programmes (all lines alike: the same days, one to four starts, the same minutes) are judged on other
members, and the best uniform programme is picked in hindsight on those, out of 800, kept neither to the allowed hours nor to what the timer can store. Run it: ``python -m tests.measured.timers`` (minutes).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from soakbook.delivery.timer_judge import Judge
from soakbook.delivery.timer_model import Days, Programme, Rules, Timer, problems
from soakbook.delivery.timer_place import needs_of, timer_places
from soakbook.delivery.timer_plan import plan_timer
from soakbook.delivery.timer_refine import refined
from soakbook.delivery.timer_tables import Asked, Tables, span_of
from soakbook.garden.model import Garden, Line, Mulch, Place, Planting, PotShape, SoilLayer
from soakbook.physics.potting import pot_from_volume
from soakbook.weather.generator import made_weather
from soakbook.weather.members import WeatherMembers
from soakbook.weather.normals import normals_at

GARDENS, DAYS, SEEN, JUDGED = 200, 14, 100, 40
#: Latitude, longitude, elevation: maritime, continental, Mediterranean, steppe and so on.
SPOTS = ((51.5, -0.1, 20.0), (48.1, 11.6, 520.0), (41.9, 12.5, 40.0), (39.1, -96.6, 343.0), (44.4, 26.1, 80.0), (37.4, -5.9, 20.0),
         (55.7, 37.6, 150.0), (33.4, -112.0, 340.0))  # fmt: skip
PLANTS = ("tomato_tall", "pepper_sweet", "lettuce_leaf", "carrot", "cabbage", "zucchini", "bean_bush", "strawberry")
POTTED = ("tomato_bush", "basil", "pepper_sweet")
TEXTURES = ("sand", "sandy_loam", "loam", "silt_loam", "clay_loam", "clay")
#: Uniform programmes: sets of weekdays, every so many days, run times, and starts.
MASKS = ((0, 1, 2, 3, 4, 5, 6), (0, 1, 2, 3, 4, 5), (0, 1, 3, 4, 6), (0, 2, 4, 6), (0, 2, 4), (0, 3), (0,))
EVERY = (2, 3, 4)
MINUTES = (1, 2, 3, 4, 5, 7, 9, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 135, 180, 240)
STARTS = ((240,), (240, 1080), (240, 420, 1080), (240, 420, 1080, 1200))
UNIFORM = (len(MASKS) + len(EVERY)) * len(MINUTES) * len(STARTS)


@dataclass(frozen=True)
class TimerRow:
    """One garden: costs in hundredths of growth, mean over its places. ``bucket`` is the plan before the balance made it finer, ``can_be_set`` the best
    of the uniform programmes that the timer can hold under its rules."""

    garden: int
    lines: int
    places: int
    pots: int
    spot: str
    plan: float
    bucket: float
    uniform: float
    uniform_is: str
    can_be_set: float
    dry: float

    @property
    def is_better(self) -> bool:
        """Whether the plan costs no more than the best uniform programme in hindsight."""
        return self.plan <= self.uniform + 1e-9


def random_garden(seed: int) -> tuple[Garden, date, np.random.Generator]:
    """A garden on lines, the day its timer is set, and where chance goes on."""
    rng = np.random.default_rng([seed, 7])
    spot = SPOTS[int(rng.integers(len(SPOTS)))]
    on = date(2025, 6, 1) + timedelta(days=int(rng.integers(0, 80)))
    lines, places = [], []
    for k in range(int(rng.integers(2, 7))):
        is_pots = rng.random() < 0.25
        name, means = f"line {k + 1}", "emitters" if is_pots else str(rng.choice(["drip_line", "soaker", "sprinkler"]))
        mine = [
            _pot(rng, name, j, on) if is_pots else _bed(rng, name, j, on, means) for j in range(int(rng.integers(1, 3)))
        ]
        rate = float(rng.uniform(6.0, 25.0))  # mm an hour over the ground
        area = sum(p.area_m2 for p in mine)
        lines.append(Line(name, means, flow_lph=rate * area, flow_is_measured=bool(rng.random() < 0.5)))
        places += [replace(p, line_share=p.area_m2 / area) for p in mine]
    garden = Garden(f"garden {seed}", *spot, "UTC", tuple(places), tuple(lines), invented=True)
    return garden, on, rng


def _bed(rng: np.random.Generator, line: str, j: int, on: date, means: str) -> Place:
    planted = on - timedelta(days=int(rng.integers(10, 60)))
    mulch = Mulch("straw") if rng.random() < 0.4 else None
    return Place(
        f"{line} bed {j + 1}", "bed", (SoilLayer("texture", texture=str(rng.choice(TEXTURES))),), float(rng.uniform(2.0, 12.0)),
        means=means, line=line, mulch=mulch, plantings=(Planting(str(rng.choice(PLANTS)), planted_out=planted),),
    )  # fmt: skip


def _pot(rng: np.random.Generator, line: str, j: int, on: date) -> Place:
    form, count = pot_from_volume(float(rng.uniform(5.0, 30.0))), int(rng.integers(1, 7))
    shape = PotShape(form.height_m, form.top_area_m2, form.base_area_m2, count=count)
    planting = Planting(
        str(rng.choice(POTTED)), planted_out=on - timedelta(days=int(rng.integers(10, 50))), count=count
    )
    return Place(
        f"{line} pots {j + 1}", "pot", (SoilLayer("mix", mix="multipurpose"),), count * form.top_area_m2, pot=shape,
        means="emitters", line=line, plantings=(planting,),
    )  # fmt: skip


def weather(garden: Garden, on: date, rng: np.random.Generator, count: int, days: int = DAYS) -> WeatherMembers:
    """Weather made by chance from the normals of the spot."""
    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    return made_weather(normals, on, on + timedelta(days=days), count, rng)


def one_garden(seed: int) -> TimerRow:
    """Plan, judge, and hold against every uniform programme."""
    garden, on, rng = random_garden(seed)
    used = {p.name: float(rng.uniform(0.0, 0.4)) for p in garden.places}
    seen = timer_places(garden, weather(garden, on, rng, SEEN), used=used, seed=seed)
    other = timer_places(garden, weather(garden, on, rng, JUDGED), used=used, seed=seed + 100_000)
    rules = Rules()
    span = span_of(rules, on, DAYS)
    asked = Asked(
        Timer(), rules, span, {line.name: float(line.flow_lph or 0.0) for line in garden.lines}, needs_of(seen, span)
    )
    bucket = plan_timer(asked, seconds=1.0)
    plan = refined(Tables.of(asked), Judge(seen, DAYS), bucket, seconds=2.0)
    truth = Judge(other, DAYS)
    uniform = {
        f"{named}, {len(starts)} x {m} min": uniform_cost(truth, chosen, m, starts)
        for named, chosen in day_sets(on) for starts in STARTS for m in MINUTES
    }  # fmt: skip
    best = min(uniform, key=lambda name: uniform[name])
    can_be_set = min(
        uniform[f"{named}, {len(starts)} x {m} min"] for named, chosen in day_sets(on) for starts in STARTS for m in MINUTES
        if not problems(same(truth, chosen, m, starts), Timer(), rules, asked.flows_lph, on, DAYS)
    )  # fmt: skip
    return TimerRow(
        garden=seed, lines=len(garden.lines), places=len(other), pots=sum(p.days.place.kind == "pot" for p in other),
        spot=f"{garden.lat_deg:g} {garden.lon_deg:g}", plan=truth.cost(plan.setting), bucket=truth.cost(bucket.setting),
        uniform=uniform[best], uniform_is=best, can_be_set=can_be_set, dry=truth.cost(()),
    )  # fmt: skip


def day_sets(on: date) -> list[tuple[str, Days]]:
    """Days on which a uniform programme may run, by name."""
    weekly = [(f"{len(mask)} days a week", Days("weekdays", mask)) for mask in MASKS]
    return weekly + [(f"every {n} days", Days("every", every=n, first=on)) for n in EVERY]


def uniform_cost(truth: Judge, chosen: Days, minutes: int, starts: tuple[int, ...] = STARTS[0]) -> float:
    """What it costs to run all lines alike, whatever hours that takes."""
    return truth.cost(same(truth, chosen, minutes, starts))


def same(truth: Judge, chosen: Days, minutes: int, starts: tuple[int, ...]) -> list[Programme]:
    """The same minutes for all lines."""
    lines = sorted({one.line for one in truth.places})
    return [Programme("A", chosen, starts, tuple((line, minutes) for line in lines))]


def share_better(rows: tuple[TimerRow, ...]) -> float:
    """Part of the gardens in which the plan is at least as good as the best uniform programme in hindsight."""
    return float(np.mean([row.is_better for row in rows]))


def keep_timers(processes: int = 2) -> tuple[TimerRow, ...]:
    """Plan all gardens, and keep what was found."""
    from concurrent.futures import ProcessPoolExecutor

    from tests.measured.kept import keep

    with ProcessPoolExecutor(processes) as pool:
        found = tuple(pool.map(one_garden, range(GARDENS), chunksize=5))
    keep("timers", {"timers": found})
    return found


if __name__ == "__main__":
    rows = keep_timers(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
    print(f"{100.0 * share_better(rows):.1f} %")
    for row in rows:
        if not row.is_better:
            print(row)
