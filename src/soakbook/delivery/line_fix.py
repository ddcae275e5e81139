"""Several plantings on one line over the weeks ahead: who gets too much or too little at the times that cost least in sum, and what would even it out.

Every watering is free, as in :mod:`soakbook.delivery.timer_event`: a linear program, solved exactly, once as the line is and once with each thing that could
be changed. What comes out is run through the balance over members of the weather, so that what is told is not the program's own account.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from soakbook.delivery.goes import MOST_GOES
from soakbook.delivery.line_fed import Fed
from soakbook.delivery.timer_event import stores
from soakbook.delivery.timer_highs import Program, solve
from soakbook.delivery.timer_judge import Judge, Judged
from soakbook.delivery.timer_need import WASTE_PRICE, FloatArray, Need, Span
from soakbook.delivery.timer_place import TimerPlace, needs_of
from soakbook.errors import InputError
from soakbook.said import Measure, Said, say

FixKind = Literal["emitters", "tap", "line"]
#: Flows that emitters are sold with. Common practice. [L/h]
SOLD_LPH = (1.0, 1.6, 2.0, 2.3, 3.5, 4.0, 8.0)
#: Other numbers of emitters, where their flow is not known. Judged.
TIMES = (0.5, 0.75, 1.5, 2.0, 3.0)
#: How much work each is, for choosing among those that help nearly as much. Judged.
WORK: Mapping[FixKind, float] = {"tap": 1.0, "emitters": 2.0, "line": 3.0}
#: What a change must save to be named, and the part of the best saving from which less work is preferred. Judged. [hundredths of growth, mean over the places]
WORTH, NEARLY = 0.1, 0.8
#: Factors on all minutes that are looked at, and places at which changes are: those that sharing costs most.
SCALES, LOOKED_AT = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35), 3
#: Longest run of a day. [min]
LONGEST_MIN = 720.0
#: Means without emitters of which there could be more.
BY_SPRAY = ("sprinkler", "wand")
#: Hour at which pots, which are reckoned by the hour, are watered.
HOUR = 6
#: How the figures come about.
HOW_TOLD = say(
    "Minutes are free to differ from day to day, as they cost least in sum over all places; then they are run through the balance of each place with weather that may come. Savings that differ by less than half a percent are alike."
)  # fmt: skip


@dataclass(frozen=True)
class Fix:
    """A change to one place of a line: what it is, in words, what it ``saves`` (hundredths of growth, mean over the line's places) and the litres it
    saves over the days; ``after``: every place with it. ``times``: of emitters, how much more they let out."""

    kind: FixKind
    place: str
    text: Said
    saves: float
    saves_l: float
    after: tuple[Judged, ...]
    times: float = 1.0


@dataclass(frozen=True)
class Shared:
    """A line with several places over some days. ``judged``: each as the line waters them together; ``alone``: each as a line of its own would. ``cost`` and
    ``alone_cost`` are means over the places [hundredths of growth]; ``fixes`` those worth naming, the best first; ``first`` the one to begin with. ``left_out``:
    in words, emitters that would help more and want more water than the line is fed."""

    line: str
    days: int
    judged: tuple[Judged, ...]
    alone: tuple[Judged, ...]
    cost: float
    alone_cost: float
    fixes: tuple[Fix, ...]
    first: Fix | None
    left_out: tuple[Said, ...] = ()

    @property
    def in_order(self) -> tuple[Fix, ...]:
        """The one to begin with, then the others."""
        return tuple(sorted(self.fixes, key=lambda fix: fix != self.first))


def shared_line(
    places: Sequence[TimerPlace], span: Span, emitter_lph: Mapping[str, float | None], fed: Fed | None = None
) -> Shared:
    """What a line does to its places, and what would even it out.

    Parameters
    ----------
    places
        All places on one line, in the garden's order.
    span
        The days; one window a day.
    emitter_lph
        Flow of one emitter by place, None where it is not known.
    fed
        What feeds the line, where that is known: emitters that want more are not proposed.

    Raises
    ------
    InputError
        Fewer than two places in which something grows.
    """
    needs = {need.place: need for need in needs_of(places, span)}
    if len(needs) < 2:
        raise InputError(
            say("a line is only shared by two places or more in which something grows."),
            code="line.shared",
            field="line",
        )
    judge = Judge([p for p in places if p.name in needs], span.days)
    together, alone = _best(needs, ()), {n: _best({n: need}, ())[n] for n, need in needs.items()}
    judged = _all(judge, _together(judge, list(needs), together).lived)
    free = {n: _lived(judge, n, [alone[n], together[n]]) for n in needs}
    shared = {one.place: one.cost - free[one.place].cost for one in judged}
    worst = [n for n in needs if n in sorted(shared, key=lambda n: -shared[n])[:LOOKED_AT]]
    most = {n: fed.times_at(60.0 * needs[n].litres_per_minute) if fed else np.inf for n in worst}
    plans = _Plans(needs, together, alone, {n: _best(needs, (n,)) for n in worst}, most)
    # What serves a place best by itself is not always what the simple stores say: whatever was planned for it is tried.
    for n in worst:
        free[n] = min(free[n], _lived(judge, n, [plans.tapped[n][n]]), key=lambda one: one.cost)
    ways = [(name, *way) for name in worst for way in _ways(judge, plans, name, free[name], emitter_lph.get(name))]
    # Nor what any of the changes comes to there: minutes of its own give a place whatever other emitters, or another line for its neighbours, would.
    for n in needs:
        free[n] = min(
            [free[n], *(one for *_, after, _ in ways for one in after if one.place == n)], key=lambda one: one.cost
        )
    ways = [
        (n, kind, _all(judge, {**{o.place: o for o in after}, n: free[n]}) if kind == "line" else after, times)
        for n, kind, after, times in ways
    ]
    spray = {p.name for p in judge.places if p.days.place.means in BY_SPRAY}
    fixes = [
        Fix(kind, name, _text(kind, name, times, emitter_lph.get(name), name in spray), _mean(judged) - _mean(after), _given(judged) - _given(after), after, times)
        for name, kind, after, times in ways
    ]  # fmt: skip
    can, cannot = ([fix for fix in fixes if (fix.times <= most[fix.place]) is fits] for fits in (True, False))
    made = _shared(judge.places[0].line, span.days, judged, _all(judge, free), can)
    return replace(made, left_out=tuple(_left_out(can, cannot, needs, fed))) if fed else made


def _left_out(can: Sequence[Fix], cannot: Sequence[Fix], needs: Mapping[str, Need], fed: Fed) -> Iterator[Said]:
    """Emitters that the line cannot be fed for: the best of each place, where they would help more than what it can be fed for there."""
    for place in dict.fromkeys(fix.place for fix in cannot):
        best = max((fix for fix in cannot if fix.place == place), key=lambda fix: fix.saves)
        least = max((fix.saves for fix in can if (fix.kind, fix.place) == ("emitters", place)), default=0.0)
        if best.saves >= max(least, WORTH):
            takes = fed.line_lph + (best.times - 1.0) * 60.0 * needs[place].litres_per_minute
            yield say("Left out: {change}. The line would then take {takes}, and {why}.", change=best.text, takes=Measure(takes, "flow"), why=fed.why)  # fmt: skip


@dataclass(frozen=True)
class _Plans:
    """Minutes by day, by place: all ``together``, each ``alone``, and together with a tap on one of them (``tapped``, by that one); ``most``: how many times as
    much emitters may let out."""

    needs: Mapping[str, Need]
    together: Mapping[str, FloatArray]
    alone: Mapping[str, FloatArray]
    tapped: Mapping[str, Mapping[str, FloatArray]]
    most: Mapping[str, float]


def _ways(
    judge: Judge, plans: _Plans, name: str, free: Judged, emitter_lph: float | None
) -> Iterator[tuple[FixKind, tuple[Judged, ...], float]]:
    """What can be changed at a place, and every place with it."""
    needs, tapped = plans.needs, plans.tapped[name]
    rest = [other for other in needs if other != name]
    left = [
        (_together(judge, rest, way), way) for way in (_best({n: needs[n] for n in rest}, ()), tapped, plans.together)
    ]
    shut = []
    for lived, way in left:
        open_for = SCALES[lived.scale] * way[rest[0]]
        own = [np.minimum(scale * mine, open_for) for mine in (tapped[name], plans.alone[name]) for scale in SCALES]
        shut.append(_all(judge, {**lived.lived, name: _lived(judge, name, own, scales=(1.0,))}))
    yield "tap", min(shut, key=_mean), 1.0
    yield "line", min((_all(judge, {**lived.lived, name: free}) for lived, _ in left), key=_mean), 1.0
    wants = float(plans.alone[name].sum()) / max(float(plans.together[name].sum()), 1.0)
    for times in dict.fromkeys((*_near(wants, emitter_lph), *_near(wants, emitter_lph, plans.most[name]))):
        runs = _best({**needs, name: _times(needs[name], times)}, ())
        yield "emitters", _all(judge, _together(judge, list(needs), runs, {name: times}).lived), times


def _times(need: Need, times: float) -> Need:
    return replace(need, per_minute_mm=times * need.per_minute_mm, litres_per_minute=times * need.litres_per_minute)


def _shared(
    line: str, days: int, judged: tuple[Judged, ...], alone: tuple[Judged, ...], fixes: Sequence[Fix]
) -> Shared:
    good = sorted((fix for fix in fixes if fix.saves >= WORTH), key=lambda fix: -fix.saves)
    nearly = [fix for fix in good if fix.saves >= NEARLY * good[0].saves]
    first = min(nearly, key=lambda fix: (WORK[fix.kind], -fix.saves), default=None)
    best: dict[tuple[FixKind, str], Fix] = {}
    for fix in good:  # of emitters at one place the best flow; of two places it is all the same which gets the new line
        best.setdefault((fix.kind, "" if fix.kind == "line" and len(judged) == 2 else fix.place), fix)
    return Shared(line, days, judged, alone, _mean(judged), _mean(alone), tuple(best.values()), first)


def _mean(judged: Sequence[Judged]) -> float:
    return float(np.mean([one.cost for one in judged]))


def _given(judged: Sequence[Judged]) -> float:
    return sum(one.given_l for one in judged)


def _best(needs: Mapping[str, Need], tapped: Sequence[str]) -> dict[str, FloatArray]:
    """Minutes of each place by day that cost least in sum when all are opened together; those with a tap on their drip may be shut before the line is."""
    program = Program()
    steps = next(iter(needs.values())).use_mm.shape[1]
    line = [program.column(0.0, LONGEST_MIN) for _ in range(steps)]
    columns = {}
    for name, need in needs.items():
        run = line
        if name in tapped:
            run = [program.column(0.0, LONGEST_MIN) for _ in range(steps)]
            for own, whole in zip(run, line, strict=True):
                program.row([(own, 1.0), (whole, -1.0)], -np.inf, 0.0)
        for column in run:
            program.cost[column] += need.scale * WASTE_PRICE * need.waste_times * need.per_minute_mm
        stores(program, need, run, step_minutes=1, goes=MOST_GOES)
        columns[name] = run
    values = solve(program).values
    assert values is not None
    return {name: np.floor(values[run] + 0.5) for name, run in columns.items()}


@dataclass(frozen=True)
class _Lived:
    """Places under minutes by day, all longer or shorter by one of :data:`SCALES`."""

    scale: int
    lived: dict[str, Judged]


def _together(
    judge: Judge, names: Sequence[str], runs: Mapping[str, FloatArray], times: Mapping[str, float] | None = None
) -> _Lived:
    """Places opened together, run through the balance. The stores that their minutes were planned with are simpler than it, so all of them are made longer or
    shorter by what costs least. ``times``: how much more emitters let out."""
    tries = [{n: _of(judge, n, (times or {}).get(n, 1.0), scale * runs[n]) for n in names} for scale in SCALES]
    best = min(range(len(tries)), key=lambda k: _mean(list(tries[k].values())))
    return _Lived(best, tries[best])


def _lived(judge: Judge, name: str, ways: Sequence[FloatArray], scales: Sequence[float] = SCALES) -> Judged:
    """A place by itself under the best of some ways to water it."""
    return min(
        (_of(judge, name, 1.0, scale * minutes) for minutes in ways for scale in scales), key=lambda one: one.cost
    )


def _all(judge: Judge, lived: Mapping[str, Judged]) -> tuple[Judged, ...]:
    return tuple(lived[place.name] for place in judge.places)


def _of(judge: Judge, name: str, times: float, minutes: FloatArray) -> Judged:
    """A place under its minutes by day, and so many times as much from its emitters."""
    k = next(k for k, place in enumerate(judge.places) if place.name == name)
    one = judge.places[k]
    n = one.days.steps_a_day
    poured = times * minutes * one.depth_per_minute_mm
    enters = np.minimum(poured, MOST_GOES * one.takes_mm)
    put = np.zeros(judge.days * n)
    put[HOUR if n > 1 else 0 :: n] = enters
    return judge.of_water(k, put, float((poured - enters).sum()))


def _near(wants: float, emitter_lph: float | None, most: float = np.inf) -> tuple[float, ...]:
    """The next smaller and the next larger of what can be had to let out so many times as much, and no more than ``most``."""
    some = [sold / emitter_lph for sold in SOLD_LPH] if emitter_lph else list(TIMES)
    some = [times for times in some if abs(times - 1.0) > 0.05 and times <= most]
    under, over = [t for t in some if t <= wants], [t for t in some if t > wants]
    return (*under[-1:], *over[:1])


def _text(kind: FixKind, place: str, times: float, emitter_lph: float | None, is_spray: bool) -> Said:
    if kind == "line":
        return say("a line of its own for {place}", place=place)
    if kind == "tap":
        return say("a tap on the drip of {place}, shut when it has had enough", place=place)
    if emitter_lph:
        return say(
            "emitters of {new} in place of {old} at {place}",
            new=Measure(times * emitter_lph, "flow"),
            old=Measure(emitter_lph, "flow"),
            place=place,
        )
    if is_spray:
        return say("{times:.2g} times the flow at {place}", times=times, place=place)
    return (
        say("{times:.2g} times as many emitters at {place}", times=times, place=place)
        if times > 1.0
        else say("{part:.0%} of the emitters at {place}", part=times, place=place)
    )


def even_text(shared: Shared) -> Said:
    """What sharing the line costs, in words."""
    over = shared.cost - shared.alone_cost
    if over < WORTH:
        return say("Sharing the line costs next to nothing: its places want much the same.")
    return say(
        "Sharing the line costs {part:.1f} % of the growth of these days, water that is wasted counted in.", part=over
    )


def fix_text(fix: Fix) -> Said:
    """A change and what it saves, in words."""
    water = Measure(abs(fix.saves_l), "volume", 0)
    if abs(fix.saves_l) < 1.0:
        return say("{change}: saves {part:.1f} % of growth", change=fix.text, part=fix.saves)
    if fix.saves_l > 0.0:
        return say(
            "{change}: saves {part:.1f} % of growth, and {water} of water", change=fix.text, part=fix.saves, water=water
        )
    return say(
        "{change}: saves {part:.1f} % of growth, with {water} more water", change=fix.text, part=fix.saves, water=water
    )
