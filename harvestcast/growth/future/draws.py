"""Draws of a fitted series: from the Gaussian approximation, weighted by the exact posterior.

The approximation at the mode is good where a series has been picked for a while, and poor where
all that is known is that nothing has been ripe so far: there it can put far too much on large
harvests. So every draw is weighed by the exact density against the one it was drawn from, over all
noise levels together, and the draws are dealt anew by their weights (sampling importance
resampling; weights are cut at the root of their number times their mean: Ionides 2008,
doi:10.1198/106186008X320456). So that no likely place is out of reach, some draws are drawn wider
than the approximation in the curve (:data:`WIDER`; a defensive mixture: Hesterberg 1995,
doi:10.1080/00401706.1995.10484303, cited from memory). Draws are held in single precision.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from harvestcast.arrays import Array, Flags, Index, Single
from harvestcast.growth.future.shared_draws import Common, dealt_by_rank, own_normals
from harvestcast.growth.model.curve import CURVE, stand_bearing
from harvestcast.growth.model.fit import Fit

LEAST_TRIED = 400
"""Draws that are tried and weighed at least, however few are asked for."""
NEVER = 1e-4
"""Probability of a visit below which a day without a row says nothing."""
WIDER: tuple[tuple[float, float], ...] = ((1.0, 0.6), (1.5, 0.25), (2.5, 0.15))
"""Spreads the curve is drawn with, in those of the approximation given the deviations, and how
often. Deviations are not: of some forty of them no wider draw would be a likely one."""
UNSEEN_END, MOST_ENDED = 0.015, 0.3
"""Chance that plants come to an end in a week and nobody writes it down (borers, mildew, a gardener
who has had enough), and the most it adds up to while they go unpicked (our judgement)."""
LEAST_EFFECTIVE = 0.02
"""Share of draws that count below which weights say nothing, and the approximation stands."""


class Drawn(NamedTuple):
    """Draws of one series."""

    theta: Single
    """Curve (draws, 5)."""
    coming: Single
    """Deviations to come (days, draws)."""
    hanging: Single
    """What hangs ripe on the last evening (draws,). [kg]"""
    size: Single
    keep: Single
    over: Flags
    """Whether the plants have come to an end that nobody wrote down (draws,)."""
    effective: float
    """Share of the draws that count once they are weighed."""


def draw_series(fit: Fit, row: int, common: Common, rng: np.random.Generator) -> Drawn:
    """Draw one series.

    Parameters
    ----------
    fit : Fit
    row : int
        Which series.
    common : Common
        Standard normals it shares with other series.
    rng : Generator

    Returns
    -------
    Drawn
        By draw of the garden: high where other varieties of the crop are.
    """
    draws, to_come = common.coming.shape
    past, since = len(fit.dates), int(fit.since[row])
    some = _weighed(fit, row, draws, rng)
    chosen, deviation = some.chosen, some.deviation
    # Draws of one noise level lie side by side until here; ``place`` deals them out.
    place = dealt_by_rank(
        fit, row, some.theta[chosen], deviation[past - since - 1, chosen], common.doubt, rng
    )
    fresh = own_normals(common, rng)
    fresh[place] += common.coming
    coming = deviation[past - since :, chosen]
    for one, part in _blocks(some.which[chosen]):
        basis = fit.bases[one][past:, fit.bases[one].shape[1] - to_come :].astype(np.float32)
        coming[:, part] += basis @ fresh[part].T
    chosen = chosen[place]
    return Drawn(
        some.theta[chosen],
        coming[:, place],
        some.last[place],
        some.size[chosen],
        some.keep[chosen],
        some.over[place],
        some.effective,
    )


def past_rates(fit: Fit, row: int, draws: int, rng: np.random.Generator) -> Single:
    """Draw how much of one series became ready on each day of the season so far.

    Parameters
    ----------
    fit : Fit
    row : int
        Which series.
    draws : int
    rng : Generator

    Returns
    -------
    ndarray (days, draws)
        Draws of the past that the forecast starts from; before the first day on which the log can
        say anything, the curve alone. [kg]
    """
    some = _weighed(fit, row, draws, rng)
    past, since = len(fit.dates), int(fit.since[row])
    deviation = np.zeros((past, draws), dtype=np.float32)
    deviation[since:] = some.deviation[: past - since, some.chosen]
    return _rates_past(fit, row, some.theta[some.chosen], deviation)


class _Weighed(NamedTuple):
    """Draws that were tried, and those among them that stand once they are weighed."""

    theta: Single
    """Curve (tried, 5)."""
    deviation: Single
    """From the first day the log says anything to the last to come, by past knots alone
    (days, tried)."""
    which: Index
    """NoiseLevel (tried,), in order."""
    size: Single
    keep: Single
    chosen: Index
    """Which of the tried draws stand (draws,), in order."""
    over: Flags
    """Whether the plants of each of those have come to an end."""
    last: Single
    """What hangs ripe on the last evening in each of those (draws,). [kg]"""
    effective: float


def _weighed(fit: Fit, row: int, draws: int, rng: np.random.Generator) -> _Weighed:
    """Try draws of one series, weigh them by the exact posterior and choose by weight."""
    since = int(fit.since[row])
    # Knots older than a series' own days no longer say anything of the days to come.
    width = CURVE + int(fit.posteriors[0].knots[row])
    tried = max(draws, LEAST_TRIED)
    number = _dealt(fit.weight[row], tried, rng)
    normals = _wider(rng, tried, width)
    first = (np.cumsum(number) - number)[number > 0]
    normals[first] = 0.0  # the mode itself, against which the others are weighed
    unknown = np.empty_like(normals)
    deviation = np.empty((len(fit.bases[0]) - since, tried), dtype=np.float32)
    which = np.repeat(np.arange(len(number)), number)
    for one, part in _blocks(which):
        unknown[part] = fit.posteriors[one].draw_own(row, normals[part])
        basis = fit.bases[one][since:, : width - CURVE].astype(np.float32)
        deviation[:, part] = basis @ unknown[part, CURVE:].T
    e = fit.evidence
    theta = (e.prior_mean[row] + e.prior_sd[row] * unknown[:, :CURVE]).astype(np.float32)
    size = np.array([noise.size[row] for noise in fit.noises], dtype=np.float32)[which]
    keep = np.array([noise.keep[row] for noise in fit.noises], dtype=np.float32)[which]
    hanging = hanging_past(fit, row, theta, deviation[: len(fit.dates) - since], keep)
    said = log_likelihood(fit, row, hanging, size)
    log = said.sum(axis=0) - 0.5 * (unknown**2).sum(axis=1)
    log -= np.repeat(log[first], number[number > 0])
    log[first] = -np.inf
    square = normals**2
    far = square[:, :CURVE].sum(axis=1)
    rest = square[:, CURVE:].sum(axis=1)
    gaussian, drawn, last = -0.5 * (far + rest), _log_wider(far) - 0.5 * rest, hanging[-1]
    if e.picked[row, -1] > 0:
        last = last * np.float32(fit.noises[0].left[row])
    end = _unseen_end(fit, row, hanging, said, size, keep, rng)
    if end is not None:  # every draw stands twice: going on, and come to an end
        more = np.concatenate((np.full(tried, end.log_on, dtype=np.float32), end.log_end))
        log, gaussian = np.tile(log, 2) + more, np.tile(gaussian, 2) + more
        drawn, last = np.tile(drawn, 2), np.concatenate((last, end.last))
    chosen, effective = _resampled(log, gaussian, drawn, draws, rng)
    over, last, chosen = chosen >= tried, last[chosen], chosen % tried
    order = np.argsort(chosen, kind="stable")
    return _Weighed(
        theta, deviation, which, size, keep, chosen[order], over[order], last[order], effective
    )


class _End(NamedTuple):
    """What the days since the last pick say of an end of the plants that nobody wrote down."""

    log_on: float
    """Log of the chance of no end."""
    log_end: Single
    """Log of the chance of an end, times how much better it explains those days (tried,)."""
    last: Single
    """What hangs ripe on the last evening after an end (tried,). [kg]"""


def _unseen_end(
    fit: Fit,
    row: int,
    hanging: Single,
    said: Single,
    size: Single,
    keep: Single,
    rng: np.random.Generator,
) -> _End | None:
    """Let the plants of each draw end on a day since the last pick; None where it was just now.

    Days without a pick tell of an end only as far as the household was not just passing the crop
    over, which it may in any week.
    """
    picks = np.flatnonzero(fit.evidence.picked[row, -len(hanging) :] > 0)
    if not len(picks) or len(hanging) - 1 - picks[-1] < 2:
        return None
    at = int(picks[-1])
    days, tried = len(hanging) - 1 - at, hanging.shape[1]
    # On the evening before its end a draw hangs as ever; from then on nothing is added.
    day_of_end = rng.integers(days, size=tried)
    before = hanging[at + day_of_end, np.arange(tried)]
    before *= np.where(day_of_end == 0, np.float32(fit.noises[0].left[row]) / keep, np.float32(1.0))
    since = np.arange(1, days + 1, dtype=np.float32)[:, None] - day_of_end.astype(np.float32)
    gone = before * np.exp(np.log(keep) * np.maximum(since, np.float32(0.0)))
    ended = np.where(since > 0, gone, hanging[at + 1 :])
    on, end = said[at + 1 :], log_likelihood(fit, row, ended, size)
    gain = np.zeros(tried, dtype=np.float32)
    for stop in range(days, 0, -7):
        week = slice(max(stop - 7, 0), stop)
        over = np.float32(fit.habit.passed_over * (stop - week.start) / 7 + 1e-9)
        on_week, end_week = on[week].sum(axis=0), end[week].sum(axis=0)
        gain += np.logaddexp(np.log(over), end_week) - np.logaddexp(np.log(over), on_week)
    chance = min(UNSEEN_END * days / 7, MOST_ENDED)
    return _End(float(np.log1p(-chance)), gain + np.float32(np.log(chance)), ended[-1])


def _dealt(weight: Array, draws: int, rng: np.random.Generator) -> Index:
    """Deal draws out over noise levels in proportion to their weights; return how many each has."""
    marks = (np.arange(draws) + rng.random()) / draws
    chosen = np.searchsorted(np.cumsum(weight), marks * weight.sum())
    return np.bincount(np.minimum(chosen, len(weight) - 1), minlength=len(weight))


def _blocks(which: Index) -> list[tuple[int, slice]]:
    """Return each value of a sorted array and where it stands."""
    values, first = np.unique(which, return_index=True)
    ends = [*first[1:].tolist(), len(which)]
    return [
        (int(value), slice(start, end))
        for value, start, end in zip(values, first.tolist(), ends, strict=True)
    ]


def _wider(rng: np.random.Generator, tried: int, width: int) -> Single:
    """Return standard normals (tried, width), those of the curve wider in some rows."""
    spread, often = (np.array(column) for column in zip(*WIDER, strict=True))
    of = spread.astype(np.float32)[np.searchsorted(np.cumsum(often)[:-1], rng.random(tried))]
    normals = rng.standard_normal((tried, width), dtype=np.float32)
    normals[:, :CURVE] *= of[:, None]
    return normals


def _log_wider(far: Single) -> Single:
    """Return the log density the curve was drawn from, but for the constant of a standard normal.

    ``far`` (tried,) are squares of its normals, summed.
    """
    density = np.zeros_like(far)
    for spread, often in WIDER:
        density += np.float32(often / spread**CURVE) * np.exp(np.float32(-0.5 / spread**2) * far)
    return np.log(density)


def _resampled(
    exact: Single, gaussian: Single, drawn: Single, draws: int, rng: np.random.Generator
) -> tuple[Index, float]:
    """Return which of the tried draws stand after weighing, in order, and the share that counts.

    Parameters
    ----------
    exact, gaussian, drawn : ndarray (tried,)
        Log densities of each draw: the exact one, that of the approximation, and that it was drawn
        from; -inf where it may not stand.
    """
    number = len(exact)
    weight = np.exp((exact - drawn - (exact - drawn).max()).astype(float))
    weight = np.minimum(weight, weight.mean() * np.sqrt(number))
    weight /= weight.sum()
    effective = 1.0 / float((weight**2).sum()) / number
    if effective < LEAST_EFFECTIVE:  # the approximation itself
        weight = np.where(np.isfinite(exact), np.exp((gaussian - drawn).astype(float)), 0.0)
        weight /= weight.sum()
    marks = (np.arange(draws) + rng.random()) / draws
    return np.minimum(np.searchsorted(np.cumsum(weight), marks), number - 1), effective


def hanging_past(fit: Fit, row: int, theta: Single, deviation: Single, keep: Single) -> Single:
    """Return what hung ripe before picking on each of the last days (days, draws), in kg."""
    hanging, days = _rates_past(fit, row, theta, deviation), len(deviation)
    left, picked = np.float32(fit.noises[0].left[row]), fit.evidence.picked[row, -days:] > 0
    for day in range(1, days):
        hanging[day] += (left if picked[day - 1] else keep) * hanging[day - 1]
    return hanging


def _rates_past(fit: Fit, row: int, theta: Single, deviation: Single) -> Single:
    """Return what became ready on each of the last days (days, draws), in kg."""
    e, days = fit.evidence, len(deviation)
    share = e.share[row][:, -days:].astype(np.float32)
    used = np.flatnonzero(share.any(axis=1))
    heat = e.heat[row][used][:, -days:, None].astype(np.float32)
    warmth = e.log_warmth[row, -days:, None].astype(np.float32)
    shape = stand_bearing(theta, heat, share[used][..., None])
    return shape * np.exp(theta[:, 0] + warmth + deviation)


def log_likelihood(fit: Fit, row: int, hanging: Single, size: Single) -> Single:
    """Return what the log of each of the last days says of each draw (days, draws).

    But for constants; the same density as in :mod:`harvestcast.growth.model.density`, without the
    prior.
    """
    e, noise = fit.evidence, fit.noises[0]
    days = len(hanging)
    y, came = e.picked[row, -days:], e.came[row, -days:]
    picked, zero = y > 0, y == 0
    blank = np.isnan(y) & (came > NEVER)
    per_kg = np.float32((1.0 - noise.left[row]) / e.unit[row])
    zeal = np.float32(noise.zeal[row])
    want = np.float32(noise.ease[row] - noise.zeal[row] * np.log(e.usual[row]))
    tiny, most = np.float32(1e-12), np.float32(40.0)
    # Plain logarithms and exponentials: in single precision they are several times as fast as
    # powers and log1p.
    sizes = e.gathered[row, -days:].astype(np.float32)[:, None] * size

    def against(log_ripe: Single) -> Single:
        """Odds against a pick on a look."""
        return np.exp(-np.clip(want + zeal * log_ripe, -most, most))

    def none(ripe: Single, size: Single) -> Single:
        """Chance that a look at what hangs ripe finds no whole piece."""
        return np.exp(size * (np.log(size) - np.log(ripe * per_kg + (tiny + size))))

    said: Single = np.zeros(hanging.shape, dtype=np.float32)
    if picked.any():
        ripe, size = hanging[picked] + tiny, sizes[picked]
        log_ripe, log_all = np.log(ripe), np.log(ripe * per_kg + size)
        number = (y[picked] / e.unit[row])[:, None].astype(np.float32)
        value = number * (log_ripe + np.log(per_kg) - log_all) + size * (np.log(size) - log_all)
        said[picked] = value - np.log(1.0 + against(log_ripe))
    if blank.any():
        seen = (came[blank] * noise.look[row])[:, None].astype(np.float32)
        ripe = hanging[blank]
        odds = np.minimum(_power(ripe, float(zeal)) * np.exp(want), np.float32(1e30))
        miss = seen * (1.0 - none(ripe, sizes[blank])) * odds / (1.0 + odds)
        said[blank] = np.log(np.maximum(1.0 - miss, np.float32(1e-9)))
    if zero.any():
        seen = came[zero][:, None].astype(np.float32)
        like = 1.0 - seen + seen * none(hanging[zero], sizes[zero])
        said[zero] = np.log(np.maximum(like, np.float32(1e-30)))
    return said


def _power(x: Single, exponent: float) -> Single:
    """Return ``x ** exponent`` for ``x`` from 0; whole and half powers without a logarithm.

    Examples
    --------
    >>> four = np.array([4.0], dtype=np.float32)
    >>> [round(float(_power(four, exponent)[0]), 3) for exponent in (0.5, 2.0, 2.5, 0.75)]
    [2.0, 16.0, 32.0, 2.828]
    """
    if not (2.0 * exponent).is_integer() or not 0.0 < exponent <= 8.0:
        return np.exp(np.float32(exponent) * np.log(x + np.float32(1e-12)))
    out = np.sqrt(x) if exponent % 1.0 else np.ones_like(x)
    for _ in range(int(exponent)):
        out = out * x
    return out
