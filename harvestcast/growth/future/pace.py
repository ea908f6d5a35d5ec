"""The recent pace of crops taken from a stand: a second, simpler forecast, and the two in one.

Leaves and roots stand until they are wanted, and people want about as much every week: there the
mean of the last picks knows at least as much as the fitted curve. Their errors differ, and the
middle of two such forecasts is as a rule better than either: J. M. Bates and C. W. J. Granger, The
combination of forecasts, 1969, doi:10.1057/jors.1969.103; why equal weights are hard to beat:
J. Smith and K. F. Wallis, 2009, doi:10.1111/j.1468-0084.2008.00541.x (both cited from memory). The
pace is that of all varieties of a crop together, which is steadier than that of each.

Fruit is picked as it ripens, and what ripens follows the curve: there the pace is left out.

Only the level of the draws moves; what they say of spread, of weeks without a pick, of shares of
varieties and of what crops have in common stays.
"""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array, Flags, Index, Single

HALF_LIFE = 30.0
"""Days after which a day of picking counts half in the recent pace: what a household wants changes
slowly (between 15 and 60 days back-tests differ by less than 1 %). [d]"""
MOST = 0.7
"""Weight of the recent pace once there is enough of it. Chosen on the even half of the series of
one real log, where anything from 0.5 to 1 does within 2 %."""
ENOUGH = 7.0
"""Days since the first pick at which the pace has half its weight in the first week ahead (our
judgement: one week says where picking stands, not where it goes). [d]"""
FLOOR = 0.1
"""Share of the curve's forecast added to both sides, so that a pace of nothing lowers the level
without ending the crop."""


def recent_pace(picked: Array, half_life: float = HALF_LIFE) -> tuple[Array, Array]:
    """Return how much was picked a day lately, and for how long picking has gone on.

    Parameters
    ----------
    picked : ndarray (series, days)
        Picked each day of the season so far; NaN on days without a row. [kg]
    half_life : float
        Days after which a day counts half. [d]

    Returns
    -------
    pace : ndarray (series,)
        Mean over the days since the first pick, recent ones weighing more; NaN before the first
        pick. [kg/d]
    days : ndarray (series,)
        Days since the first pick, that day included; 0 before it.

    Examples
    --------
    >>> pace, days = recent_pace(np.array([[np.nan, 2.0, np.nan, 2.0], [np.nan] * 4]), 10.0)
    >>> pace.round(2), days
    (array([1.33,  nan]), array([3., 0.]))
    """
    amount = np.nan_to_num(picked)
    length = amount.shape[1]
    any_pick = (amount > 0).any(axis=1)
    first = np.where(any_pick, (amount > 0).argmax(axis=1) if length else 0, length)
    age = length - 1 - np.arange(length)
    weight = np.where(np.arange(length) >= first[:, None], 0.5 ** (age / half_life), 0.0)
    total = weight.sum(axis=1)
    pace = np.divide(
        (weight * amount).sum(axis=1), total, out=np.full(len(amount), np.nan), where=total > 0
    )
    return pace, (length - first).astype(float)


def pace_weight(days: Array, weeks: int) -> Array:
    """Return the weight of the recent pace for each crop and week ahead (crops, weeks).

    It grows with the days since the first pick and with the weeks ahead, from nothing before the
    first pick to :data:`MOST`.

    Examples
    --------
    >>> pace_weight(np.array([0.0, 7.0, 70.0]), 2).round(2)
    array([[0.  , 0.  ],
           [0.35, 0.47],
           [0.64, 0.67]])
    """
    much = days[:, None] * np.arange(1, weeks + 1)
    return MOST * much / (much + ENOUGH)


def blend(
    picked: Array,
    number: Single,
    unit: Array,
    *,
    crop: Index,
    from_stand: Flags,
) -> Single:
    """Return draws whose level, for crops from a stand, is between the curve's and the recent pace.

    Parameters
    ----------
    picked : ndarray (series, days so far)
        As for :func:`recent_pace`; a series that is over, all NaN, stays as it is. [kg]
    number : ndarray (draws, days ahead, series)
        Picked in each draw, in pieces.
    unit : ndarray (series,)
        Mass of a piece. [kg]
    crop : ndarray of int (series,)
        Which crop each series is of, 0 to the number of crops less 1.
    from_stand : ndarray of bool (series,)
        Whether a series is taken from a stand as it is wanted.

    Returns
    -------
    ndarray (draws, days ahead, series)
        A day without a pick stays one.

    Notes
    -----
    The level of a crop is the mean of its first week ahead, M by the curve and L by the pace; all
    draws of its series are multiplied by ``((L + 0.1 M) / (1.1 M)) ** weight``.
    """
    ahead = number.shape[1]
    own = np.flatnonzero(from_stand & ~np.isnan(picked).all(axis=1))
    out = number.copy()
    if not len(own):
        return out
    picked, mine, crop = picked[own], number[..., own], crop[own]
    member = np.zeros((int(crop.max()) + 1, len(own)))
    member[crop, np.arange(len(own))] = 1.0
    known = member @ ~np.isnan(picked) > 0
    pace, days = recent_pace(np.where(known, member @ np.nan_to_num(picked), np.nan))
    level = member @ (mine[:, :7].mean(axis=(0, 1)) * unit[own])
    some = np.isfinite(pace) & (level > 0)
    ratio = np.ones(len(member))
    ratio[some] = (pace[some] + FLOOR * level[some]) / ((1.0 + FLOOR) * level[some])
    factor = ratio[:, None] ** pace_weight(days, -(-ahead // 7))
    by_day = np.repeat(factor[crop].T, 7, axis=0)[:ahead]
    out[..., own] = mine * by_day.astype(np.float32)
    return out


def last_weeks_again(
    picked: Array, unit: float, *, draws: int, days: int, seed: int
) -> Array | None:
    """Return draws of one series that are its last weeks again, where its curve cannot be had.

    Each coming week of each draw is one of the last four, day by day.

    Parameters
    ----------
    picked : ndarray (days so far,)
        Picked each day; NaN on days without a row. [kg]
    unit : float
        Mass of a piece. [kg]
    draws, days : int
        Draws, and days ahead.
    seed : int
        Seed of the choice of weeks.

    Returns
    -------
    ndarray (draws, days) or None
        In pieces; None before the first week of picking is over.

    Examples
    --------
    >>> daily = np.array([np.nan] * 10 + [1.0, np.nan, 2.0, np.nan, 0.0, 1.0, np.nan])
    >>> last_weeks_again(daily, 0.5, draws=1, days=9, seed=1)
    array([[2., 0., 4., 0., 0., 2., 0., 2., 0.]])
    """
    some = np.flatnonzero(np.nan_to_num(picked) > 0)
    weeks = min((len(picked) - some[0]) // 7, 4) if len(some) else 0
    if not weeks:
        return None
    past = (np.nan_to_num(picked[-7 * weeks :]) / unit).reshape(weeks, 7)
    rng = np.random.default_rng([seed, 13])
    ahead = -(-days // 7)
    chosen = past[rng.integers(weeks, size=(draws, ahead))]
    return chosen.reshape(draws, 7 * ahead)[:, :days]
