"""How much a pick brings: the negative binomial number of pieces, as a smooth amount.

The number of pieces is a Poisson number with a gamma mean. What is drawn is its quantile, so that
the same number of the seed gives almost the same pick where a little more or less hangs ripe. And
a pick of three pieces weighs anything from two and a half to three and a half pieces of the mean
weight: pieces are not all alike, and medians of whole pieces would move by steps.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from harvestcast.arrays import Array, Index, Single

LEAST_MEAN, MOST_MEAN = 1e-4, 400.0
"""Means between which quantiles are tabled. Below there are no picks; above, amounts grow in
proportion, for hardly any of their spread is that of whole pieces (a twentieth at most)."""
_NORMAL_STEP, _FAR = 0.025, 4.0
_LOW = float(np.log(LEAST_MEAN))
_STEP = float(np.log(MOST_MEAN) - _LOW) / 300
_MEANS = round((np.log(MOST_MEAN) - _LOW) / _STEP) + 1
_NORMALS = round(2 * _FAR / _NORMAL_STEP) + 1
_MOST_PIECES = 60
"""Pieces that are summed up over where one or fewer are expected, and more in proportion."""


def pieces(mean: Single, sizes: Single, which: Index, uniform: Single) -> Single:
    """Return amounts picked, in pieces: 0, or from half a piece up.

    Parameters
    ----------
    mean : ndarray
        Expected number.
    sizes : ndarray (sizes,)
        Sizes of negative binomials, of which there are few.
    which : ndarray of int
        Which of them each number has.
    uniform : ndarray
        Uniform numbers, whose quantiles are taken.

    Returns
    -------
    ndarray
        Rounded, they are negative binomial numbers.

    Examples
    --------
    >>> uniform = np.array([0.01, 0.1, 0.5, 0.9, 0.99], dtype=np.float32)
    >>> ones = np.ones(5, dtype=np.float32)
    >>> which = np.zeros(5, dtype=int)
    >>> pieces(6 * ones, ones[:1] * 5, which, uniform).round(1)
    array([ 0. ,  1.8,  5.4, 10.9, 16.8], dtype=float32)
    """
    at = (np.log(np.maximum(mean, np.float32(LEAST_MEAN))) - np.float32(_LOW)) / np.float32(_STEP)
    at = np.minimum(at, np.float32(_MEANS - 1.001))
    up = (np.clip(ndtri(uniform), -_FAR, _FAR - 1e-3) + np.float32(_FAR)) / np.float32(_NORMAL_STEP)
    table = _tables(tuple(sizes.tolist()))
    row, column = at.astype(np.int64), up.astype(np.int64)
    at -= row
    up -= column
    corner = (which * _MEANS + row) * _NORMALS + column
    low = table[corner] + up * (table[corner + 1] - table[corner])
    corner += _NORMALS
    high = table[corner] + up * (table[corner + 1] - table[corner])
    out = (low + at * (high - low)) * np.maximum(mean / np.float32(MOST_MEAN), np.float32(1.0))
    return np.where((out < 0.5) | (mean < LEAST_MEAN), np.float32(0.0), out)


@lru_cache(maxsize=8)
def _tables(sizes: tuple[float, ...]) -> NDArray[np.float32]:
    """Return the tables of several sizes, one after the other."""
    return np.concatenate([np.zeros(0, np.float32), *(_table(size) for size in sizes)])


@lru_cache(maxsize=128)
def _table(size: float) -> NDArray[np.float32]:
    """Return quantiles by log mean and standard normal, flat; each piece spread over its step."""
    uniform = ndtr(np.linspace(-_FAR, _FAR, _NORMALS))
    means = np.exp(_LOW + _STEP * np.arange(_MEANS))
    return np.concatenate([_quantiles(uniform, mean, size) for mean in means]).astype(np.float32)


def _quantiles(uniform: Array, mean: float, size: float) -> Array:
    """Return quantiles of a number, each whole number spread over half a piece either way."""
    k = np.arange(_MOST_PIECES + int(_MOST_PIECES * mean / 4.0))
    log = np.cumsum(np.log((k[:-1] + size) / (k[:-1] + 1.0)))
    log = np.concatenate(([0.0], log)) + k * np.log(mean / (mean + size))
    chance = np.exp(log + size * np.log(size / (mean + size)))
    cumulative = np.concatenate(([0.0], np.cumsum(chance)))
    return np.interp(uniform, cumulative, np.arange(len(cumulative)) - 0.5)
