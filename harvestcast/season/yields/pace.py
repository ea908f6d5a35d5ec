"""How soon a planting can bear at all, how long a tender one lives, how a crop is brought in.

A plan may not promise what no plant does. The rules, all ours and common practice (no source):

- No pick before :data:`FASTEST` of the almanac's usual heat from planting to the first pick, nor
  before the same share of the days this heat takes in the reference climate of published days.
- A tender crop brings nothing from its killing frost on; on the eve the household takes what is
  ripe.
- A crop that is dug or cut once (``once_over``) comes in on one day, when nine tenths are ready, or
  on the eve of the killing frost.
"""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array, Flags
from harvestcast.growth.crops.almanac import REFERENCE_CLIMATE, CropFacts, daily_heat
from harvestcast.growth.model.curve import curve_of

FASTEST = 0.6
"""Share of the almanac's usual heat, and days, before which nothing is picked. Our judgement."""
READY = 0.9
"""Share of a once-over crop that is ready when it is brought in. Common practice, no source."""
SUMMER = 190
"""Day of the year from which frost kills: in spring people cover their plants."""


def least_heat(facts: CropFacts, *, set_out: bool) -> float:
    """Return the heat before which nothing is picked, from planting. [degC d].

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> round(least_heat(crop_facts("snap bean"), set_out=False))
    321
    """
    usual = facts.dd_to_first_pick_set_out if set_out else facts.dd_to_first_pick
    return FASTEST * usual


def least_days(facts: CropFacts, *, set_out: bool) -> int:
    """Return the days before which nothing is picked, from planting.

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> least_days(crop_facts("snap bean"), set_out=False)
    27
    >>> least_days(crop_facts("cucumber"), set_out=True)
    30
    """
    low, high = REFERENCE_CLIMATE["warm"]
    a_day = float(daily_heat(facts, [low], [high])[0])
    return int(np.ceil(least_heat(facts, set_out=set_out) / max(a_day, 1e-6)))


def held_back(theta: Array, facts: CropFacts, *, set_out: bool) -> tuple[Array, ...]:
    """Return ``h1, h2, s1, s2`` with no curve at half its height before the least heat.

    Parameters
    ----------
    theta : ndarray, shape (draws, 5)
        Curves.
    facts : CropFacts
        The crop.
    set_out : bool
        Whether it is set out.

    Returns
    -------
    tuple of ndarray, shape (draws,)
        A curve that begins too early is moved as a whole: it bears as much, later.
    """
    h1, h2, s1, s2 = curve_of(theta)
    late = np.maximum(least_heat(facts, set_out=set_out) - h1, 0.0)
    return h1 + late, h2 + late, s1, s2


def alive(tmin_c: Array, facts: CropFacts) -> Flags:
    """Return the days on which a crop still lives, shape of ``tmin_c`` (draws, days from 1 Jan)."""
    if not facts.tender:
        return np.ones(tmin_c.shape, dtype=bool)
    cold = (tmin_c <= facts.kill_c) & (np.arange(tmin_c.shape[1]) >= SUMMER)
    return np.asarray(np.cumsum(cold, axis=1) == 0)


def eve(lives: Flags) -> Flags:
    """Return the last day of each draw on which the crop lives; none where it lives to the end.

    Examples
    --------
    >>> eve(np.array([[True, True, False], [True, True, True]])).tolist()
    [[False, True, False], [False, False, False]]
    """
    last = np.zeros_like(lives)
    last[:, :-1] = lives[:, :-1] & ~lives[:, 1:]
    return last


def brought_in_once(rate: Array, looked: Flags, lives: Flags) -> Array:
    """Return what is brought in each day of a crop dug or cut once, shape (draws, days).

    Parameters
    ----------
    rate : ndarray, shape (draws, days)
        Becoming ready each day, 0 where the crop is dead. [kg]
    looked, lives : ndarray of bool, shape (draws, days)
        Days on which the household is in the garden; days on which the crop lives.

    Examples
    --------
    >>> ripe = np.array([[0.0, 1.0, 1.0, 0.0, 0.0]])
    >>> brought_in_once(ripe, np.array([[True] * 5]), np.array([[True] * 5])).tolist()
    [[0.0, 0.0, 2.0, 0.0, 0.0]]
    """
    ripe = np.cumsum(rate, axis=1)
    total = ripe[:, -1:]
    enough = (ripe >= READY * total) & (total > 0) & lives
    day = (enough & looked) | (eve(lives) & (total > 0))
    day[:, -1] |= enough[:, -1]
    where = np.argmax(day, axis=1)
    rows = np.flatnonzero(day.any(axis=1))
    picked = np.zeros_like(rate)
    picked[rows, where[rows]] = ripe[rows, where[rows]]
    return picked
