"""``soakbook plants``: the plants of the catalogue, and each number of one plant with its source."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table

if TYPE_CHECKING:
    from soakbook.catalog.model import Plant, Value


@app.command("plants")
def plants(
    name: Annotated[str | None, typer.Argument(help="A plant, by any of its names; all when left out.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON, in metric units.")] = False,
    units: UnitsOption = None,
) -> None:
    """List the plants Soakbook knows, or show one with the source of each number."""
    from soakbook.catalog import read

    chosen = [read.plant(name)] if name else list(read.plants().values())
    if as_json:
        echo_json("plants", 1, {"plants": [plant_as_json(plant) for plant in chosen], "sources": _sources(chosen)})
        return
    system = chosen_units(units)
    typer.echo(_one(chosen[0], system) if name else _all(chosen, system))


def _all(chosen: list[Plant], units: UnitSystem) -> str:
    from soakbook.units import format_quantity

    groups: dict[str, list[tuple[str, ...]]] = {}
    for p in chosen:
        days = sum(v.value for v in (p.days_ini, p.days_dev, p.days_mid, p.days_late))
        roots, apart = (format_quantity(v.value, "length", units) for v in (p.root_max_m, p.in_row_m))
        row = (p.name, ", ".join(p.other_names), f"{days:.0f}", roots, apart)
        groups.setdefault(p.group, []).append(row)
    parts = [f"{len(chosen)} plants. One with its sources: soakbook plants NAME"]
    for group, rows in groups.items():
        parts.append(f"\n{group.upper()}")
        parts.append(table(("plant", "also called", "days", "roots", "apart"), rows, right=(2, 3, 4)))
    return "\n".join(parts)


def _one(plant: Plant, units: UnitSystem) -> str:
    from soakbook.catalog.read import shown

    place = "sown in place" if plant.sown_in_place else "raised first, then planted out"
    kind = "perennial" if plant.perennial else "annual crop"
    lines = [f"{plant.name} ({plant.botanical})", f"{plant.group}, {kind}, {place}"]
    if plant.other_names:
        lines.append(paragraph(f"Also called {', '.join(plant.other_names)}."))
    sources = ", ".join("common practice" if key == "COMMON" else key for key in plant.critical_sources)
    lines.append(paragraph(f"Dryness costs most: {plant.critical} ({sources})."))
    if plant.stop:
        lines.append(paragraph(f"Stop watering: {plant.stop} (common practice)."))
    rows, known = [], []
    for label, unit, value in shown(plant).values():
        rows.append((label, _shown(value.value, unit, units), value.standing, value.source))
        known.append((label, value))
    lines += ["", table(("", "value", "how known", "source"), rows, right=(1,))]
    lines += ["", *how_known({row[2] for row in rows}), "", "Why these:", *notes(known)]
    used = sorted({row[3] for row in rows} | set(plant.critical_sources))
    return "\n".join([*lines, "", "Sources:", *(source_line(key) for key in used)])


def how_known(used: set[str]) -> list[str]:
    """A line for each standing that is used, saying what it means."""
    from soakbook.catalog.words import STANDINGS

    return [f"{word:8}  {meaning}" for word, meaning in STANDINGS.items() if word in used]


def notes(values: Iterable[tuple[str, Value]]) -> list[str]:
    """One paragraph a note, with the names of all the numbers it is about."""
    from soakbook.catalog.words import notes_once

    return [
        paragraph(f"- {'; '.join(labels)}: {source}, {note}", "  ").replace("  -", "-", 1)
        for labels, source, note in notes_once(values)
    ]


def source_line(key: str) -> str:
    """A source as a paragraph: its key, authors, year, title and place."""
    from soakbook.catalog.read import sources

    found = sources()[key]
    year = f" ({found.year})" if found.year else ""
    return paragraph(f"{key}: {found.authors}{year}: {found.title}; {found.where}.", "  ").replace("  ", "", 1)


def _shown(value: float, unit: str, units: UnitSystem) -> str:
    from soakbook.units import format_quantity

    if unit == "m":
        return format_quantity(value, "length", units)
    if unit == "°C":
        return format_quantity(value, "temperature", units)
    if unit == "dS/m":
        return f"{value:.1f} {unit}"
    return f"{value:g} d" if unit == "d" else f"{value:.2f}"


def plant_as_json(plant: Plant) -> dict[str, Any]:
    """One plant with every value, its source, standing and note."""
    from dataclasses import asdict

    from soakbook.catalog.read import shown

    return asdict(plant) | {field: asdict(value) for field, (_, _, value) in shown(plant).items()}


def _sources(chosen: list[Plant]) -> dict[str, dict[str, Any]]:
    from soakbook.catalog.read import shown

    used = {value.source for plant in chosen for _, _, value in shown(plant).values()}
    return sources_as_json(used | {key for plant in chosen for key in plant.critical_sources})


def sources_as_json(keys: set[str]) -> dict[str, dict[str, Any]]:
    """The sources of these keys, by key."""
    from dataclasses import asdict

    from soakbook.catalog.read import sources

    return {key: asdict(sources()[key]) for key in sorted(keys)}
