"""The plan as work: one row a day and way of putting up."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Index
from harvestcast.kitchen.handbook.conditions import COLUMNS as CONDITIONS
from harvestcast.kitchen.solve.follow import Followed
from harvestcast.kitchen.week.balance import Account

LEAST_BATCHES = 0.1
"""Later days: a way that comes to less than this, in the mean over draws, is not shown."""

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
        them and the range of what they fill; on later days means over draws, to one decimal, as
        an outlook only.
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
            count = float(batches[day, number]) if decided else round(loads, 1)
            if count < (1 if decided else LEAST_BATCHES):
                continue
            filled = used / option["kg_per_batch"] * option["jars_per_batch"]
            low, high = np.quantile(filled, RANGE, method="inverted_cdf")
            rows.append(
                {
                    **{name: option[name] for name in _COPIED},
                    "day": date,
                    "batches": count,
                    "mass_kg": kg,
                    "jars": loads * option["jars_per_batch"],
                    "jars_low": float(low) if decided else np.nan,
                    "jars_high": float(high) if decided else np.nan,
                    "hands_on_h": (count if decided else loads) * option["hands_on_h"],
                    "equipment_h": (count if decided else loads) * option["equipment_h"],
                    "best_by": date + pd.Timedelta(days=float(option["best_by_days"])),
                    "decided": decided,
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
