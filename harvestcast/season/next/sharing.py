"""Where not every target can be met: how many plants of each crop to give up.

A search that adds plants crop by crop gives the room to whoever asks first, and a count of targets
met leaves the dearest crop with no bed at all. A household would rather have fewer winter squash
than none. So the layout that ignores the bed area is found first; then every crop keeps a part of
its plants, chosen together so that the beds hold them and the *want* is least: per target, the
probability missing plus a multiple of the mean square of the share missing. The first term keeps
as many targets as can be kept; the square makes the last half of a crop dearer to give up than
the first. The choice is a small programme in whole numbers and is solved exactly.

Where beds are plenty but a target cannot be reached however much is planted (its season is too
short in too many years, or nothing is known yet of its yield), a search that counts targets plants
a field for a hundredth of probability. There a crop gives up the plants that add little, weighed
against bed and glut.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.arrays import Array, Flags
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.programme import Choices, Goals
from harvestcast.season.next.search import Outcome, area_by_crop, outcome

SHORT_WEIGHT = 3.0
"""Want of an empty shelf beyond that of its target missed, in targets missed. Our judgement: half
of a crop every year is then as bad as one and a half targets just missed, none as bad as four."""
LITTLE = 0.1
"""Want that the plants of one usual need must take off a target that is missed all the same, to be
planted. A usual need is what the crop's targets take in a season of the mean yield. Our judgement.
"""
FAR = 0.1
"""Probability that a target must miss before plants of its crop are given up for adding little."""
CRUMB = 0.03
"""Share of a crop's plants below which a variety and date is not worth its trouble."""
PARTS = np.linspace(0.0, 1.0, 21)
"""Parts of its plants that a crop may keep."""


def want(done: Outcome, wanted: float) -> Array:
    """Return how badly each target is missed; 0 where it is met or there is none.

    Parameters
    ----------
    done : Outcome
        A layout on some futures.
    wanted : float
        Probability wanted.

    Returns
    -------
    ndarray, shape (targets,)
        The probability missing plus :data:`SHORT_WEIGHT` times the mean square of the share
        missing.
    """
    missing = np.maximum(wanted - np.nan_to_num(done.reliability, nan=1.0), 0.0)
    short = SHORT_WEIGHT * np.mean(done.short**2, axis=0)
    return np.asarray(np.where(missing > 1e-9, missing + short, 0.0))


def share_beds(
    plants: Array,
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    wanted: float,
    usual: Array,
) -> Array:
    """Return a layout within the bed area that gives up plants where they are missed least.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        A layout; it may take more bed than there is.
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    wanted : float
        Probability wanted of every target.
    usual : ndarray, shape (targets,)
        Bed and glut of meeting each target in a usual season, points.

    Returns
    -------
    ndarray, shape (options,)
        Whole steps of plants. Where even the plants that stand already take more than there is,
        these.
    """
    crops, parts = len(kitchen.crops), len(PARTS)
    of_crop = kitchen.target_crops
    kept = np.stack([_kept(part * plants, choices) for part in PARTS])
    # All crops keep the same part here: a crop's own want depends on the others by hours alone,
    # and fewer plants of the others only leave it more of these.
    done = [outcome(per_plant, one, kitchen, choices, goals) for one in kept]
    by_crop = np.zeros((crops, parts))
    np.add.at(by_crop, of_crop, np.stack([want(one, wanted) for one in done], axis=1))
    member = choices.crop == np.arange(crops)[:, None]  # (crops, options)
    area = np.stack([area_by_crop(one, choices, crops) for one in kept], axis=1)
    glut = np.stack(
        [_glut(per_plant, one, now, member) for one, now in zip(kept, done, strict=True)], axis=1
    )
    points = goals.bed_price * area.max(axis=2) + goals.glut_price * glut
    needs = np.bincount(of_crop, weights=usual, minlength=crops)
    # A crop whose targets are met, or nearly, keeps its plants; a hair breaks ties.
    far = np.zeros(crops, dtype=bool)
    np.logical_or.at(far, of_crop, np.nan_to_num(done[-1].reliability, nan=1.0) < wanted - FAR)
    price = np.where(far, LITTLE, 1e-6) / np.maximum(needs, 1e-9)
    cost = by_crop + price[:, None] * points
    one_part = np.repeat(np.eye(crops), parts, axis=1)
    beds = area.reshape(crops * parts, -1).T
    found = milp(
        cost.ravel(),
        constraints=[
            LinearConstraint(one_part, 1.0, 1.0),
            LinearConstraint(beds, -np.inf, choices.bed_m2),
        ],
        bounds=Bounds(0.0, 1.0),
        integrality=np.ones(crops * parts, dtype=np.int64),
        options={"time_limit": 10.0},
    )
    if found.x is None:
        return kept[0]
    part = np.argmax(found.x.reshape(crops, parts), axis=1)
    return np.asarray(kept[part[choices.crop], np.arange(len(plants))])


def without_crumbs(plants: Array, choices: Choices) -> Array:
    """Leave out varieties and dates of a few plants, which only fill the last corner of a bed.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        A layout.
    choices : Choices
        What can be planted; beds that stand already stay.
    """
    whole = np.bincount(choices.crop, weights=plants)[choices.crop]
    return np.where((plants < CRUMB * whole) & (choices.low == 0), 0.0, plants)


def _glut(per_plant: Array, plants: Array, done: Outcome, member: Flags) -> Array:
    """Return the mean glut of each crop: what was picked less all that became of it."""
    year = done.year
    picked = member @ (per_plant.sum(axis=1).mean(axis=0) * plants)
    used = year.eaten.sum(axis=1) + year.put_up + year.given + year.left
    return np.asarray(np.maximum(picked - used.mean(axis=0), 0.0))


def _kept(plants: Array, choices: Choices) -> Array:
    step = choices.step
    return np.clip(np.floor(plants / step + 1e-9) * step, choices.low, choices.high)
