"""What readings have taught of a place, and what they make suspect, as pages show it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.advice.standing import Standing
    from soakbook.app.desk import Desk, Known
    from soakbook.learning.faults import Suspicion


@dataclass(frozen=True)
class LearntWords:
    """What was learnt, a sentence each; by how much the picture moved; how many readings it rests on, and how many could not
    be used."""

    moved: str
    sentences: tuple[str, ...]
    n: int
    left_out: int


@dataclass(frozen=True)
class FaultCard:
    """Something that may be wrong with a place: its name, how likely it is, since when, what would settle it; ``said``: all that in
    one piece; ``at``: its id on a page."""

    place_id: str
    place: str
    name: str
    odds: str
    since: str
    check: str
    said: str
    at: str = ""


def learnt_words(standing: Standing, r: Reader) -> LearntWords | None:
    """What was learnt; None where nothing was read."""
    from soakbook.learning.learnt import told

    learnt = standing.belief.learnt
    if learnt is None or not (learnt.readings or learnt.left_out):
        return None
    said = tuple(sentence(r.tell(one)) for one in told(learnt))
    moved = sentence(r.tell(standing.moved)) if standing.moved else ""
    return LearntWords(moved, said, len(learnt.readings), len(learnt.left_out))


def sentence(text: str) -> str:
    """With a capital letter and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def fault_cards(desk: Desk, known: Known, r: Reader, place_ids: Iterable[str] | None = None) -> list[FaultCard]:
    """What is suspected of the places named (None: of all), the likeliest first."""
    found = [
        (one, place_id)
        for place_id in (known.names if place_ids is None else place_ids)
        for one in desk.suspicions(known, place_id)
    ]
    found.sort(key=lambda pair: -pair[0].odds)
    return [_card(one, place_id, r) for one, place_id in found]


def _card(one: Suspicion, place_id: str, r: Reader) -> FaultCard:
    from soakbook.advice.trust import suspicion_said
    from soakbook.learning.faults_words import odds_said

    since = r.t("perhaps since {day}", day=r.day(one.since)) if one.since is not None else ""
    return FaultCard(
        place_id, one.place, sentence(r.tell(one.text)), r.tell(odds_said(one.odds)), since,
        sentence(r.tell(one.check)), r.tell(suspicion_said(one)),
        f"wrong-{place_id}-{one.fault.replace(' ', '-')}",
    )  # fmt: skip
