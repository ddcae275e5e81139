"""Daily files of the U.S. Climate Reference Network (product daily01), untouched or with a heading line.

Fields and missing codes: National Centers for Environmental Information, readme of product CRND0103 (H. J. Diamond et
al., "U.S. Climate Reference Network after one decade of operations", Bulletin of the American Meteorological Society
94, 2013, 485-498). The network measures no wind.
"""

from __future__ import annotations

import re
from datetime import date

import numpy as np

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import FloatArray, WeatherSeries
from soakbook.weather.sources.cells import read_number

_FIELDS = re.split(
    " ",
    "wbanno lst_date crx_vn longitude latitude t_daily_max t_daily_min t_daily_mean t_daily_avg p_daily_calc "
    "solarad_daily sur_temp_daily_type sur_temp_daily_max sur_temp_daily_min sur_temp_daily_avg rh_daily_max "
    "rh_daily_min rh_daily_avg soil_moisture_5_daily soil_moisture_10_daily soil_moisture_20_daily "
    "soil_moisture_50_daily soil_moisture_100_daily soil_temp_5_daily soil_temp_10_daily soil_temp_20_daily "
    "soil_temp_50_daily soil_temp_100_daily",
)
_BECOMES = {
    "t_daily_max": "t_max_c",
    "t_daily_min": "t_min_c",
    "t_daily_avg": "t_mean_c",
    "p_daily_calc": "rain_mm",
    "solarad_daily": "solar_mj_m2",
    "rh_daily_max": "rh_max_pct",
    "rh_daily_min": "rh_min_pct",
    "rh_daily_avg": "rh_mean_pct",
}
_ROW = re.compile(r"\s*\d{5}\s+\d{8}\s+\S+\s+-?\d+\.\d+\s+-?\d+\.\d+\s")


def looks_like(head: str, path: str = "") -> bool:
    """Whether these are rows or the heading of the network's daily files."""
    first = next((line for line in head.removeprefix("\ufeff").splitlines() if line.strip()), "")
    names = {n.strip().lower() for n in first.split(",")}
    return bool(_ROW.match(first)) or {"lst_date", "t_daily_max", "t_daily_min"} <= names


def parse_uscrn(text: str, where: Where | None = None, *, name: str = "USCRN daily file") -> WeatherSeries:
    """Read a daily file of the network: one station, days of local standard time.

    Raises
    ------
    InputError
        A line with too few fields, a date or number that cannot be read, or more than one station.
    """
    table = _cells(text.removeprefix("\ufeff"), name)
    days: list[date] = []
    raw: dict[str, list[float]] = {field: [] for field in _BECOMES}
    facts: dict[str, set[str]] = {"wbanno": set(), "latitude": set(), "longitude": set()}
    for line, row in table:
        days.append(_day(row["lst_date"], line))
        for field, values in raw.items():
            cell = row.get(field, "")
            values.append(read_number(cell, decimal_comma=False, line=line, heading=field.upper()))
        for fact, seen in facts.items():
            if row.get(fact):
                seen.add(row[fact])
    if len(facts["wbanno"]) > 1:
        raise InputError(
            say("{name} holds {n} stations; one is read at a time.", name=name, n=len(facts["wbanno"])),
            code="weather.stations",
            field="WBANNO",
        )
    columns: dict[str, FloatArray] = {_BECOMES[f]: np.array(v) for f, v in raw.items() if np.isfinite(v).any()}
    if not {"t_max_c", "t_min_c"} <= set(columns):
        raise InputError(
            say("{name}: T_DAILY_MAX and T_DAILY_MIN hold no values.", name=name),
            code="weather.temperature",
            field="T_DAILY_MAX",
        )
    notes: list[str] = [say("Days are of local standard time."), say("The network measures no wind.")]
    station = next(iter(facts["wbanno"]), "")
    return regular_series(
        Rows(
            step="day",
            times=np.array(days, dtype="datetime64[D]"),
            columns=columns,
            source=f"USCRN station {station}".strip() if station else name,
            notes=notes,
        ),
        (where or Where()).or_else(_place(facts)),
    )


def _cells(text: str, name: str) -> list[tuple[int, dict[str, str]]]:
    lines = [(i, line) for i, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise InputError(say("{name} holds no rows.", name=name), code="weather.empty", field=name)
    has_heading = "," in lines[0][1]
    fields = [f.strip().lower() for f in lines[0][1].split(",")] if has_heading else _FIELDS
    if "lst_date" not in fields:
        raise InputError(
            say("line {line}: no field LST_DATE in the heading.", line=lines[0][0]),
            code="weather.heading",
            field="LST_DATE",
        )
    table = []
    for number, line in lines[1:] if has_heading else lines:
        cells = line.split(",") if has_heading else line.split()
        if len(cells) != len(fields):
            raise InputError(
                say(
                    "line {line} has {n} fields; {wanted} are expected.", line=number, n=len(cells), wanted=len(fields)
                ),
                code="weather.cells",
                field=name,
            )
        table.append((number, dict(zip(fields, cells, strict=True))))
    if not table:
        raise InputError(say("{name} holds no rows below its heading.", name=name), code="weather.empty", field=name)
    return table


def _day(text: str, line: int) -> date:
    digits = text.strip().replace("-", "")
    try:
        if len(digits) != 8 or not digits.isdigit():
            raise ValueError(text)
        return date(int(digits[:4]), int(digits[4:6]), int(digits[6:]))
    except ValueError:
        raise InputError(
            say(
                "line {line}: LST_DATE is {text}; a date such as 20240731 is expected.",
                line=line,
                text=repr(text.strip()[:20]),
            ),
            code="weather.date",
            field="LST_DATE",
        ) from None


def _place(facts: dict[str, set[str]]) -> Where:
    values: dict[str, float | None] = {}
    for fact, key in (("latitude", "lat_deg"), ("longitude", "lon_deg")):
        text = next(iter(sorted(facts[fact])), "")
        number = read_number(text, decimal_comma=False, line=1, heading=fact.upper()) if text else None
        values[key] = number if number is not None and np.isfinite(number) else None
    return Where(values["lat_deg"], values["lon_deg"])
