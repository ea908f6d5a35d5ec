"""What the season taught the kitchen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import LESSONS, OVER_CAPACITY
from harvestcast.season.review_tables import sum_by_day
from harvestcast.season.seasons import Unit, season_span

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


def over_capacity(garden: Garden, units: Sequence[Unit]) -> pd.DataFrame:
    """Return the weeks of the season and what came in beyond what the household could use."""
    if not units:
        return OVER_CAPACITY.empty()
    first, mass = sum_by_day(units)
    days = pd.DataFrame({"date": pd.date_range(first, periods=len(mass)), "picked_kg": mass})
    days["start"] = days["date"] - pd.to_timedelta(days["date"].dt.weekday, unit="D")
    weeks = days.groupby("start")[["picked_kg"]].sum().reset_index()
    weeks["eaten_kg"] = np.nan
    weeks["put_up_kg"] = np.nan
    weeks["over_kg"] = np.nan
    return weeks


def kitchen_lessons(garden: Garden, year: int, weeks: pd.DataFrame) -> pd.DataFrame:
    """Return jars filled against promised, targets met and hours taken (LESSONS)."""
    start, end = season_span(garden, year)
    pantry = garden.pantry
    pantry = pantry[(pantry["date"] >= start) & (pantry["date"] <= end)]
    made = pantry[pantry["change"] > 0].groupby("product")["change"].sum()
    rows = []
    for product, target in garden.household.targets.items():
        got = float(made.get(product, 0.0))
        says = f"{product}: {got:g} of {target:g} jars put up"
        rows.append(("target", product, "jars", float(target), got, says))
    return check_frame(pd.DataFrame(rows, columns=LESSONS.names), LESSONS)
