"""A column of a table brought to the unit of the series; a unit that is not stated is told from the values, aloud."""

from __future__ import annotations

import numpy as np

from soakbook.physics.air import wind_to_2m_ms
from soakbook.said import join_said, say
from soakbook.weather.series import FloatArray
from soakbook.weather.sources.headers import Heading
from soakbook.weather.sources.unit_words import QUANTITY, conversion

#: What weather services and most station files report when they do not say the height. [m]
USUAL_WIND_HEIGHT_M = 10.0


def in_series_unit(
    column: str, heading: Heading, values: FloatArray, step_s: float, temperature_unit: str
) -> tuple[FloatArray, str]:
    """The values in the unit of the series, and the sentence that says what was made of the column."""
    unit, guessed = heading.unit, False
    if not unit and heading.text.lower() != column:
        unit = temperature_unit if QUANTITY[column] == "temperature" else _guess(column, values, step_s)
        guessed = True
    out = values
    if unit:
        pair = conversion(column, unit, step_s)
        if pair is None:  # read_heading lets only fitting units through
            raise AssertionError(f"{unit} does not fit {column}")
        out = values * pair[0] + pair[1]
    said: list[str] = [say("{heading} is {column}", heading=repr(heading.text), column=column)]
    if unit:
        said.append(say(" in {unit}", unit=unit))
        said.append(say(", a unit the file does not state") if guessed else "")
    if column == "wind_2m_ms" and heading.text.lower() != column:
        height = heading.height_m if heading.height_m is not None else USUAL_WIND_HEIGHT_M
        if height != 2.0:
            out = wind_to_2m_ms(out, height)
        said.append(say(", measured at {height:g} m", height=height))
        said.append("" if heading.height_m is not None else say(", a height the file does not state"))
        said.append("" if height == 2.0 else say(" and brought to 2 m"))
    return out, join_said([*said, "."], "")


def guess_temperature_unit(columns: list[FloatArray]) -> str:
    """°C unless the values can only be °F (one in five above 50) or K (most above 200)."""
    values = np.concatenate([c[np.isfinite(c)] for c in columns]) if columns else np.array([])
    if len(values) == 0:
        return "°C"
    if float(np.median(values)) > 200.0:
        return "K"
    return "°F" if float(np.percentile(values, 80)) > 50.0 else "°C"


def _guess(column: str, values: FloatArray, step_s: float) -> str:
    finite = values[np.isfinite(values)]
    top = float(finite.max()) if len(finite) else 0.0
    middle = float(np.median(finite)) if len(finite) else 0.0
    quantity = QUANTITY[column]
    if quantity == "percent":
        return "fraction" if column != "rain_chance_pct" and 0.0 < top <= 1.0 else "%"
    if quantity == "energy":
        return "W/m²" if top > (48.0 if step_s > 7200 else 6.0) else "MJ/m²"
    if quantity == "duration":
        return "h" if (top <= 24.0 and step_s > 7200) or top <= 1.0 else "min" if top <= 1440.0 else "s"
    if column == "vapour_pressure_kpa":
        return "hPa" if top > 6.0 else "kPa"
    if quantity == "pressure":
        return "Pa" if middle > 20_000 else "hPa" if middle > 300 else "kPa" if middle > 40 else "inHg"
    return {"speed": "m/s", "depth": "mm"}[quantity]
