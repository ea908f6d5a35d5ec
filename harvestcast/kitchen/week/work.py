"""The plan as work: one row a day and way of putting up."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Flags, Index
from harvestcast.kitchen.handbook.conditions import COLUMNS as CONDITIONS
from harvestcast.kitchen.solve.follow import Followed
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.week.balance import Account

LEAST_BATCHES = 0.1
"""Later days: a way that comes to less than this, in the mean over draws, is not shown."""

LEAST_JARS, LEAST_FILLED = 0.5, 0.5
"""A batch that may fill fewer jars than this is begun only if enough comes in: as much as fills
this share of it."""

RANGE = (0.1, 0.9)
"""Of a decided batch: what it fills eight times in ten lies between these shares of the draws."""

_COPIED = (
    "crop", "product", "label", "method", "jar", "equipment", "source", *CONDITIONS.values(),
)  # fmt: skip


def batch_frame(followed: Followed, account: Account, batches: Index) -> pd.DataFrame:
    """Return the batches of a plan.

    Parameters
    ----------
    followed, account : Followed, Account
        The plan followed day by day, and where its fruit went.
    batches : numpy.ndarray
        Whole batches of the decided days, shape (decided, options).

    Returns
    -------
    pandas.DataFrame
        Table BATCHES. On decided days whole batches, with the mean over draws of what goes into
        them and the range of what they fill; what is laid up
        loose by the kg; a batch that stays empty in a future of ten is no
        decision, and has in ``if_kg`` what must come in for it. On later days means over draws, to
        one decimal, as an outlook only.
    """
    inputs, plan = followed.inputs, followed.plan
    rows = []
    for day, date in enumerate(inputs.capacity.dates):
        decided = day < inputs.decided
        for number, option in enumerate(inputs.options.to_dict("records")):
            columns = plan.put_up[0, day, number]
            used = account.used[:, columns[columns >= 0]].sum(axis=1)
            kg = float(inputs.weights @ used)
            loads = kg / option["kg_per_batch"]
            loose = option["method"] == "keeping"  # laid up as it comes, by the kg
            whole = decided and not loose
            count = float(batches[day, number]) if whole else round(loads, 1)
            if count < (1 if whole else LEAST_BATCHES):
                continue
            if loose:  # a way to the store, and no work in the kitchen
                count = 1.0 if decided else count
            filled = used / option["kg_per_batch"] * option["jars_per_batch"]
            low, high = np.quantile(filled, RANGE, method="inverted_cdf")
            if_kg = np.nan
            if whole and low < LEAST_JARS:
                crop = inputs.crops.index(str(option["crop"]))
                if_kg = _needed(inputs, day, crop, used >= LEAST_FILLED * option["kg_per_batch"])
            rows.append(
                {
                    **{name: option[name] for name in _COPIED},
                    "day": date,
                    "batches": count,
                    "mass_kg": kg,
                    "jars": loads * option["jars_per_batch"],
                    "jars_low": float(low) if decided else np.nan,
                    "jars_high": float(high) if decided else np.nan,
                    "hands_on_h": 0.0
                    if loose
                    else (count if whole else loads) * option["hands_on_h"],
                    "equipment_h": (count if whole else loads) * option["equipment_h"],
                    "best_by": date + pd.Timedelta(days=float(option["best_by_days"])),
                    "decided": decided and np.isnan(if_kg),
                    "if_kg": if_kg,
                    "since": pd.NaT,
                    "reason": pd.NA,
                    "code": pd.NA,
                    "facts": {},
                }
            )
    if not rows:
        return frames.BATCHES.empty()
    table = frames.check_frame(pd.DataFrame(rows), frames.BATCHES)
    return table.sort_values(["day", "crop", "product", "jar"], kind="stable").reset_index(
        drop=True
    )


def _needed(inputs: ProgrammeInputs, day: int, crop: int, filled: Flags) -> float:
    """Return what must be picked of a crop up to a day for a batch to be begun, kg."""
    lanes = inputs.lane_crop == crop
    comes = inputs.picked[:, : day + 1, lanes].sum(axis=(1, 2))
    return float(np.quantile(comes[filled], RANGE[0]) if filled.any() else comes.max())
