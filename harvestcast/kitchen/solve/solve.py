"""Choose the batches of the next days for many possible futures at once."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from harvestcast import solver
from harvestcast.arrays import Array, Index
from harvestcast.kitchen.solve.infeasible import check_must, must_batches
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.model import week_model

GAP = 0.003
"""The plan counts as optimal when proved to be within this share of its worth."""

LEAST_WORTH = 10.0
"""Points added to the worth before the gap is taken, so that a plan worth next to nothing is
not asked for a fraction of a crumb."""

OPTIMAL = "OPTIMAL"
FEASIBLE_AT_LIMIT = "FEASIBLE_AT_LIMIT"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """A solved programme.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What was solved.
    batches : ndarray, shape (decided, options)
        Whole batches of the decided days.
    bought : ndarray
        Jars, lids and bags bought, in the order of ``prices.BUYABLE``.
    shared : ndarray
        All that is chosen once for all draws, as ``WeekModel.shared`` lists it.
    status : str
        ``OPTIMAL`` (proved within the gap asked for) or ``FEASIBLE_AT_LIMIT``.
    cost, bound : float
        Expected cost in points, and the least it could be.
    worth : float
        Points by which the plan beats putting up nothing.
    gap : float
        (cost - bound) / (worth + 10 points).
    nodes, steps : int
        Work done: nodes of the search tree, and steps of the simplex method.
    seconds : float
        Time taken, for information: nothing depends on it.
    """

    inputs: ProgrammeInputs
    batches: Index
    bought: Array
    shared: Array
    status: str
    cost: float
    bound: float
    worth: float
    gap: float
    nodes: int
    steps: int
    seconds: float


def solve_programme(
    inputs: ProgrammeInputs, *, gap: float = GAP, most_nodes: int = solver.MOST_NODES
) -> Solution:
    """Choose the batches of the next days for many possible futures at once.

    Whole batches are chosen on the decided days, once for all draws; everything else (how full
    they become, what is eaten, given, carried on, and the batches of later days, which may be
    part batches) is chosen for each draw.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told.
    gap : float
        Share of the plan's worth within which it must be proved best to count as optimal.
    most_nodes : int
        Nodes of the search tree after which the best plan found is taken; where none is found, no
        batch is begun but those that must be.

    Returns
    -------
    Solution
        ``status`` is ``OPTIMAL`` only when proved within ``gap``.

    Raises
    ------
    InfeasiblePlanError
        Where batches that must be done do not fit the household's limits; ``limits`` names the
        limits that must give.
    PlanError
        Where the solver failed otherwise.
    """
    began = time.perf_counter()
    check_must(inputs)
    plan = week_model(inputs)
    opened = solver.Solver(plan.model)
    opened.hold(plan.batches, 0.0)
    opened.hold(plan.put_up, 0.0)
    idle = opened.solve(relaxed=True).cost
    opened.hold(plan.put_up, 0.0, np.inf)
    least, most = must_batches(inputs), np.full(plan.batches.shape, np.inf)
    most[:, (inputs.options["method"] == "keeping").to_numpy(bool)] = 0.0  # laid up by the kg
    if inputs.before is not None and inputs.firm is not None:
        held, stands = inputs.before[: len(most)], inputs.firm[: len(most)]
        least = np.where(stands, np.maximum(held, least), least)
    opened.hold(plan.batches, least, np.maximum(most, least))
    try:
        found = opened.solve(gap=gap, zero=idle + LEAST_WORTH, most_nodes=most_nodes)
    except solver.NotFound:
        bound = opened.solve(relaxed=True).cost
        opened.hold(plan.batches, least)  # nothing is begun but what must be
        found = replace(opened.solve(relaxed=True), bound=bound, ended=solver.LIMIT)
    worth = idle - found.cost
    return Solution(
        inputs=inputs,
        batches=found.x[plan.batches].astype(np.int64),
        bought=found.x[plan.buy],
        shared=found.x[plan.shared],
        status=OPTIMAL if found.ended == solver.OPTIMAL else FEASIBLE_AT_LIMIT,
        cost=found.cost,
        bound=found.bound,
        worth=worth,
        gap=(found.cost - found.bound) / max(worth + LEAST_WORTH, 1e-9),
        nodes=found.nodes,
        steps=found.steps,
        seconds=time.perf_counter() - began,
    )
