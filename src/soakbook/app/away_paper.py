"""The list for whoever comes while nobody is there, on paper: places and the days of the visits, what is left to the timer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from soakbook.app.away_view import Asked, away_kept
from soakbook.app.paper_view import Card, CardRow, Cell, gauge_words, goes_words, job_cell
from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.season.away_list import Gift


def away_card(desk: Desk, known: Known, asked: Asked, r: Reader) -> tuple[Card, str]:
    """The card of the visits, and what to say of the timer; a card without days where nobody comes, or need come."""
    from soakbook.season.away_words import alone_text, to_shut_text

    made, _ = away_kept(desk, known, asked)
    by_place: dict[str, list[Gift | None]] = {}
    for k, visit in enumerate(made.listed):
        for gift in visit.gifts:
            by_place.setdefault(gift.place, [None] * len(made.listed))[k] = gift
    rows = tuple(_row(known, name, by_place[name], r) for name in known.names.values() if name in by_place)
    both = made.both
    said = [alone_text(both), to_shut_text(both)] if both is not None else []
    return Card(tuple(v.on for v in made.listed), rows), " ".join(r.tell(text) for text in said if text is not None)


def _row(known: Known, name: str, gifts: list[Gift | None], r: Reader) -> CardRow:
    given = [gift for gift in gifts if gift is not None]
    first, place = given[0].job, known.garden.place(name)
    gauges = [gift.gauge_mm for gift in given if gift.gauge_mm is not None]
    goes = next((gift.job.goes for gift in given if gift.job.goes), None)
    how = r.tell(first.how)
    return CardRow(
        place=name, plants=r.tell(first.plants),
        how=r.t("{how}, line {name}", how=how, name=place.line) if place.line and first.minutes else "" if place.line else how,
        feel=r.quantity(first.advice.probe_depth_m, "length"), rain=gauge_words(max(gauges), r) if gauges else "",
        goes=goes_words(goes, r) if goes else "",
        cells=tuple(job_cell("soak", gift.job, r) if gift is not None else Cell("") for gift in gifts),
        note=r.tell(first.note),
    )  # fmt: skip
