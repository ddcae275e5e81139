"""What went through a water meter between two readings of it, beside what was written down for that time.

A meter only ever counts up. So a number read wrongly is too much in one stretch of time and too little in the next, and one that is
left out makes two stretches into one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

from soakbook.balance.place import PlaceDays, standard_time
from soakbook.garden.model import LogEntry
from soakbook.learning.reading import Reading, flow_meant

__all__ = ["Stretch", "as_flows", "meters_of"]


@dataclass(frozen=True)
class Stretch:
    """The time between two readings of one meter: ``litres`` that went through it (less than none where it was exchanged, set back or
    read wrongly), what was written down for the place itself (day of the run, litres), and for the others behind the meter together."""

    last: Reading
    litres: float
    own: tuple[tuple[int, float], ...]
    others_l: float

    @cached_property
    def written_l(self) -> float:
        """All that was written down."""
        return sum(litres for _, litres in self.own) + self.others_l

    def and_then(self, other: Stretch) -> Stretch:
        """This stretch and the one after it as one."""
        return Stretch(other.last, self.litres + other.litres, self.own + other.own, self.others_l + other.others_l)


def meters_of(days: PlaceDays, readings: Sequence[Reading], log: Sequence[LogEntry]) -> list[list[Stretch]]:
    """For each meter the stretches of time between its readings; ``log`` with the waterings of all places.

    What was poured before the first day of the run is left out, and with it the stretches that began before.
    """
    by_meter: dict[tuple[str, str], list[Reading]] = {}
    for one in sorted((r for r in readings if r.kind == "meter"), key=lambda r: (r.at, r.id)):
        by_meter.setdefault((one.line, one.instrument), []).append(one)
    zone, found = ZoneInfo(days.garden.time_zone), []
    for (line, _), mine in by_meter.items():
        behind = {p.name for p in days.garden.places if line and p.line == line} | {days.place.name}
        poured = [
            (e.at, standard_time(e.at, zone).date(), e.place, e.litres)
            for e in log
            if e.kind == "water" and e.litres is not None and e.place in behind
        ]
        within = [r for r in mine if standard_time(r.at, zone).date() >= days.days[0].astype(date)]
        found.append([_between(days, a, b, poured) for a, b in pairwise(within)])
    return found


def _between(
    days: PlaceDays, before: Reading, last: Reading, poured: Sequence[tuple[datetime, date, str, float]]
) -> Stretch:  # fmt: skip
    then = [(on, place, litres) for at, on, place, litres in poured if before.at < at <= last.at]
    own = tuple((days.index(on), litres) for on, place, litres in then if place == days.place.name)
    others = sum(litres for _, place, litres in then if place != days.place.name)
    return Stretch(last, last.value - before.value, own, others)


def as_flows(days: PlaceDays, readings: Sequence[Reading], log: Sequence[LogEntry]) -> list[Reading]:
    """Readings with those of meters as the flows they stand for: what was meant, times the litres that came over those written down.

    Stretches without a watering tell of no flow, nor does a meter where the flow that was meant is not known.
    """
    rest = [r for r in readings if r.kind != "meter"]
    for stretch in (s for meter in meters_of(days, readings, log) for s in meter):
        flow = replace(stretch.last, kind="flow", value=0.0)
        meant = flow_meant(days, flow)
        if meant is not None and stretch.written_l > 0.0 and stretch.litres >= 0.0:
            rest.append(replace(flow, value=meant * stretch.litres / stretch.written_l))
    return rest
