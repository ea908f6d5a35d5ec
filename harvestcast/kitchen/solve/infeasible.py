"""Which limits must give when what must be done does not fit the household's limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from harvestcast.arrays import Array
from harvestcast.errors import InfeasiblePlanError
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.model import week_model
from harvestcast.solver import Solver

_GIVEN_UP = 1e3
"""Price of a batch that must be done and is not, in units of a limit: it comes last."""


def must_batches(inputs: ProgrammeInputs) -> Array:
    """Return the whole batches that must be done, shape (decided, options)."""
    names = list(inputs.options["option"].astype(str))
    least = np.zeros((inputs.decided, len(names)))
    for one in inputs.must:
        place = one.day, names.index(one.option)
        least[place] = max(least[place], float(one.batches))
    return least


def check_must(inputs: ProgrammeInputs) -> None:
    """Check that the batches which must be done fit the household's limits.

    Raises
    ------
    InfeasiblePlanError
        With a sentence for every batch that cannot stand in the plan at all, or for every limit
        that must give.
    """
    _check_sums(inputs)
    if inputs.must and (limits := limits_that_must_give(inputs)):
        asked = ", ".join(
            f"{one.batches} batch(es) of {one.option} on {inputs.capacity.dates[one.day]:%A}"
            for one in inputs.must
        )
        raise InfeasiblePlanError(
            f"What must be done ({asked}) does not fit: " + "; ".join(limits), limits
        )


def _check_sums(inputs: ProgrammeInputs) -> None:
    """Check what can be checked without solving: days, options and whole numbers."""
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


def limits_that_must_give(inputs: ProgrammeInputs) -> list[str]:
    """Find the least set of household limits to stretch so that a plan exists.

    Every limit on what is chosen once for all draws gets a slack, counted in what a household can
    move (an hour, a load); the sum of the slacks is made as small as possible. Only these limits
    can contradict each other: batches may stay unfilled, so those of a draw never do.

    Returns
    -------
    list of str
        Each limit that must give, and by how much; empty where all is well.
    """
    free = inputs.choices.model_copy(update={"hour": 0.0, "bought_jar": 0.0, "bought_lid": 0.0})
    plan = week_model(
        replace(inputs, choices=free, picked=inputs.picked[:0], weights=inputs.weights[:0])
    )
    model, limits = plan.model, plan.model.height
    slack = model.columns(limits, 1.0)
    model.add(np.arange(limits), slack, -1.0)
    least = must_batches(inputs)
    days, options = np.nonzero(least)
    given_up = model.columns(len(days), _GIVEN_UP)
    for day, option in zip(days, options, strict=True):
        name = str(inputs.options["option"].iloc[option])
        asked = (
            f"{least[day, option]:g} batch(es) of {name} on {inputs.capacity.dates[int(day)]:%A}"
        )
        row = model.rows(low=least[day, option], high=np.inf, name=asked)
        model.add(row, plan.batches[day, option], 1.0)
    model.add(limits + np.arange(len(days)), given_up, 1.0)
    moved = Solver(model).solve().x[np.concatenate([slack, given_up])]
    return [
        f"{name} ({'lacks' if number < limits else 'gives up'} {amount:.3g})"
        for number, (name, amount) in enumerate(zip(model.row_names, moved, strict=True))
        if amount > 1e-6
    ]
