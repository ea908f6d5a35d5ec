"""Spread learned from the garden's own past forecasts: a conformal step on rolling origins.

What the forecast would have said one, two, three weeks ago is set beside what was picked. Each past
week scores how far from the median it fell, in units of the distance from the median to the end of
the 80 % range on that side; the 80 % quantile of the scores is the factor by which the ranges
should have been wider. It is held towards 1 by :data:`TRUST` past weeks' worth of belief that they
were right, and applied to every draw's distance from its median. Normalised split conformal
prediction: A. N. Angelopoulos and S. Bates, Conformal prediction: a gentle introduction, 2023,
doi:10.1561/2200000101 (cited from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from harvestcast.arrays import Array

LEVEL = 0.8
"""Range that is made to hold what it promises."""
ENOUGH = 30
"""Past weeks (one a variety) below which the spread is left as it is."""
TRUST = 30.0
"""Weight of the belief that the spread is right, in past weeks (our judgement)."""
NARROWEST, WIDEST = 0.6, 1.8
"""Limits of the factor: more than that is no matter of spread."""


class Width(NamedTuple):
    """A learned factor of the spread."""

    factor: float
    """By which distances from the median are multiplied."""
    cases: int
    """Past weeks it was learned from."""


def learn_width(observed: Array, draws: Array) -> Width:
    """Return the factor by which past ranges should have been wider.

    Parameters
    ----------
    observed : ndarray (cases,)
        What was picked in each past week. [kg]
    draws : ndarray (cases, draws)
        What had been forecast for it. [kg]

    Returns
    -------
    Width
        Factor 1 where there are fewer than :data:`ENOUGH` cases.

    Examples
    --------
    Ranges half as wide as they should have been:

    >>> rng = np.random.default_rng(1)
    >>> level = np.full(200, 10.0)
    >>> seen = level + rng.normal(0, 2, 200)
    >>> width = learn_width(seen, level[:, None] + rng.normal(0, 1, (200, 200)))
    >>> bool(width.factor > 1.5), width.cases
    (True, 200)
    """
    cases = len(observed)
    if cases < ENOUGH:
        return Width(1.0, cases)
    tail = (1.0 - LEVEL) / 2.0
    low, middle, high = np.quantile(draws, (tail, 0.5, 1.0 - tail), axis=1)
    room = np.where(observed > middle, high - middle, middle - low)
    away = np.abs(observed - middle)
    # A range without width that was missed is missed by far, one that was met is met.
    score = np.where(away > 0, np.minimum(away / np.maximum(room, 1e-9), 1e3), 0.0)
    wanted = float(np.quantile(score, min(1.0, LEVEL * (cases + 1) / cases)))
    trusted = np.exp(np.log(max(wanted, 0.1)) * cases / (cases + TRUST))
    return Width(float(np.clip(trusted, NARROWEST, WIDEST)), cases)


def stretch(draws: Array, width: float) -> Array:
    """Return draws (..., draws) whose distance from their median is multiplied; none below 0."""
    middle = np.median(draws, axis=-1, keepdims=True)
    return np.maximum(middle + (draws - middle) * width, 0.0)


def stretch_weeks(number: NDArray[np.floating], width: float, *, seed: int) -> NDArray[np.floating]:
    """Return picks whose weekly totals are stretched, day by day in proportion.

    Parameters
    ----------
    number : ndarray (draws, days, series)
        Pieces picked, whole numbers; days from the first day of a week on.
    width : float
        Factor of the distance from the median weekly total of a series.
    seed : int
        Seed of the rounding to whole pieces.

    Returns
    -------
    ndarray (draws, days, series)
        Whole numbers; a week without a pick stays one.
    """
    if width == 1.0:
        return number
    out = np.empty_like(number)
    for day in range(0, number.shape[1], 7):
        week = number[:, day : day + 7]
        total = week.sum(axis=1)
        wanted = stretch(total.T, width).T
        ratio = np.divide(wanted, total, out=np.zeros_like(total), where=total > 0)
        out[:, day : day + 7] = week * ratio[:, None]
    rng = np.random.default_rng([seed, 11])
    return np.floor(out + rng.random(out.shape))
