"""Soil squeezed in the hand: what each of the six classes feels like in the soils of a garden."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.catalog.read import feel_chart
from soakbook.catalog.words import FEEL_GROUPS, SQUEEZED

if TYPE_CHECKING:
    from soakbook.garden.model import Place


@dataclass(frozen=True)
class Soil:
    """A kind of soil, as the chart groups them, and the ids of the places that have it."""

    words: str
    places: tuple[str, ...] = ()


@dataclass(frozen=True)
class Feels:
    """What the hand feels, whether those words are from memory, and in which soils and places."""

    text: str
    is_recalled: bool
    soils: tuple[str, ...]
    places: tuple[str, ...]


@dataclass(frozen=True)
class Choice:
    """One class: its word in the log, its words, the part of the water that is there, and what the hand feels: each text once."""

    value: str
    words: str
    share: str
    feels: tuple[Feels, ...]


@dataclass(frozen=True)
class Hand:
    """The six classes, from dry to dripping, and the soils they are told for."""

    soils: tuple[Soil, ...]
    choices: tuple[Choice, ...]


def hand_of(places: Mapping[str, Place], r: Reader) -> Hand:
    """The chart for the places of a garden by id, as deep as a finger goes."""
    by_group: dict[str, list[str]] = {}
    for place_id, place in places.items():
        by_group.setdefault(group_at(place), []).append(place_id)
    return _hand([(group, tuple(by_group[group])) for group in FEEL_GROUPS if group in by_group], r)


def hand_in(group: str, r: Reader) -> Hand:
    """The chart for one kind of soil."""
    return _hand([(group, ())], r)


def group_at(place: Place) -> str:
    """The row of the chart that a place is judged by: its texture group, ``mix``, or ``unknown`` where only figures are known."""
    from soakbook.learning.reading import USUAL_DEPTH_M, feel_group, texture_at

    group = feel_group(place, USUAL_DEPTH_M)
    return "unknown" if group != "mix" and texture_at(place) is None else group


def _hand(groups: Sequence[tuple[str, tuple[str, ...]]], r: Reader) -> Hand:
    soils = tuple(Soil(r.tell(FEEL_GROUPS[group]), ids) for group, ids in groups)
    return Hand(soils, tuple(_choice(seen, groups, r) for seen in SQUEEZED))


def _choice(seen: str, groups: Sequence[tuple[str, tuple[str, ...]]], r: Reader) -> Choice:
    told: dict[str, Feels] = {}
    for group, ids in groups:
        row = next(row for row in feel_chart(group) if row.seen == seen)
        before = told.get(row.feels)
        soils, places = (before.soils, before.places) if before else ((), ())
        soils, places = (*soils, r.tell(FEEL_GROUPS[group])), (*places, *ids)
        told[row.feels] = Feels(r.tell(row.feels), row.standing == "memory", soils, places)
    words, share = SQUEEZED[seen]
    return Choice(seen, r.tell(words), r.tell(share), tuple(told.values()))
