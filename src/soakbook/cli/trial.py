"""``soakbook trial``: ways of watering held against each other in gardens whose truth is known."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.round import UnitsOption, chosen_units
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table, width

if TYPE_CHECKING:
    from soakbook.garden.model import Garden, LogEntry
    from soakbook.said import Said
    from soakbook.season.trial.case import Case
    from soakbook.season.trial.report import Line, Spread
    from soakbook.season.trial.run import CaseResult

MM_PER_INCH = 25.4
#: Columns that the name of a way of watering gets at least and at most.
NAME_LEAST, NAME_MOST = 8, 20


@app.command("trial")
def trial_command(
    garden: Annotated[
        Path | None, typer.Argument(help="Garden file to try; without it, gardens of our own in eight climates.")
    ] = None,
    draws: Annotated[int, typer.Option("--draws", min=1, max=1000, help="Truths drawn for each place.")] = 3,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Where chance starts.")] = 1,
    jobs: Annotated[int, typer.Option("--jobs", min=1, max=256, help="Processes.")] = 1,
    faults: Annotated[
        float,
        typer.Option("--faults", min=0.0, max=1.0, help="Share of places with a fault, such as a blocked emitter."),
    ] = 0.0,
    rounds: Annotated[int, typer.Option("--rounds", min=0, max=50, help="How hard the oracle searches.")] = 2,
    quick: Annotated[
        bool, typer.Option("--quick", help="Fewer rules tried in hindsight: a third of the time.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for results (CSV, picture); a stopped trial goes on from it.")
    ] = None,
    units: UnitsOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """What a way of watering saves and costs: seasons lived through under rules and under our advice.

    Takes about half a minute for each place and draw on one processor.
    """
    from soakbook.season.trial.run import Settings, run_trial

    own, log = _own(garden)
    system = chosen_units(units, own.units if own else None)
    cases, left_out = chosen_cases(own, garden.parent if garden else None, draws, seed, faults)
    simpler = _simpler(own, log)
    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
    results = run_trial(
        cases,
        Settings(rounds, quick=quick),
        jobs=jobs,
        kept=out / "finished.jsonl" if out else None,
        progress=_said_progress,
    )
    if out is not None:
        _write(out, results)
    if as_json:
        echo_json("trial", 1, trial_json(results, left_out, simpler))
    else:
        typer.echo(trial_text(results, [*left_out, *simpler], system))
        if out is not None:
            typer.echo(paragraph(f"Every place and way: {out / 'trial.csv'}; a picture: {out / 'trial.svg'}."))


def _own(path: Path | None) -> tuple[Garden | None, list[LogEntry]]:
    """The garden asked for and its log; none for the gardens of our own."""
    if path is None:
        return None, []
    from soakbook.advice.open import open_garden
    from soakbook.garden.log import log_path, read_log

    garden = open_garden(path)
    return garden, read_log(log_path(path), garden)


def _simpler(garden: Garden | None, log: Sequence[LogEntry]) -> list[Said]:
    """What the trial leaves out of the garden's places."""
    if garden is None:
        return []
    from soakbook.season.trial.own import left_out_of

    return left_out_of(garden, log)


def chosen_cases(
    garden: Garden | None, folder: Path | None, draws: int, seed: int, faults: float
) -> tuple[list[Case], list[Said]]:
    """The garden's places, or the proof's, each drawn so many times."""
    from dataclasses import replace

    from soakbook.season.trial.case import SOUND

    spread = replace(SOUND, faults=faults)
    if garden is not None:
        from soakbook.season.trial.own import own_cases

        return own_cases(garden, draws, seed=seed, folder=folder, spread=spread)
    from soakbook.season.trial.proof import proof_set

    return proof_set(draws, seed, spread), []


def _said_progress(done: int, wanted: int) -> None:
    """One line that is written over on a terminal; nothing where nobody looks."""
    if sys.stderr.isatty():
        bar = min(30, max(os.get_terminal_size(sys.stderr.fileno()).columns - 30, 5))
        full = round(bar * done / max(wanted, 1))
        print(f"\r[{'#' * full}{'.' * (bar - full)}] {done} of {wanted}", end="\n" if done == wanted else "", file=sys.stderr, flush=True)  # fmt: skip


def _write(out: Path, results: Sequence[CaseResult]) -> None:
    from soakbook.season.trial.picture import picture
    from soakbook.season.trial.report import to_csv

    (out / "trial.csv").write_text(to_csv(results), encoding="utf-8")
    (out / "trial.svg").write_text(picture(results, f"Trial: {_seasons(len(results))}"), encoding="utf-8")


def trial_text(results: Sequence[CaseResult], left_out: Sequence[str], system: UnitSystem = "metric") -> str:
    """Figures by way of watering, then ours against the rules, in 80 columns."""
    from soakbook.season.trial.report import OURS, duel, lines, rules_in, way
    from soakbook.season.trial.run import FULL, TUNED

    several = len(results) > 1
    head = ("", "water", "lost", "dry d", "wet d", "drain", "visits", "regret")
    rows = _rows(lines(results), head, system, several)
    how = "Medians, and below them the middle 80 % of seasons" if several else "Figures"
    said = [
        paragraph(f"{_seasons(len(results))} of {'places' if several else 'a place'} whose truth was drawn at random. {how}: water put on and drained in {'mm' if system == 'metric' else 'inches'} over the "
                  "place, harvest lost in %, days dry and wet, visits, and cost above the oracle's in hundredths of the harvest."),
        "",
        table(head, rows, right=tuple(range(1, 8))),
        "",
    ]  # fmt: skip
    for ours in (FULL["none"], FULL["weekly"]):
        found = [d for rule in (*rules_in(results), TUNED) if (d := duel(results, ours, rule)) is not None]
        if found:
            against = [
                [d.rule, _signed(d.saved), f"{100 * d.no_more_loss:.0f} %", f"{100 * d.cheaper:.0f} %", str(d.places)]
                for d in found
            ]
            said += [
                table((f"{ours}, against", "water", "lost no more", "cheaper", "of"), against, right=(1, 2, 3, 4)),
                "",
            ]
    for along in (way(results, ours) for ours in OURS):
        if along is not None:
            said.append(
                paragraph(
                    f"{along.ours}: {100 * along.pooled:.0f} % of the way from the best fixed rule to the oracle."
                )
            )
    said += [paragraph(f"{text}.") for text in left_out]
    said.append(paragraph("The truth is a model too, drawn wider than any one garden: read docs/trial.md."))
    return "\n".join(said)


def _seasons(count: int) -> str:
    return f"{count} season{'' if count == 1 else 's'}"


def _rows(ways: Sequence[Line], head: Sequence[str], system: UnitSystem, several: bool) -> list[list[str]]:
    """The figures of each way of watering, and below them their spread over several seasons; its name takes the rows it needs in the
    columns that are left."""
    figures = [_figures(line, system, several) for line in ways]
    wide = sum(
        max(len(row[k]) for row in (head[1:], *(r for rows in figures for r in rows))) for k in range(len(head) - 1)
    )
    left = min(max(width() - wide - 2 * (len(head) - 1), NAME_LEAST), NAME_MOST)
    made = []
    for line, rows in zip(ways, figures, strict=True):
        named = zip_longest(textwrap.wrap(line.policy, left), rows)
        made += [[name or "", *(row or [""] * (len(head) - 1))] for name, row in named]
    return made


def _figures(line: Line, system: UnitSystem, several: bool) -> list[list[str]]:
    depth, digits = (1.0, 0) if system == "metric" else (1.0 / MM_PER_INCH, 1)
    shown = (
        (line.water_mm, depth, digits), (line.loss_pct, 1.0, 1), (line.stress_days, 1.0, 0), (line.wet_days, 1.0, 0),
        (line.drained_mm, depth, digits), (line.visits, 1.0, 0), (line.regret, 1.0, 1),
    )  # fmt: skip
    return [[of(*one) for one in shown] for of in ((_mid, _range) if several else (_mid,))]


def _mid(spread: Spread, unit: float, digits: int) -> str:
    return f"{unit * spread.mid:.{digits}f}"


def _range(spread: Spread, unit: float, digits: int) -> str:
    return f"{unit * spread.low:.{digits}f}-{unit * spread.high:.{digits}f}"


def _signed(saved: float) -> str:
    return f"{100 * abs(saved):.0f} % {'less' if saved >= 0 else 'more'}"


def trial_json(
    results: Sequence[CaseResult], left_out: Sequence[str], simpler: Sequence[str] = ()
) -> dict[str, object]:
    """Plain data of version 1, described in docs/json.md."""
    from dataclasses import asdict

    from soakbook.season.trial.report import OURS, duel, lines, rules_in, way
    from soakbook.season.trial.run import TUNED

    duels = [duel(results, ours, rule) for ours in OURS for rule in (*rules_in(results), TUNED)]
    ways = [way(results, ours) for ours in OURS]
    return {
        "places": [asdict(r) for r in results],
        "ways": [asdict(x) for x in lines(results)],
        "against": [asdict(d) for d in duels if d is not None],
        "way_to_oracle": [asdict(w) for w in ways if w is not None],
        "left_out": [str(text) for text in left_out],
        "simpler": [str(text) for text in simpler],
    }
