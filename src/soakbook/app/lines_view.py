"""The lines of a garden: how long each runs today, and what those that several places share do to each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.app.timer_view import ahead_places

if TYPE_CHECKING:
    from soakbook.advice.round import LineRun
    from soakbook.app.desk import Desk, Known
    from soakbook.delivery.line_fix import Shared

#: Days looked ahead.
DAYS = 28


@dataclass(frozen=True)
class PlaceRow:
    """A place on a line: what it gets and what that does to it, on the line as it is and on one of its own."""

    place_id: str
    place: str
    gets: str
    does: str
    alone_gets: str
    alone_does: str


@dataclass(frozen=True)
class SharedShown:
    """A line that several places share, in the reader's words; ``fixes`` the one to begin with first; ``left_out`` what the line cannot be fed for."""

    line: str
    places: tuple[PlaceRow, ...]
    even: str
    fixes: tuple[str, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class LinesShown:
    """All of it; ``today``: a sentence for each line that is opened today."""

    today: tuple[str, ...]
    shared: tuple[SharedShown, ...]
    how: str
    cautions: tuple[str, ...]
    weather: str


def lines_today(runs: Sequence[LineRun], r: Reader) -> tuple[str, ...]:
    """How long each line runs today, for whom."""
    from soakbook.advice.round import line_text

    return tuple(f"{r.tell(line_text(run))}." for run in runs)


def lines_shown(desk: Desk, known: Known, r: Reader) -> LinesShown:
    """The lines of a garden in the reader's words."""
    from soakbook.delivery.line_fix import HOW_TOLD
    from soakbook.delivery.tap import CAUTIONS

    key = ("lines", known.key, known.version, known.log_version, desk.sky(known).stamp, desk.today(known.garden))
    shared, source = desk.keep(key, lambda: _shared(desk, known))
    ids = {name: place_id for place_id, name in known.names.items()}
    return LinesShown(
        lines_today(desk.round(known).lines, r), tuple(_one_shown(one, ids, r) for one in shared), r.tell(HOW_TOLD),
        tuple(r.tell(text) for text in CAUTIONS), r.tell(source),
    )  # fmt: skip


def _shared(desk: Desk, known: Known) -> tuple[tuple[Shared, ...], str]:
    from soakbook.season.line_parts import shared_lines

    places, source = ahead_places(desk, known, DAYS)
    return shared_lines(known.garden, places, desk.today(known.garden), DAYS), source


def _one_shown(shared: Shared, ids: dict[str, str], r: Reader) -> SharedShown:
    from soakbook.delivery.line_fix import even_text, fix_text
    from soakbook.delivery.timer_judge import judged_text

    rows = tuple(
        PlaceRow(
            ids[one.place], one.place, r.amount(one.given_l), r.tell(judged_text(one)), r.amount(own.given_l), r.tell(judged_text(own)),
        )
        for one, own in zip(shared.judged, shared.alone, strict=True)
    )  # fmt: skip
    return SharedShown(
        shared.line, rows, r.tell(even_text(shared)), tuple(r.tell(fix_text(fix)) for fix in shared.in_order),
        tuple(r.tell(text) for text in shared.left_out),
    )  # fmt: skip
