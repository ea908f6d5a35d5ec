"""The same varieties in an average weather year, so that a hot summer does not decide.

A variety's fitted curve is run through the season's own weather and through every year of the
weather record; the ratio of the two says what the season's heat and frost did to its yield, the
heat of the other years on which day it would have begun to bear.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import CropFacts, crop_facts, daily_heat
from harvestcast.growth.crops.cover import at_the_plants
from harvestcast.growth.log.series import log_warmth, temperatures
from harvestcast.growth.model.curve import bearing, curve_of
from harvestcast.growth.model.fit import Fit, fit_garden
from harvestcast.season.messages import Said, said
from harvestcast.season.yields.curves import SEASON_DAYS, SUMMER, posterior_curve
from harvestcast.season.yields.learned import CropDraws
from harvestcast.season.yields.plantings import Unit

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


ENOUGH_YEARS = 4
"""Years of weather, the season's own included, below which there is no average year."""
GROWING_MONTHS = {"north": (4, 10, 214), "south": (10, 4, 212)}
"""First and last month of the growing season, and its days."""
MISSING_DAYS = 10
"""Days of it that may be missing."""
_CURVES = 60

SCALED = ("kg_per_plant", "kg_per_row_m", "kg_per_m2", "count_per_plant", "canner_kg_per_plant")
"""Measures that grow with the season's yield."""


def weather_years(garden: Garden) -> list[int]:
    """Return the seasons whose growing months stand in the weather record, nearly every day."""
    weather = garden.weather
    seen = weather.loc[weather["kind"] != "forecast", "date"].drop_duplicates()
    first, last, whole = GROWING_MONTHS[garden.seasons.hemisphere]
    month = seen.dt.month
    inside = month.between(first, last) if first < last else (month >= first) | (month <= last)
    days = garden.seasons.of_each(seen[inside]).value_counts()
    return sorted(int(year) for year in days.index[days >= whole - MISSING_DAYS])


def in_average_year(
    garden: Garden,
    crops: Sequence[CropDraws],
    units: Mapping[str, Sequence[Unit]],
    year: int,
    *,
    seed: int,
) -> tuple[list[CropDraws], Said]:
    """Return the draws of a season as they would stand in an average weather year.

    Parameters
    ----------
    garden : Garden
        Weather record and picks.
    crops : sequence of CropDraws
        Draws of the season.
    units : mapping of str to sequence of Unit
        Plantings of the season, by crop.
    year : int
        The season.
    seed : int
        Seed of the curves.

    Returns
    -------
    list of CropDraws
        Yields multiplied by what the average year would bring over what the season brought; days
        to the first pick by the heat of the median year. Measures in degree-days and shares stay
        as they are. Crops that carry over from the year before stay as they are.
    Said
        What was done.
    """
    years = weather_years(garden)
    if len(years) < ENOUGH_YEARS or year not in years:
        if year not in years:
            return list(crops), said("average.not_covered", season=garden.seasons.label(year))
        return list(crops), said("average.few_years", have=len(years), needed=ENOUGH_YEARS)
    last = max(unit.dates[-1] for mine in units.values() for unit in mine)
    span = garden.seasons.span(year)
    fit = fit_garden(garden, min(last, span.end), begun=span.start)
    rows = {(s.crop, s.variety): i for i, s in enumerate(fit.series)}
    outside = {one: _whole_year(garden, one) for one in years}
    start, end = garden.seasons.span(year)
    rng = np.random.default_rng([seed, 3])
    moved = []
    for crop in crops:
        facts = crop_facts(crop.crop, garden.household)
        expected, again = dict(crop.expected), dict(crop.again)
        for place, variety in enumerate(crop.varieties):
            mine = [u for u in units[crop.crop] if u.variety == variety and not pd.isna(u.planted)]
            row = rows.get((crop.crop, variety))
            if not mine or row is None or facts.heat_from_new_year:
                continue
            # What stood or bore across the season's ends has no one year's weather.
            if min(u.planted for u in mine) < start or max(u.dates[-1] for u in mine) > end:
                continue
            planted = int((min(u.planted for u in mine) - start).days)
            if planted >= SEASON_DAYS:
                continue
            draws = len(expected["kg_per_plant"])
            covered = all(u.covered for u in mine)
            record = {
                one: at_the_plants(garden, *weather, covered=covered)
                for one, weather in outside.items()
            }
            killed_by = facts.kill_c if facts.tender and not covered else -np.inf
            ratio = _ratio(fit, row, facts, planted, record, year, killed_by, rng)
            ratio = ratio[rng.integers(len(ratio), size=draws)]
            for name in SCALED:
                for table in (expected, again):
                    table[name] = _scaled(table[name], place, ratio)
            for table in (expected, again):
                days = _days(table["first_pick_dd"][:, place], facts, planted, record)
                own = _days(table["first_pick_dd"][:, place], facts, planted, {0: record[year]})
                table["first_pick_days"] = _scaled(table["first_pick_days"], place, days / own)
        moved.append(
            CropDraws(
                crop=crop.crop,
                varieties=crop.varieties,
                expected=expected,
                again=again,
                effective=crop.effective,
            )
        )
    first, newest = (garden.seasons.label(one) for one in (years[0], years[-1]))
    return moved, said("average.of", first=first, last=newest)


Weather = tuple[Array, Array]


def _whole_year(garden: Garden, year: int) -> Weather:
    start = garden.seasons.span(year).start
    tmin, tmax, _ = temperatures(garden.weather, start, start + pd.Timedelta(days=SEASON_DAYS - 1))
    return tmin, tmax


def _scaled(values: Array, column: int, factor: Array) -> Array:
    out = values.copy()
    out[:, column] *= factor
    return out


def _ratio(
    fit: Fit,
    row: int,
    facts: CropFacts,
    planted: int,
    record: Mapping[int, Weather],
    year: int,
    killed_by: float,
    rng: np.random.Generator,
) -> Array:
    """Return the yield in the mean of all years over that in the season, (curves,)."""
    theta = posterior_curve(fit, row, _CURVES, None, rng)
    totals = {
        one: _total(theta, facts, planted, weather, killed_by) for one, weather in record.items()
    }
    mean = np.mean(list(totals.values()), axis=0)
    own = totals[year]
    # Half to double is as far as weather is let to count: beyond, the curve knows too little.
    return np.asarray(np.clip(np.divide(mean, own, out=np.ones_like(mean), where=own > 0), 0.5, 2))


def _total(
    theta: Array, facts: CropFacts, planted: int, weather: Weather, killed_by: float
) -> Array:
    """Return what each curve brings in one year's weather, without deviations, (curves,)."""
    tmin, tmax = weather
    daily = daily_heat(facts, tmin, tmax)
    heat = np.cumsum(np.where(np.arange(len(daily)) >= planted, daily, 0.0))
    rate = bearing(curve_of(theta[:, None]), heat) * np.exp(log_warmth(daily))
    rate[:, :planted] = 0.0
    cold = (tmin <= killed_by) & (np.arange(len(tmin)) >= SUMMER)
    rate[:, np.cumsum(cold) > 0] = 0.0
    return np.asarray(rate.sum(axis=1))


def _days(heat: Array, facts: CropFacts, planted: int, record: Mapping[int, Weather]) -> Array:
    """Return days from planting until that heat was gathered, median over years, (draws,)."""
    days = []
    for tmin, tmax in record.values():
        total = np.cumsum(daily_heat(facts, tmin, tmax)[planted:])
        days.append(np.interp(heat, total, np.arange(len(total), dtype=float)))
    return np.asarray(np.maximum(np.median(days, axis=0), 1.0))
