"""Made weather: it has the normals it was made from, and its chain has the spells it should."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.generator import (
    DAY_BEFORE,
    SAME_DAY,
    WET_AGAIN,
    amount_shape,
    made_weather,
    richardson_matrices,
    usual_days,
    wet_days,
)
from soakbook.weather.members import LEAST_RANGE_C, WeatherMembers
from soakbook.weather.normals import expected_weather
from tests.unit.weather_members.weather import FIRST, LAST, SPOTS, normals

YEAR = date(2023, 1, 1), date(2023, 12, 31)
YEARS = 200


@pytest.fixture(scope="module", params=SPOTS)
def spot(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def made(spot: str) -> WeatherMembers:
    return made_weather(normals(spot), *YEAR, YEARS, np.random.default_rng(11))


def monthly(members: WeatherMembers, values: np.ndarray) -> np.ndarray:
    month = members.times.astype("datetime64[M]").astype(int) % 12
    return np.array([values[:, month == m].mean() for m in range(12)])


def test_200_years_have_the_year_s_rain(spot: str, made: WeatherMembers) -> None:
    assert made.get("rain_mm").sum(1).mean() == pytest.approx(normals(spot).rain_mm.sum(), rel=0.04)


def test_200_years_have_each_month_s_rain_within_what_chance_allows(spot: str, made: WeatherMembers) -> None:
    month = made.times.astype("datetime64[M]").astype(int) % 12
    for m, usual in enumerate(normals(spot).rain_mm):
        totals = made.get("rain_mm")[:, month == m].sum(1)
        assert abs(totals.mean() - usual) < 4.0 * totals.std() / np.sqrt(YEARS) + 0.5


def test_200_years_have_the_wet_days(spot: str, made: WeatherMembers) -> None:
    lengths = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    wet = monthly(made, made.get("rain_mm") >= 1.0) * lengths
    # A dry month may show a day more: normals with rain but hardly a wet day are given one of usual size.
    np.testing.assert_allclose(wet, normals(spot).wet_days, atol=1.2)
    assert wet.sum() == pytest.approx(normals(spot).wet_days.sum(), abs=2.5)


@pytest.mark.parametrize(("column", "field"), [("t_max_c", "t_max_c"), ("t_min_c", "t_min_c")])
def test_200_years_have_the_temperatures(spot: str, made: WeatherMembers, column: str, field: str) -> None:
    np.testing.assert_allclose(monthly(made, made.get(column)), getattr(normals(spot), field), atol=0.35)


def test_200_years_have_the_sunlight_and_the_humidity(spot: str, made: WeatherMembers) -> None:
    usual = normals(spot)
    smooth = expected_weather(usual, *YEAR)
    month = smooth.times.astype("datetime64[M]").astype(int) % 12
    light = np.array([smooth.get("solar_mj_m2")[month == m].mean() for m in range(12)])
    # A month's mean of 200 years is left to chance by 1.4 % (weeks hang together); one month in sixty lies 2.5 times that off.
    np.testing.assert_allclose(monthly(made, made.get("solar_mj_m2")), light, rtol=0.04)
    np.testing.assert_allclose(monthly(made, made.get("vapour_pressure_kpa")), usual.vapour_pressure_kpa, rtol=0.045)


def test_rain_falls_in_wet_days_of_1_mm_or_more(made: WeatherMembers) -> None:
    rain = made.get("rain_mm")
    assert ((rain == 0.0) | (rain >= 1.0)).all()


def test_every_day_could_be(made: WeatherMembers) -> None:
    assert (made.get("t_max_c") - made.get("t_min_c") >= LEAST_RANGE_C - 1e-9).all()
    assert (made.get("vapour_pressure_kpa") > 0.0).all()
    assert (made.get("solar_mj_m2") > 0.0).all()
    assert (made.eto_mm() < 16.0).all()


def test_spells_are_those_of_the_chain() -> None:
    """A chain of first order has spells of mean length 1 / (1 - p(stay)); Geng et al. give p(stay wet) = 0.25 + 0.75 f."""
    f = 0.3
    wet = wet_days(np.full(4000, f), np.random.default_rng(2).random((4000, 50)))
    assert WET_AGAIN == 0.25
    for state, stays in ((True, 0.25 + 0.75 * f), (False, 1.0 - 0.75 * f)):
        is_state = wet == state
        ends = (is_state[:-1] & ~is_state[1:]).sum()
        assert is_state[:-1].sum() / ends == pytest.approx(1.0 / (1.0 - stays), rel=0.02)


def test_every_day_has_its_own_chance_also_where_it_changes_fast() -> None:
    chance = np.concatenate([np.full(5, 0.1), np.full(5, 0.6)])
    wet = wet_days(chance, np.random.default_rng(2).random((10, 40_000)))
    np.testing.assert_allclose(wet.mean(1), chance, atol=0.012)


def test_a_wet_yesterday_makes_today_likelier_to_be_wet() -> None:
    def wet_today(was_wet: bool) -> float:
        made = made_weather(normals(), FIRST, FIRST, 4000, np.random.default_rng(3), was_wet=was_wet)
        return float((made.get("rain_mm") > 0.0).mean())

    assert wet_today(True) - wet_today(False) == pytest.approx(0.25, abs=0.04)


def test_the_day_to_day_matrices_are_the_published_ones() -> None:
    """A and B of Richardson & Wright 1984, from the correlations of the same report (both from memory; two elements of A differ
    by 0.002 from those remembered, the rest by the rounding of the third digit)."""
    a, b = richardson_matrices()
    printed_a = [[0.567, 0.086, -0.002], [0.253, 0.504, -0.050], [-0.006, -0.039, 0.244]]
    printed_b = [[0.781, 0.0, 0.0], [0.328, 0.637, 0.0], [0.238, -0.341, 0.873]]
    np.testing.assert_allclose(a, printed_a, atol=0.0025)
    np.testing.assert_allclose(b, printed_b, atol=0.0015)
    np.testing.assert_allclose(a @ SAME_DAY, DAY_BEFORE, atol=1e-12)


def test_wet_days_are_darker_and_ask_for_less_water(made: WeatherMembers) -> None:
    wet = made.get("rain_mm") > 0.0
    light, eto = made.get("solar_mj_m2"), made.eto_mm()
    summer = slice(150, 240)
    some = wet[:, summer]
    if some.mean() < 0.02:
        pytest.skip("no wet days in these months")
    assert light[:, summer][some].mean() < 0.75 * light[:, summer][~some].mean()
    assert eto[:, summer][some].mean() < 0.9 * eto[:, summer][~some].mean()


def test_amounts_are_skewed_as_published() -> None:
    """Geng et al. 1986: the scale is -2.16 + 1.83 mean."""
    assert float(amount_shape(np.array([10.0]))[0]) == pytest.approx(10.0 / 16.14)
    assert float(amount_shape(np.array([1.6]))[0]) == 1.0


def test_the_same_seed_makes_the_same_days_and_another_does_not() -> None:
    first, again, other = (made_weather(normals(), FIRST, LAST, 5, np.random.default_rng(s)) for s in (4, 4, 5))
    for name, values in first.columns.items():
        np.testing.assert_array_equal(values, again.get(name))
    assert (first.get("rain_mm") != other.get("rain_mm")).any()


def test_members_can_be_exchanged() -> None:
    made = made_weather(normals(), FIRST, LAST, 600, np.random.default_rng(6))
    first, second = made.get("t_max_c")[:300].mean(1), made.get("t_max_c")[300:].mean(1)
    assert abs(first.mean() - second.mean()) < 4.0 * first.std() * np.sqrt(2.0 / 300.0)
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.25


def test_still_air_when_wind_is_kept() -> None:
    assert (
        made_weather(normals(), FIRST, LAST, 3, np.random.default_rng(1), wind_cv=0.0).get("wind_2m_ms") == 2.0
    ).all()
    windy = made_weather(normals(), FIRST, LAST, 400, np.random.default_rng(1)).get("wind_2m_ms")
    assert windy.mean() == pytest.approx(2.0, rel=0.02)
    assert windy.std() / windy.mean() == pytest.approx(0.36, abs=0.02)


def test_rain_in_a_month_without_wet_days_still_falls() -> None:
    from dataclasses import replace

    dry = replace(normals(), wet_days=np.zeros(12), rain_mm=np.full(12, 0.6))
    usual = usual_days(dry, *YEAR)
    assert (usual.wet_chance > 0.0).all()
    assert (usual.wet_chance * usual.wet_mm).sum() == pytest.approx(7.2, rel=0.01)
    none = replace(normals(), wet_days=np.zeros(12), rain_mm=np.zeros(12))
    assert made_weather(none, *YEAR, 3, np.random.default_rng(1)).get("rain_mm").sum() == 0.0


def test_polar_night_is_dark() -> None:
    from soakbook.weather.normals import normals_at

    made = made_weather(normals_at(69.6, 18.9), date(2023, 12, 1), date(2023, 12, 20), 4, np.random.default_rng(1))
    assert made.get("solar_mj_m2").max() < 0.01
    assert np.isfinite(made.eto_mm()).all()


def test_no_members_are_refused() -> None:
    with pytest.raises(InputError, match="at least one member"):
        made_weather(normals(), FIRST, LAST, 0, np.random.default_rng(1))
