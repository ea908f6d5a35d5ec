"""Scores of forecasts against what was picked: pure functions on arrays.

Where something is unknown (NaN) the score is NaN, never zero.

References
----------
.. [1] Gneiting T., Raftery A.E. (2007) Strictly proper scoring rules, prediction, and estimation.
   J. Am. Stat. Assoc. 102:359-378, doi:10.1198/016214506000001437 (CRPS).
.. [2] Zamo M., Naveau P. (2018) Estimation of the CRPS with limited information. Math. Geosci.
   50:209-234, doi:10.1007/s11004-017-9709-7 (the two estimators; memory).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from harvestcast.arrays import Array

Estimator = Literal["nrg", "fair"]


def crps_ensemble(observed: ArrayLike, draws: ArrayLike, *, estimator: Estimator = "fair") -> Array:
    """Return the continuous ranked probability score of draws.

    ``E|X - y| - E|X - X'| / 2`` [1]_, in the unit of the observation; 0 for a perfect forecast, the
    absolute error for a single value.

    Parameters
    ----------
    observed : array_like
        What was picked, any shape.
    draws : array_like
        Shape of ``observed`` with one more axis at the end: the draws.
    estimator : {"fair", "nrg"}
        ``nrg`` treats the draws as the whole forecast (divides by ``2 m**2``); ``fair`` treats
        them as a sample of it (``2 m (m - 1)``) and is unbiased for the forecast behind [2]_. It
        can fall below zero by chance and needs two draws or more.

    Returns
    -------
    numpy.ndarray
        Shape of ``observed``.

    Raises
    ------
    ValueError
        For an unknown estimator, shapes that do not fit, or too few draws.

    References
    ----------
    Numbers refer to the list at the head of this module.

    Examples
    --------
    >>> round(crps_ensemble(6.0, [2, 3, 5, 8, 13], estimator="nrg").item(), 12)
    1.24
    >>> round(crps_ensemble(6.0, [2, 3, 5, 8, 13]).item(), 12)
    0.7
    """
    y, x = np.asarray(observed, float), np.sort(np.asarray(draws, float), axis=-1)
    if estimator not in ("nrg", "fair"):
        raise ValueError(f"unknown estimator {estimator!r}; choose 'fair' or 'nrg'")
    if x.ndim != y.ndim + 1:
        raise ValueError(f"draws have {x.ndim} axes; {y.ndim + 1} are needed, draws last")
    m = x.shape[-1]
    if m < (2 if estimator == "fair" else 1):
        raise ValueError(f"{m} draw(s) are too few for the {estimator} estimator")
    error = np.abs(x - y[..., None]).mean(axis=-1)
    # Sum over all pairs of |x_i - x_j| from the sorted draws: sum_i (2 i - m + 1) x_i, twice.
    pairs = 2 * (x * (2 * np.arange(m) - m + 1)).sum(axis=-1)
    return error - pairs / (2 * m * (m if estimator == "nrg" else m - 1))


def coverage(observed: ArrayLike, low: ArrayLike, high: ArrayLike) -> float:
    """Return the share of observations within their intervals, ends included.

    Examples
    --------
    >>> coverage([1, 5, 9], 2, 9)
    0.6666666666666666
    """
    y, a, b = np.broadcast_arrays(*(np.asarray(v, float) for v in (observed, low, high)))
    if y.size == 0 or np.isnan(y + a + b).any():
        return float("nan")
    return float(((a <= y) & (y <= b)).mean())
