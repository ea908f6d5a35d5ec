"""Lay the programme out over the draws, solve it, and say honestly how good the answer is."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.errors import InfeasiblePlanError, PlanError
from harvestcast.kitchen import infeasible
from harvestcast.kitchen.block import Block, build_block, fruit_of
from harvestcast.kitchen.inputs import ProgrammeInputs

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

GAP = 0.003
"""The plan counts as optimal when proved to be within this share of its worth."""

LEAST_WORTH = 10.0
"""Points added to the worth before the gap is taken, so that a plan worth next to nothing is
not asked for a fraction of a crumb."""

OPTIMAL = "OPTIMAL"
FEASIBLE_AT_LIMIT = "FEASIBLE_AT_LIMIT"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """One linear programme: at most rows, columns from 0 to ``upper``.

    Parameters
    ----------
    cost, upper : numpy.ndarray
        Shape (columns,): shared columns first, then each draw's.
    rows : scipy.sparse.csr_array
        Shape (rows, columns).
    limit : numpy.ndarray
        Shape (rows,).
    equal : numpy.ndarray
        Rows that hold exactly, shape (rows,).
    constant : float
        Points to add to the cost: what it would cost if everything spoiled.
    """

    cost: FloatArray
    upper: FloatArray
    rows: sparse.csr_array
    limit: FloatArray
    equal: npt.NDArray[np.bool_]
    constant: float


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
    message : str
        What the solver said, in plain words.
    """

    inputs: ProgrammeInputs
    block: Block
    batches: IntArray
    bought: FloatArray
    shared: FloatArray
    columns: FloatArray
    status: str
    cost: float
    bound: float
    worth: float
    gap: float
    seconds: float
    message: str


def lay_out(block: Block, fruit: FloatArray, weights: FloatArray, saves: float) -> Layout:
    """Lay one block out over draws.

    Parameters
    ----------
    block : Block
        Rows and columns.
    fruit : numpy.ndarray
        What the rows know of each draw's fruit, shape (draws, features).
    weights : numpy.ndarray
        Probability of each draw.
    saves : float
        Points a kg not spoiled saves in the mean.

    Returns
    -------
    Layout
    """
    draws = len(fruit)
    shared = len(block.shared_cost)
    own = len(block.cost)
    top = sparse.hstack(
        [block.shared_rows, sparse.csr_array((block.shared_rows.shape[0], draws * own))]
    )
    link = sparse.vstack([block.link + _fill(block, one) for one in fruit])
    each = sparse.block_diag([block.rows] * draws)
    limits = block.limit[None, :] + fruit @ block.fruit.T
    ready = fruit.sum(axis=1)
    return Layout(
        cost=np.concatenate([block.shared_cost, np.outer(weights, block.cost).ravel()]),
        upper=np.concatenate([block.shared_upper, np.tile(block.upper, draws)]),
        rows=sparse.csr_array(sparse.vstack([top, sparse.hstack([link, each])])),
        limit=np.concatenate([block.shared_limit, np.asarray(limits).ravel()]),
        equal=np.concatenate(
            [np.zeros(len(block.shared_limit), bool), np.tile(block.equal, draws)]
        ),
        constant=float(saves * (weights @ ready)) if shared else 0.0,
    )


def _fill(block: Block, fruit: FloatArray) -> sparse.csr_array:
    """Return one draw's coefficients of whole batches in the rows that hold their kg to them."""
    most = np.minimum(block.fill_kg, block.fill_fruit @ fruit)
    where = (block.fill_rows, block.batches.ravel())
    return sparse.csr_array((-most, where), shape=block.link.shape)


def minimise(
    layout: Layout,
    *,
    integer: IntArray | None = None,
    fixed: dict[int, float] | None = None,
    upper: FloatArray | None = None,
    shift: float = 0.0,
    gap: float = GAP,
    time_limit_s: float | None = None,
) -> Any:
    """Run HiGHS (through scipy) on a layout.

    Parameters
    ----------
    layout : Layout
        Rows and columns.
    integer : numpy.ndarray, optional
        Columns that must be whole.
    fixed : dict, optional
        Columns held at a value.
    upper : numpy.ndarray, optional
        Upper bounds in place of the layout's.
    shift : float
        Points added to the cost, by one more column held at 1: the solver's relative gap then
        refers to what is at stake, not to a cost that holds constants.
    gap : float
        Relative gap asked for.
    time_limit_s : float, optional
        Seconds; the solver may run over a little.

    Returns
    -------
    scipy.optimize.OptimizeResult
        ``x`` without the shift's column; ``None`` where nothing was found.
    """
    columns = len(layout.cost)
    low = np.zeros(columns + 1)
    high = np.append(layout.upper if upper is None else upper, 1.0)
    low[-1] = 1.0
    for column, value in (fixed or {}).items():
        low[column] = high[column] = value
    whole = np.zeros(columns + 1, dtype=np.int64)
    if integer is not None:
        whole[integer] = 1
    rows = sparse.csc_array(
        sparse.hstack([layout.rows, sparse.csr_array((layout.rows.shape[0], 1))])
    )
    result = milp(
        np.append(layout.cost, shift),
        integrality=whole,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(
            rows, np.where(layout.equal, layout.limit, -np.inf), layout.limit
        ),
        options={
            "mip_rel_gap": gap,
            "time_limit": np.inf if time_limit_s is None else time_limit_s,
        },
    )
    if result.x is not None:
        result.x = result.x[:-1]
    return result


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
        Seconds the solver may take; it may run over a little.
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
    began = time.perf_counter()
    infeasible.check_sums(inputs)
    block = build_block(inputs)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    layout = lay_out(block, fruit_of(inputs), inputs.weights, saves)
    integer = block.batches.ravel()
    idle = cost_of_nothing(block, layout)
    shift = -idle - LEAST_WORTH
    result = minimise(layout, integer=integer, shift=shift, gap=gap, time_limit_s=time_limit_s)
    message = "proved within the gap asked for"
    if result.status == 2:
        raise InfeasiblePlanError(*infeasible.limits_that_must_give(inputs, block))
    x, bound = result.x, result.mip_dual_bound
    if x is None:
        x, relaxed = _rounded_down(layout, block, shift)
        bound = relaxed if bound is None else max(bound, relaxed)
        message = "nothing found in time; the relaxed plan rounded down stands in its place"
    cost = float(layout.cost @ x) + shift
    bound = cost if bound is None else min(float(bound), cost)
    worth = -cost - LEAST_WORTH
    share = max(0.0, cost - bound) / max(worth + LEAST_WORTH, 1e-9)
    proved = share <= gap + 1e-9
    if not proved and result.status != 1 and result.x is not None:
        raise PlanError(f"the solver stopped without proof: {result.message}")
    if not proved and result.x is not None:
        message = f"time limit of {time_limit_s:g} s reached before proof"
    first = len(block.shared_cost)
    shared = np.maximum(x[:first], 0.0)
    shared[integer] = np.rint(shared[integer])
    return Solution(
        inputs=inputs,
        block=block,
        batches=shared[block.batches].astype(np.int64),
        bought=shared[block.buy],
        shared=shared,
        columns=np.maximum(x[first:].reshape(inputs.draws, -1), 0.0),
        status=OPTIMAL if proved else FEASIBLE_AT_LIMIT,
        cost=cost - shift + layout.constant,
        bound=bound - shift + layout.constant,
        worth=worth,
        gap=share,
        seconds=time.perf_counter() - began,
        message=message,
    )


def cost_of_nothing(block: Block, layout: Layout) -> float:
    """Return the cost (without constant) of the best plan that puts nothing up."""
    shared, own = len(block.shared_cost), len(block.cost)
    upper = layout.upper.copy()
    none = block.put_up[block.put_up >= 0]
    draws = (len(layout.cost) - shared) // own
    for draw in range(draws):
        upper[shared + draw * own + none] = 0.0
    loose = layout
    if (layout.limit[: len(block.shared_limit)] < 0).any():
        # Batches that must be done stand in the way of doing nothing: leave the shared rows out.
        top = len(block.shared_limit)
        loose = Layout(
            cost=layout.cost,
            upper=layout.upper,
            rows=layout.rows[top:],
            limit=layout.limit[top:],
            equal=layout.equal[top:],
            constant=layout.constant,
        )
    upper[block.batches.ravel()] = 0.0
    result = minimise(loose, upper=upper)
    if result.x is None:
        raise PlanError(f"the solver failed on the plan that puts up nothing: {result.message}")
    return float(layout.cost @ result.x)


def _rounded_down(layout: Layout, block: Block, shift: float) -> tuple[FloatArray, float]:
    relaxed = minimise(layout, shift=shift)
    if relaxed.x is None:
        raise PlanError(f"the solver failed on the relaxed plan: {relaxed.message}")
    integer = block.batches.ravel()
    whole = np.floor(relaxed.x[integer] + 1e-6)
    # Fewer batches always fit, and batches may be filled less than full.
    result = minimise(layout, fixed=dict(zip(integer.tolist(), whole, strict=True)), shift=shift)
    if result.x is None:
        raise PlanError(f"the solver failed on the rounded plan: {result.message}")
    return result.x, float(relaxed.fun)
