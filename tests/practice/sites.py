"""Places under steady weather, for checks against what gardeners see."""

from __future__ import annotations

from datetime import date

import numpy as np

from soakbook.advice.season import Season, water_by_rule
from soakbook.balance.place import PlaceDays, place_days
from soakbook.garden.model import Garden, Place, Planting, PotShape, SoilLayer
from soakbook.physics.potting import pot_from_volume
from soakbook.weather.series import WeatherSeries

START = date(2026, 5, 1)
#: Steady days at 40° N in summer. Warm and dry comes to about 6 mm a day of ETo, cool to about 3.7, hot to about 8.
WEATHER = {
    "warm": {"t_max_c": 30.0, "t_min_c": 16.0, "rh_max_pct": 85.0, "rh_min_pct": 35.0, "wind_2m_ms": 2.0, "solar_mj_m2": 25.0},
    "cool": {"t_max_c": 21.0, "t_min_c": 10.0, "rh_max_pct": 90.0, "rh_min_pct": 45.0, "wind_2m_ms": 2.0, "solar_mj_m2": 18.0},
    "hot": {"t_max_c": 37.0, "t_min_c": 22.0, "rh_max_pct": 70.0, "rh_min_pct": 22.0, "wind_2m_ms": 2.5, "solar_mj_m2": 28.0},
}  # fmt: skip


def steady(kind: str, days: int = 150) -> WeatherSeries:
    """The same dry day over and over."""
    times = np.datetime64(START) + np.arange(days)
    columns = {k: np.full(days, v) for k, v in WEATHER[kind].items()}
    columns["rain_mm"] = np.zeros(days)
    return WeatherSeries("day", times, columns, 40.0, 0.0, 100.0, "UTC", "steady", np.zeros(days, dtype=np.uint8))


def bed(plant: str, texture: str, *, means: str = "sprinkler", count: int | None = None, planted: bool = True, area_m2: float = 4.0,
        established: bool = False, width_m: float | None = None) -> Place:  # fmt: skip
    planting = Planting(
        plant,
        planted_out=START if planted and not established else None,
        sown=None if planted or established else START,
        established=established,
        count=count,
        width_m=width_m,
        measured_on=START if width_m else None,
    )
    return Place("bed", "bed", (SoilLayer("texture", texture=texture),), area_m2, means=means, plantings=(planting,))


def pot(plant: str, litres: float, *, wall: str = "plastic", mix: str = "multipurpose") -> Place:
    form = pot_from_volume(litres)
    shape = PotShape(form.height_m, form.top_area_m2, form.base_area_m2, wall=wall)  # type: ignore[arg-type]
    planting = Planting(plant, planted_out=START, count=1)
    return Place(
        "pot", "pot", (SoilLayer("mix", mix=mix),), form.top_area_m2, pot=shape, means="can", plantings=(planting,)
    )


def days_of(place: Place, kind: str, days: int = 150) -> PlaceDays:
    garden = Garden("test", 40.0, 0.0, 100.0, "UTC", (place,))
    return place_days(garden, place, steady(kind, days))


def season(place: Place, kind: str, days: int = 150) -> tuple[PlaceDays, Season]:
    laid = days_of(place, kind, days)
    return laid, water_by_rule(laid)


def full_grown_interval(place: Place, kind: str) -> tuple[float, float]:
    """Mean days between waterings and mean litres each time, while the crop is full grown (its fruiting phase)."""
    from soakbook.balance.crops import FRUITING

    laid, got = season(place, kind)
    full = laid.days[laid.crops.phase == FRUITING]
    soaks = [s for s in got.soaks if full[0] <= np.datetime64(s.on) <= full[-1]]
    span = (np.datetime64(soaks[-1].on) - np.datetime64(soaks[0].on)) / np.timedelta64(1, "D")
    return float(span) / (len(soaks) - 1), float(np.mean([s.litres for s in soaks]))
