"""Notes beside the catalogue's figures, kept so that they can be said in another language."""

from __future__ import annotations

import re
from functools import cache

from soakbook.said import Said, join_said, pattern, recognised, say

#: How notes tell where in a source a figure stands; the names of rows and cases stay as they are printed.
PATTERNS = (
    pattern("row '{row}' [{case}]"),
    pattern("row '{row}'"),
    pattern("the crop has no row of its own"),
    pattern("{row} has no row of its own"),
)
#: How they tell which figure of a printed range was taken.
_RANGES = {
    "middle of": pattern("middle of {span}"),
    "lower end of": pattern("lower end of {span}"),
    "upper end of": pattern("upper end of {span}"),
    "half of the range": pattern("half of the range {span}"),
}
_RANGE = re.compile(r"(middle of|lower end of|upper end of|half of the range) ([\d.]+)-([\d.]+)(?: (m|mm|%|days))?")
#: Parts of a note; what stands in brackets is one.
_PART = re.compile(r"; (?![^\[]*\])")
_PIECE = re.compile(r", (?=middle of |lower end of |upper end of |half of the range |footnote )")


@cache
def said_note(note: str) -> str:
    """The same note, from patterns where it is made of them.

    Examples
    --------
    >>> said_note("row 'Carrots', lower end of 0.5-1 m")
    "row 'Carrots', lower end of 0.5-1 m"
    """
    if not note:
        return note
    return join_said([join_said([_piece(p) for p in _PIECE.split(part)], ", ") for part in _PART.split(note)], "; ")


def free_pieces(note: str) -> list[str]:
    """The pieces of a note that are said each in its own words."""
    pieces = [piece for part in _PART.split(note) for piece in _PIECE.split(part)] if note else []
    return [p for p in pieces if not _RANGE.fullmatch(p) and not isinstance(recognised(p, PATTERNS), Said)]


def _piece(text: str) -> str:
    if found := _RANGE.fullmatch(text):
        which, low, high, unit = found.groups()
        ends = {"low": float(low), "high": float(high)}
        span = say("{low:g}-{high:g} {unit}", unit=say(unit), **ends) if unit else say("{low:g}-{high:g}", **ends)
        return say(_RANGES[which], span=span)
    told = recognised(text, PATTERNS)
    if not isinstance(told, Said):
        return say(_braced(text))
    if told.template.startswith("row '"):
        return say(told.template, **{name: str(printed) for name, printed in told.values.items()})
    return told


def _braced(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")
