"""The household's habit of picking: which days somebody is in the garden, and what gets picked.

A day on which anything at all was written down is a garden day. Whether nothing was written
because nobody came or because nothing was ripe is told apart by the other crops: with ten
varieties in full bearing an empty day means that nobody came, with one variety left in October it
says little. On a garden day a given variety is looked at with a probability of its own, and picked
if what hangs ripe is worth it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.arrays import Array, Flags, Index

LOOK = 0.55
"""Probability that a given variety is looked at on a garden day, before its log says more."""
LOOKS = (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
"""Probabilities of a look between which the log of a variety decides."""
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
ROUNDS = 5
"""Rounds in which garden days without a row and what is picked on a garden day are found."""
SURE = 0.95
"""Probability of a look where the household says that a day without a row means nothing ripe."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Habit:
    """Learned habit of one garden.

    Parameters
    ----------
    weekday : ndarray (7,)
        Probability that a day is a garden day, Monday first.
    linger : float
        By how much a garden day raises the log odds that the next day is one too.
    came : ndarray (series, days)
        Probability that somebody was in the garden on each past day without a row of a variety;
        on days with a written zero, that the zero means looked and found none.
    passed_over : float
        Probability that nobody goes to a given crop in a whole week.
    """

    weekday: Array
    linger: float
    came: Array
    passed_over: float = 0.0


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
    there = any_row.astype(float)
    for _ in range(ROUNDS):
        rate = np.minimum((got + 0.5) / (season @ there + 1.5), 0.95)
        misses = np.where(season, np.log1p(-rate[:, None]), 0.0)
        visit = _by_weekday(there, fresh, weekday)
        there = np.where(any_row, 1.0, _unseen(visit[weekday], misses.sum(axis=0)))
    others = misses.sum(axis=0)[None] - misses
    came = np.where(any_row[None], 1.0, _unseen(visit[weekday][None], others))
    if nothing_ripe:
        came = np.ones_like(came)
    came[:, :unlogged] = 0.0
    return Habit(
        weekday=visit,
        linger=_linger(any_row, visit[weekday], active),
        came=np.where(picked == 0, trust[None], came),
    )


def _by_weekday(there: Array, fresh: Array, weekday: Index) -> Array:
    """Return how likely each weekday is a garden day (7,), shrunk to the mean of the week."""
    base = (fresh @ there + 1.5) / (fresh.sum() + 3.0)
    return np.array(
        [
            (fresh @ (there * (weekday == d)) + 3 * base) / (fresh @ (weekday == d) + 3.0)
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


def _linger(came: Flags, expected: Array, active: Flags) -> float:
    """Log odds ratio of a garden day after a garden day, shrunk towards none."""
    both = active[1:] & active[:-1]
    if both.sum() < 10:
        return 0.0
    now, before = came[1:][both], came[:-1][both]
    a, b = (now & before).sum() + 2.0, (~now & before).sum() + 2.0
    c, d = (now & ~before).sum() + 2.0, (~now & ~before).sum() + 2.0
    return float(np.clip(np.log(a * d / (b * c)), -2.0, 2.0))


def learn_look(picked: Array, came: Array, chance: Array) -> Array:
    """Return how likely each variety is looked at on a garden day (series,).

    Given what hung ripe, every day without a row and every pick says how likely a look is; the
    answer is the mean over :data:`LOOKS`, with two looks' worth of prior at :data:`LOOK`.

    Parameters
    ----------
    picked : ndarray (series, days)
        Mass picked; NaN on days without a row. [kg]
    came : ndarray (series, days)
        As in :class:`Habit`.
    chance : ndarray (series, days)
        Probability that a look would have brought a pick.
    """
    looks = np.array(LOOKS)
    got, blank = picked > 0, np.isnan(picked)
    log = np.empty((len(looks), len(picked)))
    for row, look in enumerate(looks):
        miss = np.log1p(-np.minimum(came * chance * look, 1 - 1e-9))
        log[row] = np.where(blank, miss, 0.0).sum(axis=1)
    log += (got.sum(axis=1) + 2 * LOOK) * np.log(looks)[:, None]
    log += 2 * (1 - LOOK) * np.log1p(-looks)[:, None]
    weight = np.exp(log - log.max(axis=0))
    return looks @ (weight / weight.sum(axis=0))


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
    uniform = rng.random((draws, days))
    return visits_of(habit, start, np.column_stack((uniform, rng.random(draws))))


def visits_of(habit: Habit, start: pd.Timestamp, uniform: NDArray[np.floating]) -> Flags:
    """Return garden days (draws, days) of uniform numbers; the day before ``start`` is last."""
    draws, days = uniform.shape[0], uniform.shape[1] - 1
    weekday = pd.date_range(start, periods=days).day_of_week.to_numpy()
    logit = np.log(habit.weekday / (1.0 - habit.weekday))[weekday]
    mean = habit.weekday.mean()
    out = np.zeros((draws, days), dtype=bool)
    before = uniform[:, -1] < mean
    for day in range(days):
        shift = habit.linger * (before - mean)
        out[:, day] = uniform[:, day] < 1.0 / (1.0 + np.exp(-(logit[day] + shift)))
        before = out[:, day]
    return out
