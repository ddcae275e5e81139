"""Readings of a water meter: what went through between two of them, and which fault of the delivery that points to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from soakbook.balance.place import PlaceDays, place_days
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Garden, LogEntry
from soakbook.learning.faults import Weighed, weigh
from soakbook.learning.metered import as_flows, meters_of
from soakbook.learning.reading import Reading
from tests.unit.learning.scene import TODAY, at
from tests.unit.learning.test_faults import FROM, LINE, ON_LINE, scene, sky

WEEKS = [FROM + timedelta(7 * k) for k in range(8)]
BESIDE = replace(ON_LINE, name="other bed")


def waterings(name: str = ON_LINE.name, litres: float = 60.0) -> list[LogEntry]:
    """Every third morning."""
    return [LogEntry(f"{name}{k}", at(FROM + timedelta(k), 7.0), "water", name, litres=litres) for k in range(0, 54, 3)]


def meter(shown: Sequence[float]) -> list[Reading]:
    """The line's meter, every week in the evening."""
    return [
        Reading(f"m{k}", at(on, 18.0), "meter", value, line="drip")
        for k, (on, value) in enumerate(zip(WEEKS, shown, strict=True))
    ]


def counted(log: Sequence[LogEntry], begun: int = 99, part: float = 1.0, flow: float = 1.1) -> list[float]:
    """What a meter shows when the true flow is ``flow`` of that written down, and from a week on ``part`` of that."""
    ends = [at(on, 18.0) for on in WEEKS]
    through = np.zeros(len(ends))
    for entry in log:
        week = next((k for k, end in enumerate(ends) if entry.at <= end), None)
        if week is not None:
            through[week] += flow * (part if week >= begun else 1.0) * (entry.litres or 0.0)
    return [float(np.round(v)) for v in 5000.0 + np.cumsum(through)]


def found(shown: Sequence[float], log: Sequence[LogEntry], garden: Garden | None = None) -> Weighed:
    one = weigh(garden or scene(ON_LINE), ON_LINE, sky(), log, meter(shown), TODAY)
    assert one is not None
    return one


def run_days(garden: Garden | None = None) -> PlaceDays:
    members = draw_members(ON_LINE, 2, np.random.default_rng(1), LINE)
    return place_days(garden or scene(ON_LINE), ON_LINE, sky(), waterings(), members, until=TODAY)


def test_a_meter_of_a_line_is_held_against_all_that_was_written_down_behind_it() -> None:
    garden = replace(scene(ON_LINE), places=(ON_LINE, BESIDE))
    log = [*waterings(), *waterings(BESIDE.name, 20.0)]
    days = run_days(garden)
    stretches = meters_of(days, meter(counted(log, flow=1.0)), log)[0]
    assert len(stretches) == len(WEEKS) - 1
    assert [s.litres for s in stretches] == [s.written_l for s in stretches]
    assert {s.others_l for s in stretches} == {40.0, 60.0}  # two or three waterings a week


def test_two_meters_do_not_mix_and_order_does_not_matter() -> None:
    log, days = waterings(), run_days()
    mine = meter(counted(log))
    hers = [replace(r, id=f"h{r.id}", instrument="hers", value=2.0 * r.value) for r in mine]
    assert meters_of(days, [*hers, *mine[::-1]], log)[1] == meters_of(days, mine, log)[0]


def test_a_meter_is_a_flow_where_something_was_written_down() -> None:
    log, days = waterings(), run_days()
    flows = as_flows(days, meter(counted(log)), log)
    assert {f.kind for f in flows} == {"flow"}
    assert [f.value for f in flows] == pytest.approx([1.1 * 60.0] * 7, rel=0.01)  # the garden file says 60 L/h
    assert as_flows(days, meter(counted(log)), []) == []
    backwards = meter(counted(log)[::-1])
    assert as_flows(days, backwards, log) == []


def test_a_sound_meter_points_to_nothing() -> None:
    log = waterings()
    assert found(counted(log), log).wrong < 0.1


@pytest.mark.parametrize(("part", "fault"), [(0.5, "blocked"), (1.3, "leak")])
def test_flow_that_changed_is_found(part: float, fault: str) -> None:
    log = waterings()
    told = found(counted(log, begun=4, part=part), log)
    assert told.told() == (fault,)
    assert told.of(told.told()[0]) > 0.9


def test_a_line_left_on_is_found_when_the_next_reading_confirms_it() -> None:
    log = waterings()
    shown = np.array(counted(log))
    shown[5:] += 400.0
    assert found(list(shown), log).told() == ("left on",)


def test_a_meter_read_wrongly_once_points_to_nothing() -> None:
    log = waterings()
    shown = counted(log)
    shown[4] += 400.0
    assert found(shown, log).wrong < 0.2


def test_a_watering_that_went_unwritten_points_to_nothing() -> None:
    log = waterings()
    assert found(counted(log), [e for k, e in enumerate(log) if k != 9]).wrong < 0.2


def test_a_week_without_water_that_was_written_down_is_found() -> None:
    log = waterings()
    gone = [e for e in log if not WEEKS[3] < e.at.date() <= WEEKS[4]]
    assert found(counted(gone), log).told() == ("never opened",)


def test_waterings_of_the_other_places_are_no_fault_of_this_one() -> None:
    garden = replace(scene(ON_LINE), places=(ON_LINE, BESIDE))
    log = [*waterings(), *waterings(BESIDE.name, 45.0)]
    assert found(counted(log), log, garden).wrong < 0.1


def test_a_meter_that_much_else_goes_through_points_to_nothing() -> None:
    log = waterings()
    used = np.cumsum(np.random.default_rng(2).uniform(200.0, 1500.0, len(WEEKS)))
    assert found(list(np.array(counted(log)) + used), log).told() == ()


def test_a_meter_that_was_exchanged_points_to_nothing() -> None:
    log = waterings()
    shown = np.array(counted(log))
    shown[4:] -= 4500.0
    assert found(list(shown), log).told() == ()
