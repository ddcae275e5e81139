"""``soakbook show``: one place this morning, what its readings taught, and what may be wrong with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import app
from soakbook.cli.round import (
    DayOption,
    GardenOption,
    UnitsOption,
    amount_text,
    chosen_units,
    opened,
    place_named,
    under,
    wrong_lines,
)
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, working

if TYPE_CHECKING:
    from soakbook.advice.round import Job
    from soakbook.advice.trust import Trust


@app.command("show")
def show_command(
    place: Annotated[str, typer.Argument(help="The place, as the garden file names it.")],
    garden: GardenOption = None,
    demo: Annotated[bool, typer.Option("--demo", help="The shipped demo garden.")] = False,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """One place: how wet it is held to be, what readings taught, what may be wrong, how well its bands have held."""
    with working("Looking at the place"):
        job, trust, system = look_at(place, garden, demo, on, units)
    if as_json:
        echo_json("place", 1, {"place": job.advice.place, "on": job.advice.on.isoformat(), **trust.to_json()})
    else:
        typer.echo(place_text(job, trust, system))


def look_at(
    name: str, garden_path: Any, demo: bool, on: str | None, units: str | None
) -> tuple[Job, Trust, UnitSystem]:
    """Open the garden and look at one of its places."""
    from soakbook.advice.round import today_round
    from soakbook.advice.sky import members_for, weather_for
    from soakbook.advice.standing import standings_of
    from soakbook.advice.trust import held, suspected, trust_in

    garden, log, folder, day = opened(garden_path, demo, on)
    place = place_named(garden, name)
    weather = weather_for(garden, day, log, folder=folder)
    standings = standings_of(garden, weather, day, log)
    ahead = members_for(garden, weather, day, folder=folder)
    made = today_round(garden, weather, day, log, standings=standings, ahead=ahead)
    at = garden.places.index(place)
    known = suspected(garden, place, weather, log, day), held(garden, place, weather, log, day)
    return made.jobs[at], trust_in(standings[at], *known), chosen_units(units, garden.units)


def place_text(job: Job, trust: Trust, system: UnitSystem) -> str:
    """The place in 80 columns."""
    a = job.advice
    on = f"{a.on:%A} {a.on.day} {a.on:%B %Y}"
    band = f"{100 * trust.low:.0f} to {100 * trust.high:.0f} %"
    lines = [
        paragraph(f"{a.place}, {on}: {a.verdict.upper()}, {amount_text(job, system)}."),
        *[paragraph(text, "  ") for text in under(job, system, False)],
        "",
        paragraph(f"Used this morning: {100 * trust.used:.0f} % of what the roots can reach; 8 in 10 odds on {band}."),
        *[paragraph(text) for text in _learnt_lines(trust)],
    ]
    lines += [paragraph(text) for text in wrong_lines(trust.suspicions, a.place, system)]
    return "\n".join(lines)


def _learnt_lines(trust: Trust) -> list[str]:
    if not trust.readings:
        return ["Nobody has read it yet: all this is worked out. Write readings down with: soakbook log reading."]
    lines = [f"Learnt: {text}." for text in trust.told] or ["Its readings have taught nothing worth saying yet."]
    if trust.held:
        inside, of = sum(h.inside for h in trust.held), len(trust.held)
        about = "" if all(h.inside in (0.0, 1.0) for h in trust.held) else "about "  # classes count in parts
        lines.append(
            f"Of {of} reading{'' if of == 1 else 's'}, {about}{inside:.0f} lay in the band that 8 in 10 should lie in."
        )
    return lines
