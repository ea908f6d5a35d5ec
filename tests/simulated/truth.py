"""What really happened in a simulated garden, and what was to be expected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from tests.simulated.climate import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonDays:
    """Daily amounts of one season, arrays (varieties, days) from 1 January."""

    year: int
    variety: Array
    """Row of each entry in the varieties table."""
    plants: Array
    first_planted: Array
    heat_sum: Array
    """Heat since the first planting of the variety, degree-days (the simulator's own)."""
    expected_count: Array
    """Fruit expected to become ready in this season's weather, shocks and plots averaged."""
    fruit_kg: Array
    ready_count: Array
    ready_kg: Array
    picked_count: Array
    picked_kg: Array
    oversize_kg: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """The truth behind a simulated garden.

    Expected amounts are those of a variety in that season's weather, averaged over shocks, plots
    and plants. Ready is what the plants really made, picked what was found. Heat is the
    simulator's own (CropNature.base_c, clipped average) and counts from the day of planting.
    """

    varieties: pd.DataFrame
    """Per variety: crop, variety and its nature (fruits, flower_dd, ripen_dd, length_dd, ...)."""
    days: tuple[SeasonDays, ...]

    @property
    def seasons(self) -> pd.DataFrame:
        """Per year and variety: totals, per-plant yields, first pick and the middle 80 %.

        ``dd_*`` and ``date_*`` are the heat and day on which the first fruit was picked and on
        which 10, 50 and 90 % of the picked mass was in; ``expected_dd_*`` the same for the
        expected curve.
        """
        return pd.concat([self._season(season) for season in self.days], ignore_index=True)

    def daily(self) -> pd.DataFrame:
        """Per day and variety with anything expected or real: the amounts, count and kg."""
        parts = []
        for season in self.days:
            row, day = np.nonzero((season.expected_count > 1e-6) | (season.picked_count > 0))
            table = self._names(season.variety[row])
            table.insert(0, "date", _dates(season.year)[day])
            expected = season.expected_count[row, day]
            table["expected_count"] = expected
            table["expected_kg"] = expected * season.fruit_kg[row]
            for name in ("ready_count", "ready_kg", "picked_count", "picked_kg"):
                table[name] = getattr(season, name)[row, day]
            parts.append(table)
        return pd.concat(parts, ignore_index=True)

    def weekly(self, origin: str | pd.Timestamp, weeks: int = 60) -> pd.DataFrame:
        """Sums of :meth:`daily` by week after ``origin`` (week 1 = the next seven days)."""
        daily = self.daily()
        ahead = (daily["date"] - pd.Timestamp(origin)).dt.days
        daily["week"] = (ahead - 1) // 7 + 1
        daily = daily[(ahead >= 1) & (daily["week"] <= weeks)].drop(columns="date")
        return daily.groupby(["crop", "variety", "week"], as_index=False).sum()

    def best(self, year: int) -> pd.DataFrame:
        """Per crop: the variety of the highest expected yield per plant (kg) in that year."""
        table = self.seasons
        table = table[table["year"] == year]
        rows = table.groupby("crop")["expected_kg_per_plant"].idxmax()
        return table.loc[rows, ["crop", "variety", "expected_kg_per_plant"]].reset_index(drop=True)

    def _names(self, variety: Array) -> pd.DataFrame:
        return self.varieties[["crop", "variety"]].iloc[variety].reset_index(drop=True)

    def _season(self, season: SeasonDays) -> pd.DataFrame:
        table = self._names(season.variety)
        table.insert(0, "year", season.year)
        table["plants"] = season.plants
        expected_kg = season.expected_count * season.fruit_kg[:, None]
        for name, amount in (
            ("expected_count", season.expected_count),
            ("expected_kg", expected_kg),
            ("ready_count", season.ready_count),
            ("ready_kg", season.ready_kg),
            ("picked_count", season.picked_count),
            ("picked_kg", season.picked_kg),
        ):
            table[name] = amount.sum(axis=1)
            if name.endswith("kg"):
                table[f"{name}_per_plant"] = table[name] / season.plants
        with np.errstate(invalid="ignore", divide="ignore"):
            table["oversize_share"] = season.oversize_kg.sum(axis=1) / table["picked_kg"]
        dates = _dates(season.year)
        for label, share in (("first", 0.0), ("10", 0.1), ("50", 0.5), ("90", 0.9)):
            day, known = _day_of_share(season.picked_kg, share)
            rows = np.arange(len(day))
            table[f"dd_{label}"] = np.where(known, season.heat_sum[rows, day], np.nan)
            table[f"date_{label}"] = np.where(known, dates[day], np.datetime64("NaT", "ns"))
            if share > 0:
                day, known = _day_of_share(expected_kg, share)
                table[f"expected_dd_{label}"] = np.where(known, season.heat_sum[rows, day], np.nan)
        return table


def _day_of_share(amount: Array, share: float) -> tuple[Array, Array]:
    """Return the first day on which more than ``share`` of each row's total was in."""
    running = np.cumsum(amount, axis=1)
    total = running[:, -1:]
    reached = (running >= share * total) & (running > 0)
    return reached.argmax(axis=1), total[:, 0] > 0


def _dates(year: int) -> Array:
    return np.arange(f"{year}-01-01", f"{year + 1}-01-01", dtype="datetime64[D]").astype(
        "datetime64[ns]"
    )
