"""What a season's log says of a series, given its curve and its deviations.

A series is one variety in one season. What is unknown of it is a short vector of standard
normals ``u``: five for the curve (:data:`harvestcast.growth.model.curve.PARAMETERS`, each its
prior mean
plus its prior spread times ``u``) and one per knot of the slowly mean-reverting deviation from the
curve. Everything a day's log says depends on ``u`` only through the log of what hangs ripe:

    ready(t) = kept(t) * ready(t-1) + exp(log rate(t))

where ``kept`` is the share left behind by a pick, or what does not spoil in a day without one.
The density is written down plainly here; :mod:`harvestcast.growth.model.newton` finds its mode
fast.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri
from scipy.special import gammaln

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.model.curve import curve_of, expit

CURVE = 5
"""Number of curve parameters at the head of ``u``."""
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

    def at(self, rows: Index) -> Evidence:
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Noise:
    """Settings of the noise, one number a series (arrays of shape (n,)).

    Parameters
    ----------
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

    size: Array
    left: Array
    keep: Array
    look: Array
    ease: Array
    zeal: Array

    def at(self, rows: Index) -> Noise:
        """Return the noise of some series."""
        return Noise(
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
    distance : ndarray (n,)
        How far the last Newton step led, in posterior spreads; the mode is nearer than that.
    knots : ndarray (n,)
        Knots that a series' own days reach; the others keep their prior.
    steps : int
        Newton steps taken.
    """

    mode: Array
    precision: Array
    log_evidence: Array
    distance: Array
    knots: Index
    steps: int

    def draw_one(self, row: int, normals: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return draws of ``u`` of one series from standard normals (draws, 5 + knots)."""
        width = CURVE + int(self.knots[row])
        out = np.array(normals)
        out[:, :width] = self.draw_own(row, normals[:, :width])
        return out

    def draw_own(self, row: int, normals: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return draws of the unknowns that a series' own days reach (draws, 5 + own knots)."""
        width = CURVE + int(self.knots[row])
        # Straight to LAPACK: numpy's checks take longer than matrices as small as these.
        root = dpotrf(self.precision[row, :width, :width], lower=1, clean=1)[0]
        way = dtrtri(root, lower=1)[0]
        own: NDArray[np.floating] = normals @ way.astype(normals.dtype)
        return own + self.mode[row, :width].astype(normals.dtype)


class Terms(NamedTuple):
    """What a day's log says, and its slope and curvature by log ready."""

    value: Array
    slope: Array
    bend: Array


def kept_share(picked: Array, left: Array, keep: Array) -> Array:
    """Return the share of yesterday's ripe fruit still hanging each day (n, days)."""
    kept = np.repeat(keep[:, None], picked.shape[1], axis=1)
    kept[:, 1:] = np.where(picked[:, :-1] > 0, left[:, None], kept[:, 1:])
    return kept


def rates(evidence: Evidence, u: Array) -> Array:
    """Return the rate of becoming ready of each series (n, days), in kg a day."""
    theta = evidence.prior_mean + evidence.prior_sd * u[:, :CURVE]
    h1, h2, s1, s2 = (x[:, None, None] for x in curve_of(theta))
    rise = np.exp(np.clip((h1 - evidence.heat) / s1, -60.0, 60.0))
    fall = np.exp(np.clip((evidence.heat - h2) / s2, -60.0, 60.0))
    total = (evidence.share / ((1.0 + rise) * (1.0 + fall))).sum(axis=1) + TINY
    deviation = u[:, CURVE:] @ evidence.knots.T
    return total * np.exp(theta[:, :1] + evidence.log_warmth + deviation)


def ready(rate: Array, kept: Array) -> Array:
    """Return what hangs ripe each day before picking, by rates and ``kept`` (..., days)."""
    hanging = np.empty_like(rate)
    now = np.zeros(rate.shape[:-1])
    for day in range(rate.shape[-1]):
        now = kept[..., day] * now + rate[..., day]
        hanging[..., day] = now
    return hanging


def pick_chance(evidence: Evidence, noise: Noise, hanging: Array) -> Array:
    """Return the probability that a look brings a pick, given what hangs ripe (n, days)."""
    size = noise.size[:, None]
    mean = hanging * ((1.0 - noise.left) / evidence.unit)[:, None] + TINY
    ratio = np.log((hanging + TINY) / evidence.usual[:, None])
    want = expit(noise.ease[:, None] + noise.zeal[:, None] * ratio)
    return -want * np.expm1(size * np.log(size / (mean + size)))


def terms(
    hanging: Array,
    number: Array,
    picked: Flags,
    zero: Flags | None,
    came: Array,
    per_kg: Array,
    size: Array,
    want: Array,
    zeal: Array,
    look: Array,
) -> Terms:
    """Return what each day's log says, but for constants (:func:`constant`).

    Parameters
    ----------
    hanging : ndarray
        What hangs ripe; the shapes of all others broadcast against it. [kg]
    number : ndarray
        Pieces picked; 0 without a pick.
    picked, zero : ndarray of bool
        Days with a pick, and with a written zero (None where there are no zeros at all).
    came : ndarray
        As in :class:`Evidence`.
    per_kg : ndarray
        Pieces expected to be picked of each kilogram that hangs.
    size, zeal, look : ndarray
        As in :class:`Noise`.
    want : ndarray
        Log odds of a pick on a look where one kilogram hangs.
    """
    mean = hanging * per_kg + TINY
    share = mean / (mean + size)
    rest = size / (mean + size)
    log_ripe = np.log(hanging)
    # expit(x) and its complement; log of both from one exponential
    odds_against = np.exp(-np.clip(want + zeal * log_ripe, -40.0, 40.0))
    p = 1.0 / (1.0 + odds_against)
    q = odds_against * p
    log_rest = np.log(rest)
    # A look that would have been a pick finds a piece at least: else nothing is written down.
    some = -np.expm1(size * log_rest)
    none = 1.0 - some
    miss = np.minimum(came * look * p * some, 1.0 - 1e-9)
    hope = miss / (1.0 - miss)
    found = size * share * none / some
    pull = zeal * q + found  # slope of the log of ``miss``
    log_share = log_ripe + np.log(per_kg / size) + log_rest
    value = np.where(picked, number * log_share + size * log_rest, 0.0)
    value += np.log(np.where(picked, p, 1.0 - miss))
    slope = np.where(picked, number - (number + size) * share + zeal * q, -hope * pull)
    bend = np.where(
        picked,
        (number + size) * share * rest + zeal**2 * p * q,
        hope * ((1.0 + hope) * pull**2 - zeal**2 * p * q + found * (rest - size * share / some)),
    )
    if zero is not None:  # somebody looked and wrote 0: none ripe, if they looked at all
        like = np.maximum(1.0 - came + came * none, 1e-300)
        weight = came * none / like
        value = np.where(zero, np.log(like), value)
        slope = np.where(zero, -weight * size * share, slope)
        bend = np.where(zero, weight * size * share * (rest - (1.0 - weight) * size * share), bend)
    return Terms(value, slope, bend)


def constant(number: Array, picked: Flags, size: Array, look: Array) -> Array:
    """Return what :func:`terms` leaves out, per day."""
    amount = gammaln(number + size) - gammaln(size) - gammaln(number + 1.0) + np.log(look)
    return np.where(picked, amount, 0.0)


def log_posterior(evidence: Evidence, noise: Noise, u: Array) -> Array:
    """Return the log posterior of each series up to a constant of the prior (n,)."""
    rate = rates(evidence, u)
    hanging = ready(rate, kept_share(evidence.picked, noise.left, noise.keep)) + TINY
    number = np.nan_to_num(evidence.picked) / evidence.unit[:, None]
    picked, zero = number > 0, evidence.picked == 0
    size, look = noise.size[:, None], noise.look[:, None]
    said = terms(
        hanging,
        number,
        picked,
        zero,
        evidence.came,
        ((1.0 - noise.left) / evidence.unit)[:, None],
        size,
        (noise.ease - noise.zeal * np.log(evidence.usual))[:, None],
        noise.zeal[:, None],
        look,
    )
    value = said.value + constant(number, picked, size, look)
    return value.sum(axis=1) - 0.5 * (u**2).sum(axis=1)
