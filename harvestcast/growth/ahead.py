"""Possible futures of a fitted garden: what ripens, who comes to pick, what is picked.

One draw is one possible future of the whole garden: the same weather, the same garden days and
partly the same deviations for all crops.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.growth.curve import curve_of, expit
from harvestcast.growth.fit import Fit, ready_now
from harvestcast.growth.habit import visits_ahead
from harvestcast.growth.inference import CURVE
from harvestcast.growth.series import Series, daily_heat, log_warmth

Array = NDArray[np.float64]

SHARED = 0.3
"""Share of the variance of coming deviations that all series have in common."""
CEILING, CEILING_ONCE = 3.0, 1.5
"""Times the almanac's high yield per plant that no season's total exceeds (our judgement: the
almanac's range holds 80 % of gardens); the lower one for plants that bear a set number of fruits
once (determinate, once over), such as ears and heads."""
BEND = 4.0
"""How sharply totals bend towards the ceiling: at half of it they are lowered by 1.5 %."""


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Start:
    """Where each draw of each series stands, arrays (draws, series) and rates per day."""

    hanging: Array
    size: Array
    keep: Array
    rate: Array


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
    n = len(fit.series)
    start = _start(fit, tmin, tmax, rng)
    hanging = start.hanging
    came = visits_ahead(fit.habit, fit.as_of + pd.Timedelta(days=1), days, draws, rng)
    mass = np.zeros((draws, days, n))
    count = np.zeros((draws, days, n))
    noise, evidence = fit.noises[0], fit.evidence
    fruit = np.array([s.fruit_kg for s in fit.series])
    for day in range(days):
        hanging = start.keep * hanging + start.rate[:, day]
        want = expit(noise.ease + noise.zeal * np.log(hanging / evidence.usual + 1e-9))
        picks = came[:, day, None] & (rng.random((draws, n)) < noise.look * want)
        mean = (1.0 - noise.left) * hanging / evidence.unit
        uneven = rng.gamma(start.size, 1.0 / start.size)
        number = np.where(picks, rng.poisson(np.minimum(mean * uneven, 1e9)), 0)
        mass[:, day] = number * evidence.unit
        count[:, day] = np.rint(mass[:, day] / fruit)
        hanging = np.where(number > 0, noise.left * hanging, hanging)
    return Futures(mass=mass, count=count, ready=start.rate)


def _start(fit: Fit, tmin: Array, tmax: Array, rng: np.random.Generator) -> _Start:
    draws, days = tmin.shape
    n, width = fit.posteriors[0].mode.shape
    past = fit.evidence.picked.shape[1]
    common = rng.standard_normal((draws, width))
    hanging, size, keep = (np.empty((draws, n)) for _ in range(3))
    rate = np.empty((draws, days, n))
    for row in range(n):
        # What the past has decided is a series' own; only what is to come is shared.
        normals = rng.standard_normal((draws, width))
        normals[:, CURVE:] *= np.sqrt(1.0 - SHARED)
        normals[:, CURVE:] += np.sqrt(SHARED) * common[:, CURVE:]
        chosen = _dealt(fit.weight[row], draws, rng)
        for which in np.unique(chosen):
            mine = np.flatnonzero(chosen == which)
            noise, basis = fit.noises[which], fit.bases[which]
            u = fit.posteriors[which].draw_one(row, normals[mine])
            evidence = replace(fit.evidence, knots=basis[:past])
            hanging[mine, row] = ready_now(evidence, noise, u, row)
            size[mine, row], keep[mine, row] = noise.size[row], noise.keep[row]
            deviation = noise.spread[row] * (u[:, CURVE:] @ basis[past:].T)
            rate[mine, :, row] = _rates_ahead(fit, row, u, tmin[mine], tmax[mine], deviation)
    return _Start(hanging=hanging, size=size, keep=keep, rate=rate)


def _dealt(weight: Array, draws: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Deal draws out over tempers in proportion to their weights, in random order."""
    marks = (np.arange(draws) + rng.random()) / draws
    chosen = np.searchsorted(np.cumsum(weight), marks * weight.sum())
    return rng.permutation(np.minimum(chosen, len(weight) - 1))


def _rates_ahead(fit: Fit, row: int, u: Array, tmin: Array, tmax: Array, deviation: Array) -> Array:
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
    rate = total * np.exp(theta[:, :1] + warmth + deviation)
    rate *= _below_ceiling(s, rate)
    if s.killed:
        return np.zeros_like(rate)
    if s.facts.tender:
        frost = np.cumsum(tmin <= s.facts.kill_c, axis=1) > 0
        rate = np.where(frost, 0.0, rate)
    return rate


def _below_ceiling(s: Series, rate: Array) -> Array:
    """Return the factor (draws, 1) that keeps what ripens below what the plants can bear.

    A season's ceiling, spread evenly over the almanac's shortest time of picking. What was picked
    already overrules the almanac: as much again is always possible. Without a number of plants
    there is no ceiling.
    """
    if not np.isfinite(s.plants):
        return np.ones((len(rate), 1))
    once = s.facts.habit in ("determinate", "once_over")
    season = (CEILING_ONCE if once else CEILING) * s.facts.yield_kg_per_plant[1] * s.plants
    part = min(1.0, rate.shape[1] / (7.0 * s.facts.picking_weeks[0]))
    picked = float(np.nansum(s.mass))
    room = max(min(season * part, season - picked), picked, 1e-9)
    total = rate.sum(axis=1, keepdims=True)
    return (1.0 + (total / room) ** BEND) ** (-1.0 / BEND)
