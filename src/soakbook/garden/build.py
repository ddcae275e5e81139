"""From the checked tables of a garden file to a garden: what several entries say together."""

from __future__ import annotations

import os
import zoneinfo
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any

from soakbook.errors import InputError
from soakbook.garden.build_place import PlaceBuilder
from soakbook.garden.build_soil import build_soil
from soakbook.garden.build_timer import build_timers
from soakbook.garden.locate import Path
from soakbook.garden.model import Garden, Line, Place, SoilLayer, Supply, Wishes
from soakbook.garden.problems import Problems, claim_name
from soakbook.garden.schema import GardenTable, LineTable, SupplyTable, WishesTable
from soakbook.garden.words import FindElevation, FindPlace, Spot, nearest, some
from soakbook.said import say

_TOP = ("garden", "supply", "wishes", "lines", "timers", "soils", "places")


def build_garden(
    raw: dict[str, Any],
    problems: Problems,
    find_place: FindPlace | None,
    find_elevation: FindElevation | None,
    folder: FilePath | None,
) -> tuple[Garden, tuple[str, ...]]:
    """The garden, and what was assumed; raises all problems of the file at once."""
    assumed: list[str] = []
    for key in raw:
        if key not in _TOP:
            hint = nearest(key, _TOP) or say("Known here: {words}.", words=", ".join(_TOP))
            problems.add((key,), say("this table is not known."), code="key.unknown", hint=hint)
    if "garden" not in raw:
        problems.add(("garden",), say("the [garden] table with name and where is missing."), code="key.missing")
    head = problems.table(GardenTable, raw["garden"], ("garden",)) if "garden" in raw else None
    spot = _spot(head, problems, find_place, find_elevation, assumed) if head else None
    if head:
        _check_weather(head, problems, folder)
    supply = problems.table(SupplyTable, raw.get("supply", {}), ("supply",))
    wishes = problems.table(WishesTable, raw.get("wishes", {}), ("wishes",))
    lines = _lines(raw, problems, assumed)
    timers = build_timers(raw, problems, lines)
    soils = _soils(raw, problems)
    places = _places(raw, problems, lines, soils, assumed)
    problems.raise_if_any()
    assert head is not None
    assert spot is not None
    assert supply is not None
    assert wishes is not None
    weather = head.weather
    price, currency = supply.price or (None, "")
    if folder is not None and weather not in ("normals", "live"):
        weather = str((folder / weather).resolve())
    garden = Garden(
        name=head.name,
        lat_deg=spot.lat_deg,
        lon_deg=spot.lon_deg,
        elevation_m=spot.elevation_m,
        time_zone=spot.time_zone,
        places=places,
        lines=tuple(line for line in lines.values() if line is not None),
        supply=Supply(supply.source, supply.can, supply.tank, price, currency, supply.salt, supply.hose),
        wishes=Wishes(wishes.spare_water, wishes.spare_time, wishes.best_crop),
        weather=weather,
        units=head.units,
        invented=head.invented,
        start=head.start,
        timers=timers,
    )
    return garden, tuple(assumed)


@dataclass(frozen=True)
class _Spot:
    lat_deg: float
    lon_deg: float
    elevation_m: float
    time_zone: str


def _spot(
    head: GardenTable,
    problems: Problems,
    find_place: FindPlace | None,
    find_elevation: FindElevation | None,
    assumed: list[str],
) -> _Spot | None:
    own = (head.latitude, head.longitude)
    if head.where is not None and own != (None, None):
        problems.add(
            ("garden", "where"),
            say("give either where or latitude and longitude, not both."),
            code="garden.where.both",
        )
        return None
    if head.where is not None:
        found = _find(head.where, problems, find_place)
        if found is None:
            return None
        elevation = head.elevation if head.elevation is not None else found.elevation_m
        zone = head.time_zone or found.time_zone
        spot = (found.lat_deg, found.lon_deg)
        where = found.name
    elif head.latitude is None or head.longitude is None:
        missing = "latitude" if head.latitude is None else "longitude"
        what = "where" if own == (None, None) else missing
        problems.add(
            ("garden", what),
            say('"{what}" is missing.', what=what),
            code="key.missing",
            hint=say('Give where = "a town", or latitude, longitude and time_zone.'),
        )
        return None
    else:
        elevation, zone, spot = head.elevation, head.time_zone or "", (head.latitude, head.longitude)
        where = f"{head.latitude:g}, {head.longitude:g}"
    if not _zone_is_known(zone, head, problems):
        return None
    if elevation is None:
        near = find_elevation(*spot) if find_elevation else None
        elevation = near or 0.0
        taken = (
            say("0 m is taken")
            if near is None
            else say("{near:.0f} m is taken, that of the nearest weather station", near=near)
        )
        assumed.append(
            say(
                "The height of {where} above the sea is not given: {taken}. "
                "100 m more or less change the demand by less than 1 %.",
                where=where,
                taken=taken,
            )
        )
    return _Spot(*spot, elevation, zone)


def _find(where: str, problems: Problems, find_place: FindPlace | None) -> Spot | None:
    path: Path = ("garden", "where")
    if find_place is None:
        problems.add(
            path,
            say('towns cannot be looked up here ("{where}").', where=where),
            code="garden.where.lookup",
            hint=say("Give latitude, longitude, elevation and time_zone."),
        )
        return None
    try:
        return find_place(where)
    except InputError as error:
        problems.relay(path, error)
        return None


def _zone_is_known(zone: str, head: GardenTable, problems: Problems) -> bool:
    if not zone:
        hint = say('Such as time_zone = "Europe/Berlin".')
        problems.add(("garden", "time_zone"), say('"time_zone" is missing.'), code="key.missing", hint=hint)
        return False
    try:
        zoneinfo.ZoneInfo(zone)
    except (KeyError, ValueError, OSError):
        near = nearest(zone, zoneinfo.available_timezones())
        problems.add(
            ("garden", "time_zone"),
            say('"{zone}" is not a time zone.', zone=zone),
            code="garden.time_zone",
            hint=near or say('Write it like "Europe/Berlin".'),
        )
        return False
    return True


def _check_weather(head: GardenTable, problems: Problems, folder: FilePath | None) -> None:
    path: Path = ("garden", "weather")
    if head.weather in ("normals", "live"):
        return
    if "." not in head.weather:
        problems.add(
            path,
            say('"{weather}" must be "normals", "live" or a file such as "weather.csv".', weather=head.weather),
            code="garden.weather",
            hint=nearest(head.weather, ("normals", "live")),
        )
    elif folder is not None and not os.path.isfile(folder / head.weather):
        problems.add(
            path,
            say('there is no file "{weather}".', weather=head.weather),
            code="garden.weather.missing",
            hint=say("The path counts from the garden file's folder."),
        )


def _lines(raw: dict[str, Any], problems: Problems, assumed: list[str]) -> dict[str, Line | None]:
    """Lines by name; None stands for one that has errors of its own."""
    lines: dict[str, Line | None] = {}
    for path, item in problems.tables(raw.get("lines", []), ("lines",), "[[lines]]"):
        table = problems.table(LineTable, item, path)
        name = claim_name(item, path, lines, problems, say("line"))
        if table is None:
            if name:
                lines[name] = None
            continue
        if table.measured and table.flow is None:
            problems.add(
                (*path, "measured"), say("measured = true needs the flow that was measured."), code="line.flow"
            )
        flow = table.flow
        if flow is None and table.each and table.every and table.long:
            count = max(1, round(table.long / table.every))
            flow = table.each * count
            assumed.append(
                say(
                    'The flow of line "{name}" is taken as {count} emitters of {each:g} L/h; it was not measured.',
                    name=table.name,
                    count=count,
                    each=table.each,
                )
            )
        lines[table.name] = Line(table.name, table.means, flow, table.measured, table.each, table.every, table.long)
    return lines


def _soils(raw: dict[str, Any], problems: Problems) -> dict[str, tuple[SoilLayer, ...] | None]:
    soils: dict[str, tuple[SoilLayer, ...] | None] = {}
    for path, item in problems.tables(raw.get("soils", []), ("soils",), "[[soils]]"):
        name = claim_name(item, path, soils, problems, say("soil"))
        if not name and isinstance(item, dict):
            problems.add((*path, "name"), say('"name" is missing or not text.'), code="key.missing")
        rest = {k: v for k, v in item.items() if k != "name"} if isinstance(item, dict) else item
        layers = build_soil(rest, path, problems)
        if name:
            soils[name] = layers
    return soils


def _places(
    raw: dict[str, Any],
    problems: Problems,
    lines: dict[str, Line | None],
    soils: dict[str, tuple[SoilLayer, ...] | None],
    assumed: list[str],
) -> tuple[Place, ...]:
    builder = PlaceBuilder(problems, lines, soils, assumed)
    names: dict[str, None] = {}
    built: list[tuple[Path, Place]] = []
    items = problems.tables(raw.get("places", []), ("places",), "[[places]]")
    if not items and not problems.any_under(("places",)):
        problems.add(("places",), say("there is no place: write at least one [[places]]."), code="garden.places.none")
    for path, item in items:
        name = claim_name(item, path, names, problems, say("place"))
        names[name] = None
        place = builder.build(item, path)
        if place is not None:
            built.append((path, place))
    if problems.any_under(("places",)):
        return ()
    return _share_lines(built, lines, builder.shares, problems, assumed)


def _by_own_emitters(rest: Sequence[Place], line: Line | None, left: float) -> dict[str, float]:
    """Shares of places whose emitters are counted, where those of the others on the line are not; none where that would leave nothing."""
    if line is None or line.flow_lph is None or all(place.emitters for place in rest):
        return {}
    each = {p.name: p.emitter_flow_lph or line.emitter_flow_lph or 0.0 for p in rest}
    found = {p.name: p.emitters * each[p.name] / line.flow_lph for p in rest if p.emitters and each[p.name]}
    return found if sum(found.values()) < left - 1e-6 else {}


def _share_lines(
    built: list[tuple[Path, Place]], lines: Mapping[str, Line | None], given: dict[str, float], problems: Problems, assumed: list[str]
) -> tuple[Place, ...]:  # fmt: skip
    """Give each place its share of its line's flow: as written, by its own emitters where the others' are not counted, the rest by emitters or
    else by area."""
    shares: dict[str, float] = {}
    for line in dict.fromkeys(place.line for _, place in built if place.line):
        on_it = [(path, place) for path, place in built if place.line == line]
        left = 1.0 - sum(given.get(place.name, 0.0) for _, place in on_it)
        rest = [place for _, place in on_it if place.name not in given]
        if left < -1e-6 or (rest and left <= 1e-6):
            path = next(path for path, place in on_it if place.name in given)
            problems.add(
                (*path, "line_share"),
                say(
                    'the places on line "{line}" ({places}) take more than 100 % of it.',
                    line=line,
                    places=some(p.name for _, p in on_it),
                ),
                code="line.share",
            )
            continue
        counted = _by_own_emitters(rest, lines.get(str(line)), left)
        shares |= counted
        left -= sum(counted.values())
        rest = [place for place in rest if place.name not in counted]
        weigh: Callable[[Place], float] = (
            (lambda p: float(p.emitters or 0)) if all(p.emitters for p in rest) else (lambda p: p.area_m2)
        )
        total = sum(weigh(place) for place in rest)
        for place in rest:
            shares[place.name] = left * weigh(place) / total
        if len(rest) > 1:
            how = say("emitters") if all(p.emitters for p in rest) else say("area")
            assumed.append(
                say(
                    'Line "{line}" is shared by {how}: {places}.', line=line, how=how, places=some(p.name for p in rest)
                )
            )
    return tuple(replace(place, line_share=given.get(place.name, shares.get(place.name, 1.0))) for _, place in built)
