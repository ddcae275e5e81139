"""The trial itself: cases lived through by every way of watering, in as many processes as wanted, going on where it was left.

Each finished half of a case (the rules and the oracle; our advice) is a line of a file. A line counts again when it was made
under the same settings, so that a stopped trial goes on and a finished one is only read.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import asdict, dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from soakbook.season.trial.case import Case
from soakbook.season.trial.score import Outcome

if TYPE_CHECKING:
    from soakbook.season.trial.live import Policy, Season

Part = Literal["rules", "ours"]
PARTS: tuple[Part, ...] = ("rules", "ours")
#: Changes when what a line says changes; older lines then count no more.
VERSION = 4
#: The names of what is reported beside the rules.
TUNED, ORACLE, THRESHOLD = "best fixed rule, in hindsight", "oracle", "our plain rule"
SEEING, SEEING_TUNED = "sees all soil water", "sees all soil water, tuned in hindsight"
FULL = {
    "none": "our advice, no readings",
    "weekly": "our advice, weekly readings",
    "asked": "our advice, readings asked for",
}


@dataclass(frozen=True)
class Settings:
    """How hard the oracle searches, which halves are wanted, and whether a few rules and a few ways of knowing will do."""

    rounds: int = 2
    parts: tuple[Part, ...] = PARTS
    quick: bool = False

    def digest(self, part: Part, case: Case) -> str:
        """A short name of all that a line's figures rest on, the code aside."""
        rounds: object = 0
        if part == "rules":
            rounds = (self.rounds, "quick") if self.quick else self.rounds
        from soakbook.advice.costs import HAND_VISIT, LINE_VISIT, POT_VISIT, WATER_MM

        prices = (WATER_MM, HAND_VISIT, POT_VISIT, LINE_VISIT)
        about = (
            VERSION,
            part,
            rounds,
            prices,
            case.key,
            case.seed,
            str(case.first),
            repr(case.spread),
            repr(case.place),
        )
        weather = b"".join(v.tobytes() for _, v in sorted(case.weather.columns.items()))
        return hashlib.sha256(repr(about).encode() + weather).hexdigest()[:16]


@dataclass(frozen=True)
class CaseResult:
    """One place's season under every way of watering. The oracle is the cheapest season that anyone found."""

    key: str
    climate: str
    ground: str
    kind: str
    plant: str
    means: str
    days: int
    eto_mm: float
    rain_mm: float
    outcomes: tuple[Outcome, ...]

    def of(self, policy: str) -> Outcome | None:
        """The outcome of one way of watering."""
        return next((o for o in self.outcomes if o.policy == policy), None)


def run_trial(
    cases: Sequence[Case],
    settings: Settings | None = None,
    *,
    jobs: int = 1,
    kept: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[CaseResult, ...]:
    """Live all cases through.

    Parameters
    ----------
    cases
        What is tried; keys must differ.
    settings
        See :class:`Settings`.
    jobs
        Processes.
    kept
        File of finished halves: read first, added to as they finish.
    progress
        Called with halves done and halves in all.

    Returns
    -------
    tuple[CaseResult, ...]
        In the order of ``cases``.
    """
    settings = settings or Settings()
    wanted = {(case.key, part): settings.digest(part, case) for case in cases for part in settings.parts}
    found = {k: v for k, v in _read(kept).items() if k in wanted.values()} if kept else {}
    left = [(c, p) for c in cases for p in settings.parts if wanted[c.key, p] not in found]
    done = len(wanted) - len(left)
    if progress:
        progress(done, len(wanted))
    for case, part, line in _lived(left, settings, jobs):
        found[wanted[case.key, part]] = line
        if kept:
            with kept.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"digest": wanted[case.key, part], **line}) + "\n")
        done += 1
        if progress:
            progress(done, len(wanted))
    return tuple(_result([found[wanted[c.key, p]] for p in settings.parts]) for c in cases)


def _read(kept: Path) -> dict[str, dict[str, Any]]:
    """Finished halves by digest; a last line that was cut off in the writing is left out."""
    if not kept.exists():
        return {}
    found = {}
    for text in kept.read_text(encoding="utf-8").splitlines():
        try:
            line = json.loads(text)
        except json.JSONDecodeError:
            continue
        found[line.pop("digest")] = line
    return found


def _lived(
    left: Sequence[tuple[Case, Part]], settings: Settings, jobs: int
) -> Iterator[tuple[Case, Part, dict[str, Any]]]:
    if jobs <= 1 or len(left) <= 1:
        for case, part in left:
            yield case, part, live_part(case, part, settings)
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        running: dict[Future[dict[str, Any]], tuple[Case, Part]] = {}
        todo = iter(left)
        for case, part in _first(todo, 2 * jobs):
            running[pool.submit(live_part, case, part, settings)] = (case, part)
        while running:
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                yield *running.pop(future), future.result()
                for case, part in _first(todo, 1):
                    running[pool.submit(live_part, case, part, settings)] = (case, part)


def _first(todo: Iterator[tuple[Case, Part]], count: int) -> Iterable[tuple[Case, Part]]:
    return [pair for _, pair in zip(range(count), todo, strict=False)]


def live_part(case: Case, part: Part, settings: Settings) -> dict[str, Any]:
    """One half of a case as plain data."""
    outcomes = _by_rules(case, settings) if part == "rules" else _by_us(case)
    about = {
        "key": case.key, "climate": case.climate, "ground": case.ground, "kind": case.place.kind,
        "plant": case.believed.plant, "means": case.place.means, "days": case.days,
        "eto_mm": float(case.eto_mm[: case.days].sum()), "rain_mm": float(case.rain_mm[: case.days].sum()),
    }  # fmt: skip
    return {**about, "outcomes": [asdict(o) for o in outcomes]}


def _by_rules(case: Case, settings: Settings) -> list[Outcome]:
    from soakbook.season.trial import oracle, rules
    from soakbook.season.trial.live import follow
    from soakbook.season.trial.score import outcome

    usual = rules.usual_rules(case)
    plain = follow(case, usual)
    tried = rules.tried_in_hindsight(case, rules.grid(case, settings.quick))
    knowing = oracle.knowing(case, settings.quick)
    better = oracle.improved(case, [plain, tried, knowing], settings.rounds)
    looks = [float(getattr(p, "looks", 0)) for p in usual]
    made = [outcome(case, plain, k, p.name, looks[k]) for k, p in enumerate(usual)]
    made.append(_best_fixed(case, plain, usual, tried))
    if not settings.quick:
        made += _seeing(case, knowing)
    made.append(outcome(case, better, 0, ORACLE))
    return made


def _seeing(case: Case, knowing: Season) -> list[Outcome]:
    """Those who see all the water there is, but no rain to come: one who waters when what is easily drawn on is gone, and the cheapest of
    all such rules, in hindsight."""
    from soakbook.season.trial.oracle import SEES, rules
    from soakbook.season.trial.score import costs, outcome

    grid, cost = rules(), costs(case, knowing)
    blind = [k for k, (_, _, ahead) in enumerate(grid) if ahead == 0]
    best = min(blind, key=lambda k: cost[k])
    return [outcome(case, knowing, grid.index(SEES), SEEING), outcome(case, knowing, best, SEEING_TUNED)]


def _best_fixed(case: Case, plain: Season, usual: Sequence[Policy], tried: Season) -> Outcome:
    """The cheapest of the grid and of the usual rules that are fixed as well."""
    from soakbook.season.trial.rules import EveryDays
    from soakbook.season.trial.score import costs, outcome

    fixed = [outcome(case, plain, k, TUNED) for k, p in enumerate(usual) if isinstance(p, EveryDays)]
    fixed.append(outcome(case, tried, int(costs(case, tried).argmin()), TUNED))
    return min(fixed, key=lambda o: o.cost)


def _by_us(case: Case) -> list[Outcome]:
    from soakbook.season.trial.live import follow
    from soakbook.season.trial.ours import Full, Threshold
    from soakbook.season.trial.score import outcome
    from soakbook.season.trial.told import sky
    from soakbook.weather.normals import normals_at

    garden = case.garden
    above = sky(case.weather, normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m), case.seed)
    full = [Full(name, case, above, how) for how, name in FULL.items()]  # type: ignore[arg-type]
    lived = follow(case, [Threshold(THRESHOLD, case, above), *full])
    made = [outcome(case, lived, 0, THRESHOLD)]
    return made + [outcome(case, lived, k + 1, f.name, f.looks) for k, f in enumerate(full)]


def _result(halves: Sequence[dict[str, Any]]) -> CaseResult:
    outcomes = [Outcome(**o) for half in halves for o in half["outcomes"]]
    least = min(outcomes, key=lambda o: o.cost)
    if least.policy != ORACLE:  # someone found a cheaper season: who knows everything does at least as well
        outcomes = [replace(least, policy=ORACLE) if o.policy == ORACLE else o for o in outcomes]
    outcomes = [replace(o, regret=o.cost - least.cost) for o in outcomes]
    about = {k: v for k, v in halves[0].items() if k != "outcomes"}
    return CaseResult(**about, outcomes=tuple(outcomes))
