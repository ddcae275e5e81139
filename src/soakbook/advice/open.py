"""Open a garden file with the catalogue's words and the towns the program knows."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from soakbook.garden.file import Checked, KnownWords, Spot
    from soakbook.garden.model import Garden


class _Named(Protocol):
    @property
    def id(self) -> str: ...
    @property
    def name(self) -> str: ...


def open_garden(path: str | Path) -> Garden:
    """Read a garden file, knowing the catalogue and the gazetteer.

    Raises
    ------
    InputError
        Naming file, line and entry; :class:`~soakbook.errors.InputErrors` when there are several.
    """
    return open_checked(path).garden


def open_checked(path: str | Path) -> Checked:
    """As :func:`open_garden`, with what was assumed because the file does not say it."""
    from soakbook.garden.file import check_garden

    return check_garden(path, known_words(), find_town, find_elevation)


def find_town(text: str) -> Spot:
    """A town by its name; the list of towns is loaded on the first call."""
    from soakbook.weather.gazetteer import find_place

    return find_place(text)


def find_elevation(lat_deg: float, lon_deg: float) -> float | None:
    """Height of the weather stations around a spot. [m]"""
    from soakbook.weather.normals import normals_at

    return normals_at(lat_deg, lon_deg, None).elevation_m


@cache
def known_words() -> KnownWords:
    """Every id, name and other name of the catalogue, each with its id."""
    from soakbook.catalog import read
    from soakbook.garden.file import KnownWords

    plants = _words(read.plants())
    for plant in read.plants().values():
        for word in plant.other_names:
            plants.setdefault(word, plant.id)
    return KnownWords(
        plants=plants,
        mixes=_words(read.mixes()),
        mulches=_words(read.mulches()),
        means=_words(read.means()),
        textures=_words(read.textures()),
    )


def _words(table: Mapping[str, _Named]) -> dict[str, str]:
    return {word: entry.id for entry in table.values() for word in (entry.id, entry.name)}
