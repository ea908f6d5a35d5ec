"""Crops that a single summer does not hold: over winter, from year to year, under glass.

The simulator of :mod:`tests.simulated.garden` sees one calendar year and one sky. Here a planting
bears between two heats of its own, counted by a plain mean of the day above a base of its own;
what stands for years counts from midwinter. Numbers are invented and no garden advice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tests.simulated.climate import Array, ar1

LEAST_KG = 0.15
"""For less nobody bends down."""
Pick = tuple[np.datetime64, str, str, float, float]
"""Date, crop, variety, count, mass in kg."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LongCrop:
    """One variety in one bed."""

    crop: str
    variety: str
    bed: str
    how: str
    planted: tuple[tuple[str, int, str], ...]
    """Day of planting, plants, and the day they were taken out; empty while they stand."""
    kg: float
    """Of one plant, in a whole season."""
    piece_kg: float
    base_c: float
    first_dd: float
    last_dd: float
    every: float = 3.0
    """Days that are let pass between picks, on average."""
    heat_from: str = ""
    """Month and day from which the heat of each year counts; left out: from planting."""
    years: int = 1
    """Seasons that a planting bears."""
    once: bool = False
    """Brought in within a few days, when the last heat is reached."""
    kill_c: float = -99.0
    cover: str = ""
    lift_c: float = 0.0
    """How much warmer it is under the cover; frost stays out."""


def grow_long(
    rng: np.random.Generator, crops: Iterable[LongCrop], weather: pd.DataFrame, goes: Array
) -> pd.DataFrame:
    """Return what is picked: date, crop, variety, count and mass_kg, by day.

    ``goes`` says of each day of the weather whether somebody goes to the garden.
    """
    parts = [
        _bearing(rng, crop, pd.Timestamp(day), plants, weather, goes)
        for crop in crops
        for day, plants, _ in crop.planted
    ]
    rows = [row for part in parts for row in part]
    picks = pd.DataFrame(rows, columns=["date", "crop", "variety", "count", "mass_kg"])
    return picks.sort_values(["date", "crop", "variety"], kind="stable", ignore_index=True)


def _bearing(
    rng: np.random.Generator,
    crop: LongCrop,
    planted: pd.Timestamp,
    plants: int,
    weather: pd.DataFrame,
    goes: Array,
) -> list[Pick]:
    starts = [planted]
    if crop.heat_from:
        first = pd.Timestamp(f"{planted.year}-{crop.heat_from}")
        first = first if first >= planted else first + pd.DateOffset(years=1)
        starts = [first + pd.DateOffset(years=year) for year in range(crop.years)]
    return [row for start in starts for row in _season(rng, crop, start, plants, weather, goes)]


def _season(
    rng: np.random.Generator,
    crop: LongCrop,
    start: pd.Timestamp,
    plants: int,
    weather: pd.DataFrame,
    goes: Array,
) -> list[Pick]:
    days = weather[weather["date"] >= start].head(365)
    if days.empty or days["date"].iloc[0] != start:
        return []
    middle = ((days["tmin_c"] + days["tmax_c"]) / 2).to_numpy(float) + crop.lift_c
    warm = np.maximum(middle - crop.base_c, 0.0)
    heat = np.cumsum(warm)
    bears = (heat >= crop.first_dd) & (heat < crop.last_dd)
    frozen = np.flatnonzero((days["tmin_c"].to_numpy() < crop.kill_c) & (not crop.cover))
    if frozen.size:
        bears[frozen[0] :] = False
    along = (heat - crop.first_dd) / (crop.last_dd - crop.first_dd)
    rate = np.where(bears, np.maximum(warm, 0.3) * (np.sin(np.pi * along) + 0.15), 0.0)
    shock = np.exp(0.3 * ar1(rng, (rate.size,), 0.85))
    total = plants * crop.kg * np.exp(rng.normal(0, 0.18))
    # The share of the season that the record holds is what has been ready so far.
    whole = np.sum((np.sin(np.pi * np.linspace(0, 1, 200)) + 0.15) / 200)
    ready = rate * shock / (whole * (crop.last_dd - crop.first_dd)) * total
    if crop.once:
        ready = _in_a_few_days(rng, heat, crop, total)
    return _picked(rng, crop, days["date"].to_numpy(), ready, goes[days.index[0] :])


def _in_a_few_days(rng: np.random.Generator, heat: Array, crop: LongCrop, total: float) -> Array:
    ready = np.zeros(heat.size)
    if heat[-1] >= crop.last_dd:
        day = int(np.searchsorted(heat, crop.last_dd))
        shares = rng.dirichlet([3.0, 2.0, 1.5])
        for number, share in enumerate(shares):
            ready[min(day + 2 * number, heat.size - 1)] += share * total
    return ready


def _picked(
    rng: np.random.Generator, crop: LongCrop, dates: Array, ready: Array, goes: Array
) -> list[Pick]:
    rows: list[Pick] = []
    there, due = 0.0, 0.0
    for day, (date, kg) in enumerate(zip(dates, ready, strict=True)):
        there += kg
        pieces = max(1, round(there / crop.piece_kg))
        if goes[day] and day >= due and there >= LEAST_KG:
            due = day + crop.every * rng.uniform(0.5, 1.3)
            kg_taken = min(there, pieces * crop.piece_kg * np.exp(rng.normal(0, 0.08)))
            rows.append((date, crop.crop, crop.variety, float(pieces), kg_taken))
            there = 0.0
    return rows
