"""The season so far and the days to come as fitted: a table to draw figures from."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.frames import FITTED, check_frame
from harvestcast.growth.fit import Fit
from harvestcast.growth.inference import CURVE, rates, rates_and_spread

Array = NDArray[np.float64]

LEVELS = (0.1, 0.5, 0.9)
TENTH = 1.2815515655446004
"""The standard normal's ninth tenth."""


def ready_quantiles(ready: NDArray[np.float32]) -> Array:
    """Return quantiles of what becomes ready (3, days, series) from draws (days, series, draws)."""
    if ready.size == 0:
        return np.zeros((3, *ready.shape[:2]))
    ordered = np.sort(ready, axis=-1)  # for rows this short faster than numpy.quantile
    place = np.array(LEVELS) * (ready.shape[-1] - 1)
    below = np.floor(place).astype(int)
    above = np.minimum(below + 1, ready.shape[-1] - 1)
    low, high = np.moveaxis(ordered[..., [below, above]], (-2, -1), (0, 1)).astype(float)
    return np.asarray(low + (place - below)[:, None, None] * (high - low))


def fitted_frame(fit: Fit, coming: Array) -> pd.DataFrame:
    """Return what became ready each day, past and coming (:data:`harvestcast.frames.FITTED`).

    Parameters
    ----------
    fit : Fit
    coming : ndarray (3, days, series)
        Quantiles of what is to become ready. [kg]
    """
    days, (_, ahead, n) = len(fit.dates), coming.shape
    if n == 0:
        return FITTED.empty()
    middle, spread, curve = np.zeros((n, days)), np.zeros((n, days)), np.zeros((n, days))
    best = fit.weight.argmax(axis=1)
    for which in np.unique(best):
        rows = np.flatnonzero(best == which)
        post = fit.posteriors[which]
        part = fit.evidence_under(int(which)).at(rows)
        middle[rows], spread[rows] = rates_and_spread(part, post.mode[rows], post.precision[rows])
        smooth = post.mode[rows].copy()
        smooth[:, CURVE:] = 0.0
        curve[rows] = rates(part, smooth)
    band = np.exp(TENTH * spread)
    past = np.stack((middle / band, middle, middle * band), axis=-1)
    ready = np.concatenate((past, np.moveaxis(coming, 0, 2).swapaxes(0, 1)), axis=1)
    heat = np.full((n, days + ahead), np.nan)
    heat[:, :days] = [s.heat[:, -days:].max(axis=0) for s in fit.series]
    dates = fit.dates.append(pd.date_range(fit.as_of + pd.Timedelta(days=1), periods=ahead))
    frame = pd.DataFrame(
        {
            "date": np.tile(dates.to_numpy(), n),
            "crop": np.repeat([s.crop for s in fit.series], days + ahead),
            "variety": np.repeat([s.variety for s in fit.series], days + ahead),
            "degree_days": heat.ravel(),
            "ready_q10_kg": ready[..., 0].ravel(),
            "ready_q50_kg": ready[..., 1].ravel(),
            "ready_q90_kg": ready[..., 2].ravel(),
            "curve_q50_kg": np.concatenate((curve, coming[1].T), axis=1).ravel(),
        }
    )
    return check_frame(frame, FITTED)
