"""Next season's beds as one linear programme over many possible seasons.

Plants per variety and date are decided once; eating, putting up and carrying follow in every
season. Shortage of every target is priced by its conditional value at risk, the mean of its worst
seasons, which keeps the programme linear. Plants are fractional here;
:mod:`harvestcast.season.next.search` rounds them and counts reliability on other seasons.

References
----------
.. [1] Rockafellar R.T., Uryasev S. (2000) Optimization of conditional value-at-risk. Journal of
   Risk 2(3):21-41, doi:10.21314/JOR.2000.038 (eq. 4: the linear form used here).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.errors import PlanError
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.solver import Infeasible, Model, Solver

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
    """Solution of the programme: plants, not whole, and their value in points."""

    plants: Array
    value: float


class BedsProgramme:
    """The programme of some seasons, kept open; lives only while beds are laid out.

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
    """

    def __init__(
        self, per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
    ) -> None:
        futures, weeks, options = per_plant.shape
        model, products = Model(), len(kitchen.products)
        goal = np.concatenate([kitchen.need, goals.fresh_kg])
        wanted = np.flatnonzero(goal > 0)
        glut = goals.glut_price / futures
        self._choices, self._wanted = choices, wanted
        self._tail = 1.0 / ((1.0 - goals.probability) * futures)

        # A hundredth of the bed price for a bed that stands full all season breaks ties.
        stands = 0.01 * goals.bed_price * choices.area_m2 * choices.stands.mean(axis=1)
        cost = stands + glut * per_plant.sum(axis=(0, 1))
        self._plants = x = model.columns(options, cost, choices.low, choices.high)
        self._bed = bed = model.columns(1, goals.bed_price, high=choices.bed_m2)
        self._threshold = model.columns(len(wanted))
        self._excess = excess = model.columns((futures, len(wanted)))
        each = (futures, weeks, len(kitchen.crops))
        eat = model.columns(each, -glut, high=kitchen.eat)
        spare = np.maximum(kitchen.most - kitchen.eat, 0.0) + kitchen.give
        give = model.columns(each, -glut, high=spare)
        last = np.where(np.arange(weeks) == weeks - 1, -glut, 0.0)[:, None]
        carry = model.columns(each, last, where=kitchen.keep_weeks > 0)
        put = model.columns((futures, weeks, len(kitchen.method_crop)), -glut)

        # 1. What is eaten, given, put up and carried on is at most what was picked and carried in.
        rows = model.rows(each)
        for column in (eat, give, carry):
            model.add(rows, column)
        model.add(rows[:, 1:], carry[:, :-1], -1.0)
        model.add(rows[:, :, kitchen.method_crop], put)
        model.add(rows[:, :, choices.crop], x, -per_plant)
        total = np.cumsum(per_plant, axis=1)
        for crop, keep in enumerate(np.minimum(kitchen.keep_weeks, weeks)):
            mine = np.flatnonzero(choices.crop == crop)
            # 2. Only what still keeps can be carried: the picks of the last weeks.
            if 0 < keep < weeks:
                recent = total[:, :, mine].copy()
                recent[:, keep:] -= total[:, :-keep, mine]
                rows = model.rows((futures, weeks))
                model.add(rows, carry[:, :, crop])
                model.add(rows[:, :, None], x[mine], -recent)
            # 3. Some products want fruit of the same week.
            ways = np.flatnonzero(kitchen.fresh_only & (kitchen.method_crop == crop))
            if len(ways):
                rows = model.rows((futures, weeks))
                usable = np.maximum(kitchen.usable[ways], 1e-6)
                model.add(rows[:, :, None], put[:, :, ways], 1.0 / usable)
                model.add(rows[:, :, None], x[mine], -per_plant[:, :, mine])
        # 4. Hours, equipment and freezer.
        rows = model.rows((futures, weeks), kitchen.hours)
        model.add(rows[:, :, None], put, kitchen.hours_per_kg)
        for kind in range(len(kitchen.kinds)):
            ways = np.flatnonzero(kitchen.equipment == kind)
            if len(ways):
                rows = model.rows((futures, weeks), kitchen.equipment_h[kind])
                model.add(rows[:, :, None], put[:, :, ways], kitchen.equipment_h_per_kg[ways])
        if np.isfinite(kitchen.freezer_l):
            rows = model.rows((futures, 1, 1), kitchen.freezer_l)
            model.add(rows, put, kitchen.freezer_l_per_kg)
        # 5. No more jars than are wanted: what nobody asked for is glut.
        rows = model.rows((futures, 1, products), kitchen.need)
        model.add(rows[:, :, kitchen.method_product], put, kitchen.jars_per_kg)
        # 6. Shortage of a target beyond its threshold.
        rows = model.rows(excess.shape, -1.0)
        model.add(rows, excess, -1.0)
        model.add(rows, self._threshold, -1.0)
        for number, target in enumerate(wanted):
            if target < products:
                ways = np.flatnonzero(kitchen.method_product == target)
                share = kitchen.jars_per_kg[ways] / goal[target]
                model.add(rows[:, number, None, None], put[:, :, ways], -share)
            else:
                counted = goals.fresh_weeks[:, target - products] / goal[target]
                model.add(rows[:, number, None], eat[:, :, target - products], -counted)
        # 7. Beds: the most area taken in any week.
        rows = model.rows(choices.stands.shape[1])
        model.add(rows[:, None], x, (choices.area_m2[:, None] * choices.stands).T)
        model.add(rows, bed, -1.0)
        # 8. Limits shared by the dates of one variety.
        rows = model.rows(len(choices.group_high), choices.group_high)
        model.add(rows[choices.group], x)
        self.size = (model.height, model.width)
        self._solver = Solver(model)

    def solve(self, weights: Array) -> Relaxed:
        """Lay the beds out.

        Parameters
        ----------
        weights : ndarray, shape (products + crops,)
            Price of falling short of a target altogether, points; products first, then fresh.

        Raises
        ------
        PlanError
            Where the household's limits contradict each other.
        """
        self._solver.price(self._threshold, weights[self._wanted])
        self._solver.price(self._excess, weights[self._wanted] * self._tail)
        try:
            found = self._solver.solve(relaxed=True)
        except Infeasible as error:
            raise PlanError(
                "No layout of beds was found: the limits contradict each other. Beds that stand "
                "already, or fewest plants, may take more room than there is."
            ) from error
        return Relaxed(plants=found.x[self._plants], value=found.cost)

    def value(self, plants: Array, weights: Array) -> float:
        """Return the value of given plants in points, on as much bed as they take."""
        self._solver.hold(self._plants, plants)
        self._solver.hold(self._bed, 0.0, np.inf)
        value = self.solve(weights).value
        self._solver.hold(self._plants, self._choices.low, self._choices.high)
        self._solver.hold(self._bed, 0.0, self._choices.bed_m2)
        return value
