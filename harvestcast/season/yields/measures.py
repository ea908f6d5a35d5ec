"""What a season's picks show: pure functions on arrays of daily picks.

The last axis runs over consecutive days; leading axes (draws, varieties) are free.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from harvestcast.arrays import Array, Index


def place_of_share(picks: ArrayLike, share: float, place: ArrayLike) -> Array:
    """Return where along the season a share of the harvest was in.

    Parameters
    ----------
    picks : array_like, shape (..., days)
        Picked each day. [kg]
    share : float
        Between 0 and 1.
    place : array_like, shape (days,)
        What to measure along: day numbers or degree-days at the end of each day, not falling.

    Returns
    -------
    ndarray, shape (...)
        Place at which the running total reaches the share, straight between two picks;
        NaN where nothing was picked.

    Examples
    --------
    >>> float(place_of_share([0.0, 2.0, 0.0, 2.0], 0.5, [10.0, 20.0, 30.0, 40.0]))
    20.0
    >>> float(place_of_share([0.0, 1.0, 0.0, 3.0], 0.5, [10.0, 20.0, 30.0, 40.0]))
    26.666666666666668
    """
    x = np.atleast_2d(np.asarray(picks, float))
    where = np.asarray(place, float)
    shape = np.shape(picks)[:-1]
    x = x.reshape(-1, x.shape[-1])
    found = np.full(len(x), np.nan)
    for row, line in enumerate(x):
        days = np.flatnonzero(line > 0)
        if len(days):
            total = np.cumsum(line[days])
            found[row] = np.interp(share * total[-1], total, where[days])
    return found.reshape(shape)


def heaviest_run(picks: ArrayLike, days: int) -> tuple[Array, Index]:
    """Return the heaviest run of consecutive days and where it starts.

    Parameters
    ----------
    picks : array_like, shape (..., days)
        Picked each day. [kg]
    days : int
        Length of the run.

    Returns
    -------
    mass : ndarray, shape (...)
        Picked within the run. [kg]
    start : ndarray of int, shape (...)
        Its first day, as a place in the array; it may end after the array does.

    Examples
    --------
    >>> mass, start = heaviest_run([1.0, 0.0, 3.0, 2.0, 0.0, 1.0], 2)
    >>> float(mass), int(start)
    (5.0, 2)
    """
    x = np.asarray(picks, float)
    ahead = np.concatenate([x, np.zeros((*x.shape[:-1], days - 1))], axis=-1)
    total = np.cumsum(ahead, axis=-1)
    before = np.concatenate([np.zeros((*x.shape[:-1], 1)), total[..., :-1]], axis=-1)
    runs = total[..., days - 1 :] - before[..., : total.shape[-1] - days + 1]
    start = np.argmax(runs, axis=-1)
    return np.take_along_axis(runs, start[..., None], -1)[..., 0], start


def steady_weeks(picks: ArrayLike) -> Array:
    """Return the longest run of weeks that each bring at least half of the median week.

    Weeks are blocks of seven days from the first pick on; the median is over the weeks from
    the first to the last pick. A variety for the table scores high, one for the canner low.

    Parameters
    ----------
    picks : array_like, shape (..., days)
        Picked each day. [kg]

    Returns
    -------
    ndarray, shape (...)
        Weeks; 0 where nothing was picked.

    Examples
    --------
    >>> week = [1.0, 0, 0, 0, 0, 0, 0]
    >>> float(steady_weeks(week * 4 + [0.0] * 7 + week * 2))
    4.0
    """
    x = np.atleast_2d(np.asarray(picks, float))
    shape = np.shape(picks)[:-1]
    x = x.reshape(-1, x.shape[-1])
    found = np.zeros(len(x))
    for row, line in enumerate(x):
        days = np.flatnonzero(line > 0)
        if not len(days):
            continue
        season = line[days[0] : days[-1] + 1]
        weeks = np.add.reduceat(season, np.arange(0, len(season), 7))
        good = np.concatenate([[0], (weeks >= 0.5 * np.median(weeks)).astype(int), [0]])
        edges = np.flatnonzero(np.diff(good))
        found[row] = np.max(edges[1::2] - edges[::2], initial=0)
    return found.reshape(shape)


def week_noise(
    picks: ArrayLike, *, correlation: float = 0.4, fruits: ArrayLike | None = None
) -> tuple[float, int]:
    """Return how much log weekly picks vary about a smooth course, and from how many weeks.

    Second differences of the log weekly totals remove a level and a slope. With autoregressive
    deviations of standard deviation ``s`` and week-to-week correlation ``r`` their mean square
    is ``s^2 (6 - 8 r + 2 r^2)``. Only runs of three weeks with a pick inside the middle 80 % of
    the harvest are used, so that the steep ends of the season do not pass for noise.

    Parameters
    ----------
    picks : array_like, shape (days,)
        Picked each day. [kg]
    correlation : float
        Week-to-week correlation of the deviations.
    fruits : array_like, shape (days,), optional
        Fruits picked each day. Given: what their number alone makes weeks differ by (Poisson,
        ``1/n`` on the logarithm) is taken off.

    Returns
    -------
    variance : float
        ``s^2``; NaN where there is no such run.
    runs : int
        Number of runs it rests on.

    Examples
    --------
    >>> week_noise(np.repeat([1.0, 2.0, 4.0, 8.0], 7))
    (0.0, 1)
    """
    x = np.asarray(picks, float)
    days = np.flatnonzero(x > 0)
    if not len(days):
        return float("nan"), 0
    season = x[days[0] : days[-1] + 1]
    season = season[: max(len(season) // 7 * 7, 7)]
    starts = np.arange(0, len(season), 7)
    weeks = np.add.reduceat(season, starts)
    share = np.cumsum(weeks) / weeks.sum()
    inside = (share > 0.1) & (np.concatenate([[0.0], share[:-1]]) < 0.9) & (weeks > 0)
    logs = np.log(np.where(weeks > 0, weeks, 1.0))
    bend = logs[2:] - 2 * logs[1:-1] + logs[:-2]
    good = inside[2:] & inside[1:-1] & inside[:-2]
    if not good.any():
        return float("nan"), 0
    factor = 6 - 8 * correlation + 2 * correlation**2
    # Cut at 3^2: one missed week would otherwise rule the estimate.
    spread = float(np.mean(np.minimum(bend[good] ** 2, 9.0)))
    if fruits is not None:
        number = np.asarray(fruits, float)[days[0] : days[0] + len(season)]
        luck = 1.0 / np.maximum(np.add.reduceat(number, starts), 1.0)
        spread -= float(np.mean((luck[2:] + 4 * luck[1:-1] + luck[:-2])[good]))
    return round(max(spread, 0.0) / factor, 12), int(good.sum())


def shaken(
    picks: ArrayLike,
    *,
    noise_sd: float,
    draws: int,
    rng: np.random.Generator,
    correlation: float = 0.4,
    fruits: ArrayLike | None = None,
) -> Array:
    """Return the picks as other plantings of the variety might have brought them.

    Each pick is multiplied by a log-normal factor of mean 1 whose logarithm wanders with
    week-to-week correlation ``correlation``.

    Parameters
    ----------
    picks : array_like, shape (days,)
        Picked each day. [kg]
    noise_sd : float
        Standard deviation of the logarithm.
    draws : int
        Number of plantings drawn.
    rng : numpy.random.Generator
        Source of randomness.
    correlation : float
        Week-to-week correlation of the logarithm.
    fruits : array_like, shape (days,), optional
        Fruits picked each day. Given: their number is drawn too (Poisson), so that few fruits
        leave much to luck.

    Returns
    -------
    ndarray, shape (draws, days)
        Picked each day. [kg]

    Examples
    --------
    >>> drawn = shaken(np.ones(700), noise_sd=0.5, draws=200, rng=np.random.default_rng(1))
    >>> bool(abs(drawn.mean() - 1) < 0.02)
    True
    """
    x = np.asarray(picks, float)
    keep = correlation ** (1 / 7)
    steps = rng.standard_normal((draws, len(x)))
    steps[:, 1:] *= np.sqrt(1 - keep**2)
    for day in range(1, len(x)):
        steps[:, day] += keep * steps[:, day - 1]
    factor = np.exp(noise_sd * steps - noise_sd**2 / 2)
    if fruits is not None:
        # A pick of a hundred fruits or more is as good as certain; so large numbers stay out.
        expected = np.clip(np.asarray(fruits, float), 0.25, 100.0)
        factor = rng.poisson(factor * expected) / expected
    return np.asarray(x * factor)
