"""Possible futures of a fitted garden: what ripens, who comes to pick, what is picked.

One draw is one possible future of the whole garden: the same weather, the same garden days and
partly the same deviations for all crops. Draws run along the last axis and are held in single
precision until they leave: a future is uncertain in its first digit, not in its seventh.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.growth.almanac import daily_heat
from harvestcast.growth.curve import curve_of
from harvestcast.growth.fit import Fit
from harvestcast.growth.habit import visits_ahead
from harvestcast.growth.inference import CURVE
from harvestcast.growth.series import Series, log_warmth

Array = NDArray[np.float64]
Single = NDArray[np.float32]

SHARED = 0.3
"""Share of the variance of coming deviations that all series have in common."""
CEILING, CEILING_ONCE = 3.0, 1.5
"""Times the almanac's high yield per plant that no season's total exceeds (our judgement: the
almanac's range holds 80 % of gardens); the lower one for plants that bear a set number of fruits
once (determinate, once over), such as ears and heads."""
BEND = 4.0
"""How sharply totals bend towards the ceiling: at half of it they are lowered by 1.5 %."""
MOST_DAYS, GONE = 40, 0.01
"""What ripened longer ago than so many days, or of which less than this share is still there, is
picked or spoiled."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Futures:
    """Draws of the coming days.

    Parameters
    ----------
    mass, count : ndarray (draws, days, series)
        Picked. [kg, fruits]
    ready : ndarray (days, series, draws)
        Becoming ready, whether picked or not. [kg]
    """

    mass: Array
    count: Array
    ready: Single


class _Start(NamedTuple):
    """Where each draw of each series stands (series, draws), and rates (days, series, draws)."""

    hanging: Single
    size: Single
    keep: Single
    rate: Single


class _Drawn(NamedTuple):
    """Draws of one series: curve (draws, 5), deviations past and to come (days, draws)."""

    theta: Array
    past: Single
    coming: Single
    size: Array
    keep: Single


class _Ahead(NamedTuple):
    """Coming heat since the last day known, and its warmth, under one crop's thresholds."""

    heat: Single  # (days, draws)
    log_warmth: Single


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
    number = np.zeros((days, n, draws))
    noise, evidence = fit.noises[0], fit.evidence
    unit, usual = _column(evidence.unit), _column(evidence.usual)
    look, left = _column(noise.look), _column(noise.left)
    ease, zeal = _column(noise.ease), _column(noise.zeal)
    for day in range(days):
        hanging = start.keep * hanging + start.rate[day]
        against = np.exp(-ease - zeal * np.log(hanging / usual + np.float32(1e-9)))
        chance = rng.random((n, draws), dtype=np.float32) * (1.0 + against)
        row, draw = np.nonzero((chance < look) & came[:, day])
        # Whole pieces, unevenly many: a Poisson number with a gamma mean.
        mean = (1.0 - left[row, 0]) * hanging[row, draw] / unit[row, 0]
        size = start.size[row, draw].astype(float)
        uneven = rng.standard_gamma(size) / size
        taken = rng.poisson(np.minimum(mean * uneven, 1e9))
        number[day, row, draw] = taken
        some = taken > 0
        row, draw = row[some], draw[some]
        hanging[row, draw] *= left[row, 0]
    mass = np.ascontiguousarray((number * evidence.unit[:, None]).transpose(2, 0, 1))
    fruit = np.array([s.fruit_kg for s in fit.series])
    return Futures(mass=mass, count=np.rint(mass / fruit), ready=start.rate)


def _column(values: Array) -> Single:
    return values.astype(np.float32)[:, None]


def _start(fit: Fit, tmin: Array, tmax: Array, rng: np.random.Generator) -> _Start:
    draws, days = tmin.shape
    n, to_come = len(fit.series), _coming_knots(fit)
    common = rng.standard_normal((draws, to_come), dtype=np.float32)
    tmin, tmax, which = _scenarios(tmin, tmax)
    ahead: dict[tuple[float, float | None, str], _Ahead] = {}
    hanging, size, keep = (np.empty((n, draws), dtype=np.float32) for _ in range(3))
    rate = np.zeros((days, n, draws), dtype=np.float32)
    for row, s in enumerate(fit.series):
        limits = (s.facts.base_c, s.facts.upper_c, s.facts.heat_method)
        if limits not in ahead:
            ahead[limits] = _ahead(s, tmin, tmax, which)
        back = _days_back(fit, row)
        drawn = _draw(fit, row, back, common, rng)
        size[row], keep[row] = drawn.size, drawn.keep
        hanging[row] = _ready_now(fit, row, back, drawn)
        if not s.killed and s.share[:, -1].any():
            rate[:, row] = _rates_ahead(s, drawn, ahead[limits])
            if s.facts.tender:
                frost = np.cumsum(tmin <= s.facts.kill_c, axis=1) > 0
                if frost.any():
                    rate[:, row][frost[which].T] = 0.0
    return _Start(hanging, size, keep, rate)


def _coming_knots(fit: Fit) -> int:
    return fit.bases[0].shape[1] - (fit.posteriors[0].mode.shape[1] - CURVE)


def _scenarios(tmin: Array, tmax: Array) -> tuple[Array, Array, NDArray[np.int64]]:
    """Return the weathers that differ, and which of them each draw has: draws share few years."""
    rows = np.concatenate((tmin, tmax), axis=1)
    seen: dict[bytes, int] = {}
    which = np.array([seen.setdefault(row.tobytes(), len(seen)) for row in rows], dtype=np.int64)
    first = np.unique(which, return_index=True)[1]
    return tmin[first], tmax[first], which


def _ahead(s: Series, tmin: Array, tmax: Array, which: NDArray[np.int64]) -> _Ahead:
    daily = daily_heat(s.facts, tmin, tmax)
    past = np.repeat(s.daily[None, -10:], len(daily), axis=0)
    warmth = log_warmth(np.concatenate((past, daily), axis=1))[:, -daily.shape[1] :]
    heat = np.cumsum(daily, axis=1).T.astype(np.float32)
    return _Ahead(heat[:, which], warmth.T.astype(np.float32)[:, which])


def _days_back(fit: Fit, row: int) -> int:
    """How many days back fruit that still hangs may have ripened."""
    picked = fit.evidence.picked[row]
    keep = max(float(noise.keep[row]) for noise in fit.noises)
    still = 1.0
    back = 1
    while back < min(MOST_DAYS, len(picked)):
        still *= float(fit.noises[0].left[row]) if picked[-1 - back] > 0 else keep
        if still < GONE:
            break
        back += 1
    return back


def _draw(fit: Fit, row: int, back: int, common: Single, rng: np.random.Generator) -> _Drawn:
    """Draw one series; only the deviations to come have a part that all series share."""
    draws, to_come = common.shape
    past = fit.evidence.picked.shape[1]
    # Knots older than a series' own days no longer say anything of the days to come.
    width = CURVE + int(fit.posteriors[0].knots[row])
    kept = np.r_[: width - CURVE, fit.bases[0].shape[1] - to_come : fit.bases[0].shape[1]]
    number = _dealt(fit.weight[row], draws, rng)
    # Draws of one temper lie side by side while they are made and are shuffled in the end.
    place = rng.permutation(draws)
    unknown = rng.standard_normal((draws, width + to_come), dtype=np.float32)
    unknown[:, width:] *= np.float32(np.sqrt(1.0 - SHARED))
    unknown[place, width:] += np.float32(np.sqrt(SHARED)) * common
    deviation = np.empty((len(fit.bases[0]) - past + back, draws), dtype=np.float32)
    end = 0
    for which in np.flatnonzero(number):
        mine = slice(end, end + int(number[which]))
        end = mine.stop
        unknown[mine, :width] = fit.posteriors[which].draw_own(row, unknown[mine, :width])
        basis = fit.bases[which][past - back :, kept].astype(np.float32)
        deviation[:, mine] = basis @ unknown[mine, CURVE:].T
    deviation = deviation[:, place]
    e = fit.evidence
    theta = e.prior_mean[row] + e.prior_sd[row] * unknown[:, :CURVE]
    size = np.repeat([noise.size[row] for noise in fit.noises], number)
    keep = np.repeat([noise.keep[row] for noise in fit.noises], number)
    return _Drawn(
        theta=theta[place],
        past=deviation[:back],
        coming=deviation[back:],
        size=size[place],
        keep=keep[place].astype(np.float32),
    )


def _dealt(weight: Array, draws: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Deal draws out over tempers in proportion to their weights; return how many each has."""
    marks = (np.arange(draws) + rng.random()) / draws
    chosen = np.searchsorted(np.cumsum(weight), marks * weight.sum())
    return np.bincount(np.minimum(chosen, len(weight) - 1), minlength=len(weight))


def _bearing(theta: Array, heat: NDArray[np.floating], share: NDArray[np.floating]) -> Single:
    """Return rates relative to full bearing (days, draws), by plantings' heat and shares."""
    h1, h2, s1, s2 = (x.astype(np.float32) for x in curve_of(theta))
    low, high = np.float32(-40.0), np.float32(40.0)
    total: Single = np.zeros((1, 1), dtype=np.float32)
    for h, part in zip(heat, share, strict=True):
        rise = np.exp(np.clip((h1 - h) / s1, low, high))
        fall = np.exp(np.clip((h - h2) / s2, low, high))
        total = total + part / ((1.0 + rise) * (1.0 + fall))
    return total


def _ready_now(fit: Fit, row: int, back: int, drawn: _Drawn) -> Single:
    """Return what hangs ripe on the last evening in each draw (draws,), in kg."""
    e, noise = fit.evidence, fit.noises[0]
    share = e.share[row][:, -back:].astype(np.float32)
    used = np.flatnonzero(share.any(axis=1))
    heat = e.heat[row][used][:, -back:, None].astype(np.float32)
    warmth = e.log_warmth[row, -back:, None].astype(np.float32)
    rate = _bearing(drawn.theta, heat, share[used][..., None]) * np.exp(
        drawn.theta[:, 0].astype(np.float32) + warmth + drawn.past
    )
    picked, left = e.picked[row, -back:] > 0, np.float32(noise.left[row])
    now = rate[0]
    for day in range(1, back):
        now = (left if picked[day - 1] else drawn.keep) * now + rate[day]
    return now * left if picked[-1] else now


def _rates_ahead(s: Series, drawn: _Drawn, ahead: _Ahead) -> Single:
    """Rates of becoming ready (days, draws) of one series."""
    alive = s.share[:, -1] > 0
    now = s.heat[alive, -1].astype(np.float32)
    rate = _bearing(
        drawn.theta, ahead.heat + now[:, None, None], s.share[alive, -1].astype(np.float32)
    )
    rate = rate * np.exp(drawn.theta[:, 0].astype(np.float32) + ahead.log_warmth + drawn.coming)
    return rate * _below_ceiling(s, rate)


def _below_ceiling(s: Series, rate: Single) -> Single:
    """Return the factor (draws,) that keeps what ripens below what the plants can bear.

    A season's ceiling, spread evenly over the almanac's shortest time of picking. What was picked
    already overrules the almanac: as much again is always possible. Without a number of plants
    there is no ceiling.
    """
    if not np.isfinite(s.plants):
        return np.ones(rate.shape[1], dtype=np.float32)
    once = s.facts.habit in ("determinate", "once_over")
    season = (CEILING_ONCE if once else CEILING) * s.facts.yield_kg_per_plant[1] * s.plants
    part = min(1.0, len(rate) / (7.0 * s.facts.picking_weeks[0]))
    picked = float(np.nansum(s.mass))
    room = max(min(season * part, season - picked), picked, 1e-9)
    total = rate.sum(axis=0, dtype=float)
    return ((1.0 + (total / room) ** BEND) ** (-1.0 / BEND)).astype(np.float32)
