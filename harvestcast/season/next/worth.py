"""What a season's harvest is worth to a household, and what its beds cost, in points.

One scale for both, the household's own (``[choices]`` of ``garden.toml``, which the week's plan
uses too): a jar towards its target and a kilogram eaten fresh bring points; bed, spoilage, hours
and every further row take them. What is eaten is worth less the more of it there is
(:data:`TIERS`), and that a crop comes to the table at all is worth something of its own
(:data:`DISH`). So the last plant of a crop brings less than the first, and a plan stops where a
plant brings less than it takes, not where a count of targets is full.

How sure a target is follows from the same balance. At the best number of plants the chance that one
more is of use is what it costs over what it saves (the newsvendor's rule [1]_), so that a wish for
certainty is a worth of what is missing: :func:`missing_kg`. A target whose crop fails in
too many seasons is not chased: there, one more plant saves nothing.

References
----------
.. [1] Arrow K.J., Harris T., Marschak J. (1951) Optimal inventory policy. Econometrica
   19(3):250-272, doi:10.2307/1906813 (cited from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Flags
from harvestcast.season.kitchen_year import KitchenYear, YearResult

TIERS: tuple[tuple[float, float], ...] = ((0.5, 1.0), (0.8, 0.75), (1.0, 0.5))
"""Up to this share of a week's appetite, or of a target, each kilogram or jar is worth so much of
the first; the steps of the week's plan (:mod:`harvestcast.kitchen.solve.prices`)."""
WIDTHS = np.diff([0.0, *(high for high, _ in TIERS)])
_STEPS = np.array([points for _, points in TIERS])
_EMPTY = np.array([6.0, 1.5, 1.0])
"""A jar towards a target in the same steps, in worths of the last one: an empty shelf is far worse
than one jar too few, so that beds too small cut crops short rather than leave one out. Our
judgement."""
DISH = 1.0
"""Points for a week in which half of the appetite for a crop can be eaten: a household likes many
things on the table, and a few peppers as much as a basket of beans. Our judgement."""
GROWN_KG = 0.4
"""Points of bed and picking that a kilogram usually takes, for :func:`missing_kg`: 2.5 kg of a
square metre. Our judgement; targets of seven invented kitchens of even seeds are then met in
0.92 of the years where 0.9 is wished for (odd seeds, looked at once: 0.92), and in 0.82 where 0.7
is, because an empty shelf counts more than that."""
BED_PRICE, ROW_PRICE = 1.0, 2.0
"""Points for digging, sowing and weeding a square metre, and for every further variety or date with
its seed, label and day of its own: 40 and 80 minutes at the usual worth of an hour. Our judgement.
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Goals:
    """What is wished for, and what it is worth.

    Parameters
    ----------
    probability : float
        Share of years in which a target is wished to be met.
    fresh_kg : ndarray, shape (crops,)
        Fresh target of a season, for the count of how often it is met; 0 where there is none. [kg]
    fresh_weeks : ndarray of bool, shape (weeks, crops)
        Weeks in which eating counts towards it.
    jar : ndarray, shape (products, tiers)
        Points for a jar towards its target, in each of :data:`TIERS`.
    eaten : ndarray, shape (crops, tiers)
        Points for a kilogram eaten, in each of :data:`TIERS`.
    glut_price, hour_price, row_price : float
        Points for a kilogram of glut, an hour in the kitchen, and every variety and date planted.
    """

    probability: float
    fresh_kg: Array
    fresh_weeks: Flags
    jar: Array
    eaten: Array
    glut_price: float
    hour_price: float
    row_price: float


def missing_kg(probability: float, glut_kg: float) -> float:
    """Return the worth of what is missing of a target that is to be met in so many years.

    Parameters
    ----------
    probability : float
        Share of years in which it is to be met.
    glut_kg : float
        Points that a kilogram of glut takes.

    Returns
    -------
    float
        Points for a kilogram of produce. By the newsvendor's rule the chance of being short is
        (grown + glut) over (worth + glut); a crop that takes more bed or picking than
        :data:`GROWN_KG` is planned less surely, one that takes less more surely.

    Examples
    --------
    >>> [round(missing_kg(p, 1.0), 1) for p in (0.5, 0.9, 0.95)]
    [1.8, 13.0, 27.0]
    """
    return (GROWN_KG + glut_kg) / (1.0 - probability) - glut_kg


def jar_points(probability: float, glut_kg: float, hour: float, kitchen: KitchenYear) -> Array:
    """Return the points for a jar by product and tier, shape (products, tiers).

    The last one is worth the kilograms it takes and its hours in the kitchen, the first ones more.

    Parameters
    ----------
    probability : float
        Share of years in which its target is to be met.
    glut_kg, hour : float
        Points that a kilogram of glut and an hour in the kitchen take.
    kitchen : KitchenYear
        What a jar takes.

    """
    points = np.zeros(len(kitchen.products))
    a_kg = missing_kg(probability, glut_kg) + hour * kitchen.hours_per_kg
    np.maximum.at(points, kitchen.method_product, a_kg / kitchen.jars_per_kg)
    return points[:, None] * _EMPTY


def eaten_points(kg: float, eat: Array) -> Array:
    """Return the points for a kilogram eaten by crop and tier, shape (crops, tiers).

    Parameters
    ----------
    kg : float
        Points for the first kilogram.
    eat : ndarray, shape (crops,)
        Appetite of a week. [kg]

    Examples
    --------
    >>> eaten_points(2.0, np.array([1.0, 0.1])).tolist()
    [[4.0, 1.5, 1.0], [22.0, 1.5, 1.0]]
    """
    points = np.tile(kg * _STEPS, (len(eat), 1))
    room = WIDTHS[0] * eat
    points[:, 0] += np.divide(DISH, room, out=np.zeros_like(room), where=room > 0)
    return points


def used_worth(year: YearResult, kitchen: KitchenYear, goals: Goals) -> Array:
    """Return what a household makes of its picks less what that costs it, shape (futures,).

    Jars and meals less glut and hours in the kitchen; what the beds cost is no part of it.
    """
    points = -goals.glut_price * year.glut.sum(axis=1) - goals.hour_price * year.hours
    low = 0.0
    for place, (high, _) in enumerate(TIERS):
        eaten = np.clip(year.eaten, low * kitchen.eat, high * kitchen.eat) - low * kitchen.eat
        jars = np.clip(year.jars, low * kitchen.need, high * kitchen.need) - low * kitchen.need
        points += eaten.sum(axis=1) @ goals.eaten[:, place] + jars @ goals.jar[:, place]
        low = high
    return np.asarray(points)
