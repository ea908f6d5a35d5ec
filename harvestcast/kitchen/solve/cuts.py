"""Find the best whole batches by asking the draws one at a time what a plan is worth to them.

The programme over all draws together is large, but only its few shared columns are whole
numbers, and given those every draw is a small programme of its own. So a small *master* chooses
the shared columns against lower bounds ("cuts") of what each draw will cost, each draw answers
with its true cost and a new bound, and so on until the master's bound and the best plan found
meet. The bounds come from the draws' dual prices and hold for every plan, so the gap is proved.

References
----------
Van Slyke and Wets, L-shaped linear programs with applications to optimal control and stochastic
programming, *SIAM J. Appl. Math.* 17 (1969), doi:10.1137/0117061; one bound a draw: Birge and
Louveaux, A multicut algorithm for two-stage stochastic linear programs, *Eur. J. Oper. Res.* 34
(1988), doi:10.1016/0377-2217(88)90159-2 (both from memory; what they find is compared in the
tests with the programme written out at once, with brute force and with a second solver).
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from harvestcast.arrays import Array
from harvestcast.errors import PlanError
from harvestcast.kitchen.solve.block import Block
from harvestcast.kitchen.solve.each_draw import EachDraw, bounds_from, part_of, solve_draw
from harvestcast.kitchen.solve.layout import Layout, minimise

MOST_ROUNDS = 100
"""Rounds of master and draws after which the search gives up proving."""

MASTER_NODES = 20_000
"""Nodes of the master's search tree in one round."""

SOLVER_POINTS = 1e-6
"""Points below which the solver itself cannot tell two costs apart (HiGHS, mip_abs_gap)."""

MANY_DRAWS = 40
"""With more draws than this a part of them is searched first: every ``PART``-th."""

PART = 4

LATE = 3.0
"""HiGHS reads the clock on the wall; it gets this many times the processor's time left."""

_MASTER_SHARE = 0.2
"""Part of the gap asked for that the master may leave open in a round."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What a search found.

    Parameters
    ----------
    shared : numpy.ndarray
        Shared columns of the best plan, shape (shared columns,).
    columns : numpy.ndarray
        Each draw's columns, shape (draws, columns).
    cost, bound : float
        Its expected cost in points, and the least any plan could cost.
    visited, visited_cost : numpy.ndarray
        Every plan asked about, shape (plans, shared columns), and its cost.
    ended : str
        ``proved``, ``rounds`` or ``time``.
    """

    shared: Array
    columns: Array
    cost: float
    bound: float
    visited: Array
    visited_cost: Array
    ended: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """What is asked for.

    Parameters
    ----------
    block : Block
        Rows and columns.
    idle, least : float
        Expected cost of putting nothing up, and points added to a plan's worth before the gap is
        taken.
    gap : float
        Share of the worth within which the best plan must be proved.
    floor : numpy.ndarray
        Points that no plan can bring each draw's cost below, shape (draws,).
    until : float
        Reading of ``time.process_time`` after which no new round is begun: the processor's time, so
        that a busy machine finds the same plan.
    """

    block: Block
    idle: float
    least: float
    gap: float
    floor: Array
    until: float


@dataclass(slots=True)
class _Cuts:
    """Lower bounds of weighted costs while they are gathered; lives only inside a search."""

    draw: list[int] = field(default_factory=list)
    constant: list[float] = field(default_factory=list)
    slope: list[Array] = field(default_factory=list)
    prices: list[Array] = field(default_factory=list)
    full: list[float] = field(default_factory=list)

    def add(self, draw: int, constant: float, slope: Array) -> None:
        """Write one bound down."""
        self.draw.append(draw)
        self.constant.append(constant)
        self.slope.append(slope)


def at_once(question: Question, layout: Layout) -> Found | None:
    """Solve the programme written out over all draws: best where there are few.

    Parameters
    ----------
    question : Question
        What is asked for.
    layout : Layout
        The programme.

    Returns
    -------
    Found or None
        None where nothing was proved in time.

    Raises
    ------
    PlanError
        Where the solver fails.
    """
    block = question.block
    batches = block.batches.ravel()
    shift = -question.idle - question.least
    result = minimise(
        layout,
        integer=batches,
        shift=shift,
        gap=question.gap,
        time_limit_s=max(0.0, LATE * (question.until - time.process_time())),
    )
    if result.status == 1:
        return None
    if result.x is None:
        raise PlanError(f"the solver failed on the plan: {result.message}")
    first = len(block.shared_cost)
    shared = np.maximum(result.x[:first], 0.0)
    shared[batches] = np.rint(shared[batches])
    cost = float(layout.cost @ result.x)
    # With nothing to put up there is nothing whole to choose, and no bound beside the cost.
    below = cost if result.mip_dual_bound is None else float(result.mip_dual_bound) - shift
    return Found(
        shared=shared,
        columns=np.maximum(result.x[first:].reshape(-1, len(block.cost)), 0.0),
        cost=cost,
        bound=min(cost, below),
        visited=shared[None],
        visited_cost=np.array([cost]),
        ended="proved",
    )


def search(question: Question, each: EachDraw, weights: Array, start: Array) -> Found:
    """Search for the best plan.

    Parameters
    ----------
    question : Question
        What is asked for.
    each : EachDraw
        The draws.
    weights : numpy.ndarray
        Probability of each draw.
    start : numpy.ndarray
        Shared columns of a plan to begin with; it must keep the shared rows.

    Returns
    -------
    Found

    Raises
    ------
    PlanError
        Where the solver fails.

    Notes
    -----
    With many draws every fourth is searched first, and what its answers say about the others is
    where the search over all of them begins.
    """
    cuts, shared = _Cuts(), start
    if each.draws > MANY_DRAWS:
        some = np.arange(PART // 2, each.draws, PART)
        first = replace(question, floor=question.floor[some], gap=PART * question.gap)
        part = _rounds(
            first, part_of(each, some), weights[some] / weights[some].sum(), start, early := _Cuts()
        )
        shared = part.shared
        _hand_over(each, weights, early, part.visited, cuts)
    return _rounds(question, each, weights, shared, cuts)


def _rounds(
    question: Question, each: EachDraw, weights: Array, shared: Array, cuts: _Cuts
) -> Found:
    """Let master and draws answer each other until their bounds meet."""
    best, columns = shared, np.zeros((each.draws, len(each.block.cost)))
    visited: list[Array] = []
    costs: list[float] = []
    bound, ended = -np.inf, "rounds"
    for _ in range(MOST_ROUNDS):
        cost, answers = _ask(each, weights, shared, cuts)
        if not costs or cost < min(costs):
            best, columns = shared, answers
        visited.append(shared)
        costs.append(cost)
        worth = question.idle - min(costs) + question.least
        enough = max(question.gap * worth, SOLVER_POINTS)
        gap = _MASTER_SHARE * enough / max(abs(min(costs)), 1.0)
        following, below = _master(question, weights, cuts, gap)
        bound = max(bound, below)
        if min(costs) - bound <= enough:
            ended = "proved"
            break
        if following is None or time.process_time() > question.until:
            ended = "time"
            break
        shared = following
    return Found(
        shared=best,
        columns=columns,
        cost=min(costs),
        bound=min(bound, min(costs)),
        visited=np.array(visited),
        visited_cost=np.array(costs),
        ended=ended,
    )


def _ask(each: EachDraw, weights: Array, shared: Array, cuts: _Cuts) -> tuple[float, Array]:
    """Ask every draw what a plan costs; write its answers down as cuts."""
    total = float(each.block.shared_cost @ shared)
    columns = np.zeros((each.draws, len(each.block.cost)))
    for draw, weight in enumerate(weights):
        answer = solve_draw(each, draw, shared)
        total += float(weight) * answer.cost
        columns[draw] = answer.columns
        mine = part_of(each, np.array([draw]))
        constant, slope = bounds_from(mine, answer.price[None], np.array([answer.full]))
        cuts.add(draw, float(weight * constant[0, 0]), weight * slope[0, 0])
        cuts.prices.append(answer.price)
        cuts.full.append(answer.full)
    return total, columns


def _hand_over(each: EachDraw, weights: Array, early: _Cuts, visited: Array, cuts: _Cuts) -> None:
    """Bound every draw by the prices that some draws found, the tightest for each plan visited."""
    prices, full = np.array(early.prices), np.array(early.full)
    for draw, weight in enumerate(weights):
        mine = part_of(each, np.array([draw]))
        constant, slope = bounds_from(mine, prices, full)
        points = constant[:, 0, None] + slope[:, 0] @ visited.T
        for number in np.unique(points.argmax(axis=0)):
            cuts.add(draw, float(weight * constant[number, 0]), weight * slope[number, 0])


def _master(
    question: Question, weights: Array, cuts: _Cuts, gap: float
) -> tuple[Array | None, float]:
    """Choose shared columns against the cuts; None where none were found in time.

    Returns
    -------
    shared : numpy.ndarray or None
        Whole batches made whole.
    bound : float
        The least any plan could cost.
    """
    block = question.block
    first, draws, count = len(block.shared_cost), len(weights), len(cuts.draw)
    at = (np.arange(count), np.array(cuts.draw))
    rows = sparse.vstack(
        [
            sparse.hstack(
                [block.shared_rows, sparse.csr_array((block.shared_rows.shape[0], draws))]
            ),
            sparse.hstack(
                [
                    sparse.csr_array(np.array(cuts.slope)),
                    sparse.csr_array((-np.ones(count), at), shape=(count, draws)),
                ]
            ),
        ]
    )
    batches = block.batches.ravel()
    whole = np.zeros(first + draws, dtype=np.int64)
    whole[batches] = 1
    result: Any = milp(
        np.concatenate([block.shared_cost, np.ones(draws)]),
        integrality=whole,
        bounds=Bounds(
            np.concatenate([np.zeros(first), weights * question.floor]),
            np.concatenate([block.shared_upper, np.full(draws, np.inf)]),
        ),
        constraints=LinearConstraint(
            sparse.csc_array(rows),
            -np.inf,
            np.concatenate([block.shared_limit, -np.array(cuts.constant)]),
        ),
        options={
            "mip_rel_gap": gap,
            "node_limit": MASTER_NODES,
            "time_limit": max(5.0, LATE * (question.until - time.process_time())),
        },
    )
    bound = -np.inf if result.mip_dual_bound is None else float(result.mip_dual_bound)
    if result.status == 0 and not batches.size:
        bound = float(result.fun)
    if result.x is None:
        if result.status != 1:
            raise PlanError(f"the solver failed on the batches to begin: {result.message}")
        return None, bound
    shared = np.maximum(result.x[:first], 0.0)
    shared[batches] = np.rint(shared[batches])
    return shared, bound
