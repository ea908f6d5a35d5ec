"""What follows from a plan in each draw: one small programme a draw, batches held fixed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array
from harvestcast.kitchen.solve.block import Block, build_block, fruit_of
from harvestcast.kitchen.solve.each_draw import each_draw, solve_draw
from harvestcast.kitchen.solve.inputs import ProgrammeInputs


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
    columns: Array
    cost: Array


def follow(inputs: ProgrammeInputs, shared: Array, *, buy_again: bool = False) -> Followed:
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
    block, fruit = build_block(inputs), fruit_of(inputs)
    held = np.array(shared, float)
    held[block.batches.ravel()] = np.rint(held[block.batches.ravel()])
    if buy_again:
        held[block.buy] = 0.0
    each = each_draw(block, fruit, free=block.buy if buy_again else None)
    planned = float(block.shared_cost @ held)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    cost = planned + saves * fruit.sum(axis=1)
    columns = np.zeros((inputs.draws, len(block.cost)))
    for draw in range(inputs.draws):
        answer = solve_draw(each, draw, held)
        columns[draw] = answer.columns
        cost[draw] += answer.cost
    return Followed(inputs=inputs, block=block, columns=columns, cost=cost)
