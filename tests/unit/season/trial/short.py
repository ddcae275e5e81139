"""Short seasons of the trial's own gardens, so that they are lived through in a second or two."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from soakbook.season.trial.case import Case
from soakbook.season.trial.proof import SETUPS, proof_case

BED = next(s for s in SETUPS if s.plant == "bean_bush")
SPRAYED = next(s for s in SETUPS if s.plant == "lettuce_head")
POT = next(s for s in SETUPS if s.plant == "lettuce_leaf")


def short_case(setup: object = BED, *, wban: str = "53182", seed: int = 3, days: int = 45) -> Case:
    """A case whose weather ends after so many days."""
    case = proof_case(wban, setup, seed)  # type: ignore[arg-type]
    last = case.weather.times[case.at + days - 1]
    return replace(case, weather=case.weather.between(case.weather.times[0], last))


def with_weather_from(case: Case, day: int, *, rain_mm: float, warmer_c: float) -> Case:
    """The same case with other weather from a day of the season on."""
    at = case.at + day
    columns = {k: v.copy() for k, v in case.weather.columns.items()}
    columns["rain_mm"][at:] = rain_mm
    for name in ("t_max_c", "t_min_c"):
        columns[name][at:] += warmer_c
    assert np.all(np.isfinite(columns["rain_mm"]))
    return replace(case, weather=replace(case.weather, columns=columns))
