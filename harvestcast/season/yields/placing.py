"""Set a fitted curve so that its harvest comes when the season's harvest came.

A curve is fitted to daily picks with weekly noise about it, and its tail is known poorly: on
simulated gardens it brought half of a crop of beans some days too late. The heat at which a tenth
and nine tenths of the harvest were in is known better, with an honest error
(:mod:`harvestcast.season.yields.learned`), so draws of a curve are moved and stretched to draws of
those.
"""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array
from harvestcast.growth.model.curve import bearing, curve_of
from harvestcast.growth.model.fit import Fit

STEPS = 6
MOST = 0.4
"""Most that a curve is stretched or moved, log; beyond that the log says too little of it."""
SHARES = (0.1, 0.9)


def season_rate(fit: Fit, row: int, theta: Array) -> Array:
    """Return what each curve brings each day of the fitted season, no deviations, (draws, days)."""
    heat, share = fit.evidence.heat[row], fit.evidence.share[row]  # (plantings, days)
    shape = bearing(curve_of(theta[:, None, None]), heat)
    rate = (share * shape).sum(axis=1) * np.exp(theta[:, :1] + fit.evidence.log_warmth[row])
    return np.asarray(rate)


def heat_of_shares(rate: Array, heat: Array) -> Array:
    """Return the heat at which a tenth and nine tenths of each row were in, shape (2, draws).

    Parameters
    ----------
    rate : ndarray, shape (draws, days)
        Each day's harvest.
    heat : ndarray, shape (days,)
        Heat at the end of each day.

    Examples
    --------
    >>> heat_of_shares(np.full((1, 100), 0.5), np.arange(1.0, 101.0)).ravel().round().tolist()
    [10.0, 90.0]
    """
    running = np.cumsum(rate, axis=1)
    total = np.maximum(running[:, -1:], 1e-12)
    return np.stack([heat[np.argmax(running >= part * total, axis=1)] for part in SHARES])


def placed(fit: Fit, row: int, theta: Array, early: Array, late: Array) -> Array:
    """Return curves moved and stretched to where the harvest began and ended.

    Parameters
    ----------
    fit : Fit
        The season, fitted.
    row : int
        Series.
    theta : ndarray, shape (draws, 5)
        Curves, as :data:`harvestcast.growth.model.curve.PARAMETERS`.
    early, late : ndarray, shape (draws,)
        Heat since the first planting at which a tenth and nine tenths of the harvest were in.
        [degC d]

    Returns
    -------
    ndarray, shape (draws, 5)
        The level is left as it is.
    """
    heat = fit.evidence.heat[row]
    first = heat[int(np.argmax(heat[:, -1]))]
    found = theta.copy()
    late = np.maximum(late, early + 0.05 * np.abs(early) + 1.0)
    for _ in range(STEPS):
        began, ended = heat_of_shares(season_rate(fit, row, found), first)
        stretch = np.clip(np.log((late - early) / np.maximum(ended - began, 1.0)), -0.25, 0.25)
        h1 = np.exp(found[:, 1])
        move = np.clip((early - began) / np.maximum(h1, 1.0), -0.25, 0.25)
        found[:, 1] = _near(found[:, 1] + np.log1p(move), theta[:, 1])
        found[:, 2] = _near(found[:, 2] + stretch, theta[:, 2])
    return found


def _near(values: Array, start: Array) -> Array:
    return np.clip(values, start - MOST, start + MOST)
