"""Places by name and by coordinates. Coordinates of towns: geonames.org."""

from __future__ import annotations

import pytest

from soakbook.errors import InputError
from soakbook.weather.gazetteer import find_place, parse_coordinates, zone_near


@pytest.mark.parametrize(
    ("text", "lat", "lon", "zone"),
    [
        ("Sevilla", 37.38, -5.97, "Europe/Madrid"),
        ("Wien", 48.21, 16.37, "Europe/Vienna"),
        ("münchen", 48.14, 11.58, "Europe/Berlin"),
        ("Springfield, IL", 39.80, -89.64, "America/Chicago"),
        ("Portland, Oregon", 45.52, -122.68, "America/Los_Angeles"),
        ("Perth, United Kingdom", 56.40, -3.43, "Europe/London"),
        ("Perth, UK", 56.40, -3.43, "Europe/London"),
        ("Nairobi, KE", -1.28, 36.82, "Africa/Nairobi"),
    ],
)
def test_towns(text: str, lat: float, lon: float, zone: str) -> None:
    spot = find_place(text)
    assert (spot.lat_deg, spot.lon_deg) == (pytest.approx(lat, abs=0.05), pytest.approx(lon, abs=0.05))
    assert spot.time_zone == zone
    assert spot.elevation_m is None


def test_of_several_the_most_populous_is_taken_and_said() -> None:
    spot = find_place("Perth")
    assert spot.country == "Australia"
    assert "most populous" in spot.note
    assert "United Kingdom" in spot.note


def test_unknown_towns_come_with_near_names() -> None:
    with pytest.raises(InputError, match="not among the towns known") as caught:
        find_place("Sevillla")
    assert "Sevilla" in caught.value.hint
    with pytest.raises(InputError) as caught:
        find_place("Springfield, Spain")
    assert "United States" in caught.value.hint


@pytest.mark.parametrize("text", ["", "   ", "x" * 200])
def test_no_place_at_all(text: str) -> None:
    with pytest.raises(InputError):
        find_place(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("48.14, 11.58", (48.14, 11.58)),
        ("-33.9 18.4", (-33.9, 18.4)),
        ("48,14; 11,58", (48.14, 11.58)),
        ("33°27'N 111°59'W", (33.45, -111.98333)),
        ("33° 27' 0\" N, 111° 59' 0\" W", (33.45, -111.98333)),
        ("45.8 S 170.5 E", (-45.8, 170.5)),
        ("N45.8 W72.3", (45.8, -72.3)),
        ("170.5 E, 45.8 S", (-45.8, 170.5)),
        ("Springfield", None),
        ("12", None),
    ],
)
def test_coordinates(text: str, expected: tuple[float, float] | None) -> None:
    got = parse_coordinates(text)
    assert got == (None if expected is None else pytest.approx(expected, abs=1e-4))


@pytest.mark.parametrize("text", ["91, 0", "0, 181", "10 N, 20 S", "10°70'N 20°E"])
def test_coordinates_that_cannot_be(text: str) -> None:
    with pytest.raises(InputError):
        find_place(text)


def test_bare_coordinates_get_the_zone_of_the_nearest_town() -> None:
    spot = find_place("45.8, -72.3")
    assert spot.time_zone == "America/Toronto"
    assert "Drummondville" in spot.note


def test_zone_out_at_sea_follows_the_longitude() -> None:
    assert zone_near(-45.0, -120.0) == "Etc/GMT+8"
