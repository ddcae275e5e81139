"""Lines as they are opened today: the time that costs least in sum, the goes, and who on them gets more or less than it would take by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from soakbook.advice.job import Job
from soakbook.delivery.goes import Goes
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden
from soakbook.said import Measure, Said, join_said, say

#: A difference smaller than this part of what a place would take, or than a litre, is not told. Judged.
TOLD_FROM, TOLD_FROM_L = 0.1, 1.0


@dataclass(frozen=True)
class Gets:
    """What a place gets of a line's water today, and what it would take by itself. ``cost`` is what sharing the line costs it. [hundredths of its harvest]"""

    place: str
    litres: float
    wants_litres: float
    cost: float

    @property
    def more_litres(self) -> float:
        """More than it would take, or less where negative; 0 where that is not worth telling."""
        more = self.litres - self.wants_litres
        return more if abs(more) > max(TOLD_FROM_L, TOLD_FROM * self.wants_litres) else 0.0


@dataclass(frozen=True)
class LineRun:
    """A line opened today for ``minutes`` in all, in so many goes (None for one), and what each place on it gets."""

    line: str
    minutes: float
    goes: Goes | None
    gets: tuple[Gets, ...]


def line_runs(garden: Garden, jobs: Sequence[Job]) -> tuple[LineRun, ...]:
    """The lines that are opened for the jobs of a round, in the garden's order.

    A line runs as long as the longest of its jobs says (with plans they say the same), in as many goes as the place on it that takes water worst.
    """
    by_line: dict[str, list[Job]] = {}
    for place, job in zip(garden.places, jobs, strict=True):
        if place.line and flow_lph(place, garden):
            by_line.setdefault(place.line, []).append(job)
    runs = []
    for name, mine in by_line.items():
        minutes = max((job.minutes or 0.0 for job in mine if job.advice.verdict == "soak"), default=0.0)
        if minutes:
            goes = _goes([job.goes for job in mine if job.goes is not None and job.goes.run_minutes], minutes)
            runs.append(LineRun(name, minutes, goes, tuple(_gets(garden, job, minutes) for job in mine)))
    return tuple(runs)


def _goes(asked: Sequence[Goes], minutes: float) -> Goes | None:
    count = max((goes.count for goes in asked), default=1)
    if count < 2:
        return None
    return Goes(count, minutes / count, max(g.pause_minutes for g in asked))


def _gets(garden: Garden, job: Job, minutes: float) -> Gets:
    flow = flow_lph(garden.place(job.advice.place), garden)
    assert flow is not None
    litres, plan = flow * minutes / 60.0, job.plan
    if plan is None or plan.alone is None or job.given_today_litres:
        return Gets(job.advice.place, litres, job.advice.litres, 0.0)
    return Gets(job.advice.place, litres, plan.alone.litres, plan.alone.cost_of_sharing)


def with_lines(garden: Garden, jobs: Sequence[Job]) -> tuple[list[Job], tuple[LineRun, ...]]:
    """Jobs on lines that several places share: with the goes of the line, and a note where a place gets more or less than it would take."""
    runs = line_runs(garden, jobs)
    made = list(jobs)
    at = {job.advice.place: i for i, job in enumerate(jobs)}
    for run in runs:
        if len(run.gets) < 2:
            continue
        for one in run.gets:
            job = made[at[one.place]]
            soaks = job.advice.verdict == "soak"
            note = join_said([_note(run, one), job.note], "; ")
            made[at[one.place]] = replace(job, goes=run.goes if soaks else job.goes, note=note)
    return made, runs


def _note(run: LineRun, one: Gets) -> str:
    if not one.wants_litres:
        return say("line {name} runs {time} today for another place: this one gets {litres} and asks for none", name=run.line,
                   time=_time(run.minutes), litres=Measure(one.litres, "volume"))  # fmt: skip
    if not one.more_litres:
        return ""
    more = Measure(abs(one.more_litres), "volume")
    if one.more_litres > 0.0:
        return say("on line {name} it gets {more} more than it would take by itself", name=run.line, more=more)
    return say("on line {name} it gets {more} less than it would take by itself", name=run.line, more=more)


def _time(minutes: float) -> Measure:
    return Measure(minutes / 60.0, "duration")


def line_text(run: LineRun) -> Said:
    """A line of the round in words: how long, in how many goes, and for whom it is too much or too little."""
    over = [
        say("{place} {more} too much", place=one.place, more=Measure(one.more_litres, "volume"))
        for one in run.gets
        if one.more_litres > 0.0
    ]
    under = [
        say("{place} {less} too little", place=one.place, less=Measure(-one.more_litres, "volume"))
        for one in run.gets
        if one.more_litres < 0.0
    ]
    shared = join_said([*over, *under], ", ") if over or under else say("each gets about what it would take by itself")
    how: Measure | Said = _time(run.minutes)
    if run.goes is not None and run.goes.run_minutes:
        how = say(
            "{n} goes of {run}, {pause} apart",
            n=run.goes.count,
            run=_time(run.goes.run_minutes),
            pause=_time(run.goes.pause_minutes),
        )
    names = join_said([one.place for one in run.gets], ", ")
    if len(run.gets) == 1:
        return say("{line}: {how}, for {names}", line=run.line, how=how, names=names)
    return say("{line}: {how}, for {names}; {shared}", line=run.line, how=how, names=names, shared=shared)
