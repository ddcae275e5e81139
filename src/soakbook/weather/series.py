"""The one weather series type: columns of numbers, a time axis, and a flag for every value."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import Said, say

FloatArray = NDArray[np.float64]
FlagArray = NDArray[np.uint8]

#: Columns a series may hold, with the unit each is in. Daily values are of the local (standard) day.
COLUMNS = {
    "t_max_c": "°C",
    "t_min_c": "°C",
    "t_mean_c": "°C",
    "rh_max_pct": "%",
    "rh_min_pct": "%",
    "rh_mean_pct": "%",
    "dew_point_c": "°C",
    "vapour_pressure_kpa": "kPa",
    "wind_2m_ms": say("m/s at 2 m"),
    "solar_mj_m2": say("MJ/m² per step"),
    "sunshine_h": "h",
    "pressure_kpa": "kPa",
    "rain_mm": say("mm per step"),
    "rain_source_mm": say("mm per step, of the source where the own gauge counts"),
    "rain_chance_pct": "%",
    "eto_mm": say("mm per step, as the source computed it"),
}

#: What became of a value. 0 is as read; anything else was put there by us and is shown to the user.
MEASURED, FILLED_RULE, FILLED_NEIGHBOUR, FILLED_NORMALS, OWN_GAUGE, REJECTED = range(6)
FLAG_WORDS = {
    MEASURED: say("as read"),
    FILLED_RULE: say("filled by a rule of FAO-56 chapter 3"),
    FILLED_NEIGHBOUR: say("filled from the days around it"),
    FILLED_NORMALS: say("filled from monthly normals"),
    OWN_GAUGE: say("from the grower's own rain gauge"),
    REJECTED: say("out of range in the source, treated as missing"),
}

#: Where a whole step stands in time.
OBSERVED, FORECAST, EXPECTED = range(3)
KIND_WORDS = {OBSERVED: say("observed"), FORECAST: say("forecast"), EXPECTED: say("expected from normals")}


@dataclass(frozen=True)
class WeatherSeries:
    """Weather at one spot, by the day or by the hour, without gaps in time.

    ``times`` is ``datetime64[D]`` of local days when ``step`` is ``"day"``, and ``datetime64[s]`` UTC, the start of
    each hour, when ``step`` is ``"hour"``. Missing values are NaN. ``flags`` holds an array for each column that has
    any flag other than :data:`MEASURED`; ``kind`` says for each step whether it was observed, forecast or expected.
    """

    step: Literal["day", "hour"]
    times: NDArray[np.datetime64]
    columns: dict[str, FloatArray]
    lat_deg: float
    lon_deg: float
    elevation_m: float
    time_zone: str
    source: str
    kind: FlagArray
    flags: dict[str, FlagArray] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.times)
        for name, values in self.columns.items():
            if name not in COLUMNS:
                raise InputError(
                    say(
                        "weather column {name} is not known; known are {columns}.",
                        name=repr(name),
                        columns=", ".join(COLUMNS),
                    )
                )
            if values.shape != (n,):
                raise InputError(
                    say(
                        "weather column {name} has {n} values for {steps} steps.",
                        name=repr(name),
                        n=len(values),
                        steps=n,
                    )
                )
        if len(self.kind) != n:
            raise InputError(say("kind has {n} values for {steps} steps.", n=len(self.kind), steps=n))
        if n > 1:
            one = np.timedelta64(1, "D") if self.step == "day" else np.timedelta64(3600, "s")
            if not bool(np.all(np.diff(self.times) == one)):
                raise InputError(say("weather steps must follow each other without gap or overlap."))

    def __len__(self) -> int:
        return len(self.times)

    def get(self, name: str) -> FloatArray:
        """The column, or all NaN where the source has none."""
        values = self.columns.get(name)
        return np.full(len(self), np.nan) if values is None else values

    def flag(self, name: str) -> FlagArray:
        """The flags of a column, all :data:`MEASURED` where none were set."""
        flags = self.flags.get(name)
        return np.zeros(len(self), dtype=np.uint8) if flags is None else flags

    def between(self, first: np.datetime64, last: np.datetime64) -> WeatherSeries:
        """The steps from ``first`` to ``last``, both included."""
        keep = (self.times >= first) & (self.times <= last)
        return replace(
            self,
            times=self.times[keep],
            kind=self.kind[keep],
            columns={k: v[keep] for k, v in self.columns.items()},
            flags={k: v[keep] for k, v in self.flags.items()},
        )


#: What one step of a series is called.
STEP_WORDS = {"day": say("day"), "hour": say("hour")}


def steps_words(n: int, step: str) -> Said:
    """``3 days`` or ``3 hours``, as a series goes."""
    return say("{n} days", n=n) if step == "day" else say("{n} hours", n=n)


def one_after_another(first: str, then: str) -> Said:
    """The source of a series that goes on with another."""
    return say("{first}; then {then}", first=first, then=then)


def sources_in_turn(source: str) -> list[str]:
    """The sources that :func:`one_after_another` put together, also as they were read back from a file."""
    if isinstance(source, Said) and set(source.values) == {"first", "then"}:
        return [*sources_in_turn(source.values["first"]), *sources_in_turn(source.values["then"])]
    return source.split("; then ") if "; then " in source else [source]
