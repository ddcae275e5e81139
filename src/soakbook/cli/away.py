"""``soakbook away``: the weeks nobody is there, who should come when, and what to do before leaving."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import DayOption, UnitsOption, amount_text, chosen_day, chosen_units, opened, place_named
from soakbook.cli.terminal import UnitSystem, echo_json, in_measures, paragraph, table, working

if TYPE_CHECKING:
    from soakbook.garden.model import Garden
    from soakbook.season.away import Away

#: Kinds of help up to which the table has the band of each loss: more do not fit in 80 columns.
MOST_BANDS = 3
#: Days away in the demo when none are given: from the second day on, two weeks.
_DEMO_FROM, _DEMO_DAYS = 2, 14


@app.command("away")
def away_command(
    garden: Annotated[
        Path | None, typer.Argument(help="Garden file; else $SOAKBOOK_GARDEN, else garden.toml here.")
    ] = None,
    demo: Annotated[bool, typer.Option("--demo", help="The shipped demo garden.")] = False,
    first: Annotated[str | None, typer.Option("--from", help="First day away, as YYYY-MM-DD.")] = None,
    last: Annotated[str | None, typer.Option("--until", help="Last day away, as YYYY-MM-DD.")] = None,
    visits: Annotated[int, typer.Option("--visits", min=0, max=30, help="How often somebody could come by.")] = 0,
    every: Annotated[
        int, typer.Option("--every", min=0, max=30, help="A programme left running: every so many days.")
    ] = 0,
    give: Annotated[
        list[str] | None,
        typer.Option("--give", help='What the programme gives, as "bean rows=20 L"; the best amount when not given.'),
    ] = None,
    timer: Annotated[
        bool,
        typer.Option(
            "--timer",
            help="The timer of the garden file: as it is set now, and as it is best set for those days; with --visits the "
            "visits go to what it leaves.",
        ),
    ] = False,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """What happens while you are away, and what helps: visits on the best days, a timer, both, what to do before leaving."""
    from soakbook.season.away import checked_days, plan_away, sky_for
    from soakbook.season.away_words import away_json, cautions

    whose, log, folder, day = opened(garden, demo, on)
    begins = _day(first, "from", day + timedelta(days=_DEMO_FROM) if demo else None)
    ends = _day(last, "until", begins + timedelta(days=_DEMO_DAYS - 1) if demo else None)
    checked_days(day, begins, ends)
    litres = _amounts(whose, give or [], every)
    system = chosen_units(units, whose.units)
    with working("Living through the days away"):
        weather, ahead = sky_for(whose, log, day, ends, folder=folder)
        away = plan_away(
            whose, log, weather, ahead, day, begins, ends, visits=visits, every=every, litres=litres, timer=timer
        )
    heed = cautions(whose, away, ahead)
    if as_json:
        echo_json("away", 1, away_json(away, heed))
    else:
        typer.echo(away_text(away, heed, system))


def _day(given: str | None, name: str, otherwise: date | None) -> date:
    """A day of the two, or what stands for it in the demo."""
    from soakbook.errors import InputError

    if given is None and otherwise is None:
        raise InputError(
            f"--{name} is missing: the first and the last day away, as YYYY-MM-DD.", code="away.days", field=name,
            hint="For two weeks in July: --from 2026-07-10 --until 2026-07-23.",
        )  # fmt: skip
    return chosen_day(given, otherwise)


def _amounts(garden: Garden, given: list[str], every: int) -> dict[str, float]:
    """Litres by place, from ``name=amount``."""
    from soakbook.errors import InputError
    from soakbook.units import parse_quantity

    if given and not every:
        raise InputError(
            "--give needs --every: what a programme gives, and every how many days.", code="away.give", field="give"
        )
    amounts = {}
    for text in given:
        name, is_told, amount = text.rpartition("=")
        if not is_told:
            raise InputError(
                f'--give must be a place and an amount, as "bean rows=20 L" (got {text!r}).',
                code="away.give",
                field="give",
            )
        amounts[place_named(garden, name).name] = parse_quantity(amount, "volume")
    return amounts


def away_text(away: Away, heed: tuple[str, ...], system: UnitSystem) -> str:
    """The answer in 80 columns."""
    from soakbook.season.away_words import total_text

    invented = " (an invented garden)" if away.invented else ""
    first, last = (f"{d:%A} {d.day} {d:%B %Y}" for d in (away.first, away.last))
    days = f"{away.days} day{'' if away.days == 1 else 's'}"
    lines = [paragraph(f"{away.garden}{invented}: away from {first} to {last}, {days}"), ""]
    lines += [_places_table(away), "", paragraph(str(total_text(away)))]
    lines += _timer_lines(away, system)
    lines += _visit_lines(away, system)
    lines += _programme_lines(away, system)
    lines += _before_lines(away, system)
    lines += ["", paragraph(f"Weather ahead: {away.weather}.")]
    return "\n".join([*lines, *(paragraph(str(text)) for text in heed)])


def _places_table(away: Away) -> str:
    """A line for each place: from when it is short, what is lost, and how likely its plants are."""
    from soakbook.season.away_words import loss_text, odds_text, share_text, short_text

    head = ["place", "short from", "lost: nobody"]
    head += [f"{len(away.visits) or 'no'} visits" if len(away.visits) != 1 else "1 visit"] if away.visits_asked else []
    head += [f"every {away.every} days" if away.every > 1 else "every day"] if away.every else []
    head += ["timer as set"] if away.set_now else []
    head += ["timer planned"] if away.planned else []
    head += ["both"] if away.both else []
    head.append("plants die")
    told = loss_text if len(head) <= MOST_BANDS + 3 else share_text
    rows = []
    for place in away.places:
        outcomes = (place.nobody, place.visited, place.programme, place.timer_now, place.timer_planned, place.both)
        lost = [str(told(o)) for o in outcomes if o is not None]
        rows.append([place.place, str(short_text(place)), *lost, str(odds_text(place.nobody.lost_odds))])
    return table(head, rows)


def _visit_lines(away: Away, system: UnitSystem) -> list[str]:
    """A list for whoever comes: what to give on which day."""
    from soakbook.season.away_words import alone_text, days_text, visits_text
    from soakbook.units import format_quantity as show

    if not away.visits_asked:
        return []
    days, spare = days_text(away), visits_text(away)
    lines = ["", *(paragraph(str(text)) for text in (days, spare) if text is not None)]
    if not away.listed:
        return lines
    lines += ["", paragraph("For whoever comes by. Give less where the soil is wet to the touch.")]
    left = alone_text(away.both) if away.both is not None else None
    lines += [paragraph(str(left))] if left is not None else []
    for visit in away.listed:
        lines += ["", f"{visit.on:%A} {visit.on.day} {visit.on:%B}"]
        for gift in visit.gifts:
            rain = f"; leave it out after {show(gift.gauge_mm, 'depth', system)} of rain" if gift.gauge_mm else ""
            note = f"; {in_measures(gift.job.note, system)}" if gift.job.note else ""
            lines.append(paragraph(f"{gift.place}: {amount_text(gift.job, system)}{note}{rain}", "  "))
    return lines


def _programme_lines(away: Away, system: UnitSystem) -> list[str]:
    from soakbook.cli.round import two_figures
    from soakbook.units import format_quantity as show

    if not away.every:
        return []
    given = ", ".join(f"{p.place} {show(two_figures(p.programme_litres), 'volume', system)}" for p in away.places)
    first = away.programme_on[0]
    often = "every day" if away.every == 1 else f"every {away.every} days"
    return ["", paragraph(f"The programme, {often} from {first.day} {first:%B}: {given}.")]


def _timer_lines(away: Away, system: UnitSystem) -> list[str]:
    """What to set on the timers before leaving, as `timer check --set` takes it, and what that and the visits save together."""
    from soakbook.garden.timer_text import programme_text
    from soakbook.season.away_words import both_text, setting_text

    both = away.both
    if both is not None and both.setting != "planned":
        lines = ["", paragraph(str(setting_text(both)))]
        return [*lines, paragraph(in_measures(both_text(both), system))] if both.setting == "now" else lines
    lines = []
    for one in away.planned:
        named = f' "{one.timer}"' if one.timer else ""
        lines += [
            "",
            paragraph(
                f"For those days set the timer{named} so:"
                if one.programmes
                else f"For those days leave the timer{named} off."
            ),
        ]
        lines += [paragraph(f"{p.name}: {programme_text(p)}", "  ") for p in one.programmes]
    if both is not None:
        return [*lines, paragraph(in_measures(both_text(both), system))]
    return [*lines, "Places on no line are as with nobody."] if lines else []


def _before_lines(away: Away, system: UnitSystem) -> list[str]:
    from soakbook.season.away_words import beside_text, harm_text, measure_text, soak_text

    if not away.measures:
        return ["", paragraph("Nothing done before leaving would save anything worth the work.")]
    lines = ["", paragraph(f"{beside_text(away)}:")]
    for number, one in enumerate((r for r in away.measures if r.helps), 1):
        lines.append(paragraph(f"{number}. {measure_text(one)}.", "  "))
        if one.measure == "soak":
            lines.append(
                paragraph(f"It takes {', '.join(in_measures(soak_text(e), system) for e in one.helps)}.", "     ")
            )
        harm = harm_text(one)
        lines += [paragraph(f"It {harm}.", "     ")] if harm is not None else []
    for one in (r for r in away.measures if not r.helps):
        lines.append(paragraph(f"- {measure_text(one)}; {harm_text(one)}.", "  "))
    return [*lines, "", paragraph(f"With the best of it at each place {away.prepared:.0f} % would be lost in all.")]
