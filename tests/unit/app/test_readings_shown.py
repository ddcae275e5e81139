"""Readings on the picture of a balance: where each is drawn, and what it is said to be."""

from __future__ import annotations

from datetime import datetime

import pytest

from soakbook.app.reader import Reader
from soakbook.app.reading_view import read_at, reading_words, said_by_day
from soakbook.balance.place import PlaceDays, place_days
from soakbook.demo import DAY, FOLDER
from soakbook.garden.model import LogEntry
from soakbook.garden.readings import LIFTS, SEEN

R, US = Reader(), Reader(units="US")


@pytest.fixture(scope="module")
def bed() -> PlaceDays:
    from soakbook.advice.open import open_garden
    from soakbook.advice.sky import weather_for

    garden = open_garden(FOLDER / "garden.toml")
    return place_days(garden, garden.place("bean rows"), weather_for(garden, DAY, folder=FOLDER), until=DAY)


def entry(reading: str, value: float, depth_m: float | None = 0.2) -> LogEntry:
    at = datetime(2017, 7, 5, 8)
    return LogEntry("r", at, "reading", "bean rows", reading=reading, value=value, depth_m=depth_m)  # type: ignore[arg-type]


def test_a_sensor_at_the_ends_of_the_available_water(bed: PlaceDays) -> None:
    """FAO-56 Eq. 82: nothing is used at field capacity and all at the wilting point."""
    water = bed.laid.layers[0]
    assert read_at(entry("sensor", float(water.theta_fc)), bed) == pytest.approx(0.0, abs=0.03)
    assert read_at(entry("sensor", float(water.theta_wp)), bed) == pytest.approx(1.0, abs=0.03)
    assert read_at(entry("sensor", 0.0), bed) == 1.0


def test_tension_rises_as_water_is_used(bed: PlaceDays) -> None:
    """1500 kPa is the wilting point by definition (Saxton and Rawls 2006)."""
    at = [read_at(entry("tension", kpa), bed) for kpa in (5.0, 33.0, 100.0, 400.0, 1500.0)]
    assert at == sorted(at, key=lambda used: used or 0.0)
    assert at[0] == pytest.approx(0.0, abs=0.05)
    assert at[-1] == pytest.approx(1.0, abs=0.01)


def test_a_dial_reads_from_dry_to_wet(bed: PlaceDays) -> None:
    assert read_at(entry("dial", 10.0), bed) == 0.0
    assert read_at(entry("dial", 0.0), bed) == 1.0


def test_a_squeeze_is_drawn_in_the_middle_of_its_quarter(bed: PlaceDays) -> None:
    """USDA NRCS, percent scale: a quarter of the available water each, the last two at field capacity and above."""
    assert [read_at(entry("squeeze", float(k)), bed) for k in range(6)] == [0.875, 0.625, 0.375, 0.125, 0.0, 0.0]


@pytest.mark.parametrize("sign", [*SEEN, "weight", "flow", "meter"])
def test_a_sign_is_drawn_nowhere_on_the_scale(bed: PlaceDays, sign: str) -> None:
    assert read_at(entry(sign, 1.0), bed) is None


def test_every_reading_has_words_of_its_own() -> None:
    said = [reading_words(entry(kind, value), R) for kind in (*SEEN, "feel", "lift") for value in (0.0, 1.0)]
    said += [reading_words(entry(kind, 1.0), R) for kind in ("dial", "sensor", "tension", "weight", "flow", "meter")]
    said += [reading_words(entry("squeeze", float(k)), R) for k in range(6)]
    assert len(set(said)) == len(said)
    assert reading_words(entry("weight", 4.536), US) == "weighed 10 lb"
    assert len(LIFTS) == 3


def test_two_readings_of_one_day_are_both_told() -> None:
    said = said_by_day([entry("feel", 0.0), entry("wilted at dawn", 0.0)], R)
    assert list(said.values()) == ["felt dry; not wilted at dawn"]
