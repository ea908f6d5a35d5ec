"""The season so far and the days to come as fitted: a table to draw figures from."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Single
from harvestcast.frames import FITTED, check_frame
from harvestcast.growth.future.draws import past_rates
from harvestcast.growth.future.numbers import tried_numbers
from harvestcast.growth.model.curve import CURVE
from harvestcast.growth.model.density import rates
from harvestcast.growth.model.fit import Fit

LEVELS = (0.1, 0.5, 0.9)
PAST_DRAWS = 400
"""Draws of the past of which quantiles are taken."""


def ready_quantiles(ready: Single) -> Array:
    """Return quantiles of what becomes ready (3, days, series) from draws (days, series, draws)."""
    if ready.size == 0:
        return np.zeros((3, *ready.shape[:2]))
    ordered = np.sort(ready, axis=-1)  # for rows this short faster than numpy.quantile
    place = np.array(LEVELS) * (ready.shape[-1] - 1)
    below = np.floor(place).astype(int)
    above = np.minimum(below + 1, ready.shape[-1] - 1)
    low, high = np.moveaxis(ordered[..., [below, above]], (-2, -1), (0, 1)).astype(float)
    return np.asarray(low + (place - below)[:, None, None] * (high - low))


def fitted_frame(fit: Fit, coming: Array, believed: Flags, *, seed: int) -> pd.DataFrame:
    """Return what became ready each day, past and coming (:data:`harvestcast.frames.FITTED`).

    Parameters
    ----------
    fit : Fit
    coming : ndarray (3, days, series)
        Quantiles of what is to become ready. [kg]
    believed : ndarray of bool (series,)
        Whether a series' fit is believed; what became ready of the others is unknown, NaN.
    seed : int
        Seed of the draws of the past.
    """
    days, (_, ahead, n) = len(fit.dates), coming.shape
    if n == 0:
        return FITTED.empty()
    curve = np.full((n, days + ahead), np.nan)
    ready = np.full((n, days + ahead, len(LEVELS)), np.nan)
    best = fit.weight.argmax(axis=1)
    tried = tried_numbers(fit, 2 * PAST_DRAWS, seed)
    for row in np.flatnonzero(believed):
        # Quantiles of draws, not of the mode with its spread: the log of what ripens is all but
        # unknown before the first pick, and no rate of any draw is beyond full bearing.
        past = ready_quantiles(past_rates(fit, int(row), PAST_DRAWS, tried)[:, None])[..., 0]
        ready[row] = np.concatenate((past, coming[..., row]), axis=1).T
        which = int(best[row])
        smooth = fit.posteriors[which].mode[[row]].copy()
        smooth[:, CURVE:] = 0.0
        curve[row, :days] = rates(fit.evidence_under(which).at(np.array([row])), smooth)[0]
        curve[row, days:] = coming[1][:, row]
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
            "curve_q50_kg": curve.ravel(),
        }
    )
    return check_frame(frame, FITTED)
