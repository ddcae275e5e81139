"""Members as data, past years, and what stands for the days ahead."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.ahead import members_ahead
from soakbook.weather.eto import series_eto
from soakbook.weather.generator import made_weather
from soakbook.weather.members import followed_by, members_of, ordered, past_years, spread_over, together
from tests.unit.weather_members.weather import FIRST, LAST, forecast, normals, numbered_record

NEW_DAY = np.datetime64(FIRST, "D")
END = np.datetime64(LAST, "D")


def test_demand_of_a_member_is_that_of_its_series() -> None:
    made = made_weather(normals(), FIRST, LAST, 3, np.random.default_rng(1))
    for k in range(3):
        np.testing.assert_allclose(made.eto_mm()[k], series_eto(made.series(k)), rtol=1e-12)


def test_members_with_gaps_or_missing_columns_are_refused() -> None:
    made = made_weather(normals(), FIRST, LAST, 3, np.random.default_rng(1))
    holed = made.get("rain_mm").copy()
    holed[1, 5] = np.nan
    with pytest.raises(InputError, match="rain_mm"):
        replace(made, columns={**made.columns, "rain_mm": holed})
    with pytest.raises(InputError, match="columns"):
        replace(made, columns={"rain_mm": holed})


def test_maxima_below_minima_are_set_apart_about_their_middle() -> None:
    high, low = ordered(np.array([10.0, 20.0]), np.array([12.0, 5.0]))
    np.testing.assert_allclose(high, [11.25, 20.0])
    np.testing.assert_allclose(low, [10.75, 5.0])


def test_members_cover_the_days_all_runs_have() -> None:
    whole = members_of([forecast(10), forecast(7)], "two")
    assert (len(whole), len(whole.times)) == (2, 7)
    with pytest.raises(InputError, match="no day in common"):
        members_of([forecast(3), forecast(3, first=date(2024, 1, 1))], "two")


def test_each_run_of_an_ensemble_stands_as_often_as_any_other() -> None:
    runs = members_of([forecast(2, rain_mm=float(k)) for k in range(7)], "seven")
    fell = spread_over(runs, 50, np.random.default_rng(1)).get("rain_mm")[:, 0]
    counts = np.bincount(fell.astype(int), minlength=7)
    assert sorted(counts.tolist()) == [7, 7, 7, 7, 7, 7, 8]
    assert len(set(spread_over(runs, 5, np.random.default_rng(1)).get("rain_mm")[:, 0])) == 5


def test_past_years_are_unbroken_stretches_of_the_same_dates() -> None:
    record = numbered_record(date(2010, 1, 1), date(2023, 12, 31))
    drawn = past_years(record, NEW_DAY, END, 60, np.random.default_rng(1))
    numbers = drawn.get("rain_mm")
    assert (np.diff(numbers, axis=1) == 1.0).all()
    starts = numbers[:, 0].astype("datetime64[D]")
    assert (starts < NEW_DAY).all()
    of_year = (starts - starts.astype("datetime64[Y]")).astype(int)
    assert np.abs(of_year - 151).max() <= 8
    assert len(set(starts.tolist())) == 60
    assert len(set(starts.astype("datetime64[Y]").tolist())) == 13


def test_nothing_from_today_on_is_taken_from_the_record() -> None:
    record = numbered_record(date(2010, 1, 1), date(2023, 12, 31))
    drawn = past_years(record, NEW_DAY, END, 300, np.random.default_rng(1)).get("rain_mm")
    assert drawn.max() < NEW_DAY.astype(int)


def test_nor_when_more_than_a_year_is_wanted() -> None:
    record = numbered_record(date(2010, 1, 1), date(2023, 12, 31))
    drawn = past_years(record, NEW_DAY, NEW_DAY + 400, 300, np.random.default_rng(1)).get("rain_mm")
    assert drawn.max() < NEW_DAY.astype(int)


def test_a_run_over_new_year_and_from_a_leap_day_is_whole() -> None:
    record = numbered_record(date(2010, 1, 1), date(2024, 2, 28))
    over = past_years(record, np.datetime64("2023-12-20"), np.datetime64("2024-02-10"), 20, np.random.default_rng(1))
    assert (np.diff(over.get("rain_mm"), axis=1) == 1.0).all()
    leap = past_years(record, np.datetime64("2024-02-29"), np.datetime64("2024-03-10"), 20, np.random.default_rng(1))
    assert len(leap.times) == 11


def test_two_years_are_not_enough() -> None:
    record = numbered_record(date(2021, 7, 1), date(2023, 5, 31))
    with pytest.raises(InputError, match="3 are needed"):
        past_years(record, NEW_DAY, END, 20, np.random.default_rng(1))


def test_members_go_on_one_with_one() -> None:
    near = members_of([forecast(5, rain_mm=float(k)) for k in range(4)], "near")
    far = made_weather(normals(), FIRST, LAST, 4, np.random.default_rng(1))
    whole = followed_by(near, far)
    assert len(whole.times) == 60
    np.testing.assert_array_equal(whole.get("rain_mm")[:, 4], [0.0, 1.0, 2.0, 3.0])
    np.testing.assert_array_equal(whole.get("rain_mm")[:, 5:], far.get("rain_mm")[:, 5:])
    with pytest.raises(InputError, match="cannot go on"):
        followed_by(near, made_weather(normals(), FIRST, LAST, 5, np.random.default_rng(1)))


def test_the_more_years_the_more_members_are_past_years() -> None:
    """A record's rain is the number of its day, which made weather never reaches."""

    def of_past(first_year: int) -> float:
        record = numbered_record(date(first_year, 1, 1), date(2023, 5, 31))
        ahead = members_ahead(FIRST, LAST, 60, np.random.default_rng(1), normals(), record=record)
        return float((ahead.get("rain_mm")[:, 0] > 5000.0).mean())

    assert of_past(2021) == 0.0
    assert of_past(2018) == pytest.approx(5.0 / 15.0, abs=0.01)
    assert of_past(2003) == pytest.approx(20.0 / 30.0, abs=0.01)


def test_members_side_by_side_need_the_same_days() -> None:
    made = made_weather(normals(), FIRST, LAST, 3, np.random.default_rng(1))
    assert len(together(made, made, np.random.default_rng(1))) == 6
    with pytest.raises(InputError, match="different days"):
        together(made, made.between(NEW_DAY, NEW_DAY), np.random.default_rng(1))


def test_what_stands_for_the_days_ahead() -> None:
    record = numbered_record(date(2010, 1, 1), date(2023, 5, 31))
    short = numbered_record(date(2023, 1, 1), date(2023, 5, 31))
    runs = members_of([forecast(5, rain_mm=float(k)) for k in range(4)], "an ensemble")
    told = forecast(10)

    def source(**given: object) -> str:
        rng = np.random.default_rng(1)
        ahead = members_ahead(FIRST, LAST, 12, rng, normals(), **given)  # type: ignore[arg-type]
        assert (len(ahead), len(ahead.times)) == (12, 60)
        return ahead.source

    assert source() == "days made by chance from monthly normals"
    assert source(record=short) == "days made by chance from monthly normals"
    both = "the same dates of 13 years at the same station and days made by chance from monthly normals"
    assert source(record=record) == both
    assert source(forecast=told, record=record) == f"a forecast; then {both}"
    assert source(forecast=told, ensemble=runs).startswith("an ensemble; then days made by chance")
    tomorrow = members_of([forecast(5, first=date(2023, 6, 2))], "an ensemble without today")
    assert source(forecast=told, ensemble=tomorrow).startswith("a forecast; then days")
    stale = members_of([forecast(5, first=date(2023, 5, 1))], "an old ensemble")
    assert source(forecast=told, ensemble=stale).startswith("a forecast; then days")
