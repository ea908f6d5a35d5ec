"""Fit every variety of a garden at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.growth.curve import curve_of
from harvestcast.growth.habit import Habit, learn_habit
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
from harvestcast.growth.prior import curve_prior
from harvestcast.growth.series import Season, Series, gather, log_warmth

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Array = NDArray[np.float64]

KNOT_DAYS = 5
"""Days between the knots of the deviation from the curve."""
REVERSION_DAYS = 30.0
SPREAD = 0.7
SIZE = 2.0
LEFT = 0.15
KEEP = 0.97
ZEAL = 1.0


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
    evidence, noise, posterior, habit :
        See :mod:`harvestcast.growth.inference` and :mod:`harvestcast.growth.habit`.
    knots_ahead : ndarray (days ahead, knots)
        Like ``evidence.knots``, for the days to come.
    """

    season: Season
    as_of: pd.Timestamp
    dates: pd.DatetimeIndex
    evidence: Evidence
    noise: Noise
    posterior: Posterior
    habit: Habit
    knots_ahead: Array

    @property
    def series(self) -> tuple[Series, ...]:
        """The fitted series."""
        return self.season.series


def deviation_basis(days: int, *, reversion_days: float, spacing: int = KNOT_DAYS) -> Array:
    """Return a mean-reverting deviation of unit spread, per day and whitened knot (days, knots).

    Between knots it is linear; knots are an Ornstein-Uhlenbeck process seen every ``spacing`` days.
    """
    number = int(np.ceil(max(days - 1, 1) / spacing)) + 1
    at = np.arange(number) * spacing
    covariance = np.exp(-np.abs(at[:, None] - at) / reversion_days)
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
    last = garden.last_day if as_of is None else pd.Timestamp(as_of)
    season = gather(garden, last)
    priors = [curve_prior(s) for s in season.series]
    start = _first_useful_day(season, priors)
    dates = season.dates[start:]
    n, days = len(season.series), len(dates)
    basis = deviation_basis(days + days_ahead, reversion_days=REVERSION_DAYS)
    most = max((s.heat.shape[0] for s in season.series), default=1)
    heat, share = np.zeros((n, most, days)), np.zeros((n, most, days))
    for row, s in enumerate(season.series):
        heat[row, : s.heat.shape[0]] = s.heat[:, start:]
        share[row, : s.heat.shape[0]] = s.share[:, start:]
    picked = np.array([s.mass[start:] for s in season.series]).reshape(n, days)
    warmth = np.array([log_warmth(s.daily)[start:] for s in season.series]).reshape(n, days)
    habit = learn_habit(
        dates, picked, nothing_ripe=garden.household.day_without_row == "nothing_ripe"
    )
    prior_mean = np.array([p[0] for p in priors]).reshape(n, CURVE)
    evidence = Evidence(
        heat=heat,
        share=share,
        log_warmth=warmth,
        picked=picked,
        looked=habit.looked,
        unit=np.array([s.fruit_kg for s in season.series]),
        usual=_usual_pick(season, picked, prior_mean),
        prior_mean=prior_mean,
        prior_sd=np.array([p[1] for p in priors]).reshape(n, CURVE),
        knots=basis[:days],
    )
    ease = np.log(habit.pick_rate / (1.0 - habit.pick_rate)) + 0.4
    ones = np.ones(n)
    noise = Noise(
        spread=SPREAD * ones,
        size=SIZE * ones,
        left=LEFT * ones,
        keep=KEEP * ones,
        ease=ease,
        zeal=ZEAL * ones,
    )
    return Fit(
        season=season,
        as_of=last,
        dates=dates,
        evidence=evidence,
        noise=noise,
        posterior=posterior(evidence, noise),
        habit=habit,
        knots_ahead=basis[days:],
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


def _usual_pick(season: Season, picked: Array, prior_mean: Array) -> Array:
    """Geometric mean pick, shrunk to a few days of full bearing."""
    out = np.empty(len(season.series))
    for row, s in enumerate(season.series):
        own = picked[row][np.nan_to_num(picked[row]) > 0]
        expected = prior_mean[row, 0] + np.log(10.0 * s.facts.pick_every_days)
        out[row] = np.exp((np.log(own).sum() + expected) / (len(own) + 1))
    return out


def ready_now(fit: Fit, u: Array, *, most_days: int = 40) -> Array:
    """Return what hangs ripe on the evening of ``as_of`` per draw (series, draws), in kg.

    Parameters
    ----------
    u : ndarray (series, draws, 5 + knots)
    most_days : int
        Days back that are summed; what ripened before is picked or spoiled.
    """
    e = fit.evidence
    n, draws, _ = u.shape
    days = e.picked.shape[1]
    kept = kept_share(e, fit.noise)
    now = np.empty((n, draws))
    for row in range(n):
        rows = np.flatnonzero(np.nan_to_num(e.picked[row]) > 0)
        back = min(most_days, days, days - (int(rows[-1]) if len(rows) else 0) + 7)
        part = e.at(np.array([row])).since(e.picked.shape[1] - back)
        log = log_rate_draws(part, float(fit.noise.spread[row]), u[row])
        now[row] = ready(log, kept[row, -back:][None])[:, -1]
        if np.nan_to_num(e.picked[row, -1]) > 0:
            now[row] *= fit.noise.left[row]
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


__all__ = ["Fit", "fit_garden", "log_rate", "ready_now"]
