"""Does the ground of the hidden garden hold, and lose to the air, what is printed of soils of its name?

The truths of the trial are drawn by Richards' equation and fitted curves, our balance goes by FAO-56. Where a fitted curve leaves a soil of some
name without water, as that of Carsel and Parrish does sand, the trial would be of a ground nobody gardens on. Held against FAO-56
Table 19 (Allen et al. 1998): the water between field capacity and wilting point, here between 100 and 15,000 cm of suction, and
what the surface loses, here in the :data:`DAYS` after a soaking with nothing growing.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from soakbook.season.truth.curves import water_content
from soakbook.season.truth.day import DayWeather
from soakbook.season.truth.draw import Believed, Spread, draw
from soakbook.season.truth.garden import Truth
from tests.measured.trial_cells import table

_TABLE_19 = Path(__file__).parents[1] / "data" / "fao56_tables" / "table19.csv"
#: What a row of Table 19 is called by us, where that is more than its name.
_NAMES = {"Silt clay loam": "silty_clay_loam"}
#: Grounds drawn of each name, the soaking, the days after it, and their reference evapotranspiration. [-], [mm], [d], [mm/d]
DRAWN, SOAKED_MM, DAYS, ETO_MM = 24, 75.0, 20, 5.0
#: Table 19's field capacity lies nearer 330 cm for loams and finer; at 100 cm they hold more. Medians may lie so far outside the printed range,
#: as parts of its ends.
HOLDS_WITHIN, LOSES_WITHIN = (0.75, 1.6), (0.7, 2.4)
_SOUND = Spread(faults=0.0)
#: A plant that covers next to nothing for the first weeks.
_SLOW = "tomato_tall"


@dataclass(frozen=True)
class Ground:
    """Grounds of one name. Printed (low, high) and drawn (tenth, median, nine tenths): available water [m³/m³], and what is lost to the air [mm]."""

    name: str
    held_printed: tuple[float, float]
    held: tuple[float, float, float]
    lost_printed: tuple[float, float]
    lost: tuple[float, float, float]


@cache
def hidden_grounds() -> tuple[Ground, ...]:
    """Every row of Table 19."""
    with _TABLE_19.open(newline="", encoding="utf-8") as file:
        return tuple(_ground(row) for row in csv.DictReader(file))


def _ground(row: dict[str, str]) -> Ground:
    name = _NAMES.get(row["soil_type"], row["soil_type"].lower().replace(" ", "_"))
    hidden = draw([Believed(_SLOW, name, "sprinkler")] * DRAWN, 19, spread=_SOUND)
    held = [float(water_content(soils[0], -100.0) - water_content(soils[0], -15_000.0)) for soils in hidden.layers]
    truth = Truth(hidden)
    truth.step(DayWeather(ETO_MM, 0.0), SOAKED_MM)
    for _ in range(DAYS):
        truth.step(DayWeather(ETO_MM, 0.0))
    lost = np.sum([day.evaporation for day in truth.days[1:]], axis=0)
    return Ground(
        name,
        (float(row["theta_fc_minus_wp_low_m3_per_m3"]), float(row["theta_fc_minus_wp_high_m3_per_m3"])),
        _three(held),
        (float(row["tew_ze_0p10m_low_mm"]), float(row["tew_ze_0p10m_high_mm"])),
        _three(lost),
    )


def ground_section(found: tuple[Ground, ...]) -> str:
    """Part of the page of accuracy."""
    rows = table(
        ("ground", "holds: printed", "drawn", "loses to the air: printed", "drawn"),
        [
            (g.name.replace("_", " "), f"{g.held_printed[0]:.2f} to {g.held_printed[1]:.2f}", _spread(g.held, 3),
             f"{g.lost_printed[0]:.0f} to {g.lost_printed[1]:.0f}", _spread(g.lost, 0))
            for g in found
        ],
    )  # fmt: skip
    return f"""
## The ground of the hidden garden

Is the trial's ground what is printed of soils of its name (FAO-56 Table 19)? Printed ranges, and of {DRAWN} grounds drawn the median with the middle 80 % in brackets. *Holds*: available water, m³/m³, drawn
between 100 and 15,000 cm of suction. *Loses to the air*, mm: printed of the top 10 cm alone, drawn in {DAYS} days at {ETO_MM:.0f} mm/d after {SOAKED_MM:.0f} mm, with hardly a leaf. A test holds the medians
within {HOLDS_WITHIN[0]:g} times the lower and {HOLDS_WITHIN[1]:g} times the upper end of what is printed to hold, and {LOSES_WITHIN[0]:g} and {LOSES_WITHIN[1]:g} times of what is printed to be lost.

{rows}

Coarse ground of the trial holds and loses what is printed at the least, silty ground more than is printed at the most: at 100 cm it is wetter than at the field capacity of the table, and it brings water up
from below the top 10 cm. Advice that goes by FAO-56, as ours does, takes silty places for smaller and coarse ones for larger than most of them are there. Until this was looked at, sand was drawn around the
class mean of Carsel and Parrish too, and held 0.01 and lost 1 mm: no ground anybody gardens on ([how far to believe the trial](trial.md#how-far-to-believe-it)).
"""


def _three(values: ArrayLike) -> tuple[float, float, float]:
    low, middle, high = np.quantile(np.asarray(values, dtype=float), [0.1, 0.5, 0.9])
    return float(low), float(middle), float(high)


def _spread(three: tuple[float, float, float], digits: int) -> str:
    low, middle, high = (f"{value:.{digits}f}" for value in three)
    return f"{middle} [{low}, {high}]"
