"""What follows from a plan in each draw: one small programme a draw, batches held fixed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Index
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.model import WeekModel, week_model
from harvestcast.solver import Solver


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """A plan followed through each draw.

    Parameters
    ----------
    inputs : ProgrammeInputs
        The draws.
    plan : WeekModel
        The programme of one draw: where to find what.
    columns : ndarray, shape (draws, columns)
        Each draw's columns.
    cost : ndarray, shape (draws,)
        Points of each draw, the hours of whole batches and purchases included.
    """

    inputs: ProgrammeInputs
    plan: WeekModel
    columns: Array
    cost: Array

    def amount(self, columns: Index) -> Array:
        """Return what some columns of one draw hold, shape (draws, ...); 0 where none is."""
        return np.where(columns >= 0, self.columns[:, columns], 0.0)


def follow(inputs: ProgrammeInputs, shared: Array, *, buy_again: bool = False) -> Followed:
    """Follow a plan through each draw.

    Whole batches (and purchases, unless ``buy_again``) are held as planned; the rest is chosen
    for each draw, knowing that draw. So no real season turns out better than this on the whole.

    Parameters
    ----------
    inputs : ProgrammeInputs
        The draws; as many decided days and the same options as the plan.
    shared : ndarray
        What the plan chose once for all draws.
    buy_again : bool
        Whether jars and lids may be bought to suit each draw.

    Returns
    -------
    Followed

    Raises
    ------
    PlanError
        Where the solver fails.
    """
    ready, _ = inputs.ready()
    plan = week_model(replace(inputs, picked=inputs.picked[:1], weights=np.ones(1)))
    opened = Solver(plan.model)
    opened.hold(plan.shared, np.maximum(shared, 0.0))
    if buy_again:
        opened.hold(plan.buy, 0.0, np.inf)
    columns = np.zeros((inputs.draws, plan.model.width))
    cost = np.zeros(inputs.draws)
    for draw in range(inputs.draws):
        opened.hold(plan.fruit, ready[draw][None])
        answer = opened.solve(relaxed=True)
        columns[draw], cost[draw] = np.maximum(answer.x, 0.0), answer.cost
    return Followed(inputs=inputs, plan=plan, columns=columns, cost=cost)
