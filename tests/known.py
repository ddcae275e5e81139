"""A small list of words for garden files in tests, and an invented town."""

from __future__ import annotations

from dataclasses import dataclass

from soakbook.errors import InputError
from soakbook.garden.file import KnownWords

KNOWN = KnownWords(
    plants={"tomato": "tomato", "lettuce": "lettuce", "carrot": "carrot", "runner bean": "runner_bean"},
    mixes={"multipurpose": "multipurpose", "peat-free compost": "peat_free"},
    mulches={"straw": "straw", "compost": "compost"},
    means={"can": "can", "watering can": "can", "drip line": "drip_line", "soaker hose": "soaker"},
    textures={"loam": "loam", "sandy loam": "sandy_loam", "clay": "clay"},
)


@dataclass(frozen=True)
class Town:
    """A spot as a gazetteer answers it."""

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float | None
    time_zone: str


def find_town(text: str) -> Town:
    """The one town there is, Little Sedge; its height is not known."""
    if text.casefold() == "little sedge":
        return Town("Little Sedge", 52.4, 0.3, None, "Europe/London")
    raise InputError(f'"{text}" is not a known town.', code="place.unknown", hint='Did you mean "Little Sedge"?')
