"""Scores of forecasts against what was picked: pure functions on arrays, one table at the end.

Lower is better for every score except coverage, which should equal the level it claims. Arrays
broadcast; where something is unknown (NaN) the score is NaN, never zero.

References
----------
.. [1] Gneiting T., Raftery A.E. (2007) Strictly proper scoring rules, prediction, and estimation.
   J. Am. Stat. Assoc. 102:359-378, doi:10.1198/016214506000001437 (CRPS, interval score).
.. [2] Hyndman R.J., Koehler A.B. (2006) Another look at measures of forecast accuracy.
   Int. J. Forecast. 22:679-688, doi:10.1016/j.ijforecast.2006.03.001 (MASE).
.. [3] Czado C., Gneiting T., Held L. (2009) Predictive model assessment for count data.
   Biometrics 65:1254-1261, doi:10.1111/j.1541-0420.2009.01191.x (randomised PIT; memory).
.. [4] Zamo M., Naveau P. (2018) Estimation of the CRPS with limited information. Math. Geosci.
   50:209-234, doi:10.1007/s11004-017-9709-7 (the two estimators; memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import binom

from harvestcast.arrays import Array
from harvestcast.frames import quantile_columns

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
        them as a sample of it (``2 m (m - 1)``) and is unbiased for the forecast behind [4]_. It
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


def pinball(observed: ArrayLike, quantile: ArrayLike, level: ArrayLike) -> Array:
    """Return the pinball loss of a quantile forecast at its level (0 to 1).

    Examples
    --------
    >>> pinball(10.0, [8.0, 13.0], 0.9).round(12).tolist()
    [1.8, 0.3]
    """
    level = np.asarray(level, float)
    if np.any((level <= 0) | (level >= 1)):
        raise ValueError("level must lie between 0 and 1")
    short = np.asarray(observed, float) - np.asarray(quantile, float)
    return np.maximum(level * short, (level - 1) * short)


def interval_score(
    observed: ArrayLike, low: ArrayLike, high: ArrayLike, *, level: float = 0.8
) -> Array:
    """Return the interval score of the central interval that claims ``level`` [1]_.

    Its width, plus ``2 / (1 - level)`` times the distance by which the observation misses it.

    Parameters
    ----------
    observed, low, high : array_like
        Observation and ends of the interval.
    level : float
        Probability the interval claims, 0 to 1.

    Returns
    -------
    numpy.ndarray

    References
    ----------
    Numbers refer to the list at the head of this module.

    Examples
    --------
    >>> interval_score([10, 2, 15], 4, 12, level=0.8).round(12).tolist()
    [8.0, 28.0, 38.0]
    """
    if not 0 < level < 1:
        raise ValueError("level must lie between 0 and 1")
    y, a, b = (np.asarray(v, float) for v in (observed, low, high))
    missed = np.maximum(a - y, 0) + np.maximum(y - b, 0)
    return (b - a) + 2 / (1 - level) * missed


def wape(observed: ArrayLike, forecast: ArrayLike) -> float:
    """Return the sum of absolute errors over the sum of observations; NaN where that is 0.

    Examples
    --------
    >>> wape([4, 7, 0, 9], [5, 5, 2, 8])
    0.3
    """
    y, f = np.asarray(observed, float), np.asarray(forecast, float)
    total = np.abs(y).sum()
    return float(np.abs(y - f).sum() / total) if total != 0 else float("nan")


def mase(observed: ArrayLike, forecast: ArrayLike, history: ArrayLike, *, lag: int = 1) -> float:
    """Return the mean absolute error over that of "the same as ``lag`` steps before" [2]_.

    Parameters
    ----------
    observed, forecast : array_like
        The steps forecast.
    history : array_like
        The steps before them, in order.
    lag : int
        1 for "the same as last week".

    Returns
    -------
    float
        NaN where the history has no more than ``lag`` steps or never changes.

    References
    ----------
    Numbers refer to the list at the head of this module.

    Examples
    --------
    >>> mase([4, 7, 0, 9], [5, 5, 2, 8], [3, 5, 2, 8, 7, 6, 9])
    0.5625
    """
    past = np.asarray(history, float)
    if lag < 1:
        raise ValueError("lag must be at least 1")
    steps = np.abs(past[lag:] - past[:-lag])
    if steps.size == 0 or steps.mean() == 0:
        return float("nan")
    error = np.abs(np.asarray(observed, float) - np.asarray(forecast, float)).mean()
    return float(error / steps.mean())


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


def pit_interval(observed: ArrayLike, draws: ArrayLike) -> tuple[Array, Array]:
    """Return the shares of draws below the observation, and at or below it.

    The two differ where the forecast puts weight on the very value: counts, and weeks of nothing.

    Examples
    --------
    >>> low, high = pit_interval(0.0, [0, 0, 1, 3])
    >>> low.item(), high.item()
    (0.0, 0.5)
    """
    y, x = np.asarray(observed, float)[..., None], np.asarray(draws, float)
    unknown = np.isnan(y[..., 0]) | np.isnan(x).any(axis=-1)
    ends = ((x < y).mean(axis=-1), (x <= y).mean(axis=-1))
    return np.where(unknown, np.nan, ends[0]), np.where(unknown, np.nan, ends[1])


def pit(observed: ArrayLike, draws: ArrayLike, *, seed: int) -> Array:
    """Return the randomised probability integral transform; uniform if the forecast is honest.

    The place of the observation among the draws, ties broken at random [3]_: with ``b`` draws below
    it and ``t`` equal to it, ``(b + u (t + 1)) / (m + 1)`` with ``u`` uniform. Exactly uniform when
    observation and draws come from one distribution, whatever its ties.

    Parameters
    ----------
    observed : array_like
        Any shape.
    draws : array_like
        One more axis at the end.
    seed : int
        Seed of the tie-breaking.

    Returns
    -------
    numpy.ndarray
        Between 0 and 1, shape of ``observed``.

    References
    ----------
    Numbers refer to the list at the head of this module.

    Examples
    --------
    >>> 0.4 < pit(5.0, [1, 2, 8, 9], seed=1).item() < 0.6
    True
    """
    m = np.asarray(draws).shape[-1]
    below, upto = pit_interval(observed, draws)
    tied = (upto - below) * m
    u = np.random.default_rng(seed).uniform(size=below.shape)
    return (below * m + u * (tied + 1)) / (m + 1)


def pit_histogram(values: ArrayLike, *, bins: int = 10, level: float = 0.95) -> pd.DataFrame:
    """Return the histogram of PIT values beside what an honest forecast would give.

    Parameters
    ----------
    values : array_like
        PIT values; NaN are left out.
    bins : int
        Number of equal bins from 0 to 1.
    level : float
        Probability that each single bin lies within its limits if the forecast is honest.

    Returns
    -------
    pandas.DataFrame
        ``low, high`` (ends of the bin), ``number``, ``share``, ``expected`` share, and the binomial
        limits ``share_low``, ``share_high`` (forecasts taken as independent).

    Examples
    --------
    >>> pit_histogram([0.05, 0.15, 0.95, 0.97], bins=2)["number"].tolist()
    [2, 2]
    """
    flat = np.asarray(values, float).ravel()
    flat = flat[~np.isnan(flat)]
    number, edges = np.histogram(flat, bins=bins, range=(0, 1))
    n = max(len(flat), 1)
    tail = (1 - level) / 2
    return pd.DataFrame(
        {
            "low": edges[:-1],
            "high": edges[1:],
            "number": number,
            "share": number / n,
            "expected": 1 / bins,
            "share_low": binom.ppf(tail, n, 1 / bins) / n,
            "share_high": binom.ppf(1 - tail, n, 1 / bins) / n,
        }
    )


def score_table(scores: pd.DataFrame, by: Sequence[str] = ("crop",)) -> pd.DataFrame:
    """Summarise a table of back-tested forecasts.

    Parameters
    ----------
    scores : pandas.DataFrame
        Table :data:`harvestcast.frames.SCORES`.
    by : sequence of str
        Columns to summarise over, such as ``crop`` or ``week``; empty for one row in all.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``forecasts``, ``observed_kg`` and ``mean_kg`` (mean per
        forecast), ``mae_kg`` (of the median), ``wape`` (of the median), ``bias_kg`` (mean forecast
        less observed), ``crps_kg``, ``coverage_50``, ``coverage_80``, ``coverage_90`` and
        ``interval_80_kg`` (mean width).

    Examples
    --------
    >>> from harvestcast.frames import SCORES
    >>> score_table(SCORES.empty())["crps_kg"].tolist()
    []
    """
    rows = []
    groups = scores.groupby(list(by), sort=True) if by else [((), scores)]
    for name, group in groups:
        y = group["observed"].to_numpy(float)
        q = {column: group[column].to_numpy(float) for column in quantile_columns()}
        rows.append(
            dict(zip(by, name, strict=True))
            | {
                "forecasts": len(group),
                "observed_kg": y.mean() if len(y) else np.nan,
                "mean_kg": group["mean"].mean(),
                "mae_kg": np.abs(y - q["q50"]).mean() if len(y) else np.nan,
                "wape": wape(y, q["q50"]),
                "bias_kg": (group["mean"] - group["observed"]).mean(),
                "crps_kg": group["crps"].mean(),
                "coverage_50": coverage(y, q["q25"], q["q75"]),
                "coverage_80": coverage(y, q["q10"], q["q90"]),
                "coverage_90": coverage(y, q["q05"], q["q95"]),
                "interval_80_kg": (q["q90"] - q["q10"]).mean() if len(y) else np.nan,
            }
        )
    columns = [*by, *_SUMMARY]
    return pd.DataFrame(rows, columns=columns)


_SUMMARY = (
    "forecasts",
    "observed_kg",
    "mean_kg",
    "mae_kg",
    "wape",
    "bias_kg",
    "crps_kg",
    "coverage_50",
    "coverage_80",
    "coverage_90",
    "interval_80_kg",
)
