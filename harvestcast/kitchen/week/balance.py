"""Who used which day's fruit, and the balance of every crop and day.

The programme says how much is used on each day; here each pick day's fruit, oldest first, goes
to the earliest use that accepts it, which serves every use of a solved programme. What no use
takes spoils on the last evening it keeps, or when it is thrown out for want of room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array, Index
from harvestcast.kitchen.solve.follow import Followed

_TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Account:
    """Where the fruit went, kg.

    Parameters
    ----------
    used : numpy.ndarray
        What each column really used, shape (draws, columns); differs from the programme by
        rounding only.
    spoiled : numpy.ndarray
        Spoiled, by the day it is lost, shape (draws, lanes, days).
    surplus : numpy.ndarray
        The same by the day of the pick, shape (draws, lanes, back + days).
    carried : numpy.ndarray
        Left at the end of the last day, unripe fruit included, shape (draws, lanes).
    """

    used: Array
    spoiled: Array
    surplus: Array
    carried: Array


def account_for(followed: Followed) -> Account:
    """Hand out each pick day's fruit and see what is left over.

    Parameters
    ----------
    followed : Followed
        A plan followed through each draw.

    Returns
    -------
    Account
    """
    inputs, plan = followed.inputs, followed.plan
    ready, unripe = inputs.ready()
    back, days, lanes = inputs.back, inputs.days, inputs.lanes
    ends = [last for _, last in inputs.spans] + [days]
    used = np.zeros_like(followed.columns)
    spoiled = np.zeros((inputs.draws, lanes, days))
    surplus = np.zeros((inputs.draws, lanes, back + days))
    carried = unripe.copy()
    for lane in range(lanes):
        crop = int(inputs.lane_crop[lane])
        uses = [
            (ends[span], int(first), int(column))
            for column, its_lane, span, first in zip(
                plan.uses.column[0], plan.uses.lane, plan.uses.span, plan.uses.first, strict=True
            )
            if its_lane == lane
        ]
        thrown = {int(c): span for span, c in enumerate(plan.discard[0, :, lane]) if c >= 0}
        uses += [(ends[span], 0, column) for column, span in thrown.items()]
        uses.sort()
        wants = {column: followed.columns[:, column].copy() for _, _, column in uses}
        keep, shift = int(inputs.keep[crop]), int(inputs.ripen[crop])
        for slot in range(back + days):
            left = ready[:, lane, slot].copy()
            if not left.any():
                continue
            picked_on = max(0, slot - shift)
            for end, first, column in uses:
                if first <= slot <= back + end and wants[column].any():
                    take = np.minimum(left, wants[column])
                    left -= take
                    wants[column] -= take
                    used[:, column] += take
                    if column in thrown:
                        spoiled[:, lane, end] += take
                        surplus[:, lane, picked_on] += take
            lost = min(slot - back + keep, days - 1)
            spoiled[:, lane, max(lost, 0)] += left
            surplus[:, lane, picked_on] += left
        carried[:, lane] += used[:, plan.carry[0, lane]]
    return Account(used=used, spoiled=spoiled, surplus=surplus, carried=carried)


def _total(values: Array, columns: Index) -> Array:
    """Sum columns (-1: none) over all axes of ``columns`` but the first; shape (draws, first)."""
    flat = columns.reshape(columns.shape[0], -1)
    return np.stack([values[:, row[row >= 0]].sum(axis=1) for row in flat], axis=1)


def balance_frame(followed: Followed, account: Account) -> pd.DataFrame:
    """Return the balance of every crop and day, means over draws.

    Parameters
    ----------
    followed, account : Followed, Account
        A plan followed day by day (every span one day), and where its fruit went.

    Returns
    -------
    pandas.DataFrame
        Table BALANCE: on every row what comes in equals what goes out.
    """
    inputs, plan = followed.inputs, followed.plan
    weights, dates = inputs.weights, inputs.capacity.dates
    rows = []
    options = np.array([inputs.crops.index(c) for c in inputs.options["crop"].astype(str)])
    for number, crop in enumerate(inputs.crops):
        lanes = np.flatnonzero(inputs.lane_crop == number)
        mean = {
            "picked": weights @ inputs.picked[:, :, lanes].sum(axis=2),
            "eaten": weights @ _total(account.used, plan.eat[0, :, number]),
            "put_up": weights @ _total(account.used, plan.put_up[0][:, options == number]),
            "given": weights
            @ (
                _total(account.used, plan.give[0, :, number])
                + _total(account.used, plan.animals[0, :, number])
            ),
            "spoiled": weights @ account.spoiled[:, lanes].sum(axis=1),
        }
        carried = float(inputs.stock[lanes].sum())
        for t, date in enumerate(dates):
            row = {name: float(values[t]) for name, values in mean.items()}
            out = row["eaten"] + row["put_up"] + row["given"] + row["spoiled"]
            left = carried + row["picked"] - out
            left = 0.0 if abs(left) < _TINY else left
            rows.append({"day": date, "crop": crop, "carried_in": carried, **row,
                         "carried_out": left})  # fmt: skip
            carried = left
    if not rows:
        return frames.BALANCE.empty()
    table = pd.DataFrame(rows).sort_values(["day", "crop"], kind="stable")
    return frames.check_frame(table, frames.BALANCE)
