"""Which limit keeps a target from being met, and what to say where the beds do not hold all.

Each limit is lifted in turn, on the same futures.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from harvestcast.arrays import Array
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.programme import Choices, Goals
from harvestcast.season.next.search import Outcome, area_by_crop, area_taken, outcome
from harvestcast.words.units import area_key, area_words

HELPS = 0.02
"""Gain in the probability met from which a limit counts as binding. Our judgement."""
SPARE_M2 = 0.5
"""Bed area beyond the plan's below which the beds count as full. [m2]"""


def binding_limits(
    futures: Array,
    plants: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    mine: Outcome,
    probability: float,
) -> dict[int, str]:
    """Name the limit of every target that falls short.

    Parameters
    ----------
    futures : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    plants : ndarray, shape (options,)
        The plan.
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    mine : Outcome
        The plan on these futures.
    probability : float
        Wanted.

    Returns
    -------
    dict of int to str
        Target (products first, then fresh) to the limits that bind, in words.
    """
    short = np.flatnonzero(np.nan_to_num(mine.reliability, nan=1.0) < probability - HELPS)
    if not len(short):
        return {}
    free = _lifted(kitchen)
    gains = {
        name: outcome(futures, plants, one, choices, goals).reliability - mine.reliability
        for name, one in free.items()
    }
    more = _more_plants(futures, plants, kitchen, choices, goals, mine)
    found: dict[int, str] = {}
    for target in short.tolist():
        names = [name for name, gain in gains.items() if name != ALL and gain[target] >= HELPS]
        if not names and gains[ALL][target] >= HELPS:
            names = ["kitchen hours and equipment together"]
        crop = _crop_of(target, kitchen)
        if more[target] >= HELPS:
            names.append(_why_no_more(crop, plants, choices))
        found[target] = " and ".join(names) if names else "the season: more plants do not help"
    return found


ALL = "all of the kitchen"


def _lifted(kitchen: KitchenYear) -> Mapping[str, KitchenYear]:
    endless = np.full_like(kitchen.hours, 1e6)
    gear = np.full_like(kitchen.equipment_h, 1e6)
    return {
        "kitchen hours": replace(kitchen, hours=endless),
        "equipment": replace(kitchen, equipment_h=gear),
        "freezer room": replace(kitchen, freezer_l=float("inf")),
        ALL: replace(kitchen, hours=endless, equipment_h=gear, freezer_l=float("inf")),
    }


def _crop_of(target: int, kitchen: KitchenYear) -> int:
    products = len(kitchen.products)
    if target >= products:
        return target - products
    return int(kitchen.method_crop[np.flatnonzero(kitchen.method_product == target)[0]])


def _more_plants(
    futures: Array,
    plants: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    mine: Outcome,
) -> Array:
    """Return what twice the plants of every crop add to each target, beds and limits aside."""
    options = np.arange(len(plants))
    twice = 2.0 * plants
    for crop in range(len(kitchen.crops)):
        own = options[choices.crop == crop]
        if len(own) and not twice[own].any():
            # None is planted: the most that is allowed, or a bed of ten square metres.
            most, bed = choices.high[own[0]], 10.0 / max(choices.area_m2[own[0]], 1e-6)
            twice[own[0]] = max(most if np.isfinite(most) else bed, choices.step[own[0]])
    done = outcome(futures, twice, kitchen, choices, goals)
    return np.asarray(np.nan_to_num(done.reliability - mine.reliability))


def _why_no_more(crop: int, plants: Array, choices: Choices) -> str:
    own = np.flatnonzero(choices.crop == crop)
    if len(own) and (choices.low[own] > 0).all():
        return "the plants that stand (new ones bear in later years only)"
    groups = np.unique(choices.group[own])
    room = [plants[choices.group == g].sum() < choices.group_high[g] - 1e-9 for g in groups]
    if len(own) and not any(room):
        return "the most plants allowed or of use (more would fail in the same seasons)"
    step = float((choices.area_m2 * choices.step)[own].min(initial=np.inf))
    spare = choices.bed_m2 - float(area_taken(plants, choices).max(initial=0.0))
    if spare < max(SPARE_M2, step):
        return "the bed area"
    return "more plants than the search found worth their bed"


def binding_line(found: Mapping[int, str], labels: Sequence[str]) -> str:
    """Return the limits in a sentence.

    Examples
    --------
    >>> binding_line({0: "the bed area", 1: "kitchen hours"}, ["pickles", "salsa"])
    'What binds: the bed area (pickles); kitchen hours (salsa).'
    """
    by_limit: dict[str, list[str]] = {}
    for target, limit in found.items():
        by_limit.setdefault(limit, []).append(labels[target])
    parts = [f"{limit} ({', '.join(names)})" for limit, names in by_limit.items()]
    return "What binds: " + "; ".join(parts) + "."


NAMED = 4
"""Crops and targets named at most."""
LEAST_WORTH_SAYING = 0.05
"""Share of a target below which it helps nobody to hear how far it could be lowered."""


def bed_by_crop(plants: Array, choices: Choices, crops: int) -> Array:
    """Return the most bed area each crop takes at a time, shape (crops,). [m2]."""
    return np.asarray(area_by_crop(plants, choices, crops).max(axis=1, initial=0.0))


def comments(
    binds: Mapping[int, str],
    plants: Array,
    unlimited: Array | None,
    kitchen: KitchenYear,
    choices: Choices,
    units: str,
) -> dict[int, str]:
    """Return the limits of targets with the bed area their crop would take beyond the plan's.

    Parameters
    ----------
    binds : mapping of int to str
        Target to limit, see :mod:`harvestcast.season.next.why`.
    plants, unlimited : ndarray, shape (options,)
        The plan, and the layout without the limit of the bed area; None where that does not bind.
    kitchen, choices
        The kitchen and what can be planted.
    units : str
        The household's: ``us`` or ``metric``.
    """
    if unlimited is None:
        return dict(binds)
    crops = len(kitchen.crops)
    now, wanted = (bed_by_crop(one, choices, crops) for one in (plants, unlimited))
    of_crop = kitchen.target_crops
    said = {}
    for target, limit in binds.items():
        more = wanted[of_crop[target]] - now[of_crop[target]]
        room = "the bed area" in limit and more > 0.05
        said[target] = limit + (f" (it would take {area_words(more, units)} more)" if room else "")
    return said


def shortage_lines(
    plants: Array,
    unlimited: Array | None,
    kitchen: KitchenYear,
    choices: Choices,
    mine: Outcome,
    probability: float,
    units: str,
) -> list[str]:
    """Return how much bed is missing, which crops gave up most and what would be met instead.

    Parameters
    ----------
    plants, unlimited : ndarray, shape (options,)
        The plan, and the layout without the limit of the bed area; None where that does not bind.
    kitchen, choices
        The kitchen and what can be planted.
    mine : Outcome
        The plan on fresh futures.
    probability : float
        Wanted of every target.
    units : str
        The household's: ``us`` or ``metric``.
    """
    if unlimited is None:
        return []
    crops = len(kitchen.crops)
    now, wanted = (bed_by_crop(one, choices, crops) for one in (plants, unlimited))
    total = float(area_taken(unlimited, choices).max(initial=0.0))
    less = wanted - now
    order = [int(c) for c in np.argsort(-less) if less[c] > max(0.5, 0.1 * wanted[c])][:NAMED]
    gave = [
        f"{kitchen.crops[c]} has {area_words(now[c], units) if now[c] > 0 else 'no bed at all'} "
        f"and would take {area_words(wanted[c], units)}"
        for c in order
    ]
    line = (
        f"The beds are too small for every target: there are {area_words(choices.bed_m2, units)}, "
        f"and the plan would take about {area_words(total, units)}. Plants are given up where they "
        "are missed least, and a crop is rather cut short than left out"
    )
    lines = [f"{line}: {'; '.join(gave)}." if gave else f"{line}."]
    short = np.nan_to_num(mine.reliability, nan=1.0) < probability - 0.02
    short &= np.isin(kitchen.target_crops, order)
    can = 1.0 - np.quantile(mine.short, probability, axis=0)
    lower = [
        f"{can[target]:.0%} of {kitchen.target_labels[target]}"
        for target in np.argsort(can, kind="stable").tolist()
        if short[target] and can[target] >= LEAST_WORTH_SAYING
    ][:NAMED]
    mend = (
        f"What would mend it: more bed ({area_key(units)} in garden.toml, if there is more), or to "
        "wish for less (targets; for the table, what a person eats in a week)."
    )
    if lower:
        mend += (
            f" Of what is wished now these beds bring at least, in {probability:.0%} of the "
            f"possible seasons, {', '.join(lower)}."
        )
    return [*lines, mend]
