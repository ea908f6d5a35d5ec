"""Next season's beds as one linear programme over many possible seasons.

Plants per variety and date are decided once; eating, putting up and carrying follow in every
season. Shortage of every target is priced by its conditional value at risk, the mean of its worst
seasons, which keeps the programme linear. Plants are fractional here: :mod:`harvestcast.season.
search` rounds them and counts reliability on other seasons; this programme gives the start and a
bound on how much better any layout could be.

References
----------
.. [1] Rockafellar R.T., Uryasev S. (2000) Optimization of conditional value-at-risk. Journal of
   Risk 2(3):21-41, doi:10.21314/JOR.2000.038 (eq. 4: the linear form used here).
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.arrays import Array, Flags, Index
from harvestcast.errors import PlanError
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.rows import Rows

Ints = Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choices:
    """What can be planted.

    Parameters
    ----------
    crop : ndarray of int, shape (options,)
        Crop of each planting option (variety and date), as a place in the kitchen's crops.
    area_m2 : ndarray, shape (options,)
        Bed area of one plant. [m2]
    stands : ndarray, shape (options, bed weeks)
        Weeks in which it takes its bed, 0 or 1; these weeks begin before the first pick.
    low, high : ndarray, shape (options,)
        Fewest and most plants.
    step : ndarray, shape (options,)
        Plants are whole multiples of this.
    bed_m2 : float
        Bed area there is; infinite where no limit. [m2]
    group : ndarray of int, shape (options,)
        Options with a common limit (the dates of one variety).
    group_high : ndarray, shape (groups,)
        Most plants of each group; infinite where no limit.
    """

    crop: Ints
    area_m2: Array
    stands: Array
    low: Array
    high: Array
    step: Array
    bed_m2: float
    group: Ints
    group_high: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Goals:
    """Targets and prices.

    Parameters
    ----------
    probability : float
        Wanted for every target.
    fresh_kg : ndarray, shape (crops,)
        Fresh target of a season; 0 where there is none. [kg]
    fresh_weeks : ndarray of bool, shape (weeks, crops)
        Weeks in which eating counts towards it.
    bed_price, glut_price, planting_price : float
        Points for a square metre of bed, for a kilogram of glut, and for every variety and date
        that is planted at all (its trouble; the search knows it, the programme does not).
    """

    probability: float
    fresh_kg: Array
    fresh_weeks: Flags
    bed_price: float
    glut_price: float
    planting_price: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxed:
    """Solution of the programme.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        Plants, not whole; NaN where time ran out before any layout was found.
    value : float
        Points: bed, glut and priced shortage.
    status : str
        ``optimal`` or ``time limit``.
    seconds : float
        Time taken.
    rows, columns : int
        Size.
    """

    plants: Array
    value: float
    status: str
    seconds: float
    rows: int
    columns: int


def solve_beds(
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    weights: Array,
    *,
    fixed: Array | None = None,
    time_limit_s: float = 30.0,
) -> Relaxed:
    """Solve the programme.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen : KitchenYear
        The kitchen.
    choices : Choices
        What can be planted.
    goals : Goals
        Targets and prices.
    weights : ndarray, shape (products + crops,)
        Price of falling short of a target altogether, points; products first, then fresh.
    fixed : ndarray, shape (options,), optional
        Plants to be taken as given: the value of that layout.
    time_limit_s : float
        Time limit. [s]

    Returns
    -------
    Relaxed

    Raises
    ------
    PlanError
        Where the household's limits contradict each other.
    """
    began = time.perf_counter()
    futures, weeks, options = per_plant.shape
    crops, methods = len(kitchen.crops), len(kitchen.method_crop)
    products = len(kitchen.products)
    goal = np.concatenate([kitchen.need, goals.fresh_kg])
    wanted = np.flatnonzero(goal > 0)

    # Columns: plants, bed area, one threshold a target; then eating, giving, carrying per future,
    # week and crop; putting up per future, week and method; excess shortage per future and target.
    x = np.arange(options)
    bed = options
    eta = bed + 1 + np.arange(len(wanted))
    at = eta[-1] + 1 if len(wanted) else bed + 1
    swc = np.arange(futures * weeks * crops).reshape(futures, weeks, crops)
    eat, give, carry = at + swc, at + swc.size + swc, at + 2 * swc.size + swc
    at += 3 * swc.size
    put = at + np.arange(futures * weeks * methods).reshape(futures, weeks, methods)
    at += put.size
    excess = at + np.arange(futures * len(wanted)).reshape(futures, len(wanted))
    columns = at + excess.size

    rows = Rows()
    crop_row = np.arange(swc.size).reshape(swc.shape)

    def picks(block: Ints, weeks_back: Ints, factor: float = -1.0) -> None:
        """Subtract what one plant brings, in the same week or some weeks back."""
        for back in weeks_back:
            part = np.zeros_like(per_plant)
            part[:, back:] = per_plant[:, : weeks - back]
            rows.add(block[crop_row[:, :, choices.crop]], x, factor * part)

    # 1. What is eaten, given, put up and carried on is at most what was picked and carried in.
    block = rows.block(swc.size)
    for column in (eat, give, carry):
        rows.add(block[crop_row], column, 1.0)
    rows.add(block[crop_row[:, 1:]], carry[:, :-1], -1.0)
    rows.add(block[crop_row[:, :, kitchen.method_crop]], put, 1.0)
    picks(block, np.array([0]))
    # 2. Only what still keeps can be carried: the picks of the last weeks.
    for crop in range(crops):
        keep = int(min(kitchen.keep_weeks[crop], weeks))
        if 0 < keep < weeks:
            block = rows.block(futures * weeks)
            place = block.reshape(futures, weeks)
            rows.add(place, carry[:, :, crop], 1.0)
            mine = np.flatnonzero(choices.crop == crop)
            total = np.cumsum(per_plant[:, :, mine], axis=1)
            recent = total.copy()
            recent[:, keep:] -= total[:, :-keep]
            rows.add(place[:, :, None], x[mine], -recent)
    # 3. Some products want fruit of the same week.
    for crop in np.unique(kitchen.method_crop[kitchen.fresh_only]):
        ways = np.flatnonzero(kitchen.fresh_only & (kitchen.method_crop == crop))
        place = rows.block(futures * weeks).reshape(futures, weeks)
        rows.add(place[:, :, None], put[:, :, ways], 1.0 / np.maximum(kitchen.usable[ways], 1e-6))
        mine = np.flatnonzero(choices.crop == crop)
        rows.add(place[:, :, None], x[mine], -per_plant[:, :, mine])
    # 4. Hours, equipment and freezer.
    place = rows.block(futures * weeks, np.tile(kitchen.hours, futures)).reshape(futures, weeks)
    rows.add(place[:, :, None], put, kitchen.hours_per_kg)
    for kind in range(len(kitchen.kinds)):
        ways = np.flatnonzero(kitchen.equipment == kind)
        if len(ways):
            room = np.tile(kitchen.equipment_h[kind], futures)
            place = rows.block(futures * weeks, room).reshape(futures, weeks)
            rows.add(place[:, :, None], put[:, :, ways], kitchen.equipment_h_per_kg[ways])
    if np.isfinite(kitchen.freezer_l) and (kitchen.freezer_l_per_kg > 0).any():
        place = rows.block(futures, kitchen.freezer_l)
        rows.add(place[:, None, None], put, kitchen.freezer_l_per_kg)
    # 5. No more jars than are wanted: what nobody asked for is glut.
    place = rows.block(futures * products, np.tile(kitchen.need, futures))
    place = place.reshape(futures, products)
    rows.add(place[:, None, kitchen.method_product], put, kitchen.jars_per_kg)
    # 6. Shortage of a target beyond its threshold.
    place = rows.block(excess.size, -1.0).reshape(excess.shape)
    rows.add(place, excess, -1.0)
    rows.add(place, eta, -1.0)
    for number, target in enumerate(int(one) for one in wanted):
        if target < products:
            ways = np.flatnonzero(kitchen.method_product == target)
            share = -kitchen.jars_per_kg[ways] / goal[target]
            rows.add(place[:, number, None, None], put[:, :, ways], share)
        else:
            crop = target - products
            counted = -goals.fresh_weeks[:, crop].astype(float) / goal[target]
            rows.add(place[:, number, None], eat[:, :, crop], counted)
    # 7. Beds: the most area taken in any week.
    block = rows.block(choices.stands.shape[1])
    rows.add(block[:, None], x, (choices.area_m2[:, None] * choices.stands).T)
    rows.add(block, np.full(len(block), bed), -1.0)
    # 8. Limits shared by the dates of one variety.
    limited = np.flatnonzero(np.isfinite(choices.group_high))
    if len(limited) and fixed is None:
        block = rows.block(len(limited), choices.group_high[limited])
        rows.add(block[:, None], x, (choices.group[None, :] == limited[:, None]).astype(float))

    tail = 1.0 / ((1.0 - goals.probability) * futures)
    cost = np.zeros(columns)
    glut = goals.glut_price / futures
    cost[x] = glut * per_plant.sum(axis=(0, 1))
    # A hundredth of the bed price for a bed that stands full all season breaks ties.
    cost[x] += 0.01 * goals.bed_price * choices.area_m2 * choices.stands.mean(axis=1)
    cost[bed] = goals.bed_price
    cost[eat], cost[give], cost[put] = -glut, -glut, -glut
    cost[carry[:, -1]] = -glut
    cost[eta] = weights[wanted]
    cost[excess] = weights[wanted] * tail

    high = np.full(columns, np.inf)
    low = np.zeros(columns)
    low[x], high[x] = (choices.low, choices.high) if fixed is None else (fixed, fixed)
    high[bed] = choices.bed_m2 if fixed is None else np.inf
    high[eat] = kitchen.eat
    high[give] = np.maximum(kitchen.most - kitchen.eat, 0.0) + kitchen.give
    high[carry] = np.where(kitchen.keep_weeks > 0, np.inf, 0.0)
    matrix, right = rows.matrix(int(columns))
    found = milp(
        cost,
        constraints=LinearConstraint(matrix, -np.inf, right),
        bounds=Bounds(low, high),
        options={"time_limit": time_limit_s},
    )
    if found.x is None and found.status != 1:
        raise PlanError(
            "No layout of beds was found: the limits contradict each other. Beds that stand "
            "already, or fewest plants, may take more room than there is."
        )
    known = found.x
    return Relaxed(
        plants=np.full(options, np.nan) if known is None else np.asarray(known[x]),
        value=float("nan") if known is None else float(cost @ known),
        status="optimal" if found.status == 0 else "time limit",
        seconds=time.perf_counter() - began,
        rows=rows.count,
        columns=int(columns),
    )
