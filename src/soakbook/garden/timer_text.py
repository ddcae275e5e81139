"""A timer's programme as people write and read it: "mon,wed,sat 06:00 tomatoes 40 min".

It is read in English and, where one is given, in the reader's language; files have it in English.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from datetime import date

from soakbook.errors import InputError
from soakbook.garden.timer import ALL_WEEK, DAY_MIN, Days, Programme, clock
from soakbook.said import Said, say, say_n

#: Says a sentence again in another language.
Tell = Callable[[str], str]
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
#: The longest run at one start that anybody sets. Judged. [min]
LONGEST_MIN = 720
#: Days between two runs that a timer can count to.
MOST_EVERY = 31
_NAMES = (say("Mon"), say("Tue"), say("Wed"), say("Thu"), say("Fri"), say("Sat"), say("Sun"))
LONG_DAYS = (
    say("Monday"), say("Tuesday"), say("Wednesday"), say("Thursday"), say("Friday"), say("Saturday"), say("Sunday"),
)  # fmt: skip
_DAILY = (say("daily"), say("every day"))
_ODD, _EVEN = (say("odd"), say("odd dates")), (say("even"), say("even dates"))
#: Stands for the number of days, and for the first of them, when a sentence is turned into a pattern.
_N, _FIRST = 97, "1997-07-09"
_EVERY = (say_n("every day", "every {n} days", _N), say("every {n} days from {first}", n=_N, first=_FIRST))
_CLOCK = re.compile(r"(?<![\d:])([01]?\d|2[0-3]):([0-5]\d)(?![\d:])")


def days_text(days: Days) -> Said:
    """The days in words."""
    return _days_said(days, days.first)


def _days_said(days: Days, first: date | str | None) -> Said:
    if days.kind == "every":
        if days.every == 1:
            return say("every day")
        return say("every {n} days from {first}", n=days.every, first=first)
    if days.kind == "parity":
        return {"odd": say("odd dates"), "even": say("even dates"), "any": say("every day")}[days.parity]
    if len(days.weekdays) == 7:
        return say("every day")
    return say("{days}", days=[_NAMES[d] for d in sorted(days.weekdays)])


def days_from(text: str, first: date | None, tell: Tell | None = None) -> Days:
    """Days from "daily", "mon,wed", "every 3 days", "every 3 days from 2026-06-01", "odd" or "even", or as ``tell`` says them.

    ``first`` is the day from which so many days are counted where the text does not say it; with None the text has to.

    Raises
    ------
    InputError
        When it is none of these.
    """
    word = _plain(text)
    for said in (None, tell) if tell is not None else (None,):
        if word in _as_told(_DAILY, said):
            return Days()
        if word in _as_told(_ODD, said):
            return Days("parity", parity="odd")
        if word in _as_told(_EVEN, said):
            return Days("parity", parity="even")
        if found := next((m for p in _EVERY if (m := re.fullmatch(_pattern(p, said), word))), None):
            return _every(found, first)
        if (weekdays := _weekdays(word, said)) is not None:
            return Days("weekdays", weekdays)
    raise InputError(
        say('"{text}" is not a way to say days.', text=text[:40]),
        code="timer.days", field="set", hint=say("Write daily, mon,wed,sat, every 3 days, odd or even."),
    )  # fmt: skip


def _plain(text: str) -> str:
    """A word as it is compared: without case, accents and needless spaces."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return " ".join(bare.casefold().split())


def _as_told(said: Sequence[Said], tell: Tell | None) -> set[str]:
    return {_plain(tell(one) if tell else one) for one in said}


def _pattern(said: Said, tell: Tell | None) -> str:
    told = re.escape(_plain(tell(said) if tell else said))
    return told.replace(re.escape(_FIRST), r"(?P<first>\d{4}-\d\d-\d\d)").replace(str(_N), r"(?P<n>\d{1,4})")


def _every(found: re.Match[str], first: date | None) -> Days:
    n, written = int(found["n"]), found.groupdict().get("first")
    if not 1 <= n <= MOST_EVERY:
        raise InputError(say("every {n} days: it must be 1 to 31.", n=n), code="timer.every", field="set")
    if written:
        try:
            first = date.fromisoformat(written)
        except ValueError:
            raise InputError(say('"{value}" is not a day of the calendar.', value=written), code="date", field="set") from None  # fmt: skip
    if first is None:
        raise InputError(
            say("it does not say from which day the {n} days are counted.", n=n), code="timer.first", field="set",
            hint=say('Write it like "every 3 days from 2026-06-01".'),
        )  # fmt: skip
    return Days("every", every=n, first=first)


def _weekdays(word: str, tell: Tell | None) -> tuple[int, ...] | None:
    """Days of the week by their short names, or by any beginning of their long ones from which they are known, parted by commas or spaces."""
    found: set[int] = set()
    for part in (part.strip(".") for part in word.replace(",", " ").split() if part.strip(".")):
        if tell is None:
            days = [d for d, long in enumerate(LONG_DAYS) if len(part) > 2 and _plain(long).startswith((part, part.removesuffix("s")))]  # fmt: skip
        else:
            names = [(_plain(tell(a)), _plain(tell(b)).split()[-1]) for a, b in zip(_NAMES, LONG_DAYS, strict=True)]
            days = [d for d, (short, long) in enumerate(names) if part == short or (len(part) > 1 and long.startswith(part))]  # fmt: skip
        if len(days) != 1:
            return None
        found.update(days)
    return tuple(sorted(found)) or None


def programme_from(
    text: str, name: str, lines: Sequence[str], first: date | None, tell: Tell | None = None
) -> Programme:
    """A programme from one line of text: days, start times, then lines with their minutes, parted by commas.

    Examples
    --------
    >>> p = programme_from("mon,wed,sat 06:00 20:00 tomatoes 40 min, herbs 5 min", "A", ["tomatoes", "herbs"], date(2026, 6, 1))
    >>> p.days.weekdays, p.starts, p.minutes
    ((0, 2, 5), (360, 1200), (('tomatoes', 40), ('herbs', 5)))

    Raises
    ------
    InputError
        Saying which part cannot be read.
    """
    clocks = list(_CLOCK.finditer(text))
    if not clocks:
        raise InputError(
            say('"{text}" has no start time.', text=text[:60]),
            code="timer.start", field="set", hint=say('Write it like "mon,wed,sat 06:00 tomatoes 40 min".'),
        )  # fmt: skip
    days = days_from(text[: clocks[0].start()].strip(" ,") or "daily", first, tell)
    starts = tuple(sorted({60 * int(c[1]) + int(c[2]) for c in clocks}))
    minutes: dict[str, int] = {}
    for part in _parts(text[clocks[-1].end() :], lines):
        found = re.fullmatch(r"(.+?)\s+(\d{1,4})\s*min(?:ut[eo]s?)?\.?", part.strip(), re.IGNORECASE)
        if not found:
            raise InputError(
                say('"{part}" does not say how many minutes which line runs.', part=part.strip()[:60]),
                code="timer.minutes", field="set", hint=say('Write it like "tomatoes 40 min".'),
            )  # fmt: skip
        line = _line(found[1], lines)
        if line in minutes:
            raise InputError(
                say('line "{line}" is named twice.', line=line), code="timer.twice", field="set",
                hint=say("A programme runs each line once at every start; for another run write another start or programme."),
            )  # fmt: skip
        minutes[line] = int(found[2])
    ordered = tuple((line, minutes[line]) for line in lines if line in minutes)
    return Programme(name, days, starts, ordered)


def _parts(text: str, lines: Sequence[str]) -> list[str]:
    """What stands between the commas; the name of a line may hold some itself."""
    parts: list[str] = []
    for piece in text.split(","):
        whole = f"{parts[-1]},{piece}" if parts else piece
        if parts and any(line.casefold().startswith(parts[-1].strip().casefold() + ",") for line in lines):
            parts[-1] = whole
        else:
            parts.append(piece)
    return parts


def _line(text: str, lines: Sequence[str]) -> str:
    for line in lines:
        if line.casefold() == text.strip().casefold():
            return line
    raise InputError(
        say('there is no line "{line}".', line=text.strip()[:40]),
        code="timer.line", field="set", hint=say("Lines: {lines}.", lines=list(lines)),
    )  # fmt: skip


def programme_text(programme: Programme, tell: Tell | None = None) -> str:
    """The line of text that :func:`programme_from` reads back: as files have it, or with the days as ``tell`` says them.

    Examples
    --------
    >>> programme_text(Programme("A", Days("every", every=3, first=date(2026, 6, 1)), (360,), (("herbs", 5),)))
    'every 3 days from 2026-06-01 06:00 herbs 5 min'
    """
    days = programme.days
    if tell is not None:
        written = tell(_days_said(days, f"{days.first:%Y-%m-%d}" if days.first else None))
    elif days.kind == "weekdays" and len(days.weekdays) < 7:
        written = ",".join(WEEKDAYS[d] for d in sorted(days.weekdays))
    elif days.kind == "every" and days.every > 1:
        written = f"every {days.every} days from {days.first:%Y-%m-%d}"
    else:
        written = days.parity if days.kind == "parity" and days.parity != "any" else "daily"
    starts = " ".join(clock(start) for start in programme.starts)
    return f"{written} {starts} {', '.join(f'{line} {n} min' for line, n in programme.minutes)}"


def hours_from(text: str) -> tuple[tuple[int, int], ...]:
    """Spans of minutes of the day from "04:00-10:00, 18:00-22:00"."""
    return tuple(_span(part) for part in text.split(",") if part.strip())


def _span(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,2}):(\d\d)\s*[-–]\s*(\d{1,2}):(\d\d)\s*", text)
    a, b = (60 * int(found[1]) + int(found[2]), 60 * int(found[3]) + int(found[4])) if found else (0, 0)
    if not 0 <= a < b <= DAY_MIN or (found and (int(found[2]) > 59 or int(found[4]) > 59)):
        raise InputError(
            say("hours must be spans within a day, such as 04:00-10:00 (got {got}).", got=text.strip()[:40]),
            code="timer.hours", field="hours", hint=say("Part several by commas; a span over midnight is two."),
        )  # fmt: skip
    return a, b


def hours_text(hours: Sequence[tuple[int, int]]) -> str:
    """Spans as :func:`hours_from` reads them; the end of the day is 24:00.

    Examples
    --------
    >>> hours_text([(240, 600), (1080, 1440)])
    '04:00-10:00, 18:00-24:00'
    """
    return ", ".join(f"{clock(a)}-{clock(b) if b < DAY_MIN else '24:00'}" for a, b in hours)


def is_daily(days: Days) -> bool:
    """Whether a programme with these days runs every day."""
    return (days.kind == "weekdays" and days.weekdays == ALL_WEEK) or (days.kind == "every" and days.every == 1)
