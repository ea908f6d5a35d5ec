"""The yield curve of one variety: how fast fruit becomes ready, against heat since planting.

The logarithm of the rate rises, runs level and falls with degree-days ``h``::

    log rate = log a - softplus(-(h - h1) / s1) - softplus(-(h2 - h) / s2)

``h1`` and ``h2`` are where the rate passes half its height, ``s1`` and ``s2`` how gently it
does so. A crop that comes all at once has ``h1`` and ``h2`` close together; one that bears until
frost has them far apart. The form is the product of two logistic curves in heat; the closest
published precedent is a logistic of cumulative strawberry yield in accumulated thermal sum (SciELO
S1807-86212021000100302, abstract read).

This is the formula's one home: whoever needs the rate, its slope or its curvature calls
:func:`bearing`, :func:`rate`, :func:`derivatives` and :func:`summed_bends`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from harvestcast.arrays import Array, Single

PARAMETERS: tuple[str, ...] = ("log_level", "log_h1", "log_span", "log_rise", "log_fall")
"""Parameters as they are fitted: log of the level (kg per degree-day at full bearing, all
plants), of ``h1``, of the span ``h2 - h1``, and of ``s1`` and ``s2`` as shares of the span."""
CURVE = len(PARAMETERS)
"""Number of parameters of a curve."""
SHAPE = CURVE - 1
"""Number of them that shape it; the first one is its level."""

SHARES: tuple[float, ...] = (0.10, 0.50, 0.90)
"""Shares of the season's harvest whose heat sums :func:`season_heat` gives."""
_MOST = 40.0
"""Exponents are held below: both together stay within single precision."""

CurveOf = tuple[NDArray[np.floating], ...]
"""``h1, h2, s1, s2``, each broadcasting against heat. [degC d]"""


def curve_of(theta: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """Return ``h1, h2, s1, s2`` of fitted parameters (last axis as :data:`PARAMETERS`)."""
    p = np.asarray(theta)
    h1, span = np.exp(p[..., 1]), np.exp(p[..., 2])
    return h1, h1 + span, span * np.exp(p[..., 3]), span * np.exp(p[..., 4])


class _Edges(NamedTuple):
    """How far heat is beyond each edge, in widths, and the odds against being inside it."""

    rise: NDArray[np.floating]
    fall: NDArray[np.floating]
    odds_rise: NDArray[np.floating]
    odds_fall: NDArray[np.floating]


def _edges(curve: CurveOf, heat: NDArray[np.floating]) -> _Edges:
    h1, h2, s1, s2 = curve
    rise, fall = (heat - h1) / s1, (h2 - heat) / s2
    return _Edges(rise, fall, np.exp(np.minimum(-rise, _MOST)), np.exp(np.minimum(-fall, _MOST)))


def bearing(curve: CurveOf, heat: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return the rate relative to full bearing.

    Parameters
    ----------
    curve : tuple of ndarray
        ``h1, h2, s1, s2`` (:func:`curve_of`); they broadcast against ``heat``. [degC d]
    heat : ndarray
        Heat since planting. [degC d]

    Returns
    -------
    ndarray
        0 to 1; in single precision where all arguments are.

    Examples
    --------
    >>> bearing((500.0, 1500.0, 30.0, 60.0), np.array([500, 800, 1500])).round(3)
    array([0.5, 1. , 0.5])
    """
    edges = _edges(curve, heat)
    share: NDArray[np.floating] = 1.0 / ((1.0 + edges.odds_rise) * (1.0 + edges.odds_fall))
    return share


def rate(theta: Array, heat: Array) -> Array:
    """Return the rate of curves at given heat, in kg per degree-day.

    Parameters
    ----------
    theta : ndarray (..., 5)
        As :data:`PARAMETERS`.
    heat : ndarray
        Heat since planting; broadcasts against ``theta[..., 0]``. [degC d]

    Examples
    --------
    >>> theta = np.log([0.02, 500.0, 1000.0, 0.03, 0.06])
    >>> rate(theta, np.array([500.0, 800.0, 1500.0])).round(3)
    array([0.01, 0.02, 0.01])
    """
    return np.asarray(np.exp(theta[..., 0]) * bearing(curve_of(theta), heat))


class Derivatives(NamedTuple):
    """Curves at some heat, and what the derivatives of their logs are made of.

    Arrays (days, curves) unless said; slopes are by the four parameters of shape.
    """

    bearing: Array
    slopes: Array
    """First derivatives of the log rate (days, curves, 4)."""
    edges: _Edges
    outside_rise: Array
    outside_fall: Array
    by_rise: Array
    """``h1 / s1``, ``h1 / s2`` and ``span / s2`` (curves,)."""
    by_fall: Array
    by_span: Array


def derivatives(curve: CurveOf, heat: Array) -> Derivatives:
    """Return curves and the slopes of their logs by the four parameters of shape.

    The slope by the first parameter, the log of the level, is 1.

    Parameters
    ----------
    curve : tuple of ndarray (curves,)
        ``h1, h2, s1, s2`` (:func:`curve_of`). [degC d]
    heat : ndarray (days, curves)
        Heat since planting. [degC d]
    """
    h1, h2, s1, s2 = curve
    edges = _edges(curve, heat)
    in_rise, in_fall = 1.0 / (1.0 + edges.odds_rise), 1.0 / (1.0 + edges.odds_fall)
    out_rise, out_fall = edges.odds_rise * in_rise, edges.odds_fall * in_fall
    by_rise, by_fall, by_span = h1 / s1, h1 / s2, (h2 - h1) / s2
    slopes = np.empty((*edges.rise.shape, SHAPE))
    slopes[..., 0] = by_fall * out_fall - by_rise * out_rise
    slopes[..., 2], slopes[..., 3] = -out_rise * edges.rise, -out_fall * edges.fall
    slopes[..., 1] = by_span * out_fall + slopes[..., 2] + slopes[..., 3]
    return Derivatives(
        in_rise * in_fall, slopes, edges, out_rise, out_fall, by_rise, by_fall, by_span
    )


def summed_bends(at: Derivatives, weight: Array) -> Array:
    """Return second derivatives of the log rate, weighted and summed over days (curves, 4, 4).

    Parameters
    ----------
    at : Derivatives
    weight : ndarray (days, curves)
        Weight of each day.

    Notes
    -----
    With ``v`` the weight of a day's ``-softplus(-rise) - softplus(-fall)`` these are sums of
    ``v p rise''`` and ``v p (1 - p) rise' rise'`` with ``p`` what is outside the edge, and the
    same of the fall.
    """
    a, b = weight * at.outside_rise, weight * at.outside_fall
    a2, b2 = a * (1.0 - at.outside_rise), b * (1.0 - at.outside_fall)
    rise, fall = at.edges.rise, at.edges.fall
    g, k, e = at.by_rise, at.by_fall, at.by_span
    s, s_rise = a.sum(axis=0), (a * rise).sum(axis=0)
    t0, t1, t2 = a2.sum(axis=0), (a2 * rise).sum(axis=0), (a2 * rise**2).sum(axis=0)
    w, w_fall = b.sum(axis=0), (b * fall).sum(axis=0)
    u0, u1, u2 = b2.sum(axis=0), (b2 * fall).sum(axis=0), (b2 * fall**2).sum(axis=0)
    out = np.zeros((len(g), SHAPE, SHAPE))
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
    return out


def stand_bearing(theta: Single, heat: NDArray[np.floating], share: NDArray[np.floating]) -> Single:
    """Return draws' rates relative to full bearing, plantings added up, in single precision.

    Parameters
    ----------
    theta : ndarray (draws, 5)
        As :data:`PARAMETERS`.
    heat : ndarray (plantings, days, draws or 1)
        Heat since each was planted. [degC d]
    share : ndarray (plantings, days or 1, draws or 1)
        Each planting's share of the plants, 0 while it is not in the ground.

    Returns
    -------
    ndarray (days, draws)

    Examples
    --------
    >>> theta = np.array([[0.0, np.log(500), np.log(1000), -3.0, -3.0]], dtype=np.float32)
    >>> stand_bearing(theta, np.array([[[500.0], [1000.0]]]), np.ones((1, 1, 1))).round(2).tolist()
    [[0.5], [1.0]]
    """
    curve = curve_of(theta)
    total: Single = np.zeros((1, 1), dtype=np.float32)
    for h, part in zip(heat, share, strict=True):
        total = total + part * bearing(curve, h)
    return total


def season_heat(parameters: ArrayLike, shares: tuple[float, ...] = SHARES) -> Array:
    """Return the heat by which given shares of a season's yield have become ready.

    Parameters
    ----------
    parameters : array_like (..., 5)
        As :data:`PARAMETERS`.
    shares : tuple of float
        Between 0 and 1.

    Returns
    -------
    ndarray (..., len(shares))
        Heat since planting, were the season long enough. [degC d]

    Examples
    --------
    >>> season_heat([0.0, np.log(500), np.log(1000), np.log(0.02), np.log(0.02)]).round(0)
    array([ 600., 1000., 1400.])
    """
    grid, cumulative = _cumulative(np.asarray(parameters, dtype=float))
    flat = cumulative.reshape(-1, cumulative.shape[-1])
    spots = grid.reshape(flat.shape)
    out = np.array(
        [np.interp(shares, c / c[-1], g) for c, g in zip(flat, spots, strict=True)]
    ).reshape(*cumulative.shape[:-1], len(shares))
    return out


def ripened(parameters: ArrayLike, heat: Array) -> Array:
    """Return the share of a season's yield of one curve that has become ready by some heat.

    Examples
    --------
    >>> theta = [0.0, np.log(500), np.log(1000), np.log(0.02), np.log(0.02)]
    >>> ripened(theta, np.array([300.0, 1000.0, 2000.0])).round(2).tolist()
    [0.0, 0.5, 1.0]
    """
    grid, cumulative = _cumulative(np.asarray(parameters, dtype=float))
    return np.asarray(np.interp(heat, grid, cumulative / cumulative[-1]))


def season_total(parameters: ArrayLike) -> Array:
    """Return the yield of all plants over a season long enough to finish the curve, in kg."""
    p = np.asarray(parameters, dtype=float)
    return np.exp(p[..., 0]) * _cumulative(p)[1][..., -1]


def _cumulative(p: Array) -> tuple[Array, Array]:
    curve = curve_of(p[..., None, :])
    h1, h2, s1, s2 = curve
    steps = np.linspace(0.0, 1.0, 241)
    low = np.maximum(h1 - 8 * s1, 0.0)
    grid = low + steps * (h2 + 8 * s2 - low)
    share = bearing(curve, grid)
    width = grid[..., 1:2] - grid[..., :1]
    area = np.concatenate(
        (np.zeros_like(low), np.cumsum(0.5 * (share[..., 1:] + share[..., :-1]) * width, axis=-1)),
        axis=-1,
    )
    return grid, area
