"""What a column of a weather table is, from its heading in any of many wordings."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from soakbook.said import say
from soakbook.weather.series import COLUMNS
from soakbook.weather.sources.unit_words import UNITS, conversion, plain_unit


@dataclass(frozen=True)
class Heading:
    """One column of a table: what it becomes and what was said about unit and height.

    ``role`` is a column of the series, ``temp``/``rh`` not yet told apart by day or hour, a part of the time
    (``date``, ``time``, ``year``, ``month``, ``day``, ``doy``, ``hour``), a fact of the place (``lat``, ``lon``,
    ``elevation``), ``kind``, ``flag:<column>``, or "" for what is not used; ``why`` then says why.
    """

    text: str
    role: str
    unit: str = ""
    height_m: float | None = None
    is_utc: bool = False
    is_standard: bool = False
    why: str = ""


# fmt: off
_NOT_OUTDOOR_AIR = {
    "soil", "surface", "sur", "indoor", "inside", "in", "water", "canopy", "leaf", "wet", "wetbulb", "feels",
    "apparent", "heat", "chill", "windchill", "heatindex", "ground", "grass", "cellar", "probe", "boden", "innen",
    "sol", "suelo",
}
_MAX = {
    "max", "maximum", "high", "hi", "maxi", "mx", "tmax", "tmmx", "tx", "rhmax", "rmax", "highest", "maximale",
    "tempmax", "maxtemp",
}
_MIN = {
    "min", "minimum", "low", "lo", "mini", "mn", "tmin", "tmmn", "tn", "rhmin", "rmin", "lowest", "minimale",
    "tempmin", "mintemp",
}
_TEMPERATURE = {
    "t", "temp", "temperature", "temperatur", "temperatura", "tair", "airtemp", "airtemperature", "ta", "drybulb",
    "tmax", "tmin", "tmmx", "tmmn", "tx", "tn", "tavg", "tmean", "tm", "tg", "tempmax", "tempmin", "maxtemp",
    "mintemp", "outtemp", "tas", "lufttemperatur",
}
_HUMIDITY = {
    "rh", "humidity", "hum", "relhum", "relativehumidity", "hr", "rhum", "rmax", "rmin", "rhmax", "rhmin", "rhmean",
    "rhavg", "luftfeuchte", "humidite", "humedad", "umidita", "feuchte",
}
_RAIN = {
    "rain", "rainfall", "precip", "precipitation", "prcp", "pr", "pcp", "ppt", "rr", "rainmm", "niederschlag", "pluie",
    "lluvia", "pioggia", "regen", "neerslag", "precipitacion",
}
_WIND = {
    "wind", "windspeed", "wspd", "ws", "u2", "u10", "vs", "ff", "windgeschwindigkeit", "vent", "viento", "vento", "uz",
}
_SOLAR = {
    "solar", "solarad", "radiation", "irradiance", "srad", "ghi", "rs", "shortwave", "globalstrahlung", "insolation",
    "globalradiation", "radiacion", "rayonnement", "solarradiation",
}
_SUNSHINE = {
    "sunshine", "sunhours", "sunshineduration", "sonnenschein", "sonnenscheindauer", "insolacion", "heliophany",
}
_PRESSURE = {
    "pressure", "barometer", "barometric", "baro", "luftdruck", "pression", "presion", "press", "slp", "atm",
}
_ETO = {"eto", "et0", "evapotranspiration", "etref", "refet"}
_TIME = {"time", "hour", "hh", "uhrzeit", "heure", "hora", "ora", "zeit"}
_DATE = {
    "date", "datum", "fecha", "datetime", "timestamp", "dateutc", "lstdate", "yyyymmdd", "jour", "dia", "giorno",
    "valid", "datetimelocal", "datetimeutc", "obstime",
}
_PLACE = {
    "lat": "lat", "latitude": "lat", "lon": "lon", "lng": "lon", "long": "lon", "longitude": "lon",
    "elevation": "elevation", "elev": "elevation", "altitude": "elevation", "alt": "elevation",
}
_TIME_FILLERS = {
    "utc", "gmt", "lst", "local", "standard", "est", "z", "yyyy", "mm", "dd", "hh", "ss", "of", "observation", "obs",
    "the", "mmm",
}
# fmt: on
#: "Wind 10 m": the metres are the height of the gauge.
_WIND_HEIGHT = re.compile(r"(?i)^(?:wind|u).*[^0-9.]\d{1,2}(?:\.\d)?[ _]?m$")


def tokens(text: str) -> list[str]:
    """Words of a heading: ``"airTemperature_max"`` as air, temperature, max; accents and case dropped."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    plain = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", plain).lower()
    return [w for w in re.split(r"[^a-z0-9]+", plain) if w]


def split_unit(text: str) -> tuple[str, str]:
    """A heading without its unit, and the unit: ``"Tmax (°F)"``, ``"rain in"``, ``"wind_km/h"``, ``"rh_max_pct"``."""
    match = re.search(r"[\(\[\{]([^\)\]\}]*)[\)\]\}]?\s*$", text)
    if match:
        inside = match[1].strip()
        if _is_unit(inside):
            return text[: match.start()].strip(), inside
        return text.strip(), ""
    for separator in (",", " ", "_"):
        for parts in (2, 1):
            pieces = text.strip().rsplit(separator, parts)
            if len(pieces) == parts + 1:
                unit = separator.join(pieces[1:]).strip()
                candidate = unit.replace("_", "/") if parts == 2 else unit
                # "t_daily_min" ends in a word, not in minutes.
                if candidate.lower() != "min" and _is_unit(candidate) and not _WIND_HEIGHT.search(text.strip()):
                    return pieces[0].strip(), candidate
    return text.strip(), ""


def _is_unit(text: str) -> bool:
    plain = plain_unit(text)
    return bool(plain) and any(plain in table or plain.replace(" ", "") in table for table in UNITS.values())


def read_heading(text: str) -> Heading:
    """What the column under this heading is."""
    name = text.strip().strip('"').strip()
    own = name.lower()
    if own in COLUMNS:
        return Heading(name, own, height_m=2.0 if own == "wind_2m_ms" else None)
    if own.endswith("_flag") and own[:-5] in COLUMNS:
        return Heading(name, f"flag:{own[:-5]}")
    if own == "kind":
        return Heading(name, "kind")
    stem, unit = split_unit(name)
    words = tokens(stem)
    time = _time_role(words, name)
    if time is not None:
        return time
    if len(words) >= 1 and words[0] in _PLACE and len(words) <= 2:
        return Heading(name, _PLACE[words[0]], unit)
    role, why = _role(words, name)
    if role and unit and role in COLUMNS and conversion(role, unit, 3600.0) is None:
        return Heading(name, "", unit, why=say("its unit {unit} does not fit {role}", unit=repr(unit), role=role))
    if (
        role in {"temp", "rh"}
        and unit
        and conversion(f"{'t' if role == 'temp' else 'rh'}_mean_{'c' if role == 'temp' else 'pct'}", unit, 1.0) is None
    ):
        return Heading(name, "", unit, why=say("its unit {unit} does not fit", unit=repr(unit)))
    return Heading(name, role, unit, _height(name) if role == "wind_2m_ms" else None, why=why)


def _time_role(words: list[str], name: str) -> Heading | None:
    joined = "".join(words)
    is_utc = "utc" in words or "gmt" in words or "z" in words[1:] or joined.endswith("utc")
    is_standard = "lst" in words or "standard" in words or "est" in words[1:]
    rest = [w for w in words if w not in _TIME_FILLERS]
    if not rest:
        return (
            Heading(name, "date", is_utc=is_utc, is_standard=is_standard)
            if joined in {"yyyymmdd", "lst", "yyyymmddhh"}
            else None
        )
    key = "".join(rest)
    if rest in (["year"], ["yr"], ["yyyy"], ["month"], ["mo"], ["doy"], ["dayofyear"]) or key == "dayofyear":
        role = {"yr": "year", "mo": "month", "dayofyear": "doy"}.get(key, key)
        return Heading(name, role, is_utc=is_utc, is_standard=is_standard)
    if key in {"day", "tag"}:
        return Heading(name, "day", is_utc=is_utc, is_standard=is_standard)
    if rest[0] in _TIME and len(rest) == 1:
        role = "hour" if rest[0] in {"hour", "hh"} else "time"
        return Heading(name, role, is_utc=is_utc, is_standard=is_standard)
    if key in _DATE or (rest[0] in _DATE and all(w in _DATE | _TIME for w in rest)):
        return Heading(name, "date", is_utc=is_utc, is_standard=is_standard)
    return None


def _role(words: list[str], name: str) -> tuple[str, str]:
    """(column or "", why it is not used)."""
    has = set(words)
    joined = "".join(words)
    if _says(words, _ETO):
        return ("eto_mm", "") if "actual" not in has else ("", say("it is not reference evapotranspiration"))
    if has & {"dew", "dewpoint", "dewpt", "dewp", "td", "tdew", "tdmean", "taupunkt"}:
        return "dew_point_c", ""
    if has & {"vpd", "deficit"}:
        return "", say("the vapour pressure deficit is not read")
    if has & {"vapour", "vapor", "ea", "vap", "avp"}:
        return "vapour_pressure_kpa", ""
    if has & {"wind", "gust", "gusts", "wdir"} or _says([w.rstrip("0123456789") for w in words] + words, _WIND):
        return _wind(has, joined)
    if _says(words, _RAIN):
        return _rain(has)
    if _says(words, _SUNSHINE) or has >= {"sun", "hours"}:
        return "sunshine_h", ""
    if _says(words, _SOLAR) or has >= {"global", "rad"} or has >= {"solar", "rad"}:
        return _solar(has)
    if _says(words, _PRESSURE):
        if has & {"sea", "slp", "msl", "mslp", "rel", "relative", "sealevel"}:
            return "", say("pressure reduced to sea level is not the air pressure here")
        return "pressure_kpa", ""
    if _says(words, _HUMIDITY) or has >= {"relative", "humidity"}:
        return _humidity(has)
    return _temperature(words, has, joined)


def _says(words: list[str], known: set[str]) -> bool:
    return bool(set(words) & known) or any("".join(words[i : i + 2]) in known for i in range(len(words)))


def _wind(has: set[str], joined: str) -> tuple[str, str]:
    if has & {"gust", "gusts", "max", "maximum", "hi", "high", "peak"}:
        return "", say("gusts and the highest wind are not the mean wind")
    if has & {"dir", "direction", "wdir", "bearing", "deg", "run", "chill", "windchill"}:
        return "", say("it is not a wind speed")
    return "wind_2m_ms", ""


def _rain(has: set[str]) -> tuple[str, str]:
    if has & {"chance", "probability", "prob", "pop"}:
        return "rain_chance_pct", ""
    if has & {"rate", "intensity", "type", "flag", "hours", "duration", "source", "uncert", "quantity", "code"}:
        return "", say("it is not an amount of rain")
    if has & {
        "weekly",
        "week",
        "monthly",
        "month",
        "yearly",
        "year",
        "event",
        "accumulated",
        "cumulative",
        "ytd",
        "mtd",
    }:
        return "", say("it adds up over many days")
    return "rain_mm", ""


def _solar(has: set[str]) -> tuple[str, str]:
    other = {"longwave", "lw", "net", "uv", "par", "ppfd", "extraterrestrial", "terrestrial", "direct", "diffuse",
             "dni", "dhi", "normal", "infrared", "source", "uncert", "clear", "max", "high", "hi"}  # fmt: skip
    if has & other:
        return "", say("it is not the global shortwave radiation")
    return "solar_mj_m2", ""


def _humidity(has: set[str]) -> tuple[str, str]:
    if has & (_NOT_OUTDOOR_AIR | {"specific", "absolute"}):
        return "", say("it is not the relative humidity of the outdoor air")
    if has & _MAX:
        return "rh_max_pct", ""
    if has & _MIN:
        return "rh_min_pct", ""
    return "rh", ""


def _temperature(words: list[str], has: set[str], joined: str) -> tuple[str, str]:
    known = _says(words, _TEMPERATURE) or joined in {"high", "low"} or has >= {"dry", "bulb"}
    if not known:
        return "", say("not a column that is used")
    if has & _NOT_OUTDOOR_AIR:
        return "", say("it is not the temperature of the outdoor air")
    if has & {"source", "uncert", "flag", "type", "range"}:
        return "", say("not a measured temperature")
    if has & _MAX or "tempmax" in joined or joined.endswith("tmax"):
        return "t_max_c", ""
    if has & _MIN or "tempmin" in joined or joined.endswith("tmin"):
        return "t_min_c", ""
    return "temp", ""


def _height(name: str) -> float | None:
    """Height of the wind gauge that the heading says: ``"Wind 10 m"``, ``"u2"``, ``"wind_speed_10m"``. [m]"""
    if re.search(r"(?i)(?:^|[^a-z])u_?2(?:[^0-9]|$)", name):
        return 2.0
    if re.search(r"(?i)(?:^|[^a-z])u_?10(?:[^0-9]|$)", name):
        return 10.0
    match = re.search(r"(?i)(?:^|[^0-9.])(\d{1,2}(?:\.\d)?)[\s_-]*m(?:eters?|etres?)?(?![a-z/0-9])", name)
    if match is None:
        match = re.search(r"(?i)wind_?(\d{1,2})(?![0-9])", name)
    if match is None:
        return None
    height = float(match[1])
    return height if 0.5 <= height <= 50.0 else None
