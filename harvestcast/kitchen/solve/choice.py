"""Which of several plans to take: each is followed through draws that none of them has seen.

The programme is solved for a few draws, and with few draws chance decides between plans that are
nearly worth the same. So the plans it found best, and the plan on the mean draw, are followed
through many more draws of the outlook, and the one that does best there is taken.

References
----------
Kleywegt, Shapiro and Homem-de-Mello, The sample average approximation method for stochastic
discrete optimization, *SIAM J. Optim.* 12 (2002), doi:10.1137/S1052623499363220 (candidates from
small samples, judged on a larger one); dropping candidates as soon as they are clearly behind:
Maron and Moore, Hoeffding races, *NIPS* 6 (1994) (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Index
from harvestcast.kitchen.solve.block import build_block, fruit_of
from harvestcast.kitchen.solve.each_draw import each_draw, solve_draw
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.solve import Solution, solve_programme

MOST_DRAWS = 240
"""Draws that plans are followed through at most."""

HEAT = 40
"""Draws followed before plans that have fallen behind are dropped."""

MOST_FOUND = 3
"""Plans taken over from the programme, the best first."""

NEAR = 0.02
"""Plans are taken over where the programme finds them worth this share less than its best."""

CRUMB = 0.002
"""A plan is dropped once it can hardly gain this share of the worth."""

ERRORS = 2.0
"""Standard errors allowed in favour of a plan before it is dropped."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """The plan taken.

    Parameters
    ----------
    solution : Solution
        The programme's solution with the batches of the plan taken; status, gap, cost and bound
        stay those of the programme.
    plans : int
        Plans that were compared.
    draws : int
        Draws that the plan taken was followed through.
    cost, cost_error : float
        Its mean cost there in points, and the standard error of that mean.
    gain, gain_error : float
        Points by which it beats the programme's own best plan there, and the standard error;
        both 0 where it is that plan.
    """

    solution: Solution
    plans: int
    draws: int
    cost: float
    cost_error: float
    gain: float
    gain_error: float


def choose_plan(solution: Solution, inputs: ProgrammeInputs) -> Choice:
    """Take the best of the plans that the programme found and of the plan on the mean draw.

    Parameters
    ----------
    solution : Solution
        The programme solved for a few draws.
    inputs : ProgrammeInputs
        The same kitchen with the draws to judge by, each alike, from lean to rich.

    Returns
    -------
    Choice
    """
    mean = replace(inputs, picked=inputs.picked.mean(axis=0, keepdims=True), weights=np.ones(1))
    plans = _apart(
        solution.block.batches,
        np.vstack([_best_found(solution), solve_programme(mean).shared]),
    )
    block, fruit = build_block(inputs), fruit_of(inputs)
    each = each_draw(block, fruit)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    constant = saves * fruit.sum(axis=1)
    number = min(inputs.draws, MOST_DRAWS)
    heats = max(1, number // HEAT)
    order = np.linspace(0, inputs.draws - 1, number).astype(np.int64)
    crumb = CRUMB * max(solution.worth, 0.0)
    cost = np.full((len(plans), number), np.nan)
    alive, done = list(range(len(plans))), np.zeros(0, dtype=np.int64)
    # Each heat runs through lean and rich futures alike.
    for heat in range(heats):
        if len(alive) == 1 and heat > 0:
            break
        mine = np.arange(heat, number, heats)
        for plan in alive:
            held = plans[plan]
            for at in mine:
                draw = int(order[at])
                cost[plan, at] = constant[draw] + solve_draw(each, draw, held).cost
            cost[plan, mine] += float(block.shared_cost @ held)
        done = np.concatenate([done, mine])
        alive = _still_running(cost[:, done], alive, crumb)
    best = min(alive, key=lambda plan: (float(cost[plan, done].mean()), plan))
    taken = plans[best]
    gained = cost[0] - cost[best]
    gained = gained[np.isfinite(gained)]
    return Choice(
        solution=replace(
            solution,
            shared=taken,
            batches=taken[solution.block.batches].astype(np.int64),
            bought=taken[solution.block.buy],
        ),
        plans=len(plans),
        draws=len(done),
        cost=float(cost[best, done].mean()),
        cost_error=_error(cost[best, done]),
        gain=float(gained.mean()),
        gain_error=_error(gained),
    )


def _best_found(solution: Solution) -> Array:
    """Return the plans the programme found nearly as good as its best, the best first."""
    order = np.argsort(solution.visited_cost, kind="stable")
    near = solution.visited_cost[order] <= solution.cost + NEAR * max(solution.worth, 0.0) + 1e-9
    return np.vstack([solution.shared, solution.visited[order[near]]])


def _apart(batches: Index, plans: Array) -> Array:
    """Keep one plan of each choice of batches: the first few, and the last (the mean's)."""
    first: dict[tuple[int, ...], int] = {}
    for number, plan in enumerate(plans):
        first.setdefault(tuple(np.rint(plan[batches.ravel()]).astype(int)), number)
    kept = sorted(first.values())
    last = len(plans) - 1
    if last in kept:
        kept = [*kept[: min(MOST_FOUND, len(kept) - 1)], last]
    return plans[kept[: MOST_FOUND + 1]]


def _still_running(cost: Array, alive: list[int], crumb: float) -> list[int]:
    """Drop plans that, errors in their favour, would still gain next to nothing."""
    leader = min(alive, key=lambda plan: (float(cost[plan].mean()), plan))
    kept = []
    for plan in alive:
        gain = cost[leader] - cost[plan]
        if plan == leader or gain.mean() + ERRORS * _error(gain) > crumb:
            kept.append(plan)
    return kept


def _error(values: Array) -> float:
    """Return the standard error of a mean."""
    return float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else 0.0
