"""How much better any layout could be: a lower bound on bed and glut.

Whoever meets a target in nine futures of ten pays, in each of those futures, at least what meeting
it in that one future alone would take. So the cost is at least the ninth in ten of these least
costs, sorted (for a probability of 0.9). The targets of one crop are met together in at least
``1 - 0.1 t`` of the futures where there are ``t`` of them, which gives a second bound; the larger
counts. Least costs are linear programmes with plants that need not be whole, hindsight, and a
kitchen that no other crop competes for. Expected glut is replaced by the glut of the mean harvest
of like futures, which is no larger, because glut is convex in what is picked (Jensen). Each step
makes the bound smaller, never larger. Crops add up, bed space in the one week in which the layout
in question takes most of it.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.arrays import Array, Index
from harvestcast.season.kitchen_year import KitchenYear, one_crop
from harvestcast.season.next.programme import Choices, Goals
from harvestcast.season.next.rows import Rows

Ints = Index

_OUT_OF_REACH = 1e6  # points for missing a target altogether: more than any garden costs
_FAR = 0.5 * _OUT_OF_REACH
_FRESH = -1  # the fresh target, among the numbers of products
_GROUPS = 2  # groups of like futures whose mean harvest stands for their glut


def least_cost(
    per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals, week: int
) -> float:
    """Return a lower bound on the cost of every layout that meets all targets it can meet.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    week : int
        Week of the beds in which bed space is counted; any week gives a bound.

    Returns
    -------
    float
        Points, as :attr:`harvestcast.season.next.search.Outcome.cost` counts them on these futures.
        Targets that are out of reach even alone are left out.
    """
    total = 0.0
    for crop in range(len(kitchen.crops)):
        mine = np.flatnonzero(choices.crop == crop)
        if not len(mine):
            continue
        own = one_crop(kitchen, crop)
        case = _Crop(per_plant[:, :, mine], own, choices, goals, crop, mine, week)
        least = float(case.bed @ choices.low[mine])
        wanted = [product for product in range(len(own.products)) if own.need[product] > 0]
        if goals.fresh_kg[crop] > 0:
            wanted.append(_FRESH)
        costs = [case.least((target,), goals.probability) for target in wanted]
        reachable = [t for t, cost in zip(wanted, costs, strict=True) if cost < _FAR]
        together = 1 - len(reachable) * (1 - goals.probability)
        if len(reachable) > 1 and together > 0:
            costs.append(case.least(tuple(reachable), together))
        best = max([least, *(cost for cost in costs if cost < _FAR)])
        total += best + (goals.planting_price if best > least else 0.0)
    return total


class _Crop:
    """The least costs of one crop. Lives only while :func:`least_cost` runs."""

    def __init__(
        self,
        per_plant: Array,
        kitchen: KitchenYear,
        choices: Choices,
        goals: Goals,
        crop: int,
        mine: Ints,
        week: int,
    ) -> None:
        self.per_plant, self.kitchen, self.goals, self.crop = per_plant, kitchen, goals, crop
        self.low, self.high = choices.low[mine], choices.high[mine]
        stands = choices.stands[mine]
        taken = stands[:, week] + 0.01 * stands.mean(axis=1)
        self.bed = goals.bed_price * choices.area_m2[mine] * taken
        self.keep = int(min(kitchen.keep_weeks[0], per_plant.shape[1]))
        # Like futures: sorted by what the crop's usual harvest comes to.
        totals = per_plant.sum(axis=(1, 2))
        order = np.argsort(totals, kind="stable")
        self.groups = np.array_split(order, min(_GROUPS, len(order)))

    def least(self, targets: tuple[int, ...], probability: float) -> float:
        """Return what meeting some targets together, that often, costs at least."""
        futures = len(self.per_plant)
        spared = futures - int(np.ceil(probability * futures - 1e-9))
        # With bed alone first; then with glut, for the dear futures only: a bound for some of
        # the futures is a bound for the sorted costs of all.
        bed = self._solve(targets, np.arange(futures), glut=False)
        dear = np.sort(np.argsort(-bed, kind="stable")[: spared + 4])
        cost = self._solve(targets, dear, glut=True)
        return float(np.sort(cost)[::-1][min(spared, len(cost) - 1)])

    def _solve(self, targets: tuple[int, ...], chosen: Ints, *, glut: bool) -> Array:
        """Return the least cost of meeting the targets in each of some futures.

        One block of variables per future; blocks share nothing, so that one programme gives the
        least cost of all.
        """
        kitchen, goals = self.kitchen, self.goals
        picks = self.per_plant[chosen]
        blocks, weeks, options = picks.shape
        products = [target for target in targets if target != _FRESH]
        ways = np.flatnonzero(np.isin(kitchen.method_product, products))
        groups = len(self.groups) if glut else 0
        sizes = [options, weeks, len(ways) * weeks, weeks, 3 * groups * weeks, 1]
        parts = np.cumsum([0, *sizes])
        width = int(parts[-1])
        base = width * np.arange(blocks)[:, None]
        x, eat, carry = (
            base + parts[i] + np.arange(n) for i, n in ((0, options), (1, weeks), (3, weeks))
        )
        use = (base + parts[2] + np.arange(len(ways) * weeks)).reshape(blocks, len(ways), weeks)
        short = base[:, 0] + parts[5]

        rows = Rows()
        place = rows.block(blocks * weeks).reshape(blocks, weeks)
        rows.add(place, eat, 1.0)
        rows.add(place[:, None, :], use, 1.0)
        rows.stock(place, carry, x, picks)
        rows.keeping(carry, x, picks, self.keep)
        for number, way in enumerate(ways):
            if kitchen.fresh_only[way]:
                place = rows.block(blocks * weeks).reshape(blocks, weeks)
                rows.add(place, use[:, number], 1.0)
                rows.add(place[:, :, None], x[:, None, :], -kitchen.usable[way] * picks)
        for target in targets:
            place = rows.block(blocks, -1.0)
            rows.add(place, short, -1.0)
            if target == _FRESH:
                counted = goals.fresh_weeks[:, self.crop] / goals.fresh_kg[self.crop]
                rows.add(place[:, None], eat, -counted)
            else:
                made = np.flatnonzero(kitchen.method_product[ways] == target)
                gain = -kitchen.jars_per_kg[ways[made]] / kitchen.need[target]
                rows.add(place[:, None, None], use[:, made], gain[:, None])

        cost = np.zeros(width * blocks)
        low, high = np.zeros(width * blocks), np.full(width * blocks, np.inf)
        cost[x] = self.bed
        cost[short] = _OUT_OF_REACH
        low[x], high[x] = self.low, self.high
        high[eat] = kitchen.eat[0]
        high[use] = _most(kitchen, ways)
        high[carry] = np.inf if self.keep else 0.0
        if glut:
            first = base + parts[4]
            self._add_glut(rows, first, x, cost, high)
        matrix, right = rows.matrix(width * blocks)
        found = milp(
            cost,
            constraints=LinearConstraint(matrix, -np.inf, right),
            bounds=Bounds(low, high),
            options={"time_limit": 20.0},
        )
        if found.x is None or found.status != 0:
            return np.zeros(blocks)
        return np.asarray((cost * found.x).reshape(blocks, width).sum(axis=1))

    def _add_glut(self, rows: Rows, first: Ints, x: Ints, cost: Array, high: Array) -> None:
        """Add what table, pantry and store leave of the mean harvest of each group of futures."""
        kitchen, price = self.kitchen, self.goals.glut_price
        weeks, blocks = self.per_plant.shape[1], len(x)
        rate = [
            kitchen.jars_per_kg[kitchen.method_product == p].min(initial=np.inf)
            for p in range(len(kitchen.products))
        ]
        room = float(np.sum(kitchen.need / np.array(rate))) if rate else 0.0
        for number, group in enumerate(self.groups):
            share = price * len(group) / len(self.per_plant)
            mean = self.per_plant[group].mean(axis=0)
            shared = np.broadcast_to(mean, (blocks, *mean.shape))
            table, pantry, later = (
                first + (3 * number + part) * weeks + np.arange(weeks) for part in range(3)
            )
            place = rows.block(blocks * weeks).reshape(blocks, weeks)
            rows.add(place, table, 1.0)
            rows.add(place, pantry, 1.0)
            rows.stock(place, later, x, shared)
            rows.keeping(later, x, shared, self.keep)
            place = rows.block(blocks, room)
            rows.add(place[:, None], pantry, 1.0)
            cost[x] += share * mean.sum(axis=0)
            cost[table], cost[pantry], cost[later[:, -1]] = -share, -share, -share
            high[table] = max(kitchen.most[0], kitchen.eat[0]) + kitchen.give[0]
            high[later] = np.inf if self.keep else 0.0


def _most(kitchen: KitchenYear, ways: Ints) -> Array:
    """Return what each way can put up in a week at most, shape (ways, weeks), in kg."""
    most = np.full((len(ways), kitchen.weeks), np.inf)
    for number, way in enumerate(ways):
        if kitchen.hours_per_kg[way] > 0:
            most[number] = kitchen.hours / kitchen.hours_per_kg[way]
        kind = kitchen.equipment[way]
        if kind >= 0 and kitchen.equipment_h_per_kg[way] > 0:
            room = kitchen.equipment_h[kind] / kitchen.equipment_h_per_kg[way]
            most[number] = np.minimum(most[number], room)
    return most
