"""From loose rows to a regular series: order, doubles, gaps in time, and values that cannot be."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.series import (
    COLUMNS,
    OBSERVED,
    REJECTED,
    STEP_WORDS,
    FlagArray,
    FloatArray,
    WeatherSeries,
    steps_words,
)

Step = Literal["day", "hour"]

#: What a value may be, by column: (least, most) of a daily value and of an hourly one. The limits are a little beyond
#: the highest and lowest ever observed (World Meteorological Organization, World Weather & Climate Extremes Archive:
#: air temperature -89.2 to 56.7 °C, rain 1825 mm in a day and 305 mm in an hour); sunlight above the air is at most
#: 1.37 kW/m² (FAO-56 Eq. 21), with a margin for cloud edges.
PHYSICAL_RANGE: dict[str, dict[Step, tuple[float, float]]] = {
    "t_max_c": {"day": (-90.0, 60.0), "hour": (-90.0, 60.0)},
    "t_min_c": {"day": (-90.0, 60.0), "hour": (-90.0, 60.0)},
    "t_mean_c": {"day": (-90.0, 60.0), "hour": (-90.0, 60.0)},
    "rh_max_pct": {"day": (0.0, 105.0), "hour": (0.0, 105.0)},
    "rh_min_pct": {"day": (0.0, 105.0), "hour": (0.0, 105.0)},
    "rh_mean_pct": {"day": (0.0, 105.0), "hour": (0.0, 105.0)},
    "dew_point_c": {"day": (-95.0, 36.0), "hour": (-95.0, 36.0)},
    "vapour_pressure_kpa": {"day": (0.0, 6.0), "hour": (0.0, 6.0)},
    "wind_2m_ms": {"day": (0.0, 60.0), "hour": (0.0, 60.0)},
    "solar_mj_m2": {"day": (-0.5, 45.0), "hour": (-0.1, 5.4)},
    "sunshine_h": {"day": (0.0, 24.0), "hour": (0.0, 1.001)},
    "pressure_kpa": {"day": (40.0, 110.0), "hour": (40.0, 110.0)},
    "rain_mm": {"day": (0.0, 1900.0), "hour": (0.0, 320.0)},
    "rain_source_mm": {"day": (0.0, 1900.0), "hour": (0.0, 320.0)},
    "rain_chance_pct": {"day": (0.0, 100.0), "hour": (0.0, 100.0)},
    "eto_mm": {"day": (-1.0, 25.0), "hour": (-0.3, 3.0)},
}
#: No more steps than this: 150 years of days, 40 years of hours. A longer span is a mistyped date.
MOST_STEPS: dict[Step, int] = {"day": 55_000, "hour": 351_000}
#: A column with more than this part of its values out of range is not what its heading says.
MOST_REJECTED = 0.2


@dataclass(frozen=True)
class Where:
    """What is known of the spot, from the caller or the file. None is unknown."""

    lat_deg: float | None = None
    lon_deg: float | None = None
    elevation_m: float | None = None
    time_zone: str | None = None

    def __post_init__(self) -> None:
        _check("latitude", self.lat_deg, 90.0, "lat_deg")
        _check("longitude", self.lon_deg, 180.0, "lon_deg")
        if self.elevation_m is not None and not -450.0 <= self.elevation_m <= 9000.0:
            raise InputError(
                say("elevation must be between -450 and 9000 m (got {elevation_m:g}).", elevation_m=self.elevation_m),
                code="weather.place",
                field="elevation_m",
            )

    def or_else(self, other: Where) -> Where:
        """This place, with what it leaves open taken from the other."""
        return Where(
            self.lat_deg if self.lat_deg is not None else other.lat_deg,
            self.lon_deg if self.lon_deg is not None else other.lon_deg,
            self.elevation_m if self.elevation_m is not None else other.elevation_m,
            self.time_zone or other.time_zone,
        )


def _check(what: str, value: float | None, most: float, name: str) -> None:
    if value is not None and not (math.isfinite(value) and abs(value) <= most):
        raise InputError(
            say(
                "{what} must be between -{most:g} and {most:g} degrees (got {value:g}).",
                what=what,
                most=most,
                value=value,
            ),
            code="weather.place",
            field=name,
        )


@dataclass
class Rows:
    """Values as a reader found them: one entry of ``times`` per row, in any order."""

    step: Step
    times: NDArray[np.datetime64]
    columns: dict[str, FloatArray]
    source: str
    kind: FlagArray | None = None
    flags: dict[str, FlagArray] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def regular_series(rows: Rows, where: Where) -> WeatherSeries:
    """The rows as a series: sorted, doubles joined, gaps as NaN, impossible values rejected.

    Of rows for the same step, the last in the file counts. A latitude, longitude or elevation nobody gave is NaN, and
    the notes say so.
    """
    notes = list(rows.notes)
    times, take, n_double = _axis(rows)
    if n_double:
        notes.append(
            say(
                "{n} rows repeat a {step} already there; of each the last counts.",
                n=n_double,
                step=STEP_WORDS[rows.step],
            )
        )
    present = take >= 0
    n_gap = int(np.sum(~present))
    if n_gap:
        notes.append(
            say(
                "{steps} are missing between the first and the last; they stay empty.",
                steps=steps_words(n_gap, rows.step),
            )
        )
    columns: dict[str, FloatArray] = {}
    flags: dict[str, FlagArray] = {}
    for name, values in rows.columns.items():
        columns[name] = np.where(present, values[take], np.nan)
        if name in rows.flags:
            flags[name] = np.where(present, rows.flags[name][take], 0).astype(np.uint8)
    kind = np.full(len(times), OBSERVED, dtype=np.uint8)
    if rows.kind is not None:
        kind = rows.kind[take].astype(np.uint8)
        # A step that is missing is of the kind of the step before it.
        last = np.maximum.accumulate(np.where(present, np.arange(len(times)), 0))
        kind = kind[last]
    reject_impossible(rows.step, columns, flags, notes)
    if where.lat_deg is None or where.lon_deg is None:
        notes.append(say("Neither the file nor the caller says where this was measured."))
    return WeatherSeries(
        step=rows.step,
        times=times,
        columns=columns,
        lat_deg=_number(where.lat_deg),
        lon_deg=_number(where.lon_deg),
        elevation_m=_number(where.elevation_m),
        time_zone=where.time_zone or "",
        source=rows.source,
        kind=kind,
        flags={k: v for k, v in flags.items() if v.any()},
        notes=tuple(notes),
    )


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _axis(rows: Rows) -> tuple[NDArray[np.datetime64], NDArray[np.int64], int]:
    unit, one = ("D", 1) if rows.step == "day" else ("s", 3600)
    if len(rows.times) == 0:
        raise InputError(say("the weather holds no rows."), code="weather.empty")
    stamps = rows.times.astype(f"datetime64[{unit}]").astype(np.int64)
    # Hours of a zone half an hour off keep their half hour.
    phase = int(stamps[0] % one) if bool(np.all(stamps % one == stamps[0] % one)) else 0
    at = (stamps - phase) // one
    first, last = int(at.min()), int(at.max())
    n = last - first + 1
    if n > MOST_STEPS[rows.step]:
        raise InputError(
            say(
                "the weather reaches from {first} to {last}, {steps}; at most {most} are read.",
                first=rows.times.min().item(),
                last=rows.times.max().item(),
                steps=steps_words(n, rows.step),
                most=MOST_STEPS[rows.step],
            ),
            code="weather.span",
            hint=say("Look for a mistyped year."),
        )
    take = np.full(n, -1, dtype=np.int64)
    take[at - first] = np.arange(len(at))
    n_double = len(at) - int(np.sum(take >= 0))
    times = (np.arange(first, last + 1, dtype=np.int64) * one + phase).astype(f"datetime64[{unit}]")
    return times, take, n_double


def reject_impossible(
    step: Step, columns: dict[str, FloatArray], flags: dict[str, FlagArray], notes: list[str]
) -> None:
    """Turn what cannot be into NaN with the flag REJECTED; say it in the notes. Changes the two dicts."""
    for name, values in columns.items():
        low, high = PHYSICAL_RANGE[name][step]
        with np.errstate(invalid="ignore"):
            bad = np.isfinite(values) & ((values < low) | (values > high)) | np.isinf(values)
        if bad.any():
            worst = values[bad][0]
            if bad.sum() > MOST_REJECTED * np.isfinite(values).sum():
                _reject(name, np.ones(len(values), dtype=bool), columns, flags)
                notes.append(
                    say(
                        "{name}: {bad} of {n} values lie outside {low:g} to "
                        "{high:g} {unit} (such as {worst:g}); the column is something else and is left out.",
                        name=name,
                        bad=int(bad.sum()),
                        n=int(np.isfinite(values).sum()),
                        low=low,
                        high=high,
                        unit=COLUMNS[name],
                        worst=worst,
                    )
                )
                continue
            _reject(name, bad, columns, flags)
            notes.append(
                say(
                    "{name}: {bad} values outside {low:g} to {high:g} {unit} "
                    "(such as {worst:g}) are treated as missing.",
                    name=name,
                    bad=int(bad.sum()),
                    low=low,
                    high=high,
                    unit=COLUMNS[name],
                    worst=worst,
                )
            )
        _bring_to_edge(name, columns, notes)
    if "t_max_c" in columns and "t_min_c" in columns:
        with np.errstate(invalid="ignore"):
            bad = columns["t_max_c"] < columns["t_min_c"] - 0.05
        if bad.any():
            for name in ("t_max_c", "t_min_c"):
                _reject(name, bad, columns, flags)
            notes.append(
                say(
                    "{steps} have t_max_c below t_min_c; both are treated as missing.",
                    steps=steps_words(int(bad.sum()), step),
                )
            )


def _reject(name: str, bad: NDArray[np.bool_], columns: dict[str, FloatArray], flags: dict[str, FlagArray]) -> None:
    columns[name] = np.where(bad, np.nan, columns[name])
    marks = flags.get(name, np.zeros(len(bad), dtype=np.uint8)).copy()
    marks[bad] = REJECTED
    flags[name] = marks


def _bring_to_edge(name: str, columns: dict[str, FloatArray], notes: list[str]) -> None:
    """Sensor drift just beyond the edge (humidity of 102 %, sunlight of -3 W/m² at night) is the edge."""
    values = columns[name]
    if name.startswith("rh_"):
        with np.errstate(invalid="ignore"):
            over = values > 100.0
        if over.any():
            columns[name] = np.where(over, 100.0, values)
            notes.append(say("{name}: {n} values from 100 to 105 % are read as 100 %.", name=name, n=int(over.sum())))
    elif name == "solar_mj_m2":
        with np.errstate(invalid="ignore"):
            under = values < 0.0
        if under.any():
            columns[name] = np.where(under, 0.0, values)
            notes.append(say("{name}: {n} values just below zero are read as 0.", name=name, n=int(under.sum())))
