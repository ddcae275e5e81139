"""How long a bed lasts with nobody, against hand arithmetic with the tables of FAO-56; how long a pot does, against common practice.

Source: R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56, Rome, 1998:
Table 19 (p. 144, soils), Table 22 (p. 163, roots and p), Table 17 (p. 137, Kcb), Eq. 83 (p. 162, RAW = p TAW).
"""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from soakbook.balance.columns import state_at
from soakbook.balance.layout import best_guess
from soakbook.balance.place import with_members
from soakbook.garden.model import SoilLayer
from soakbook.season.away_both import joined
from soakbook.season.away_days import best_visits
from soakbook.season.away_run import Leaving, live
from soakbook.season.away_timer import WithTimer
from tests.practice.sites import START, bed, pot
from tests.unit.season.away_scene import leaving

TABLES = Path(__file__).parents[1] / "data" / "fao56_tables"
#: Reference evapotranspiration put in by hand. [mm/day]
ETO_MM = 6.0


def row(table: str, key: str, name: str) -> dict[str, str]:
    with (TABLES / table).open(encoding="utf-8") as file:
        return next(r for r in csv.DictReader(file) if r[key] == name)


def middle(values: dict[str, str], low: str, high: str) -> float:
    return 0.5 * (float(values[low]) + float(values[high]))


def full_at(one: Leaving, eto_mm: float) -> Leaving:
    """The best guess alone, full on the morning of leaving, under a constant demand without rain."""
    days = with_members(one.days, best_guess())
    now = state_at(days.laid.columns, np.array([days.area_wet(one.first)]))
    steps = len(one.eto_mm)
    eto = np.full((steps, 1), eto_mm / one.days.steps_a_day)
    return replace(one, days=days, now=now, eto_mm=eto, rain_mm=np.zeros((steps, 1)))


@pytest.mark.parametrize("soil", ["Sand", "Loamy sand", "Sandy loam", "Loam", "Clay"])
def test_days_until_the_readily_available_water_is_used(soil: str) -> None:
    """RAW over ETc. ETc lies between the plants' own use (Kcb 0.95 of Table 17) and the most that any surface gives (Kc max, Eq. 72: 1.2 in a
    sub-humid climate, to which the dry air of the steady days adds 0.06). The rule looks at the middle of a day."""
    texture = row("table19.csv", "soil_type", soil)
    wilting = middle(texture, "theta_wp_low_m3_per_m3", "theta_wp_high_m3_per_m3")
    available = middle(texture, "theta_fc_minus_wp_low_m3_per_m3", "theta_fc_minus_wp_high_m3_per_m3")
    cabbage = row("table22.csv", "crop", "Cabbage")
    p, roots_m = float(cabbage["depletion_fraction_p_at_etc_5_mm_per_day"]), float(cabbage["root_depth_max_low_m"])
    p += 0.04 * (5.0 - 0.95 * ETO_MM)  # footnote of Table 22
    raw_mm = 1000.0 * available * roots_m * p
    ground = SoilLayer("measured", field_capacity=wilting + available, wilting_point=wilting)
    first = START + timedelta(days=62)
    one = leaving(replace(bed("cabbage", "loam"), soil=(ground,)), first=first, last=first + timedelta(days=12))
    short = live(full_at(one, ETO_MM)).short[:, 0]
    got = int(np.argmax(short))
    assert short.any()
    assert math.floor(raw_mm / (1.26 * ETO_MM) - 0.5) <= got <= math.ceil(raw_mm / (0.95 * ETO_MM) - 0.5)


@pytest.mark.parametrize(("part", "does_alone"), [(1.26, True), (0.5 * 0.95, False)])
def test_a_timer_that_gives_what_is_used_leaves_nothing_to_bring(part: float, does_alone: bool) -> None:
    """A timer gives each morning the most that any surface uses (1.26 ETo, as above), and half of what the plants use (Kcb 0.95). Of the latter a shallow
    root zone of sand is out of readily available water within the days away: (0.95 - 0.475) 6 mm/day against RAW."""
    texture, crop = row("table19.csv", "soil_type", "Sand"), row("table22.csv", "crop", "Cabbage")
    available = middle(texture, "theta_fc_minus_wp_low_m3_per_m3", "theta_fc_minus_wp_high_m3_per_m3")
    roots_m, p = float(crop["root_depth_max_low_m"]), float(crop["depletion_fraction_p_at_etc_5_mm_per_day"])
    assert 1000.0 * available * roots_m * p < 0.5 * 0.95 * ETO_MM * 12
    wilting = middle(texture, "theta_wp_low_m3_per_m3", "theta_wp_high_m3_per_m3")
    ground = SoilLayer("measured", field_capacity=wilting + available, wilting_point=wilting)
    first = START + timedelta(days=62)
    one = leaving(replace(bed("cabbage", "sand"), soil=(ground,)), first=first, last=first + timedelta(days=13))
    bare = full_at(one, ETO_MM)
    depth = part * ETO_MM / float(bare.days.laid.columns.delivery[0, 0])
    on = replace(bare, timer_mm=np.full(bare.count, depth))
    timer, coming = WithTimer((), (on,), (live(on),)), best_visits([bare], 2)
    made = joined(None, timer, coming, [bare], 2)
    assert made.setting == "planned"
    assert made.places[0].by_hand is not does_alone
    assert bool(made.round.days) is not does_alone


def test_a_tomato_in_a_pot_asks_for_water_daily_in_summer() -> None:
    """Common practice: pots daily in summer, up to twice a day; a bearing tomato in a pot 1.5 L a day."""
    one = full_at(leaving(pot("tomato_bush", 12.0), last=START + timedelta(days=66)), ETO_MM)
    outcome = live(one)
    assert outcome.short[:2, 0].any()
    assert live(one, {k: one.days.depth_mm(1.5, one.first + k) for k in range(5)}).mean < outcome.mean
