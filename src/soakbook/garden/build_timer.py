"""The timers of a garden file: what each can hold, the rules, and the programmes set on it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, cast

from soakbook.errors import InputError
from soakbook.garden.locate import Path
from soakbook.garden.problems import Problems, claim_name
from soakbook.garden.schema import SpellTable, TimerTable
from soakbook.garden.timer import DayKind, KeptTimer, Programme, Rules, Spell, Timer
from soakbook.garden.timer_text import LONGEST_MIN, programme_from
from soakbook.garden.words import nearest, plain, some
from soakbook.said import say

#: Programmes that can be set on one timer; they are called A, B, C and so on.
LETTERS = "ABCDEFGHIJKL"


def build_timers(raw: dict[str, Any], problems: Problems, lines: Iterable[str]) -> tuple[KeptTimer, ...]:
    """The timers, with the problems noted; a line must be one of the file's."""
    known, names = list(lines), dict[str, None]()
    made, paths = [], list[Path]()
    for path, item in problems.tables(raw.get("timers", []), ("timers",), "[[timers]]"):
        name = claim_name(item, path, names, problems, say("timer"))
        if name:
            names[name] = None
        inside = item if isinstance(item, dict) else {}
        opens = _lines(inside.get("opens"), (*path, "opens"), known, problems)
        setting = _setting(inside.get("set"), (*path, "set"), known, problems)
        earlier = _earlier(inside.get("earlier"), (*path, "earlier"), known, problems)
        table = problems.table(TimerTable, item, path)
        if table is None:
            continue
        if table.longest < table.step:
            problems.add(
                (*path, "longest"), say("the longest run is shorter than a step of the run times."), code="timer.range"
            )
        if table.since is not None and any(spell.until is not None and spell.until > table.since for spell in earlier):
            problems.add(
                (*path, "since"), say("what ran earlier must have ended by the day since which this runs."), code="timer.since"
            )  # fmt: skip
        made.append(_timer(table, opens, setting, earlier))
        paths.append(path)
    return _each_its_own(made, paths, known, problems)


def _each_its_own(
    timers: Sequence[KeptTimer], paths: Sequence[Path], known: Sequence[str], problems: Problems
) -> tuple[KeptTimer, ...]:
    """The timers with a line opened by one of them only: one that names no line opens those which no other names."""
    named: dict[str, str] = {}
    for timer, path in zip(timers, paths, strict=True):
        for line in timer.opens:
            if line in named:
                problems.add(
                    (*path, "opens"), say('"{line}" is opened by "{timer}" already.', line=line, timer=named[line]), code="timer.lines",
                    hint=say("A line can be opened by one timer only. Take it out of one of them."),
                )  # fmt: skip
            named.setdefault(line, timer.name)
    left = tuple(line for line in known if line not in named)
    taken, made = "", []
    for timer, path in zip(timers, paths, strict=True):
        if timer.opens or not known or len(timers) == 1 or problems.any_under((*path, "opens")):
            made.append(timer)
            continue
        if taken or not left:
            said = (
                say('"{timer}" names no lines either, so both would open the same.', timer=taken) if taken
                else say("each line is opened by another timer already, so none is left for this one.")
            )  # fmt: skip
            problems.add((*path, "opens"), said, code="timer.lines", hint=say('Say which lines it opens: opens = ["{line}"].', line=known[0]))  # fmt: skip
        taken = taken or timer.name
        made.append(replace(timer, opens=left if named else ()))
    return tuple(made)


def _timer(
    table: TimerTable, opens: tuple[str, ...], setting: tuple[Programme, ...], earlier: tuple[Spell, ...]
) -> KeptTimer:
    timer = Timer(
        table.programmes, table.starts, cast(tuple[DayKind, ...], table.days), table.step, table.longest, table.every_at_most,
        table.lines, table.together,
    )  # fmt: skip
    rules = Rules(
        table.allowed, table.dates, table.hours, (), table.pause, table.flow_cap, table.tank, table.refill
    )  # fmt: skip
    return KeptTimer(table.name, timer, rules, opens, setting, table.since, earlier)


def _lines(raw: Any, path: Path, known: list[str], problems: Problems) -> tuple[str, ...]:
    found = []
    for at, text in _texts(raw, path, problems):
        name = next((line for line in known if plain(line) == plain(text)), None)
        if name is None:
            hint = nearest(text, known) or say("Lines of this file: {lines}.", lines=some(known) or say("none"))
            problems.add(at, say('there is no line "{line}".', line=text[:40]), code="line.unknown", hint=hint)
        else:
            found.append(name)
    return tuple(dict.fromkeys(found))


def _setting(raw: Any, path: Path, known: list[str], problems: Problems) -> tuple[Programme, ...]:
    """What is set, one programme a text."""
    texts = _texts(raw, path, problems)
    if len(texts) > len(LETTERS):
        problems.add(
            path, say("at most {most} programmes (got {n}).", most=len(LETTERS), n=len(texts)), code="timer.set"
        )
        return ()
    found = []
    for k, (at, text) in enumerate(texts):
        try:
            programme = programme_from(text, LETTERS[k], known, None)
        except InputError as error:
            problems.relay(at, error)
            continue
        if too_long := [line for line, minutes in programme.minutes if minutes > LONGEST_MIN]:
            problems.add(
                at, say("line {line}: at most {most} minutes at one start.", line=too_long[0], most=LONGEST_MIN), code="timer.minutes"
            )  # fmt: skip
        found.append(programme)
    return tuple(found)


def _earlier(raw: Any, path: Path, known: list[str], problems: Problems) -> tuple[Spell, ...]:
    """What ran before, one table after another."""
    found: list[Spell] = []
    for at, item in problems.tables([] if raw is None else raw, path, "earlier"):
        setting = _setting(item.get("set") if isinstance(item, dict) else None, (*at, "set"), known, problems)
        table = problems.table(SpellTable, item, at)
        if table is None:
            continue
        ended = found[-1].until if found else None
        if table.since >= table.until or (ended is not None and ended > table.since):
            problems.add((*at, "since"), say("spells must follow one another, each since a day to a later one."), code="timer.since")  # fmt: skip
        found.append(Spell(setting, table.since, table.until))
    return tuple(found)


def _texts(raw: Any, path: Path, problems: Problems) -> list[tuple[Path, str]]:
    if raw is None:
        return []
    if not isinstance(raw, list) or not all(isinstance(item, str) and item.strip() for item in raw):
        problems.add(path, say("it must be a list of texts in quotes."), code="text")
        return []
    return [((*path, k), item) for k, item in enumerate(raw)]
