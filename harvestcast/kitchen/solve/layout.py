"""The programme over some draws written out at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.arrays import Array, Flags, Index
from harvestcast.errors import PlanError
from harvestcast.kitchen.solve.block import Block


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

    cost: Array
    upper: Array
    rows: sparse.csr_array
    limit: Array
    equal: Flags
    constant: float


def lay_out(block: Block, fruit: Array, weights: Array, saves: float) -> Layout:
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


def _fill(block: Block, fruit: Array) -> sparse.csr_array:
    """Return one draw's coefficients of whole batches in the rows that hold their kg to them."""
    most = np.minimum(block.fill_kg, block.fill_fruit @ fruit)
    where = (block.fill_rows, block.batches.ravel())
    return sparse.csr_array((-most, where), shape=block.link.shape)


def minimise(
    layout: Layout,
    *,
    integer: Index | None = None,
    fixed: dict[int, float] | None = None,
    upper: Array | None = None,
    shift: float = 0.0,
    gap: float = 0.0,
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
