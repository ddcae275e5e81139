"""Where the water of a season went, by place and month, read from the runs of the balance. Everything in litres.

What drained or ran off is put down to the latest water that came, rain and given water of a day in proportion, as far as
these go back :data:`DAYS_BACK` days; the rest is put down to what was in the soil before. Judged: a soil that is full passes
on what comes last, and a grower asks what became of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import AREA_WET, DRAINAGE, EVAPORATION, RAIN, RUNOFF, TRANSPIRATION
from soakbook.balance.place import standard_time

if TYPE_CHECKING:
    from soakbook.balance.columns import Result
    from soakbook.balance.place import PlaceDays
    from soakbook.garden.model import LogEntry, Supply

FloatArray = NDArray[np.float64]

#: Days back to which water that is lost is put down to what came.
DAYS_BACK = 10


@dataclass(frozen=True)
class Water:
    """Litres over a stretch of days.

    Came: ``given`` (in the log), ``assumed`` (watering-in that the log does not have), ``rain`` that reached the place. Went:
    ``missed`` (put on, but it never reached the soil), ``ran_off``, ``drained`` below the roots' soil, ``dried_off`` from soil,
    mulch and saucer, ``drawn`` by the plants. ``stored`` is what the soil holds more at the end than at the beginning. Of what
    came in these days, ``rain_lost`` and ``given_lost`` ran off or drained then or later; ``drained_now`` is what of it drained.
    """

    given: float = 0.0
    assumed: float = 0.0
    rain: float = 0.0
    missed: float = 0.0
    ran_off: float = 0.0
    drained: float = 0.0
    dried_off: float = 0.0
    drawn: float = 0.0
    stored: float = 0.0
    rain_lost: float = 0.0
    given_lost: float = 0.0
    drained_now: float = 0.0

    @property
    def put_on(self) -> float:
        """All that was put on, logged or assumed."""
        return self.given + self.assumed

    @property
    def rain_used(self) -> float:
        """Rain that neither ran off nor drained: plants and air had it, or the soil has it still."""
        return self.rain - self.rain_lost

    @property
    def came(self) -> float:
        """All that came."""
        return self.put_on + self.rain

    @property
    def went(self) -> float:
        """All that went."""
        return self.missed + self.ran_off + self.drained + self.dried_off + self.drawn


@dataclass(frozen=True)
class PlaceRun:
    """A place's run, and the stretch of it that counts: from ``first`` to before ``end``, within the days that were run."""

    days: PlaceDays
    past: Result
    first: date
    end: date


@dataclass(frozen=True)
class Account:
    """A season: ``cells`` by (place, month), summed by place, by month and in all. ``since`` is when each place begins to count."""

    first: date
    end: date
    cells: dict[tuple[str, date], Water]
    by_place: dict[str, Water]
    by_month: dict[date, Water]
    total: Water
    since: dict[str, date]


def account(runs: Sequence[PlaceRun], log: Sequence[LogEntry], first: date, end: date) -> Account:
    """Account for the water of some places.

    Parameters
    ----------
    runs
        Each place's run; the first member counts.
    log
        Waterings; tells what was given from what was assumed.
    first, end
        The season, ``end`` not included. Each run counts for its own stretch within it.

    Returns
    -------
    Account
        Sums over months and over places are those of the runs: what came is what went and what is stored.
    """
    cells: dict[tuple[str, date], list[Water]] = {}
    since = {}
    for run in runs:
        start, stop = max(first, run.first), min(end, run.end)
        if start >= stop:
            continue
        since[run.days.place.name] = start
        for month, water in _by_month(run, log, start, stop):
            cells.setdefault((run.days.place.name, month), []).append(water)
    made = {key: total(parts) for key, parts in cells.items()}
    places = dict.fromkeys(name for name, _ in made)
    months = sorted({month for _, month in made})
    return Account(
        first=first,
        end=end,
        cells=made,
        by_place={p: total(w for (name, _), w in made.items() if name == p) for p in places},
        by_month={m: total(w for (_, month), w in made.items() if month == m) for m in months},
        total=total(made.values()),
        since=since,
    )


def total(parts: Iterable[Water]) -> Water:
    """The sum of some accounts."""
    rows = list(parts)
    return Water(*(sum(getattr(row, f.name) for row in rows) for f in fields(Water)))


def cost(supply: Supply, litres: float) -> float | None:
    """What water from the mains costs; None where it has no price or comes from elsewhere."""
    if supply.source != "mains" or supply.price_per_m3 is None:
        return None
    return supply.price_per_m3 * litres / 1000.0


def _by_month(run: PlaceRun, log: Sequence[LogEntry], start: date, stop: date) -> list[tuple[date, Water]]:
    days = run.days
    a = days.index(start)
    b = a + (stop - start).days
    table = water_by_day(days, run.past, log)
    months = days.days[a:b].astype("datetime64[M]")
    out = []
    for month in np.unique(months):
        at = np.flatnonzero(months == month) + a
        sums = table[:, at].sum(axis=1)
        out.append((month.astype("datetime64[D]").astype(date), Water(*sums.tolist())))
    return out


def water_by_day(days: PlaceDays, past: Result, log: Sequence[LogEntry]) -> FloatArray:
    """The fields of :class:`Water` by day, (fields, T). [L over the place]"""
    n = days.steps_a_day
    t = past.fluxes.shape[1] // n
    flux = past.fluxes[0, : t * n, :, 0].reshape(t, n, -1).sum(axis=1)
    areas = days.forcing.crop[0, : t * n, AREA_WET]
    put = (days.forcing.irrigation_mm[0, : t * n, 0] * areas).reshape(t, n).sum(axis=1)
    given = np.minimum(_logged_mm(days, log, t), put)
    reached = put * float(days.laid.columns.delivery[0, 0])
    rain, ran_off, drained = flux[:, RAIN], flux[:, RUNOFF], flux[:, DRAINAGE]
    dried, drawn = flux[:, EVAPORATION], flux[:, TRANSPIRATION]
    stored = rain + reached - ran_off - drained - dried - drawn
    rain_lost, given_lost, drained_now = _put_down(rain, reached, ran_off, drained)
    rows = (
        given, put - given, rain, put - reached, ran_off, drained, dried, drawn, stored, rain_lost, given_lost, drained_now,
    )  # fmt: skip
    return np.stack(rows) * days.laid.ground_m2


def _logged_mm(days: PlaceDays, log: Sequence[LogEntry], t: int) -> FloatArray:
    zone = ZoneInfo(days.garden.time_zone)
    first: date = days.days[0].astype(date)
    out = np.zeros(t)
    for entry in log:
        if entry.kind == "water" and entry.place == days.place.name and entry.litres is not None:
            at = (standard_time(entry.at, zone).date() - first) // timedelta(days=1)
            if 0 <= at < t:
                out[at] += entry.litres / days.laid.ground_m2
    return out


def _put_down(
    rain: FloatArray, put: FloatArray, ran_off: FloatArray, drained: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What was lost of rain and of water put on, and how much of that drained, by the day it had come."""
    left = rain + put
    share = np.divide(rain, left, out=np.zeros_like(left), where=left > 0.0)
    rain_lost, given_lost, drained_now = np.zeros_like(rain), np.zeros_like(rain), np.zeros_like(rain)
    for day in range(len(rain)):
        for lost, is_drained in ((float(ran_off[day]), False), (float(drained[day]), True)):
            for back in range(day, max(-1, day - DAYS_BACK - 1), -1):
                if lost <= 0.0:
                    break
                part = min(lost, float(left[back]))
                if part <= 0.0:
                    continue
                left[back] -= part
                lost -= part
                rain_lost[back] += part * share[back]
                given_lost[back] += part * (1.0 - share[back])
                drained_now[back] += part if is_drained else 0.0
    return rain_lost, given_lost, drained_now
