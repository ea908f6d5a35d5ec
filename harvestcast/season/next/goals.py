"""Weeks in which a crop can be had, the fresh targets that follow, and the rule of thumb."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.programme import Choices, Goals

FRESH_SHARE = 0.75
"""Share of the appetite, over the weeks in which a crop can be had, that counts as met."""


MOST_TIMES = 6.0
"""Plants of a crop are planned at most for this many times what its targets take, on average."""


def is_stored(crop: str) -> bool:
    """Return whether a crop is dug or cut once and eaten from store."""
    return crop_facts(crop).habit == "once_over"


def fresh_targets(
    seen: Flags, crops: Sequence[str], eat: Array, keep: Index
) -> tuple[Array, Flags]:
    """Return the fresh target of each crop and the weeks in which eating counts towards it.

    Parameters
    ----------
    seen : ndarray of bool, shape (weeks, crops)
        Weeks in which a crop can be had.
    crops : sequence of str
        Names.
    eat : ndarray, shape (crops,)
        Appetite of a week. [kg]
    keep : ndarray of int, shape (crops,)
        Weeks that a crop keeps after the week in which it comes in.

    Returns
    -------
    ndarray, shape (crops,)
        Share :data:`FRESH_SHARE` of the appetite. [kg]
    ndarray of bool, shape (weeks, crops)
        A crop brought in once is wanted for as many weeks as it keeps, whichever these are.

    Examples
    --------
    >>> seen = np.array([[True, False], [True, True], [False, False]])
    >>> fresh_targets(seen, ["tomato", "potato"], np.array([4.0, 2.0]), np.array([1, 3]))[0]
    array([6., 6.])
    """
    weeks, number = seen.copy(), seen.sum(axis=0)
    for place, crop in enumerate(crops):
        if is_stored(crop):
            weeks[:, place] = True
            number[place] = keep[place] + 1
    return FRESH_SHARE * eat * number, weeks


def fresh_weeks(per_plant: Array, crop: Index, crops: int) -> Flags:
    """Return the weeks in which a crop can be had: in half of the futures some date brings it.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    crop : ndarray of int, shape (options,)
        Crop of each option.
    crops : int
        Number of crops.

    Returns
    -------
    ndarray of bool, shape (weeks, crops)
        A week counts for an option where it brings at least 2 % of the option's usual season.
    """
    usual = per_plant.sum(axis=1).mean(axis=0)
    bears = per_plant >= 0.02 * np.where(usual > 0, usual, np.inf)
    weeks = np.zeros((per_plant.shape[1], crops), dtype=bool)
    for number in range(crops):
        mine = bears[:, :, crop == number]
        weeks[:, number] = mine.any(axis=2).mean(axis=0) >= 0.5
    return weeks


def rule_of_thumb(options: Sequence[PlantingOption], kitchen: KitchenYear, goals: Goals) -> Array:
    """Return the plants a table of yields would have one set, shape (options,).

    What the targets and the table take, divided by the middle of the published yield per plant;
    all on the first date, split evenly over the varieties of the crop.
    """
    needed = goals.fresh_kg / FRESH_SHARE
    for product in range(len(kitchen.products)):
        ways = np.flatnonzero(kitchen.method_product == product)
        crop = kitchen.method_crop[ways[0]]
        needed[crop] += kitchen.need[product] / kitchen.jars_per_kg[ways].max()
    plants = np.zeros(len(options))
    for number, crop in enumerate(kitchen.crops):
        mine = [i for i, option in enumerate(options) if option.crop == crop]
        if any(options[i].standing for i in mine):
            plants[mine] = [options[i].low for i in mine]
            continue
        firsts: dict[str, int] = {}
        for i in mine:
            firsts.setdefault(options[i].variety, i)
        per_plant = float(np.mean(crop_facts(crop).yield_kg_per_plant))
        for i in firsts.values():
            plants[i] = np.ceil(needed[number] / per_plant / len(firsts))
    return plants


def most_of_use(
    options: Sequence[PlantingOption],
    per_plant: Array,
    kitchen: KitchenYear,
    goals: Goals,
    choices: Choices,
) -> Array:
    """Return the most plants of each option that are of use, shape (options,).

    Where a crop fails altogether in about as many futures as may miss a target (a frost before it
    is ripe, say), no number of plants helps, and a search would plant a field of it.

    Parameters
    ----------
    options : sequence of PlantingOption
        What can be planted.
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen, goals, choices
        The kitchen, targets and prices, and the options as arrays.
    """
    needed = goals.fresh_kg.copy()
    for product in range(len(kitchen.products)):
        ways = np.flatnonzero(kitchen.method_product == product)
        kg = kitchen.need[product] / kitchen.jars_per_kg[ways].max()
        needed[kitchen.method_crop[ways[0]]] += kg
    names = {(option.crop, option.variety) for option in options}
    kinds = np.array([sum(crop == o.crop for crop, _ in names) for o in options])
    times = np.maximum(MOST_TIMES / kinds, 2.0)
    usual = np.maximum(per_plant.sum(axis=1).mean(axis=0), 1e-9)
    plants = np.ceil(times * needed[choices.crop] / usual / choices.step) * choices.step
    present = np.array([max(option.low, option.this_year) for option in options])
    return np.asarray(np.maximum(np.maximum(plants, choices.step), present))
