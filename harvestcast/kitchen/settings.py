"""Settings that only the kitchen can judge: products in the targets, canners without elevation."""

from __future__ import annotations

from harvestcast.errors import InputError, Problem
from harvestcast.kitchen.demand import targets
from harvestcast.records.household import Household


def settings_problems(household: Household) -> tuple[Problem, ...]:
    """Return what no week could be planned with, before a plan is asked for.

    Parameters
    ----------
    household : Household
        Settings that read clean.

    Returns
    -------
    tuple of Problem
        Empty where the kitchen has nothing to say.

    Examples
    --------
    >>> [problem.value for problem in settings_problems(Household(targets={"unicorn": 3}))]
    ['unicorn']
    """
    problems: list[Problem] = []
    try:
        targets(household)
    except InputError as error:
        problems.extend(error.problems)
    canners = [piece for piece in household.equipment if piece.kind.endswith("canner")]
    if canners and household.elevation_m is None:
        problems.append(
            Problem(
                file="garden.toml",
                column="elevation_m",
                rule="there is a canner but no elevation, and no canning time is shown without one",
                cure="Add elevation_m (or elevation_ft), or take the canner out",
            )
        )
    return tuple(problems)
