"""What the table wants of each crop and when it can be had, and the rule of thumb."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.household import Household
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.worth import Goals
from harvestcast.season.yields.plantings import Unit

FRESH_SHARE = 0.75
"""Share of the appetite, over the weeks in which a crop can be had, that counts as met."""
SURE_SHARE = 0.9
"""Share of what a season can bear, in as many seasons as are asked for, that a target may take.
Our judgement."""
FULL_WEEK = 0.25
"""Share of the best week's harvest of a plant from which a week counts as one in which as much of a
crop can be had as is wanted. Our judgement."""
LEAST_OF_SEASON = 0.02
"""Share of its usual season that a date must bring in a week to be counted at all."""
GOOD_WEEK = 0.75
"""Share of the weeks of the log that eat no more than the appetite. Our judgement."""


def is_stored(crop: str) -> bool:
    """Return whether a crop is dug or cut once and eaten from store."""
    return crop_facts(crop).habit == "once_over"


def fresh_targets(
    seen: Flags, borne: Array, crops: Sequence[str], eat: Array, keep: Index
) -> tuple[Array, Flags]:
    """Return the fresh target of each crop and the weeks in which eating counts towards it.

    Parameters
    ----------
    seen : ndarray of bool, shape (weeks, crops)
        Weeks in which a crop can be had, see :func:`weeks_borne`.
    borne : ndarray, shape (crops,)
        Whole weeks' worth that these bring, see there.
    crops : sequence of str
        Names.
    eat : ndarray, shape (crops,)
        Appetite of a week. [kg]
    keep : ndarray of int, shape (crops,)
        Weeks that a crop keeps after the week in which it comes in.

    Returns
    -------
    ndarray, shape (crops,)
        Share :data:`FRESH_SHARE` of the appetite over so many weeks. [kg]
    ndarray of bool, shape (weeks, crops)
        A crop brought in once is wanted for as many weeks as it keeps, whichever these are.

    Examples
    --------
    >>> seen = np.array([[True, False], [True, True], [False, False]])
    >>> borne = np.array([1.5, 1.0])
    >>> eat, keep = np.array([4.0, 2.0]), np.array([1, 3])
    >>> fresh_targets(seen, borne, ["tomato", "potato"], eat, keep)[0]
    array([4.5, 6. ])
    """
    weeks, number = seen.copy(), borne.copy()
    for place, crop in enumerate(crops):
        if is_stored(crop):
            weeks[:, place] = True
            number[place] = keep[place] + 1
    return FRESH_SHARE * eat * number, weeks


def weeks_borne(
    per_plant: Array, crop: Index, crops: int, probability: float
) -> tuple[Flags, Array]:
    """Return the weeks in which a crop can be had, and how many weeks' worth they bring.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    crop : ndarray of int, shape (options,)
        Crop of each option.
    crops : int
        Number of crops.
    probability : float
        Share of the futures that must bring so much.

    Returns
    -------
    ndarray of bool, shape (weeks, crops)
        Weeks in which in half of the futures some date brings anything to speak of.
    ndarray, shape (crops,)
        Weeks' worth. A week of a future counts as far as a plant of the variety and date that bear
        most then fills :data:`FULL_WEEK` of the crop's usual best week. It is the mean over
        futures, but no more than lets :data:`FRESH_SHARE` of it be had in so many futures as are
        asked for: a target that counts the edges of a season whole, or a long autumn in every year,
        is one that no number of plants meets. Where more futures fail altogether than may miss a
        target, no target would be left, and the mean stands.
    """
    usual = per_plant.sum(axis=1).mean(axis=0)
    bears = per_plant >= LEAST_OF_SEASON * np.where(usual > 0, usual, np.inf)
    seen = np.zeros((per_plant.shape[1], crops), dtype=bool)
    borne = np.zeros(crops)
    for number in range(crops):
        mine = crop == number
        seen[:, number] = bears[:, :, mine].any(axis=2).mean(axis=0) >= 0.5
        most = per_plant[:, :, mine].max(axis=2, initial=0.0)  # (futures, weeks)
        full = max(FULL_WEEK * float(most.mean(axis=0).max(initial=0.0)), 1e-12)
        weeks = np.minimum(most / full, 1.0)[:, seen[:, number]].sum(axis=1)
        sure = float(np.quantile(weeks, 1.0 - probability)) * SURE_SHARE / FRESH_SHARE
        mean = float(weeks.mean())
        borne[number] = min(mean, sure) if sure > 0 else mean
    return seen, borne


def appetite_of_log(
    household: Household,
    units: Mapping[str, Sequence[Unit]],
    crops: Sequence[str],
    eat: Array,
    keep: Index,
) -> Array:
    """Return what is eaten of each crop in a week: as set, or no more than the log shows.

    A planning figure of what people eat says nothing of a household that grows six plants of okra
    and likes them so. Where nobody set the appetite it is that of a good week of whole seasons: the
    picks of a week, up to the planning figure, that only a quarter of the weeks outdo.

    Parameters
    ----------
    household : Household
        Settings; ``eat_kg_per_person_week`` of a crop is left as it is.
    units : mapping of str to sequence of Unit
        Plantings of whole seasons, by crop.
    crops : sequence of str
        Names.
    eat : ndarray, shape (crops,)
        Appetite of a week, as set or by the planning figures. [kg]
    keep : ndarray of int, shape (crops,)
        Weeks that a crop keeps.

    Returns
    -------
    ndarray, shape (crops,)
        At most ``eat``; unchanged where the log has no whole season of a crop. [kg]
    """
    found = eat.copy()
    for place, crop in enumerate(crops):
        own = household.crops.get(crop)
        mine = units.get(crop, ())
        if not mine or (own is not None and own.eat_kg_per_person_week is not None):
            continue
        seasons = []
        for season in sorted({unit.year for unit in mine}):
            picked = _weekly([unit for unit in mine if unit.year == season])
            whole = is_stored(crop)
            seasons.append([picked.sum() / (keep[place] + 1)] if whole else picked)
        weeks = np.minimum(np.concatenate(seasons), eat[place])
        found[place] = float(np.quantile(weeks, GOOD_WEEK)) if len(weeks) else eat[place]
    return found


def _weekly(units: Sequence[Unit]) -> Array:
    """Return the picks of some plantings week by week, from the first to the last. [kg]."""
    days = np.concatenate([unit.dates.to_numpy().astype("datetime64[D]") for unit in units])
    mass = np.concatenate([unit.mass for unit in units])
    at = days[mass > 0].astype(np.int64)
    if not len(at):
        return np.zeros(0)
    return np.bincount((at - at.min()) // 7, weights=mass[mass > 0]).astype(float)


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
