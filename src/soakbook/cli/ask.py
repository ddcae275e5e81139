"""``soakbook ask``: a first answer without a garden."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.round import DayOption, UnitsOption, amount_text, chosen_day, chosen_units, under
from soakbook.cli.terminal import echo_json, paragraph, table, working

if TYPE_CHECKING:
    from datetime import date

    from soakbook.advice.ask import Answer
    from soakbook.garden.model import Garden

Text = str | None


@app.command("ask")
def ask_command(
    where: Annotated[
        Text, typer.Option("--where", help="A town ('Lyon', 'Salem, Oregon') or 'latitude, longitude'.")
    ] = None,
    soil: Annotated[Text, typer.Option("--soil", help="A texture class or a mix: see 'soakbook soils'.")] = None,
    plant: Annotated[Text, typer.Option("--plant", help="What grows there: see 'soakbook plants'.")] = None,
    planted: Annotated[Text, typer.Option("--planted", help="Planted out on, YYYY-MM-DD.")] = None,
    sown: Annotated[Text, typer.Option("--sown", help="Sown where it stands on, YYYY-MM-DD.")] = None,
    established: Annotated[
        bool, typer.Option("--established", help="A perennial that stood there before the season.")
    ] = False,
    wide: Annotated[
        Text, typer.Option("--wide", help="How wide one plant is today, such as '40 cm' or '16 in'.")
    ] = None,
    tall: Annotated[Text, typer.Option("--tall", help="How tall it is today.")] = None,
    count: Annotated[
        int | None, typer.Option("--count", min=1, help="How many plants; else by the usual spacing.")
    ] = None,
    bed: Annotated[Text, typer.Option("--bed", help="Size of the bed, such as '3 m x 1.2 m'.")] = None,
    pot: Annotated[Text, typer.Option("--pot", help="Size of one pot, such as '15 L' or '5 gal'.")] = None,
    pots: Annotated[int, typer.Option("--pots", min=1, help="How many pots alike.")] = 1,
    watered: Annotated[
        Text, typer.Option("--watered", help="can, wand, sprinkler, drip line, emitters, soaker, tray, basin ...")
    ] = None,
    can: Annotated[Text, typer.Option("--can", help="What your can holds, such as '9 L'.")] = None,
    on: DayOption = None,
    live: Annotated[
        bool, typer.Option("--live", help="Fetch the last weeks and the forecast (needs the network).")
    ] = False,
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """How much and how often for one plant in one place: today, month by month, and why. Needs no garden."""
    from soakbook.advice.question import Question, garden_of
    from soakbook.errors import InputError

    day, system = chosen_day(on), chosen_units(units)
    asked = sys.stdin.isatty() and not as_json
    where = where or _ask(asked, "where", "Where is it (a town, or latitude, longitude)?")
    plant = plant or _ask(asked, "plant", "What grows there?")
    if bed is None and pot is None:
        size = _ask(asked, "bed", "How big is the bed (such as 3 m x 1.2 m), or the pot (such as 15 L)?")
        bed, pot = (size, None) if "x" in size.lower() else (None, size)
    if bed is not None and pot is not None:
        raise InputError("give a bed or a pot, not both.", code="ask.both", field="bed")
    soil = soil or ("multipurpose" if pot else _ask(asked, "soil", "What is the soil (loam, clay, sand ...)?"))
    watered = watered or ("can" if not asked else _ask(asked, "watered", "How does the water get there?", "can"))
    if not (planted or sown or established):
        planted = _ask(asked, "planted", "Planted out on (YYYY-MM-DD)?")
    with working("Working out the answer"):
        question = Question(
            where, plant, soil, planted=planted, sown=sown, established=established, wide=wide, tall=tall, count=count,
            bed=bed, pot=pot, pots=pots, watered=watered, can=can,
        )  # fmt: skip
        garden = garden_of(question, day)
        from soakbook.advice.ask import answer

        got = answer(garden, day, _live(garden, day) if live else None)
    if as_json:
        echo_json("ask", 1, got.to_json())
    else:
        typer.echo(ask_text(garden, got, day, system))


def _ask(asked: bool, field: str, question: str, default: str | None = None) -> str:
    from soakbook.errors import InputError

    if not asked:
        raise InputError(f"--{field} is needed. {question}", code="ask.missing", field=field)
    answer: str = typer.prompt(question, default=default)
    return answer


def _live(garden: Garden, day: date) -> Any:
    from soakbook.advice.sky import live_weather

    return live_weather(garden, day)


def ask_text(garden: Garden, got: Answer, day: date, system: Any) -> str:
    """The answer in 80 columns."""
    from soakbook.units import format_quantity as show

    place = garden.places[0]
    lines = [paragraph(f"At {garden.name.rstrip('. ')}."), ""]
    if got.today is None:
        lines.append(f"{day}: outside the season of this planting.")
    else:
        a = got.today.advice
        lines.append(paragraph(f"Today ({day}): {a.verdict.upper()}, {amount_text(got.today, system)}."))
        lines += [paragraph(t, "  ") for t in under(got.today, system, True)]
    lines += ["", paragraph(f"Through the season, in the usual weather, for {place.name}:"), ""]
    each = f"each {got.count_word}"
    head = ["month", "water every", "each time", each, "month in all", "rain"]
    rows = []
    for m in got.months:
        every = "not needed" if m.soaks == 0 else f"{m.every_days:.0f} days" if m.every_days >= 1.5 else "day"
        one = m.litres_each_time
        rows.append([
            f"{m.month:%b %Y}", every, show(one, "volume", system) if one else "-",
            show(one / got.units_count, "volume", system) if one else "-",
            show(m.litres, "volume", system) if m.litres else "-", show(m.rain_mm, "depth", system),
        ])  # fmt: skip
    lines.append(table(head, rows, right=(2, 3, 4, 5)))
    if got.ends is not None:
        lines.append(
            paragraph(f"Its usual season ends about {got.ends}; if it stands longer, go on as in the last month.")
        )
    lines += ["", paragraph(f"Weather: {got.weather}.")]
    lines += [paragraph(f"Assumed: {note}.") for note in got.assumptions]
    if got.unsure:
        name = place.plantings[0].plant
        lines.append(
            paragraph(
                f"{len(got.unsure)} of the figures for this crop are borrowed from a relative, judged, or from memory: "
                f"soakbook plants {name} says which."
            )
        )
    from soakbook.advice.round import ALWAYS

    lines.append(paragraph(ALWAYS))
    return "\n".join(lines)
