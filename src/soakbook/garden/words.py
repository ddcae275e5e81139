"""What a garden file may refer to by name: the catalogue's words, and towns. Handed in by the reader."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from soakbook.errors import InputError
from soakbook.said import say


class Spot(Protocol):
    """A named spot on the map, as a gazetteer answers."""

    @property
    def name(self) -> str: ...
    @property
    def lat_deg(self) -> float: ...
    @property
    def lon_deg(self) -> float: ...
    @property
    def elevation_m(self) -> float | None: ...
    @property
    def time_zone(self) -> str: ...


FindPlace = Callable[[str], Spot]
#: Latitude and longitude in degrees to a height in m, or None where none is near.
FindElevation = Callable[[float, float], float | None]


@dataclass(frozen=True)
class KnownWords:
    """The words a garden file may use, each mapping a name or other name to the catalogue's id."""

    plants: Mapping[str, str]
    mixes: Mapping[str, str]
    mulches: Mapping[str, str]
    means: Mapping[str, str]
    textures: Mapping[str, str]

    def resolve(self, kind: str, word: str) -> str:
        """The id of ``word`` in the list ``kind``; InputError with the nearest word when there is none."""
        table: dict[str, str] = {plain(name): found for name, found in getattr(self, kind).items()}
        found = next((table[key] for key in _spellings(word) if key in table), None)
        if found is None:
            singular = SINGULAR[kind]
            raise InputError(
                say('"{word}" is not a known {singular}.', word=word, singular=singular),
                code=f"{singular}.unknown",
                hint=nearest(word, table)
                or say("Known: {words}.", words=some(sorted(set(getattr(self, kind).values())))),
            )
        return found


SINGULAR = {
    "plants": say("plant"),
    "mixes": say("mix"),
    "mulches": say("mulch"),
    "means": say("means"),
    "textures": say("texture"),
}


@lru_cache(maxsize=8192)
def plain(word: str) -> str:
    """A word as it is compared: without case, and with spaces, commas, hyphens and underscores alike."""
    return " ".join(word.casefold().translate(str.maketrans("_-,", "   ")).split())


def _spellings(word: str) -> Iterable[str]:
    """The word as given, and without the endings of a plural."""
    key = plain(word)
    yield key
    for ending, instead in (("ies", "y"), ("es", ""), ("s", "")):
        if key.endswith(ending):
            yield key.removesuffix(ending) + instead


def nearest(word: str, allowed: Iterable[str], cutoff: float = 0.6) -> str:
    """``Did you mean "loam"?``, or nothing when no allowed word is like it."""
    by_plain = {plain(name): name for name in allowed}
    near = difflib.get_close_matches(plain(word)[:100], list(by_plain), n=1, cutoff=cutoff)
    return say('Did you mean "{word}"?', word=by_plain[near[0]]) if near else ""


def some(names: Iterable[str], most: int = 20) -> str:
    """The names with commas; the first ``most`` when there are many."""
    all_names = list(names)
    return ", ".join(all_names[:most]) + (", …" if len(all_names) > most else "")
