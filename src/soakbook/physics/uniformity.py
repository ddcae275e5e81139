"""How evenly water comes out: of a design, and of cups set out in the garden.

References
----------
.. [1] J. Keller and D. Karmeli, Trans. ASAE 17(4):678-684, 1974.
.. [2] J. E. Christiansen, "Irrigation by sprinkling", Calif. Agric. Exp. Stn. Bull. 670, 1942.
.. [3] J. L. Merriam and J. Keller, "Farm Irrigation System Evaluation", 1978 (limits of the classes from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

FloatArray = NDArray[np.float64]

#: Lower limits of the classes of [3]_, from memory. [%]
CLASSES = (("excellent", 90.0), ("good", 80.0), ("fair", 70.0), ("poor", 0.0))
#: Flow variation held good, and acceptable, in a design (from memory).
GOOD_VARIATION, ACCEPTABLE_VARIATION = 0.10, 0.20


def _amounts(values: ArrayLike) -> FloatArray:
    amounts = np.sort(np.asarray(values, dtype=float).ravel())
    if amounts.size == 0 or not np.isfinite(amounts).all() or amounts[0] < 0.0 or amounts[-1] <= 0.0:
        raise InputError(
            "Uniformity needs amounts of 0 or more, and one above 0.", code="uniformity.amounts", field="amounts"
        )
    return amounts


def flow_variation(flows: ArrayLike) -> float:
    """q_var = 1 - least / most: 0 when all are alike."""
    amounts = _amounts(flows)
    return float(1.0 - amounts[0] / amounts[-1])


def low_quarter_mean(values: ArrayLike) -> float:
    """Mean of the lowest quarter, in the unit given; of a number that four does not divide, the last counts in part."""
    amounts = _amounts(values)
    quarter = amounts.size / 4.0
    weight = np.clip(quarter - np.arange(amounts.size), 0.0, 1.0)
    return float(amounts @ weight / quarter)


def low_quarter_uniformity_pct(values: ArrayLike) -> float:
    """DU_lq = 100 x mean of the lowest quarter / mean of all."""
    return 100.0 * low_quarter_mean(values) / float(np.mean(_amounts(values)))


def christiansen_uniformity_pct(values: ArrayLike) -> float:
    """CU = 100 (1 - sum |x - mean| / (n mean)) [2]_."""
    amounts = _amounts(values)
    mean = float(np.mean(amounts))
    return float(100.0 * (1.0 - np.mean(np.abs(amounts - mean)) / mean))


def emission_uniformity_pct(flows: ArrayLike, maker_cv: float, emitters_per_plant: int = 1) -> float:
    """EU = 100 (1 - 1.27 Cv / sqrt(Np)) q_min / q_avg [1]_: of a design, not of a field test.

    ``maker_cv`` is the maker's coefficient of variation: below 0.05 excellent, 0.05-0.07 average, 0.11-0.15 poor (ASAE EP405, from memory).
    """
    if not 0.0 <= maker_cv < 0.5 or emitters_per_plant < 1:
        raise InputError(
            f"The maker's variation must be from 0 to below 0.5 (got {maker_cv:g}), with one emitter or more to a plant.",
            code="uniformity.cv", field="maker_cv",
        )  # fmt: skip
    amounts = _amounts(flows)
    return float(100.0 * (1.0 - 1.27 * maker_cv / math.sqrt(emitters_per_plant)) * amounts[0] / np.mean(amounts))


def uniformity_class(percent: float) -> str:
    """``excellent``, ``good``, ``fair`` or ``poor`` [3]_."""
    return next(name for name, least in CLASSES if percent >= least)


def outlets_factor(outlets: int, exponent: float = 1.75) -> float:
    """F: the loss along a pipe with ``outlets`` alike, the first a full spacing from its inlet, over that of the whole flow to its end.

    The sum itself, sum k^m / N^(m+1), of which Christiansen's formula [2]_ is a close form. Real emitters give less as pressure falls.
    """
    return float(np.sum(np.arange(1, outlets + 1, dtype=float) ** exponent) / float(outlets) ** (exponent + 1.0))


def christiansen_factor(outlets: int, exponent: float = 1.75) -> float:
    """Christiansen's F = 1/(m+1) + 1/(2N) + sqrt(m-1)/(6 N²) [2]_ (from memory)."""
    return 1.0 / (exponent + 1.0) + 1.0 / (2.0 * outlets) + math.sqrt(exponent - 1.0) / (6.0 * outlets**2)
