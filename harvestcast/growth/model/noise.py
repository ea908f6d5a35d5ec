"""Noise levels: the ways a series may stray from its curve, and how much each is believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Flags, Index

KNOT_DAYS, RECENT = 5, 30
"""Days between the knots of the deviation from the curve, twice as many from so many days back."""
SLOW_DAYS, FAST_DAYS = 80.0, 8.0
"""Days in which the slow and the fast part of a deviation fall to 1/e."""


@dataclass(frozen=True, slots=True)
class NoiseLevel:
    """One way the noise of a series may be: how far, how long, how unevenly."""

    slow: float
    """Standard deviation of the slow part of the log deviation from the curve."""
    fast: float
    """Standard deviation of its fast part."""
    size: float
    """Size of the negative binomial of a pick."""
    keep: float
    """Share of what is ripe and not picked that adds to the pick of the next day."""
    fruit: float
    """Weight for crops picked as they ripen, before anything is known."""
    stand: float
    """Weight for crops taken from a stand as they are wanted (leaves, roots)."""


NOISE_LEVELS: tuple[NoiseLevel, ...] = (
    NoiseLevel(0.6, 0.4, 4.0, 0.93, 0.25, 0.10),
    NoiseLevel(0.3, 0.2, 5.0, 0.95, 0.15, 0.05),
    NoiseLevel(0.5, 0.3, 1.8, 0.93, 0.15, 0.10),
    NoiseLevel(0.6, 0.9, 4.0, 0.90, 0.20, 0.10),
    NoiseLevel(1.2, 0.5, 3.0, 0.93, 0.10, 0.10),
    NoiseLevel(0.6, 0.4, 4.0, 0.5, 0.05, 0.20),
    NoiseLevel(1.2, 0.5, 3.0, 0.5, 0.05, 0.15),
    NoiseLevel(0.6, 0.9, 4.0, 0.5, 0.05, 0.20),
)
CONCENTRATION = 6.0
"""Series' worth of trust in the weights of :data:`NOISE_LEVELS` against what the garden shows."""


def knots_back(days: int, recent: int = RECENT) -> Index:
    """Return how many days before the last one the knots of a stretch of days lie.

    The farthest lies on its first day or before it.

    Examples
    --------
    >>> knots_back(46).tolist(), knots_back(27, recent=0).tolist()
    ([0, 5, 10, 15, 20, 25, 30, 40, 50], [0, 10, 20, 30])
    """
    near = np.arange(0, recent, KNOT_DAYS)
    far = np.arange(recent, days + 2 * KNOT_DAYS, 2 * KNOT_DAYS)
    at = np.concatenate((near, far))
    return at[: int((at < days - 1).sum()) + 1]


def knots_of(days: int) -> int:
    """Return how many knots a stretch of days up to the last one known needs."""
    return len(knots_back(days))


def deviation_basis(
    past: int, ahead: int = 0, *, slow: float, fast: float, recent: int = RECENT
) -> Array:
    """Return a mean-reverting deviation, per day and whitened knot (past + ahead days, knots).

    Knots lie on the last day known, before it (:func:`knots_back`) and every :data:`KNOT_DAYS` days
    after it; between them the deviation is linear. It is the sum of two Ornstein-Uhlenbeck
    processes of standard deviations ``slow`` and ``fast``. Columns run from the last day known
    backwards, then on into the days to come: whatever the past is cut to, its own columns stand
    first, and what is to come adds columns of its own.
    """
    on = KNOT_DAYS * np.arange(1, -(-ahead // KNOT_DAYS) + 1)
    at = np.concatenate((-knots_back(past, recent), on)).astype(float)
    apart = np.abs(at[:, None] - at)
    covariance = slow**2 * np.exp(-apart / SLOW_DAYS) + fast**2 * np.exp(-apart / FAST_DAYS)
    root = np.linalg.cholesky(covariance)
    day = np.arange(1 - past, ahead + 1, dtype=float)
    order = np.argsort(at)
    place = np.searchsorted(at[order], day, side="right")
    left, right = order[place - 1], order[np.minimum(place, len(at) - 1)]
    share = ((day - at[left]) / np.maximum(at[right] - at[left], 1.0))[:, None]
    return (1.0 - share) * root[left] + share * root[right]


def noise_weights(log_evidence: Array, from_stand: Flags, *, rounds: int = 30) -> Array:
    """Return the weight of every noise level for every series (series, noise levels).

    The garden's own mix of noise levels is learned from its series (expectation maximisation with
    :data:`CONCENTRATION` series' worth of prior), apart for crops picked as they ripen and crops
    taken from a stand; each series then weighs them by its own log.
    """
    weight = np.empty_like(log_evidence)
    for group, prior in (
        (~from_stand, np.array([t.fruit for t in NOISE_LEVELS])),
        (from_stand, np.array([t.stand for t in NOISE_LEVELS])),
    ):
        if group.any():
            weight[group] = shared_weights(log_evidence[group], prior, rounds=rounds)
    return weight


def shared_weights(log_evidence: Array, prior: Array, *, rounds: int = 30) -> Array:
    """Return the weight of each of several suppositions for every series (series, suppositions).

    How common each is in the garden is learned from all its series (expectation maximisation with
    :data:`CONCENTRATION` series' worth of ``prior``); each series then weighs them by its own log.

    Examples
    --------
    Two series that say nothing go with the eight others of their garden:

    >>> log = np.array([[0.0, 5.0]] * 8 + [[0.0, 0.0]] * 2)
    >>> shared_weights(log, np.array([0.8, 0.2])).round(1)[[0, -1]]
    array([[0. , 1. ],
           [0.3, 0.7]])
    """
    like = np.exp(log_evidence - log_evidence.max(axis=1, keepdims=True))
    prior = prior / prior.sum()
    mix = prior
    for _ in range(rounds):
        share = mix * like
        share /= share.sum(axis=1, keepdims=True)
        mix = CONCENTRATION * prior + share.sum(axis=0)
        mix = mix / mix.sum()
    weight = mix * like
    return weight / weight.sum(axis=1, keepdims=True)
