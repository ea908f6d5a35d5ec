"""The heat of a whole log, in the open and under cover, from any day to any other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import CropFacts, daily_heat
from harvestcast.growth.crops.cover import at_the_plants
from harvestcast.growth.log.series import temperatures
from harvestcast.growth.log.sowings import STANDING_DAYS

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


class HeatPath:
    """Heat of a garden day by day, whatever the crop: observed, then the mean of other years.

    Parameters
    ----------
    garden : Garden
        Weather record.
    first, last : Timestamp
        First and last day.
    """

    def __init__(self, garden: Garden, first: pd.Timestamp, last: pd.Timestamp) -> None:
        self.first = first
        weather = garden.weather
        seen = weather.loc[weather["kind"] != "forecast", "date"].max()
        known = min(last, max(first, first if pd.isna(seen) else seen))
        self._tmin, self._tmax, _ = temperatures(weather, first, known)
        more = pd.date_range(known + pd.Timedelta(days=1), last)
        if len(more):
            year = pd.date_range("2023-01-01", "2023-12-31")
            usual_min, usual_max, _ = temperatures(
                weather.assign(date=weather["date"].map(_in_2023)), year[0], year[-1]
            )
            at = np.minimum(more.day_of_year.to_numpy(), 365) - 1
            self._tmin = np.concatenate([self._tmin, usual_min[at]])
            self._tmax = np.concatenate([self._tmax, usual_max[at]])
        self._garden = garden
        self._total: dict[tuple[float, float | None, str, bool], Array] = {}

    def total(self, facts: CropFacts, *, covered: bool = False) -> Array:
        """Return the heat gathered by the end of each day, shape (days,). [degC d]."""
        key = (facts.base_c, facts.upper_c, facts.heat_method, covered)
        if key not in self._total:
            there = at_the_plants(self._garden, self._tmin, self._tmax, covered=covered)
            self._total[key] = np.cumsum(daily_heat(facts, *there))
        return self._total[key]

    def freezes(self, start: int, end: int, kill_c: float) -> bool:
        """Return whether it freezes between two places on the path. [degC]."""
        return bool((self._tmin[start:end] <= kill_c).any())

    def since(self, facts: CropFacts, start: Index, end: Index, covered: Flags) -> Array:
        """Return the heat from some days to others, as places on the path. [degC d].

        ``covered`` says of each start whether that planting stands under cover.
        """
        last = len(self._tmin) - 1
        start, end = np.clip(start, 0, last), np.clip(end, 0, last)
        out = self.total(facts)
        heat = out[end] - out[start]
        if covered.any():
            under = self.total(facts, covered=True)
            heat = np.where(covered, under[end] - under[start], heat)
        return np.asarray(heat)


def _in_2023(day: pd.Timestamp) -> pd.Timestamp:
    return pd.Timestamp(2023, day.month, min(day.day, 28) if day.month == 2 else day.day)


def heat_path(garden: Garden) -> HeatPath | None:
    """Return the heat from the first day that matters to long after the last planting."""
    planted, picked = garden.plantings["date"].dropna(), garden.picks["date"]
    days = pd.concat([planted, picked])
    if days.empty:
        return None
    first = garden.seasons.start(days.min()) - pd.Timedelta(days=1)
    return HeatPath(garden, first, days.max() + pd.Timedelta(days=STANDING_DAYS))
