"""Which limits must give when what must be done does not fit the household's limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.arrays import Array
from harvestcast.errors import InfeasiblePlanError
from harvestcast.kitchen.solve.inputs import ProgrammeInputs

if TYPE_CHECKING:
    from harvestcast.kitchen.solve.block import Block


def check_sums(inputs: ProgrammeInputs) -> None:
    """Check what can be checked without solving: days, options and whole numbers.

    Raises
    ------
    InfeasiblePlanError
        With a sentence for every batch that cannot stand in the plan at all.
    """
    known = set(inputs.options["option"].astype(str))
    limits = []
    for one in inputs.must:
        if not 0 <= one.day < inputs.decided:
            limits.append(
                f"{one.option}: day {one.day + 1} is not one of the {inputs.decided} days "
                "decided now"
            )
        elif one.option not in known:
            limits.append(f"{one.option}: not among what this household can put up now")
        elif one.batches < 0:
            limits.append(f"{one.option}: {one.batches} batches; a number of at least 0 is needed")
    if limits:
        raise InfeasiblePlanError("The plan cannot hold: " + "; ".join(limits), limits)


def least_that_must(inputs: ProgrammeInputs, block: Block) -> Array:
    """Return the shared columns of the least plan: what must be done and nothing else.

    Raises
    ------
    InfeasiblePlanError
        Where batches that must be done do not fit the household's limits.
    """
    shared = np.zeros(len(block.shared_cost))
    if not inputs.must:
        return shared
    whole = np.zeros(len(shared), dtype=np.int64)
    whole[block.batches.ravel()] = 1
    result = milp(
        block.shared_cost,
        integrality=whole,
        bounds=Bounds(0.0, block.shared_upper),
        constraints=LinearConstraint(
            sparse.csc_array(block.shared_rows), -np.inf, block.shared_limit
        ),
    )
    if result.x is None:
        raise InfeasiblePlanError(*limits_that_must_give(inputs, block))
    shared = np.maximum(result.x, 0.0)
    shared[block.batches.ravel()] = np.rint(shared[block.batches.ravel()])
    return shared


def limits_that_must_give(inputs: ProgrammeInputs, block: Block) -> tuple[str, list[str]]:
    """Find the least set of household limits to stretch so that a plan exists.

    The objective is dropped and every shared limit gets a slack, scaled by what a household can
    move (an hour, a load); the sum of the slacks is made as small as possible. Only shared rows
    can contradict each other: batches may stay unfilled, so the rows of a draw never do.

    Returns
    -------
    message : str
        One sentence for the household.
    limits : list of str
        Each limit that must give, and by how much.
    """
    rows, limit = block.shared_rows, block.shared_limit
    count, columns = rows.shape
    must = limit < 0
    price = np.where(must, 1e3, 1.0)  # giving up a batch that must be done comes last
    whole = np.zeros(columns + count, dtype=np.int64)
    whole[block.batches.ravel()] = 1
    result = milp(
        np.concatenate([np.zeros(columns), price]),
        integrality=whole,
        bounds=Bounds(0.0, np.concatenate([block.shared_upper, np.full(count, np.inf)])),
        constraints=LinearConstraint(
            sparse.csc_array(sparse.hstack([rows, -sparse.eye_array(count)])), -np.inf, limit
        ),
    )
    slack = result.x[columns:] if result.x is not None else np.zeros(count)
    limits = [
        f"{name} ({'lacks' if not forced else 'gives up'} {amount:.3g})"
        for name, amount, forced in zip(block.shared_names, slack, must, strict=True)
        if amount > 1e-6
    ]
    asked = ", ".join(
        f"{one.batches} batch(es) of {one.option} on {inputs.capacity.dates[one.day]:%A}"
        for one in inputs.must
    )
    return f"What must be done ({asked}) does not fit: " + "; ".join(limits), limits
