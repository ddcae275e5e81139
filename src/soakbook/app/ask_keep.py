"""A first answer kept: its place as the first of a new garden, or another one of a garden that is there."""

from __future__ import annotations

import math
from datetime import date
from typing import TYPE_CHECKING, Any

from soakbook.advice.question import SHADE_FROM_NOON, Question, spot_of
from soakbook.app.changing import free_name
from soakbook.app.reader import Reader
from soakbook.catalog import read as catalog

if TYPE_CHECKING:
    from soakbook.garden.model import Garden

Document = dict[str, Any]


def document_of(q: Question, garden: Garden, r: Reader, day: date, *, live: bool) -> Document:
    """A new garden with the question's place in it, shaped as the garden file is."""
    spot = spot_of(q)
    where: Document = {"latitude": garden.lat_deg, "longitude": garden.lon_deg, "time_zone": garden.time_zone}
    head = {
        "name": r.t("Garden in {town}", town=spot.name)[:80],
        **where,
        "elevation": f"{garden.elevation_m:.0f} m",
        "weather": "live" if live else "normals",
        "units": r.units,
        "start": day.isoformat(),
    }
    document: Document = {"garden": head, "supply": {"source": "mains"}, "lines": [], "soils": [], "places": []}
    return with_place(document, q, garden, r)


def with_place(document: Document, q: Question, garden: Garden, r: Reader, followed: date | None = None) -> Document:
    """The document with the question's place at the end, under names that are still free; ``followed`` from that day on."""
    place, planting = garden.places[0], garden.places[0].plantings[0]
    soils, places, lines = (document.get(key, []) for key in ("soils", "places", "lines"))
    name = free_name(r.tell(catalog.plant(planting.plant).name)[:80], [str(p["name"]) for p in places])
    supply = dict(document.get("supply", {}))
    if q.can and "can" not in supply:
        supply["can"] = q.can
    soil_name, soils = _with_soil(soils, garden, r)
    new: Document = {"name": name, "kind": place.kind, "soil": soil_name}
    if place.pot is not None:
        across, below = (2.0 * (a / math.pi) ** 0.5 for a in (place.pot.top_area_m2, place.pot.base_area_m2))
        new["pot"] = {
            "diameter": _cm(across), "height": _cm(place.pot.height_m), "base": _cm(below), "count": place.pot.count
        }  # fmt: skip
    else:
        new["size"] = q.bed
    if place.mulch is not None:
        new["mulch"] = {"kind": place.mulch.kind}
    if q.half_shade:
        new["sun"] = [[azimuth, height] for azimuth, height in SHADE_FROM_NOON]
    if q.flow:
        line = free_name(r.t("line to {place}", place=name)[:80], [str(one["name"]) for one in lines])
        lines = [*lines, {"name": line, "means": place.means, "flow": q.flow}]
        new["line"] = line
    else:
        new["watered"] = place.means
    if followed is not None:
        new["followed"] = followed.isoformat()
    new["plantings"] = [_planting(q, garden)]
    return {**document, "supply": supply, "soils": soils, "lines": lines, "places": [*places, new]}


def _with_soil(soils: list[Document], garden: Garden, r: Reader) -> tuple[str, list[Document]]:
    """The name of the soil, and the soils with it in them."""
    layer = garden.places[0].soil[0]
    entry: Document = {"feel": list(layer.feel)} if layer.feel else {layer.route: layer.texture or layer.mix}
    for soil in soils:
        if {k: v for k, v in soil.items() if k not in ("id", "name")} == entry:
            return str(soil["name"]), soils
    if layer.feel:
        words = r.t("soil by feel")
    else:
        named = catalog.textures().get(layer.texture) or catalog.mixes()[layer.mix]
        words = r.tell(named.name)
    name = free_name(words[:80], [str(s["name"]) for s in soils])
    return name, [*soils, {"name": name, **entry}]


def _planting(q: Question, garden: Garden) -> Document:
    planting = garden.places[0].plantings[0]
    entry: Document = {
        "plant": planting.plant,
        "sown": planting.sown and planting.sown.isoformat(),
        "planted": planting.planted_out and planting.planted_out.isoformat(),
        "count": planting.count,
    }
    if planting.established:
        entry["established"] = True
    if planting.measured_on is not None:
        entry |= {"width": q.wide or None, "height": q.tall or None, "measured": planting.measured_on.isoformat()}
    return {key: value for key, value in entry.items() if value is not None}


def _cm(metres: float) -> str:
    return f"{100.0 * metres:.2f} cm"
