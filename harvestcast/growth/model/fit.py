"""Fit every variety of a garden at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from harvestcast.arrays import Array, Index
from harvestcast.growth.log.habit import (
    EASE,
    EASES,
    LOOK,
    SURE,
    ZEAL,
    Habit,
    learn_habit,
    learn_look,
    learn_passed_over,
)
from harvestcast.growth.log.series import Season, Series, day_of, gather, log_warmth, until
from harvestcast.growth.model.curve import CURVE
from harvestcast.growth.model.density import (
    Evidence,
    Noise,
    evenness,
    kept_share,
    pick_chance,
    rates,
    ready,
    waits,
)
from harvestcast.growth.model.earlier import Messages, earlier_seasons, joined, messages
from harvestcast.growth.model.newton import Posterior, posteriors
from harvestcast.growth.model.noise import (
    KNOT_DAYS,
    NOISE_LEVELS,
    NoiseLevel,
    deviation_basis,
    knots_of,
    noise_weights,
    shared_weights,
)
from harvestcast.growth.model.prior import curve_prior, widened
from harvestcast.growth.model.sharing import Kin, pooled_prior

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


LEFT = 0.12
"""Share of the ripe fruit that a pick leaves behind (our judgement)."""
ENOUGH_PICKS = 4
"""Picks from which on a series is asked how easily it is picked."""
EARLY = 0.6
"""A series counts from this part of the least heat its first pick may need."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A garden fitted up to a day.

    Parameters
    ----------
    season : Season
        The series, in the order of all arrays.
    as_of : Timestamp
        Last day known.
    dates : DatetimeIndex (days,)
        Days the evidence runs over.
    evidence : Evidence
        With the knots of the first noise level.
    since : ndarray (series,)
        First of the days on which a series' log can say anything.
    noises, posteriors, bases : tuple
        Per noise level: noise, posterior of curve and past knots, and deviation per day and knot
        (days + days ahead, knots), the knots of the past first.
    weight : ndarray (series, noise levels)
        Posterior weight of each noise level.
    habit : Habit
    expected, expected_sd : ndarray (series, 5)
        Prior of the curves by the almanac and earlier seasons, this season's picks left out.
    """

    season: Season
    as_of: pd.Timestamp
    dates: pd.DatetimeIndex
    evidence: Evidence
    since: Index
    noises: tuple[Noise, ...]
    posteriors: tuple[Posterior, ...]
    bases: tuple[Array, ...]
    weight: Array
    habit: Habit
    expected: Array
    expected_sd: Array

    @property
    def series(self) -> tuple[Series, ...]:
        """The fitted series."""
        return self.season.series

    def evidence_under(self, level: int) -> Evidence:
        """Return the evidence with the past knots of a noise level."""
        days = len(self.dates)
        return replace(self.evidence, knots=self.bases[level][:days, : knots_of(days)])


def fit_garden(
    garden: Garden,
    as_of: pd.Timestamp | str | None = None,
    *,
    days_ahead: int = 21,
    begun: pd.Timestamp | None = None,
) -> Fit:
    """Fit the yield curves of every variety growing in the season of a day.

    Parameters
    ----------
    garden : Garden
    as_of : date, optional
        Last day known; the garden's last day if left out.
    days_ahead : int
        Days to come that the deviation is carried on for.
    begun : Timestamp, optional
        First day of the season, see :func:`harvestcast.growth.log.series.gather`.

    Returns
    -------
    Fit
    """
    last = day_of(garden, as_of)
    season = gather(garden, last, begun)
    nothing_ripe = garden.household.day_without_row == "nothing_ripe"
    before = earlier_seasons(garden, season.dates[0], {s.crop for s in season.series})
    # Matrices are small: a second thread of the linear algebra would only spin between them.
    with threadpool_limits(1, user_api="blas"):
        told = [_told(one, ago, nothing_ripe) for ago, one in enumerate(before, start=1)]
        return _fitted(season, told, nothing_ripe, days_ahead)


def fit_earlier(fit: Fit, back: int, *, nothing_ripe: bool, days_ahead: int = 7) -> Fit:
    """Fit a garden as it was known so many days before, lightly: as the forecast of then.

    Parameters
    ----------
    fit : Fit
        The garden as it is known now.
    back : int
        Days before its last one; the season must have begun.
    nothing_ripe : bool
        As :attr:`harvestcast.records.household.Household.day_without_row` says.
    days_ahead : int
        As for :func:`fit_garden`.

    Returns
    -------
    Fit
        Under the one noise level that most series have now; how easily each is picked is as known
        now, and earlier seasons say nothing.
    """
    commonest = int(fit.weight.sum(axis=0).argmax())
    return _fitted(
        until(fit.season, back), [], nothing_ripe, days_ahead, fit.noises[0], levels=[commonest]
    )


def _fitted(
    season: Season,
    earlier: list[Messages],
    nothing_ripe: bool,
    days_ahead: int,
    known_noise: Noise | None = None,
    levels: Sequence[int] = range(len(NOISE_LEVELS)),
) -> Fit:
    """Fit a season under some noise levels, ``earlier`` ones told of."""
    tried = [NOISE_LEVELS[level] for level in levels]
    dates, evidence, since, habit = _evidence(season, nothing_ripe)
    n, days = evidence.picked.shape
    bases = tuple(deviation_basis(days, days_ahead, slow=t.slow, fast=t.fast) for t in tried)
    past = [basis[:days, : knots_of(days)] for basis in bases]
    noise = _noise(tried[0], n, SURE if nothing_ripe else LOOK)
    evidence = replace(evidence, knots=past[0])
    if known_noise is not None:
        noise = replace(noise, look=known_noise.look, ease=known_noise.ease)
    if nothing_ripe or known_noise is not None:
        first = _first_look(evidence, [noise], past[0], since)[0]
    else:
        noise, first = _with_habit(evidence, noise, past[0], since)
    told = joined([messages(season, 0, evidence, first), *earlier])
    expected, expected_sd = _expected(told, season)
    evidence, begin = _pooled(told, evidence, first)
    noises = tuple(
        replace(noise, size=np.full(n, level.size), keep=np.full(n, level.keep)) for level in tried
    )
    found = posteriors(evidence, noises, past, since, start=begin)
    if not nothing_ripe:
        habit = replace(habit, passed_over=_passed_over(season, evidence, noises[0], found[0]))
    log_evidence = np.array([p.log_evidence for p in found]).T.reshape(n, len(tried))
    if len(tried) == 1:
        weight = np.ones((n, 1))
    else:
        from_stand = np.array([s.from_stand for s in season.series], dtype=bool)
        weight = noise_weights(log_evidence, from_stand)
    return Fit(
        season=season,
        as_of=season.dates[-1],
        dates=dates,
        evidence=evidence,
        since=since,
        noises=noises,
        posteriors=found,
        bases=bases,
        weight=weight,
        habit=habit,
        expected=expected,
        expected_sd=expected_sd,
    )


def _noise(level: NoiseLevel, n: int, look: float) -> Noise:
    ones = np.ones(n)
    return Noise(
        size=level.size * ones,
        left=LEFT * ones,
        keep=level.keep * ones,
        look=look * ones,
        ease=EASE * ones,
        zeal=ZEAL * ones,
    )


def _evidence(
    season: Season, nothing_ripe: bool
) -> tuple[pd.DatetimeIndex, Evidence, Index, Habit]:
    """Return the evidence, the days it covers, each series' first useful one, and the habit."""
    priors = [curve_prior(s) for s in season.series]
    since = _first_useful_days(season, priors)
    start = int(since.min(initial=len(season.dates) - 1))
    dates = season.dates[start:]
    n, days = len(season.series), len(dates)
    most = max((s.heat.shape[0] for s in season.series), default=1)
    heat, share = np.zeros((n, most, days)), np.zeros((n, most, days))
    for row, s in enumerate(season.series):
        heat[row, : s.heat.shape[0]] = s.heat[:, start:]
        share[row, : s.heat.shape[0]] = s.share[:, start:]
    picked = np.array([s.mass[start:] for s in season.series]).reshape(n, days)
    warmth = np.array([log_warmth(s.daily)[start:] for s in season.series]).reshape(n, days)
    habit = learn_habit(
        dates, picked, nothing_ripe=nothing_ripe, unlogged=max(season.unlogged - start, 0)
    )
    prior_mean = np.array([p[0] for p in priors]).reshape(n, CURVE)
    prior_sd = [widened(s, *prior) for s, prior in zip(season.series, priors, strict=True)]
    evidence = Evidence(
        heat=heat,
        share=share,
        log_warmth=warmth,
        picked=picked,
        came=habit.came,
        gathered=evenness(waits(picked)),
        unit=np.array([_grain(s) for s in season.series]),
        usual=_usual_pick(season, picked, prior_mean),
        prior_mean=prior_mean,
        prior_sd=np.array(prior_sd).reshape(n, CURVE),
        knots=np.zeros((days, 0)),
    )
    return dates, evidence, since - start, habit


def _with_habit(
    evidence: Evidence, noise: Noise, basis: Array, since: Index
) -> tuple[Noise, Posterior]:
    """Learn how easily and how often each series is picked; return it with a first fit of each."""
    first = _first_look(evidence, [noise], basis, since)[0]
    eases = np.array([ease for ease, _ in EASES])
    log = np.tile(first.log_evidence[:, None], len(eases))
    # A few picks do not say how they were decided; such series go with the garden's others.
    some = np.flatnonzero((evidence.picked > 0).sum(axis=1) >= ENOUGH_PICKS)
    mode, precision = first.mode.copy(), first.precision.copy()
    if len(some):
        own = noise.at(some)
        others = [replace(own, ease=np.full(len(some), ease)) for ease in eases[1:]]
        found = _first_look(evidence.at(some), others, basis, since[some], start=mode[some])
        log[some, 1:] = np.array([p.log_evidence for p in found]).T
    best = shared_weights(log, np.array([chance for _, chance in EASES])).argmax(axis=1)
    for place, row in enumerate(some):
        if best[row] > 0:
            mode[row] = found[best[row] - 1].mode[place]
            precision[row] = found[best[row] - 1].precision[place]
    first = replace(first, mode=mode, precision=precision)
    noise = replace(noise, ease=eases[best])
    chance = _chance(evidence, noise, first)
    return replace(noise, look=learn_look(evidence.picked, evidence.came, chance)), first


def _chance(evidence: Evidence, noise: Noise, posterior: Posterior) -> Array:
    """Return the probability that a look brings a pick, by the mode (series, days)."""
    kept = kept_share(evidence.picked, noise.left, noise.keep)
    return pick_chance(evidence, noise, ready(rates(evidence, posterior.mode), kept))


def _passed_over(season: Season, evidence: Evidence, noise: Noise, posterior: Posterior) -> float:
    missed = 1.0 - evidence.came * _chance(evidence, noise, posterior) * noise.look[:, None]
    return learn_passed_over(evidence.picked > 0, missed, season.crop)


def _first_look(
    evidence: Evidence,
    noises: Sequence[Noise],
    basis: Array,
    since: Index,
    *,
    start: Array | None = None,
) -> tuple[Posterior, ...]:
    """Fit each series by itself under one noise level, well enough to tell others of it."""
    bases = [basis] * len(noises)
    return posteriors(evidence, noises, bases, since, start=start, close=0.02, most_steps=12)


def _told(season: Season, ago: int, nothing_ripe: bool) -> Messages:
    """Return what the series of an earlier season say of their curves."""
    _, evidence, since, _ = _evidence(season, nothing_ripe)
    n, days = evidence.picked.shape
    level = NOISE_LEVELS[0]
    # A whole season's curve does not hang on every bend of the deviation.
    basis = deviation_basis(days, slow=level.slow, fast=level.fast, recent=0)
    noise = _noise(level, n, SURE if nothing_ripe else LOOK)
    return messages(season, ago, evidence, _first_look(evidence, [noise], basis, since)[0])


def _pooled(told: Messages, evidence: Evidence, first: Posterior) -> tuple[Evidence, Array]:
    """Let the series learn from each other; return new priors and where to start from."""
    n = len(first.mode)
    if n == 0:
        return evidence, first.mode
    mean, sd = pooled_prior(
        _kin(told), told.prior_mean, told.prior_sd, told.own_mean, told.own_variance
    )
    mean, sd = mean[:n], sd[:n]
    theta = evidence.prior_mean + evidence.prior_sd * first.mode[:, :CURVE]
    start = first.mode.copy()
    start[:, :CURVE] = np.clip((theta - mean) / sd, -4, 4)
    return replace(evidence, prior_mean=mean, prior_sd=sd), start


def _expected(told: Messages, season: Season) -> tuple[Array, Array]:
    """Return the prior of this season's series before any of them was picked, mean and spread."""
    now, n = told.season == 0, len(season.series)
    # This season's picks do not widen it either.
    sd = np.array([curve_prior(s)[1] for s in season.series]).reshape(n, CURVE)
    if now.all():
        return told.prior_mean, sd
    sd = np.concatenate((sd, told.prior_sd[n:]))
    variance = np.where(now[:, None], np.inf, told.own_variance)
    mean, sd = pooled_prior(_kin(told), told.prior_mean, sd, told.own_mean, variance)
    return mean[:n], sd[:n]


def _kin(told: Messages) -> Kin:
    crops = np.array([s.crop for s in told.series])
    names = [(s.crop, s.variety) for s in told.series]
    kind = [2 * s.from_stand + s.set_out for s in told.series]
    order = {name: place for place, name in enumerate(sorted(set(names)))}
    return Kin(
        crop=np.unique(crops, return_inverse=True)[1],
        kind=np.array(kind),
        variety=np.array([order[name] for name in names]),
        season=told.season,
    )


def _first_useful_days(season: Season, priors: list[tuple[Array, Array]]) -> Index:
    """First day on which each series was picked or could be bearing, and a knot before it."""
    first = np.full(len(season.series), len(season.dates) - 1)
    for row, (s, (mean, sd)) in enumerate(zip(season.series, priors, strict=True)):
        early = np.exp(mean[1] - 2 * sd[1])
        bearing = (s.heat > EARLY * early).any(axis=0) | ~np.isnan(s.mass)
        if bearing.any():
            first[row] = int(bearing.argmax())
    return np.maximum(first - KNOT_DAYS, 0)


def _grain(series: Series) -> float:
    """Mass of the pieces a pick consists of: a fruit, or less where picks are smaller."""
    if series.counted:
        return series.fruit_kg
    own = series.mass[np.nan_to_num(series.mass) > 0]
    if not len(own):
        return 0.3 * series.fruit_kg
    return float(min(series.fruit_kg, 0.3 * np.median(own)))


def _usual_pick(season: Season, picked: Array, prior_mean: Array) -> Array:
    """Geometric mean pick, shrunk to a few days of full bearing."""
    out = np.empty(len(season.series))
    for row, s in enumerate(season.series):
        own = picked[row][np.nan_to_num(picked[row]) > 0]
        expected = prior_mean[row, 0] + np.log(10.0 * s.facts.pick_every_days)
        out[row] = np.exp((np.log(own).sum() + expected) / (len(own) + 1))
    return out
