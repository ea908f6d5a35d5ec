"""The yield curve of one variety: how fast fruit becomes ready, against heat since planting.

The logarithm of the rate rises, runs level and falls with degree-days ``h``::

    log rate = log a - softplus(-(h - h1) / s1) - softplus(-(h2 - h) / s2)

``h1`` and ``h2`` are where the rate passes half its height, ``s1`` and ``s2`` how gently it
does so. A crop that comes all at once has ``h1`` and ``h2`` close together; one that bears until
frost has them far apart. The form is the product of two logistic curves in heat; the closest
published precedent is a logistic of cumulative strawberry yield in accumulated thermal sum (SciELO
S1807-86212021000100302, abstract read).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from harvestcast.arrays import Array, Single

PARAMETERS: tuple[str, ...] = ("log_level", "log_h1", "log_span", "log_rise", "log_fall")
"""Parameters as they are fitted: log of the level (kg per degree-day at full bearing, all
plants), of ``h1``, of the span ``h2 - h1``, and of ``s1`` and ``s2`` as shares of the span."""

SHARES: tuple[float, ...] = (0.10, 0.50, 0.90)
"""Shares of the season's harvest whose heat sums :func:`season_heat` gives."""


def softplus(x: ArrayLike) -> Array:
    """Return ``log(1 + exp(x))`` without overflow.

    Examples
    --------
    >>> float(softplus(0.0).round(4))
    0.6931
    """
    return np.logaddexp(0.0, x)


def expit(x: ArrayLike) -> Array:
    """Return the logistic function without overflow, for arrays of any shape."""
    x = np.asarray(x, dtype=float)
    return 0.5 * (1.0 + np.tanh(0.5 * x))


def log_curve(
    heat: ArrayLike, h1: Array | float, h2: Array | float, s1: Array | float, s2: Array | float
) -> Array:
    """Return the log of the rate of becoming ready, relative to full bearing.

    Parameters
    ----------
    heat : array_like
        Heat since planting. [degC d]
    h1, h2 : array_like
        Where the rate passes half its height, rising and falling. [degC d]
    s1, s2 : array_like
        Gentleness of rise and fall, above 0. [degC d]

    Returns
    -------
    ndarray
        At most 0; broadcast shape of the arguments.

    Examples
    --------
    >>> np.exp(log_curve([500, 800, 1500], 500, 1500, 30, 60)).round(3)
    array([0.5, 1. , 0.5])
    """
    heat = np.asarray(heat, dtype=float)
    return -softplus(-(heat - h1) / s1) - softplus(-(h2 - heat) / s2)


def curve_of(parameters: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """Return ``h1, h2, s1, s2`` of fitted parameters (last axis as :data:`PARAMETERS`)."""
    p = np.asarray(parameters)
    h1, span = np.exp(p[..., 1]), np.exp(p[..., 2])
    return h1, h1 + span, span * np.exp(p[..., 3]), span * np.exp(p[..., 4])


def bearing(theta: Single, heat: NDArray[np.floating], share: NDArray[np.floating]) -> Single:
    """Return draws' rates relative to full bearing, plantings added up, in single precision.

    Parameters
    ----------
    theta : ndarray (draws, 5)
        As :data:`PARAMETERS`.
    heat : ndarray (plantings, days, draws or 1)
        Heat since each was planted. [degC d]
    share : ndarray (plantings, days or 1, draws or 1)
        Each planting's share of the plants, 0 while it is not in the ground.

    Returns
    -------
    ndarray (days, draws)

    Examples
    --------
    >>> theta = np.array([[0.0, np.log(500), np.log(1000), -3.0, -3.0]], dtype=np.float32)
    >>> bearing(theta, np.array([[[500.0], [1000.0]]]), np.ones((1, 1, 1))).round(2).tolist()
    [[0.5], [1.0]]
    """
    h1, h2, s1, s2 = curve_of(theta)
    most = np.float32(40.0)
    total: Single = np.zeros((1, 1), dtype=np.float32)
    for h, part in zip(heat, share, strict=True):
        rise = np.exp(np.minimum((h1 - h) / s1, most))
        fall = np.exp(np.minimum((h - h2) / s2, most))
        total = total + part / ((1.0 + rise) * (1.0 + fall))
    return total


def season_heat(parameters: ArrayLike, shares: tuple[float, ...] = SHARES) -> Array:
    """Return the heat by which given shares of a season's yield have become ready.

    Parameters
    ----------
    parameters : array_like (..., 5)
        As :data:`PARAMETERS`.
    shares : tuple of float
        Between 0 and 1.

    Returns
    -------
    ndarray (..., len(shares))
        Heat since planting, were the season long enough. [degC d]

    Examples
    --------
    >>> season_heat([0.0, np.log(500), np.log(1000), np.log(0.02), np.log(0.02)]).round(0)
    array([ 600., 1000., 1400.])
    """
    grid, cumulative = _cumulative(np.asarray(parameters, dtype=float))
    flat = cumulative.reshape(-1, cumulative.shape[-1])
    spots = grid.reshape(flat.shape)
    out = np.array(
        [np.interp(shares, c / c[-1], g) for c, g in zip(flat, spots, strict=True)]
    ).reshape(*cumulative.shape[:-1], len(shares))
    return out


def season_total(parameters: ArrayLike) -> Array:
    """Return the yield of all plants over a season long enough to finish the curve, in kg."""
    p = np.asarray(parameters, dtype=float)
    return np.exp(p[..., 0]) * _cumulative(p)[1][..., -1]


def _cumulative(p: Array) -> tuple[Array, Array]:
    h1, h2, s1, s2 = (x[..., None] for x in curve_of(p))
    steps = np.linspace(0.0, 1.0, 241)
    low = np.maximum(h1 - 8 * s1, 0.0)
    grid = low + steps * (h2 + 8 * s2 - low)
    rate = np.exp(log_curve(grid, h1, h2, s1, s2))
    width = grid[..., 1:2] - grid[..., :1]
    area = np.concatenate(
        (np.zeros_like(low), np.cumsum(0.5 * (rate[..., 1:] + rate[..., :-1]) * width, axis=-1)),
        axis=-1,
    )
    return grid, area
