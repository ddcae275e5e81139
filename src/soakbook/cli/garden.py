"""``soakbook garden``: write a first garden file, check one."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from soakbook.cli.app import garden_app
from soakbook.cli.terminal import echo_json, paragraph, table, units_from_locale
from soakbook.errors import InputError, InputErrors

if TYPE_CHECKING:
    from datetime import date

    from soakbook.garden.file import Checked
    from soakbook.garden.model import Place

T = TypeVar("T")

DEFAULT_FILE = "garden.toml"
_ROUTES = {
    "particles": "by sand and clay",
    "measured": "as measured",
    "jar": "by jar test",
    "feel": "by feel",
}


def garden_path(given: Path | None) -> Path:
    """The garden file: as given, or named by SOAKBOOK_GARDEN, or garden.toml in this folder."""
    path = given or Path(os.environ.get("SOAKBOOK_GARDEN") or DEFAULT_FILE)
    if not path.is_file():
        raise InputError(
            f"There is no garden file {path}.",
            code="garden.missing",
            field="garden",
            hint="Name it with --garden or SOAKBOOK_GARDEN, or write one with: soakbook garden new",
        )
    return path


@garden_app.command("check")
def check(
    file: Annotated[Path | None, typer.Argument(help="The garden file; garden.toml when left out.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Look a garden file over and say what was taken for granted."""
    from soakbook.advice.open import open_checked

    path = garden_path(file)
    try:
        checked = open_checked(path)
    except InputError as error:
        if not as_json:
            raise
        errors = error.errors if isinstance(error, InputErrors) else [error]
        found = [e.to_json() for e in errors]
        echo_json("garden_check", 1, {"file": path.name, "is_usable": False, "errors": found})
        raise typer.Exit(error.exit_code) from None
    if as_json:
        echo_json("garden_check", 1, _as_json(path, checked))
        return
    garden = checked.garden
    places = f"{len(garden.places)} {'place' if len(garden.places) == 1 else 'places'}"
    typer.echo(paragraph(f"{path.name}: {garden.name}, {places}."))
    typer.echo("All entries can be used.")
    typer.echo()
    rows = [_row(place, checked) for place in garden.places]
    typer.echo(table(("place", "kind", "size", "soil", "watered", "growing"), rows))
    if checked.assumed:
        typer.echo("\nNot in the file, and therefore assumed:")
        for sentence in checked.assumed:
            typer.echo(paragraph(f"- {sentence}"))


def _size(place: Place, checked: Checked) -> str:
    from soakbook.units import format_quantity

    units = checked.garden.units
    if place.pot is None:
        return format_quantity(place.area_m2, "area", units)
    size = format_quantity(place.pot.volume_l, "volume", units)
    return f"{place.pot.count} × {size}" if place.pot.count > 1 else size


def _soil(place: Place) -> str:
    return " over ".join((layer.texture or layer.mix or _ROUTES[layer.route]).replace("_", " ") for layer in place.soil)


def _row(place: Place, checked: Checked) -> tuple[str, ...]:
    watered = f"line {place.line}" if place.line else place.means.replace("_", " ")
    growing = ", ".join(p.plant.replace("_", " ") for p in place.plantings) or "nothing"
    return place.name, place.kind, _size(place, checked), _soil(place), watered, growing


def _as_json(path: Path, checked: Checked) -> dict[str, Any]:
    garden = checked.garden
    return {
        "file": path.name,
        "is_usable": True,
        "name": garden.name,
        "lat_deg": garden.lat_deg,
        "lon_deg": garden.lon_deg,
        "elevation_m": garden.elevation_m,
        "time_zone": garden.time_zone,
        "places": [
            {
                "name": place.name,
                "kind": place.kind,
                "area_m2": place.area_m2,
                "volume_l": place.pot.volume_l * place.pot.count if place.pot else None,
                "soil": _soil(place),
                "means": place.means,
                "line": place.line,
                "plants": [planting.plant for planting in place.plantings],
            }
            for place in garden.places
        ],
        "assumed": list(checked.assumed),
    }


def _ask(question: str, given: str | None, default: str, check: Callable[[str], T], *, yes: bool) -> T:
    """An answer that can be used: the option's, the default with --yes, or asked until it fits."""
    if given is not None:
        return check(given)
    if yes:
        return check(default)
    while True:
        answer = str(typer.prompt(question, default=default)).strip()
        try:
            return check(answer)
        except InputError as error:
            typer.echo(paragraph(str(error), "  "), err=True)


def _text(answer: str) -> str:
    if not answer or not answer.isprintable() or len(answer) > 60:
        raise InputError("A name has 1 to 60 characters on one line.", code="text.long", field="name")
    return answer


def _one_of(*words: str) -> Callable[[str], str]:
    def check(answer: str) -> str:
        from soakbook.garden.words import nearest, plain

        for word in words:
            if plain(word) == plain(answer):
                return word
        raise InputError(f'"{answer}" must be one of {", ".join(words)}.', code="word", hint=nearest(answer, words))

    return check


def _town(answer: str) -> str:
    from soakbook.advice.open import find_town

    if not answer:
        raise InputError(
            "A town is needed, for the weather.",
            code="garden.where",
            field="where",
            hint="Or give --latitude, --longitude, --elevation and --time-zone.",
        )
    find_town(answer)
    return _text(answer)


def _size_of(kind: str) -> Callable[[str], str]:
    def check(answer: str) -> str:
        from soakbook.units import parse_quantity, parse_sides

        if kind == "bed":
            parse_sides(answer, field="size")
        else:
            parse_quantity(answer, "volume", field="size")
        return answer

    return check


def _soil_answer(answer: str) -> str:
    """A texture, a mix, or the three heights of a jar test, as the entry of the file."""
    from soakbook.advice.open import known_words
    from soakbook.garden.starter import soil_entry
    from soakbook.garden.words import nearest, some
    from soakbook.units import parse_quantity

    if answer.lower().startswith("jar"):
        heights = [part.strip() for part in answer[3:].lstrip(" :").split(";" if ";" in answer else "/")]
        if len(heights) != 3:
            raise InputError(
                "A jar test has three heights: sand, silt and clay.",
                code="jar",
                field="soil",
                hint="Write: jar 4 cm / 3 cm / 1 cm",
            )
        for height in heights:
            parse_quantity(height, "length", field="soil")
        return soil_entry("jar", heights)
    known = known_words()
    for kind, key in (("textures", "texture"), ("mixes", "mix")):
        try:
            return soil_entry(key, known.resolve(kind, answer))
        except InputError:
            continue
    words = [*known.textures, *known.mixes]
    raise InputError(
        f'"{answer}" is no soil texture and no mix.',
        code="soil.unknown",
        field="soil",
        hint=nearest(answer, words) or f"Known: {some(sorted({*known.textures.values(), *known.mixes.values()}), 40)}.",
    )


def _soil_by_feel() -> str:
    """Lead through the feel key, one question at a time."""
    from soakbook.garden.starter import soil_entry
    from soakbook.physics.feel import Question, follow

    answers: list[str] = []
    while isinstance(step := follow(answers), Question):
        typer.echo(paragraph(step.do))
        for number, answer in enumerate(step.answers, 1):
            typer.echo(paragraph(f"{number}  {answer.text}", "  "))
        chosen = _ask(step.ask, None, "1", _one_of(*(str(n + 1) for n in range(len(step.answers)))), yes=False)
        answers.append(step.answers[int(chosen) - 1].id)
    typer.echo(f"That is {step.replace('_', ' ')}.")
    return soil_entry("feel", answers)


def _plant(answer: str) -> str | None:
    from soakbook.advice.open import known_words

    if answer.lower() in ("", "none", "nothing"):
        return None
    known_words().resolve("plants", answer)
    return answer


def _day(answer: str) -> date | None:
    from datetime import date

    if answer.lower() in ("", "before", "established"):
        return None
    try:
        return date.fromisoformat(answer)
    except ValueError:
        raise InputError(
            f'"{answer}" is not a date.',
            code="date",
            field="planted",
            hint='Write year-month-day, or "before" for what stood there already.',
        ) from None


def _means(answer: str) -> str:
    from soakbook.advice.open import known_words

    return known_words().resolve("means", answer)


def _volume(answer: str) -> str:
    from soakbook.units import parse_quantity

    parse_quantity(answer, "volume", field="can")
    return answer


@garden_app.command("new")
def new(
    file: Annotated[Path, typer.Argument(help="The file to write.")] = Path(DEFAULT_FILE),
    name: Annotated[str | None, typer.Option(help="What you call the garden.")] = None,
    where: Annotated[str | None, typer.Option(help="Nearest town.")] = None,
    latitude: Annotated[str | None, typer.Option(help="Instead of a town, degrees north.")] = None,
    longitude: Annotated[str | None, typer.Option(help="Degrees east.")] = None,
    elevation: Annotated[str | None, typer.Option(help='Above the sea, such as "45 m".')] = None,
    time_zone: Annotated[str | None, typer.Option(help="Such as Europe/Berlin.")] = None,
    place: Annotated[str | None, typer.Option(help="What you call the first bed or pot.")] = None,
    kind: Annotated[str | None, typer.Option(help="bed or pot")] = None,
    size: Annotated[str | None, typer.Option(help='Bed: "3 m x 1.2 m". Pot: "15 L".')] = None,
    soil: Annotated[str | None, typer.Option(help='A texture, a mix, "jar 4 cm / 3 cm / 1 cm".')] = None,
    plant: Annotated[str | None, typer.Option(help="What grows there, or none.")] = None,
    planted: Annotated[str | None, typer.Option(help="Since when: 2026-05-10, or before.")] = None,
    watered: Annotated[str | None, typer.Option(help="How it is watered.")] = None,
    can: Annotated[str | None, typer.Option(help='What the watering can holds: "10 L".')] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Ask nothing: options and usual answers.")] = False,
) -> None:
    """Write a first garden file from a few answers. A file that is there already is left alone."""
    from soakbook.advice.open import find_elevation, find_town, known_words
    from soakbook.garden.file import parse_garden
    from soakbook.garden.starter import Answers, exists, starter_text, write_new

    if file.exists():
        raise exists(file)
    units = units_from_locale()
    metric = units == "metric"
    garden_name = _ask("What do you call the garden?", name, "My garden", _text, yes=yes)
    by_degrees = latitude is not None or longitude is not None
    town = None if by_degrees else _ask("Nearest town?", where, "", _town, yes=yes)
    kind = _ask("First place: a bed or a pot?", kind, "bed", _one_of("bed", "pot"), yes=yes)
    place = _ask(f"What do you call this {kind}?", place, f"first {kind}", _text, yes=yes)
    usual = ("3 m x 1.2 m" if metric else "10 ft x 4 ft") if kind == "bed" else ("15 L" if metric else "4 gal")
    question = "Length and width?" if kind == "bed" else "How much mix does it hold?"
    size = _ask(question, size, usual, _size_of(kind), yes=yes)
    soil_line = _ask_soil(soil, kind, yes=yes)
    crop = _ask("What grows there? (none: nothing yet)", plant, "none", _plant, yes=yes)
    since = _ask("Planted when? (before: stood there already)", planted, "before", _day, yes=yes) if crop else None
    means = _ask("How is it watered?", watered, "can", _means, yes=yes)
    can = _ask("What does your watering can hold?", can, "10 L" if metric else "2 gal", _volume, yes=yes)
    answers = Answers(
        name=garden_name,
        where=town,
        place=place,
        kind=kind,
        size=size,
        soil=soil_line,
        plant=crop,
        planted=since,
        watered=means,
        can=can,
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        time_zone=time_zone,
        units=units,
    )
    text = starter_text(answers)
    parse_garden(text, known_words(), find_town, find_elevation, file_name=file.name)
    write_new(file, text)
    typer.echo(paragraph(f"Wrote {file}. Change it as you like and look it over with: soakbook garden check {file}"))


def _ask_soil(given: str | None, kind: str, *, yes: bool) -> str:
    usual = "loam" if kind == "bed" else "multipurpose"
    if given is None and not yes and kind == "bed":
        ways = _one_of("name", "feel")
        how = _ask("Do you know the soil's name (name), or shall we feel it (feel)?", None, "name", ways, yes=False)
        if how == "feel":
            return _soil_by_feel()
    question = "Which soil or mix? (or: jar 4 cm / 3 cm / 1 cm for sand, silt, clay)"
    return _ask(question, given, usual, _soil_answer, yes=yes)
