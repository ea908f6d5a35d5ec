"""Draws of a fitted series: from the Gaussian approximation, weighted by the exact posterior.

The approximation at the mode is good where a series has been picked for a while, and poor where
all that is known is that nothing has been ripe so far: there it can put far too much on large
harvests. So states are tried by it and weighed by the exact density against the one they were
drawn from, over all noise levels together, and the draws are taken from them by their weights
(sampling importance resampling; weights are cut at the root of their number times their mean:
Ionides 2008, doi:10.1198/106186008X320456). So that no likely place is out of reach, some states
are drawn wider than the approximation in the curve (:data:`WIDER`; a defensive mixture: Hesterberg
1995, doi:10.1080/00401706.1995.10484303, cited from memory).

States are tried evenly (:mod:`harvestcast.growth.future.numbers`), the first number along the way
in which what ripens soon grows fastest. They are put in order by what ripens soon and later, and
the draws taken from them at equal steps of weight: so draws are as even as the weighed states are,
and a hair's difference of the weights exchanges some for their neighbours. States are held in
single precision; what linear algebra gives is rounded to it, so that the order in which a library
adds up does not show.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from harvestcast.arrays import Array, Flags, Index, Single
from harvestcast.growth.future.numbers import Own, Tried, coming_knots, dealt, parts_of
from harvestcast.growth.model.curve import CURVE, curve_of, derivatives, stand_bearing
from harvestcast.growth.model.fit import Fit

TRIED_A_STATE, LEAST_TRIED = 4, 400
"""States that are tried for each one that is drawn, and at least, however few are drawn."""
NEVER = 1e-4
"""Probability of a visit below which a day without a row says nothing."""
WIDER: tuple[tuple[float, float], ...] = ((1.0, 0.6), (1.5, 0.25), (2.5, 0.15))
"""Spreads the curve is drawn with, in those of the approximation given the deviations, and how
often. Deviations are not: of some forty of them no wider draw would be a likely one."""
UNSEEN_END, MOST_ENDED = 0.015, 0.3
"""Chance that plants come to an end in a week and nobody writes it down (borers, mildew, a gardener
who has had enough), and the most it adds up to while they go unpicked (our judgement)."""
LEAST_EFFECTIVE = 0.02
"""Share of states that count below which weights say nothing, and the approximation stands."""
SOON, LATER = 0.5, 2.0
"""Weeks ahead, at last week's heat, at which states are put in order by how much ripens."""


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
    """Share of the states tried that count once they are weighed."""


def draw_series(fit: Fit, row: int, tried: Tried, own: Own) -> Drawn:
    """Draw one series.

    Parameters
    ----------
    fit : Fit
    row : int
        Which series.
    tried : Tried
        Numbers to try states from.
    own : Own
        Its numbers by draw of the garden, shared in part with other series.

    Returns
    -------
    Drawn
        By draw of the garden: high where other varieties of the crop are.
    """
    draws, knots = len(own.doubt), coming_knots(fit)
    past, since = len(fit.dates), int(fit.since[row])
    some = _weighed(fit, row, tried)
    chosen = _spread_over(some, draws)[dealt(own.doubt, own.later)]
    over = own.over < some.ended[chosen]
    coming = some.deviation[past - since :, chosen]
    # Draws of one noise level side by side, so that each takes its own basis.
    order = np.argsort(some.which[chosen], kind="stable")
    for one, part in _blocks(some.which[chosen[order]]):
        basis = fit.bases[one][past:, fit.bases[one].shape[1] - knots :]
        fresh = basis @ own.coming[order[part]].T.astype(float)
        coming[:, order[part]] += fresh.astype(np.float32)
    return Drawn(
        some.theta[chosen],
        coming,
        np.where(over, some.last_ended[chosen], some.last[chosen]),
        some.size[chosen],
        some.keep[chosen],
        over,
        some.effective,
    )


def past_rates(fit: Fit, row: int, draws: int, tried: Tried) -> Single:
    """Draw how much of one series became ready on each day of the season so far.

    Parameters
    ----------
    fit : Fit
    row : int
        Which series.
    draws : int
    tried : Tried
        Numbers to try states from.

    Returns
    -------
    ndarray (days, draws)
        Draws of the past that the forecast starts from; before the first day on which the log can
        say anything, the curve alone. [kg]
    """
    some = _weighed(fit, row, tried)
    past, since = len(fit.dates), int(fit.since[row])
    chosen = _spread_over(some, draws)
    deviation = np.zeros((past, draws), dtype=np.float32)
    deviation[since:] = some.deviation[: past - since, chosen]
    return _rates_past(fit, row, some.theta[chosen], deviation)


class _Weighed(NamedTuple):
    """States that were tried, and their weights."""

    theta: Single
    """Curve (tried, 5)."""
    deviation: Single
    """From the first day the log says anything to the last to come, by past knots alone
    (days, tried)."""
    which: Index
    """Noise level (tried,), in order."""
    size: Single
    keep: Single
    weight: Array
    """Sums to 1 (tried,)."""
    ended: Single
    """Chance that the plants have come to an end that nobody wrote down (tried,)."""
    last: Single
    """What hangs ripe on the last evening if not (tried,). [kg]"""
    last_ended: Single
    """The same if they have. [kg]"""
    soon: Single
    """Log of what ripens soon, and later (tried,)."""
    later: Single
    effective: float


def _weighed(fit: Fit, row: int, tried: Tried) -> _Weighed:
    """Try states of one series and weigh them by the exact posterior."""
    since = int(fit.since[row])
    # Knots older than a series' own days no longer say anything of the days to come.
    width = CURVE + int(fit.posteriors[0].knots[row])
    edges = np.cumsum(fit.weight[row])[:-1] / fit.weight[row].sum()
    which = np.searchsorted(edges, tried.level)
    order = np.argsort(which, kind="stable")
    which = which[order]
    wider = _spreads(tried.spread)
    normals = np.concatenate((tried.curve, tried.past[:, : width - CURVE]), axis=1)
    normals[:, :CURVE] *= wider[:, None]
    normals = normals[order]
    blocks = _blocks(which)
    # The mode of each noise level too, against which its states are weighed.
    modes = np.array([one for one, _ in blocks])
    number = len(which)
    unknown = np.empty((number + len(modes), width), dtype=np.float32)
    deviation = np.empty((len(fit.bases[0]) - since, len(unknown)), dtype=np.float32)
    keys = _gradients(fit, row, modes, width)
    for place, (one, part) in enumerate(blocks):
        post = fit.posteriors[one]
        way = post.way(row)
        turned = normals[part].astype(float)
        for block in (slice(CURVE), slice(CURVE, width)):
            turned[:, block] = turned[:, block] @ _turn(way[block] @ keys[place])
        basis = fit.bases[one][since:, : width - CURVE]
        for at, some in (
            (part, turned @ way + post.mode[row, :width]),
            (slice(number + place, number + place + 1), post.mode[[row], :width]),
        ):
            unknown[at] = some
            deviation[:, at] = basis @ some[:, CURVE:].T
    e = fit.evidence
    theta = (e.prior_mean[row] + e.prior_sd[row] * unknown[:, :CURVE]).astype(np.float32)
    both = np.concatenate((which, modes))
    size = np.array([noise.size[row] for noise in fit.noises], dtype=np.float32)[both]
    keep = np.array([noise.keep[row] for noise in fit.noises], dtype=np.float32)[both]
    days = len(fit.dates) - since
    hanging = hanging_past(fit, row, theta, deviation[:days], keep)
    said = log_likelihood(fit, row, hanging, size)
    log = said.sum(axis=0, dtype=float) - 0.5 * (unknown**2).sum(axis=1, dtype=float)
    level = np.repeat(np.arange(len(modes)), [part.stop - part.start for _, part in blocks])
    log = log[:number] - log[number + level]
    # The rest is of the states tried alone.
    theta, deviation, size, keep = (
        theta[:number],
        deviation[:, :number],
        size[:number],
        keep[:number],
    )
    hanging, said = hanging[:, :number], said[:, :number]
    square = normals**2
    far, rest = square[:, :CURVE].sum(axis=1), square[:, CURVE:].sum(axis=1)
    gaussian, drawn, last = -0.5 * (far + rest), _log_wider(far) - 0.5 * rest, hanging[-1]
    if e.picked[row, -1] > 0:
        last = last * np.float32(fit.noises[0].left[row])
    ended, last_ended = np.zeros(number, dtype=np.float32), last
    end = _unseen_end(fit, row, hanging, said, size, keep, tried.end[order])
    if end is not None:
        whole = np.logaddexp(end.log_on, end.log_end)
        ended, last_ended = np.exp(end.log_end - whole), end.last
        log = log + whole
    weight, effective = _weights(log, gaussian, drawn)
    soon, later = _ripening(fit, row, theta, deviation[days - 1])
    return _Weighed(
        theta, deviation, which, size, keep, weight, ended, last, last_ended, soon, later, effective
    )


def _spread_over(some: _Weighed, draws: int) -> Index:
    """Return which states the draws are (draws,), in order of what ripens soon and later."""
    soon = np.argsort(some.soon, kind="stable")
    # What goes before each state, half of its own weight included, in weight.
    before = np.cumsum(some.weight[soon]) - 0.5 * some.weight[soon]
    part = np.empty(len(soon), dtype=np.int64)
    part[soon] = np.minimum(before * parts_of(draws), parts_of(draws) - 1)
    order = np.lexsort((some.later, part))
    marks = (np.arange(draws) + 0.5) / draws
    return order[np.minimum(np.searchsorted(np.cumsum(some.weight[order]), marks), len(order) - 1)]


def _ahead_at(fit: Fit, row: int) -> tuple[Array, Array]:
    """Return heat since planting soon and later (plantings, 2), and the plantings' shares."""
    share = fit.evidence.share[row][:, -1]
    alive = share > 0
    heat = fit.evidence.heat[row][alive]
    week = heat[:, -1] - heat[:, -min(8, heat.shape[1])]
    return heat[:, -1:] + week[:, None] * np.array([SOON, LATER]), share[alive]


def _ripening(fit: Fit, row: int, theta: Single, deviation: Single) -> tuple[Single, Single]:
    """Return the log of what ripens soon and later in each state (tried,)."""
    heat, share = _ahead_at(fit, row)
    both = stand_bearing(
        theta, heat[..., None].astype(np.float32), share[:, None, None].astype(np.float32)
    )
    both = np.broadcast_to(both, (2, len(theta)))
    log = theta[:, 0] + deviation + np.log(both + np.float32(1e-30))
    return log[0], log[1]


def _gradients(fit: Fit, row: int, modes: Index, width: int) -> Array:
    """Return the slopes of the log of what ripens soon by the unknowns, at the modes.

    Returns
    -------
    ndarray (modes, width)
    """
    heat, share = _ahead_at(fit, row)
    e = fit.evidence
    out = np.zeros((len(modes), width))
    for place, one in enumerate(modes):
        theta = e.prior_mean[row] + e.prior_sd[row] * fit.posteriors[one].mode[row, :CURVE]
        at = derivatives(curve_of(theta), heat[:, 0])
        part = share * (at.bearing + 1e-30)
        out[place, 0] = 1.0
        if len(part):
            out[place, 1:CURVE] = part @ at.slopes / part.sum()
        out[place, :CURVE] *= e.prior_sd[row]
        out[place, CURVE:] = fit.bases[one][len(fit.dates) - 1, : width - CURVE]
    return out


def _turn(towards: Array) -> Array:
    """Return the rotation whose first row points a given way (width, width).

    In the plane of that way and the first axis, so that it changes smoothly with it.
    """
    length = np.sqrt((towards**2).sum())
    out = np.eye(len(towards))
    if not len(towards) or not length > 0.0:
        return out
    to = towards / length
    both = to.copy()
    both[0] += 1.0
    out -= np.outer(both, both) / max(1.0 + to[0], 1e-6)
    out[0] += 2.0 * to
    return out


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
    when: Single,
) -> _End | None:
    """Let the plants of each state end on a day since the last pick; None where it was just now.

    Days without a pick tell of an end only as far as the household was not just passing the crop
    over, which it may in any week.
    """
    picks = np.flatnonzero(fit.evidence.picked[row, -len(hanging) :] > 0)
    if not len(picks) or len(hanging) - 1 - picks[-1] < 2:
        return None
    at = int(picks[-1])
    days, tried = len(hanging) - 1 - at, hanging.shape[1]
    # On the evening before its end a state hangs as ever; from then on nothing is added.
    day_of_end = np.minimum((when * days).astype(np.int64), days - 1)
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


def _blocks(which: Index) -> list[tuple[int, slice]]:
    """Return each value of a sorted array and where it stands."""
    values, first = np.unique(which, return_index=True)
    ends = [*first[1:].tolist(), len(which)]
    return [
        (int(value), slice(start, end))
        for value, start, end in zip(values, first.tolist(), ends, strict=True)
    ]


def _spreads(uniform: Single) -> Single:
    """Return the spread each curve is drawn with (tried,)."""
    spread, often = (np.array(column) for column in zip(*WIDER, strict=True))
    return spread.astype(np.float32)[np.searchsorted(np.cumsum(often)[:-1], uniform)]


def _log_wider(far: Single) -> Single:
    """Return the log density the curve was drawn from, but for the constant of a standard normal.

    ``far`` (tried,) are squares of its normals, summed.
    """
    density = np.zeros_like(far)
    for spread, often in WIDER:
        density += np.float32(often / spread**CURVE) * np.exp(np.float32(-0.5 / spread**2) * far)
    return np.log(density)


def _weights(exact: Single, gaussian: Single, drawn: Single) -> tuple[Array, float]:
    """Return the weights of states (tried,), which sum to 1, and the share of them that counts.

    Parameters
    ----------
    exact, gaussian, drawn : ndarray (tried,)
        Log densities of each state: the exact one, that of the approximation, and that it was
        drawn from.
    """
    number = len(exact)
    weight = np.exp((exact - drawn - (exact - drawn).max()).astype(float))
    weight = np.minimum(weight, weight.mean() * np.cbrt(number))
    weight /= weight.sum()
    effective = 1.0 / float((weight**2).sum()) / number
    if effective < LEAST_EFFECTIVE:  # the approximation itself
        weight = np.exp((gaussian - drawn).astype(float))
        weight /= weight.sum()
    return weight, effective


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
    sizes: Single = e.gathered[row, -days:].astype(np.float32)[:, None] * size

    def against(log_ripe: Single) -> Single:
        """Odds against a pick on a look."""
        return np.exp(-np.clip(want + zeal * log_ripe, -most, most))

    def none(ripe: Single, size: Single) -> Single:
        """Chance that a look at what hangs ripe finds no whole piece."""
        return np.exp(size * (np.log(size) - np.log(ripe * per_kg + (tiny + size))))

    said: Single = np.zeros(hanging.shape, dtype=np.float32)
    if picked.any():
        ripe, size = hanging[picked] + tiny, sizes[picked]
        number = (y[picked] / e.unit[row])[:, None].astype(np.float32)
        # As logs of one and a little more: differences of large logs would lose four digits.
        ratio: Single = ripe * (per_kg / size)
        value = -number * _log_one_more(np.float32(1.0) / ratio) - size * _log_one_more(ratio)
        said[picked] = value - np.log(1.0 + against(np.log(ripe)))
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


def _log_one_more(x: Single) -> Single:
    """Return ``log(1 + x)`` in full single precision (Kahan's way, from memory).

    Examples
    --------
    >>> x = np.array([1e-5, 0.01, 3.0], dtype=np.float32)
    >>> bool(np.allclose(_log_one_more(x), np.log1p(x.astype(float)), rtol=3e-7))
    True
    """
    more = x + np.float32(1.0)
    return np.log(more) * (x / np.maximum(more - np.float32(1.0), np.float32(1e-30)))


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
