"""What goes on paper: the round, a place, and a card with a week for whoever helps out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Generic, Literal, TypeVar

from soakbook.app.cut import cut_svg, cut_view
from soakbook.app.reader import Reader
from soakbook.app.round_view import Row, headline, rows_of

if TYPE_CHECKING:
    from soakbook.advice.ahead import Due
    from soakbook.advice.decide import Advice
    from soakbook.advice.job import Job
    from soakbook.advice.round import Standing
    from soakbook.app.desk import Desk, Known
    from soakbook.delivery.goes import Goes

Paper = Literal["a4", "letter", "a6"]
PAPERS: tuple[Paper, ...] = ("a4", "letter", "a6")
#: Days of a helper's card, and days of a place's sheet that are looked ahead.
CARD_DAYS, PLACE_DAYS = 7, 15
#: Half lines of a table that fit on a sheet with nothing else, and on the last one with its notes; letters of a line of
#: the column of names and of the column of words. Counted on the sheets, with the text sizes of static/paper-*.css.
_ROOM: dict[tuple[str, Paper], tuple[int, int, int, int]] = {
    ("round", "a4"): (106, 100, 20, 50), ("round", "letter"): (98, 96, 20, 52), ("round", "a6"): (76, 70, 16, 40),
    ("card", "a4"): (79, 79, 30, 33), ("card", "letter"): (78, 78, 30, 33), ("card", "a6"): (66, 61, 21, 24),
}  # fmt: skip

RowT = TypeVar("RowT")


@dataclass(frozen=True)
class Sheet(Generic[RowT]):
    """One piece of paper: its rows, and which of how many it is."""

    rows: tuple[RowT, ...]
    number: int
    of: int

    @property
    def is_last(self) -> bool:
        """Whether it is the one with the notes."""
        return self.number == self.of


@dataclass(frozen=True)
class Cell:
    """A place on one day of the card: nothing, soak, or probe first; how much, and the same as number and unit."""

    sign: Literal["", "soak", "probe"]
    amount: str = ""
    number: str = ""
    unit: str = ""


@dataclass(frozen=True)
class CardRow:
    """A place on the card: how it is watered, how deep to feel, the rain that does instead, its days; ``note``: what else to mind there."""

    place: str
    plants: str
    how: str
    feel: str
    rain: str
    goes: str
    cells: tuple[Cell, ...]
    note: str = ""

    @property
    def unit(self) -> str:
        """The unit that all its amounts have; empty when they differ."""
        units = {cell.unit for cell in self.cells if cell.sign}
        return units.pop() if len(units) == 1 else ""

    @property
    def says(self) -> str:
        """All that stands below its name on a large sheet."""
        return "; ".join(part for part in (self.feel, self.rain, self.how, self.goes, self.note) if part)


@dataclass(frozen=True)
class Card:
    """A helper's card."""

    days: tuple[date, ...]
    rows: tuple[CardRow, ...]


@dataclass(frozen=True)
class DueWords:
    """A due day: the day, also ``tiny``, what to do, how much."""

    day: str
    tiny: str
    word: str
    is_probe: bool
    amount: str


@dataclass(frozen=True)
class PlaceSheet:
    """A place on paper: its job, the cut, the sum of what is missing, and the days it falls due."""

    row: Row
    cut: str
    reasons: tuple[tuple[str, str, str], ...]
    total: tuple[str, str]
    since: str
    facts: tuple[tuple[str, str], ...]
    dues: tuple[DueWords, ...]


def paper_of(asked: str, r: Reader) -> Paper:
    """The paper asked for, else the one in the reader's printer."""
    for paper in PAPERS:
        if asked == paper:
            return paper
    return "letter" if r.units == "US" else "a4"


def sheets_of(rows: Sequence[RowT], lines: Sequence[int], most: int, most_last: int) -> list[Sheet[RowT]]:
    """Rows dealt out to sheets of so many half lines, fewer on the last; ``lines`` are those of each row."""
    parts: list[list[RowT]] = [[]]
    used = 0
    for i, (row, cost) in enumerate(zip(rows, (2 * n + 1 for n in lines), strict=True)):
        is_full = used + cost > most or (i == len(rows) - 1 and used + cost > most_last)
        if parts[-1] and is_full:
            parts.append([])
            used = 0
        parts[-1].append(row)
        used += cost
    return [Sheet(tuple(part), n, len(parts)) for n, part in enumerate(parts, start=1)]


def round_sheets(rows: Sequence[Row], paper: Paper) -> list[Sheet[Row]]:
    """The round on as many sheets as it takes."""
    most, most_last, names, words = _ROOM["round", paper]

    def lines(row: Row) -> int:
        asks = " ".join((row.word, row.amount, *row.more))
        if paper == "a6":
            return max(_lines(row.place, names), _lines(asks, words))
        told = " ".join((asks, row.why, row.after, row.note, *(card.said for card in row.wrong)))
        return max(_lines(f"{row.place} {row.plants}", names), _lines(told, words))

    return sheets_of(rows, [lines(row) for row in rows], most, most_last)


def card_sheets(card: Card, paper: Paper, words: str = "") -> list[Sheet[CardRow]]:
    """The card on as many sheets as it takes; ``words`` come on top of its last one."""
    most, most_last, names, letters = _ROOM["card", paper]

    def lines(row: CardRow) -> int:
        if paper == "a6":
            return _lines(row.place, names) + _lines(f"{row.unit}; {row.feel}; {row.rain} {row.note}", letters)
        return _lines(f"{row.place} {row.plants}", names) + _lines(row.says, letters)

    room = 2 * _lines(words, 2 * names) if words else 0
    return sheets_of(card.rows, [lines(row) for row in card.rows], most, most_last - room)


def _lines(text: str, letters: int) -> int:
    return max(1, math.ceil(len(text) / letters))


# --- due days --------------------------------------------------------------------------------------------------------------
def dues_by_place(desk: Desk, known: Known, n_days: int) -> dict[str, tuple[Due, ...]]:
    """The due days of every place, by its id, over the coming days; today counts."""
    from soakbook.advice.ahead import dues_ahead

    made, standings = desk.round(known), desk.standings(known)
    end = desk.today(known.garden) + timedelta(days=n_days)

    def make() -> dict[str, tuple[Due, ...]]:
        pairs = zip(known.names, standings, made.jobs, strict=True)
        return {place_id: dues_ahead(known.garden, s, job, end) for place_id, s, job in pairs}

    stamp = desk.sky(known).stamp
    kept: dict[str, tuple[Due, ...]] = desk.keep(
        ("dues", known.key, known.version, known.log_version, stamp, end), make
    )
    return kept


def card_of(desk: Desk, known: Known, r: Reader) -> Card:
    """The week from today, as the round would ask if everything is done as it says and it does not rain."""
    today = desk.today(known.garden)
    days = tuple(today + timedelta(days=i) for i in range(CARD_DAYS))
    dues = dues_by_place(desk, known, CARD_DAYS)
    rows = rows_of(desk, known, desk.round(known), r)
    return Card(days, tuple(_card_row(known, row, dues[row.place_id], days, r) for row in rows))


def _card_row(known: Known, row: Row, dues: Sequence[Due], days: Sequence[date], r: Reader) -> CardRow:
    by_day = {due.on: due for due in dues}
    gauges = [due.gauge_mm for due in dues if due.gauge_mm is not None]
    place = known.place(row.place_id)
    rain = gauge_words(max(gauges), r) if gauges else ""
    goes = next((due.job.goes for due in dues if due.job.goes), None)
    how = r.tell(row.job.how)
    return CardRow(
        place=row.place,
        plants=row.plants,
        how=r.t("{how}, line {name}", how=how, name=place.line) if place.line else how,
        feel=row.probe_depth,
        rain=rain,
        goes=goes_words(goes, r) if goes else "",
        cells=tuple(_cell(by_day.get(day), r) for day in days),
    )


def goes_words(goes: Goes, r: Reader) -> str:
    """In how many goes."""
    pause = r.quantity(goes.pause_minutes / 60.0, "duration")
    return r.t("in {count} goes, {pause} apart", count=goes.count, pause=pause)


def gauge_words(rain_mm: float, r: Reader) -> str:
    """Rain as it is read off a gauge, rather too much than too little."""
    if r.units == "metric":
        return f"{math.ceil(rain_mm)} mm"
    return f"{r.number(math.ceil(rain_mm / 2.54) / 10.0, 1)} in"


def _cell(due: Due | None, r: Reader) -> Cell:
    if due is None:
        return Cell("")
    return job_cell("soak" if due.verdict == "soak" else "probe", due.job, r)


def job_cell(sign: Literal["soak", "probe"], job: Job, r: Reader) -> Cell:
    """How much on one day, whole and as number and unit."""
    amount = number = _short_amount(job, r)
    unit = ""
    if job.minutes:
        number, unit = clock_words(job.minutes), r.t("h")
    elif job.cans:
        number, unit = r.number(job.cans, 0 if job.cans >= 10 else 1), r.t("cans")
    elif amount:
        number, _, unit = amount.partition(" ")
    return Cell(sign, amount, number, unit)


def clock_words(minutes: float) -> str:
    """Hours and minutes as a clock has them."""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours}:{rest:02d}"


def _short_amount(job: Job, r: Reader) -> str:
    """How much, short enough for a narrow column: ``4:30 h``."""
    minutes = job.minutes
    if not minutes or minutes < 60.0:
        return headline(job, r)
    return f"{clock_words(minutes)}\N{NO-BREAK SPACE}h"


# --- a place ---------------------------------------------------------------------------------------------------------------
def place_sheet(desk: Desk, known: Known, place_id: str, r: Reader) -> PlaceSheet:
    """Everything of a place that fits on one sheet. InputError when there is no such place."""
    known.place(place_id)
    row = next(row for row in rows_of(desk, known, desk.round(known), r) if row.place_id == place_id)
    standing, advice = desk.standing(known, place_id), row.job.advice
    dues = dues_by_place(desk, known, PLACE_DAYS)[place_id]
    return PlaceSheet(
        row=row,
        cut=cut_of(standing, advice, r),
        reasons=reasons_words(advice, r),
        total=(r.quantity(advice.missing_mm, "depth"), r.amount(advice.missing_litres)),
        since=r.day(advice.since),
        facts=facts_of(known, row, r),
        dues=tuple(due_words(due, r) for due in dues),
    )


def cut_of(standing: Standing, advice: Advice, r: Reader) -> str:
    """The place cut open."""
    return cut_svg(cut_view(standing.days, standing.known.now, advice), r)


def reasons_words(advice: Advice, r: Reader) -> tuple[tuple[str, str, str], ...]:
    """The parts of what is missing: cause, depth and litres, with their signs."""

    def signed(text: str, value: float) -> str:
        return f"−{text}" if value < 0.0 else f"+{text}"

    return tuple(
        (
            r.tell(part.cause),
            signed(r.quantity(abs(part.depth_mm), "depth"), part.depth_mm),
            signed(r.amount(abs(part.litres)), part.litres),
        )
        for part in advice.reasons
    )


def facts_of(known: Known, row: Row, r: Reader) -> tuple[tuple[str, str], ...]:
    """What a place is, in a few pairs of words."""
    place, advice = known.place(row.place_id), row.job.advice
    how = r.tell(row.job.how)
    facts = [
        (r.t("Grows"), row.plants),
        (r.t("Size"), r.quantity(place.area_m2, "area")),
        (r.t("Watered by"), r.t("{how}, line {name}", how=how, name=place.line) if place.line else how),
        (r.t("Roots reach"), r.quantity(advice.reach_m, "length")),
        (r.t("Feel"), r.t("{depth} down", depth=row.probe_depth)),
    ]
    return tuple(facts)


def due_words(due: Due, r: Reader) -> DueWords:
    """A due day in words."""
    is_probe = due.verdict == "probe first"
    word = r.t("probe first") if is_probe else r.t("soak")
    return DueWords(r.day(due.on), r.day(due.on, "tiny"), word, is_probe, _short_amount(due.job, r))
