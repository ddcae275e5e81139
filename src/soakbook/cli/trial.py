"""``soakbook trial``: ways of watering held against each other in gardens whose truth is known."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.terminal import echo_json, paragraph, table

if TYPE_CHECKING:
    from soakbook.said import Said
    from soakbook.season.trial.case import Case
    from soakbook.season.trial.report import Spread
    from soakbook.season.trial.run import CaseResult


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
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")] = False,
) -> None:
    """What a way of watering saves and costs: seasons lived through under rules and under our advice.

    Takes about half a minute for each place and draw on one processor.
    """
    from soakbook.season.trial.run import Settings, run_trial

    cases, left_out = chosen_cases(garden, draws, seed, faults)
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
        echo_json("trial", 1, trial_json(results, left_out))
    else:
        typer.echo(trial_text(results, left_out))
        if out is not None:
            typer.echo(paragraph(f"Every place and way: {out / 'trial.csv'}; a picture: {out / 'trial.svg'}."))


def chosen_cases(garden: Path | None, draws: int, seed: int, faults: float) -> tuple[list[Case], list[Said]]:
    """The garden's places, or the proof's, each drawn so many times."""
    from dataclasses import replace

    from soakbook.season.trial.case import SOUND

    spread = replace(SOUND, faults=faults)
    if garden is not None:
        from soakbook.advice.open import open_garden
        from soakbook.season.trial.own import own_cases

        return own_cases(open_garden(garden), draws, seed=seed, folder=garden.parent, spread=spread)
    from soakbook.season.trial.proof import proof_set

    return proof_set(draws, seed, spread), []


def _said_progress(done: int, wanted: int) -> None:
    """One line that is written over on a terminal; nothing where nobody looks."""
    if sys.stderr.isatty():
        width = min(30, max(os.get_terminal_size(sys.stderr.fileno()).columns - 30, 5))
        full = round(width * done / max(wanted, 1))
        print(f"\r[{'#' * full}{'.' * (width - full)}] {done} of {wanted}", end="\n" if done == wanted else "", file=sys.stderr, flush=True)  # fmt: skip


def _write(out: Path, results: Sequence[CaseResult]) -> None:
    from soakbook.season.trial.picture import picture
    from soakbook.season.trial.report import to_csv

    (out / "trial.csv").write_text(to_csv(results), encoding="utf-8")
    (out / "trial.svg").write_text(picture(results, f"Trial: {len(results)} seasons"), encoding="utf-8")


def trial_text(results: Sequence[CaseResult], left_out: Sequence[str]) -> str:
    """Medians by way of watering, then ours against the rules, in 80 columns."""
    from soakbook.season.trial.report import OURS, duel, lines, rules_in, way
    from soakbook.season.trial.run import FULL, TUNED

    rows = [
        [x.policy, _mid(x.water_mm), _mid(x.loss_pct, 1), _mid(x.stress_days), _mid(x.wet_days), _mid(x.drained_mm),
         _mid(x.visits), _mid(x.regret, 1)]
        for x in lines(results)
    ]  # fmt: skip
    head = ("", "water", "lost", "dry d", "wet d", "drain", "visits", "regret")
    said = [
        paragraph(f"{len(results)} seasons of places whose truth was drawn at random. Medians: water put on and drained in mm over the "
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


def _mid(spread: Spread, digits: int = 0) -> str:
    return f"{spread.mid:.{digits}f}"


def _signed(saved: float) -> str:
    return f"{100 * abs(saved):.0f} % {'less' if saved >= 0 else 'more'}"


def trial_json(results: Sequence[CaseResult], left_out: Sequence[str]) -> dict[str, object]:
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
    }
