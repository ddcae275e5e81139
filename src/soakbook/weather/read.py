"""Any weather file: the reader is picked by what the file holds."""

from __future__ import annotations

import gzip
import io
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.series import WeatherSeries
from soakbook.weather.sources import epw, nws, open_meteo, table, tmy3, uscrn

#: Larger files are refused: forty years of hours in a wide table stay below.
MOST_BYTES = 80_000_000
_HEAD = 8000
_READERS = (
    (epw.looks_like, epw.parse_epw),
    (tmy3.looks_like, tmy3.parse_tmy3),
    (open_meteo.looks_like, open_meteo.parse_open_meteo),
    (nws.looks_like, nws.parse_nws),
    (uscrn.looks_like, uscrn.parse_uscrn),
    (table.looks_like, table.parse_table),
)


def read_weather(
    path: str | Path,
    *,
    lat_deg: float | None = None,
    lon_deg: float | None = None,
    elevation_m: float | None = None,
    time_zone: str | None = None,
) -> WeatherSeries:
    """Read a weather file of any kind that is known, also packed with gzip.

    Parameters
    ----------
    path
        A table (CSV and the like), a USCRN daily file, TMY3, EPW, or JSON of Open-Meteo or of the US National Weather
        Service.
    lat_deg, lon_deg, elevation_m, time_zone
        The place, for files that do not say it. Files that carry these facts themselves keep theirs.

    Returns
    -------
    WeatherSeries
        Its ``notes`` say what was made of the file.

    Raises
    ------
    InputError
        The file cannot be read; the message names file, line and field.
    """
    file = Path(path)
    where = Where(lat_deg, lon_deg, elevation_m, time_zone)
    text = _text(file)
    return parse_weather(text, where, name=file.name)


def parse_weather(text: str, where: Where | None = None, *, name: str = "weather") -> WeatherSeries:
    """As :func:`read_weather`, from the text of the file."""
    head = text[:_HEAD]
    if not head.strip():
        raise InputError(say("{name} is empty.", name=name), code="weather.empty", field=name)
    for looks_like, parse in _READERS:
        if looks_like(head, name):
            try:
                series = parse(text, where, name=name)
            except InputError as error:
                if name in error.message:
                    raise
                raise InputError(
                    say("{name}: {message}", name=name, message=error.message),
                    code=error.code,
                    field=error.field,
                    hint=error.hint,
                ) from error
            return _with_zone(series)
    # Not known by its head: the table reader's message says what is wanted.
    return table.parse_table(text, where, name=name)


def _with_zone(series: WeatherSeries) -> WeatherSeries:
    """Hours without a zone but with coordinates get the zone of the nearest town."""
    if series.step == "day" or series.time_zone or not np.isfinite(series.lat_deg):
        return series
    from soakbook.weather.gazetteer import zone_near

    return replace(series, time_zone=zone_near(series.lat_deg, series.lon_deg))


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(
                say(
                    "{name} has {size:.0f} MB; at most {most:.0f} MB are read.",
                    name=path.name,
                    size=path.stat().st_size / 1e6,
                    most=MOST_BYTES / 1e6,
                ),
                code="weather.size",
                field=path.name,
            )
        data = path.read_bytes()
    except OSError as exc:
        raise InputError(
            say("{file} cannot be read: {why}.", file=path.name, why=exc.strerror or exc),
            code="weather.file",
            field=path.name,
        ) from exc
    return decode(data, path.name)


def decode(data: bytes, name: str) -> str:
    """Bytes of a file as text: gzip unpacked, UTF-8, UTF-16 with its mark, or the Windows code page of the west."""
    if data[:2] == b"\x1f\x8b":
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:  # of all its parts, no more than that
                unpacked = packed.read(MOST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as exc:
            raise InputError(say("{name} is no whole gzip file.", name=name), code="weather.gzip", field=name) from exc
        if len(unpacked) > MOST_BYTES:
            raise InputError(
                say("{name} unpacks to more than {most:.0f} MB.", name=name, most=MOST_BYTES / 1e6),
                code="weather.size",
                field=name,
            )
        data = unpacked
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
    if "\x00" in text[:_HEAD]:
        raise InputError(
            say("{name} is not text.", name=name), code="weather.text", field=name, hint=say("Save the table as CSV.")
        )
    return text
