"""What lies in the kitchen on the evening before the plan, by the day it was picked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.kitchen.catalogue import match_product, product
from harvestcast.kitchen.inputs import ON_HAND

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

OVERSIZE_PRIOR_KG = 5.0
"""Picks' worth of trust that a crop has no oversize fruit, kg."""


def on_hand(garden: Garden, fresh: pd.DataFrame, as_of: pd.Timestamp) -> pd.DataFrame:
    """Return the fruit still lying there on the evening of a day.

    Nobody writes down what is eaten. So the rule is: picks of the days a crop keeps, oldest
    first, less what the household enjoys fresh each day since, less the produce that the pantry
    log says was put up. A pick with a count and no weight is left out of the fruit on hand;
    damaged fruit is taken as used on the day.

    Parameters
    ----------
    garden : Garden
        The household's log.
    fresh : pandas.DataFrame
        Table FRESH of the crops.
    as_of : Timestamp
        The evening.

    Returns
    -------
    pandas.DataFrame
        Table :data:`harvestcast.kitchen.inputs.ON_HAND`.
    """
    picks, pantry = garden.picks, garden.pantry
    picks = picks[(picks["date"] <= as_of) & (picks["grade"] != "damaged")]
    rows: list[pd.DataFrame] = []
    columns = ("crop", "eat_kg_day", "keep_days", "ripen_days")
    for crop, eaten, keeps, ripens in zip(*(fresh[name] for name in columns), strict=True):
        back = as_of - pd.Timedelta(days=int(keeps + ripens))
        mine = picks[(picks["crop"] == crop) & (picks["date"] > back)]
        lying = mine.groupby(["date", "grade"], as_index=False)["mass_kg"].sum()
        if lying["mass_kg"].sum() <= 0:
            continue
        lying = lying.sort_values(["date", "grade"]).reset_index(drop=True)
        used = _put_up_since(pantry, str(crop), back, as_of)
        days = (as_of - lying["date"].min()).days + 1
        used += float(eaten) * days
        total = lying["mass_kg"].to_numpy(float)
        before = np.concatenate([[0.0], total.cumsum()[:-1]])
        lying["mass_kg"] = np.clip(before + total - used, 0.0, total)
        rows.append(lying.assign(crop=crop))
    if not rows:
        return ON_HAND.empty()
    found = pd.concat(rows, ignore_index=True)
    return found.loc[found["mass_kg"] > 1e-6, ON_HAND.names].reset_index(drop=True)


def _put_up_since(
    pantry: pd.DataFrame, crop: str, back: pd.Timestamp, as_of: pd.Timestamp
) -> float:
    lately = pantry[(pantry["date"] > back) & (pantry["date"] <= as_of) & (pantry["change"] > 0)]
    total = 0.0
    for text, kg in zip(lately["product"], lately["produce_kg"], strict=True):
        key = match_product(str(text))
        if key is not None and product(key).crop == crop and not np.isnan(kg):
            total += float(kg)
    return total


def oversize_share(garden: Garden, crop: str, as_of: pd.Timestamp) -> float:
    """Return the share of a crop's mass that the household has picked oversize, shrunk to zero.

    Parameters
    ----------
    garden : Garden
        The household's log.
    crop : str
        Crop.
    as_of : Timestamp
        Last day of the log that may be read.

    Returns
    -------
    float
        From 0 to 1.
    """
    picks = garden.picks
    mine = picks[(picks["crop"] == crop) & (picks["date"] <= as_of)]
    total = mine["mass_kg"].sum()
    large = mine.loc[mine["grade"] == "oversize", "mass_kg"].sum()
    return float(large / (total + OVERSIZE_PRIOR_KG))
