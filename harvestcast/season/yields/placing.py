"""Set a fitted curve so that its harvest comes when the season's harvest came."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from harvestcast.arrays import Array
from harvestcast.growth.model.curve import bearing, curve_of, season_heat
from harvestcast.growth.model.fit import Fit

PLACING_STEPS = 8
CLOSE = 0.01
"""Log of heat within which a curve lies near enough to where it is told to."""
MOST_MOVED = 3.0
"""Most that a curve is stretched or moved, log; more is no curve of a crop any more."""
SHARES = (0.1, 0.9)


class Grown(NamedTuple):
    """The days on which something bore.

    ``heat`` since each planting and ``share`` of the plants have shape (plantings, days),
    ``log_warmth`` (days,).
    """

    heat: Array
    share: Array
    log_warmth: Array


def grown_in(fit: Fit, row: int) -> Grown:
    """Return the days of a fitted series."""
    evidence = fit.evidence
    return Grown(evidence.heat[row], evidence.share[row], evidence.log_warmth[row])


def season_rate(grown: Grown, theta: Array) -> Array:
    """Return what each curve brings each day, without deviations, (draws, days)."""
    heat, share = grown.heat, grown.share
    shape = bearing(curve_of(theta[:, None, None]), heat)
    rate = (share * shape).sum(axis=1) * np.exp(theta[:, :1] + grown.log_warmth)
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


def placed(grown: Grown, theta: Array, early: Array, late: Array) -> Array:
    """Return curves moved and stretched to where the harvest began and ended.

    Parameters
    ----------
    grown : Grown
        Heat and share of plants on the days that the curve bore on.
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
    heat = grown.heat
    first = heat[int(np.argmax(heat[:, -1]))]
    found = theta.copy()
    late = np.maximum(late, early + 0.05 * np.abs(early) + 1.0)
    # First as if the season were long enough, then on the days that there were.
    tenth, nine = season_heat(found, SHARES).T
    found[:, 2] = _near(found[:, 2] + np.log((late - early) / (nine - tenth)), theta[:, 2])
    h1 = np.exp(found[:, 1]) + early - season_heat(found, SHARES[:1])[:, 0]
    found[:, 1] = _near(np.log(np.maximum(h1, 1.0)), theta[:, 1])
    for _ in range(PLACING_STEPS):
        began, ended = heat_of_shares(season_rate(grown, found), first)
        stretch = np.clip(np.log((late - early) / np.maximum(ended - began, 1.0)), -0.25, 0.25)
        h1 = np.exp(found[:, 1])
        move = np.clip((early - began) / np.maximum(h1, 1.0), -0.25, 0.25)
        found[:, 1] = _near(found[:, 1] + np.log1p(move), theta[:, 1])
        found[:, 2] = _near(found[:, 2] + stretch, theta[:, 2])
        if np.median(np.abs([move, stretch]), axis=1).max() < CLOSE:
            break
    return found


def _near(values: Array, start: Array) -> Array:
    return np.clip(values, start - MOST_MOVED, start + MOST_MOVED)
