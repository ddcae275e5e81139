"""A weather series as a table that the table reader reads back unchanged."""

from __future__ import annotations

import csv
import io

import numpy as np

from soakbook.weather.series import COLUMNS, EXPECTED, FORECAST, OBSERVED, WeatherSeries

_KIND = {OBSERVED: "observed", FORECAST: "forecast", EXPECTED: "expected"}


def weather_csv(series: WeatherSeries) -> str:
    """The series as comma-separated text: lines on the place, a heading, a row for each step with its flags."""
    out = io.StringIO()
    out.write(f"# source: {' '.join(series.source.split())}\n")
    for what, value in (
        ("latitude", series.lat_deg),
        ("longitude", series.lon_deg),
        ("elevation", series.elevation_m),
    ):
        if np.isfinite(value):
            out.write(f"# {what}: {value:.5f}\n")
    if series.time_zone:
        out.write(f"# time zone: {series.time_zone}\n")
    names = [n for n in COLUMNS if n in series.columns]
    flagged = [n for n in names if n in series.flags and series.flags[n].any()]
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["date" if series.step == "day" else "time_utc", *names, *(f"{n}_flag" for n in flagged), "kind"])
    for i, time in enumerate(series.times):
        stamp = str(time) if series.step == "day" else str(time)[:16] + "Z"
        values = ["" if np.isnan(v) else f"{v:.10g}" for v in (series.columns[n][i] for n in names)]
        marks = [int(series.flags[n][i]) for n in flagged]
        writer.writerow([stamp, *values, *marks, _KIND[int(series.kind[i])]])
    return out.getvalue()
