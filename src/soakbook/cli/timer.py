"""``soakbook timer``: the best programme a timer can hold, and what the one that is set does."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import timer_app
from soakbook.cli.round import DayOption, GardenOption, UnitsOption, chosen_units, opened
from soakbook.cli.terminal import UnitSystem, echo_json, in_measures, paragraph, table, working
from soakbook.season.timer_parts import LOOK_DAYS, PLAN_DAYS

if TYPE_CHECKING:
    from soakbook.delivery.timer_card import Card, SeasonCard
    from soakbook.delivery.timer_check import Check
    from soakbook.delivery.timer_judge import Judged
    from soakbook.delivery.timer_model import Programme
    from soakbook.delivery.timer_plan import TimerPlan
    from soakbook.delivery.timer_season import SeasonPlan
    from soakbook.garden.model import Garden
    from soakbook.said import Said

ProgrammesOption = Annotated[int | None, typer.Option("--programmes", help="Programmes the timer stores.")]
StartsOption = Annotated[int | None, typer.Option("--starts", help="Start times of each programme.")]
DaysOption = Annotated[
    str | None,
    typer.Option("--days", help="Days the timer knows: weekdays, every (so many days), parity (odd or even dates)."),
]
StepOption = Annotated[int | None, typer.Option("--step", help="Steps of its run times, in minutes.")]
LongestOption = Annotated[int | None, typer.Option("--longest", help="Longest run of a line at one start, in minutes.")]
LinesOption = Annotated[int | None, typer.Option("--lines", help="Lines it can open.")]
TogetherOption = Annotated[
    bool | None,
    typer.Option(
        "--together/--in-turn", help="It may open several lines at once, up to --flow-cap; or one after another."
    ),
]
HoursOption = Annotated[str | None, typer.Option("--hours", help="Hours in which watering is allowed.")]
AllowedOption = Annotated[
    str | None, typer.Option("--allowed", help="Days on which it is allowed: daily, tue,sat, odd or even.")
]
PauseOption = Annotated[
    int | None, typer.Option("--pause", min=0, max=600, help="Minutes between two runs of one line.")
]
FlowOption = Annotated[
    str | None,
    typer.Option("--flow-cap", help="Most that may flow at once: '600 L/h', or your tap, '3 bar, 12 L/min'."),
]
TankOption = Annotated[str | None, typer.Option("--tank", help="What the tank holds now, such as '500 L'.")]
RefillOption = Annotated[str | None, typer.Option("--refill", help="What comes into the tank a day.")]
TimerOption = Annotated[
    str | None, typer.Option("--timer", help="Which timer of the garden file, by its name; the first when not given.")
]
DemoOption = Annotated[bool, typer.Option("--demo", help="The shipped demo garden.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")]


@timer_app.command("plan")
def plan_command(
    garden: GardenOption = None,
    demo: DemoOption = False,
    timer: TimerOption = None,
    programmes: ProgrammesOption = None,
    starts: StartsOption = None,
    days: DaysOption = None,
    step: StepOption = None,
    longest: LongestOption = None,
    lines: LinesOption = None,
    together: TogetherOption = None,
    hours: HoursOption = None,
    allowed: AllowedOption = None,
    pause: PauseOption = None,
    flow_cap: FlowOption = None,
    tank: TankOption = None,
    refill: RefillOption = None,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """The best programme a timer can hold for the coming two weeks, as a card to tape to it.

    What is not said here is as the timer of the garden file has it; without one, two programmes of four starts by days of the week.
    """
    from soakbook.delivery.timer_card import card_of, next_change
    from soakbook.delivery.timer_judge import Judge
    from soakbook.delivery.timer_refine import best_setting
    from soakbook.delivery.timer_tables import nothing_grows
    from soakbook.season.timer_parts import (
        flows_of,
        kept_timer,
        not_reached,
        of_timer,
        places_ahead,
        rules_from,
        timer_from,
        with_capacity,
    )

    with working("Planning the timer"):
        found, log, folder, day = opened(garden, demo, on)
        kept = kept_timer(found, timer)
        holds = timer_from(programmes, starts, days, step, longest, lines, together, kept.timer if kept else None)
        rules = rules_from(hours, allowed, pause, flow_cap, tank, refill, kept.rules if kept else None)
        rules = with_capacity(rules, found)
        places, source = places_ahead(found, log, folder, day, LOOK_DAYS)
        places = of_timer(kept, places)
        flows = flows_of(found, places)
        plan = best_setting(places, holds, rules, flows, day, PLAN_DAYS)
        if plan is None:
            raise nothing_grows()
        judged = Judge(places, PLAN_DAYS).judge(plan.setting)
        by_hand = not_reached(found, kept.opens if kept else (), [one.place for one in judged])
        change = next_change(places, PLAN_DAYS, plan.setting, rules, flows)
        named = f"{found.name}{' (an invented garden)' if found.invented else ''}"
        card = card_of(named, day, plan.setting, holds, change, LOOK_DAYS, by_hand, places)
    if as_json:
        echo_json("timer_plan", 1, plan_json(plan, judged, card, found))
    else:
        typer.echo(plan_text(card, plan, judged, source, chosen_units(units, found.units)))


@timer_app.command("season")
def season_command(
    garden: GardenOption = None,
    demo: DemoOption = False,
    timer: TimerOption = None,
    settings: Annotated[
        int, typer.Option("--settings", min=1, max=12, help="How often you would set it, at most.")
    ] = 4,
    programmes: ProgrammesOption = None,
    starts: StartsOption = None,
    days: DaysOption = None,
    step: StepOption = None,
    longest: LongestOption = None,
    lines: LinesOption = None,
    together: TogetherOption = None,
    hours: HoursOption = None,
    allowed: AllowedOption = None,
    pause: PauseOption = None,
    flow_cap: FlowOption = None,
    tank: TankOption = None,
    refill: RefillOption = None,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """What to set through the season and on which days to change it, by the weather usual there.

    Ends when nothing on the timer's lines grows any more. It says what setting it less often would cost.
    """
    from soakbook.delivery.timer_card import season_card
    from soakbook.delivery.timer_season import plan_season
    from soakbook.season.timer_parts import (
        AHEAD_DAYS,
        flows_of,
        kept_timer,
        not_reached,
        of_timer,
        places_ahead,
        rules_from,
        season_days,
        timer_from,
        with_capacity,
    )

    with working("Planning the season"):
        found, log, folder, day = opened(garden, demo, on)
        kept = kept_timer(found, timer)
        holds = timer_from(programmes, starts, days, step, longest, lines, together, kept.timer if kept else None)
        rules = rules_from(hours, allowed, pause, flow_cap, tank, refill, kept.rules if kept else None)
        rules = with_capacity(rules, found)
        places, source = places_ahead(found, log, folder, day, AHEAD_DAYS)
        places = of_timer(kept, places)
        plan = plan_season(places, holds, rules, flows_of(found, places), season_days(places), most=settings)
        by_hand = not_reached(found, kept.opens if kept else (), [one.place for one in plan.judged])
        named = f"{found.name}{' (an invented garden)' if found.invented else ''}"
        card = season_card(named, day, plan.days, plan.chosen.series, holds, by_hand, places, is_over=plan.is_over)
    if as_json:
        echo_json("timer_season", 1, season_json(plan, card, found))
    else:
        typer.echo(season_text(card, plan, source, chosen_units(units, found.units)))


@timer_app.command("check")
def check_command(
    setting: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            help="A programme as it is set: 'mon,wed,sat 06:00 tomatoes 40 min'; what the garden file says when not given.",
        ),
    ] = None,
    garden: GardenOption = None,
    demo: DemoOption = False,
    timer: TimerOption = None,
    programmes: ProgrammesOption = None,
    starts: StartsOption = None,
    days: DaysOption = None,
    step: StepOption = None,
    longest: LongestOption = None,
    lines: LinesOption = None,
    together: TogetherOption = None,
    hours: HoursOption = None,
    allowed: AllowedOption = None,
    pause: PauseOption = None,
    flow_cap: FlowOption = None,
    tank: TankOption = None,
    refill: RefillOption = None,
    on: DayOption = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """What a timer as it is set does to every planting to the end of the season, and the smallest change that helps most."""
    from soakbook.delivery.timer_check import check_timer, in_hot_hours, judge_of, told
    from soakbook.delivery.timer_model import DAY_KINDS, Timer, problems
    from soakbook.delivery.timer_tables import nothing_grows
    from soakbook.delivery.timer_tank import tank_text
    from soakbook.errors import InputError
    from soakbook.garden.build_timer import LETTERS
    from soakbook.garden.timer_text import programme_from
    from soakbook.season.timer_parts import (
        AHEAD_DAYS,
        flows_of_all,
        kept_timer,
        last_day,
        of_timer,
        places_ahead,
        rules_from,
        season_days,
        timer_from,
        with_capacity,
    )

    with working("Running the season"):
        found, log, folder, day = opened(garden, demo, on)
        kept = kept_timer(found, timer)
        named = [line.name for line in found.lines]
        programme = [programme_from(text, LETTERS[k % 12], named, day) for k, text in enumerate(setting or [])]
        programme = programme or list(kept.setting if kept else ())
        if not programme:
            raise InputError(
                "no programme is given.", code="timer.set", field="set",
                hint="Give --set \"mon,wed,sat 06:00 tomatoes 40 min\" once for each, or write them into the garden file (docs/garden-file.md).",
            )  # fmt: skip
        usual = kept.timer if kept else Timer(day_kinds=DAY_KINDS)
        holds = timer_from(programmes, starts, days, step, longest, lines, together, usual)
        holds = replace(holds, programmes=max(holds.programmes, len(programme)))
        rules = rules_from(hours, allowed, pause, flow_cap, tank, refill, kept.rules if kept else None)
        rules = with_capacity(rules, found)
        places, source = places_ahead(found, log, folder, day, AHEAD_DAYS)
        places = of_timer(kept, places)
        season = season_days(places)
        if not season:
            raise nothing_grows()
        flows = flows_of_all(found, places)
        broken = (*told(problems(programme, holds, rules, flows, day, season)), *in_hot_hours(programme))
        judge = judge_of(places, season, holds, rules, flows)
        made = check_timer(judge, programme, holds, rules, flows)
    if as_json:
        echo_json("timer_check", 1, check_json(made, broken, last_day(day, judge.days).isoformat(), tank_text(rules)))
    else:
        head = f"{found.name}{' (an invented garden)' if found.invented else ''}: timer as set, {day} to {last_day(day, judge.days)}"
        typer.echo(check_text(head, made, broken, source, chosen_units(units, found.units), tank_text(rules)))


def plan_text(card: Card, plan: TimerPlan, judged: tuple[Judged, ...], source: str, system: UnitSystem) -> str:
    """The card, what it is expected to do, and how sure it is the best, in 80 columns."""
    from soakbook.delivery.timer_card import card_lines

    lines = [paragraph(str(line).strip(), "  " if line.startswith("  ") else "") for line in card_lines(card)]
    lines += ["", f"What it does in these {PLAN_DAYS} days:", "", places_table(judged, system), ""]
    gap = (
        "No setting looked at is better."
        if plan.is_proved
        else f"Another setting might cost {100.0 * plan.gap:.0f} % less; the time was up."
    )
    return "\n".join([*lines, paragraph(gap), paragraph(f"Weather: {source}.")])


def season_text(card: SeasonCard, plan: SeasonPlan, source: str, system: UnitSystem) -> str:
    """The settings of a season, what they do, and what setting the timer less often would do, in 80 columns."""
    from soakbook.delivery.timer_card import season_lines
    from soakbook.units import format_quantity

    lines = []
    for line in season_lines(card):
        lines += [""] if str(line).startswith("From ") else []
        lines.append(paragraph(str(line).strip(), "  " if str(line).startswith(" ") else ""))
    rows = [
        (
            f"{one.count}{' (this plan)' if one == plan.chosen else ''}", f"{100.0 * one.lost:.1f} %", format_quantity(one.given_l, "volume", system),
            format_quantity(one.wasted_l, "volume", system), f"{one.cost:.1f} %",
        )
        for one in plan.by_count
    ]  # fmt: skip
    last = plan.first + timedelta(days=plan.days - 1)
    lines += ["", f"What it does to {last}:", "", places_table(plan.judged, system), ""]
    lines += [
        table(("times set", "growth lost", "water", "of it wasted", "both, as growth"), rows, right=(1, 2, 3, 4)),
        "",
    ]
    fewest = "Chosen: so few that one time more would not save what a quarter of a hundredth of the growth is worth, wasted water counted in."
    return "\n".join([*lines, paragraph(fewest), paragraph(f"Weather: {source}.")])


def places_table(judged: tuple[Judged, ...], system: UnitSystem) -> str:
    """What a setting does, place by place."""
    from soakbook.delivery.timer_judge import judged_text
    from soakbook.units import format_quantity

    rows = [
        (one.place, one.line, format_quantity(one.given_l, "volume", system), str(judged_text(one))) for one in judged
    ]
    return table(("place", "line", "gets", "so it is"), rows, right=(2,))


def check_text(
    head: str, made: Check, broken: tuple[Said, ...], source: str, system: UnitSystem, tank: Said | None
) -> str:
    """What a setting does and what would help, in 80 columns."""
    from soakbook.delivery.timer_card import CAUTIONS
    from soakbook.delivery.timer_judge import gain_text, judged_text

    lines = [paragraph(head), "", places_table(made.judged, system), ""]
    lines += [paragraph(in_measures(tank, system))] if tank is not None else []
    lines += [paragraph(f"Mind: {text}") for text in broken]
    if made.change is None:
        lines.append("No single change would help much.")
    else:
        lines.append(paragraph(f"What helps most: {made.change.text}."))
        lines.append(paragraph(in_measures(gain_text(made.judged, made.after), system), "  "))
        for before, after in zip(made.judged, made.after, strict=True):
            if judged_text(before) != judged_text(after):
                lines.append(paragraph(f"{after.place}: {judged_text(after)}.", "  "))
    return "\n".join([*lines, "", paragraph(f"Weather: {source}."), *(paragraph(text) for text in CAUTIONS)])


def setting_json(setting: tuple[Programme, ...]) -> list[dict[str, Any]]:
    """A setting as plain data."""
    from soakbook.delivery.timer_model import clock
    from soakbook.garden.timer_text import days_text

    return [
        {
            "name": p.name,
            "days": str(days_text(p.days)),
            "starts": [clock(s) for s in p.starts],
            "minutes": dict(p.minutes),
        }
        for p in setting
    ]


def judged_json(one: Judged) -> dict[str, Any]:
    """What a setting does to a place, as plain data."""
    return {
        **{k: v if isinstance(v, str) else round(v, 4) for k, v in vars(one).items()},
        "wasted_l": round(one.wasted_l, 4),
    }


def plan_json(plan: TimerPlan, judged: tuple[Judged, ...], card: Card, garden: Garden) -> dict[str, Any]:
    """A plan as plain data, described in docs/json.md."""
    from soakbook.delivery.timer_card import change_text

    return {
        "garden": garden.name, "invented": garden.invented, "made": card.made.isoformat(), "programmes": setting_json(plan.setting), "cost": round(plan.cost, 4),
        "gap": round(plan.gap, 4), "is_proved": plan.is_proved, "places": [judged_json(one) for one in judged],
        "change_on": card.change.on.isoformat() if card.change else None, "change_text": str(change_text(card)),
        "by_hand": list(card.by_hand), "cautions": [str(text) for text in card.cautions],
    }  # fmt: skip


def season_json(plan: SeasonPlan, card: SeasonCard, garden: Garden) -> dict[str, Any]:
    """A season's plan as plain data, described in docs/json.md."""
    return {
        "garden": garden.name, "invented": garden.invented, "made": card.made.isoformat(),
        "settings": [
            {"from": first.isoformat(), "programmes": setting_json(one.setting)}
            for (first, _, _), one in zip(card.stretches, plan.chosen.series, strict=True)
        ],
        "over": card.over.isoformat(), "is_over": card.is_over, "cost": round(plan.chosen.cost, 4), "places": [judged_json(one) for one in plan.judged],
        "by_times_set": [
            {"times_set": one.count, "cost": round(one.cost, 4), "growth_lost": round(one.lost, 4), "given_l": round(one.given_l, 1), "wasted_l": round(one.wasted_l, 1)}
            for one in plan.by_count
        ],
        "by_hand": list(card.by_hand), "cautions": [str(text) for text in card.cautions],
    }  # fmt: skip


def check_json(made: Check, broken: tuple[Said, ...], until: str, tank: Said | None) -> dict[str, Any]:
    """A check as plain data, described in docs/json.md."""
    change = made.change
    return {
        "until": until, "cost": round(made.cost, 4), "problems": [str(text) for text in broken],
        "tank": str(tank) if tank is not None else None,
        "places": [judged_json(one) for one in made.judged], "change": str(change.text) if change else None,
        "change_saves": round(change.saves, 4) if change else 0.0,
        "programmes_after": setting_json(change.setting) if change else [], "places_after": [judged_json(one) for one in made.after],
    }  # fmt: skip
