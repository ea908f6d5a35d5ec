"""From the garden's frames to arrays: every planting of a season with its daily picks and heat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags
from harvestcast.growth.crops.almanac import CropFacts, crop_facts, daily_heat, heat_start
from harvestcast.growth.log.series import season_start, temperatures

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


VARIETY_FRUIT_LOG_SD = 0.25
"""By how much the fruit of varieties of one crop differs in weight, log. Our judgement."""
OVERSIZE_WEIGHT = 2.0
"""Weight of an oversize fruit in good ones, where the household has not weighed any; counts as ten
fruits. Our judgement."""

UNNAMED = "unnamed"
"""Variety of picks and plantings that were written down without one."""

GRADES: tuple[str, ...] = ("good", "oversize", "damaged")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unit:
    """One planting that the log tells apart: a variety in a season, in one bed where known.

    Parameters
    ----------
    crop, variety : str
        Names as in the frames.
    bed : str or None
        Bed, where the picks of the variety name beds and it stands in several.
    year : int
        Season.
    planted : Timestamp
        First planting; NaT where unknown.
    set_out : bool
        Whether it was set out (else sown).
    plantings : int
        Plantings written down that it is made of: several where the picks do not say which of
        them they came from; 0 where none is.
    counted_from : Timestamp
        Day from which heat and days to the first pick count: the planting, or the beginning of the
        season of what stood before it.
    plants, row_m, area_m2 : float
        Size; NaN where unknown.
    first_day : Timestamp
        Day of the first entry of the arrays: planting or first pick, the earlier one.
    heat : ndarray, shape (days,)
        Degree-days from planting to the end of each day. [degC d]
    mass, count : ndarray, shape (days,)
        Picked each day, all grades; unknown amounts completed by the weight of a fruit. [kg]
    graded : ndarray, shape (3, days)
        Mass by grade: good, oversize, damaged. [kg]
    looked : ndarray of bool, shape (days,)
        Days with a row, a count of 0 included.
    hours : float
        Hours of picking written down; NaN where none were.
    hours_kg : float
        Mass of the rows with hours. [kg]
    fruit_kg : float
        Weight of a good fruit used to complete amounts. [kg]
    fruit_error : float
        Standard deviation of its logarithm: large where no fruit of the crop was ever weighed.
    guessed : float
        Share of the mass that was completed from counts.
    weighed : float
        Good fruits in rows with count and weight both.
    weighed_kg : float
        Their weight. [kg]
    rows_both : tuple of ndarray
        Count and weight of each such row. [fruits, kg]
    counted : bool
        Whether at least half of the rows with a pick were counted.
    """

    crop: str
    variety: str
    bed: str | None
    year: int
    planted: pd.Timestamp
    set_out: bool
    plantings: int
    counted_from: pd.Timestamp
    plants: float
    row_m: float
    area_m2: float
    first_day: pd.Timestamp
    heat: Array
    mass: Array
    count: Array
    graded: Array
    looked: Flags
    hours: float
    hours_kg: float
    fruit_kg: float
    fruit_error: float
    guessed: float
    weighed: float
    weighed_kg: float
    rows_both: tuple[Array, Array]
    counted: bool

    @property
    def dates(self) -> pd.DatetimeIndex:
        """The days of the arrays."""
        return pd.date_range(self.first_day, periods=len(self.mass))


def season_span(garden: Garden, year: int) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the first and last day of the season named ``year``.

    The calendar year; where the last frost of spring falls in the second half of the year
    (southern hemisphere) July of the year before to June.
    """
    start = season_start(pd.Timestamp(year, 3, 1), garden.household.last_frost)
    return start, start + pd.DateOffset(years=1) - pd.Timedelta(days=1)


def seasons_with_picks(garden: Garden) -> list[int]:
    """Return the seasons in which anything was picked, in order."""
    dates = garden.picks["date"]
    shift = season_span(garden, 2001)[0]
    months = 12 - shift.month + 1 if shift.month > 1 else 0
    return sorted({int((day + pd.DateOffset(months=months)).year) for day in dates.unique()})


def units_of(garden: Garden, year: int) -> tuple[Unit, ...]:
    """Return every planting with picks in a season, sorted by crop, variety and bed.

    Parameters
    ----------
    garden : Garden
        Frames and settings.
    year : int
        Season.

    Returns
    -------
    tuple of Unit
        Empty where nothing was picked.
    """
    start, end = season_span(garden, year)
    picks = garden.picks
    picks = picks[(picks["date"] >= start) & (picks["date"] <= end)]
    planted = garden.plantings
    units: list[Unit] = []
    for (crop, variety), rows in picks.groupby(["crop", "variety"], sort=True):
        facts = crop_facts(str(crop), garden.household)
        mine = planted[(planted["crop"] == crop) & (planted["variety"] == variety)]
        mine = _of_season(mine, rows, start, end, facts)
        fruit = _fruit_of(garden.picks, str(crop), str(variety), facts)
        for bed, part, beds in _by_bed(rows, mine):
            units.append(_unit(garden, year, (start, end), facts, fruit, bed, part, beds))
    return tuple(units)


def _of_season(
    plantings: pd.DataFrame,
    picks: pd.DataFrame,
    start: pd.Timestamp,
    end: pd.Timestamp,
    facts: CropFacts,
) -> pd.DataFrame:
    """Plantings that can have borne this season's picks."""
    date, removed = plantings["date"], plantings["removed"]
    standing = (date.isna() | (date <= end)) & (removed.isna() | (removed >= picks["date"].min()))
    rows = plantings[standing]
    if facts.perennial:
        return rows
    fresh = rows[rows["date"] >= start]
    if len(fresh):
        return fresh
    older = rows[rows["date"].isna() | (rows["date"] >= start - pd.Timedelta(days=300))]
    return older


def _by_bed(
    picks: pd.DataFrame, plantings: pd.DataFrame
) -> list[tuple[str | None, pd.DataFrame, pd.DataFrame]]:
    """Split a variety by bed where picks and plantings both say which; else keep it whole."""
    beds = set(plantings["bed"].dropna())
    named = picks["bed"].notna() & picks["bed"].isin(beds)
    if len(beds) < 2 or not named.all() or plantings["bed"].isna().any():
        only = next(iter(beds)) if len(beds) == 1 else None
        return [(only, picks, plantings)]
    return [
        (str(bed), part, plantings[plantings["bed"] == bed])
        for bed, part in picks.groupby("bed", sort=True)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fruit:
    """Weight of a good fruit, the error of its logarithm, and how much heavier a big one is."""

    kg: float
    error: float
    oversize: float


def _fruit_of(picks: pd.DataFrame, crop: str, variety: str, facts: CropFacts) -> _Fruit:
    """Weight of a fruit: rows with both, shrunk to the crop's (10 fruits) and the almanac's (5)."""
    both = picks[(picks["crop"] == crop) & (picks["count"] > 0) & (picks["mass_kg"] > 0)]
    big = (both["grade"] == "oversize").to_numpy()
    number, kg = both["count"].to_numpy(float), both["mass_kg"].to_numpy(float)
    own = (both["variety"] == variety).to_numpy() & ~big
    crop_fruits, own_fruits = float(number[~big].sum()), float(number[own].sum())
    of_crop = (kg[~big].sum() + 5 * facts.fruit_kg) / (crop_fruits + 5)
    mean = float((kg[own].sum() + 10 * of_crop) / (own_fruits + 10))
    # What is left of not knowing the crop's fruit and the variety's: the almanac's range is that of
    # all its varieties.
    apart = max(facts.fruit_log_sd**2 - VARIETY_FRUIT_LOG_SD**2, 0.01)
    crop_sd = float(np.sqrt(apart)) * 5 / (crop_fruits + 5)
    error = float(np.hypot(VARIETY_FRUIT_LOG_SD, crop_sd)) * 10 / (own_fruits + 10)
    heavier = (kg[big].sum() / of_crop + 10 * OVERSIZE_WEIGHT) / (number[big].sum() + 10)
    return _Fruit(kg=mean, error=error, oversize=float(max(heavier, 1.0)))


def _unit(
    garden: Garden,
    year: int,
    span: tuple[pd.Timestamp, pd.Timestamp],
    facts: CropFacts,
    fruit: _Fruit,
    bed: str | None,
    rows: pd.DataFrame,
    plantings: pd.DataFrame,
) -> Unit:
    planted = plantings["date"].min() if len(plantings) else pd.NaT
    known = not pd.isna(planted)
    first_pick, last_pick = rows["date"].min(), rows["date"].max()
    zero = heat_start(facts, planted if known else None, span[0].year)
    if zero < span[0]:
        zero = span[0]
    first_day = min(zero, first_pick)
    days = int((last_pick - first_day).days) + 1
    tmin, tmax, _ = temperatures(garden.weather, first_day, last_pick)
    heat = np.cumsum(daily_heat(facts, tmin, tmax))
    before = int((zero - first_day).days)
    heat = heat - (heat[before - 1] if before > 0 else 0.0)

    at = (rows["date"] - first_day).dt.days.to_numpy()
    count, kg = rows["count"].to_numpy(float), rows["mass_kg"].to_numpy(float)
    each = np.where(rows["grade"] == "oversize", fruit.oversize, 1.0) * fruit.kg
    full_kg = np.where(np.isnan(kg), count * each, kg)
    full_count = np.where(np.isnan(count), kg / each, count)
    total = float(np.nansum(full_kg))
    mass, number = np.zeros(days), np.zeros(days)
    np.add.at(mass, at, np.nan_to_num(full_kg))
    np.add.at(number, at, np.nan_to_num(full_count))
    graded = np.zeros((len(GRADES), days))
    for place, grade in enumerate(GRADES):
        mine = (rows["grade"] == grade).to_numpy()
        np.add.at(graded[place], at[mine], np.nan_to_num(full_kg[mine]))
    looked = np.zeros(days, bool)
    looked[at] = True
    hours = rows["hours"].to_numpy(float)
    timed = np.isfinite(hours) & np.isfinite(full_kg)
    both = ((count > 0) & (kg > 0)) & (rows["grade"] == "good").to_numpy()
    filled = sizes(plantings, facts)
    return Unit(
        crop=facts.crop,
        variety=str(rows["variety"].iloc[0]),
        bed=bed,
        year=year,
        planted=pd.Timestamp(planted) if known else pd.NaT,  # type: ignore[arg-type]
        set_out=bool(len(plantings) and (plantings["how"] == "set_out").mean() >= 0.5),
        plantings=len(plantings),
        counted_from=zero,
        plants=filled["plants"],
        row_m=filled["row_m"],
        area_m2=filled["area_m2"],
        first_day=first_day,
        heat=heat,
        mass=mass,
        count=number,
        graded=graded,
        looked=looked,
        hours=float(hours[timed].sum()) if timed.any() else float("nan"),
        hours_kg=float(full_kg[timed].sum()),
        fruit_kg=fruit.kg,
        fruit_error=fruit.error,
        guessed=float(np.nansum(full_kg[np.isnan(kg)])) / total if total > 0 else 0.0,
        weighed=float(count[both].sum()),
        weighed_kg=float(kg[both].sum()),
        rows_both=(count[both], kg[both]),
        counted=_counted(count, full_kg),
    )


def _counted(count: Array, kg: Array) -> bool:
    # "Looked and found none" is a count of nothing, whatever else is written down.
    found = (count > 0) | (kg > 0)
    return bool(found.any() and np.mean(np.isfinite(count[found])) >= 0.5)


def sizes(plantings: pd.DataFrame, facts: CropFacts) -> Mapping[str, float]:
    """Return plants, row and area of some plantings together.

    A size not written down follows from the others by the crop's spacing; NaN where none is.
    """
    plants = plantings["plants"].to_numpy(float)
    row, area = plantings["row_m"].to_numpy(float), plantings["area_m2"].to_numpy(float)
    plants = np.where(np.isnan(plants), row * facts.plants_per_m_row, plants)
    plants = np.where(np.isnan(plants), area / facts.spacing_m2, plants)
    row = np.where(np.isnan(row), plants / facts.plants_per_m_row, row)
    area = np.where(np.isnan(area), row * facts.plants_per_m_row * facts.spacing_m2, area)

    def total(values: Array) -> float:
        # One planting of unknown size makes the whole unknown.
        return float(values.sum()) if len(values) and values.sum() > 0 else float("nan")

    return {"plants": total(plants), "row_m": total(row), "area_m2": total(area)}
