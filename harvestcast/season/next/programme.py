"""Next season's beds as one linear programme over many possible seasons.

Plants per variety and date are decided once; eating, putting up and carrying follow in every
season. Jars bring points up to their targets and meals in steps that fall
(:mod:`harvestcast.season.next.goals`), which keeps the programme linear. Plants are fractional here
and every season is lived with hindsight, so that no layout can bring more on these seasons:
:mod:`harvestcast.season.next.search` makes the plants whole on others, and what it finds is held
against this bound.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Index
from harvestcast.errors import PlanError
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.next.goals import WIDTHS, Goals
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
    price : ndarray, shape (options,)
        Points that one plant costs: its share of the bed's work, and picking what it bears.
    stands : ndarray, shape (options, bed weeks)
        Weeks in which it takes its bed, 0 or 1; these weeks begin before the first pick. Where some
        options stand under cover the weeks come twice: in the open, then under cover.
    low, high : ndarray, shape (options,)
        Fewest and most plants.
    step : ndarray, shape (options,)
        Plants are whole multiples of this.
    bed_m2 : float
        Bed area there is in the open; infinite where no limit. [m2]
    group : ndarray of int, shape (options,)
        Options with a common limit (the dates of one variety).
    group_high : ndarray, shape (groups,)
        Most plants of each group; infinite where no limit.
    glass_m2 : float or None
        The same under cover; None where nothing stands there. [m2]
    """

    crop: Ints
    area_m2: Array
    price: Array
    stands: Array
    low: Array
    high: Array
    step: Array
    bed_m2: float
    group: Ints
    group_high: Array
    glass_m2: float | None = None

    @property
    def room_m2(self) -> Array:
        """Bed area there is in each of the bed weeks. [m2]."""
        rooms = [self.bed_m2] if self.glass_m2 is None else [self.bed_m2, self.glass_m2]
        return np.repeat(np.array(rooms), self.stands.shape[1] // len(rooms))

    @property
    def endless(self) -> Choices:
        """The same with as much bed as anybody wants, in the open and under cover."""
        glass = None if self.glass_m2 is None else np.inf
        return replace(self, bed_m2=np.inf, glass_m2=glass)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxed:
    """Solution of the programme: plants, not whole, and their worth in points.

    ``a_square_metre`` is what one more square metre of bed would bring, 0 where beds are plenty.
    """

    plants: Array
    worth: float
    a_square_metre: float


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
        What a harvest is worth.
    """

    def __init__(
        self, per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
    ) -> None:
        futures, weeks, options = per_plant.shape
        model, products = Model(), len(kitchen.products)
        each = (futures, weeks, len(kitchen.crops))
        glut, hour = goals.glut_price / futures, goals.hour_price / futures
        self._choices = choices

        cost = choices.price + glut * per_plant.sum(axis=(0, 1))
        self._plants = x = model.columns(options, cost, choices.low, choices.high)
        self._bed = bed = model.columns(len(self._beds()), high=self._beds())
        meal = -glut - goals.eaten / futures
        eat = model.columns((*each, len(WIDTHS)), meal, high=kitchen.eat[:, None] * WIDTHS)
        spare = np.maximum(kitchen.most - kitchen.eat, 0.0) + kitchen.give
        give = model.columns(each, -glut, high=spare)
        last = np.where(np.arange(weeks) == weeks - 1, -glut, 0.0)[:, None]
        carry = model.columns(each, last, where=kitchen.keep_weeks > 0)
        each_way = (futures, weeks, len(kitchen.method_crop))
        put = model.columns(each_way, hour * kitchen.hours_per_kg - glut)
        tiers = (futures, products, len(WIDTHS))
        jars = model.columns(tiers, -goals.jar / futures, high=kitchen.need[:, None] * WIDTHS)

        # 1. What is eaten, given, put up and carried on is at most what was picked and carried in.
        rows = model.rows(each)
        model.add(rows[..., None], eat)
        for column in (give, carry):
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
        # 6. What was put up fills the tiers of its target.
        rows = model.rows((futures, products))
        model.add(rows[..., None], jars)
        model.add(rows[:, None, kitchen.method_product], put, -kitchen.jars_per_kg)
        # 7. Beds: the most area taken in any week.
        rows = model.rows(choices.stands.shape[1])
        model.add(rows[:, None], x, (choices.area_m2[:, None] * choices.stands).T)
        model.add(rows, np.repeat(bed, len(rows) // len(bed)), -1.0)
        # 8. Limits shared by the dates of one variety.
        rows = model.rows(len(choices.group_high), choices.group_high)
        model.add(rows[choices.group], x)
        self.size = (model.height, model.width)
        self._solver = Solver(model)

    def solve(self) -> Relaxed:
        """Lay the beds out.

        Raises
        ------
        PlanError
            Where the household's limits contradict each other.
        """
        try:
            found = self._solver.solve(relaxed=True)
        except Infeasible as error:
            raise PlanError(
                "No layout of beds was found: the limits contradict each other. Beds that stand "
                "already, or fewest plants, may take more room than there is."
            ) from error
        more = max(-float(found.slope[self._bed[0]]), 0.0)
        return Relaxed(plants=found.x[self._plants], worth=-found.cost, a_square_metre=more)

    def worth(self, plants: Array) -> float:
        """Return the worth of given plants in points, on as much bed as they take."""
        self._solver.hold(self._plants, plants)
        self._solver.hold(self._bed, 0.0, np.inf)
        worth = self.solve().worth
        self._solver.hold(self._plants, self._choices.low, self._choices.high)
        self._solver.hold(self._bed, 0.0, self._beds())
        return worth

    def _beds(self) -> Array:
        """Return the bed area there is in the open and, where there is any, under cover. [m2]."""
        glass = self._choices.glass_m2
        return np.array([self._choices.bed_m2, *([] if glass is None else [glass])])
