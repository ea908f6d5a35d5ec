"""Which limit keeps a target from being met: each is lifted in turn, on the same futures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from harvestcast.arrays import Array
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.programme import Choices, Goals
from harvestcast.season.next.search import Outcome, area_taken, outcome

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
