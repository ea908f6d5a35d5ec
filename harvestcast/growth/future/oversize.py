"""How much of a pick has grown too big: the longer the wait, the more.

A zucchini missed on Sunday is a marrow on Wednesday. The share of a pick that is oversize, by mass,
follows the days since the variety was last picked::

    log odds of oversize = level + steepness * log(days / usual days)

Level and steepness are those of the crop, learned from the household's own graded picks and held
towards the almanac's usual share at its usual interval (a logistic regression with normal priors).
A household that never wrote a grade down teaches that little of its crop grows too big.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.special import expit

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import CropFacts, crop_facts

if TYPE_CHECKING:
    from harvestcast.growth.forecast import Outlook
    from harvestcast.records.garden import Garden


STEEP, STEEP_SD = 1.5, 0.7
"""Steepness before the log says more, and how sure that is: over twice the days the odds about
triple (our judgement)."""
LEVEL_SD = 1.0
"""How sure the almanac's usual share is, in log odds (our judgement: a factor of three)."""
PIECES = 6.0
"""Pieces of a pick that count as pieces of evidence at most: fruit is missed by the day, not singly
(our judgement)."""
RECENT_DAYS = 400
"""Picks longer ago say nothing."""
LONGEST_WAIT = 14.0
"""Days after which waiting longer makes no more of a difference: it has dropped or been eaten."""


class Wait(NamedTuple):
    """How the oversize share of a crop grows with the days since it was last picked."""

    level: float
    """Log odds of oversize after the usual days; minus infinity where nothing grows too big."""
    steepness: float
    usual_days: float

    def share(self, days: ArrayLike) -> Array:
        """Return the oversize share, by mass, after so many days."""
        waited = np.clip(np.asarray(days, dtype=float), 1.0, LONGEST_WAIT)
        return np.asarray(expit(self.level + self.steepness * np.log(waited / self.usual_days)))


def learn_wait(
    days: Array, good_kg: Array, oversize_kg: Array, facts: CropFacts, *, steps: int = 25
) -> Wait:
    """Return how a crop's oversize share grows with the wait.

    Parameters
    ----------
    days : ndarray (picks,)
        Days since the pick before; at least 1.
    good_kg, oversize_kg : ndarray (picks,)
        What was picked of each grade. [kg]
    facts : CropFacts
        The crop: its usual share, interval and weight of a fruit.
    steps : int
        Newton steps at most.

    Returns
    -------
    Wait

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> zucchini = crop_facts("zucchini")
    >>> none = np.zeros(0)
    >>> learn_wait(none, none, none, zucchini).share([1, 3, 6]).round(2)
    array([0.07, 0.28, 0.52])
    >>> learn_wait(np.full(9, 2.0), np.ones(9), np.zeros(9), zucchini).share([1, 3, 6]).round(2)
    array([0.02, 0.06, 0.14])
    """
    usual = facts.oversize_share
    usual = 0.0 if np.isnan(usual) else usual
    whole = good_kg + oversize_kg
    if usual == 0 and not oversize_kg.any():
        return Wait(-np.inf, STEEP, facts.pick_every_days)
    usual = min(max(usual, 0.02), 0.9)
    middle = np.array([np.log(usual / (1 - usual)), STEEP])
    precision = np.diag([LEVEL_SD**-2, STEEP_SD**-2])
    real = whole > 0
    waited = np.clip(days[real], 1.0, LONGEST_WAIT)
    by = np.stack((np.ones(real.sum()), np.log(waited / facts.pick_every_days)), axis=1)
    seen = oversize_kg[real] / whole[real]
    weight = np.clip(whole[real] / facts.fruit_kg, 1.0, PIECES)
    at = middle.copy()
    for _ in range(steps):
        p = expit(by @ at)
        slope = by.T @ (weight * (seen - p)) - precision @ (at - middle)
        bend = (by * (weight * p * (1 - p))[:, None]).T @ by + precision
        move = np.linalg.solve(bend, slope)
        at += move * min(1.0, 1.0 / max(float(np.abs(move).max()), 1e-12))
        if np.abs(move).max() < 1e-8:
            break
    return Wait(float(at[0]), float(at[1]), facts.pick_every_days)


def waits(garden: Garden, as_of: pd.Timestamp, crops: tuple[str, ...]) -> dict[str, Wait]:
    """Return how the oversize share of each crop grows with the wait, by what is known on a day."""
    picks = garden.picks
    since = as_of - pd.Timedelta(days=RECENT_DAYS)
    picks = picks[(picks["date"] <= as_of) & (picks["date"] > since) & picks["crop"].isin(crops)]
    out = {}
    for crop in crops:
        facts = crop_facts(crop, garden.household)
        out[crop] = learn_wait(*_graded(picks[picks["crop"] == crop], facts), facts)
    return out


def _graded(picks: pd.DataFrame, facts: CropFacts) -> tuple[Array, Array, Array]:
    """Return days since the pick before and kg of good and oversize, a pick of a variety each."""
    kg = picks["mass_kg"].fillna(picks["count"] * facts.fruit_kg).fillna(0.0)
    table = pd.DataFrame(
        {
            "date": picks["date"],
            "variety": picks["variety"].fillna("").astype(str),
            "good": kg.where(picks["grade"] != "oversize", 0.0),
            "oversize": kg.where(picks["grade"] == "oversize", 0.0),
        }
    )
    table = table[(table["good"] > 0) | (table["oversize"] > 0)]
    by_day = table.groupby(["variety", "date"], as_index=False)[["good", "oversize"]].sum()
    # What was waited for before a season's first pick is not known.
    days = by_day.groupby("variety")["date"].diff().dt.days.to_numpy(float)
    told = (days > 0) & (days <= 30)
    return days[told], by_day["good"].to_numpy()[told], by_day["oversize"].to_numpy()[told]


def oversize_kg(outlook: Outlook, garden: Garden) -> Array:
    """Return how much of every pick forecast will have grown too big.

    Parameters
    ----------
    outlook : Outlook
        The forecast.
    garden : Garden
        The garden it was made for.

    Returns
    -------
    ndarray (draws, days, varieties)
        Part of ``outlook.mass_kg``. [kg]
    """
    crops = tuple(sorted({crop for crop, _ in outlook.keys}))
    learned = waits(garden, outlook.as_of, crops)
    last = _last_picks(garden, outlook.as_of)
    mass = np.nan_to_num(outlook.mass_kg)
    out = np.zeros_like(mass)
    for column, key in enumerate(outlook.keys):
        wait = learned[key[0]]
        if not np.isfinite(wait.level):
            continue
        # A first pick is looked for, and small.
        waited = np.full(len(mass), last.get(key, wait.usual_days - 1.0))
        for day in range(mass.shape[1]):
            waited += 1.0
            out[:, day, column] = mass[:, day, column] * wait.share(waited)
            waited[mass[:, day, column] > 0] = 0.0
    return out


def _last_picks(garden: Garden, as_of: pd.Timestamp) -> dict[tuple[str, str], float]:
    """Return the days since each variety was last picked, of those picked within a month."""
    picks = garden.picks
    some = (picks["mass_kg"] > 0) | (picks["count"] > 0)
    picks = picks[some & (picks["date"] <= as_of)]
    last = picks.groupby([picks["crop"].astype(str), picks["variety"].astype(str)])["date"].max()
    days = (as_of - last).dt.days
    return {(str(c), str(v)): float(d) for (c, v), d in days.items() if d <= 30}
