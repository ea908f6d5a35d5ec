"""What lies in the refrigerator, on the counter and in the cellar when the plan begins.

Nobody counts that, so it is worked out from the log: recent picks, less what the household
usually eats fresh each day, less what the pantry book says was put up, oldest fruit first. Fruit
older than it keeps is gone. Oversize fruit is kept apart; damaged fruit is not counted on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.log.series import gather
from harvestcast.kitchen.handbook.amounts import amounts
from harvestcast.kitchen.handbook.products import product
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
        Columns date, crop, mass_kg. Where the book does not say how much produce was used, the
        handbook's amount a jar is taken; a product without one counts as nothing.
    """
    rows = []
    for row in pantry_book(garden, as_of).to_dict("records"):
        if row["jars"] <= 0:
            continue
        item = product(str(row["product"]))
        kg = float(row["produce_kg"])
        if np.isnan(kg):
            known = amounts(item, item.usual_jar)
            kg = 0.0 if known is None else float(row["counted"]) * known.kg_per_jar
        rows.append((row["date"], item.crop, kg))
    return pd.DataFrame(rows, columns=["date", "crop", "mass_kg"])


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
    rows = []
    for row in fresh.to_dict("records"):
        crop = str(row["crop"])
        ripen, keep = int(np.ceil(row["ripen_days"])), int(np.floor(row["keep_days"]))
        span = min(ripen + keep + 1, LONGEST_DAYS)
        days = pd.date_range(as_of - pd.Timedelta(days=span - 1), as_of)
        mine = picks[picks["crop"] == crop]
        lying = np.stack([_by_day(mine[mine["grade"] == grade], days) for grade in GRADES])
        used = _by_day(put_up[put_up["crop"] == crop], days)
        left = _lived_on(lying, used, float(row["eat_kg_day"]), ripen, keep)
        rows += [
            (day, crop, grade, kg)
            for grade, amounts_left in zip(GRADES, left, strict=True)
            for day, kg in zip(days, amounts_left, strict=True)
            if kg > 1e-6
        ]
    table = pd.DataFrame(rows, columns=["date", "crop", "grade", "mass_kg"])
    return frames.check_frame(table, ON_HAND) if rows else ON_HAND.empty()


def _by_day(table: pd.DataFrame, days: pd.DatetimeIndex) -> Array:
    totals = table.groupby("date")["mass_kg"].sum()
    return totals.reindex(days, fill_value=0.0).to_numpy(float)


def _lived_on(picked: Array, put_up: Array, eaten: float, ripen: int, keep: int) -> Array:
    """Live through the days; return what is left of each pick day, shape (grades, days)."""
    left = np.zeros_like(picked)
    for today in range(picked.shape[1]):
        left[:, today] = picked[:, today]
        oldest, ripe = max(0, today - ripen - keep), today - ripen + 1
        for wanted, grades in ((put_up[today], (0, 1)), (eaten, (0,))):
            for pick in range(oldest, max(oldest, ripe)):
                for grade in grades:
                    take = min(wanted, left[grade, pick])
                    left[grade, pick] -= take
                    wanted -= take
        # What could last be used today is gone tomorrow.
        left[:, : max(0, today - ripen - keep + 1)] = 0.0
    return left
