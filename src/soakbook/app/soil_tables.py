"""Soils in a garden document: by id or as a place's own, and their layers."""

from __future__ import annotations

from soakbook.app.changing import SOIL, Document, find, place_in, small_number, words
from soakbook.app.desk import Known
from soakbook.errors import InputError
from soakbook.garden.words import plain
from soakbook.said import say

#: Where a place's own soil stands in an address.
OWN = "in-"


def soil_in(document: Document, soil_id: str) -> tuple[str, str, Document]:
    """Where a soil stands (as in an error's field), its name, and what is written of it without name and id."""
    if soil_id.startswith(OWN):
        index, place = place_in(document, soil_id.removeprefix(OWN))
        soil = place["soil"]
        return (
            f"places.{index + 1}.soil",
            place["name"],
            dict(soil) if isinstance(soil, dict) else _as_table(soil, document),
        )
    index, table = find(document.get("soils", []), soil_id, SOIL)
    return f"soils.{index + 1}", table["name"], {k: v for k, v in table.items() if k not in ("id", "name")}


def _as_table(word: str, document: Document) -> Document:
    """A soil given by a word, as a table to start one's own from."""
    for table in document.get("soils", []):
        if plain(table["name"]) == plain(word):
            return {k: v for k, v in table.items() if k not in ("id", "name")}
    is_texture = plain(word) in {plain(known) for known in words().textures}
    return {"texture" if is_texture else "mix": word}


def put_soil(document: Document, soil_id: str, soil: Document) -> None:
    """Writes a soil where it stands, under its name."""
    if soil_id.startswith(OWN):
        _, place = place_in(document, soil_id.removeprefix(OWN))
        place["soil"] = soil
        return
    index, table = find(document["soils"], soil_id, SOIL)
    document["soils"][index] = {"id": table["id"], "name": table["name"], **soil}


def layers_of(soil: Document) -> list[Document]:
    """The layers of a soil, from the top down."""
    return list(soil["layers"]) if "layers" in soil else [soil]


def of_layers(layers: list[Document]) -> Document:
    """What is written of a soil with these layers."""
    return layers[0] if len(layers) == 1 else {"layers": layers}


def numbered(layers: list[Document], number: str) -> Document:
    """The layer of a number counted from 1; nothing yet for ``new``."""
    if number == "new":
        return {}
    at = small_number(number)
    if at is None or not 1 <= at <= len(layers):
        raise InputError(say("there is no such layer."), code="layer.unknown", field="layer")
    return layers[at - 1]


def used_by(known: Known, name: str) -> list[str]:
    """Names of the places that have a soil."""
    return [
        p["name"] for p in known.document["places"] if isinstance(p["soil"], str) and plain(p["soil"]) == plain(name)
    ]
