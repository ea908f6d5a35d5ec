"""What was picked so far, as tables for figures: by day, by week, and as a rate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from harvestcast.growth.log.series import Season

PAST_WEEKS = 5
"""Weeks before the forecast that a figure shows."""


def picked_days(season: Season) -> pd.DataFrame:
    """Return the picks of a season, a row a variety and day with something written down.

    Parameters
    ----------
    season : Season
        As :func:`harvestcast.growth.log.series.gather` returns it; counts are in kg there already.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``variety``, ``date``, ``mass_kg`` (NaN: picked, mass unknown), ``count``.
    """
    parts = [
        pd.DataFrame(
            {
                "crop": one.crop,
                "variety": one.variety,
                "date": season.dates,
                "mass_kg": one.mass,
                "count": one.count,
            }
        ).loc[~(np.isnan(one.mass) & np.isnan(one.count))]
        for one in season.series
    ]
    empty = pd.DataFrame(
        {
            "crop": pd.Series(dtype=str),
            "variety": pd.Series(dtype=str),
            "date": pd.Series(dtype="datetime64[ns]"),
            "mass_kg": pd.Series(dtype=float),
            "count": pd.Series(dtype=float),
        }
    )
    parts = [part for part in parts if len(part)]
    return pd.concat(parts, ignore_index=True) if parts else empty


def picked_weeks(picked: pd.DataFrame, crop: str, as_of: pd.Timestamp) -> pd.DataFrame:
    """Return the logged kilograms of one crop in each of the last weeks, oldest first.

    Weeks are counted back from ``as_of``; those before the first pick are left out. A week
    with a pick of unknown mass is unknown.

    Parameters
    ----------
    picked : pandas.DataFrame
        As :func:`picked_days` returns it.
    crop : str
        Crop.
    as_of : pandas.Timestamp
        Last day known.

    Returns
    -------
    pandas.DataFrame
        ``start``, ``mass_kg``.
    """
    own = picked.loc[picked["crop"] == crop]
    first = own["date"].min()
    rows = []
    for back in range(PAST_WEEKS, 0, -1):
        start = as_of - pd.Timedelta(days=7 * back - 1)
        end = start + pd.Timedelta(days=6)
        if pd.isna(first) or end < first:
            continue
        kg = own.loc[own["date"].between(start, end), "mass_kg"].to_numpy(float)
        rows.append((start, float(kg.sum())))
    return pd.DataFrame(rows, columns=["start", "mass_kg"])


def pick_rates(picked: pd.DataFrame, crop: str, variety: str) -> pd.DataFrame:
    """Return the picks of one variety as kilograms a day over the days each one covers.

    A pick is what became ready since the last look, so its mass is spread over those days. The
    first one is taken to cover as many days as the usual gap, seven at most.

    Parameters
    ----------
    picked : pandas.DataFrame
        As :func:`picked_days` returns it.
    crop, variety : str
        Which planting.

    Returns
    -------
    pandas.DataFrame
        ``since``, ``date``, ``kg_per_day``; picks of unknown mass are left out.
    """
    own = picked.loc[(picked["crop"] == crop) & (picked["variety"] == variety)]
    own = own.sort_values("date")
    gaps = own["date"].diff().dt.days.to_numpy(float)
    usual = float(np.clip(np.nanmedian(gaps), 1, 7)) if len(gaps) > 1 else 1.0
    days = np.where(np.isnan(gaps), usual, gaps)
    table = pd.DataFrame(
        {
            "since": own["date"] - pd.to_timedelta(days, unit="D"),
            "date": own["date"],
            "kg_per_day": own["mass_kg"].to_numpy(float) / days,
        }
    )
    return table.dropna(subset="kg_per_day").reset_index(drop=True)
