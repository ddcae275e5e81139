"""Plain words for the figures of soils, mixes, mulches and ways of watering, and for how any figure is known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from soakbook.catalog.model import Value
from soakbook.said import say

#: What each standing of a figure means.
STANDINGS: dict[str, str] = {
    "printed": say("printed for this crop or its group"),
    "borrowed": say("printed for another crop"),
    "judged": say("our choice, from a printed range or with a reason"),
    "memory": say("common practice, not checked"),
}
#: Figures of a texture class or mix, in the order they are shown.
SOIL_LABELS: dict[str, str] = {
    "sand_pct": say("sand, % by mass"),
    "clay_pct": say("clay, % by mass"),
    "spread_fc": say("field capacity, give or take, m³/m³"),
    "spread_wp": say("wilting point, give or take, m³/m³"),
    "green_ampt_suction_mm": say("pull of dry soil on water, mm"),
    "green_ampt_k_mm_h": say("steady intake of the surface, mm/h"),
    "rew_mm": say("water the surface loses at full speed, mm"),
    "theta_r": say("water never given up, m³/m³"),
    "theta_s": say("water when full, m³/m³"),
    "alpha_per_cm": say("retention curve, alpha, 1/cm"),
    "n": say("retention curve, n"),
    "ks_mm_h": say("flow when full, mm/h"),
    "wilting": say("water plants cannot take, m³/m³"),
    "critical_dry": say("below this it is hard to wet, m³/m³"),
}
#: Texture groups of the chart of soil squeezed in the hand. It says nothing of mixes, nor of a soil whose texture nobody told: those are
#: judged by the row in the middle, and the reader is told.
FEEL_GROUPS: dict[str, str] = {
    "coarse": say("sandy soil"),
    "moderately coarse": say("sandy loam"),
    "medium": say("loam or silt"),
    "fine": say("clay or clay loam"),
    "mix": say("a mix, judged as if it were loam"),
    "unknown": say("a soil of unknown texture, judged as if it were loam"),
}
#: The classes of that chart, and the part of the water plants can take that is there in each.
SQUEEZED: dict[str, tuple[str, str]] = {
    "dry": (say("dry"), say("up to 25 %")),
    "slightly moist": (say("slightly moist"), say("25 to 50 %")),
    "moist": (say("moist"), say("50 to 75 %")),
    "wet": (say("wet"), say("75 to 100 %")),
    "full": (say("full"), say("100 %: all that it keeps")),
    "dripping": (say("dripping"), say("more than it keeps")),
}


def soil_values(row: Any) -> dict[str, Value]:
    """The figures a texture class or mix has, by field."""
    return {field: value for field in SOIL_LABELS if (value := getattr(row, field, None)) is not None}


def values_of(row: Any) -> dict[str, Value]:
    """The figures of an entry of any table, by field."""
    return {f.name: value for f in fields(row) if isinstance(value := getattr(row, f.name), Value)}


def notes_once(values: Iterable[tuple[str, Value]]) -> list[tuple[list[str], str, str]]:
    """Each note once: (what it is about, key of its source, the note)."""
    about: dict[tuple[str, str], list[str]] = {}
    for label, value in values:
        if value.note:
            about.setdefault((value.source, value.note), []).append(label)
    return [(labels, source, note) for (source, note), labels in about.items()]
