"""What the kitchen cannot take: surplus per crop and week, over many draws."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.week.balance import account_for

BEATEN_KG = 0.1
"""A week beats capacity where more than this much of its picks spoils."""

LATER_SPANS = (4, 3, 4, 3, 4, 3, 4)
"""Days taken together after three decided days: spans end with the weeks."""


def surplus_frame(
    inputs: ProgrammeInputs, shared: Array, as_of: pd.Timestamp, weeks: int
) -> pd.DataFrame:
    """Return the surplus of every crop and week.

    Parameters
    ----------
    inputs : ProgrammeInputs
        Draws over all weeks of the outlook.
    shared : numpy.ndarray
        Shared columns of the plan: its batches are done as decided.
    as_of : pandas.Timestamp
        Last day known; week 1 is the seven days after it.
    weeks : int
        Weeks of the outlook.

    Returns
    -------
    pandas.DataFrame
        Table SURPLUS.

    Notes
    -----
    In each draw the kitchen does the best it can for that draw, at the household's own prices:
    batches as decided on the decided days, part batches as hours and equipment allow later on.
    What then spoils of a week's picks (week 1: also of what was on hand) is that week's surplus
    in that draw. The kitchen knows the draw beforehand here, so this is what will be left over
    whatever it does, and a real season leaves somewhat more. ``p_beats_capacity`` is the share
    of draws in which that is more than a tenth of a kilogram.
    """
    followed = follow(inputs, shared, buy_again=True)
    account = account_for(followed)
    back, rows = inputs.back, []
    for number, crop in enumerate(inputs.crops):
        lost = account.surplus[:, inputs.lane_crop == number].sum(axis=1)
        for week in range(weeks):
            first = 0 if week == 0 else back + 7 * week
            kg = np.clip(lost[:, first : back + 7 * week + 7].sum(axis=1), 0.0, None)
            start = as_of + pd.Timedelta(days=7 * week + 1)
            row = {
                "crop": crop,
                "week": week + 1,
                "start": start,
                "end": start + pd.Timedelta(days=6),
                "mean_kg": float(inputs.weights @ kg),
                "p_beats_capacity": float(inputs.weights @ (kg > BEATEN_KG)),
            }
            levels = np.quantile(kg, frames.QUANTILES)
            row |= dict(zip(frames.quantile_columns("kg"), map(float, levels), strict=True))
            rows.append(row)
    if not rows:
        return frames.SURPLUS.empty()
    table = pd.DataFrame(rows)
    table["p_beats_capacity"] = table["p_beats_capacity"].clip(0.0, 1.0)
    return frames.check_frame(table, frames.SURPLUS)
