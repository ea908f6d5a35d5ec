"""What lies in the refrigerator, on the counter and in the cellar when the plan begins.

It is worked out from the log: recent picks, less what the household usually eats fresh each day,
less what the books say was put up, given, fed or thrown out, oldest fruit first. Where the kitchen
book holds a count, that is what lay there on that evening, and only the days since are worked out.
Fruit older than it keeps is gone. Oversize fruit is kept apart; damaged fruit is not counted on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.log.series import gather
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.book import line_order, produce_events, used_kg
from harvestcast.kitchen.household.demand import fresh_use
from harvestcast.kitchen.household.pantry import pantry_book
from harvestcast.kitchen.solve.inputs import ON_HAND

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


GRADES = ("good", "oversize")

LONGEST_DAYS = 300
"""Picks older than this are never counted as on hand."""


def picks_by_day(garden: Garden, as_of: pd.Timestamp) -> pd.DataFrame:
    """Return picks up to a day in kg, counts turned to kg by the variety's fruit weight.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : pandas.Timestamp
        Last day that counts.

    Returns
    -------
    pandas.DataFrame
        Columns date, crop, grade, mass_kg, one row a day, crop and grade.
    """
    picks = garden.picks
    recent = as_of - pd.Timedelta(days=LONGEST_DAYS)
    picks = picks[(picks["date"] <= as_of) & (picks["date"] > recent)]
    fruit = {(s.crop, s.variety): s.fruit_kg for s in gather(garden, as_of).series}
    weight = [
        fruit.get((str(crop), str(variety)), crop_facts(str(crop), garden.household).fruit_kg)
        for crop, variety in zip(picks["crop"], picks["variety"], strict=True)
    ]
    mass = picks["mass_kg"].to_numpy(float)
    mass = np.where(np.isnan(mass), picks["count"].to_numpy(float) * np.array(weight), mass)
    table = picks[["date", "crop", "grade"]].assign(mass_kg=np.nan_to_num(mass))
    return table.groupby(["date", "crop", "grade"])["mass_kg"].sum().reset_index()


def put_up_by_day(garden: Garden, as_of: pd.Timestamp) -> pd.DataFrame:
    """Return produce put up according to the pantry book.

    Returns
    -------
    pandas.DataFrame
        Columns date, order (place within the day), crop, mass_kg. Where the book does not say how
        much produce was used, the handbook's amount a jar is taken; a product without one counts
        as nothing.
    """
    rows = [
        (row["date"], line_order(row), product(str(row["product"])).crop, used_kg(row))
        for row in pantry_book(garden, as_of).to_dict("records")
        if row["jars"] > 0
    ]
    return pd.DataFrame(rows, columns=["date", "order", "crop", "mass_kg"])


def on_hand(garden: Garden, as_of: pd.Timestamp, fresh: pd.DataFrame) -> pd.DataFrame:
    """Work out what is on hand on the evening of a day.

    Parameters
    ----------
    garden : Garden
        The garden folder: picks and pantry book up to ``as_of`` are read.
    as_of : pandas.Timestamp
        The day.
    fresh : pandas.DataFrame
        Table FRESH of every crop that may be on hand.

    Returns
    -------
    pandas.DataFrame
        Table :data:`harvestcast.kitchen.solve.inputs.ON_HAND`.
    """
    picks, put_up = picks_by_day(garden, as_of), put_up_by_day(garden, as_of)
    events = produce_events(garden, as_of)
    bought = events.loc[events["what"] == "bought"].assign(grade="good")
    picks = _joined(picks, bought[["date", "crop", "grade", "mass_kg"]])
    gone = _joined(put_up, events.loc[events["what"] == "gone", list(put_up)])
    counts = {
        str(row["crop"]): row for row in events.to_dict("records") if row["what"] == "counted"
    }
    rows = []
    for row in fresh.to_dict("records"):
        crop = str(row["crop"])
        ripen, keep = int(np.ceil(row["ripen_days"])), int(np.floor(row["keep_days"]))
        span = min(ripen + keep + 1, LONGEST_DAYS)
        days = pd.date_range(as_of - pd.Timedelta(days=span - 1), as_of)
        mine = picks[picks["crop"] == crop]
        lying = np.stack([_by_day(mine[mine["grade"] == grade], days) for grade in GRADES])
        used = gone[gone["crop"] == crop]
        count: tuple[int, float] | None = None
        at = counts.get(crop)
        if at is not None and at["date"] >= days[0]:
            after = (used["date"] > at["date"]) | (used["order"] > at["order"])
            used = used[after & (used["date"] >= at["date"])]
            count = (int((at["date"] - days[0]).days), float(at["mass_kg"]))
        eaten = float(row["eat_kg_day"])
        left = _lived_on(lying, _by_day(used, days), eaten, ripen, keep, count)
        rows += [
            (day, crop, grade, kg)
            for grade, amounts_left in zip(GRADES, left, strict=True)
            for day, kg in zip(days, amounts_left, strict=True)
            if kg > 1e-6
        ]
    table = pd.DataFrame(rows, columns=["date", "crop", "grade", "mass_kg"])
    return frames.check_frame(table, ON_HAND) if rows else ON_HAND.empty()


def counted_lately(garden: Garden, as_of: pd.Timestamp) -> dict[str, pd.Timestamp]:
    """Return the crops whose produce was counted within the days that it keeps, and when last."""
    events = produce_events(garden, as_of)
    last = events.loc[events["what"] == "counted"].groupby("crop")["date"].max()
    fresh = fresh_use(garden, [str(crop) for crop in last.index])
    lasts = dict(zip(fresh["crop"], fresh["keep_days"] + fresh["ripen_days"], strict=True))
    return {str(crop): day for crop, day in last.items() if (as_of - day).days <= lasts[str(crop)]}


def _joined(one: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    # Without empty tables: pandas is to say nothing of their types.
    return pd.concat([one, other]) if len(one) and len(other) else one if len(one) else other


def _by_day(table: pd.DataFrame, days: pd.DatetimeIndex) -> Array:
    totals = table.groupby("date")["mass_kg"].sum()
    return totals.reindex(days, fill_value=0.0).to_numpy(float)


def _lived_on(
    picked: Array,
    gone: Array,
    eaten: float,
    ripen: int,
    keep: int,
    count: tuple[int, float] | None = None,
) -> Array:
    """Live through the days; return what is left of each pick day, shape (grades, days).

    ``count`` is the number of a day and what lay there on its evening, kg.
    """
    left = np.zeros_like(picked)
    for today in range(picked.shape[1]):
        left[:, today] = picked[:, today]
        counted = count is not None and today == count[0]
        if count is not None and counted:
            left[:, : today + 1] = _as_counted(picked[:, : today + 1], count[1], ripen + keep)
        oldest, ripe = max(0, today - ripen - keep), today - ripen + 1
        takes = ((gone[today], (0, 1)), (0.0 if counted else eaten, (0,)))
        for wanted, grades in takes:
            for pick in range(oldest, max(oldest, ripe)):
                for grade in grades:
                    take = min(wanted, left[grade, pick])
                    left[grade, pick] -= take
                    wanted -= take
        # What could last be used today is gone tomorrow.
        left[:, : max(0, today - ripen - keep + 1)] = 0.0
    return left


def _as_counted(picked: Array, kg: float, lasts: int) -> Array:
    """Return what was counted by the day of its pick: the latest picks, as the oldest go first.

    What no pick accounts for is taken as half way through its life, so that nothing is planned
    with it that asks for fruit of the day.
    """
    left = np.zeros_like(picked)
    for pick in range(picked.shape[1] - 1, -1, -1):
        for grade in range(picked.shape[0]):
            left[grade, pick] = min(kg, picked[grade, pick])
            kg -= left[grade, pick]
    left[0, max(0, picked.shape[1] - 1 - lasts // 2)] += kg
    return left
