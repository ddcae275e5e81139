"""What readings have taught about a place, in plain words."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.learning.draws import PARAMETERS
from soakbook.learning.filter import Learnt
from soakbook.learning.reading import texture_at
from soakbook.said import Said, say, say_n

FloatArray = NDArray[np.float64]

#: Nothing is said of a change smaller than this, or less likely to point that way than the second. Judged.
LEAST_CHANGE, LEAST_SURE = 0.10, 0.90
#: Conductivity is known to a factor of several: this much of its logarithm must be left of a change. Judged.
LEAST_DRAINAGE = math.log(2.0)
#: Nor of what the readings left about as uncertain as it was: standard deviation after over before. Judged.
MOST_LEFT = 0.93
#: Parts in words, by the least change each is said of.
_PARTS = (
    (0.45, say("a half")),
    (0.29, say("a third")),
    (0.225, say("a quarter")),
    (0.15, say("a fifth")),
    (0.0, say("a tenth")),
)
_WHAT = {"bed": say("this bed"), "pot": say("this pot"), "tray": say("this tray")}


@dataclass(frozen=True)
class Change:
    """How one thing differs from what was taken before any reading: ``by`` a fraction (drainage: the natural logarithm of
    a factor), ``sure`` the odds that it points that way, ``left`` the standard deviation after over before."""

    name: str
    by: float
    sure: float
    left: float


def changes(learnt: Learnt) -> tuple[Change, ...]:
    """How store, demand, rain caught, delivery and drainage differ from the best guess, said or not."""
    return tuple(_change(learnt, name) for name in PARAMETERS)


def told(learnt: Learnt) -> tuple[Said, ...]:
    """What was learnt, a sentence each, the largest change first; none before it is worth saying."""
    worth = [c for c in changes(learnt) if _worth(c)]
    worth.sort(key=lambda c: (-abs(c.by) / _least(c.name), PARAMETERS.index(c.name)))
    n = len(learnt.readings)
    return tuple(say_n("{learnt}; {n} reading", "{learnt}; {n} readings", n, learnt=_SENTENCES[c.name](c, learnt)) for c in worth)  # fmt: skip


def _least(name: str) -> float:
    return LEAST_DRAINAGE if name == "drainage" else LEAST_CHANGE


def _worth(change: Change) -> bool:
    return abs(change.by) >= _least(change.name) and change.sure >= LEAST_SURE and change.left <= MOST_LEFT


def _change(learnt: Learnt, name: str) -> Change:
    values = _values(learnt, name)
    by = float(learnt.weights @ values)
    sure = float(learnt.weights[values * by > 0.0].sum())
    before = float(np.std(values[: learnt.drawn]))
    after = math.sqrt(max(float(learnt.weights @ (values - by) ** 2), 0.0))
    return Change(name, by, sure, after / before if before > 0.0 else 1.0)


def _values(learnt: Learnt, name: str) -> FloatArray:
    """By how much each member differs from the best guess."""
    if name == "store":
        return np.asarray(learnt.store_mm / learnt.store_mm[0] - 1.0)  # the best guess is the first member
    if name == "drainage":
        return np.asarray(learnt.days.laid.layers[0].ks_log_sd * learnt.z[:, PARAMETERS.index(name)])
    factor: FloatArray = getattr(learnt.members(), name)
    return factor - 1.0


def _part(change: Change) -> Said:
    """A change in words; above two thirds in per cent."""
    if abs(change.by) > 2.0 / 3.0:
        return say("{n:.0f} %", n=100.0 * abs(change.by))
    return next(word for least, word in _PARTS if abs(change.by) >= least)


def _store(change: Change, learnt: Learnt) -> Said:
    texture = texture_at(learnt.days.place)
    if texture is None:
        usual = say("such a soil usually does")
    else:
        usual = say("a {texture} usually does", texture=say(texture))
    what, part = _WHAT[learnt.days.place.kind], _part(change)
    if change.by < 0.0:
        return say("{what} holds about {part} less than {usual}", what=what, part=part, usual=usual)
    return say("{what} holds about {part} more than {usual}", what=what, part=part, usual=usual)


def _demand(change: Change, learnt: Learnt) -> Said:
    what, part = _WHAT[learnt.days.place.kind], _part(change)
    if change.by < 0.0:
        return say("{what} uses about {part} less water than worked out", what=what, part=part)
    return say("{what} uses about {part} more water than worked out", what=what, part=part)


def _catch(change: Change, learnt: Learnt) -> Said:
    what, part = _WHAT[learnt.days.place.kind], _part(change)
    if change.by < 0.0:
        return say("{what} gets about {part} less of the rain than worked out", what=what, part=part)
    return say("{what} gets about {part} more of the rain than worked out", what=what, part=part)


def _delivery(change: Change, learnt: Learnt) -> Said:
    what, part = _WHAT[learnt.days.place.kind], _part(change)
    if change.by < 0.0:
        return say("{what} gets about {part} less of what is put on than worked out", what=what, part=part)
    return say("{what} gets about {part} more of what is put on than worked out", what=what, part=part)


def _drainage(change: Change, learnt: Learnt) -> Said:
    what = _WHAT[learnt.days.place.kind]
    if change.by < 0.0:
        return say("{what} drains more slowly than worked out", what=what)
    return say("{what} drains faster than worked out", what=what)


_SENTENCES: dict[str, Callable[[Change, Learnt], Said]] = {
    "store": _store, "demand": _demand, "catch": _catch, "delivery": _delivery, "drainage": _drainage,
}  # fmt: skip
