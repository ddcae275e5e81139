"""Lines as they are opened: one time for all on them, the goes of the slowest soil, and who gets more or less than it would take."""

from __future__ import annotations

from dataclasses import replace

import pytest

from soakbook.advice.job import Job, _runs_off
from soakbook.advice.lines import Gets, LineRun, line_runs, line_text, with_lines
from soakbook.advice.round import today_round
from soakbook.advice.sky import members_for, weather_for
from soakbook.delivery.goes import Goes
from soakbook.demo import DAY, demo_garden
from soakbook.garden.model import Garden


@pytest.fixture(scope="module")
def demo() -> tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]]:
    garden, log, folder = demo_garden()
    weather = weather_for(garden, DAY, log, folder=folder)
    made = today_round(garden, weather, DAY, log, ahead=members_for(garden, weather, DAY, folder=folder))
    return garden, made.jobs, made.lines


def test_places_on_a_line_get_one_time(demo: tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]]) -> None:
    _, jobs, lines = demo
    north, soaker = lines
    assert [one.place for one in north.gets] == ["tomato bed", "pepper bed"]
    mine = [job for job in jobs if job.advice.place in ("tomato bed", "pepper bed")]
    assert [job.minutes for job in mine] == pytest.approx([north.minutes, north.minutes])
    assert [one.litres for one in north.gets] == pytest.approx([job.advice.litres for job in mine])
    assert all(one.cost >= 0.0 for one in north.gets)
    assert soaker.goes is not None
    assert f"{soaker.goes.count} goes" in line_text(soaker)


def test_all_on_a_line_have_the_goes_of_the_slowest_soil(
    demo: tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]],
) -> None:
    garden, jobs, _ = demo
    slow = Goes(3, 20.0, 40.0)
    changed = [replace(job, minutes=60.0, goes=slow if job.advice.place == "pepper bed" else None) if job.advice.place in ("tomato bed", "pepper bed") else job for job in jobs]  # fmt: skip
    made, lines = with_lines(garden, changed)
    assert lines[0].goes == slow
    assert all(job.goes == slow for job in made if job.advice.place in ("tomato bed", "pepper bed"))
    assert "3 goes of 20 min, 40 min apart" in line_text(lines[0])


def test_one_that_is_not_due_is_told_what_it_gets(demo: tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]]) -> None:
    garden, jobs, _ = demo
    idle = [replace(job, advice=replace(job.advice, verdict="hold", litres=0.0), minutes=None, plan=None) if job.advice.place == "tomato bed" else job for job in jobs]  # fmt: skip
    made, lines = with_lines(garden, idle)
    note = next(job.note for job in made if job.advice.place == "tomato bed")
    assert "for another place: this one gets" in note
    assert "asks for none" in note
    assert lines[0].gets[0].more_litres == lines[0].gets[0].litres > 0.0
    assert "tomato bed" in line_text(lines[0])
    assert "too much" in line_text(lines[0])


def test_what_a_place_would_take_by_itself_is_what_it_takes_without_neighbours(
    demo: tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]],
) -> None:
    garden, jobs, _ = demo
    _, log, folder = demo_garden()
    weather = weather_for(garden, DAY, log, folder=folder)
    ahead = members_for(garden, weather, DAY, folder=folder)
    for name in ("tomato bed", "pepper bed"):
        plan = next(job.plan for job in jobs if job.advice.place == name)
        alone = replace(garden, places=tuple(p for p in garden.places if p.name == name))
        (job,) = today_round(alone, weather, DAY, log, ahead=ahead).jobs
        assert plan is not None
        assert plan.alone is not None
        assert plan.alone.litres == pytest.approx(job.advice.litres, rel=0.01)


def test_what_is_not_worth_telling() -> None:
    assert Gets("bed", 10.0, 9.5, 0.0).more_litres == 0.0  # within a litre
    assert Gets("bed", 105.0, 100.0, 0.0).more_litres == 0.0  # within a tenth
    assert Gets("bed", 120.0, 100.0, 0.0).more_litres == pytest.approx(20.0)
    assert Gets("bed", 80.0, 100.0, 0.0).more_litres == pytest.approx(-20.0)


def test_a_line_nobody_needs_stays_shut(demo: tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]]) -> None:
    garden, jobs, _ = demo
    held = [replace(job, advice=replace(job.advice, verdict="hold", litres=0.0), minutes=None) for job in jobs]
    assert line_runs(garden, held) == ()


def test_what_is_lost_even_in_goes_is_said(demo: tuple[Garden, tuple[Job, ...], tuple[LineRun, ...]]) -> None:
    assert _runs_off(None, 0.0) == ""
    assert _runs_off(Goes(2, 10.0, 50.0), 0.02) == ""
    assert "pauses would not help" in _runs_off(None, 0.4)
    assert _runs_off(Goes(4, 30.0, 30.0), 0.31) == (
        "even in 4 goes about 31% of it may run off: give part of it tomorrow"
    )
    garden, jobs, _ = demo
    noted = [replace(job, note="so it is", minutes=60.0) if job.advice.place == "tomato bed" else job for job in jobs]
    made, _ = with_lines(garden, noted)
    assert "so it is" in next(job.note for job in made if job.advice.place == "tomato bed")
