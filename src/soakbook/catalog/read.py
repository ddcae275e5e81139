"""Read the catalogue: plants, texture classes, mixes, mulches and means, each number with its source.

The data files are plain tables meant to be read and edited by hand. ``plants.csv`` holds the values, one row
a plant; ``plants_sources.csv`` says where they come from: a row names one plant, one or more of its fields, a
source key, the standing and a note. A plant named ``*`` stands for every plant that has no row of its own for
that field. The other tables are made alike. ``sources.toml`` describes the source keys.

Conventions of ``plants.csv``
-----------------------------
Stage lengths (``days_*``) are those of the crop in its place: from planting out for crops raised elsewhere,
from sowing for crops sown in place, from new growth in spring for perennials. ``transplant_age_days`` is the
nursery time before. The row of FAO-56 Table 11 nearest to a temperate garden planted in spring is taken,
unscaled, and named in the note. Where a source prints a range its middle is taken and the note says so.
``root_max_m`` is the lower end of FAO-56 Table 22's range: its footnote 1 keeps the larger values for rain-fed crops
and the modelling of stress, and gives the smaller ones for scheduling irrigation (footnote from memory). Without a
row of its own a plant takes a relative's, or the garden source. A perennial's ``root_min_m`` is that of the year it is planted.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, Literal, Protocol, TypeVar, cast

from soakbook.catalog.model import HandFeel, Means, Mix, MulchKind, Plant, Source, Stages, Standing, TextureClass, Value
from soakbook.catalog.notes import said_note
from soakbook.errors import InputError, SoakbookError
from soakbook.said import say

DATA = Path(__file__).parent / "data"

Row = dict[str, str]
Kind = TypeVar("Kind", Plant, TextureClass, Mix, MulchKind, Means, Stages, HandFeel)


class Named(Protocol):
    """An entry of any of the tables."""

    @property
    def id(self) -> str: ...
    @property
    def name(self) -> str: ...


Entry = TypeVar("Entry", bound=Named)
Origin = tuple[str, Standing, str]


@cache
def sources() -> dict[str, Source]:
    """Every source by its key."""
    import tomllib

    with (DATA / "sources.toml").open("rb") as file:
        return {key: Source(key=key, **entry) for key, entry in tomllib.load(file).items()}


@cache
def plants() -> dict[str, Plant]:
    """Every plant by its id."""
    return _table("plants", Plant, _plant_words)


@cache
def textures() -> dict[str, TextureClass]:
    """The twelve USDA texture classes by id.

    ``spread_fc`` and ``spread_wp`` are half of the range FAO-56 Table 19 prints for the class [m³/m³].
    """
    return _table("textures", TextureClass, _names)


@cache
def mixes() -> dict[str, Mix]:
    """Potting and raised-bed mixes by id."""
    return _table("mixes", Mix, _mix_words)


@cache
def feel() -> dict[str, HandFeel]:
    """The chart of soil squeezed in the hand by id: four texture groups, six classes each from dry to dripping."""
    return _table("feel", HandFeel, _feel_words)


def feel_chart(group: str) -> tuple[HandFeel, ...]:
    """The six rows of a texture group, from dry to dripping; of anything else, such as a ``mix``, those of medium soils."""
    rows = tuple(row for row in feel().values() if row.texture_group == group)
    return rows or feel_chart("medium")


@cache
def mulches() -> dict[str, MulchKind]:
    """Mulches by id."""
    return _table("mulches", MulchKind, _names)


@cache
def means() -> dict[str, Means]:
    """Ways of watering by id."""
    return _table("means", Means, _means_words)


@cache
def stages() -> dict[str, Stages]:
    """How each plant bears lack of water by stage, and salt, by the plant's id."""
    return _table("stages", Stages, lambda row: {"id": row["id"]})


def plant(name: str) -> Plant:
    """The plant of that id, name or other name, in any case, in singular or plural.

    Raises
    ------
    InputError
        No plant of the catalogue is called that; the hint names those spelled nearest.
    """
    return pick(name, plants(), _plant_index(), what="plant")


#: What is picked, in messages.
_KINDS = {"plant": say("plant"), "soil": say("soil")}


def pick(name: str, kinds: Mapping[str, Entry], index: Mapping[str, str], *, what: str) -> Entry:
    """The entry called ``name``; ``index`` holds plain keys of names against ids."""
    for key in _spellings(name):
        if key in index:
            return kinds[index[key]]
    near = list(dict.fromkeys(index[k] for k in get_close_matches(plain(name), index, n=5, cutoff=0.6)))
    raise InputError(
        say(
            "{what} must be one of the {n} in the catalogue (got {name}).",
            what=_KINDS[what],
            n=len(kinds),
            name=repr(name),
        ),
        code=f"{what}.unknown",
        field=what,
        hint=say("Did you mean {near}?", near=", ".join(near))
        if near
        else say("`soakbook {what}s` lists them.", what=what),
    )


def plain(name: str) -> str:
    """A name for looking up: lower case, words parted by one space, no commas or hyphens."""
    return " ".join(name.casefold().translate(str.maketrans("_-,", "   ")).split())


def index_of(kinds: Mapping[str, Named]) -> dict[str, str]:
    """Plain id and plain name against id."""
    return {plain(word): kind.id for kind in kinds.values() for word in (kind.id, kind.name)}


def unsure(plant: Plant) -> list[tuple[str, Standing, str]]:
    """What is not printed in a source for this very plant: (what it is, standing, why), in plain words."""
    found: list[tuple[str, Standing, str]] = []
    for field in fields(plant):
        value = getattr(plant, field.name)
        if isinstance(value, Value) and value.standing != "printed":
            found.append((LABELS[field.name][0], value.standing, value.note or say(sources()[value.source].title)))
    return found


#: Plain words and unit of each number of a plant, in the order they are shown.
LABELS: dict[str, tuple[str, str]] = {
    "kcb_ini": (say("crop coefficient Kcb, start"), ""),
    "kcb_mid": (say("crop coefficient Kcb, full growth"), ""),
    "kcb_end": (say("crop coefficient Kcb, end"), ""),
    "height_max_m": (say("height, full grown"), "m"),
    "width_max_m": (say("width, full grown"), "m"),
    "root_min_m": (say("roots at the start"), "m"),
    "root_max_m": (say("roots, full grown"), "m"),
    "depletion_p": (say("share of water it takes without harm"), ""),
    "days_ini": (say("days: start"), "d"),
    "days_dev": (say("days: growing to full cover"), "d"),
    "days_mid": (say("days: full growth"), "d"),
    "days_late": (say("days: ripening or fading"), "d"),
    "base_temp_c": (say("grows above"), "°C"),
    "in_row_m": (say("spacing in the row"), "m"),
    "row_m": (say("spacing of rows"), "m"),
    "sowing_depth_m": (say("sowing or planting depth"), "m"),
    "germination_days": (say("days to emergence"), "d"),
    "transplant_age_days": (say("age at planting out"), "d"),
    "ky": (say("yield lost per share of water lost, Ky"), ""),
}
#: The same for numbers that stand beside the plants, in ``stages.csv``, and are shown with them.
BESIDE: dict[str, tuple[str, str]] = {"salt_ece_ds_m": (say("salt in the soil it bears, ECe"), "dS/m")}


def shown(plant: Plant) -> dict[str, tuple[str, str, Value]]:
    """Every number shown of a plant, by field: what it is, its unit, and the number with its source."""
    beside = stages()[plant.id]
    own = {field: (label, unit, getattr(plant, field)) for field, (label, unit) in LABELS.items()}
    return own | {field: (label, unit, getattr(beside, field)) for field, (label, unit) in BESIDE.items()}


@cache
def _plant_index() -> dict[str, str]:
    index = index_of(plants())
    for each in plants().values():
        for word in each.other_names:
            index.setdefault(plain(word), each.id)
    return index


def _spellings(name: str) -> Iterable[str]:
    key = plain(name)
    yield key
    for ending, instead in (("ies", "y"), ("es", ""), ("s", "")):
        if key.endswith(ending):
            yield key[: -len(ending)] + instead


def _table(name: str, kind: type[Kind], words: Callable[[Row], dict[str, Any]]) -> dict[str, Kind]:
    numbers = [f.name for f in fields(kind) if f.type == "Value"]
    origins = _origins(f"{name}_sources.csv")
    found = {}
    for row in _rows(f"{name}.csv"):
        own, common = origins.get(row["id"], {}), origins.get("*", {})
        values = {f: _value(row, f, own.get(f) or common.get(f)) for f in numbers}
        given: dict[str, Any] = words(row) | values
        found[row["id"]] = kind(**given)
    return found


def _value(row: Row, field: str, origin: Origin | None) -> Value:
    if origin is None:
        raise SoakbookError(
            say("catalogue: {id}.{field} has no source.", id=row["id"], field=field), code="catalog.source"
        )
    source, standing, note = origin
    return Value(float(row[field]), source, standing, note)


@cache
def _origins(file: str) -> dict[str, dict[str, Origin]]:
    found: dict[str, dict[str, Origin]] = {}
    for row in _rows(file):
        origin = (row["source"], cast(Standing, row["standing"]), said_note(row["note"]))
        for field in row["fields"].split():
            found.setdefault(row["id"], {})[field] = origin
    return found


def _rows(file: str) -> list[Row]:
    with (DATA / file).open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _cell(text: str) -> str:
    """A cell that is read aloud, kept so that it can be said in another language."""
    return say(text) if text else ""


def _names(row: Row) -> dict[str, Any]:
    return {"id": row["id"], "name": _cell(row["name"])}


def _plant_words(row: Row) -> dict[str, Any]:
    return _names(row) | {
        "other_names": tuple(w for w in row["other_names"].split("; ") if w),
        "botanical": row["botanical"],
        "group": _cell(row["group"]),
        "perennial": row["perennial"] == "yes",
        "sown_in_place": row["sown_in_place"] == "yes",
        "critical": _cell(row["critical"]),
        "critical_sources": tuple(row["critical_sources"].split()),
        "stop": _cell(row["stop"]),
    }


def _mix_words(row: Row) -> dict[str, Any]:
    return _names(row) | {"use": cast(Literal["pot", "bed"], row["use"]), "note": _cell(row["note"])}


def _feel_words(row: Row) -> dict[str, Any]:
    origins = _origins("feel_sources.csv")
    source, standing, note = origins.get(row["id"], {}).get("feels") or origins["*"]["feels"]
    words = {"id": row["id"], "texture_group": row["texture_group"], "seen": row["seen"], "feels": _cell(row["feels"])}
    return words | {"source": source, "standing": standing, "note": note}


def _means_words(row: Row) -> dict[str, Any]:
    return _names(row) | {
        "wets_leaves": row["wets_leaves"] == "yes",
        "under_canopy": row["under_canopy"] == "yes",
    }
