"""What to say where the beds do not hold everything: what is missing and what would mend it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from harvestcast.arrays import Array
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.programme import Choices
from harvestcast.season.next.search import Outcome, area_by_crop, area_taken
from harvestcast.words.units import area_key, area_words

NAMED = 4
"""Crops and targets named at most."""
LEAST = 0.05
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
        if short[target] and can[target] >= LEAST
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
