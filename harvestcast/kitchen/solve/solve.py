"""Lay the programme out over the draws, solve it, and say honestly how good the answer is."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Index
from harvestcast.kitchen.solve import infeasible
from harvestcast.kitchen.solve.block import Block, build_block, fruit_of
from harvestcast.kitchen.solve.columns import option_arrays
from harvestcast.kitchen.solve.cuts import MOST_ROUNDS, Question, at_once, search
from harvestcast.kitchen.solve.each_draw import each_draw
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.layout import cost_of_nothing, lay_out

GAP = 0.003
"""The plan counts as optimal when proved to be within this share of its worth."""

LEAST_WORTH = 10.0
"""Points added to the worth before the gap is taken, so that a plan worth next to nothing is
not asked for a fraction of a crumb."""

AT_ONCE_ROWS = 9_000
"""Rows up to which the programme is written out over all draws and solved at once; beyond that
the draws are asked one at a time (:mod:`harvestcast.kitchen.solve.cuts`), which is faster by
then."""

OPTIMAL = "OPTIMAL"
FEASIBLE_AT_LIMIT = "FEASIBLE_AT_LIMIT"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """A solved programme.

    Parameters
    ----------
    inputs, block : ProgrammeInputs, Block
        What was solved.
    batches : numpy.ndarray
        Whole batches of the decided days, shape (decided, options).
    bought : numpy.ndarray
        Jars, lids and bags bought, in the order of ``prices.BUYABLE``.
    shared : numpy.ndarray
        All shared columns, whole batches made whole.
    columns : numpy.ndarray
        Each draw's columns, shape (draws, columns).
    status : str
        ``OPTIMAL`` (proved within the gap asked for) or ``FEASIBLE_AT_LIMIT``.
    cost, bound : float
        Expected cost in points, and the least it could be.
    worth : float
        Points by which the plan beats putting up nothing.
    gap : float
        (cost - bound) / (worth + 10 points).
    seconds : float
        Time taken.
    visited, visited_cost : numpy.ndarray
        Shared columns of every plan looked at on the way, shape (plans, shared columns), and what
        each would cost.
    message : str
        What the solver said, in plain words.
    """

    inputs: ProgrammeInputs
    block: Block
    batches: Index
    bought: Array
    shared: Array
    columns: Array
    status: str
    cost: float
    bound: float
    worth: float
    gap: float
    seconds: float
    visited: Array
    visited_cost: Array
    message: str


def solve_programme(
    inputs: ProgrammeInputs, *, time_limit_s: float = 30.0, gap: float = GAP
) -> Solution:
    """Choose the batches of the next days for many possible futures at once.

    Whole batches are chosen on the decided days, once for all draws; everything else (how full
    they become, what is eaten, given, carried on, and the batches of later days, which may be
    part batches) is chosen for each draw.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told.
    time_limit_s : float
        Seconds of the processor that the solver may take; it may run over a little.
    gap : float
        Share of the plan's worth within which it must be proved best to count as optimal.

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
    began, started = time.perf_counter(), time.process_time()
    infeasible.check_sums(inputs)
    block, fruit = build_block(inputs), fruit_of(inputs)
    least = infeasible.least_that_must(inputs, block)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    layout = lay_out(block, fruit, inputs.weights, saves)
    question = Question(
        block=block,
        idle=cost_of_nothing(block, layout),
        least=LEAST_WORTH,
        gap=gap,
        floor=-_most_worth(inputs, block, fruit),
        until=started + time_limit_s,
    )
    found = at_once(question, layout) if layout.rows.shape[0] <= AT_ONCE_ROWS else None
    if found is None:
        start = _somewhere_to_begin(inputs, question, least)
        found = search(question, each_draw(block, fruit), inputs.weights, start)
    worth = question.idle - found.cost
    return Solution(
        inputs=inputs,
        block=block,
        batches=found.shared[block.batches].astype(np.int64),
        bought=found.shared[block.buy],
        shared=found.shared,
        columns=found.columns,
        status=OPTIMAL if found.ended == "proved" else FEASIBLE_AT_LIMIT,
        cost=found.cost + layout.constant,
        bound=found.bound + layout.constant,
        worth=worth,
        gap=max(0.0, found.cost - found.bound) / max(worth + LEAST_WORTH, 1e-9),
        seconds=time.perf_counter() - began,
        visited=found.visited,
        visited_cost=found.visited_cost + layout.constant,
        message={
            "proved": "proved within the gap asked for",
            "rounds": f"limit of {MOST_ROUNDS} rounds reached before proof",
            "time": f"time limit of {time_limit_s:g} s reached before proof",
        }[found.ended],
    )


def _somewhere_to_begin(inputs: ProgrammeInputs, question: Question, least: Array) -> Array:
    """Return the shared columns of the plan on the mean draw, or in a hurry of hardly any plan."""
    block = question.block
    mean = inputs.weights[None] @ fruit_of(inputs)
    layout = lay_out(block, mean, np.ones(1), 0.0)
    found = at_once(replace(question, gap=max(question.gap, GAP)), layout)
    return least if found is None else found.shared


def _most_worth(inputs: ProgrammeInputs, block: Block, fruit: Array) -> Array:
    """Return points that no plan can bring a draw: all its fruit at the best of every price."""
    table = option_arrays(inputs)
    use = max(0.0, -float(block.cost[block.column].min(initial=0.0)))
    jar = max(0.0, -float(block.cost[block.tiers].min(initial=0.0)))
    most = use + jar * float((table.pints / table.kg).max(initial=0.0))
    return np.asarray(fruit.sum(axis=1) * most + 1.0)
