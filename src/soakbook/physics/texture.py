"""The twelve USDA texture classes: their part of the triangle, their names and their usual composition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

#: Slack for sand + silt + clay = 100 after rounding, in percent.
_SLACK_PCT = 1e-6


@dataclass(frozen=True)
class Composition:
    """Sand, silt and clay of the fine earth (< 2 mm), percent by mass."""

    sand_pct: float
    clay_pct: float

    @property
    def silt_pct(self) -> float:
        return 100.0 - self.sand_pct - self.clay_pct


#: Composition at which Saxton & Rawls (2006), SSSAJ 70:1569, Table 3, evaluate each class.
COMPOSITION: dict[str, Composition] = {
    "sand": Composition(88.0, 5.0),
    "loamy_sand": Composition(80.0, 5.0),
    "sandy_loam": Composition(65.0, 10.0),
    "loam": Composition(40.0, 20.0),
    "silt_loam": Composition(20.0, 15.0),
    "silt": Composition(10.0, 5.0),
    "sandy_clay_loam": Composition(60.0, 25.0),
    "clay_loam": Composition(30.0, 35.0),
    "silty_clay_loam": Composition(10.0, 35.0),
    "silty_clay": Composition(10.0, 45.0),
    "sandy_clay": Composition(50.0, 40.0),
    "clay": Composition(25.0, 50.0),
}

#: Ids of the twelve classes, coarse to fine.
TEXTURE_CLASSES: tuple[str, ...] = tuple(COMPOSITION)


def composition(class_id: str) -> Composition:
    """Typical sand and clay of a class; InputError for a name that is not one of the twelve."""
    try:
        return COMPOSITION[class_id]
    except KeyError:
        raise InputError(
            f"Soil texture must be one of {', '.join(TEXTURE_CLASSES)} (got {class_id!r}).",
            code="soil.texture_unknown",
            field="texture",
            hint="If you do not know it, answer the feel questions instead.",
        ) from None


def check_particles(sand_pct: ArrayLike, clay_pct: ArrayLike) -> None:
    """InputError unless sand and clay lie in 0-100 and together leave no negative silt."""
    for name, value in (("sand", sand_pct), ("clay", clay_pct)):
        values = np.asarray(value, dtype=float)
        wrong = ~((values >= 0.0) & (values <= 100.0))
        if wrong.any():
            raise InputError(
                f"{name}_pct must be between 0 and 100 (got {values[wrong].flat[0]:g}).",
                code="soil.particles_range",
                field=f"{name}_pct",
                hint="Percent by mass of the soil that passes a 2 mm sieve.",
            )
    total = np.asarray(sand_pct, dtype=float) + np.asarray(clay_pct, dtype=float)
    if (total > 100.0 + _SLACK_PCT).any():
        raise InputError(
            f"sand_pct and clay_pct together must not exceed 100 (got {total.max():g}).",
            code="soil.particles_sum",
            field="clay_pct",
            hint="What is left to 100 is silt.",
        )


def texture_class(sand_pct: ArrayLike, clay_pct: ArrayLike) -> NDArray[np.str_]:
    """USDA texture class of each (sand, clay) pair.

    Parameters
    ----------
    sand_pct, clay_pct
        Percent by mass of the fine earth, 0 to 100; silt is the rest. Broadcast together.

    Returns
    -------
    numpy.ndarray of str
        Class ids, see ``TEXTURE_CLASSES``.

    Notes ----- The limits of the Soil Survey Manual, chapter 3 [1]_ (written from memory). A point on a border goes
    to one class only.

    References
    ----------
    .. [1] Soil Science Division Staff, "Soil Survey Manual", USDA Handbook 18, 2017, ch. 3.

    Examples
    --------
    >>> str(texture_class(40, 20))
    'loam'
    """
    check_particles(sand_pct, clay_pct)
    sand, clay = np.broadcast_arrays(np.asarray(sand_pct, dtype=float), np.asarray(clay_pct, dtype=float))
    silt = np.round(100.0 - sand - clay, 9)
    rules = [
        ("sand", silt + 1.5 * clay < 15.0),
        ("loamy_sand", silt + 2.0 * clay < 30.0),
        ("sandy_loam", (clay < 20.0) & (sand > 52.0) | (clay < 7.0) & (silt < 50.0)),
        ("silt", (silt >= 80.0) & (clay < 12.0)),
        ("silt_loam", (silt >= 50.0) & (clay < 27.0)),
        ("loam", (clay < 27.0) & (silt >= 28.0)),
        ("sandy_clay_loam", (clay < 35.0) & (sand > 45.0)),
        ("clay_loam", (clay < 40.0) & (clay >= 27.0) & (sand > 20.0) & (sand <= 45.0)),
        ("silty_clay_loam", (clay < 40.0) & (clay >= 27.0) & (sand <= 20.0)),
        ("sandy_clay", (clay >= 35.0) & (sand > 45.0)),
        ("silty_clay", (clay >= 40.0) & (silt >= 40.0)),
        ("clay", clay >= 40.0),
    ]
    # The rules are read in order and leave no gap; a test walks the whole triangle.
    found: NDArray[np.str_] = np.select([rule for _, rule in rules], [name for name, _ in rules], default="")
    return found
