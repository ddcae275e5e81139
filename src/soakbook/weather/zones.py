"""Time zones of series: standard offsets, local standard days, and clock times of files brought to UTC."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say

#: A named zone for each standard offset that no Etc/GMT zone has.
_ODD_OFFSETS = {
    -9.5: "Pacific/Marquesas",
    -3.5: "America/St_Johns",
    3.5: "Asia/Tehran",
    4.5: "Asia/Kabul",
    5.5: "Asia/Kolkata",
    5.75: "Asia/Kathmandu",
    6.5: "Asia/Yangon",
    8.75: "Australia/Eucla",
    9.5: "Australia/Darwin",
    10.5: "Australia/Lord_Howe",
    12.75: "Pacific/Chatham",
}


def zone(name: str) -> ZoneInfo:
    """The zone of that IANA name; InputError when there is none."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError, ModuleNotFoundError) as exc:
        raise InputError(
            say("time zone {name} is not known; expected a name such as Europe/Berlin or UTC.", name=repr(name)),
            code="weather.zone",
            field="time_zone",
        ) from exc


def zone_of_offset(hours: float) -> str:
    """A zone name whose standard time is that many hours ahead of UTC."""
    if hours == 0:
        return "UTC"
    if hours == int(hours) and -12 <= hours <= 14:
        # POSIX counts the sign the other way round.
        return f"Etc/GMT{-int(hours):+d}"
    if hours in _ODD_OFFSETS:
        return _ODD_OFFSETS[hours]
    raise InputError(
        say("a time zone {hours:g} hours from UTC is not in use anywhere (allowed -12 to 14).", hours=hours),
        code="weather.zone",
        field="time_zone",
    )


def standard_offset_s(time_zone: str, year: int) -> int:
    """Seconds that standard (winter) time of the zone is ahead of UTC in that year.

    The smaller of the offsets in January and July, which also holds south of the equator and for zones whose law calls
    summer time the standard (Ireland).
    """
    tz = zone(time_zone)
    offsets = []
    for month in (1, 7):
        offset = datetime(year, month, 1, 12, tzinfo=tz).utcoffset()
        offsets.append(int(offset.total_seconds()) if offset is not None else 0)
    return min(offsets)


def local_standard_days(times_utc: NDArray[np.datetime64], time_zone: str) -> NDArray[np.datetime64]:
    """The local standard day each hour starts in: days of 24 hours all year, no matter what the clocks did."""
    if len(times_utc) == 0:
        return times_utc.astype("datetime64[D]")
    year = int(str(times_utc[0].astype("datetime64[Y]")))
    shift = np.timedelta64(standard_offset_s(time_zone, year), "s")
    return (times_utc + shift).astype("datetime64[D]")


def clock_to_utc(
    stamps: Sequence[datetime], time_zone: str, *, is_standard: bool = False
) -> tuple[NDArray[np.datetime64], str]:
    """Local times of a file as UTC, and the sentence for the notes that says how they were understood.

    Times are taken as clock time, with summer time, unless the file has times that the clock skipped in spring or says
    that it keeps standard time. A clock time that comes twice in autumn is summer time at its first row, standard time
    at its second.
    """
    tz = zone(time_zone)
    year = stamps[0].year if stamps else 2000
    standard = timedelta(seconds=standard_offset_s(time_zone, year))
    if is_standard or any(_was_skipped(t, tz) for t in stamps):
        utc = [t - standard for t in stamps]
        said = say("Times are read as local standard time of {time_zone}, without summer time.", time_zone=time_zone)
    else:
        seen: set[datetime] = set()
        utc = []
        for t in stamps:
            aware = t.replace(tzinfo=tz, fold=1 if t in seen else 0)
            seen.add(t)
            utc.append(aware.astimezone(UTC).replace(tzinfo=None))
        said = say("Times are read as clock time of {time_zone}.", time_zone=time_zone)
    return np.array(utc, dtype="datetime64[s]"), said


def _was_skipped(t: datetime, tz: ZoneInfo) -> bool:
    aware = t.replace(tzinfo=tz)
    return aware.astimezone(UTC).astimezone(tz).replace(tzinfo=None) != t
