"""The household's habit of picking: which days somebody is in the garden, and what gets picked.

A day on which anything at all was written down is a garden day. Whether nothing was written
because nobody came or because nothing was ripe is told apart by the other crops: with ten
varieties in full bearing an empty day means that nobody came, with one variety left in October it
says little. On a garden day a given variety is looked at with a probability of its own, and picked
if what hangs ripe is worth it.

Whether a day is a garden day hangs on the weekday and on how long ago the last one was: daily,
every other day, weekends, once a week and a fortnight away are all of that kind. How much each of
the two says is learned with the rest: a logistic regression for each pair of spreads in
:data:`SPREADS`, weighed by its evidence (Laplace's approximation), so that a strict habit is
believed after two or three weeks and a loose one is not taken for strict. Waits that are alike say
alike things (:data:`ALIKE_DAYS`): five days on which nobody came tell of the sixth, and whoever has
been away for long comes back on a day like any other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.arrays import Array, Flags, Index

LOOK = 0.55
"""Probability that a given variety is looked at on a garden day, before its log says more."""
LOOKS: tuple[tuple[float, float], ...] = (
    (0.15, 0.10), (0.3, 0.16), (0.45, 0.18), (0.6, 0.18), (0.75, 0.16), (0.9, 0.12), (0.98, 0.10)
)  # fmt: skip
"""Probabilities of a look between which the log of a variety decides, and how likely each is before
(our judgement); how common each is in a garden is learned from all of its varieties."""
LOOKS_TRUST = 3.0
"""Varieties' worth of trust in how likely each is before."""
EASE, ZEAL = 0.3, 2.5
"""A look leads to a pick with probability ``expit(EASE + ZEAL * log(ready / usual pick))``."""
EASES: tuple[tuple[float, float], ...] = ((EASE, 0.8), (5.0, 0.2))
"""Eases between which the log of a variety decides, and how likely each is before (our judgement):
most households leave what is not worth a pick yet, some take whatever is there. How common each is
in a garden is learned from all of its varieties."""
PASSED_OVER, TRUST = 0.04, 15.0
"""How often a whole crop is passed over for a week though it is ripe, before the log says more (our
judgement), and how many weeks of a crop that is worth."""
LEAST_DAYS = 4
"""Days with a pick from which on a crop is asked whether it was passed over."""
HALF_LIFE = 28.0
"""Days after which a garden day counts half in the habit. [d]"""
ROUNDS = 6
"""Rounds in which garden days without a row and what is picked on a garden day are found."""
GAPS = np.array([1, 2, 3, 4, 5, 6, 7, 8, 11, 15])
"""First days since the last garden day of each step in what the wait says. [d]"""
ALIKE_DAYS = 3.0
"""Days by which two waits differ where their log odds have a correlation of 1/e before the log says
more (our judgement; 2 and 5 do as well for weekly pickers, 5 less well after an absence). [d]"""
_WAITS = np.linalg.cholesky(np.exp(-np.abs(GAPS[:, None] - GAPS) / ALIKE_DAYS))
SPREADS: tuple[tuple[float, float], ...] = ((0.4, 0.4), (1.5, 0.3), (6.0, 0.3))
"""Spreads of log odds between weekdays, and between waits, and how likely each is before."""
USUAL, USUAL_SD = 0.8, 1.5
"""Log odds of a garden day before the log says anything, and their spread."""
STEPS = 5
"""Newton steps of the regression in each round."""
SURE = 0.95
"""Probability of a look where the household says that a day without a row means nothing ripe."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Habit:
    """Learned habit of one garden.

    Parameters
    ----------
    weekday : ndarray (7,)
        Share of days that were garden days lately, Monday first.
    odds : ndarray (forms, 1 + 7 + waits)
        Log odds of a garden day: their mean, what each weekday adds, and each wait (:data:`GAPS`);
        a row for each form of the regression.
    weight : ndarray (forms,)
        How likely each form is.
    since : int
        Days from the last garden day to the last day known.
    came : ndarray (series, days)
        Probability that somebody was in the garden on each past day without a row of a variety;
        on days with a written zero, that the zero means looked and found none.
    passed_over : float
        Probability that nobody goes to a given crop in a whole week.
    """

    weekday: Array
    odds: Array
    weight: Array
    since: int
    came: Array
    passed_over: float = 0.0


def even_habit(chance: float) -> Habit:
    """Return the habit of a household that comes on any day with the same chance.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> days = visits_ahead(even_habit(0.8), pd.Timestamp("2026-06-01"), 100, 100, rng)
    >>> round(float(days.mean()), 1)
    0.8
    """
    size = 8 + len(GAPS)
    odds = np.zeros((1, size))
    odds[0, 0] = np.log(chance / (1.0 - chance))
    return Habit(
        weekday=np.full(7, chance),
        odds=odds,
        weight=np.ones(1),
        since=0,
        came=np.ones((0, 0)),
    )


def learn_habit(
    dates: pd.DatetimeIndex, picked: Array, *, nothing_ripe: bool = False, unlogged: int = 0
) -> Habit:
    """Learn the habit from the log of one season.

    Parameters
    ----------
    dates : DatetimeIndex (days,)
        Days of the season so far.
    picked : ndarray (series, days)
        Mass picked; NaN on days without a row, 0 where looked and found none. [kg]
    nothing_ripe : bool
        The household says that a day without a row means that nothing was ripe.
    unlogged : int
        Days at the head of ``dates`` on which nobody wrote anything down yet, picked or not.

    Returns
    -------
    Habit
    """
    weekday = dates.day_of_week.to_numpy()
    rows = ~np.isnan(picked)
    # A weekday's zeros that mean "not picked" are no visits.
    trust = _trust_in_zeros(picked, weekday)[weekday]
    any_row: Flags = np.atleast_1d((rows & ((picked != 0) | (trust > 0.5))).any(axis=0))
    days = picked.shape[1]
    # In season: from its first row to a fortnight past its last one.
    first = np.where(rows.any(1), rows.argmax(1), days)
    last = np.where(rows.any(1), days - 1 - rows[:, ::-1].argmax(1), -1)
    day = np.arange(days)
    season: Flags = np.atleast_1d((day >= first[:, None]) & (day <= last[:, None] + 14))
    active: Flags = np.atleast_1d(season.any(axis=0))
    fresh = active * 0.5 ** ((days - 1 - day) / HALF_LIFE)
    got = ((picked > 0) & season).sum(axis=1)
    # Where little bears, days without a row are garden days too: found in rounds, together with
    # what is picked on a garden day (expectation maximisation).
    there, visit, start = any_row.astype(float), np.full(days, 0.7), None
    doubted = np.atleast_1d(rows.any(axis=0)) & ~any_row
    for _ in range(ROUNDS):
        rate = np.minimum((got + 0.5) / (season @ there + 1.5), 0.95)
        misses = np.where(season, np.log1p(-rate[:, None]), 0.0)
        there = np.where(any_row, 1.0, _unseen(visit, misses.sum(axis=0)))
        # A day of nothing but zeros that mean "not picked" is no visit.
        there = np.where(doubted, np.minimum(there, trust), there)
        wait = _waits(there > 0.5)
        found = _regression(_design(weekday, wait), there, fresh, start)
        visit, start = found.chance, found.odds
    others = misses.sum(axis=0)[None] - misses
    came = np.where(any_row[None], 1.0, _unseen(visit[None], others))
    if nothing_ripe:
        came = np.ones_like(came)
    came[:, :unlogged] = 0.0
    last_there = np.flatnonzero(there > 0.5)
    return Habit(
        weekday=_by_weekday(visit, fresh, weekday),
        odds=np.concatenate((found.odds[:, :8], found.odds[:, 8:] @ _WAITS.T), axis=1),
        weight=found.weight,
        since=int(days - 1 - last_there[-1]) if len(last_there) else 0,
        came=np.where(picked == 0, trust[None], came),
    )


def _waits(there: Flags) -> Index:
    """Return how many days ago the last garden day was, for each day (days,); 1 to begin with."""
    day = np.arange(len(there))
    before = np.maximum.accumulate(np.where(there, day, -1))
    wait = day - np.concatenate(([-1], before[:-1]))
    return np.where(np.cumsum(there) - there > 0, wait, 1)


def _design(weekday: Index, wait: Index) -> Array:
    """Return what a day's log odds are the sum of (days, 1 + 7 + waits); waits are whitened."""
    step = np.searchsorted(GAPS, wait, side="right") - 1
    return np.concatenate((np.ones((len(wait), 1)), np.eye(7)[weekday], _WAITS[step]), axis=1)


class _Regression(NamedTuple):
    """Forms of the regression (forms, 1 + 7 + whitened waits), and each day's chance (days,)."""

    odds: Array
    weight: Array
    chance: Array


def _regression(x: Array, there: Array, fresh: Array, start: Array | None) -> _Regression:
    """Fit the log odds of a garden day under every pair of spreads, all pairs at once."""
    pairs = [(a, b, p * q) for a, p in SPREADS for b, q in SPREADS]
    sd = np.array([[USUAL_SD, *[a] * 7, *[b] * len(GAPS)] for a, b, _ in pairs])
    middle = np.zeros(x.shape[1])
    middle[0] = USUAL
    odds = np.tile(middle, (len(pairs), 1)) if start is None else start.copy()
    eye = np.arange(x.shape[1])
    for _ in range(STEPS):
        p = 1.0 / (1.0 + np.exp(-np.clip(odds @ x.T, -30.0, 30.0)))
        slope = ((there - p) * fresh) @ x - (odds - middle) / sd**2
        curved = (x.T * (p * (1.0 - p) * fresh)[:, None]) @ x
        curved[:, eye, eye] += 1.0 / sd**2
        odds = odds + np.clip(np.linalg.solve(curved, slope[..., None])[..., 0], -3.0, 3.0)
    z = np.clip(odds @ x.T, -30.0, 30.0)
    like = (fresh * (there * z - np.logaddexp(0.0, z))).sum(axis=1)
    like -= 0.5 * (((odds - middle) / sd) ** 2).sum(axis=1) + np.log(sd).sum(axis=1)
    like -= 0.5 * np.linalg.slogdet(curved)[1]
    weight = np.array([p for *_, p in pairs]) * np.exp(like - like.max())
    weight /= weight.sum()
    return _Regression(odds, weight, weight @ (1.0 / (1.0 + np.exp(-z))))


def _by_weekday(visit: Array, fresh: Array, weekday: Index) -> Array:
    """Return how likely each weekday is a garden day (7,)."""
    base = (fresh @ visit + 1.5) / (fresh.sum() + 3.0)
    return np.array(
        [
            (fresh @ (visit * (weekday == d)) + 3 * base) / (fresh @ (weekday == d) + 3.0)
            for d in range(7)
        ]
    )


def _unseen(visit: Array, log_none: Array) -> Array:
    """Return how likely somebody came on a day without a row; ``log_none``: log of none then."""
    none = visit * np.exp(log_none)
    return np.asarray(none / (1.0 - visit + none))


def _trust_in_zeros(picked: Array, weekday: Index) -> Array:
    """Return per weekday how far a written zero is trusted to mean none ripe (7,).

    Zeros are trusted, but little on weekdays that have far more of them than the rest.
    """
    rows, zeros = ~np.isnan(picked), picked == 0
    if not zeros.any():
        return np.ones(7)
    share = np.array(
        [
            (zeros[:, weekday == d].sum() + 0.5) / (rows[:, weekday == d].sum() + 1.0)
            for d in range(7)
        ]
    )
    usual = np.median(share)
    excess = np.clip((share - usual) / (1.0 - usual), 0.0, 1.0)
    return np.where(share > usual + 0.25, np.clip(1.0 - excess / share, 0.02, 1.0), 1.0)


def learn_look(picked: Array, came: Array, chance: Array, *, rounds: int = 20) -> Array:
    """Return how likely each variety is looked at on a garden day (series,).

    Given what hung ripe, every day without a row and every pick says how likely a look is; the
    answer is the mean over :data:`LOOKS`, each as common as the garden's varieties show.

    Parameters
    ----------
    picked : ndarray (series, days)
        Mass picked; NaN on days without a row. [kg]
    came : ndarray (series, days)
        As in :class:`Habit`.
    chance : ndarray (series, days)
        Probability that a look would have brought a pick.
    """
    looks, prior = (np.array(column) for column in zip(*LOOKS, strict=True))
    got, blank = picked > 0, np.isnan(picked)
    log = np.empty((len(picked), len(looks)))
    for row, look in enumerate(looks):
        miss = np.log1p(-np.minimum(came * chance * look, 1 - 1e-9))
        log[:, row] = np.where(blank, miss, 0.0).sum(axis=1)
    log += got.sum(axis=1)[:, None] * np.log(looks)
    like = np.exp(log - log.max(axis=1, keepdims=True))
    mix = prior
    for _ in range(rounds):
        share = mix * like
        share /= share.sum(axis=1, keepdims=True)
        mix = LOOKS_TRUST * prior + share.sum(axis=0)
        mix = mix / mix.sum()
    weight = mix * like
    return np.asarray((weight / weight.sum(axis=1, keepdims=True)) @ looks)


def learn_passed_over(picked: Flags, missed: Array, crop: Index, *, rounds: int = 30) -> float:
    """Return how often a whole crop is passed over for a week though it is ripe.

    Between its first and its last pick a crop has weeks without one. Some are due to the days
    nobody came, the looks not taken and what was ripe, as the fit has it; what there are more is
    put down to weeks in which the household had no mind for that crop (expectation maximisation
    over whole weeks from the first pick on).

    Parameters
    ----------
    picked : ndarray of bool (series, days)
        Whether anything was picked.
    missed : ndarray (series, days)
        Probability of a day without a pick, by the fit.
    crop : ndarray of int (series,)
        Which crop each series is of.

    Returns
    -------
    float
        0 to 1, shrunk to :data:`PASSED_OVER`.

    Examples
    --------
    A crop picked four days of five, but for one week in ten:

    >>> picked = np.array([np.tile([True] * 4 + [False], 14)])
    >>> picked[0, 29:36] = False
    >>> round(learn_passed_over(picked, np.full((1, 70), 0.2), np.zeros(1, int)), 2)
    0.07
    """
    empty: list[bool] = []
    chance: list[float] = []
    for one in np.unique(crop):
        own = crop == one
        some = picked[own].any(axis=0)
        days = np.flatnonzero(some)
        if len(days) < LEAST_DAYS:
            continue
        none = np.log(np.maximum(missed[own], 1e-12)).sum(axis=0)
        for start in range(int(days[0]) + 1, int(days[-1]) - 6, 7):
            empty.append(not some[start : start + 7].any())
            chance.append(float(np.exp(none[start : start + 7].sum())))
    by_chance = np.array(chance)
    share = PASSED_OVER
    for _ in range(rounds):
        over = np.where(empty, share / (share + (1.0 - share) * by_chance), 0.0)
        share = float((over.sum() + PASSED_OVER * TRUST) / (len(over) + TRUST))
    return share


def visits_ahead(
    habit: Habit, start: pd.Timestamp, days: int, draws: int, rng: np.random.Generator
) -> Flags:
    """Return whether each coming day is a garden day (draws, days), from ``start`` on."""
    return visits_of(habit, start, rng.random((draws, days + 1)))


def visits_of(habit: Habit, start: pd.Timestamp, uniform: NDArray[np.floating]) -> Flags:
    """Return whether each coming day is a garden day (draws, days), from ``start`` on.

    Parameters
    ----------
    habit : Habit
    start : Timestamp
        First day to come.
    uniform : ndarray (draws, days + 1)
        Random numbers from 0 to 1; the last of each draw chooses the form of the habit.
    """
    draws, days = uniform.shape[0], uniform.shape[1] - 1
    weekday = pd.date_range(start, periods=days).day_of_week.to_numpy()
    odds = habit.odds[np.searchsorted(np.cumsum(habit.weight)[:-1], uniform[:, -1])]
    out = np.zeros((draws, days), dtype=bool)
    wait = np.full(draws, habit.since + 1)
    every = np.arange(draws)
    for day in range(days):
        step = np.searchsorted(GAPS, wait, side="right") - 1
        z = odds[:, 0] + odds[:, 1 + weekday[day]] + odds[every, 8 + step]
        out[:, day] = uniform[:, day] < 1.0 / (1.0 + np.exp(-np.clip(z, -30.0, 30.0)))
        wait = np.where(out[:, day], 1, wait + 1)
    return out
