"""Covers and shelter against measured ratios, and their limits."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.physics import covers
from soakbook.physics.evapotranspiration import reference_et_daily


def eto(solar: object, wind: object) -> float:
    """A warm, dry, breezy summer day (values chosen for the test)."""
    return float(
        reference_et_daily(
            28.0,
            15.0,
            vapour_pressure_kpa=1.5,
            solar_mj_m2=solar,
            wind_2m_ms=wind,
            elevation_m=100.0,
            lat_deg=45.0,
            day_of_year=190,
        )
    )


def under(cover: str, solar: float = 25.0, wind: float = 2.0) -> float:
    bent = eto(covers.radiation_under_cover(solar, cover), covers.wind_under_cover(wind, cover))
    return bent / eto(solar, wind)


@pytest.mark.parametrize("cover", ["tunnel", "glass"])
def test_glass_and_film_lie_in_the_range_of_pans_inside_and_outside(cover: str) -> None:
    # Pans: 0.64 in a glasshouse (Int. J. Glob. Environ. Issues 17(4), 2018), 0.54-0.59 in plastic
    # greenhouses; up to 0.84 by crop water use in a ventilated polyhouse.
    assert 0.54 <= under(cover) <= 0.84


def test_shade_cloth_and_fleece_take_less_than_their_shade() -> None:
    # Common practice: 30-50 % cloth leaves 0.65-0.85 of the demand, fleece 0.8-0.9.
    assert 0.5 < under("shade_cloth") < 0.75
    assert 0.75 < under("fleece") < 0.92
    assert under("none") == 1.0


def test_strong_shelter_saves_what_a_windbreak_trial_measured() -> None:
    # A windbreak trial: evaporation 15-20 % lower in its lee, in a wind worth sheltering from.
    sheltered = eto(25.0, covers.sheltered_wind(5.0, "strong")) / eto(25.0, 5.0)
    assert 0.78 <= sheltered <= 0.88
    half = eto(25.0, covers.sheltered_wind(5.0, "some")) / eto(25.0, 5.0)
    assert sheltered < half < 1.0


def test_shelter_neither_adds_wind_nor_stills_it() -> None:
    np.testing.assert_allclose(covers.sheltered_wind([0.2, 0.6, 4.0], "strong"), [0.2, 0.5, 2.0])
    np.testing.assert_allclose(covers.sheltered_wind([0.2, 4.0], "open"), [0.2, 4.0])
    np.testing.assert_allclose(covers.wind_under_cover([0.2, 4.0], "glass"), [0.2, 0.5])


def test_film_and_glass_keep_off_the_rain_and_cloth_does_not() -> None:
    assert covers.rain_under_cover(10.0, "tunnel") == 0.0
    assert covers.rain_under_cover(10.0, "glass") == 0.0
    assert covers.rain_under_cover(10.0, "shade_cloth") == 10.0
    assert covers.rain_under_cover(10.0, "none", 0.4) == 4.0


def test_label_of_the_cloth_overrides() -> None:
    assert covers.radiation_under_cover(20.0, "shade_cloth", 0.7) == pytest.approx(14.0)


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: covers.radiation_under_cover(1.0, "tent"), "cover.unknown"),
        (lambda: covers.radiation_under_cover(1.0, "fleece", 30.0), "cover.transmittance"),
        (lambda: covers.rain_under_cover(1.0, "none", -0.1), "cover.rain"),
        (lambda: covers.sheltered_wind(1.0, "cave"), "shelter.unknown"),
    ],
)
def test_what_is_not_known_is_refused(call: object, code: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.code == code
