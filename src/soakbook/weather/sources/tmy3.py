"""Typical-year files TMY3: S. Wilcox, W. Marion, "Users Manual for TMY3 Data Sets", NREL/TP-581-43156, 2008.

Records are of local standard time and stand at the end of their hour; wind is at 10 m.
"""

from __future__ import annotations

import csv
from datetime import datetime, timedelta

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.air import wind_to_2m_ms
from soakbook.said import say
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import FloatArray, WeatherSeries
from soakbook.weather.sources.typical_year import header_number, number, one_year, utc_of_standard
from soakbook.weather.zones import zone_of_offset

#: Heading: (column, factor). Irradiance in W/m² is the sum of the hour in Wh/m². -9900 is missing.
_BECOMES = {
    "GHI (W/m^2)": ("solar_mj_m2", 0.0036),
    "Dry-bulb (C)": ("t_mean_c", 1.0),
    "Dew-point (C)": ("dew_point_c", 1.0),
    "RHum (%)": ("rh_mean_pct", 1.0),
    "Pressure (mbar)": ("pressure_kpa", 0.1),
    "Wspd (m/s)": ("wind_2m_ms", 1.0),
}
_WIND_HEIGHT_M = 10.0


def looks_like(head: str, path: str = "") -> bool:
    """Whether the second line is the heading of a TMY3 file."""
    lines = head.removeprefix("\ufeff").splitlines()
    return len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY),Time (HH:MM)")


def parse_tmy3(text: str, where: Where | None = None, *, name: str = "TMY3 file") -> WeatherSeries:
    """Read a TMY3 file, also one from which columns were left out.

    The precipitation columns are not read: they are accumulations over spans of 1 to 24 hours.
    """
    lines = text.removeprefix("\ufeff").splitlines()
    if len(lines) < 3:
        raise InputError(
            say("{name} has {n} lines; station, heading and hours are expected.", name=name, n=len(lines)),
            code="weather.empty",
            field=name,
        )
    station = next(csv.reader([lines[0]]))
    offset_h = header_number(station, 3, "UTC offset")
    place = Where(
        header_number(station, 4, "latitude"),
        header_number(station, 5, "longitude"),
        header_number(station, 6, "elevation"),
        zone_of_offset(offset_h),
    )
    heading = [h.strip() for h in lines[1].split(",")]
    if "Dry-bulb (C)" not in heading:
        raise InputError(
            say("{name}, line 2: no column Dry-bulb (C).", name=name), code="weather.temperature", field="Dry-bulb (C)"
        )
    starts, columns = _rows(lines, heading)
    notes: list[str] = [
        say("Hours of local standard time; a record stands at the end of its hour."),
        say("Wind at 10 m is brought to 2 m. Precipitation is not read: it adds up over spans of 1 to 24 hours."),
    ]
    times = utc_of_standard(one_year(starts, notes), offset_h)
    return regular_series(
        Rows(
            step="hour",
            times=times,
            columns=columns,
            source=f"TMY3 {station[1].strip().title()}" if len(station) > 1 else name,
            notes=notes,
        ),
        place.or_else(where or Where()),
    )


def _rows(lines: list[str], heading: list[str]) -> tuple[list[datetime], dict[str, FloatArray]]:
    used = {h: i for i, h in enumerate(heading) if h in _BECOMES}
    raw: dict[str, list[float]] = {h: [] for h in used}
    starts = []
    for line, text in enumerate(lines[2:], 3):
        if not text.strip():
            continue
        cells = text.split(",")
        if len(cells) != len(heading):
            raise InputError(
                say(
                    "line {line} has {n} cells where the heading has {wanted}.",
                    line=line,
                    n=len(cells),
                    wanted=len(heading),
                ),
                code="weather.cells",
            )
        starts.append(_start(cells[0], cells[1], line))
        for h, i in used.items():
            value = number(cells[i], line, h)
            raw[h].append(float("nan") if value <= -9900.0 else value)
    if not starts:
        raise InputError(say("no hours below the heading in line 2."), code="weather.empty")
    columns = {}
    for h, values in raw.items():
        column, factor = _BECOMES[h]
        columns[column] = np.array(values) * factor
    if "wind_2m_ms" in columns:
        columns["wind_2m_ms"] = wind_to_2m_ms(columns["wind_2m_ms"], _WIND_HEIGHT_M)
    return starts, columns


def _start(date: str, time: str, line: int) -> datetime:
    """The start of the hour that ends at this stamp; 24:00 is the end of the day."""
    try:
        hour = int(time.split(":")[0])
        if not 0 <= hour <= 24:
            raise ValueError(time)
        return datetime.strptime(date.strip(), "%m/%d/%Y") + timedelta(hours=hour - 1)
    except (ValueError, OverflowError):
        raise InputError(
            say(
                "line {line}: {date} {time} is not a date MM/DD/YYYY and an hour 01:00 to 24:00.",
                line=line,
                date=repr(date[:20]),
                time=repr(time[:20]),
            ),
            code="weather.date",
            field="Date (MM/DD/YYYY)",
        ) from None
