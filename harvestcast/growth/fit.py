"""Fit every variety of a garden at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.growth.curve import curve_of
from harvestcast.growth.habit import EASE, LOOK, SURE, ZEAL, Habit, learn_habit, learn_look
from harvestcast.growth.inference import (
    CURVE,
    Evidence,
    Noise,
    Posterior,
    kept_share,
    log_rate,
    posterior,
    ready,
)
from harvestcast.growth.pool import Kin, own_message, pooled_prior
from harvestcast.growth.prior import curve_prior
from harvestcast.growth.series import Season, Series, day_of, gather, log_warmth

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Array = NDArray[np.float64]

KNOT_DAYS = 5
"""Days between the knots of the deviation from the curve."""


@dataclass(frozen=True, slots=True)
class Temper:
    """One way the noise of a series may be: how far, how long, how unevenly."""

    slow: float
    """Standard deviation of the slow part of the log deviation from the curve."""
    fast: float
    """Standard deviation of its fast part."""
    size: float
    """Size of the negative binomial of a pick."""
    keep: float
    """Share of what is ripe and not picked that adds to the pick of the next day."""
    fruit: float
    """Weight for crops picked as they ripen, before anything is known."""
    stand: float
    """Weight for crops taken from a stand as they are wanted (leaves, roots)."""


SLOW_DAYS, FAST_DAYS = 80.0, 8.0
"""Days in which the slow and the fast part of a deviation fall to 1/e."""

TEMPERS: tuple[Temper, ...] = (
    Temper(0.6, 0.4, 4.0, 0.93, 0.25, 0.10),
    Temper(0.3, 0.2, 5.0, 0.95, 0.15, 0.05),
    Temper(0.5, 0.3, 1.8, 0.93, 0.15, 0.10),
    Temper(0.6, 0.9, 4.0, 0.90, 0.20, 0.10),
    Temper(1.2, 0.5, 3.0, 0.93, 0.10, 0.10),
    Temper(0.6, 0.4, 4.0, 0.5, 0.05, 0.20),
    Temper(1.2, 0.5, 3.0, 0.5, 0.05, 0.15),
    Temper(0.6, 0.9, 4.0, 0.5, 0.05, 0.20),
)
CONCENTRATION = 6.0
"""Series' worth of trust in the weights of :data:`TEMPERS` against what the garden shows."""
LEFT = 0.12


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
        With the knots of the first temper.
    noises, posteriors, bases : tuple
        Per temper: noise, posterior, and deviation per day and knot (days + days ahead, knots).
    weight : ndarray (series, tempers)
        Posterior weight of each temper.
    habit : Habit
    """

    season: Season
    as_of: pd.Timestamp
    dates: pd.DatetimeIndex
    evidence: Evidence
    noises: tuple[Noise, ...]
    posteriors: tuple[Posterior, ...]
    bases: tuple[Array, ...]
    weight: Array
    habit: Habit

    @property
    def series(self) -> tuple[Series, ...]:
        """The fitted series."""
        return self.season.series


def deviation_basis(days: int, *, slow: float, fast: float, spacing: int = KNOT_DAYS) -> Array:
    """Return a mean-reverting deviation, per day and whitened knot (days, knots).

    Between knots it is linear; knots are the sum of two Ornstein-Uhlenbeck processes of standard
    deviations ``slow`` and ``fast``, seen every ``spacing`` days.
    """
    number = int(np.ceil(max(days - 1, 1) / spacing)) + 1
    at = np.arange(number) * spacing
    apart = np.abs(at[:, None] - at)
    covariance = slow**2 * np.exp(-apart / SLOW_DAYS) + fast**2 * np.exp(-apart / FAST_DAYS)
    root = np.linalg.cholesky(covariance)
    place = np.arange(days) / spacing
    low = np.minimum(place.astype(int), number - 2)
    weight = np.zeros((days, number))
    weight[np.arange(days), low] = 1.0 - (place - low)
    weight[np.arange(days), low + 1] = place - low
    return weight @ root


def fit_garden(
    garden: Garden, as_of: pd.Timestamp | str | None = None, *, days_ahead: int = 21
) -> Fit:
    """Fit the yield curves of every variety growing in the season of a day.

    Parameters
    ----------
    garden : Garden
    as_of : date, optional
        Last day known; the garden's last day if left out.
    days_ahead : int
        Days to come that the deviation is carried on for.

    Returns
    -------
    Fit
    """
    last = day_of(garden, as_of)
    season = gather(garden, last)
    nothing_ripe = garden.household.day_without_row == "nothing_ripe"
    dates, evidence, habit = _evidence(season, days_ahead, nothing_ripe)
    n, days = evidence.picked.shape
    bases = tuple(deviation_basis(days + days_ahead, slow=t.slow, fast=t.fast) for t in TEMPERS)
    noise = _noise(TEMPERS[0], n, SURE if nothing_ripe else LOOK)
    evidence = replace(evidence, knots=bases[0][:days])
    first = posterior(evidence, noise)
    if not nothing_ripe:
        noise = replace(noise, look=_look(evidence, noise, first.mode))
    evidence, start = _pooled(season, evidence, first)
    posteriors: list[Posterior] = []
    noises: list[Noise] = []
    for temper, basis in zip(TEMPERS, bases, strict=True):
        own = replace(
            noise,
            size=np.full(n, temper.size),
            keep=np.full(n, temper.keep),
        )
        done = posterior(replace(evidence, knots=basis[:days]), own, start=start)
        posteriors.append(done)
        noises.append(own)
        start = done.mode
    log_evidence = np.array([p.log_evidence for p in posteriors]).T.reshape(n, len(TEMPERS))
    return Fit(
        season=season,
        as_of=last,
        dates=dates,
        evidence=evidence,
        noises=tuple(noises),
        posteriors=tuple(posteriors),
        bases=bases,
        weight=temper_weights(log_evidence, _from_stand(season)),
        habit=habit,
    )


def temper_weights(
    log_evidence: Array, from_stand: NDArray[np.bool_], *, rounds: int = 30
) -> Array:
    """Return the weight of every temper for every series (series, tempers).

    The garden's own mix of tempers is learned from its series (expectation maximisation with
    :data:`CONCENTRATION` series' worth of prior), apart for crops picked as they ripen and crops
    taken from a stand; each series then weighs them by its own log.
    """
    like = np.exp(log_evidence - log_evidence.max(axis=1, keepdims=True))
    weight = np.empty_like(like)
    for group, prior in (
        (~from_stand, np.array([t.fruit for t in TEMPERS])),
        (from_stand, np.array([t.stand for t in TEMPERS])),
    ):
        prior = prior / prior.sum()
        mix = prior
        for _ in range(rounds):
            share = mix * like[group]
            share /= share.sum(axis=1, keepdims=True)
            mix = CONCENTRATION * prior + share.sum(axis=0)
            mix = mix / mix.sum()
        share = mix * like[group]
        weight[group] = share / share.sum(axis=1, keepdims=True)
    return weight


def _from_stand(season: Season) -> NDArray[np.bool_]:
    return np.array(
        [s.facts.habit in ("cut_again", "once_over") for s in season.series], dtype=bool
    )


def _noise(temper: Temper, n: int, look: float) -> Noise:
    ones = np.ones(n)
    return Noise(
        spread=ones,
        size=temper.size * ones,
        left=LEFT * ones,
        keep=temper.keep * ones,
        look=look * ones,
        ease=EASE * ones,
        zeal=ZEAL * ones,
    )


def _evidence(
    season: Season, days_ahead: int, nothing_ripe: bool
) -> tuple[pd.DatetimeIndex, Evidence, Habit]:
    priors = [curve_prior(s) for s in season.series]
    start = _first_useful_day(season, priors)
    dates = season.dates[start:]
    n, days = len(season.series), len(dates)
    most = max((s.heat.shape[0] for s in season.series), default=1)
    heat, share = np.zeros((n, most, days)), np.zeros((n, most, days))
    for row, s in enumerate(season.series):
        heat[row, : s.heat.shape[0]] = s.heat[:, start:]
        share[row, : s.heat.shape[0]] = s.share[:, start:]
    picked = np.array([s.mass[start:] for s in season.series]).reshape(n, days)
    warmth = np.array([log_warmth(s.daily)[start:] for s in season.series]).reshape(n, days)
    habit = learn_habit(dates, picked, nothing_ripe=nothing_ripe)
    prior_mean = np.array([p[0] for p in priors]).reshape(n, CURVE)
    evidence = Evidence(
        heat=heat,
        share=share,
        log_warmth=warmth,
        picked=picked,
        came=habit.came,
        unit=np.array([_grain(s) for s in season.series]),
        usual=_usual_pick(season, picked, prior_mean),
        prior_mean=prior_mean,
        prior_sd=np.array([p[1] for p in priors]).reshape(n, CURVE),
        knots=np.zeros((days, 0)),
    )
    return dates, evidence, habit


def _look(evidence: Evidence, noise: Noise, u: Array) -> Array:
    log, _ = log_rate(evidence, noise, u)
    hanging = ready(log, kept_share(evidence, noise))
    return learn_look(
        evidence.picked, evidence.came, hanging, evidence.usual, noise.ease, noise.zeal
    )


def _pooled(season: Season, evidence: Evidence, first: Posterior) -> tuple[Evidence, Array]:
    """Let the series learn from each other; return new priors and where to start from."""
    n, width = first.mode.shape
    if n == 0:
        return evidence, first.mode
    head = np.zeros((n, width, CURVE))
    head[:, np.arange(CURVE), np.arange(CURVE)] = 1.0
    variance = np.einsum("nii->ni", np.linalg.solve(first.precision, head)[:, :CURVE])
    own_mean, own_variance = own_message(
        evidence.prior_mean, evidence.prior_sd, first.mode[:, :CURVE], variance
    )
    mean, sd = pooled_prior(
        _kin(season), evidence.prior_mean, evidence.prior_sd, own_mean, own_variance
    )
    theta = evidence.prior_mean + evidence.prior_sd * first.mode[:, :CURVE]
    start = first.mode.copy()
    start[:, :CURVE] = np.clip((theta - mean) / sd, -4, 4)
    return replace(evidence, prior_mean=mean, prior_sd=sd), start


def _kin(season: Season) -> Kin:
    crops = [s.crop for s in season.series]
    names = [(s.crop, s.variety) for s in season.series]
    return Kin(
        crop=np.unique(np.array(crops), return_inverse=True)[1],
        kind=np.array(
            [2 * (s.facts.habit in ("cut_again", "once_over")) + s.set_out for s in season.series]
        ),
        variety=np.array([sorted(set(names)).index(x) for x in names]),
        season=np.zeros(len(names), dtype=np.int64),
    )


def _first_useful_day(season: Season, priors: list[tuple[Array, Array]]) -> int:
    """First day on which any series was picked or could be bearing."""
    first = len(season.dates) - 1
    for s, (mean, sd) in zip(season.series, priors, strict=True):
        early = np.exp(mean[1] - 2 * sd[1])
        bearing = np.flatnonzero((s.heat > 0.6 * early).any(axis=0) | ~np.isnan(s.mass))
        if len(bearing):
            first = min(first, int(bearing[0]))
    return max(first - KNOT_DAYS, 0)


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


def ready_now(
    evidence: Evidence, noise: Noise, u: Array, row: int, *, most_days: int = 40
) -> Array:
    """Return what hangs ripe on the last evening in each draw of one series (draws,), in kg.

    Parameters
    ----------
    u : ndarray (draws, 5 + knots)
    most_days : int
        Days back that are summed; what ripened before is picked or spoiled.
    """
    days = evidence.picked.shape[1]
    rows = np.flatnonzero(np.nan_to_num(evidence.picked[row]) > 0)
    back = min(most_days, days, days - (int(rows[-1]) if len(rows) else 0) + 7)
    part = evidence.at(np.array([row])).since(days - back)
    kept = kept_share(part, noise.at(np.array([row])))
    now = ready(log_rate_draws(part, float(noise.spread[row]), u), kept)[:, -1]
    if np.nan_to_num(evidence.picked[row, -1]) > 0:
        now = now * noise.left[row]
    return now


def log_rate_draws(evidence: Evidence, spread: float, u: Array) -> Array:
    """Return log rates of many draws of one series (draws, days)."""
    theta = evidence.prior_mean + evidence.prior_sd * u[:, :CURVE]
    h1, h2, s1, s2 = (x[:, None, None] for x in curve_of(theta))
    heat = evidence.heat
    value = 1.0 / (
        (1.0 + np.exp(-np.clip((heat - h1) / s1, -60, 60)))
        * (1.0 + np.exp(-np.clip((h2 - heat) / s2, -60, 60)))
    )
    total = (evidence.share * value).sum(axis=1) + 1e-12
    deviation = spread * (u[:, CURVE:] @ evidence.knots.T)
    return theta[:, :1] + evidence.log_warmth + np.log(total) + deviation
