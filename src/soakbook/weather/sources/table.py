"""Weather tables in many dialects: delimiter, decimal sign, headings, units and dates are found out and said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import COLUMNS, EXPECTED, FORECAST, OBSERVED, FlagArray, FloatArray, WeatherSeries
from soakbook.weather.sources.cells import read_number, uses_decimal_comma
from soakbook.weather.sources.headers import Heading
from soakbook.weather.sources.layout import Layout, find_layout, looks_like_table
from soakbook.weather.sources.quantities import guess_temperature_unit, in_series_unit
from soakbook.weather.sources.row_times import table_times

_SUMMED = {"rain_mm", "solar_mj_m2", "sunshine_h", "eto_mm"}
_KINDS = {"observed": OBSERVED, "forecast": FORECAST, "expected": EXPECTED}
_TEMPERATURES = {"t_max_c", "t_min_c", "t_mean_c", "dew_point_c"}


def looks_like(head: str, path: str = "") -> bool:
    """Whether this is a delimited table with a heading that is known."""
    return looks_like_table(head)


def parse_table(text: str, where: Where | None = None, *, name: str = "weather table") -> WeatherSeries:
    """Read a table of daily or hourly weather.

    Parameters
    ----------
    text
        The whole table: a heading line, then a row per day, hour or shorter step. Lines above the heading may say
        where it was measured (``# latitude: 48.1``).
    where
        The place, where the file does not say it. Hourly local times need its time zone.
    name
        What messages call the file.

    Returns
    -------
    WeatherSeries
        ``notes`` say what became of each column. A row stamped with a clock time holds the step that starts then.

    Raises
    ------
    InputError
        No heading that is known, a cell or date that cannot be read (with its line), or nothing usable.
    """
    layout = find_layout(text.removeprefix("\ufeff"), name)
    notes = list(layout.notes)
    roles = _roles(layout.headings, notes)
    place = (where or Where()).or_else(layout.where).or_else(_place_of_columns(layout, roles))
    times, step_s, time_notes = table_times(layout, roles, place, name)
    notes += time_notes
    is_daily = step_s >= 86_400
    columns = _columns(layout, roles, step_s, notes, is_daily=is_daily)
    flags = _flags(layout, roles)
    kind = _kind(layout, roles)
    if not is_daily and step_s < 3600:
        times, columns, kind = _to_hours(times, columns, kind, step_s)
        flags = {}
        notes.append(say("Rows every {n} minutes are brought to hours.", n=step_s // 60))
    _check_usable(columns, name, is_daily=is_daily)
    return regular_series(
        Rows(
            step="day" if is_daily else "hour",
            times=times,
            columns=columns,
            source=layout.source or name,
            kind=kind,
            flags=flags,
            notes=notes,
        ),
        place,
    )


def _roles(headings: Sequence[Heading], notes: list[str]) -> dict[str, int]:
    """Column index by role; of several columns for one role the first counts."""
    roles: dict[str, int] = {}
    for i, heading in enumerate(headings):
        role = {"temp": "t_mean_c", "rh": "rh_mean_pct"}.get(heading.role, heading.role)
        if not role:
            if heading.text:
                notes.append(say("{heading} is left out: {why}.", heading=repr(heading.text), why=heading.why))
        elif role in roles:
            notes.append(
                say(
                    "{heading} is left out: {other} is {role} already.",
                    heading=repr(heading.text),
                    other=repr(headings[roles[role]].text),
                    role=role,
                )
            )
        else:
            roles[role] = i
    return roles


def _place_of_columns(layout: Layout, roles: dict[str, int]) -> Where:
    values: dict[str, float | None] = {}
    for role, key in (("lat", "lat_deg"), ("lon", "lon_deg"), ("elevation", "elevation_m")):
        values[key] = None
        if role not in roles:
            continue
        i = roles[role]
        line, cells = layout.rows[0]
        comma = uses_decimal_comma([cells[i]])
        number = read_number(cells[i], decimal_comma=comma, line=line, heading=layout.headings[i].text)
        if np.isfinite(number):
            factor = 0.3048 if role == "elevation" and layout.headings[i].unit.lower().startswith("f") else 1.0
            values[key] = number * factor
    return Where(values["lat_deg"], values["lon_deg"], values["elevation_m"])


def _columns(
    layout: Layout, roles: dict[str, int], step_s: int, notes: list[str], *, is_daily: bool
) -> dict[str, FloatArray]:
    used = {role: i for role, i in roles.items() if role in COLUMNS}
    comma = uses_decimal_comma([cells[i] for _, cells in layout.rows for i in used.values()])
    if comma:
        notes.append(say("Numbers have a decimal comma."))
    raw: dict[str, FloatArray] = {}
    for role, i in used.items():
        heading = layout.headings[i].text
        raw[role] = np.array(
            [read_number(cells[i], decimal_comma=comma, line=line, heading=heading) for line, cells in layout.rows]
        )
    unstated = [raw[r] for r, i in used.items() if r in _TEMPERATURES and not _states_unit(layout.headings[i], r)]
    temperature_unit = guess_temperature_unit(unstated)
    columns: dict[str, FloatArray] = {}
    for role, i in used.items():
        columns[role], said = in_series_unit(role, layout.headings[i], raw[role], float(step_s), temperature_unit)
        notes.append(said)
    return columns if is_daily else _hourly_names(columns, notes)


def _states_unit(heading: Heading, role: str) -> bool:
    return bool(heading.unit) or heading.text.lower() == role


def _hourly_names(columns: dict[str, FloatArray], notes: list[str]) -> dict[str, FloatArray]:
    """An hour has one temperature and one humidity: the mean; highest and lowest only where that is absent."""
    for mean, high, low in (("t_mean_c", "t_max_c", "t_min_c"), ("rh_mean_pct", "rh_max_pct", "rh_min_pct")):
        if mean not in columns and high in columns and low in columns:
            columns[mean] = 0.5 * (columns[high] + columns[low])
            notes.append(say("{mean} of an hour is the middle of {high} and {low}.", mean=mean, high=high, low=low))
        for name in (high, low):
            if columns.pop(name, None) is not None:
                notes.append(say("{name} within the hour is left out.", name=name))
    return columns


def _flags(layout: Layout, roles: dict[str, int]) -> dict[str, FlagArray]:
    """Flags of a file that we wrote: columns named ``<column>_flag``."""
    flags = {}
    for role, i in roles.items():
        if role.startswith("flag:"):
            values = []
            for line, cells in layout.rows:
                text = cells[i].strip() or "0"
                if text not in {"0", "1", "2", "3", "4", "5"}:
                    raise InputError(
                        say(
                            "line {line}: {heading} is {cell}; 0 to 5 is expected.",
                            line=line,
                            heading=repr(layout.headings[i].text),
                            cell=repr(text[:20]),
                        ),
                        code="weather.flag",
                        field=layout.headings[i].text,
                    )
                values.append(int(text))
            flags[role.removeprefix("flag:")] = np.array(values, dtype=np.uint8)
    return {k: v for k, v in flags.items() if k in roles}


def _kind(layout: Layout, roles: dict[str, int]) -> FlagArray | None:
    if "kind" not in roles:
        return None
    values = []
    for line, cells in layout.rows:
        word = cells[roles["kind"]].strip().lower()
        if word not in _KINDS:
            raise InputError(
                say(
                    "line {line}: 'kind' is {word}; {kinds} are known.",
                    line=line,
                    word=repr(word[:20]),
                    kinds=", ".join(_KINDS),
                ),
                code="weather.kind",
                field="kind",
            )
        values.append(_KINDS[word])
    return np.array(values, dtype=np.uint8)


def _to_hours(
    times: NDArray[np.datetime64], columns: dict[str, FloatArray], kind: FlagArray | None, step_s: int
) -> tuple[NDArray[np.datetime64], dict[str, FloatArray], FlagArray | None]:
    """Means and sums over each hour; an hour with less than half its rows is missing."""
    _, first_at = np.unique(times, return_index=True)
    hours, index = np.unique(times[first_at].astype("datetime64[h]"), return_inverse=True)
    per_hour = max(1, round(3600 / step_s))
    out = {}
    for name, values in columns.items():
        once = values[first_at]
        good = np.isfinite(once)
        count = np.bincount(index, weights=good, minlength=len(hours))
        total = np.bincount(index, weights=np.where(good, once, 0.0), minlength=len(hours))
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = total / count
        value = mean * per_hour if name in _SUMMED - {"rain_mm"} else total if name == "rain_mm" else mean
        out[name] = np.where(2 * count >= per_hour, value, np.nan)
    new_kind = None
    if kind is not None:
        first_of_hour = np.searchsorted(times[first_at].astype("datetime64[h]"), hours)
        new_kind = kind[first_at][first_of_hour]
    return hours.astype("datetime64[s]"), out, new_kind


def _check_usable(columns: dict[str, FloatArray], name: str, *, is_daily: bool) -> None:
    needed = ("t_max_c", "t_min_c") if is_daily else ("t_mean_c",)
    for column in needed:
        if column not in columns or not np.isfinite(columns[column]).any():
            what = say("the day's highest and lowest temperature") if is_daily else say("the hour's temperature")
            raise InputError(
                say(
                    "{name}: {column} {state}; {what} must be there.",
                    name=name,
                    column=column,
                    state=say("has no values") if column in columns else say("is not among the columns"),
                    what=what,
                ),
                code="weather.temperature",
                field=column,
                hint=say("Name the columns tmax and tmin.") if is_daily else say("Name the column temperature."),
            )
