"""The steps of a plan on arrays: programme, whole plants, rivals on the same futures."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.goals import Goals
from harvestcast.season.next.programme import BedsProgramme, Choices
from harvestcast.season.next.search import Outcome, area_taken, outcome, search

FULL = 0.98
"""Share of the bed area from which on the beds count as full."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A layout of whole plants and how good it is known to be.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        Plants.
    rows, columns : int
        Size of the programme.
    bound, worth : float
        As the programme counts, with hindsight on its own futures: what no layout can bring more
        than, and what this one brings. [points]
    a_square_metre : float
        What one more square metre of bed would bring, 0 where beds are plenty. [points]
    tried : int
        Layouts looked at in the search.
    seconds : float
        Time taken. [s]
    unlimited : ndarray, shape (options,), or None
        Where the beds are full: plants of the programme without that limit.
    """

    plants: Array
    rows: int
    columns: int
    bound: float
    worth: float
    a_square_metre: float
    tried: int
    seconds: float
    unlimited: Array | None = None

    @property
    def gap(self) -> float:
        """Share of its worth by which no layout can be better, as the programme counts."""
        return (self.bound - self.worth) / max(abs(self.bound), 1e-9)


def lay_out(
    plan: Array, trial: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
) -> Layout:
    """Find a layout of whole plants.

    Parameters
    ----------
    plan : ndarray, shape (futures, weeks, options)
        Futures of the programme: picked each week of one plant. [kg]
    trial : ndarray, shape (other futures, weeks, options)
        Futures on which whole plants are searched for.
    kitchen, choices, goals
        The kitchen, what can be planted, what a harvest is worth.

    Returns
    -------
    Layout

    Raises
    ------
    PlanError
        Where the household's limits contradict each other.
    """
    began = time.perf_counter()
    programme = BedsProgramme(plan, kitchen, choices, goals)
    relaxed = programme.solve()
    found = search(relaxed.plants, trial, kitchen, choices, goals)
    full = bool((area_taken(found.plants, choices) >= FULL * choices.room_m2).any())
    unlimited = None
    if full:
        # Solved anew, which is faster than from where the limit left it.
        wide = BedsProgramme(plan, kitchen, choices.endless, goals).solve().plants
        over = (area_taken(wide, choices) > choices.room_m2).any()
        unlimited = wide if over else None
    return Layout(
        plants=found.plants,
        rows=programme.size[0],
        columns=programme.size[1],
        bound=relaxed.worth,
        # The trouble of every row is known to the search alone.
        worth=programme.worth(found.plants),
        a_square_metre=relaxed.a_square_metre,
        tried=found.tried,
        seconds=time.perf_counter() - began,
        unlimited=unlimited,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scaled:
    """A rival layout brought to a wanted reliability by multiplying the plants of each crop.

    ``scale`` is the factor on all plants together; ``reached`` is False where even ``most`` times
    the plants of a crop do not bring it there, and the outcome is then that of ``most`` times.
    """

    plants: Array
    scale: float
    reached: bool
    outcome: Outcome


def crop_reliability(done: Outcome, kitchen: KitchenYear) -> Array:
    """Return the mean probability met over the targets of each crop, shape (crops,).

    NaN for a crop without a target.
    """
    products, crops = len(kitchen.products), len(kitchen.crops)
    of_crop = np.zeros((products + crops, crops), dtype=bool)
    of_crop[kitchen.method_product, kitchen.method_crop] = True
    of_crop[products + np.arange(crops), np.arange(crops)] = True
    counted = of_crop & ~np.isnan(done.reliability)[:, None]
    total = np.nan_to_num(done.reliability) @ counted
    number = counted.sum(axis=0)
    return np.divide(total, number, out=np.full(crops, np.nan), where=number > 0)


def scale_to(
    plants: Array,
    reliability: Array,
    futures: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    *,
    most: float = 8.0,
) -> Scaled:
    """Multiply the plants of every crop of a layout until its targets are met as often as wanted.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        The layout; fractions of plants are allowed, to its advantage.
    reliability : ndarray, shape (crops,)
        Wanted probability met per crop, mean over its targets; NaN leaves a crop as it is.
    futures : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    most : float
        Largest factor tried; bed area is no limit here, to the rival's advantage.

    Returns
    -------
    Scaled
    """
    free = choices.endless
    crops = len(kitchen.crops)
    planted = np.bincount(choices.crop, weights=plants, minlength=crops) > 0
    moving = planted & ~np.isnan(reliability)
    high = np.where(moving, most, 1.0)
    low = np.where(moving, 0.0, 1.0)
    done = outcome(futures, high[choices.crop] * plants, kitchen, free, goals)
    enough = np.nan_to_num(crop_reliability(done, kitchen), nan=1.0) >= reliability - 1e-9
    reached = bool((enough | ~moving).all())
    low = np.where(moving & ~enough, high, low)
    for _ in range(11):
        middle = 0.5 * (low + high)
        there = outcome(futures, middle[choices.crop] * plants, kitchen, free, goals)
        enough = np.nan_to_num(crop_reliability(there, kitchen), nan=1.0) >= reliability - 1e-9
        high = np.where(enough, middle, high)
        low = np.where(enough, low, middle)
    brought = high[choices.crop] * plants
    return Scaled(
        plants=brought,
        scale=float(brought.sum() / plants.sum()) if plants.sum() > 0 else 1.0,
        reached=reached,
        outcome=outcome(futures, brought, kitchen, free, goals),
    )
