"""The season's account: what came is what went and what is stored, however it is summed."""

from __future__ import annotations

from dataclasses import fields
from datetime import date

import numpy as np
import pytest

from soakbook.advice.account import Account, PlaceRun, Water, _put_down, account, total, water_by_day
from soakbook.advice.round import Standing, standings_of
from soakbook.advice.sky import weather_for
from soakbook.balance.columns import DRAINAGE, EVAPORATION, IRRIGATION, RAIN, RUNOFF, TRANSPIRATION
from soakbook.balance.layout import best_guess
from soakbook.balance.run import stored_mm
from soakbook.demo import DAY, demo_garden
from soakbook.garden.model import LogEntry

Runs = tuple[tuple[Standing, ...], list[LogEntry]]


@pytest.fixture(scope="module")
def runs() -> Runs:
    garden, log, folder = demo_garden()
    weather = weather_for(garden, DAY, log, folder=folder)
    # Readings move what is held, and that neither came nor went.
    before = [e for e in log if e.at.date() < DAY and e.kind != "reading"]
    return standings_of(garden, weather, DAY, before, best_guess()), before


@pytest.fixture(scope="module")
def made(runs: Runs) -> Account:
    standings, log = runs
    return account([whole(s) for s in standings], log, date(2017, 1, 1), DAY)


def whole(standing: Standing) -> PlaceRun:
    first: date = standing.days.days[0].astype(date)
    return PlaceRun(standing.days, standing.known.past, first, DAY)


def values(water: Water) -> list[float]:
    return [getattr(water, f.name) for f in fields(water)]


def test_months_and_places_and_cells_have_the_same_sum(made: Account) -> None:
    for parts in (made.by_month, made.by_place, made.cells):
        assert values(total(parts.values())) == pytest.approx(values(made.total), abs=1e-9)
    assert list(made.by_month) == [date(2017, 5, 1), date(2017, 6, 1), date(2017, 7, 1)]
    assert len(made.by_place) == 12


def test_each_place_has_the_totals_of_its_run(runs: Runs, made: Account) -> None:
    for s in runs[0]:
        water, litres = made.by_place[s.days.place.name], s.known.past.totals[0, :, 0] * s.days.laid.ground_m2
        assert water.rain == pytest.approx(litres[RAIN])
        assert water.put_on - water.missed == pytest.approx(litres[IRRIGATION])
        assert [water.ran_off, water.drained, water.dried_off, water.drawn] == pytest.approx(
            [litres[RUNOFF], litres[DRAINAGE], litres[EVAPORATION], litres[TRANSPIRATION]]
        )


def test_what_came_is_what_went_and_what_the_soil_holds_more(runs: Runs, made: Account) -> None:
    for s in runs[0]:
        water, columns, ground = made.by_place[s.days.place.name], s.days.laid.columns, s.days.laid.ground_m2
        held = float((stored_mm(columns, s.known.now) - stored_mm(columns, s.days.start()))[0, 0])
        assert (water.came - water.went) / ground == pytest.approx(held, abs=1e-6)  # [mm]
        assert water.stored / ground == pytest.approx(held, abs=1e-6)


def test_what_was_given_is_what_the_log_says(runs: Runs, made: Account) -> None:
    for name, water in made.by_place.items():
        assert water.given == pytest.approx(
            sum(e.litres or 0.0 for e in runs[1] if e.place == name and e.kind == "water")
        )
    assert made.by_place["sweet corn block"].assumed == pytest.approx(57.6)  # 10 mm over 80 % of 7.2 m2
    assert made.by_place["carrot rows"].assumed == pytest.approx(0.0)  # its watering in is in the log


def test_no_more_is_lost_than_came(made: Account) -> None:
    for water in made.cells.values():
        assert -1e-9 <= water.rain_lost <= water.rain + 1e-9
        assert -1e-9 <= water.given_lost <= water.put_on + 1e-9
    lost = made.total.rain_lost + made.total.given_lost
    assert made.total.drained_now <= lost <= made.total.ran_off + made.total.drained + 1e-9


def test_a_stretch_within_a_run_counts_only_itself(runs: Runs) -> None:
    standings, log = runs
    s = standings[0]
    part = account([PlaceRun(s.days, s.known.past, date(2017, 6, 10), DAY)], log, date(2017, 6, 1), date(2017, 6, 20))
    table = water_by_day(s.days, s.known.past, log)
    a, b = s.days.index(date(2017, 6, 10)), s.days.index(date(2017, 6, 20))
    assert values(part.total) == pytest.approx(table[:, a:b].sum(axis=1).tolist())
    assert part.since == {"tomato bed": date(2017, 6, 10)}


def test_a_place_that_did_not_count_yet_is_left_out(runs: Runs) -> None:
    standings, log = runs
    made = account([whole(standings[0])], log, date(2018, 1, 1), date(2018, 2, 1))
    assert (made.cells, made.total) == ({}, Water())


def rows(*numbers: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.array(numbers, dtype=float)


def test_what_drains_is_put_down_to_the_latest_water_and_then_to_that_before() -> None:
    rain, put = rows(6.0, 0.0, 0.0, 2.0), rows(2.0, 0.0, 0.0, 2.0)
    rain_lost, given_lost, drained = _put_down(rain, put, rows(0, 0, 0, 0), rows(0.0, 0.0, 0.0, 8.0))
    assert rain_lost == pytest.approx(rows(3.0, 0, 0, 2.0))  # all 4 mm of the last day, then 4 of the 8 before
    assert given_lost == pytest.approx(rows(1.0, 0, 0, 2.0))
    assert drained == pytest.approx(rows(4.0, 0, 0, 4.0))


def test_what_drains_without_any_water_coming_was_there_before() -> None:
    nothing = np.zeros(20)
    rain, drained = nothing.copy(), nothing.copy()
    rain[0], drained[15] = 9.0, 3.0  # more than ten days apart
    assert [part.sum() for part in _put_down(rain, nothing, nothing, drained)] == [0.0, 0.0, 0.0]


def test_what_ran_off_is_lost_but_has_not_drained() -> None:
    rain_lost, given_lost, drained = _put_down(rows(10.0), rows(0.0), rows(4.0), rows(0.0))
    assert (rain_lost[0], given_lost[0], drained[0]) == (4.0, 0.0, 0.0)
