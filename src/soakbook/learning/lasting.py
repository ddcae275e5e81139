"""What the balance gets wrong for weeks where a sensor lies, followed from reading to reading and integrated out.

A balance in layers is off at a spot by much the same today as yesterday: soil that cracks, drains on or is rewetted from below. Where
exact readings follow each other, to take that for a new error each time counts the same fault many times over; to draw it by chance,
one path for each member, leaves hardly a member that fits. But given the member's own past the error is a plain normal one, so
for each member it is followed by a Kalman filter of one number, and a reading is weighed by how likely it was given those
before it (marginalised particles: A. Doucet et al., Statistics and Computing 10:197-208, 2000, from memory).

The error is in wetness, the same at all depths, with mean 0; what is left of it after d days is exp(-d / :data:`LASTS_DAYS`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Standard deviation of what lasts, in wetness, how long it lasts [days], and what is off at each reading anew beside the reading's own
#: error. Judged, on the probes of 32 stations under grass read every 14 days (docs/validation.md): on the days between, bands then
#: hold about four days in five.
LASTING_SD, LASTS_DAYS, FRESH_SD = 0.06, 40.0, 0.03


@dataclass(frozen=True)
class Followed:
    """``mean``, ``sd`` (R, M): the error as it was expected before each reading, ``sd`` with what is off anew; ``now``, ``now_sd`` (M,):
    what lasts, after the last one. [wetness]"""

    mean: FloatArray
    sd: FloatArray
    now: FloatArray
    now_sd: FloatArray

    def later(self, days: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The error so many days after the last reading: mean and standard deviation, (T, M), the second with what is off anew."""
        left = np.exp(-np.asarray(days, dtype=float) / LASTS_DAYS)[:, None]
        var = (left * self.now_sd) ** 2 + (1.0 - left**2) * LASTING_SD**2 + FRESH_SD**2
        return left * self.now, np.sqrt(var)


def follow(days: FloatArray, missed: FloatArray, noise_sd: FloatArray, slip: FloatArray) -> Followed:
    """Follow the lasting error of every member through readings.

    Parameters
    ----------
    days
        When each was taken, rising, (R,). [days]
    missed
        By how much each read wetter than the member has it, (R, M). [wetness]
    noise_sd
        Error of each reading itself, (R,). [wetness]
    slip
        Density of readings that say nothing, over that of those that say something before their own is counted, (R,). [1/wetness]

    Returns
    -------
    Followed
        A reading moves the error by as much as it is likely to say something.
    """
    mean, sd = np.empty(missed.shape), np.empty(missed.shape)
    now, var, last = np.zeros(missed.shape[1]), np.full(missed.shape[1], LASTING_SD**2), None
    for k, day in enumerate(days.tolist()):
        left = 1.0 if last is None else math.exp(-(day - last) / LASTS_DAYS)
        now, var, last = left * now, left**2 * var + (1.0 - left**2) * LASTING_SD**2, day
        mean[k], sd[k] = now, np.sqrt(var + FRESH_SD**2)
        total, off = var + FRESH_SD**2 + noise_sd[k] ** 2, missed[k] - now
        says = np.exp(-0.5 * off**2 / total) / np.sqrt(2.0 * math.pi * total)
        sure = says / (says + slip[k])
        gain = var / total
        now = now + sure * gain * off
        var = var * (1.0 - sure * gain) + sure * (1.0 - sure) * (gain * off) ** 2
    return Followed(mean, sd, now, np.sqrt(var))
