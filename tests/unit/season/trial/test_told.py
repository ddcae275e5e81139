"""Forecasts made from the weather that came: as good and as wrong as forecasts are, and no better."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.season.trial.proof import station
from soakbook.season.trial.told import TOLD_DAYS, Sky, forecast_like, known_on, members_told, sky
from soakbook.weather.series import FORECAST, OBSERVED

WBAN = "54808"


@pytest.fixture(scope="module")
def skies() -> list[Sky]:
    weather, normals = station(WBAN)
    return [sky(weather, normals, seed) for seed in range(12)]


def _pairs(skies: list[Sky], name: str, lead: int) -> tuple[np.ndarray, np.ndarray]:
    days = range(100, 280, 3)
    told = np.array([forecast_like(s, d)[name][lead - 1] for s in skies for d in days])
    came = np.array([s.truth[name][d + lead - 1] for s in skies for d in days])
    return told, came


def test_rain_is_foreseen_as_well_as_the_dressing_takes_for_granted(skies: list[Sky]) -> None:
    """Peirce score (hits less false alarms) of 1 mm: 0.70 on the first day, 0.42 on the fifth (tables of the dressing)."""
    for lead, skill in ((1, 0.70), (5, 0.42), (10, 0.13)):
        told, came = (v >= 1.0 for v in _pairs(skies, "rain_mm", lead))
        score = float(told[came].mean() - told[~came].mean())
        assert score == pytest.approx(skill, abs=0.12)


def test_rain_is_foreseen_neither_more_nor_less_than_falls(skies: list[Sky]) -> None:
    for lead in (1, 7):
        told, came = _pairs(skies, "rain_mm", lead)
        assert told.mean() == pytest.approx(came.mean(), rel=0.25)


def test_warmth_is_foreseen_worse_the_further_ahead(skies: list[Sky]) -> None:
    usual = {
        lead: np.array([s.usual["t_max_c"][d + lead - 1] for s in skies for d in range(100, 280, 3)]) for lead in (1, 7)
    }
    found = {}
    for lead in (1, 7):
        told, came = _pairs(skies, "t_max_c", lead)
        found[lead] = float(np.corrcoef(told - usual[lead], came - usual[lead])[0, 1])
    assert found[1] == pytest.approx(0.93, abs=0.05)
    assert found[7] == pytest.approx(0.68, abs=0.12)


def test_bands_of_the_members_hold(skies: list[Sky]) -> None:
    """80 % bands of a week's sum of ETo hold the truth about that often; the year is one, so the bounds are wide."""
    inside = []
    for s in skies[:6]:
        for day in range(110, 260, 10):
            members = members_told(s, day, 50)
            sums = members.eto_mm()[:, :7].sum(axis=1)
            from dataclasses import replace

            truth = replace(
                members, columns={k: s.truth[k][None, day : day + len(members.times)] for k in members.columns}
            )
            low, high = np.quantile(sums, (0.1, 0.9))
            inside.append(low <= float(truth.eto_mm()[0, :7].sum()) <= high)
    assert 0.6 <= np.mean(inside) <= 0.95


def test_a_day_once_foreseen_stays_foreseen(skies: list[Sky]) -> None:
    for s in skies:
        for day in range(120, 140):
            far, near = (
                (s.truth["rain_mm"][day] > 0.0) == (forecast_like(s, day - 4)["rain_mm"][4] > 0.0),
                (s.truth["rain_mm"][day] > 0.0) == (forecast_like(s, day)["rain_mm"][0] > 0.0),
            )
            held = s.other["rain_mm"][day] > 0.0
            if held != (s.truth["rain_mm"][day] > 0.0) and far:
                assert near


def test_what_is_known_is_past_weather_then_the_forecast(skies: list[Sky]) -> None:
    s = skies[0]
    known = known_on(s, 150, 100)
    assert np.all(known.kind[:50] == OBSERVED)
    assert np.all(known.kind[50 : 50 + TOLD_DAYS] == FORECAST)
    np.testing.assert_array_equal(known.get("rain_mm")[:50], s.truth["rain_mm"][100:150])
    np.testing.assert_array_equal(known.get("rain_mm")[50 : 50 + TOLD_DAYS], forecast_like(s, 150)["rain_mm"])
