"""The posterior of many series at once: Newton steps to the mode, then its curvature.

A series is one variety in one season. What is unknown of it is a short vector of standard
normals ``u``: five for the curve (:data:`harvestcast.growth.curve.PARAMETERS`, each its prior mean
plus its prior spread times ``u``) and one per knot of the slowly mean-reverting deviation from the
curve. Everything a day's log says depends on ``u`` only through the log of what hangs ripe:

    ready(t) = kept(t) * ready(t-1) + exp(log rate(t))

where ``kept`` is the share left behind by a pick, or what does not spoil in a day without one.
The steps are Gauss-Newton (no second derivatives of log ready), so the curvature is always
positive definite; all series take their steps together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.special import gammaln

from harvestcast.growth.curve import expit, log_curve_slopes, softplus

Array = NDArray[np.float64]

CURVE = 5
"""Number of curve parameters at the head of ``u``."""
LONGEST_STEP = 2.0
"""Longest Newton step, in prior spreads."""
TINY = 1e-12
"""Floor of masses inside logarithms. [kg]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What is known of ``n`` series over the same ``days`` days.

    Parameters
    ----------
    heat : ndarray (n, plantings, days)
        Heat since each planting. [degC d]
    share : ndarray (n, plantings, days)
        Share of the variety's plants standing in each planting that day; 0 where none.
    log_warmth : ndarray (n, days)
        Log of the heat a day's ripening draws on. [log degC d]
    picked : ndarray (n, days)
        Mass picked; NaN on days without a row, 0 where looked and found none. [kg]
    came : ndarray (n, days)
        Probability that somebody was there on a day without a row; on a day with a written zero,
        that it means looked and found none.
    unit : ndarray (n,)
        Mass of one fruit, the grain of the counts. [kg]
    usual : ndarray (n,)
        A usual pick, the scale of the decision to pick. [kg]
    prior_mean, prior_sd : ndarray (n, 5)
        Prior of the curve.
    knots : ndarray (days, knots)
        Deviation of each day per knot, for a deviation of unit spread (whitened).
    """

    heat: Array
    share: Array
    log_warmth: Array
    picked: Array
    came: Array
    unit: Array
    usual: Array
    prior_mean: Array
    prior_sd: Array
    knots: Array

    def at(self, rows: NDArray[np.int64]) -> Evidence:
        """Return the evidence of some series."""
        return Evidence(
            heat=self.heat[rows],
            share=self.share[rows],
            log_warmth=self.log_warmth[rows],
            picked=self.picked[rows],
            came=self.came[rows],
            unit=self.unit[rows],
            usual=self.usual[rows],
            prior_mean=self.prior_mean[rows],
            prior_sd=self.prior_sd[rows],
            knots=self.knots,
        )

    def since(self, day: int) -> Evidence:
        """Return the evidence from a day on."""
        return Evidence(
            heat=self.heat[..., day:],
            share=self.share[..., day:],
            log_warmth=self.log_warmth[:, day:],
            picked=self.picked[:, day:],
            came=self.came[:, day:],
            unit=self.unit,
            usual=self.usual,
            prior_mean=self.prior_mean,
            prior_sd=self.prior_sd,
            knots=self.knots[day:],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Noise:
    """Settings of the noise, one number a series (arrays of shape (n,)).

    Parameters
    ----------
    spread : ndarray
        Standard deviation of the log deviation from the curve.
    size : ndarray
        Size of the negative binomial of a pick (small is overdispersed).
    left : ndarray
        Share of the ripe fruit a pick leaves behind.
    keep : ndarray
        Share of unpicked ripe fruit still there a day later.
    look : ndarray
        Probability that the variety is looked at on a garden day.
    ease, zeal : ndarray
        A look leads to a pick with probability ``expit(ease + zeal * log(ready / usual))``.
    """

    spread: Array
    size: Array
    left: Array
    keep: Array
    look: Array
    ease: Array
    zeal: Array

    def at(self, rows: NDArray[np.int64]) -> Noise:
        """Return the noise of some series."""
        return Noise(
            spread=self.spread[rows],
            size=self.size[rows],
            left=self.left[rows],
            keep=self.keep[rows],
            look=self.look[rows],
            ease=self.ease[rows],
            zeal=self.zeal[rows],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posterior:
    """Gaussian approximation of ``u`` of each series.

    Parameters
    ----------
    mode : ndarray (n, 5 + knots)
    precision : ndarray (n, 5 + knots, 5 + knots)
    log_evidence : ndarray (n,)
        Log marginal likelihood by Laplace's approximation.
    gradient : ndarray (n,)
        Largest absolute slope of the log posterior at the mode.
    steps : int
        Newton steps taken.
    """

    mode: Array
    precision: Array
    log_evidence: Array
    gradient: Array
    steps: int

    def draw(self, normals: Array) -> Array:
        """Return draws of ``u`` from standard normals of shape (n, draws, 5 + knots)."""
        return np.stack([self.draw_one(row, z) for row, z in enumerate(normals)])

    def draw_one(self, row: int, normals: Array) -> Array:
        """Return draws of ``u`` of one series from standard normals (draws, 5 + knots)."""
        lower = np.linalg.cholesky(self.precision[row])
        return self.mode[row] + solve_triangular(lower, normals.T, lower=True, trans=1).T


def kept_share(evidence: Evidence, noise: Noise) -> Array:
    """Return the share of yesterday's ripe fruit still hanging each day (n, days)."""
    kept = np.repeat(noise.keep[:, None], evidence.picked.shape[1], axis=1)
    picked_before = np.zeros_like(kept, dtype=bool)
    picked_before[:, 1:] = evidence.picked[:, :-1] > 0
    return np.where(picked_before, noise.left[:, None], kept)


def log_rate(evidence: Evidence, noise: Noise, u: Array) -> tuple[Array, Array]:
    """Return the log rate of becoming ready (n, days) and its slopes (n, days, u)."""
    theta = evidence.prior_mean + evidence.prior_sd * u[:, :CURVE]
    value, slopes = log_curve_slopes(evidence.heat, theta[:, None, :])
    weighted = evidence.share * np.exp(value)
    total = weighted.sum(axis=1) + TINY
    by_shape = (weighted[..., None] * slopes).sum(axis=1) / total[..., None]
    deviation = noise.spread[:, None] * (u[:, CURVE:] @ evidence.knots.T)
    log = theta[:, :1] + evidence.log_warmth + np.log(total) + deviation
    n, days = log.shape
    by_u = np.empty((n, days, u.shape[1]))
    by_u[..., 0] = evidence.prior_sd[:, None, 0]
    by_u[..., 1:CURVE] = by_shape * evidence.prior_sd[:, None, 1:]
    by_u[..., CURVE:] = noise.spread[:, None, None] * evidence.knots[None]
    return log, by_u


def ready(log: Array, kept: Array) -> Array:
    """Return what hangs ripe each day before picking, by ``kept`` and log rates (..., days)."""
    rate = np.exp(log)
    hanging = np.empty_like(rate)
    now = np.zeros(rate.shape[:-1])
    for day in range(rate.shape[-1]):
        now = kept[..., day] * now + rate[..., day]
        hanging[..., day] = now
    return hanging


def _ready_with_slopes(log: Array, by_u: Array, kept: Array) -> tuple[Array, Array]:
    rate = np.exp(log)
    hanging = np.empty_like(rate)
    grow = by_u * rate[..., None]
    now = np.zeros(rate.shape[0])
    slope = np.zeros((rate.shape[0], by_u.shape[-1]))
    for day in range(rate.shape[1]):
        now = kept[:, day] * now + rate[:, day]
        slope = kept[:, day, None] * slope
        slope += grow[:, day]
        hanging[:, day] = now
        grow[:, day] = slope
    hanging += TINY
    grow /= hanging[..., None]
    return hanging, grow


def day_terms(evidence: Evidence, noise: Noise, hanging: Array) -> tuple[Array, Array, Array]:
    """Return log likelihood of each day, its slope and curvature by log ready (n, days)."""
    y = np.nan_to_num(evidence.picked)
    row = ~np.isnan(evidence.picked)
    size = noise.size[:, None]
    mean = (1.0 - noise.left[:, None]) * hanging / evidence.unit[:, None] + TINY
    number = y / evidence.unit[:, None]
    share = mean / (mean + size)
    amount = (
        gammaln(number + size)
        - gammaln(size)
        - gammaln(number + 1.0)
        + size * np.log1p(-share)
        + number * np.log(share)
    )
    amount_slope = (number - mean) * (1.0 - share)
    amount_bend = (number + size) * share * (1.0 - share)

    x = noise.ease[:, None] + noise.zeal[:, None] * np.log(hanging / evidence.usual[:, None])
    p = expit(x)
    zeal = noise.zeal[:, None]
    picked = row & (y > 0)
    zero = row & (y == 0)
    look = noise.look[:, None]
    miss = np.clip(evidence.came * look * p, 0.0, 1.0 - 1e-9)
    odds = miss * (1.0 - p) / (1.0 - miss)

    value = np.where(picked, amount + np.log(look) - softplus(-x), np.log1p(-miss))
    slope = np.where(picked, amount_slope + zeal * (1.0 - p), -zeal * odds)
    bend = np.where(
        picked,
        amount_bend + zeal**2 * p * (1.0 - p),
        np.maximum(zeal**2 * odds * (1.0 - 2.0 * p + odds), 0.0),
    )
    if zero.any():  # somebody looked and wrote 0: none ripe, if they looked at all
        none = np.exp(size * np.log1p(-share))
        seen = evidence.came
        like = 1.0 - seen + seen * none
        weight = seen * none / like
        value = np.where(zero, np.log(like), value)
        slope = np.where(zero, -weight * size * share, slope)
        bend = np.where(zero, weight * size * share * (1.0 - share), bend)
    return value, slope, bend


def log_posterior(evidence: Evidence, noise: Noise, u: Array) -> Array:
    """Return the log posterior of each series up to a constant (n,)."""
    log, _ = log_rate(evidence, noise, u)
    hanging = ready(log, kept_share(evidence, noise)) + TINY
    value, _, _ = day_terms(evidence, noise, hanging)
    return value.sum(axis=1) - 0.5 * (u**2).sum(axis=1)


def posterior(
    evidence: Evidence,
    noise: Noise,
    *,
    start: Array | None = None,
    most_steps: int = 60,
    tolerance: float = 1e-4,
) -> Posterior:
    """Find the mode of every series and the curvature there.

    Parameters
    ----------
    evidence, noise : Evidence, Noise
        The same number of series in both.
    start : ndarray (n, 5 + knots), optional
        Where to begin; the prior mean if left out.
    most_steps : int
        Newton steps at most.
    tolerance : float
        A series is done once no step improves its log posterior by more.

    Returns
    -------
    Posterior
    """
    n, width = evidence.picked.shape[0], CURVE + evidence.knots.shape[1]
    u = np.zeros((n, width)) if start is None else start.copy()
    value, gradient, curvature = _at(evidence, noise, u)
    damp = np.full(n, 1e-2)
    active = np.arange(n)
    step = 0
    while len(active) and step < most_steps:
        step += 1
        part, part_noise = evidence.at(active), noise.at(active)
        lift = damp[active, None, None] * np.eye(width)
        move = np.linalg.solve(curvature[active] + lift, gradient[active, :, None])[..., 0]
        # A long step leaves the region where the curve is anything like linear.
        longest = np.abs(move).max(axis=1, keepdims=True)
        move *= np.minimum(1.0, LONGEST_STEP / np.maximum(longest, 1e-9))
        trial = u[active] + move
        t_value, t_gradient, t_curvature = _at(part, part_noise, trial)
        gain = t_value - value[active]
        better = gain >= 0.0
        ok = active[better]
        u[ok], value[ok] = trial[better], t_value[better]
        gradient[ok], curvature[ok] = t_gradient[better], t_curvature[better]
        damp[active] = np.clip(damp[active] * np.where(better, 0.2, 8.0), 1e-6, 1e6)
        slope = np.abs(gradient[active]).max(axis=1)
        still = np.where(better, gain > tolerance, slope > tolerance) & (slope > tolerance)
        active = active[still & (damp[active] < 1e5)]
    _, log_det = np.linalg.slogdet(curvature)
    return Posterior(
        mode=u,
        precision=curvature,
        log_evidence=value - 0.5 * log_det,
        gradient=np.abs(gradient).max(axis=1) if n else np.zeros(0),
        steps=step,
    )


def _at(evidence: Evidence, noise: Noise, u: Array) -> tuple[Array, Array, Array]:
    log, by_u = log_rate(evidence, noise, u)
    hanging, slopes = _ready_with_slopes(log, by_u, kept_share(evidence, noise))
    value, slope, bend = day_terms(evidence, noise, hanging)
    total = value.sum(axis=1) - 0.5 * (u**2).sum(axis=1)
    gradient = np.einsum("nt,ntp->np", slope, slopes) - u
    root = np.sqrt(bend)[..., None] * slopes
    curvature = np.swapaxes(root, -1, -2) @ root + np.eye(u.shape[1])
    return total, gradient, curvature
