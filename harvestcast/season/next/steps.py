"""The steps of a plan on arrays: programme, whole plants, rivals on the same futures."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Flags
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.programme import BedsProgramme, Choices, Goals
from harvestcast.season.next.search import (
    Outcome,
    area_taken,
    outcome,
    search,
    share_beds,
    want,
    whole_steps,
    without_crumbs,
)

ROUNDS = 3
"""Times the programme is solved at most, weights of failing targets raised in between."""
RAISED = 3.0
START_WEIGHT = 4.0
"""Price of missing a target altogether, in times what it costs in bed and glut to reach it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A layout of whole plants and how good it is known to be.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        Plants.
    rows, columns : int
        Size of the programme.
    gap : float
        Of the programme: value of its plants made whole, less its relaxed value, over the former.
        No layout can be better by more than this share as the programme counts.
    cost : float
        Bed, glut and trouble of the layout on the programme's futures, points.
    rounds, tried : int
        Programmes solved, layouts looked at in the search.
    reached : bool
        Whether every target reached its probability on the futures of the search.
    seconds : float
        Time taken. [s]
    unlimited : ndarray, shape (options,), or None
        Where the bed area keeps targets from being met: plants of the layout without that limit.
    """

    plants: Array
    rows: int
    columns: int
    gap: float
    cost: float
    rounds: int
    tried: int
    reached: bool
    seconds: float
    unlimited: Array | None = None


def start_weights(per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals) -> Array:
    """Return first prices of the targets: some times what reaching each takes of bed space.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.

    Returns
    -------
    ndarray, shape (products + crops,)
        Points.
    """
    mean = per_plant.mean(axis=0).sum(axis=0)
    a_square_metre = np.divide(mean, choices.area_m2, out=np.zeros_like(mean), where=mean > 0)
    best = np.zeros(len(kitchen.crops))
    np.maximum.at(best, choices.crop, a_square_metre)
    kg = np.zeros(len(kitchen.products))
    crop_of = np.zeros(len(kitchen.products), dtype=np.int64)
    for product in range(len(kitchen.products)):
        ways = np.flatnonzero(kitchen.method_product == product)
        kg[product] = kitchen.need[product] / kitchen.jars_per_kg[ways].max()
        crop_of[product] = kitchen.method_crop[ways[0]]
    needed = np.concatenate([kg, goals.fresh_kg])
    yields = np.concatenate([best[crop_of], best])
    area = np.divide(needed, yields, out=np.zeros_like(needed), where=yields > 0)
    return np.asarray(
        START_WEIGHT * (goals.bed_price * area + 0.3 * goals.glut_price * needed) + 1.0
    )


def lay_out(
    plan: Array,
    trial: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    *,
    margin: float = 0.0,
) -> Layout:
    """Find a layout of whole plants.

    Parameters
    ----------
    plan : ndarray, shape (futures, weeks, options)
        Futures of the programme: picked each week of one plant. [kg]
    trial : ndarray, shape (other futures, weeks, options)
        Futures on which reliability is counted while whole plants are searched for.
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    margin : float
        Added to the probability in the search.

    Returns
    -------
    Layout

    Raises
    ------
    PlanError
        Where the household's limits contradict each other.
    """
    began = time.perf_counter()
    weights = start_weights(plan, kitchen, choices, goals)
    usual = weights / START_WEIGHT
    wanted = min(goals.probability + margin, 1.0)
    best: tuple[tuple[float, float], Array] | None = None
    tried = rounds = 0
    unlimited, gap = None, float("nan")
    programme = BedsProgramme(plan, kitchen, choices, goals)
    for _ in range(ROUNDS):
        relaxed = programme.solve(weights)
        if rounds == 0:
            value = programme.value(whole_steps(relaxed.plants, choices), weights)
            gap = float((value - relaxed.value) / value) if value > 0 else 0.0
        rounds += 1
        found = search(relaxed.plants, trial, kitchen, choices, goals, margin=margin)
        tried += found.tried
        score, failing = _score(trial, found.plants, kitchen, choices, goals, margin)
        if best is None or score < best[0]:
            best = (score, found.plants)
        if rounds == 1 and best[0][0] > 1e-9 and np.isfinite(choices.bed_m2):
            endless = replace(choices, bed_m2=float("inf"))
            free = search(best[1], trial, kitchen, endless, goals, margin=margin)
            tried += free.tried
            wide = free.plants
            if not free.reached:
                wide = share_beds(wide, trial, kitchen, endless, goals, wanted, usual)
            if area_taken(wide, choices).max(initial=0.0) > choices.bed_m2:
                # No price makes beds larger: what there is is shared out, and that is the plan.
                unlimited = wide
                shared = share_beds(unlimited, trial, kitchen, choices, goals, wanted, usual)
                found = search(shared, trial, kitchen, choices, goals, margin=margin)
                tried += found.tried
                score, failing = _score(trial, found.plants, kitchen, choices, goals, margin)
                best = min(best, (score, found.plants), key=lambda one: one[0])
                best = (best[0], without_crumbs(best[1], choices))
                break
        if rounds == 1:
            # The search ends in the nearest hollow, so it begins from bare beds too.
            bare = np.zeros(len(choices.crop))
            found = search(bare, trial, kitchen, choices, goals, margin=margin)
            tried += found.tried
            score, fails = _score(trial, found.plants, kitchen, choices, goals, margin)
            if score < best[0]:
                best, failing = (score, found.plants), fails
        if best[0][0] <= 1e-9:
            break
        weights = np.where(failing, RAISED * weights, weights)
    assert best is not None  # the loop runs at least once
    plants = best[1]
    if best[0][0] > 1e-9 and unlimited is None:
        plants = share_beds(plants, trial, kitchen, choices, goals, wanted, usual)
    cost = outcome(plan, plants, kitchen, choices, goals).cost
    return Layout(
        plants=plants,
        rows=programme.size[0],
        columns=programme.size[1],
        gap=gap,
        cost=cost,
        rounds=rounds,
        tried=tried,
        reached=bool(best[0][0] <= 1e-9),
        seconds=time.perf_counter() - began,
        unlimited=unlimited,
    )


def _score(
    trial: Array,
    plants: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    margin: float,
) -> tuple[tuple[float, float], Flags]:
    done = outcome(trial, plants, kitchen, choices, goals)
    wants = want(done, min(goals.probability + margin, 1.0))
    return (float(wants.sum()), done.cost), wants > 0


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
    free = replace(choices, bed_m2=float("inf"))
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
