"""A first garden file from a few answers, with comments that say what else may stand in it."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from soakbook.errors import InputError
from soakbook.said import say


@dataclass(frozen=True)
class Answers:
    """What the grower was asked, as it goes into the file.

    ``where``, or else latitude, longitude and time zone. ``soil`` is a whole entry (see :func:`soil_entry`);
    ``size`` is ``"3 m x 1.2 m"`` for a bed and the volume of mix for a pot.
    """

    name: str
    where: str | None
    place: str
    kind: str
    size: str
    soil: str
    plant: str | None
    planted: date | None
    watered: str
    can: str
    latitude: str | None = None
    longitude: str | None = None
    elevation: str | None = None
    time_zone: str | None = None
    units: str = "metric"


def starter_text(answers: Answers) -> str:
    """The text of a garden file; every value is checked by reading it back before it is written."""
    parts = [_garden(answers), _supply(answers), _soil(answers), _place(answers)]
    if answers.plant:
        parts.append(_planting(answers))
    return "".join(parts) + _MORE


def _quote(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _soil_name(a: Answers) -> str:
    return f"soil of {a.place}"[:80].strip()


def soil_entry(kind: str, answer: str | list[str]) -> str:
    """An answer about the soil as a line of the file: ``texture``, ``mix``, ``jar`` or ``feel``."""
    if isinstance(answer, str):
        return f"{kind} = {_quote(answer)}"
    return f"{kind} = [{', '.join(_quote(part) for part in answer)}]"


def _garden(a: Answers) -> str:
    if a.where is not None:
        where = f"where = {_quote(a.where)}\n"
    else:
        given = {
            "latitude": a.latitude,
            "longitude": a.longitude,
            "elevation": a.elevation,
            "time_zone": a.time_zone,
        }
        where = "".join(f"{key} = {_quote(value)}\n" for key, value in given.items() if value is not None)
    return f"""\
# A garden file. Change it with any text editor; look it over with: soakbook garden check
# Lengths, volumes and the like carry their unit in quotes: "45 cm", "3 ft", "10 L", "2 gal".

[garden]
name = {_quote(a.name)}
# A town, or instead: latitude, longitude, elevation and time_zone.
{where}# "normals" (the usual weather of the place), "live" (fetched) or your own "weather.csv".
weather = "normals"
# What you read: "metric" or "US". You may write either.
units = {_quote(a.units)}
"""


def _supply(a: Answers) -> str:
    return f"""
[supply]
# mains, rain_barrel, well, greywater or other
source = "mains"
# What your watering can holds. Pour it into something you know, or weigh it: 1 L is 1 kg.
can = {_quote(a.can)}
"""


def _soil(a: Answers) -> str:
    return f"""
[[soils]]
name = {_quote(_soil_name(a))}
# One of: texture = "loam"; jar = ["4 cm", "3 cm", "1 cm"] (sand, silt, clay after shaking);
# feel = [answers to the feel key]; mix = "a bought mix"; sand_pct and clay_pct from a laboratory.
{a.soil}
"""


def _place(a: Answers) -> str:
    if a.kind == "bed":
        shape = f"size = {_quote(a.size)}"
        hint = '# Length and width. Or: area = "3.6 m2".'
    else:
        shape = f"pot = {{ volume = {_quote(a.size)} }}"
        hint = '# Better: pot = { diameter = "30 cm", height = "28 cm", base = "22 cm", wall = "clay" }.'
    return f"""
[[places]]
name = {_quote(a.place)}
kind = {_quote(a.kind)}
soil = {_quote(_soil_name(a))}
{hint}
{shape}
watered = {_quote(a.watered)}
# What stands in the sun's way, by direction and height: here a house a third of the way up.
# sun = {{ south = "30 deg" }}
# mulch = {{ kind = "straw", cover = "80 %" }}
"""


def _planting(a: Answers) -> str:
    since = "established = true" if a.planted is None else f"planted = {a.planted.isoformat()}"
    return f"""
[[places.plantings]]
plant = {_quote(a.plant or "")}
# planted (out), sown, or established = true for what stood there before the season.
{since}
# count = 6
# spacing = "40 cm"
"""


_MORE = """
# More places: copy from [[places]] down. Alike pots are one place: pot = { volume = "15 L", count = 4 }.
# A drip line or soaker hose is described once and named by its places with line = "north":
# [[lines]]
# name = "north"
# means = "drip line"
# flow = "34 L/h"
# measured = true
"""


def write_new(path: str | Path, text: str) -> None:
    """Write a new file, whole or not at all; a file that is there already is never touched."""
    file = Path(path)
    temp = file.with_name(f".{file.name}.{os.getpid()}.new")
    try:
        _write(temp, text)
        try:
            os.link(temp, file)  # unlike a rename this never replaces anything
        except FileExistsError:
            raise
        except OSError:  # a disk without links: FAT, some network drives
            _write(file, text)
    except FileExistsError as exc:
        raise exists(file) from exc
    except OSError as exc:
        raise InputError(
            say("{file} cannot be written: {why}.", file=file, why=exc.strerror or exc),
            code="garden.unwritable",
            field="file",
        ) from exc
    finally:
        temp.unlink(missing_ok=True)


def _write(file: Path, text: str) -> None:
    with file.open("xb") as stream:
        stream.write(text.encode())
        stream.flush()
        os.fsync(stream.fileno())


def exists(file: Path) -> InputError:
    """The refusal to write over a file."""
    return InputError(
        say("{file} is there already and is left as it is.", file=file),
        code="garden.exists",
        field="file",
        hint=say("Give another name."),
    )
