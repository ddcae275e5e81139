"""EPW weather files for building simulation: "Auxiliary Programs", U.S. Department of Energy, chapter on weather data.

Eight heading lines, the first of which begins with LOCATION, then an hour per line: year, month, day, hour (1 to 24,
the end of the hour, local standard time), minute, and 30 fields. Wind is at 10 m.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.air import wind_to_2m_ms
from soakbook.said import say
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import FloatArray, WeatherSeries
from soakbook.weather.sources.typical_year import header_number, number, one_year, utc_of_standard
from soakbook.weather.zones import zone_of_offset

#: Field number from 0: (column, factor, value from which it means missing, name).
_FIELDS = {
    6: ("t_mean_c", 1.0, 99.9, "dry bulb temperature"),
    7: ("dew_point_c", 1.0, 99.9, "dew point temperature"),
    8: ("rh_mean_pct", 1.0, 999.0, "relative humidity"),
    9: ("pressure_kpa", 0.001, 999999.0, "atmospheric pressure"),
    13: ("solar_mj_m2", 0.0036, 9999.0, "global horizontal radiation"),
    21: ("wind_2m_ms", 1.0, 999.0, "wind speed"),
}
_RAIN_DEPTH = 33  # liquid precipitation depth, mm; 999 is missing
_HEADING_LINES = 8
_WIND_HEIGHT_M = 10.0


def looks_like(head: str, path: str = "") -> bool:
    """Whether the first line is the LOCATION line of an EPW file."""
    return head.removeprefix("\ufeff").lstrip().upper().startswith("LOCATION,")


def parse_epw(text: str, where: Where | None = None, *, name: str = "EPW file") -> WeatherSeries:
    """Read an EPW file. Its rain is read only where some hour has any: many files leave the field at zero."""
    lines = text.removeprefix("\ufeff").splitlines()
    location = lines[0].split(",") if lines else []
    if len(lines) <= _HEADING_LINES:
        raise InputError(
            say(
                "{name} has {n} lines; {wanted} heading lines and then hours are expected.",
                name=name,
                n=len(lines),
                wanted=_HEADING_LINES,
            ),
            code="weather.empty",
            field=name,
        )
    offset_h = header_number(location, 8, "time zone")
    place = Where(
        header_number(location, 6, "latitude"),
        header_number(location, 7, "longitude"),
        header_number(location, 9, "elevation"),
        zone_of_offset(offset_h),
    )
    starts, columns = _rows(lines)
    notes: list[str] = [
        say("Hours of local standard time; a record stands at the end of its hour. Wind at 10 m is brought to 2 m.")
    ]
    if "rain_mm" not in columns:
        notes.append(say("The file has no rain."))
    return regular_series(
        Rows(
            step="hour",
            times=utc_of_standard(one_year(starts, notes), offset_h),
            columns=columns,
            source=f"EPW {location[1].strip()}",
            notes=notes,
        ),
        place.or_else(where or Where()),
    )


def _rows(lines: list[str]) -> tuple[list[datetime], dict[str, FloatArray]]:
    raw: dict[int, list[float]] = {i: [] for i in _FIELDS}
    rain: list[float] = []
    starts = []
    for line, text in enumerate(lines[_HEADING_LINES:], _HEADING_LINES + 1):
        if not text.strip():
            continue
        cells = text.split(",")
        if len(cells) < 22:
            raise InputError(
                say("line {line} has {n} fields; 35 are expected, 22 at least.", line=line, n=len(cells)),
                code="weather.cells",
            )
        starts.append(_start(cells, line))
        for i, (_, _, missing, what) in _FIELDS.items():
            raw[i].append(number(cells[i], line, what, missing=missing))
        depth = cells[_RAIN_DEPTH] if len(cells) > _RAIN_DEPTH else ""
        rain.append(number(depth, line, "liquid precipitation depth", missing=999.0))
    if not starts:
        raise InputError(say("no hours below the heading lines."), code="weather.empty")
    columns = {column: np.array(raw[i]) * factor for i, (column, factor, _, _) in _FIELDS.items()}
    columns["wind_2m_ms"] = wind_to_2m_ms(columns["wind_2m_ms"], _WIND_HEIGHT_M)
    if not np.isfinite(columns["t_mean_c"]).any():
        raise InputError(say("no hour has a dry bulb temperature."), code="weather.temperature", field="t_mean_c")
    if np.nansum(rain) > 0.0:
        columns["rain_mm"] = np.array(rain)
    return starts, columns


def _start(cells: list[str], line: int) -> datetime:
    try:
        year, month, day, hour = (int(c) for c in cells[:4])
        if not 1 <= hour <= 24:
            raise ValueError(hour)
        return datetime(year, month, day) + timedelta(hours=hour - 1)
    except (ValueError, OverflowError):
        raise InputError(
            say(
                "line {line}: {cells} is not year, month, day and an hour of 1 to 24.",
                line=line,
                cells=repr(",".join(cells[:4])[:30]),
            ),
            code="weather.date",
            field="date",
        ) from None
