"""The soil of a place with what was seen of its wet ground: a wet circle and a hole beside it say more than the name of a soil."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from soakbook.delivery.drip import Case, Fitted, fitted
from soakbook.delivery.ground_of import Grounds, soils_of
from soakbook.garden.model import Place, Wetted


def ground_of(place: Place) -> Grounds:
    """What the soil under a place may be: the one soil that fits what was seen there, else those that its name may mean.

    Raises
    ------
    InputError
        A soil of which too little is known (:func:`soakbook.delivery.ground_of.soils_of`).
    """
    grounds = soils_of(place)
    if place.wetted is None:
        return grounds
    which, fit = _fit(grounds, place.wetted)
    top, *rest = grounds[which]
    return ((replace(top, soil=fit.soil), *rest),)


def fit_of(place: Place) -> Fitted | None:
    """How what was seen differs from what is known of the soil; None where nobody looked."""
    return None if place.wetted is None else _fit(soils_of(place), place.wetted)[1]


@cache
def _fit(grounds: Grounds, seen: Wetted) -> tuple[int, Fitted]:
    cases = [Case(layers, seen.flow_lph, "line" if seen.is_line else "emitter") for layers in grounds]
    return best_fit(cases, seen.run_h, (seen.circle_m, seen.dug_m))


def best_fit(cases: Sequence[Case], hours: float, seen_m: tuple[float, float]) -> tuple[int, Fitted]:
    """What was seen fitted from each soil that may be meant: which fit misses least, and of alike ones lies nearest to its table."""
    fits = [fitted(case, hours, *seen_m) for case in cases]
    which = min(range(len(fits)), key=lambda k: (round(fits[k].missed_cm), abs(math.log(fits[k].faster))))
    return which, fits[which]
