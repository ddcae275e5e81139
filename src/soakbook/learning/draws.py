"""Draws of members as standard normal numbers: from the prior, about a weighted mean, and weighed against their mixture.

Paths of day-to-day errors are always drawn from the prior: drawing those again that had done well made weights worse (tried on truths
drawn from the prior: two to four more draws for as many effective members).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.layout import Members
from soakbook.balance.spread import MOST_Z, catch_sd, delivery_sd, demand_sd, factor, tailed, untailed
from soakbook.balance.wander import PATHS
from soakbook.garden.model import Line, Place
from soakbook.learning.normal import normal_cdf

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: What is learnt of the place itself, in the order of the first columns of the numbers.
PARAMETERS = ("store", "demand", "catch", "delivery", "drainage")
#: Of each later draw this share still comes from the prior, so that no weight can grow without bound. Judged.
FROM_PRIOR = 0.15
#: Later draws are this much wider than what they are drawn about (variance), with a floor in each direction. Judged.
WIDER, FLOOR = 1.4, 0.03
#: Store and drainage, which are cut off at MOST_Z.
_CUT_OFF = [0, 4]


@dataclass(frozen=True)
class Proposal:
    """What a later draw is made about: mean and lower triangular root of a covariance (K, K)."""

    mean: FloatArray
    root: FloatArray


def latent(members: Members, place: Place, line: Line | None) -> FloatArray:
    """The standard normal numbers of members, (M, 5)."""
    drainage = np.zeros(len(members)) if members.drainage_z is None else members.drainage_z
    sds = (demand_sd(place), catch_sd(place), delivery_sd(place, line))
    factors = (members.demand, members.catch, members.delivery)
    z = [np.where(f == 1.0, 0.0, (np.log(f) + 0.5 * sd**2) / sd) for f, sd in zip(factors, sds, strict=True)]
    return np.column_stack([members.store_z, z[0], untailed(z[1]), untailed(z[2]), drainage])


def members_from(z: FloatArray, place: Place, line: Line | None, paths: IntArray | None = None) -> Members:
    """Members from their standard normal numbers (M, 5 or more) and paths."""
    demand = factor(z[:, 1], demand_sd(place))
    catch = factor(tailed(z[:, 2]), catch_sd(place))
    delivery = factor(tailed(z[:, 3]), delivery_sd(place, line))
    return Members(z[:, 0].copy(), demand, catch, delivery, z[:, 4].copy(), paths)


def effective(weights: FloatArray) -> float:
    """Effective number of members: of how many equal ones the weights are worth."""
    return float(1.0 / np.sum(weights**2))


def inside(z: FloatArray) -> FloatArray:
    """Store and drainage brought back to where members can be run; those outside have no weight."""
    z = z.copy()
    z[:, _CUT_OFF] = np.clip(z[:, _CUT_OFF], -MOST_Z, MOST_Z)
    return z


def _log_prior(z: FloatArray) -> FloatArray:
    """Standard normal, store and drainage cut off at MOST_Z."""
    cut = math.log(1.0 - 2.0 * float(normal_cdf(-MOST_Z)))
    density = -0.5 * np.sum(z**2, 1) - 0.5 * z.shape[1] * math.log(2.0 * math.pi) - 2.0 * cut
    return np.where((np.abs(z[:, _CUT_OFF]) <= MOST_Z).all(1), density, -np.inf)


def _log_about(z: FloatArray, mean: FloatArray, root: FloatArray) -> FloatArray:
    """Logarithm of the normal density with a mean and the lower triangular root of a covariance."""
    off = np.linalg.solve(root, (z - mean).T)
    return np.asarray(
        -0.5 * np.sum(off**2, 0) - np.log(np.diag(root)).sum() - 0.5 * len(mean) * math.log(2.0 * math.pi)
    )


def log_base(draws: Sequence[FloatArray], proposals: Sequence[Proposal]) -> FloatArray:
    """Logarithm of the prior of all draws over the mixture that they came from; -inf where a member cannot be run.

    ``draws`` are of one size, the first from the prior and each other about its proposal.
    """
    z = np.concatenate(draws)
    prior = _log_prior(z)
    parts = [math.log((1.0 + FROM_PRIOR * len(proposals)) / len(draws)) + prior]
    own = math.log((1.0 - FROM_PRIOR) / len(draws))
    parts += [own + _log_about(z, p.mean, p.root) for p in proposals]
    allowed = np.isfinite(prior)
    base = np.full(len(z), -np.inf)
    base[allowed] = (prior - np.logaddexp.reduce(parts))[allowed]
    return base


def weighed(base: FloatArray, likely: FloatArray) -> FloatArray:
    """Weights of members, adding to 1: what they weigh before any reading times the likelihood (both logarithms)."""
    log_w = np.where(np.isfinite(base), base + likely, -np.inf)
    w = np.exp(log_w - log_w.max())
    return np.asarray(w / w.sum())


def about(z: FloatArray, weights: FloatArray) -> Proposal:
    """What to draw about; weights too few to give a covariance are evened out first."""
    allowed = np.isfinite(_log_prior(z))
    enough = min(4.0 * z.shape[1], 0.5 * float(allowed.sum()))
    weights = np.where(allowed, np.maximum(weights, 1e-300), 0.0)
    while effective(weights) < enough:
        weights = np.where(allowed, weights**0.7, 0.0)
        weights = weights / weights.sum()
    mean = weights @ z
    off = z - mean
    covariance = WIDER * (off * weights[:, None]).T @ off + FLOOR * np.eye(z.shape[1])
    return Proposal(np.asarray(mean), np.asarray(np.linalg.cholesky(covariance)))


def draw(about: Proposal, count: int, rng: np.random.Generator) -> tuple[FloatArray, IntArray]:
    """Numbers and paths about a mean, a share of them from the prior."""
    mean = about.mean
    z = mean + rng.standard_normal((count, len(mean))) @ about.root.T
    prior = rng.standard_normal((count, len(mean)))
    for k in _CUT_OFF:
        while (beyond := np.abs(prior[:, k]) > MOST_Z).any():
            prior[beyond, k] = rng.standard_normal(int(beyond.sum()))
    return np.where(rng.random(count)[:, None] < FROM_PRIOR, prior, z), rng.integers(1, PATHS, count)
