"""Picks that cannot be meant: grams under kilograms, a slipped point.

One pick a thousand times too large would teach the curve that nothing like it is to come, and the
variety would vanish from the forecast. Such a day counts as unknown, and a check says so; the log
itself is never changed.
"""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array, Flags
from harvestcast.growth.crops.almanac import CropFacts

FAR = 100.0
"""Times the median of a variety's other picks beyond which one may be doubted: handfuls at the
season's start and its glut lie less than that apart (common practice, no source)."""
ALONE = 10.0
"""Times a whole season's high yield beyond which a pick is doubted with no others beside it."""
FEW = 3
"""Other picks needed for their median to count."""
HOUSEHOLD_KG = 50.0
"""Most that a season may bring where the number of plants is unknown (our judgement). [kg]"""


def doubted_days(mass: Array, facts: CropFacts, plants: float) -> Flags:
    """Return the days whose amount cannot be meant.

    Parameters
    ----------
    mass : ndarray (days,)
        Picked each day; NaN on days without a row. [kg]
    facts : CropFacts
        For the high yield a plant.
    plants : float
        Plants; NaN where unknown.

    Returns
    -------
    ndarray of bool (days,)
        True where one day outdoes a whole season's high yield of all plants and lies far beyond
        the variety's other picks as well.

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> doubted_days(np.array([1.2, 2100.0, 2.0, 1.5]), crop_facts("snap bean"), 40.0)
    array([False,  True, False, False])
    """
    season = facts.yield_kg_per_plant[1] * plants if np.isfinite(plants) else HOUSEHOLD_KG
    out = np.zeros(len(mass), dtype=bool)
    for day in np.flatnonzero(mass > season):
        others = np.delete(mass, day)
        others = others[others > 0]
        limit = FAR * np.median(others) if len(others) >= FEW else ALONE * season
        out[day] = mass[day] > limit
    return out
