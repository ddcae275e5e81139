"""The few members the threshold advice is checked with: what if the store or the demand is other than the best guess?"""

from __future__ import annotations

import numpy as np

from soakbook.balance.layout import Members

#: Mean of the outer thirds of a normal distribution, in standard deviations.
_THIRD = 1.0911
#: Standard deviation of a place's demand about the computed one. Judged: reference ET from a station within some
#: kilometres is good to about 0.5 mm/d in 5, and coefficients to about as much.
DEMAND_SD = 0.12


def nine() -> Members:
    """Best guess first, then store and demand each a third of their spread down or up: nine equally likely members."""
    steps = (0.0, -_THIRD, _THIRD)
    store = np.array([s for s in steps for _ in steps])
    demand = np.array([1.0 + DEMAND_SD * d for _ in steps for d in steps])
    one = np.ones(9)
    return Members(store, demand, one, one)
