"""Which sowing can have borne a pick: the one rule for all that asks it.

A pick belongs to the sowing of its variety that bore it. Where beds are written down they say
which; else what can have borne on that day: a sowing made before it, still standing, with heat
enough to bear and not past its life. The rule works on arrays of days, so that a season's review,
next season's plan and the forecast can all call it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import CropFacts

ABLE = 0.5
"""Share of the almanac's usual heat to the first pick from which a sowing can have borne: gardens
and varieties differ. Our judgement."""
LIFE = 2.0
"""Times the usual heat to the first pick and the usual heat of picking after which a sowing is
done. Our judgement."""
STANDING_DAYS = 400
"""Longest time from planting to pick of a crop that is no perennial (garlic, leeks)."""
YOUNG_DAYS = 60
"""Fewest days from planting to pick of a crop whose heat counts from the season's start (garlic):
less is the planting after the harvest. Our judgement."""


class Sowing(NamedTuple):
    """One sowing or setting out; days are numbers of days since 1970, None where unknown."""

    day: int | None
    removed: int | None
    how: str
    bed: str | None


def usual_heat(facts: CropFacts, how: str) -> float:
    """Return the almanac's usual heat from planting to the first pick. [degC d]."""
    return facts.dd_to_first_pick_set_out if how == "set_out" else facts.dd_to_first_pick


def can_bear(
    sowings: Sequence[Sowing],
    facts: CropFacts,
    days: Index,
    heat: Array,
    beds: Sequence[str | None] | None = None,
) -> Flags:
    """Return which sowings of one variety can have borne on some days.

    Parameters
    ----------
    sowings : sequence of Sowing
        All sowings of the variety.
    facts : CropFacts
        Its crop.
    days : ndarray of int, shape (picks,)
        Days of the picks, since 1970.
    heat : ndarray, shape (picks, sowings)
        Heat from each sowing to each pick; anything where the sowing was made later or its day is
        unknown. [degC d]
    beds : sequence of str or None, optional
        Bed of each pick, None where not written down.

    Returns
    -------
    ndarray of bool, shape (picks, sowings)
        Of several rules the first that leaves a sowing: those that stand, are old enough and not
        past their life; those that stand and are old enough; the oldest that stand; those without
        a date; those pulled out before. No row is true where all were made after the pick or
        more than :data:`STANDING_DAYS` before it.

    Examples
    --------
    Kale sown in two years, picked in February and in October of the second:

    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> kale = [Sowing(100, None, "sown", None), Sowing(465, None, "sown", None)]
    >>> can_bear(kale, crop_facts("kale"), np.array([320, 560]),
    ...          np.array([[1900.0, 0.0], [4500.0, 1500.0]])).tolist()
    [[True, False], [False, True]]
    """
    number = len(sowings)
    if not number:
        return np.zeros((len(days), 0), dtype=bool)
    day = np.array([0 if s.day is None else s.day for s in sowings])
    dated = np.array([s.day is not None for s in sowings])
    gone = np.array([np.iinfo(np.int64).max if s.removed is None else s.removed for s in sowings])
    age = days[:, None] - day
    made = dated & (age >= 0)
    undated = np.broadcast_to(~dated, made.shape)
    stands = days[:, None] <= gone
    if beds is not None:
        here = np.array([[b is not None and b == s.bed for s in sowings] for b in beds], dtype=bool)
        # A bed that names no sowing that can be meant tells nothing.
        named = (here & (made | undated)).any(axis=1, keepdims=True)
        fits = here | ~named
        made, undated = made & fits, undated & fits
    if facts.perennial:
        return _first_that_leaves_any([(made | undated) & stands, made | undated])
    usual = np.array([usual_heat(facts, s.how) for s in sowings])
    if facts.heat_from_new_year:
        able = age >= YOUNG_DAYS
        alive = age <= STANDING_DAYS
    else:
        able = heat >= ABLE * usual
        alive = (heat <= LIFE * (usual + facts.dd_picking)) & (age <= STANDING_DAYS)
    near = made & stands & (age <= STANDING_DAYS)
    oldest = near & (day == np.where(near, day, np.iinfo(np.int64).max).min(axis=1, keepdims=True))
    return _first_that_leaves_any(
        [
            made & stands & able & alive,
            near & able,
            oldest,
            undated & stands,
            made & (age <= STANDING_DAYS),
            undated,
        ]
    )


def _first_that_leaves_any(rules: Sequence[Flags]) -> Flags:
    """Return, row by row, the first rule that is true of anything."""
    found = np.zeros_like(rules[0])
    for rule in rules:
        found = np.where(found.any(axis=1, keepdims=True), found, rule)
    return found
