"""A season of timer settings against the best single setting and against every uniform programme, in gardens drawn at random.

The gardens are those of :mod:`tests.measured.timers`, from the day their timer is set to the end of the season. The plan sees some members of
the weather and of what is not known of the places; all are judged on other members, by the water balance, and the best uniform programme
(all lines alike, the same all season) is picked in hindsight on those. Run it: ``python -m tests.measured.timer_seasons`` (minutes).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

from soakbook.delivery.timer_judge import Judge
from soakbook.delivery.timer_model import Rules, Timer
from soakbook.delivery.timer_place import timer_places
from soakbook.delivery.timer_season import plan_season
from soakbook.delivery.timer_series import SeasonJudge
from soakbook.season.timer_parts import season_days
from tests.measured.timers import EVERY, MASKS, MINUTES, day_sets, random_garden, uniform_cost, weather

GARDENS, MOST, DAYS, SEEN, JUDGED = 60, 4, 140, 20, 20
#: Uniform programmes: of those for two weeks the ones with one start.
UNIFORM = (len(MASKS) + len(EVERY)) * len(MINUTES)


@dataclass(frozen=True)
class SeasonRow:
    """One garden: costs in hundredths of growth, mean over its places. ``single`` is one setting all season, planned the same way."""

    garden: int
    lines: int
    places: int
    spot: str
    days: int
    times_set: int
    plan: float
    single: float
    uniform: float
    uniform_is: str
    dry: float

    @property
    def is_better(self) -> bool:
        """Whether the plan costs no more than the best uniform programme in hindsight."""
        return self.plan <= self.uniform + 1e-9


def one_season(seed: int) -> SeasonRow:
    """Plan a season, and hold it against a single setting and every uniform programme."""
    garden, on, rng = random_garden(seed)
    used = {p.name: float(rng.uniform(0.0, 0.4)) for p in garden.places}
    seen = timer_places(garden, weather(garden, on, rng, SEEN, DAYS), used=used, seed=seed)
    other = timer_places(garden, weather(garden, on, rng, JUDGED, DAYS), used=used, seed=seed + 100_000)
    days = min(season_days(seen), season_days(other))
    rules, flows = Rules(), {line.name: float(line.flow_lph or 0.0) for line in garden.lines}
    plan = plan_season(seen, Timer(), rules, flows, days, most=MOST, seconds=1.0)
    truth = SeasonJudge(Judge(other, days), Timer(), rules, flows)
    uniform = {
        f"{named}, {m} min": uniform_cost(truth.judge, chosen, m) for named, chosen in day_sets(on) for m in MINUTES
    }
    best = min(uniform, key=lambda name: uniform[name])
    return SeasonRow(
        garden=seed, lines=len(garden.lines), places=len(other), spot=f"{garden.lat_deg:g} {garden.lon_deg:g}", days=days,
        times_set=plan.chosen.count, plan=truth.cost(plan.chosen.series), single=truth.cost(plan.by_count[0].series), uniform=uniform[best],
        uniform_is=best, dry=truth.judge.cost(()),
    )  # fmt: skip


def keep_seasons(processes: int = 2) -> tuple[SeasonRow, ...]:
    """Plan the seasons of all gardens, and keep what was found."""
    from concurrent.futures import ProcessPoolExecutor

    from tests.measured.kept import keep

    with ProcessPoolExecutor(processes) as pool:
        found = tuple(pool.map(one_season, range(GARDENS), chunksize=5))
    keep("timer_seasons", {"seasons": found})
    return found


if __name__ == "__main__":
    for row in keep_seasons(int(sys.argv[1]) if len(sys.argv) > 1 else 1):
        print(row)
