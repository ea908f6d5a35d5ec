"""What the kitchen cannot take, crop by crop and week by week, over the forecast's draws."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.kitchen.block import build_block, fruit_of
from harvestcast.kitchen.inputs import ProgrammeInputs, with_spans
from harvestcast.kitchen.recover import flows
from harvestcast.kitchen.solver import Solution, lay_out, minimise

BEATS_KG = 0.05
"""Surplus of a week from which it counts as beating capacity, kg."""


def surplus_of(inputs: ProgrammeInputs, *, weeks: int, decided: Solution) -> pd.DataFrame:
    """Return the surplus per crop and week.

    Surplus is what spoils although the kitchen does the best it can with each future known in
    advance: batches are not rounded, and later days are taken together. So it is the least that
    will be left over; planning without hindsight leaves a little more.

    Parameters
    ----------
    inputs : ProgrammeInputs
        Inputs over all weeks of the forecast.
    weeks : int
        Weeks to report.
    decided : Solution
        The week's plan, whose own spoilage counts in the first days.

    Returns
    -------
    pandas.DataFrame
        Table SURPLUS.
    """
    spans = with_spans(inputs, (1, 1, 1, 1, 1, 1, 1, 7))
    block = build_block(spans)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    layout = lay_out(block, fruit_of(spans), spans.weights, saves)
    result = minimise(layout)
    shared = len(block.shared_cost)
    relaxed = Solution(
        inputs=spans,
        block=block,
        batches=np.zeros(block.batches.shape, dtype=np.int64),
        bought=result.x[block.buy],
        columns=np.maximum(result.x[shared:].reshape(spans.draws, -1), 0.0),
        status="RELAXED",
        cost=float(result.fun),
        bound=float(result.fun),
        worth=float("nan"),
        gap=0.0,
        seconds=0.0,
        message="",
    )
    spoiled = flows(relaxed).spoiled
    start = inputs.capacity.start
    rows = []
    for c, crop in enumerate(inputs.crops):
        for week in range(weeks):
            kg = spoiled[:, 7 * week : 7 * week + 7, c].sum(axis=1)
            first = start + pd.Timedelta(days=7 * week)
            quantiles = np.quantile(kg, frames.QUANTILES)
            rows.append(
                {
                    "crop": crop,
                    "week": week + 1,
                    "start": first,
                    "end": first + pd.Timedelta(days=6),
                    "mean_kg": kg.mean(),
                    **dict(zip(frames.quantile_columns("kg"), quantiles, strict=True)),
                    "p_beats_capacity": float((kg > BEATS_KG).mean()),
                }
            )
    return frames.check_frame(pd.DataFrame(rows, columns=frames.SURPLUS.names), frames.SURPLUS)
