"""The log posterior of many rows at once, its slope and its curvature.

Rows are series under one temper each. Arrays run over days first, so that the sweep through the
season handles all rows of a day in one stretch of memory. The density is that of
:func:`harvestcast.growth.model.likelihood.log_posterior`; tests hold the two against each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.model.curve import curve_of
from harvestcast.growth.model.likelihood import (
    CURVE,
    TINY,
    Evidence,
    Noise,
    Terms,
    constant,
    kept_share,
    terms,
)


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
    per_kg: Array  # (rows,)
    size: Array
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
            size=self.size[rows],
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
    """Return the rows of some series under every temper, one temper after the other.

    Parameters
    ----------
    evidence : Evidence
    noises : sequence of Noise
        One per temper.
    bases : sequence of ndarray (days, knots)
        Deviation per day and knot under each temper.
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

    number, size = days_first(number), np.concatenate([one.size for one in noise])
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
        size=np.concatenate([p.size for p in parts]),
        want=np.concatenate([p.want for p in parts]),
        zeal=np.concatenate([p.zeal for p in parts]),
        look=np.concatenate([p.look for p in parts]),
        fixed=np.concatenate([p.fixed for p in parts]),
    )


def _by_day(parts: Sequence[NDArray[Any]]) -> NDArray[Any]:
    """Join arrays of (days, rows, ...), zeros on days and in columns one has not."""
    rows = [part.shape[1] for part in parts]
    most = np.max([part.shape for part in parts], axis=0)
    out = np.zeros((most[0], sum(rows), *most[2:]), dtype=parts[0].dtype)
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
    curve = _curve(rows, theta)
    deviation = (rows.knots.swapaxes(0, 1) @ u[:, CURVE:, None])[..., 0].T
    rate = curve.total * np.exp(theta[:, 0] + rows.warmth + deviation)
    by_u = np.empty((days, number, u.shape[1]))
    by_u[..., 0] = rows.prior_sd[:, 0]
    by_u[..., 1:CURVE] = curve.slopes * rows.prior_sd[:, 1:]
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
        bends = _bends(rows, curve, pull)
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


class _Curve(NamedTuple):
    """Each row's curve and what its slopes and bends are made of, (days, plantings) or as said."""

    total: Array  # (days, rows)
    slopes: Array  # of its log by the four parameters of shape (days, rows, 4)
    own: Array  # of each planting's log (days, plantings, 4)
    part: Array  # each planting's part of the total
    rise: Array
    fall: Array
    p1: Array
    p2: Array
    by_rise: Array  # (plantings,)
    by_fall: Array
    edge: Array


def _curve(rows: Rows, theta: Array) -> _Curve:
    h1, h2, s1, s2 = (x[rows.owner] for x in curve_of(theta))
    rise, fall = (rows.heat - h1) / s1, (h2 - rows.heat) / s2
    up, down = np.exp(np.minimum(rise, 60.0)), np.exp(np.minimum(fall, 60.0))
    p1, p2 = 1.0 / (1.0 + up), 1.0 / (1.0 + down)
    value = rows.share * up * p1 * down * p2
    by_rise, by_fall, edge = h1 / s1, h1 / s2, (h2 - h1) / s2
    own = np.empty((*rise.shape, 4))
    own[..., 0] = by_fall * p2 - by_rise * p1
    own[..., 2], own[..., 3] = -p1 * rise, -p2 * fall
    own[..., 1] = edge * p2 + own[..., 2] + own[..., 3]
    if len(rows.owner) == len(rows.first):
        total = value + TINY
        part = value / total
        slopes = own * part[..., None]
    else:
        total = np.add.reduceat(value, rows.first, axis=1) + TINY
        part = value / total[:, rows.owner]
        slopes = np.add.reduceat(part[..., None] * own, rows.first, axis=1)
    return _Curve(total, slopes, own, part, rise, fall, p1, p2, by_rise, by_fall, edge)


def _bends(rows: Rows, curve: _Curve, pull: Array) -> Array:
    """Return the second derivatives of the log curves by their shape, summed with ``pull``.

    With ``v`` the pull on a planting's log curve ``-softplus(-rise) - softplus(-fall)`` these are
    sums of ``v p rise''`` and ``v p (1 - p) rise' rise'``, and the same of the fall.
    """
    v = pull[:, rows.owner] * curve.part
    a, b = v * curve.p1, v * curve.p2
    a2, b2 = a * (1.0 - curve.p1), b * (1.0 - curve.p2)
    rise, fall = curve.rise, curve.fall
    g, k, e = curve.by_rise, curve.by_fall, curve.edge
    s, s_rise = a.sum(axis=0), (a * rise).sum(axis=0)
    t0, t1, t2 = a2.sum(axis=0), (a2 * rise).sum(axis=0), (a2 * rise**2).sum(axis=0)
    w, w_fall = b.sum(axis=0), (b * fall).sum(axis=0)
    u0, u1, u2 = b2.sum(axis=0), (b2 * fall).sum(axis=0), (b2 * fall**2).sum(axis=0)
    out = np.zeros((len(g), 4, 4))
    out[:, 0, 0] = -g * s - g**2 * t0 + k * w - k**2 * u0
    out[:, 0, 2] = g * s - g * t1
    out[:, 0, 3] = -k * w + k * u1
    out[:, 0, 1] = out[:, 0, 2] - k * w - k * (e * u0 - u1)
    out[:, 1, 2] = out[:, 2, 2] = s_rise - t2
    out[:, 3, 3] = w_fall - u2
    out[:, 1, 3] = out[:, 3, 3] - e * w + e * u1
    out[:, 1, 1] = out[:, 1, 2] + w_fall - e * w - (e**2 * u0 - 2 * e * u1 + u2)
    for low, high in ((0, 1), (0, 2), (0, 3), (1, 2), (1, 3)):
        out[:, high, low] = out[:, low, high]
    own = curve.own.swapaxes(0, 1)
    out += own.swapaxes(1, 2) @ (curve.own * v[..., None]).swapaxes(0, 1)
    if len(rows.owner) > len(rows.first):
        out = np.add.reduceat(out, rows.first, axis=0)
    return out - curve.slopes.swapaxes(0, 1).swapaxes(1, 2) @ (
        curve.slopes * pull[..., None]
    ).swapaxes(0, 1)
