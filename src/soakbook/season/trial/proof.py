"""The gardens of the proof: real weather of eight climates, beds on all groups of soil, and pots. The gardens are invented."""

from __future__ import annotations

import csv
import gzip
import io
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from importlib.resources import files

import numpy as np

from soakbook.catalog import read as catalog
from soakbook.garden.model import Garden, Line, Place, Planting, PotShape, SoilLayer
from soakbook.season.trial.case import SOUND, Case
from soakbook.season.truth.draw import Believed, Spread
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import MonthlyNormals, expected_weather, normals_at
from soakbook.weather.series import WeatherSeries

#: Stations of the U.S. Climate Reference Network and what their climates are like in a word.
CLIMATES = {
    "04236": "wet winter, dry summer",
    "53152": "mild, dry summer",
    "53131": "hot desert",
    "54808": "warm humid summer",
    "54794": "cool humid",
    "63869": "hot humid",
    "53182": "dry plains",
    "04136": "cool, dry summer",
}
_COLUMNS = {
    "t_max_c": "t_daily_max",
    "t_min_c": "t_daily_min",
    "rain_mm": "p_daily_calc",
    "solar_mj_m2": "solarad_daily",
    "rh_max_pct": "rh_daily_max",
    "rh_min_pct": "rh_daily_min",
}
#: Usual mean temperature from which crops of warmth and cool crops are planted. Common practice. [°C]
WARM_FROM_C, COOL_FROM_C = 15.0, 9.0
#: Base temperature from which a plant counts as one of warmth. [°C]
WARM_BASE_C = 8.0

#: Means that are opened at a tap, the name of their line, and the size of a bed.
PIPED, LINE, BED_M2 = ("drip_line", "emitters", "sprinkler"), "line", 4.8


@dataclass(frozen=True)
class Setup:
    """What grows where: a bed on a soil or a pot of a mix, with its means of watering."""

    plant: str
    ground: str
    means: str
    group: str
    pot_height_m: float = 0.0
    pot_top_m2: float = 0.0


SETUPS = (
    Setup("tomato_tall", "loamy_sand", "drip_line", "coarse"),
    Setup("carrot", "sand", "sprinkler", "coarse"),
    Setup("zucchini", "sandy_loam", "emitters", "moderately coarse"),
    Setup("lettuce_head", "sandy_loam", "sprinkler", "moderately coarse"),
    Setup("bean_bush", "loam", "can", "medium"),
    Setup("tomato_bush", "silt_loam", "drip_line", "medium"),
    Setup("cabbage", "clay_loam", "wand", "fine"),
    Setup("cucumber", "clay", "drip_line", "fine"),
    Setup("pepper_sweet", "multipurpose", "can", "pot", 0.30, 0.080),
    Setup("lettuce_leaf", "peat_perlite", "can", "pot", 0.20, 0.035),
)


@cache
def _rows() -> dict[str, list[dict[str, str]]]:
    packed = (files("soakbook.season.trial") / "data" / "stations_2020.csv.gz").read_bytes()
    found: dict[str, list[dict[str, str]]] = {}
    for row in csv.DictReader(io.StringIO(gzip.decompress(packed).decode())):
        found.setdefault(row["wban"], []).append(row)
    return found


@cache
def station(wban: str) -> tuple[WeatherSeries, MonthlyNormals]:
    """A station's year with its gaps filled, and the usual weather of the spot."""
    rows = _rows()[wban]
    normals = normals_at(float(rows[0]["latitude"]), float(rows[0]["longitude"]))
    times = np.array([r["date"] for r in rows], dtype="datetime64[D]")
    columns = {ours: np.array([float(r[theirs] or "nan") for r in rows]) for ours, theirs in _COLUMNS.items()}
    series = WeatherSeries(
        "day", times, columns, normals.lat_deg, normals.lon_deg, normals.elevation_m, "UTC", "USCRN daily01",
        np.zeros(len(times), dtype=np.uint8),
    )  # fmt: skip
    return fill_gaps(series, normals), normals


def planting_day(normals: MonthlyNormals, warm: bool, year: int) -> date:
    """The first day from February on that is usually warm enough."""
    usual = expected_weather(normals, date(year, 2, 1), date(year, 6, 15))
    mean = 0.5 * (usual.get("t_max_c") + usual.get("t_min_c"))
    over = mean >= (WARM_FROM_C if warm else COOL_FROM_C)
    at = int(np.argmax(over)) if bool(over.any()) else len(mean) - 1
    found: date = usual.times[at].astype(date)
    return found


def proof_case(wban: str, setup: Setup, seed: int, spread: Spread | None = None) -> Case:
    """A case of the proof."""
    weather, normals = station(wban)
    plant = catalog.plant(setup.plant)
    year: int = int(weather.times[0].astype("datetime64[Y]").astype(int)) + 1970
    first = planting_day(normals, float(plant.base_temp_c) >= WARM_BASE_C, year)
    if plant.sown_in_place:  # from the day the seedlings are up: truth knows no seedbed
        planting = Planting(setup.plant, sown=first - timedelta(days=round(float(plant.germination_days)) + 1))
    else:
        planting = Planting(setup.plant, planted_out=first)
    garden = Garden(
        "trial", normals.lat_deg, normals.lon_deg, normals.elevation_m, "UTC", (_place(setup, planting),),
        lines=(_line(setup),) if setup.means in PIPED else (), invented=True,
    )  # fmt: skip
    is_pot = setup.group == "pot"
    believed = Believed(
        setup.plant, setup.ground, setup.means, "pot" if is_pot else "bed", 100.0 * setup.pot_height_m or 25.0
    )
    key = f"{wban} {setup.plant} {setup.ground} {seed}"
    return Case(key, CLIMATES[wban], setup.group, garden, believed, weather, first, seed, spread or SOUND)


def _place(setup: Setup, planting: Planting) -> Place:
    if setup.group == "pot":
        pot = PotShape(setup.pot_height_m, setup.pot_top_m2, 0.65 * setup.pot_top_m2)
        soil = (SoilLayer("mix", mix=setup.ground),)
        return Place("pot", "pot", soil, setup.pot_top_m2, pot=pot, means=setup.means, plantings=(planting,))
    soil = (SoilLayer("texture", texture=setup.ground),)
    line = LINE if setup.means in PIPED else None
    return Place(
        "bed", "bed", soil, BED_M2, length_m=4.0, width_m=1.2, means=setup.means, line=line, plantings=(planting,)
    )


def _line(setup: Setup) -> Line:
    """The line of a bed; its grower has held a bucket under it before the season (common practice)."""
    way = catalog.means()[setup.means]
    return Line(LINE, setup.means, BED_M2 * float(way.wetted_fraction) * float(way.rate_mm_h), flow_is_measured=True)


def proof_set(draws: int = 1, seed: int = 1, spread: Spread | None = None) -> list[Case]:
    """All set-ups in all climates, each drawn so many times; seeds of one place do not depend on the others."""
    return [
        proof_case(wban, setup, seed + 10_000 * k + 100 * i + n, spread)
        for k in range(draws)
        for i, wban in enumerate(CLIMATES)
        for n, setup in enumerate(SETUPS)
    ]
