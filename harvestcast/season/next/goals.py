"""What the table wants, and what a harvest is worth to a household and its beds cost, in points.

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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.household import Household
from harvestcast.season.kitchen_year import KitchenYear, YearResult
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.yields.plantings import Unit

TIERS: tuple[tuple[float, float], ...] = ((0.5, 1.0), (0.8, 0.75), (1.0, 0.5))
"""Up to this share of a week's appetite, or of a target, each kilogram or jar is worth so much of
the first; the steps of the week's plan (:mod:`harvestcast.kitchen.solve.prices`)."""
WIDTHS = np.diff([0.0, *(high for high, _ in TIERS)])
_STEPS = np.array([points for _, points in TIERS])
_EMPTY = np.array([2.0, 1.5, 1.0])
"""A jar towards a target in the same steps, in worths of the last one: an empty shelf is worse
than one jar too few. Our judgement."""
DISH = 1.5
"""Points for a week in which half of the appetite for a crop can be eaten: a household likes many
things on the table, and a few peppers as much as a basket of beans. Our judgement."""
MEAL = 0.5
"""Worth of the produce for a meal that is missing, in that for a jar. Our judgement."""
GROWN_KG = 0.4
"""Points of bed and picking that a kilogram usually takes, for :func:`missing_kg`: 2.5 kg of a
square metre. Our judgement; targets of seven invented kitchens of even seeds are then met in
0.91 of the years where 0.9 is wished for (odd seeds, looked at after each of three changes: 0.92),
and in 0.79 where 0.7 is, because an empty shelf counts more than that."""
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


def eaten_points(kg: float, eat: Array, probability: float, glut_kg: float) -> Array:
    """Return the points for a kilogram eaten by crop and tier, shape (crops, tiers).

    Parameters
    ----------
    kg : float
        Points for a kilogram of fresh produce.
    eat : ndarray, shape (crops,)
        Appetite of a week. [kg]
    probability, glut_kg : float
        As for :func:`missing_kg`: the first half of a week's appetite is wished for surely too,
        though a meal that is missing counts :data:`MEAL` of a jar, because something else is on
        the table.

    Examples
    --------
    >>> eaten_points(2.0, np.array([1.0, 0.1]), 0.9, 1.0).round(2).tolist()
    [[9.5, 1.5, 1.0], [36.5, 1.5, 1.0]]
    """
    points = np.tile(kg * _STEPS, (len(eat), 1))
    room = WIDTHS[0] * eat
    points[:, 0] = max(kg, MEAL * missing_kg(probability, glut_kg))
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
USUAL_WEEK = 0.5
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
    and likes them so. Where nobody set the appetite it is that of a usual week of whole seasons:
    the median of the picks of a week, up to the planning figure.

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
        found[place] = float(np.quantile(weeks, USUAL_WEEK)) if len(weeks) else eat[place]
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
