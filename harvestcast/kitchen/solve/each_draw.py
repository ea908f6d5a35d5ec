"""One draw's programme with the shared columns held: what it costs, and what they are worth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse
from scipy.optimize import linprog

from harvestcast.arrays import Array, Index
from harvestcast.errors import PlanError
from harvestcast.kitchen.solve.block import Block

_linprog: Any = linprog  # its stubs know neither sparse rows nor marginals

_HAIR = 1e-9
"""Rounding in a solved plan may leave a limit a hair below what is held fixed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EachDraw:
    """The rows and columns of every draw, ready to be solved one draw at a time.

    Parameters
    ----------
    block : Block
        Rows and columns of one draw.
    limits, fills : numpy.ndarray
        Of each draw: its rows' limits with nothing begun, shape (draws, rows), and kg that a
        decided batch can hold, shape (draws, decided x options).
    cost, bounds : numpy.ndarray
        Of the draw's own columns, then of the shared columns chosen anew in each draw; shapes
        (columns,) and (columns, 2).
    at_most, exactly : csc_array
        Rows that bound from above and rows that hold exactly (None where there are none).
    """

    block: Block
    limits: Array
    fills: Array
    cost: Array
    bounds: Array
    at_most: sparse.csc_array
    exactly: sparse.csc_array | None

    @property
    def draws(self) -> int:
        """Number of draws."""
        return len(self.limits)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawAnswer:
    """One draw solved.

    Parameters
    ----------
    cost : float
        Points of the draw's own columns.
    columns : numpy.ndarray
        The draw's own columns, shape (columns,).
    price : numpy.ndarray
        Points by which the cost moves with each row's limit, shape (rows,).
    full : float
        Points that columns at their upper bounds bring beside that.
    """

    cost: float
    columns: Array
    price: Array
    full: float


def each_draw(block: Block, fruit: Array, free: Index | None = None) -> EachDraw:
    """Make the draws ready.

    Parameters
    ----------
    block : Block
        Rows and columns of one draw.
    fruit : numpy.ndarray
        What the rows know of each draw's fruit, shape (draws, features).
    free : numpy.ndarray, optional
        Shared columns that are chosen anew in each draw, at their own price.

    Returns
    -------
    EachDraw
    """
    again = np.zeros(0, dtype=np.int64) if free is None else free
    rows = sparse.csr_array(sparse.hstack([block.rows, block.link[:, again]]))
    upper = np.concatenate([block.upper, np.full(len(again), np.inf)])
    return EachDraw(
        block=block,
        limits=np.asarray(block.limit[None, :] + fruit @ block.fruit.T),
        fills=np.minimum(block.fill_kg, fruit @ block.fill_fruit.T),
        cost=np.concatenate([block.cost, block.shared_cost[again]]),
        bounds=np.stack([np.zeros(len(upper)), upper], axis=1),
        at_most=sparse.csc_array(rows[~block.equal]),
        exactly=sparse.csc_array(rows[block.equal]) if block.equal.any() else None,
    )


def part_of(each: EachDraw, draws: Index) -> EachDraw:
    """Return some of the draws."""
    return replace(each, limits=each.limits[draws], fills=each.fills[draws])


def solve_draw(each: EachDraw, draw: int, shared: Array) -> DrawAnswer:
    """Do the best for one draw with the shared columns held.

    Parameters
    ----------
    each : EachDraw
        The draws.
    draw : int
        Number of the draw.
    shared : numpy.ndarray
        Shared columns, shape (shared columns,); those chosen anew must be 0.

    Returns
    -------
    DrawAnswer

    Raises
    ------
    PlanError
        Where the solver fails.
    """
    block, whole = each.block, each.block.batches.ravel()
    limit = each.limits[draw] - block.link @ shared
    limit[block.fill_rows] += each.fills[draw] * shared[whole]
    result = _linprog(
        each.cost,
        A_ub=each.at_most,
        b_ub=limit[~block.equal] + _HAIR,
        A_eq=each.exactly,
        b_eq=None if each.exactly is None else limit[block.equal],
        bounds=each.bounds,
        method="highs-ds",
    )
    if result.x is None or result.status != 0:
        raise PlanError(f"the plan could not be followed in draw {draw}: {result.message}")
    price = np.zeros(len(limit))
    price[~block.equal] = result.ineqlin.marginals
    if each.exactly is not None:
        price[block.equal] = result.eqlin.marginals
    upper = np.where(np.isfinite(each.bounds[:, 1]), each.bounds[:, 1], 0.0)
    return DrawAnswer(
        cost=float(result.fun),
        columns=np.maximum(result.x[: len(block.cost)], 0.0),
        price=price,
        full=float(result.upper.marginals @ upper),
    )


def bounds_from(each: EachDraw, prices: Array, full: Array) -> tuple[Array, Array]:
    """Return lower bounds of every draw's cost from the prices of some draws' answers.

    All draws have the same columns and rows and differ only in limits and in what a batch can
    hold, so the prices found in one draw bound every other draw as well.

    Parameters
    ----------
    each : EachDraw
        The draws.
    prices, full : numpy.ndarray
        Of the answers, shapes (answers, rows) and (answers,).

    Returns
    -------
    constant : numpy.ndarray
        Shape (answers, draws).
    slope : numpy.ndarray
        Shape (answers, draws, shared columns): any plan costs a draw at least
        ``constant + slope @ shared``.
    """
    block, whole = each.block, each.block.batches.ravel()
    constant = prices @ each.limits.T + full[:, None]
    common = -np.asarray((block.link.T @ prices.T).T)
    slope = np.repeat(common[:, None, :], each.draws, axis=1)
    slope[:, :, whole] += prices[:, None, block.fill_rows] * each.fills[None]
    return constant, slope
