"""Possible futures of a fitted garden: what ripens, who comes to pick, what is picked.

One draw is one possible future of the whole garden: the same weather, the same garden days and
partly the same deviations for all crops.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.growth.curve import curve_of, expit
from harvestcast.growth.fit import Fit, ready_now
from harvestcast.growth.habit import THOROUGH, visits_ahead
from harvestcast.growth.inference import CURVE
from harvestcast.growth.series import daily_heat, log_warmth

Array = NDArray[np.float64]

SHARED = 0.3
"""Share of the variance of coming deviations that all series have in common (tuned)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Futures:
    """Draws of the coming days, shapes (draws, days, series).

    Parameters
    ----------
    mass, count : ndarray
        Picked. [kg, fruits]
    ready : ndarray
        Becoming ready, whether picked or not. [kg]
    """

    mass: Array
    count: Array
    ready: Array


def futures(fit: Fit, tmin: Array, tmax: Array, *, seed: int) -> Futures:
    """Draw possible futures.

    Parameters
    ----------
    fit : Fit
    tmin, tmax : ndarray (draws, days)
        Weather of each draw, shared by all crops. [degC]
    seed : int

    Returns
    -------
    Futures
    """
    rng = np.random.default_rng(seed)
    draws, days = tmin.shape
    n, width = fit.posterior.mode.shape
    common = rng.standard_normal((1, draws, width))
    normals = np.sqrt(1.0 - SHARED) * rng.standard_normal((n, draws, width))
    normals += np.sqrt(SHARED) * common
    # What the past has decided is a series' own; only what is to come is shared.
    normals[:, :, :CURVE] = rng.standard_normal((n, draws, CURVE))
    u = fit.posterior.draw(normals)
    hanging = ready_now(fit, u).T
    rate = np.stack([_rates_ahead(fit, row, u[row], tmin, tmax) for row in range(n)], axis=-1)
    came = visits_ahead(fit.habit, fit.as_of + pd.Timedelta(days=1), days, draws, rng)
    mass = np.zeros((draws, days, n))
    count = np.zeros((draws, days, n))
    noise, evidence = fit.noise, fit.evidence
    for day in range(days):
        hanging = noise.keep * hanging + rate[:, day]
        chance = THOROUGH * expit(noise.ease + noise.zeal * np.log(hanging / evidence.usual + 1e-9))
        picks = came[:, day, None] & (rng.random((draws, n)) < chance)
        mean = (1.0 - noise.left) * hanging / evidence.unit
        number = rng.poisson(
            np.minimum(mean * rng.gamma(noise.size, 1.0 / noise.size, (draws, n)), 1e9)
        )
        number = np.where(picks, number, 0)
        count[:, day] = number
        mass[:, day] = number * evidence.unit
        hanging = np.where(number > 0, noise.left * hanging, hanging)
    return Futures(mass=mass, count=count, ready=rate)


def _rates_ahead(fit: Fit, row: int, u: Array, tmin: Array, tmax: Array) -> Array:
    """Rates of becoming ready (draws, days) of one series."""
    s, e = fit.series[row], fit.evidence
    daily = daily_heat(tmin, tmax, s.facts)
    past = np.repeat(s.daily[None, -10:], len(daily), axis=0)
    warmth = log_warmth(np.concatenate((past, daily), axis=1))[:, -daily.shape[1] :]
    heat = np.cumsum(daily, axis=1)
    theta = e.prior_mean[row] + e.prior_sd[row] * u[:, :CURVE]
    h1, h2, s1, s2 = (x[:, None] for x in curve_of(theta))
    total = np.zeros_like(daily)
    for now, share in zip(s.heat[:, -1], s.share[:, -1], strict=True):
        if share > 0:
            h = now + heat
            total += share / (
                (1.0 + np.exp(-np.clip((h - h1) / s1, -60, 60)))
                * (1.0 + np.exp(-np.clip((h2 - h) / s2, -60, 60)))
            )
    deviation = fit.noise.spread[row] * (u[:, CURVE:] @ fit.knots_ahead.T)
    rate = total * np.exp(theta[:, :1] + warmth + deviation)
    if s.killed:
        return np.zeros_like(rate)
    if s.facts.tender:
        frost = np.cumsum(tmin <= s.facts.kill_c, axis=1) > 0
        rate = np.where(frost, 0.0, rate)
    return rate
