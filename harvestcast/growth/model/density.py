"""What a season's log says of a series, given its curve and its deviations.

A series is one variety in one season. What is unknown of it is a short vector of standard
normals ``u``: five for the curve (:data:`harvestcast.growth.model.curve.PARAMETERS`, each its
prior mean plus its prior spread times ``u``) and one per knot of the slowly mean-reverting
deviation from the curve. Everything a day's log says depends on ``u`` only through the log of
what hangs ripe:

    ready(t) = kept(t) * ready(t-1) + exp(log rate(t))

where ``kept`` is the share left behind by a pick, or what does not spoil in a day without one.
:func:`look_around` gives the log posterior of many rows at once, its slope and its curvature; rows
are series under one noise level each. Its arrays run over days first, so that the sweep through
the season handles all rows of a day in one stretch of memory. Tests hold it against the density
written down plainly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, gammaln

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.model.curve import (
    CURVE,
    Derivatives,
    bearing,
    curve_of,
    derivatives,
    summed_bends,
)

EVEN_DAYS, MOST_EVEN, EVEN_POWER = 3.0, 10.0, 0.6
"""Days a pick gathers for its unevenness to be that of the noise's size, the most that count, and
the power of their number by which picks get more even: what becomes ready on a day is uneven partly
by itself, so more days together are less so (1 if it were wholly so)."""
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
    gathered : ndarray (n, days)
        By how much more even a pick is than one after :data:`EVEN_DAYS` days, for it gathers what
        became ready on more of them.
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
    gathered: Array
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
            gathered=self.gathered[rows],
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
        Size of the negative binomial of a pick (small is overdispersed) that gathers two days.
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


def evenness(wait: NDArray[Any]) -> NDArray[Any]:
    """Return by how much more even a pick is after so many days than after three.

    Examples
    --------
    >>> evenness(np.array([1.0, 3.0, 7.0, 30.0])).round(2).tolist()
    [0.52, 1.0, 1.66, 2.06]
    """
    days = np.minimum(wait, MOST_EVEN) / EVEN_DAYS
    return (days**EVEN_POWER).astype(wait.dtype)


def waits(picked: Array) -> Array:
    """Return how many days ago each series was picked last, for each day (n, days).

    Before its first pick nothing says how much hangs together: as after :data:`MOST_EVEN` days.

    Examples
    --------
    >>> waits(np.array([[np.nan, 1.0, np.nan, 2.0, np.nan]])).tolist()
    [[10.0, 10.0, 1.0, 2.0, 1.0]]
    """
    day = np.arange(picked.shape[1], dtype=float)
    last = np.maximum.accumulate(np.where(picked > 0, day, -np.inf), axis=1)
    out = np.full(picked.shape, MOST_EVEN)
    out[:, 1:] = np.minimum(day[1:] - last[:, :-1], MOST_EVEN)
    return out


def rates(evidence: Evidence, u: Array) -> Array:
    """Return the rate of becoming ready of each series (n, days), in kg a day."""
    theta = evidence.prior_mean + evidence.prior_sd * u[:, :CURVE]
    share = evidence.share * bearing(curve_of(theta[:, None, None]), evidence.heat)
    total = share.sum(axis=1) + TINY
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
    size = noise.size[:, None] * evidence.gathered
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Rows of one chunk; days first. Plantings of all rows lie side by side."""

    heat: Array  # (days, plantings)
    share: Array
    first: Index  # (rows,) where a row's plantings begin
    owner: Index  # (plantings,)
    warmth: Array  # (days, rows)
    kept: Array
    number: Array
    picked: Flags
    zero: Flags | None
    came: Array
    prior_mean: Array  # (rows, 5)
    prior_sd: Array
    knots: Array  # (days, rows, knots)
    size: Array  # (days, rows)
    per_kg: Array  # (rows,)
    want: Array
    zeal: Array
    look: Array
    fixed: Array  # what the terms of a row leave out

    def at(self, rows: Index) -> Rows:
        """Return some of the rows."""
        own = np.isin(self.owner, rows)
        count = np.bincount(self.owner, minlength=len(self.first))[rows]
        return Rows(
            heat=self.heat[:, own],
            share=self.share[:, own],
            first=np.cumsum(count) - count,
            owner=np.repeat(np.arange(len(rows)), count),
            warmth=self.warmth[:, rows],
            kept=self.kept[:, rows],
            number=self.number[:, rows],
            picked=self.picked[:, rows],
            zero=None if self.zero is None else self.zero[:, rows],
            came=self.came[:, rows],
            prior_mean=self.prior_mean[rows],
            prior_sd=self.prior_sd[rows],
            knots=self.knots[:, rows],
            per_kg=self.per_kg[rows],
            size=self.size[:, rows],
            want=self.want[rows],
            zeal=self.zeal[rows],
            look=self.look[rows],
            fixed=self.fixed[rows],
        )


class Place(NamedTuple):
    """Where each row stands: log posterior, its slope and its curvature."""

    value: Array
    slope: Array
    curvature: Array


def rows_of(
    evidence: Evidence,
    noises: Sequence[Noise],
    bases: Sequence[Array],
    series: Index,
    span: int,
    knots: int,
) -> Rows:
    """Return the rows of some series under every noise level, one after the other.

    Parameters
    ----------
    evidence : Evidence
    noises : sequence of Noise
        One per noise level.
    bases : sequence of ndarray (days, knots)
        Deviation per day and knot under each noise level.
    series : ndarray of int
        Which series.
    span, knots : int
        How many days, back from the last one, and how many knots they reach.
    """
    times = len(noises)
    since = evidence.picked.shape[1] - span
    share = evidence.share[series][..., since:]
    used = np.asarray(share.any(axis=2))
    used[:, 0] = True
    count = np.tile(used.sum(axis=1), times)
    picked = evidence.picked[series][:, since:]
    number = np.nan_to_num(picked) / evidence.unit[series, None]
    zero = picked == 0
    noise = [one.at(series) for one in noises]
    kept = np.concatenate([kept_share(picked, one.left, one.keep) for one in noise])
    left = np.concatenate([one.left for one in noise])
    zeal = np.concatenate([one.zeal for one in noise])
    unit, usual = np.tile(evidence.unit[series], times), np.tile(evidence.usual[series], times)

    def days_first(values: Array) -> Array:
        return np.ascontiguousarray(np.tile(values, (times, 1)).T)

    number = days_first(number)
    size = days_first(evidence.gathered[series][:, since:])
    size *= np.concatenate([one.size for one in noise])
    look = np.concatenate([one.look for one in noise])
    return Rows(
        heat=days_first(evidence.heat[series][..., since:][used]),
        share=days_first(share[used]),
        first=np.cumsum(count) - count,
        owner=np.repeat(np.arange(len(count)), count),
        warmth=days_first(evidence.log_warmth[series][:, since:]),
        kept=np.ascontiguousarray(kept.T),
        number=number,
        picked=number > 0,
        zero=np.tile(zero, (times, 1)).T if zero.any() else None,
        came=days_first(evidence.came[series][:, since:]),
        prior_mean=np.tile(evidence.prior_mean[series], (times, 1)),
        prior_sd=np.tile(evidence.prior_sd[series], (times, 1)),
        knots=np.repeat(
            np.stack([basis[since : since + span, :knots] for basis in bases], axis=1),
            len(series),
            axis=1,
        ),
        per_kg=(1.0 - left) / unit,
        size=size,
        want=np.concatenate([one.ease for one in noise]) - zeal * np.log(usual),
        zeal=zeal,
        look=look,
        fixed=constant(number, number > 0, size, look).sum(axis=0),
    )


def side_by_side(parts: Sequence[Rows]) -> Rows:
    """Return the rows of several chunks as those of one.

    Days before a row's own, and knots beyond them, say nothing of it.
    """
    zero = None
    if any(part.zero is not None for part in parts):
        zero = _by_day([np.zeros_like(p.picked) if p.zero is None else p.zero for p in parts])
    plantings = np.cumsum([0, *(len(part.owner) for part in parts[:-1])])
    rows = np.cumsum([0, *(len(part.first) for part in parts[:-1])])
    return Rows(
        heat=_by_day([p.heat for p in parts]),
        share=_by_day([p.share for p in parts]),
        first=np.concatenate([p.first + begin for p, begin in zip(parts, plantings, strict=True)]),
        owner=np.concatenate([p.owner + begin for p, begin in zip(parts, rows, strict=True)]),
        warmth=_by_day([p.warmth for p in parts]),
        kept=_by_day([p.kept for p in parts]),
        number=_by_day([p.number for p in parts]),
        picked=_by_day([p.picked for p in parts]),
        zero=zero,
        came=_by_day([p.came for p in parts]),
        prior_mean=np.concatenate([p.prior_mean for p in parts]),
        prior_sd=np.concatenate([p.prior_sd for p in parts]),
        knots=_by_day([p.knots for p in parts]),
        per_kg=np.concatenate([p.per_kg for p in parts]),
        size=_by_day([p.size for p in parts], blank=1.0),
        want=np.concatenate([p.want for p in parts]),
        zeal=np.concatenate([p.zeal for p in parts]),
        look=np.concatenate([p.look for p in parts]),
        fixed=np.concatenate([p.fixed for p in parts]),
    )


def _by_day(parts: Sequence[NDArray[Any]], blank: float = 0.0) -> NDArray[Any]:
    """Join arrays of (days, rows, ...), ``blank`` on days and in columns one has not."""
    rows = [part.shape[1] for part in parts]
    most = np.max([part.shape for part in parts], axis=0)
    out = np.full((most[0], sum(rows), *most[2:]), blank, dtype=parts[0].dtype)
    for part, end in zip(parts, np.cumsum(rows), strict=True):
        own = (slice(most[0] - len(part), None), slice(end - part.shape[1], end))
        out[*own, *(slice(width) for width in part.shape[2:])] = part
    return out


def look_around(rows: Rows, u: Array, near: Flags) -> Place:
    """Log posterior, slope and curvature of each row at ``u`` (rows, 5 + knots).

    The curvature is the true one for rows that are near the mode, else that of Gauss and Newton.
    """
    days, number = rows.warmth.shape
    theta = rows.prior_mean + rows.prior_sd * u[:, :CURVE]
    stand = _stand(rows, theta)
    deviation = (rows.knots.swapaxes(0, 1) @ u[:, CURVE:, None])[..., 0].T
    rate = stand.total * np.exp(theta[:, 0] + rows.warmth + deviation)
    by_u = np.empty((days, number, u.shape[1]))
    by_u[..., 0] = rows.prior_sd[:, 0]
    by_u[..., 1:CURVE] = stand.slopes * rows.prior_sd[:, 1:]
    by_u[..., CURVE:] = rows.knots
    grown = np.empty((days, number, u.shape[1] + 1))
    np.multiply(by_u, rate[..., None], out=grown[..., :-1])
    grown[..., -1] = rate
    spare = np.empty_like(grown[0])
    for before, now, kept in zip(grown[:-1], grown[1:], rows.kept[1:, :, None], strict=True):
        np.multiply(before, kept, out=spare)
        now += spare
    hanging, grown = grown[..., -1].copy(), grown[..., :-1]
    hanging += TINY
    said = _terms(rows, hanging)
    # What each day's rate has to do with all that was seen after it.
    pull = said.slope / hanging
    slack = np.empty_like(pull[0])
    for after, now, kept in zip(pull[:0:-1], pull[-2::-1], rows.kept[:0:-1], strict=True):
        np.multiply(after, kept, out=slack)
        now += slack
    pull *= rate
    weight = np.where(near, said.bend + said.slope, np.maximum(said.bend, 0.0)) / hanging**2
    by_row, grown_row = by_u.swapaxes(0, 1), grown.swapaxes(0, 1)
    slope = (by_row.swapaxes(1, 2) @ pull.T[..., None])[..., 0] - u
    curvature = grown_row.swapaxes(1, 2) @ (grown * weight[..., None]).swapaxes(0, 1)
    if near.any():
        pull *= near
        curvature -= by_row.swapaxes(1, 2) @ (by_u * pull[..., None]).swapaxes(0, 1)
        sd = rows.prior_sd[:, 1:]
        bends = _bends(rows, stand, pull)
        curvature[:, 1:CURVE, 1:CURVE] -= bends * sd[:, :, None] * sd[:, None]
    value = said.value.sum(axis=0) + rows.fixed - 0.5 * (u**2).sum(axis=1)
    return Place(value, slope, curvature + np.eye(u.shape[1]))


def _terms(rows: Rows, hanging: Array) -> Terms:
    return terms(
        hanging,
        rows.number,
        rows.picked,
        rows.zero,
        rows.came,
        rows.per_kg,
        rows.size,
        rows.want,
        rows.zeal,
        rows.look,
    )


class _Stand(NamedTuple):
    """Each row's curves, plantings added up, and the slopes of the log of their sum."""

    total: Array  # (days, rows)
    slopes: Array  # by the four parameters of shape (days, rows, 4)
    own: Derivatives  # of each planting
    part: Array  # each planting's part of the total (days, plantings)


def _stand(rows: Rows, theta: Array) -> _Stand:
    h1, h2, s1, s2 = (x[rows.owner] for x in curve_of(theta))
    own = derivatives((h1, h2, s1, s2), rows.heat)
    value = rows.share * own.bearing
    if len(rows.owner) == len(rows.first):
        total = value + TINY
        part = value / total
        slopes = own.slopes * part[..., None]
    else:
        total = np.add.reduceat(value, rows.first, axis=1) + TINY
        part = value / total[:, rows.owner]
        slopes = np.add.reduceat(part[..., None] * own.slopes, rows.first, axis=1)
    return _Stand(total, slopes, own, part)


def _bends(rows: Rows, stand: _Stand, pull: Array) -> Array:
    """Return the second derivatives of the log of the sums by their shape, summed with ``pull``."""
    v = pull[:, rows.owner] * stand.part
    out = summed_bends(stand.own, v)
    own = stand.own.slopes.swapaxes(0, 1)
    out += own.swapaxes(1, 2) @ (stand.own.slopes * v[..., None]).swapaxes(0, 1)
    if len(rows.owner) > len(rows.first):
        out = np.add.reduceat(out, rows.first, axis=0)
    return out - stand.slopes.swapaxes(0, 1).swapaxes(1, 2) @ (
        stand.slopes * pull[..., None]
    ).swapaxes(0, 1)
