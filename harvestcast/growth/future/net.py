"""The safety net: the curve's forecast and the garden's recent pace, weighed by how they have done.

A curve can be wrong for a garden in ways that no prior foresaw. So the forecast is made again as it
would have been one, two, three weeks ago, set beside what was picked then, and held against a
second forecast that knows nothing of crops or weather: the smoothed pace of the last weeks, spread
as weeks have been about it in this garden. Quantile by quantile the two are averaged, with a weight
and a width under which the past weeks would have been forecast best (by the continuous ranked
probability score). Both are held to the curve alone by some weeks' worth of trust, so that a garden
whose curve does well keeps it.

In the first two weeks of picking of a crop that bears until frost the curve still rests on the
almanac, and the pace is a second opinion whatever the past weeks say; not so where picking was
under way before anybody wrote it down, for there the pace is about to change.

Averages of quantiles: R. L. Winkler and others on combining forecasts; here as in T. Lichtendahl,
Grushka-Cockayne and Winkler 2013, doi:10.1287/mnsc.1120.1667 (cited from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from harvestcast.arrays import Array, Flags, Index, Single

WEIGHTS = (0.0, 0.2, 0.35, 0.5, 0.7)
"""Weights of the pace between which the past weeks decide. Of a tenth scores are the same, and
another seed would turn it on and off."""
WIDTHS = (0.5, 0.65, 0.8, 0.9, 1.0, 1.2)
"""Factors of the distance from the median between which they decide."""
TIE, HARDLY = 0.15, 0.05
"""Scores, in usual weeks, by which a width falls behind another to count 1/e beside it, so that
another seed moves the width a little; and logs of a width that are hardly one."""
TRUST, BY_WEIGHT, BY_WIDTH = 14.0, 0.4, 0.1
"""Weeks' worth of trust in the curve as it is, and what a whole weight, and a factor of e of width,
cost in shares of the score (chosen on even seeds and the logs nobody here wrote)."""
FIRST_WEEKS = (0.3, 0.1)
"""Least weight of the pace after one week of picking and after two (chosen on even seeds and the
logs nobody here wrote, where any first one from 0.2 to 0.5 does within 1 %)."""
HALF_LIFE, PACE_HALF_LIFE = 2.0, 8.0
"""Weeks after which a past week counts half, as a forecast and as a week about its pace."""
SMOOTHING = 0.5
"""Part of a week's surprise by which the pace moves."""
LEAST = 0.05
"""Least pace, in mean weeks so far: what has stopped may begin again."""
MOST = 3.0
"""Most that a week counts for, in paces: beyond it there was no pace yet (our judgement; any from
2 to 5 does)."""
USUAL_WEEKS, USUAL_NONE, USUAL_LOG_SD = 8.0, 0.1, 0.6
"""What is expected of weeks about their pace before the garden shows it: so many weeks' worth, this
share of them empty, and the log spread of the others."""


class Pace(NamedTuple):
    """Smoothed weekly totals of a garden's series, and how weeks came out against them.

    Arrays run over series and weeks, the last week last; NaN before a series' first pick.
    """

    level: Array
    """Pace known at the end of each week (series, weeks). [kg]"""
    ratio: Array
    """What came in a week over the pace known before it, up to :data:`MOST` (series, weeks)."""
    mean: Array
    """Mean week so far (series, weeks). [kg]"""


class Rehearsed(NamedTuple):
    """One series' week of one past forecast."""

    weeks_ago: int
    """Weeks from its origin to the last day known, from 1."""
    observed: float
    """[kg]"""
    curve: Array
    """Quantiles the curve gave (levels,). [kg]"""
    pace: Array
    """Quantiles the pace gave (levels,). [kg]"""
    mean: float
    """Mean week known at the origin. [kg]"""


class Net(NamedTuple):
    """What the past weeks taught."""

    weight: float
    """Weight of the recent pace in the first week ahead."""
    width: float
    """Factor of the distance from the median there."""
    cases: int
    """Weeks of series it was learned from."""
    came: float
    """What was picked in them over what the curve's medians had said; NaN where it said nothing."""


NO_NET = Net(0.0, 1.0, 0, np.nan)


def weekly_pace(picked: Array) -> Pace:
    """Return the pace of series by their daily picks.

    Parameters
    ----------
    picked : ndarray (series, days)
        Picked each day; NaN on days without a row. [kg]

    Examples
    --------
    Four weeks of 7, 7, 14 and 14 kg:

    >>> pace = weekly_pace(np.repeat([1.0, 1.0, 2.0, 2.0], 7)[None])
    >>> pace.level[0].tolist(), pace.ratio[0, 1:].round(2).tolist()
    ([7.0, 7.0, 10.5, 12.25], [1.0, 2.0, 1.33])
    """
    days = picked.shape[1]
    weeks = days // 7
    total = np.nan_to_num(picked)[:, days - 7 * weeks :].reshape(len(picked), weeks, 7).sum(axis=2)
    begun = np.cumsum(total, axis=1) > 0
    level, ratio, mean = (np.full(total.shape, np.nan) for _ in range(3))
    number = np.cumsum(begun, axis=1)
    mean[begun] = (np.cumsum(total, axis=1) / np.maximum(number, 1))[begun]
    for week in range(weeks):
        first = number[:, week] == 1
        level[first, week] = total[first, week]
        on = number[:, week] > 1
        before = level[on, week - 1]
        of_pace = total[on, week] / np.maximum(before, LEAST * mean[on, week - 1])
        ratio[on, week] = np.minimum(of_pace, MOST)
        level[on, week] = before + SMOOTHING * (total[on, week] - before)
    return Pace(level, ratio, mean)


def ratio_quantiles(ratio: Array, weeks_ago: Array, levels: Array) -> Array:
    """Return quantiles of a week over its pace, by the weeks known and what is usual (levels,)."""
    usual = 20
    none = round(USUAL_NONE * usual)
    middle = (np.arange(usual - none) + 0.5) / (usual - none)
    value = np.concatenate((ratio, np.zeros(none), np.exp(USUAL_LOG_SD * ndtri(middle))))
    weight = np.concatenate(
        (0.5 ** ((weeks_ago - 1) / PACE_HALF_LIFE), np.full(usual, USUAL_WEEKS / usual))
    )
    order = np.argsort(value, kind="stable")
    share = (np.cumsum(weight[order]) - 0.5 * weight[order]) / weight.sum()
    return np.interp(levels, share, value[order])


def pace_quantiles(pace: Pace, week: int, levels: Array) -> Array:
    """Return quantiles of the week after one, by the pace known at its end (series, levels).

    ``week`` is its place in the arrays of ``pace``.
    """
    known = pace.ratio[:, : week + 1]
    at = np.nonzero(np.isfinite(known))
    shape = ratio_quantiles(known[at], (week + 1 - at[1]).astype(float), levels)
    least = LEAST * pace.mean[:, week]
    return np.maximum(pace.level[:, week], least)[:, None] * shape


def learn_net(cases: list[Rehearsed]) -> Net:
    """Return weight and width under which past weeks would have been forecast best.

    Examples
    --------
    A curve that said half of what came, and a pace that was right:

    >>> quantiles = np.linspace(0.5, 1.5, 19)
    >>> cases = [Rehearsed(1, 10.0, 5 * quantiles, 10 * quantiles, 10.0)] * 20
    >>> net = learn_net(cases)
    >>> net.weight, net.came
    (0.7, 2.0)
    """
    if not cases:
        return NO_NET
    observed = np.array([c.observed for c in cases])
    curve, pace = np.array([c.curve for c in cases]), np.array([c.pace for c in cases])
    # In units of what could be expected then, by all that was known.
    mean = np.array([c.mean for c in cases])
    scale = (mean + curve.mean(axis=1) + pace.mean(axis=1)) / 3.0
    fresh = 0.5 ** ((np.array([c.weeks_ago for c in cases]) - 1) / HALF_LIFE)
    grid = [(weight, width) for weight in WEIGHTS for width in WIDTHS]
    score = np.array([_score(observed, averaged(curve, pace, *one)) for one in grid]) / scale
    alone = score[grid.index((0.0, 1.0))]
    usual = max(float(fresh @ alone / fresh.sum()), 1e-9)
    cost = np.array([BY_WEIGHT * w + BY_WIDTH * abs(np.log(s)) for w, s in grid])
    worse = (score - alone) @ fresh / usual + TRUST * cost
    by_weight = worse.reshape(len(WEIGHTS), len(WIDTHS))
    best = int(by_weight.min(axis=1).argmin())
    near = np.exp(-(by_weight[best] - by_weight[best].min()) / TIE)
    stretch = float(near @ np.log(WIDTHS) / near.sum())
    width = 1.0 if abs(stretch) < HARDLY else float(np.exp(stretch))
    said = np.median(curve, axis=1).sum()
    came = float(observed.sum() / said) if said > 0 else np.nan
    return Net(WEIGHTS[best], width, len(cases), came)


def averaged(curve: Array, pace: Array, weight: float, width: float) -> Array:
    """Return the mean of quantiles of two forecasts (..., levels), stretched about its median."""
    both = (1.0 - weight) * curve + weight * pace
    middle = np.median(both, axis=-1, keepdims=True)
    # A week in which nothing is picked stays one, however narrow the others lie.
    return np.where(both > 0, np.maximum(middle + width * (both - middle), 0.0), 0.0)


def _score(observed: Array, quantiles: Array) -> Array:
    """Return the continuous ranked probability score of evenly spaced quantiles (cases,)."""
    number = quantiles.shape[1]
    level = (np.arange(number) + 0.5) / number
    gap = observed[:, None] - quantiles
    return np.asarray(2.0 * np.mean(gap * (level - (gap < 0)), axis=1))


def first_weeks(pace: Pace) -> Array:
    """Return the least weight of the pace by how many weeks of it are known (series,).

    Examples
    --------
    >>> picked = np.zeros((3, 28))
    >>> picked[0, 25] = picked[1, 20] = picked[2, 2] = 1.0
    >>> first_weeks(weekly_pace(picked)).tolist()
    [0.3, 0.1, 0.0]
    """
    known = np.isfinite(pace.level).sum(axis=1)
    weights = np.array([0.0, *FIRST_WEEKS, 0.0])
    return np.asarray(weights[np.minimum(known, len(weights) - 1)])


def lean(
    number: Single, net: Net, quantiles: Array, alive: Flags, least: Array | None = None
) -> Single:
    """Return draws of picks that lean on the recent pace as far as the past weeks taught.

    Parameters
    ----------
    number : ndarray (draws, days, series)
        Pieces picked.
    net : Net
    quantiles : ndarray (series, draws)
        Pieces a week by the recent pace, in ascending order; NaN where there is none.
    alive : ndarray of bool (series,)
        Whether a series may lean: those that are over, or taken once, keep their own draws.
    least : ndarray (series,), optional
        Least weight of the pace; 0 if left out.

    Returns
    -------
    ndarray (draws, days, series)
        The order of draws, and of the days within each, stays; so do weeks without a pick that the
        pace has as well. The weight falls, and the width goes to one, with the weeks ahead.
    """
    of_series = np.maximum(net.weight, 0.0 if least is None else least) * np.ones(len(alive))
    moved = (of_series > 0.0) | (net.width != 1.0)
    leaning = np.flatnonzero(alive & moved & np.isfinite(quantiles).all(axis=1))
    if not len(leaning):
        return number
    out = number.copy()
    for week in range(-(-number.shape[1] // 7)):
        days = slice(7 * week, 7 * week + 7)
        part = len(range(*days.indices(number.shape[1]))) / 7.0
        weights, width = of_series / (week + 1), net.width ** (1.0 / (week + 1))
        for row in leaning:
            own = number[:, days, row]
            total = own.sum(axis=1)
            order = np.argsort(total, kind="stable")
            wanted = np.empty_like(total)
            wanted[order] = averaged(total[order], part * quantiles[row], weights[row], width)
            out[:, days, row] = _to_totals(own, total, wanted, order)
    return out


def _to_totals(own: Single, total: Single, wanted: Single, order: Index) -> Single:
    """Return weeks of draws (draws, days) brought to other totals, day by day in proportion.

    A week without a pick that is to have one takes the days of a draw that has.
    """
    some = order[total[order] > 0]
    if not len(some):
        return own
    empty = np.flatnonzero((total <= 0) & (wanted > 0))
    if len(empty):
        own, total = own.copy(), total.copy()
        like = some[np.arange(len(empty)) % len(some)]
        own[empty], total[empty] = own[like], total[like]
    ratio = np.divide(wanted, total, out=np.zeros_like(total), where=total > 0)
    return own * ratio[:, None]
