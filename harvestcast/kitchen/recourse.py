"""What follows from a plan in each draw: one small programme a draw, batches held fixed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.errors import PlanError
from harvestcast.kitchen.block import Block, build_block, fruit_of
from harvestcast.kitchen.inputs import ProgrammeInputs

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """A plan followed through each draw.

    Parameters
    ----------
    inputs, block : ProgrammeInputs, Block
        The draws, and the rows and columns of one draw.
    columns : numpy.ndarray
        Each draw's columns, shape (draws, columns).
    cost : numpy.ndarray
        Points of each draw, the hours of whole batches and purchases included, shape (draws,).
    """

    inputs: ProgrammeInputs
    block: Block
    columns: FloatArray
    cost: FloatArray


def follow(inputs: ProgrammeInputs, shared: FloatArray, *, buy_again: bool = False) -> Followed:
    """Follow a plan through each draw.

    Whole batches (and purchases, unless ``buy_again``) are held as planned; the rest is chosen
    for each draw, knowing that draw. So no real season turns out better than this on the whole.

    Parameters
    ----------
    inputs : ProgrammeInputs
        The draws; as many decided days and the same options as the plan.
    shared : numpy.ndarray
        Shared columns of the plan.
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
    block = build_block(inputs)
    fruit = fruit_of(inputs)
    price = np.zeros(len(block.shared_cost))
    first = len(block.cost)
    columns = np.zeros((inputs.draws, first))
    cost = np.zeros(inputs.draws)
    held = np.array(shared, float)
    held[block.batches.ravel()] = np.rint(held[block.batches.ravel()])
    if buy_again:
        held[block.buy] = 0.0
        price[block.buy] = block.shared_cost[block.buy]
    planned = float(block.shared_cost @ held)
    ready = fruit.sum(axis=1)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    rows = sparse.csc_array(sparse.hstack([block.rows, block.link[:, block.buy]]))
    upper = np.concatenate([block.upper, np.full(len(block.buy), np.inf if buy_again else 0.0)])
    objective = np.concatenate([block.cost, price[block.buy]])
    limits = block.limit[None, :] + fruit @ block.fruit.T - block.link @ held
    batches = held[block.batches.ravel()]
    for draw in range(inputs.draws):
        limit = np.array(limits[draw])
        most = np.minimum(block.fill_kg, block.fill_fruit @ fruit[draw])
        limit[block.fill_rows] += most * batches
        # Rounding in a solved plan may leave a limit a hair below what is held fixed.
        limit = np.where(block.equal, limit, limit + 1e-9)
        result = milp(
            objective,
            bounds=Bounds(0.0, upper),
            constraints=LinearConstraint(rows, np.where(block.equal, limit, -np.inf), limit),
        )
        if result.x is None:
            raise PlanError(f"the plan could not be followed in draw {draw}: {result.message}")
        columns[draw] = np.maximum(result.x[:first], 0.0)
        cost[draw] = result.fun + planned + saves * ready[draw]
    return Followed(inputs=inputs, block=block, columns=columns, cost=cost)
