"""A dressed forecast: near days follow it, far days forget it, and its mean moves as stated."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.dressing import (
    LEADS,
    LIGHT_SKILL,
    RAIN_ERROR,
    RAIN_SKILL,
    WARMTH_SKILL,
    dressed,
    skill,
)
from soakbook.weather.generator import made_weather
from soakbook.weather.members import WeatherMembers
from tests.unit.weather_members.weather import FIRST, LAST, forecast, normals

COUNT = 3000
LEAD = np.arange(1.0, 17.0)


@pytest.fixture(scope="module")
def ground() -> WeatherMembers:
    return made_weather(normals(), FIRST, LAST, COUNT, np.random.default_rng(21))


@pytest.fixture(scope="module")
def dry(ground: WeatherMembers) -> WeatherMembers:
    return dressed(forecast(), ground, np.random.default_rng(22))


@pytest.fixture(scope="module")
def wet(ground: WeatherMembers) -> WeatherMembers:
    return dressed(forecast(rain_mm=12.0), ground, np.random.default_rng(22))


def test_the_mean_rain_is_the_forecast_s_and_the_usual_by_skill(wet: WeatherMembers, ground: WeatherMembers) -> None:
    left = skill(RAIN_SKILL, LEAD)
    stated = left * 12.0 + (1.0 - left) * ground.get("rain_mm")[:, :16].mean()
    chance = wet.get("rain_mm")[:, :16].std(0) / np.sqrt(COUNT)
    assert (np.abs(wet.get("rain_mm")[:, :16].mean(0) - stated) < 5.0 * chance).all()


def test_the_mean_temperature_is_the_forecast_s_and_the_usual_by_skill(
    dry: WeatherMembers, ground: WeatherMembers
) -> None:
    left = skill(WARMTH_SKILL, LEAD)
    usual = ground.get("t_max_c")[:, :16].mean(0)
    np.testing.assert_allclose(dry.get("t_max_c")[:, :16].mean(0), usual + left * (34.0 - usual), atol=0.05)


def test_sunlight_and_wind_lie_between_the_forecast_and_the_usual(dry: WeatherMembers, ground: WeatherMembers) -> None:
    for name, told in (("solar_mj_m2", 26.0), ("wind_2m_ms", 3.0)):
        usual = ground.get(name)[:, :16].mean(0)
        near, far = dry.get(name)[:, 0].mean(), dry.get(name)[:, 15].mean()
        assert abs(near - told) < 0.35 * abs(usual[0] - told) + 0.05
        assert abs(far - usual[15]) < 0.2 * abs(usual[15] - told) + 0.1


def test_the_peirce_score_of_the_members_is_the_skill(dry: WeatherMembers, wet: WeatherMembers) -> None:
    hit = (wet.get("rain_mm")[:, :16] > 0.0).mean(0)
    false_alarm = (dry.get("rain_mm")[:, :16] > 0.0).mean(0)
    np.testing.assert_allclose(hit - false_alarm, skill(RAIN_SKILL, LEAD), atol=0.05)


def test_more_lead_more_spread(dry: WeatherMembers, ground: WeatherMembers) -> None:
    for values, usual in (
        (dry.get("t_max_c"), ground.get("t_max_c")),
        (dry.get("t_min_c"), ground.get("t_min_c")),
        (dry.eto_mm(), ground.eto_mm()),
        (dry.get("rain_mm"), ground.get("rain_mm")),
    ):
        at = [values[:, lead - 1].std() for lead in (1, 4, 8)]
        assert at[0] < at[1] < at[2]
        assert at[2] < 1.3 * usual[:, 7].std()


def test_beyond_the_forecast_members_are_their_ground(dry: WeatherMembers, ground: WeatherMembers) -> None:
    for name, values in dry.columns.items():
        np.testing.assert_array_equal(values[:, 16:], ground.get(name)[:, 16:])


def test_tables_fall_to_nothing_and_errors_rise() -> None:
    for table in (RAIN_SKILL, LIGHT_SKILL, WARMTH_SKILL):
        assert (np.diff(table) < 0.0).all()
        assert table[-1] == 0.0
        assert len(table) == len(LEADS)
    assert (np.diff(RAIN_ERROR) >= 0.0).all()
    assert float(skill(RAIN_SKILL, np.array([40.0]))[0]) == 0.0


def test_a_member_that_lost_the_forecast_has_mostly_lost_it(wet: WeatherMembers) -> None:
    """Errors go on from day to day: days 4 and 5 fail together more than by chance."""
    rain = wet.get("rain_mm")
    lost = rain[:, 3:5] == 0.0
    together = lost.all(1).mean()
    assert together > 1.5 * lost[:, 0].mean() * lost[:, 1].mean()
    warm = wet.get("t_max_c")[:, 3:5]
    assert np.corrcoef(warm.T)[0, 1] > 0.4


def test_a_demand_three_days_ahead_is_as_uncertain_as_published() -> None:
    """ETo from three-day forecasts: RMSE 0.68 mm/d over seven sites (2020; see dressing). Forecasts here are drawn from the same
    climate as the truth, so that the spread about a forecast is its error."""
    rng = np.random.default_rng(5)
    told = made_weather(normals(), date(2023, 6, 1), date(2023, 6, 3), 40, rng, wind_cv=0.0)
    ground = made_weather(normals(), date(2023, 6, 1), date(2023, 6, 3), 100, rng, wind_cv=0.0)
    off = [dressed(told.series(k), ground, rng).eto_mm() - told.eto_mm()[k] for k in range(40)]
    assert 0.5 < float(np.sqrt(np.mean(np.square(off)))) < 1.0


def test_the_same_seed_dresses_alike(ground: WeatherMembers) -> None:
    one, again, other = (dressed(forecast(rain_mm=5.0), ground, np.random.default_rng(s)) for s in (1, 1, 2))
    np.testing.assert_array_equal(one.get("rain_mm"), again.get("rain_mm"))
    assert (one.get("rain_mm") != other.get("rain_mm")).any()


def test_a_forecast_that_begins_elsewhere_is_refused(ground: WeatherMembers) -> None:
    with pytest.raises(InputError, match="begin on a day"):
        dressed(forecast(first=date(2023, 5, 1)), ground, np.random.default_rng(1))


def test_a_forecast_longer_than_wanted_is_cut(ground: WeatherMembers) -> None:
    short = ground.between(ground.times[0], ground.times[4])
    assert len(dressed(forecast(16), short, np.random.default_rng(1)).times) == 5
