"""Possible seasons of plantings that have not been made yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import CropFacts, crop_facts, daily_heat
from harvestcast.growth.crops.cover import at_the_plants
from harvestcast.growth.future.weather import weather_futures
from harvestcast.growth.log.habit import visits_ahead
from harvestcast.growth.log.series import log_warmth
from harvestcast.growth.model.curve import bearing, curve_of
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.yields.curves import (
    SEASON_DAYS,
    Curves,
    Learned,
    alive,
    brought_in_once,
    curves_of,
    eve,
    held_back,
    least_days,
    usual_habit,
)

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


# Shares of the variance of deviations that the whole garden and a crop have in common; the rest is
# a variety's own. As in the forecast of the coming weeks.
GARDEN_SHARE, CROP_SHARE = 0.3, 0.15
LASTING = 0.5
"""Share of the weekly noise (standard deviation) that is the plants' own. The rest is days on which
nobody picked, which are drawn here, and the number of fruits. Set on simulated gardens of even
seeds, checked on odd ones (tests/benchmarks/next_season.py)."""
MEMORY_DAYS = 7.6
"""Days in which a deviation falls to 1/e: a correlation of 0.4 from week to week."""
TO_SPARE_DAYS, MOST_BEYOND_DAYS = 30, 330
"""Days after the last pick of the log, beyond a season's end, on which a crop may still bear; days
beyond it at most. Our judgement."""
LEFT, LOOK = 0.12, 0.9
"""Share of ripe fruit a pick leaves; probability that a variety is looked at on a garden day."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonFutures:
    """Possible seasons.

    Parameters
    ----------
    per_plant : ndarray, shape (draws, weeks, options)
        Picked each week of one plant. [kg]
    weeks : DatetimeIndex
        Mondays.
    first : Timestamp
        First day: the season's, or that of the first planting where that is earlier.
    first_pick, last_pick : ndarray, shape (draws, options)
        Days from ``first`` to the first pick and to nine tenths of the harvest; NaN where nothing
        was picked.
    weather_year : ndarray of int, shape (draws,)
        Past year whose weather a draw has.
    notices : tuple of str
        What was odd about the weather.
    """

    per_plant: Array
    weeks: pd.DatetimeIndex
    first: pd.Timestamp
    first_pick: Array
    last_pick: Array
    weather_year: Index
    notices: tuple[str, ...]


def laid_over(drawn: SeasonFutures, weeks: pd.DatetimeIndex) -> SeasonFutures:
    """Return the same futures over more weeks; nothing is picked in those that are new."""
    full = np.zeros((len(drawn.per_plant), len(weeks), drawn.per_plant.shape[2]))
    full[:, weeks.get_indexer(drawn.weeks)] = drawn.per_plant
    return replace(drawn, per_plant=full, weeks=weeks)


def season_futures(
    garden: Garden,
    learned: Learned,
    options: Sequence[PlantingOption],
    *,
    year: int,
    draws: int,
    seed: int,
    known: pd.Timestamp | None = None,
) -> SeasonFutures:
    """Draw possible seasons of every planting option, one plant each.

    Parameters
    ----------
    garden : Garden
        Weather record and settings.
    learned : Learned
        What the log says (:func:`harvestcast.season.yields.curves.learn`).
    options : sequence of PlantingOption
        What could be planted.
    year : int
        The coming season.
    draws : int
        Number of possible seasons.
    seed : int
        Seed of everything.
    known : Timestamp, optional
        Day up to which the weather of the season is known; left out: none of it is.

    Returns
    -------
    SeasonFutures
        All options of a draw share its weather, its garden days and part of its luck. What bore
        beyond a season's end in the log is followed as far beyond it here.
    """
    rng = np.random.default_rng([seed, 11])
    household, begin = garden.household, garden.seasons.span(year).start
    first = min([begin, *(option.date for option in options)])
    start = int((begin - first).days)
    beyond = _days_beyond(garden, learned)
    end = start + SEASON_DAYS
    # Sown in the season's last days: all its life lies beyond.
    late = max(int((option.date - first).days) + 1 for option in options)
    days = max(end, late) + max((beyond.get(option.crop, 0) for option in options), default=0)
    tmin, tmax, weather_year, notices = _weather(
        garden, first, (start, SEASON_DAYS, days - end), draws, seed
    )
    if known is not None:
        tmin, tmax = _as_observed(garden.weather, first, known, tmin, tmax)
    keys = sorted({(o.crop, o.variety, o.how == "set_out") for o in options})
    plants: dict[tuple[str, str], float] = {}
    for option in options:
        key = (option.crop, option.variety)
        plants[key] = plants.get(key, 0.0) + option.this_year
    curves = curves_of(garden, learned, keys, plants, draws=draws, rng=rng)
    came = visits_ahead(usual_habit(learned), first, days, draws, rng)
    shared = rng.standard_normal((days, draws))
    monday = first - pd.Timedelta(days=first.day_of_week)
    week = (np.arange(days) + first.day_of_week) // 7
    weekly = np.zeros((draws, int(week[-1]) + 1, len(options)))
    starts, ends = np.full((draws, len(options)), np.nan), np.full((draws, len(options)), np.nan)
    crop_luck: dict[str, Array] = {}
    for crop, variety, _ in keys:
        facts = crop_facts(crop, household)
        common = crop_luck.setdefault(crop, rng.standard_normal((days, draws)))
        curve = curves[crop, variety]
        luck = _deviation(
            np.sqrt(GARDEN_SHARE) * shared
            + np.sqrt(CROP_SHARE) * common
            + np.sqrt(1 - GARDEN_SHARE - CROP_SHARE) * rng.standard_normal((days, draws)),
            curve,
        )
        goes = came & (rng.random((draws, days)) < LOOK)
        there = {}
        for covered in sorted(
            {o.covered for o in options if (o.crop, o.variety) == (crop, variety)}
        ):
            low, high = at_the_plants(garden, tmin, tmax, covered=covered)
            heat = daily_heat(facts, low, high)
            there[covered] = (
                heat,
                curve.theta[:, :1] + log_warmth(heat) + luck.T,
                alive(low, facts, start),
            )
        for place, option in enumerate(options):
            if (option.crop, option.variety) != (crop, variety):
                continue
            daily, base, lives = there[option.covered]
            looked = (goes & lives) | eve(lives)
            rate = np.where(lives, _rate(option, facts, curve, daily, base, first, start), 0.0)
            rate[:, end + beyond.get(crop, 0) :] = 0.0
            # Two sowings of a variety stand on two plots.
            plot = curve.plot_sd * rng.standard_normal(draws) - 0.5 * curve.plot_sd**2
            rate *= np.exp(plot)[:, None]
            once = facts.habit == "once_over"
            picked = brought_in_once(rate, looked, lives) if once else _pick(rate, looked)
            np.add.at(weekly[:, :, place].T, week, picked.T)
            starts[:, place], ends[:, place] = _ends(picked)
    used = np.flatnonzero(weekly.any(axis=(0, 2)))
    span = slice(int(used[0]), int(used[-1]) + 1) if len(used) else slice(0, 1)
    mondays = pd.date_range(monday, periods=weekly.shape[1], freq="7D")
    return SeasonFutures(
        per_plant=np.ascontiguousarray(weekly[:, span]),
        weeks=mondays[span],
        first=first,
        first_pick=starts,
        last_pick=ends,
        weather_year=weather_year,
        notices=notices,
    )


def _days_beyond(garden: Garden, learned: Learned) -> dict[str, int]:
    """Return how long after its season's end each crop was picked at most, with some to spare."""
    found: dict[str, int] = {}
    for crop, units in learned.units.items():
        over = max((u.dates[-1] - garden.seasons.span(u.year).start).days for u in units)
        if over >= SEASON_DAYS:
            found[crop] = min(over - SEASON_DAYS + TO_SPARE_DAYS, MOST_BEYOND_DAYS)
    return found


def _weather(
    garden: Garden, first: pd.Timestamp, parts: Sequence[int], draws: int, seed: int
) -> tuple[Array, Array, Index, tuple[str, ...]]:
    """Draw the days before the season, the season's and those after it, each of past years."""
    tmin: list[Array] = []
    tmax: list[Array] = []
    notices: list[str] = []
    years = np.zeros(draws, dtype=np.int64)
    day = first
    for number, days in enumerate(parts):
        if days:
            ahead = weather_futures(
                garden.weather,
                day - pd.Timedelta(days=1),
                days,
                draws=draws,
                seed=seed if number == 1 else [seed, number],
                first_frost=garden.household.first_frost,
                last_frost=garden.household.last_frost,
                latitude=garden.household.latitude,
                elevation_m=garden.household.elevation_m,
                last_day=garden.last_day,
                southern=garden.seasons.southern,
            )
            tmin.append(ahead.tmin_c)
            tmax.append(ahead.tmax_c)
            notices.extend(ahead.notices)
            years = ahead.year if number == 1 else years
        day += pd.Timedelta(days=days)
    said = tuple(dict.fromkeys(notices))
    return np.concatenate(tmin, axis=1), np.concatenate(tmax, axis=1), years, said


def _as_observed(
    weather: pd.DataFrame, first: pd.Timestamp, known: pd.Timestamp, tmin: Array, tmax: Array
) -> tuple[Array, Array]:
    """Put the observed days up to the last day known in the place of drawn ones."""
    # An earlier season's plantings may all be over before the day.
    last = min(known, first + pd.Timedelta(days=tmin.shape[1] - 1))
    days = weather[(weather["kind"] != "forecast") & weather["date"].between(first, last)]
    at = (days["date"] - first).dt.days.to_numpy()
    for drawn, name in ((tmin, "tmin_c"), (tmax, "tmax_c")):
        seen = days[name].to_numpy(float)
        drawn[:, at[np.isfinite(seen)]] = seen[np.isfinite(seen)]
    return tmin, tmax


def _deviation(steps: Array, curve: Curves) -> Array:
    """Mean-reverting deviation of the log rate, shape (days, draws), of mean 1 on the rate."""
    keep = np.exp(-1.0 / MEMORY_DAYS)
    grow = np.sqrt(1.0 - keep**2)
    out = np.empty_like(steps)
    out[0] = steps[0]
    for day in range(1, len(steps)):
        out[day] = keep * out[day - 1] + grow * steps[day]
    return np.asarray(curve.noise_sd * LASTING * out - 0.5 * (curve.noise_sd * LASTING) ** 2)


def _rate(
    option: PlantingOption,
    facts: CropFacts,
    curve: Curves,
    daily: Array,
    base: Array,
    first: pd.Timestamp,
    start: int,
) -> Array:
    """Becoming ready each day of one plant, shape (draws, days), in kg."""
    planted = int((option.date - first).days)
    set_out = option.how == "set_out"
    stands = option.standing or facts.heat_from_new_year
    if stands:
        planted = start
    heat = np.cumsum(daily, axis=1)
    if planted:
        heat = np.maximum(heat - heat[:, planted - 1 : planted], 0.0)
    curves = curve_of(curve.theta) if stands else held_back(curve.theta, curve.least_heat)
    rate = np.exp(base) * bearing(tuple(x[:, None] for x in curves), heat)
    rate[:, :planted] = 0.0
    if not stands:
        rate[:, : planted + least_days(facts, set_out=set_out)] = 0.0
    rate[heat < curve.least_heat[:, None]] = 0.0
    return np.asarray(rate)


def _pick(rate: Array, looked: Flags) -> Array:
    """Return what is picked each day, shape (draws, days): what hangs ripe when somebody looks.

    Nothing spoils here: the level of the curve is that of the picks, losses taken off already.
    """
    picked = np.zeros_like(rate)
    hanging = np.zeros(len(rate))
    busy = np.flatnonzero(rate.any(axis=0))
    if not len(busy):
        return picked
    for day in range(int(busy[0]), min(int(busy[-1]) + 15, rate.shape[1])):
        hanging = hanging + rate[:, day]
        taken = np.where(looked[:, day], (1.0 - LEFT) * hanging, 0.0)
        picked[:, day] = taken
        hanging = hanging - taken
    # The curve never quite ends: picks below a hundredth of the best day are none.
    picked[picked < 0.01 * picked.max(axis=1, keepdims=True)] = 0.0
    return picked


def _ends(picked: Array) -> tuple[Array, Array]:
    """Place of the first pick and of nine tenths of the harvest, shape (draws,); NaN for none."""
    running = np.cumsum(picked, axis=1)
    total = running[:, -1]
    none = total <= 0
    first = np.argmax(picked > 0, axis=1).astype(float)
    last = np.argmax(running >= 0.9 * total[:, None], axis=1).astype(float)
    first[none], last[none] = np.nan, np.nan
    return first, last
