"""Odds on rain counted by hand and said in words."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.said import Said
from soakbook.weather.members import MEMBER_COLUMNS, WeatherMembers
from soakbook.weather.odds import in_words, rain_ahead, rain_odds, tenths, told_ahead

DAY = date(2024, 7, 4)


def members(rain_mm: list[list[float]]) -> WeatherMembers:
    """Rain by member and day; the rest does not matter."""
    rain = np.array(rain_mm)
    columns = {name: np.ones(rain.shape) for name in MEMBER_COLUMNS}
    times = np.datetime64(DAY) + np.arange(rain.shape[1])
    return WeatherMembers(times, {**columns, "rain_mm": rain}, 50.0, 8.0, 100.0, "made up")


def test_chances_and_the_middle_amount_are_counted_over_the_members() -> None:
    """Ten members: wet (1 mm or more) in seven, 5 mm or more in four, the middle of the wet ones 6 mm; 0.9 mm is no rain."""
    found = rain_odds(members([[mm] for mm in (0.0, 0.0, 0.9, 1.0, 2.0, 3.0, 6.0, 8.0, 9.0, 30.0)]))
    assert [(o.day, o.chance, o.good_chance, o.amount_mm, o.in_ten) for o in found] == [(DAY, 0.7, 0.4, 6.0, 7)]
    assert found[0].text == "rain likely on 2024-07-04 (7 in 10), about 6 mm if it comes"


def test_days_worth_telling_ahead_are_few_and_told_in_one_sentence() -> None:
    """Ten members over five days: wet in 2, 4, 9, 3 and 5 of them. The first is left out for its odds, the fourth as the least of four."""
    wet = (2, 4, 9, 3, 5)
    found = rain_ahead(members([[6.0 if k < n else 0.0 for n in wet] for k in range(10)]), DAY)
    assert [(o.day.day, o.in_ten) for o in found] == [(5, 4), (6, 9), (8, 5)]
    words = told_ahead(found, lambda day: f"{day:%a} {day.day}")
    assert words == (
        "rain may come on Fri 5 (4 in 10), about 6 mm if it does; rain very likely on Sat 6 (9 in 10 or more), about 6 mm; "
        "rain as likely as not on Mon 8 (5 in 10), about 6 mm if it comes"
    )
    assert rain_ahead(members([[0.0]] * 5), DAY) == ()
    assert told_ahead((), str) == "No rain to reckon with in the next 7 days."


def test_days_are_given_in_the_order_asked_for() -> None:
    found = rain_odds(members([[0.0, 4.0, 0.0]] * 5), [DAY + timedelta(days=1), DAY])
    assert [(o.day.day, o.chance) for o in found] == [(5, 1.0), (4, 0.0)]
    assert len(rain_odds(members([[0.0, 4.0, 0.0]] * 5))) == 3


def test_a_day_outside_the_members_is_refused() -> None:
    with pytest.raises(InputError, match="no 2024-07-03; they go from 2024-07-04 to 2024-07-05"):
        rain_odds(members([[0.0, 0.0]]), [DAY - timedelta(days=1)])


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.00, "no rain in sight on 2024-07-04"),
        (0.04, "no rain in sight on 2024-07-04"),
        (0.06, "rain unlikely on 2024-07-04 (1 in 10), about 3 mm if it comes"),
        (0.24, "rain unlikely on 2024-07-04 (2 in 10), about 3 mm if it comes"),
        (0.26, "rain may come on 2024-07-04 (3 in 10), about 3 mm if it does"),
        (0.44, "rain may come on 2024-07-04 (4 in 10), about 3 mm if it does"),
        (0.46, "rain as likely as not on 2024-07-04 (5 in 10), about 3 mm if it comes"),
        (0.66, "rain likely on 2024-07-04 (7 in 10), about 3 mm if it comes"),
        (0.84, "rain likely on 2024-07-04 (8 in 10), about 3 mm if it comes"),
        (0.90, "rain very likely on 2024-07-04 (9 in 10 or more), about 3 mm"),
        (1.00, "rain very likely on 2024-07-04 (9 in 10 or more), about 3 mm"),
    ],
)
def test_the_words_go_up_with_the_chance(chance: float, said: str) -> None:
    assert in_words(DAY, chance, 3.2) == said


def test_amounts_are_said_no_finer_than_they_can_be_known() -> None:
    said = [in_words(DAY, 0.5, mm).values["mm"].value for mm in (1.1, 2.4, 18.6, 22.0, 23.0, 48.0)]
    assert said == [1.0, 2.0, 19.0, 20.0, 25.0, 50.0]


def test_the_words_can_be_retold_in_another_language() -> None:
    said = in_words(DAY, 0.5, 3.0)
    assert isinstance(said, Said)
    assert said.values["day"] == DAY
    assert said.values["n"] == 5


def test_halves_go_up() -> None:
    assert [tenths(c) for c in (0.0, 0.049, 0.05, 0.15, 0.949, 0.95)] == [0, 0, 1, 2, 9, 10]
