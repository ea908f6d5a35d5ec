"""From the garden's frames to arrays: one series per variety growing in the season of a day.

Nothing dated after ``as_of`` is read here: picks, plantings, observed weather.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.errors import InputError, Problem
from harvestcast.growth.almanac import CropFacts, crop_facts
from harvestcast.growth.heat import degree_days

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Array = NDArray[np.float64]
Key = tuple[str, str]

WARMTH_DAYS = 5
"""Days over which heat is averaged before it drives ripening (tuned; see DEVELOPERS.md)."""
FLOOR = 0.5
"""Heat a day's ripening draws on at least, so that cold days slow it but never stop it. [degC d]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """One variety in one season, as far as it is known.

    Parameters
    ----------
    crop, variety : str
        Names as in the frames.
    facts : CropFacts
        The almanac's row with the household's overrides.
    heat : ndarray (plantings, days)
        Heat since each planting, or since the season's start where no date is known. [degC d]
    share : ndarray (plantings, days)
        Share of the plants in each planting while it stands; 0 before planting, after removal.
    daily : ndarray (days,)
        Degree-days of each day. [degC d]
    mass, count : ndarray (days,)
        Picked that day; NaN where nothing was written down. [kg, fruits]
    fruit_kg : float
        Mass of one fruit, learned from days with both, shrunk to the almanac. [kg]
    plants : float
        Plants in all plantings; NaN where unknown.
    set_out : bool
        Whether most plants were set out (else sown).
    dated : bool
        Whether any planting has a date.
    killed : bool
        Whether a killing frost has ended it by the last day.
    counted : bool
        Whether counts were written down for it.
    """

    crop: str
    variety: str
    facts: CropFacts
    heat: Array
    share: Array
    daily: Array
    mass: Array
    count: Array
    fruit_kg: float
    plants: float
    set_out: bool
    dated: bool
    killed: bool
    counted: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Season:
    """All series of one garden in one season up to a day.

    Parameters
    ----------
    dates : DatetimeIndex (days,)
        From the season's start to the last day known.
    series : tuple of Series
        Sorted by crop and variety.
    left_out : DataFrame
        Plantings without a series and why (:data:`harvestcast.frames.LEFT_OUT`).
    weather_filled : int
        Days of the season whose temperatures had to be taken from other years.
    """

    dates: pd.DatetimeIndex
    series: tuple[Series, ...]
    left_out: pd.DataFrame
    weather_filled: int


def season_start(as_of: pd.Timestamp, last_frost: str | None = None) -> pd.Timestamp:
    """Return the first day of the growing season that holds a day.

    The season is the calendar year; where the last frost of spring falls in the second half of
    the year (southern hemisphere) it runs from July to June.

    Examples
    --------
    >>> season_start(pd.Timestamp("2026-02-10"), "10-15")
    Timestamp('2025-07-01 00:00:00')
    """
    if last_frost is not None and int(last_frost[:2]) >= 7:
        year = as_of.year if as_of.month >= 7 else as_of.year - 1
        return pd.Timestamp(year, 7, 1)
    return pd.Timestamp(as_of.year, 1, 1)


def temperatures(
    weather: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp
) -> tuple[Array, Array, int]:
    """Return daily minimum and maximum over a span and how many days had to be filled.

    Days without a record take the mean of the same days of other years (within a week), then of
    the nearest days; without any record at all 10 and 22 degC, so that heat counts days.
    """
    days = pd.date_range(first, last)
    known = weather[(weather["kind"] != "forecast") & (weather["date"] <= last)]
    known = known.drop_duplicates("date", keep="last").set_index("date")[["tmin_c", "tmax_c"]]
    spans = known.reindex(days)
    gaps = spans.isna().any(axis=1).to_numpy()
    filled = int(gaps.sum())
    if filled and len(known):
        doy = pd.DatetimeIndex(known.index).day_of_year.to_numpy()
        table = known.to_numpy(float)
        for row in np.flatnonzero(gaps).tolist():
            away = np.abs(doy - days[row].day_of_year)
            near = np.minimum(away, 365 - away) <= 7
            if near.any():
                spans.iloc[row] = np.nanmean(table[near], axis=0)
        spans = spans.interpolate(limit_direction="both")
    values = spans.to_numpy(float)
    values = np.where(np.isnan(values), np.array([10.0, 22.0]), values)
    return values[:, 0], values[:, 1], filled


def daily_heat(tmin: Array, tmax: Array, facts: CropFacts) -> Array:
    """Return degree-days by the thresholds and the method of a crop (same shape)."""
    return degree_days(
        tmin, tmax, base_c=facts.base_c, upper_c=facts.upper_c, method=facts.heat_method
    )


def log_warmth(daily: Array) -> Array:
    """Return the log of the heat that ripening draws on, a trailing mean along the last axis."""
    padded = np.concatenate((np.repeat(daily[..., :1], WARMTH_DAYS - 1, axis=-1), daily), axis=-1)
    sums = np.cumsum(padded, axis=-1)
    sums = np.concatenate((np.zeros_like(sums[..., :1]), sums), axis=-1)
    mean = (sums[..., WARMTH_DAYS:] - sums[..., :-WARMTH_DAYS]) / WARMTH_DAYS
    return np.log(np.maximum(mean, 0.0) + FLOOR)


def gather(garden: Garden, as_of: pd.Timestamp) -> Season:
    """Gather every variety growing in the season of ``as_of``, with what is known by then.

    Parameters
    ----------
    garden : Garden
    as_of : Timestamp
        Last day known.

    Returns
    -------
    Season
    """
    household = garden.household
    start = season_start(as_of, household.last_frost)
    plantings = garden.plantings
    plantings = plantings[plantings["date"].isna() | (plantings["date"] <= as_of)]
    first = start
    dated = plantings["date"].dropna()
    if len(dated):
        first = min(start, max(dated.min(), start - pd.Timedelta(days=400)))
    picks = garden.picks
    picks = picks[(picks["date"] <= as_of) & (picks["date"] >= start)]
    tmin, tmax, _ = temperatures(garden.weather, first, as_of)
    filled = temperatures(garden.weather, start, as_of)[2]
    days = pd.date_range(first, as_of)
    offset = int((start - first).days)

    mass, count = _by_day(picks, start, as_of)
    keys = sorted({*mass, *_keys(plantings)})
    past_picks = garden.picks[garden.picks["date"] <= as_of]
    rows = dict(list(plantings.groupby(["crop", "variety"], sort=False)))
    built, left = [], []
    for key in keys:
        facts = crop_facts(key[0], household)
        own = rows.get(key)
        daily = daily_heat(tmin, tmax, facts)
        total = np.cumsum(daily)
        made = _plantings_of(own, facts, days, daily, total, start, offset, key in mass)
        if isinstance(made, str):
            if own is not None and made:
                for row in own.itertuples():
                    left.append((key[0], key[1], row.bed, row.date, made))
            continue
        heat, share, plants, set_out, has_date = made
        n_days = len(days) - offset
        m = mass.get(key, np.full(n_days, np.nan))
        c = count.get(key, np.full(n_days, np.nan))
        fruit = _fruit_mass(past_picks, key, facts)
        amount = np.where(np.isnan(m), c * fruit, m)
        built.append(
            Series(
                crop=key[0],
                variety=key[1],
                facts=facts,
                heat=heat,
                share=share,
                daily=daily[offset:],
                mass=amount,
                count=c,
                fruit_kg=fruit,
                plants=plants,
                set_out=set_out,
                dated=has_date,
                killed=_killed(facts, tmin[offset:], share, amount),
                counted=bool(np.isfinite(c).any()),
            )
        )
    return Season(
        dates=days[offset:],
        series=tuple(built),
        left_out=pd.DataFrame(left, columns=["crop", "variety", "bed", "date", "reason"]),
        weather_filled=filled,
    )


def day_of(garden: Garden, as_of: object = None) -> pd.Timestamp:
    """Return the last day known: the one asked for, else the log's last day.

    Raises
    ------
    InputError
        Where no day was asked for and the folder holds none.
    """
    last = garden.last_day if as_of is None else pd.Timestamp(str(as_of))
    if last is None:
        raise InputError(
            [
                Problem(
                    file=garden.name or "garden",
                    rule="there are no picks, no weather and no pantry lines yet, so there is no "
                    "day to forecast from",
                    cure="Write down a pick or put a weather file into the folder",
                )
            ]
        )
    return last.normalize()


def _keys(frame: pd.DataFrame) -> set[Key]:
    return set(zip(frame["crop"].astype(str), frame["variety"].astype(str), strict=True))


def _by_day(
    picks: pd.DataFrame, start: pd.Timestamp, last: pd.Timestamp
) -> tuple[dict[Key, Array], dict[Key, Array]]:
    """Daily sums per variety; a day is NaN unless a row says something about it."""
    days = int((last - start).days) + 1
    mass: dict[Key, Array] = {}
    count: dict[Key, Array] = {}
    if picks.empty:
        return mass, count
    day = (picks["date"] - start).dt.days.to_numpy()
    for key, index in picks.groupby(["crop", "variety"]).indices.items():
        crop, variety = (str(part) for part in key)  # type: ignore[attr-defined]
        rows = picks.iloc[index]
        at = day[index].astype(np.int64)
        kg, number = rows["mass_kg"].to_numpy(float), rows["count"].to_numpy(float)
        # A count of 0 without a weight is a mass of 0: looked and found none.
        kg = np.where(np.isnan(kg) & (number == 0), 0.0, kg)
        number = np.where(np.isnan(number) & (kg == 0), 0.0, number)
        mass[crop, variety] = _sum(kg, at, days)
        count[crop, variety] = _sum(number, at, days)
    return mass, count


def _sum(values: Array, at: NDArray[np.int64], days: int) -> Array:
    known = ~np.isnan(values)
    out = np.full(days, np.nan)
    out[np.unique(at[known])] = 0.0
    np.add.at(out, at[known], values[known])
    # A day where one row lacks the figure is unknown as a whole.
    out[np.unique(at[~known])] = np.nan
    return out


def _fruit_mass(picks: pd.DataFrame, key: Key, facts: CropFacts) -> float:
    """Mass of one fruit: rows with count and weight, shrunk to the crop's, then the almanac's."""
    prior = facts.fruit_kg if np.isfinite(facts.fruit_kg) else 0.05
    both = picks[(picks["crop"] == key[0]) & (picks["count"] > 0) & (picks["mass_kg"] > 0)]
    if both.empty:
        return float(prior)
    number, kg = both["count"].to_numpy(float), both["mass_kg"].to_numpy(float)
    of_crop = (kg.sum() + 5 * prior) / (number.sum() + 5)
    own = (both["variety"] == key[1]).to_numpy()
    return float((kg[own].sum() + 10 * of_crop) / (number[own].sum() + 10))


def _plantings_of(
    own: pd.DataFrame | None,
    facts: CropFacts,
    days: pd.DatetimeIndex,
    daily: Array,
    total: Array,
    start: pd.Timestamp,
    offset: int,
    picked: bool,
) -> tuple[Array, Array, float, bool, bool] | str:
    """Heat, plant shares and numbers of one variety's plantings; or why there is none."""
    since_start = total - (total[offset - 1] if offset else 0.0)
    if own is None:
        n = len(days) - offset
        return since_start[None, offset:], np.ones((1, n)), np.nan, False, False
    heats, stands, numbers, outs = [], [], [], []
    dated = False
    row: Any
    for row in own.itertuples():
        known = not pd.isna(row.date)
        if not known or (facts.perennial and row.date < start):
            heat, alive = since_start[offset:], np.ones(len(days) - offset)
        else:
            at = int((row.date - days[0]).days)
            if at < 0:
                continue
            heat = np.where(np.arange(len(days)) >= at, total - total[at], 0.0)
            if row.date < start and not _carries_over(heat[offset - 1], facts, row.how):
                continue
            heat = heat[offset:]
            alive = (np.arange(offset, len(days)) >= at).astype(float)
            dated = True
        if not pd.isna(row.removed):
            alive = alive * (days[offset:] <= row.removed)
        heats.append(heat)
        stands.append(alive)
        numbers.append(_plants(row, facts))
        outs.append(row.how == "set_out")
    if not heats:
        return (
            ""
            if not picked
            else _plantings_of(None, facts, days, daily, total, start, offset, picked)
        )
    if not dated and not picked and not facts.perennial:
        return "no planting date and not picked yet this season"
    plants = np.array(numbers, dtype=float)
    known_plants = np.isfinite(plants)
    typical = plants[known_plants].mean() if known_plants.any() else 1.0
    weight = np.where(known_plants, plants, typical)
    share = np.array(stands) * (weight / weight.sum())[:, None]
    number = float(weight.sum()) if known_plants.any() else np.nan
    return np.array(heats), share, number, bool(np.mean(outs) >= 0.5), dated


def _carries_over(heat_by_start: float, facts: CropFacts, how: str) -> bool:
    """Whether a planting of last season is still on its way when the new one starts."""
    needed = facts.dd_to_first_pick_set_out if how == "set_out" else facts.dd_to_first_pick
    return not facts.tender and heat_by_start < 0.5 * needed


def _plants(row: Any, facts: CropFacts) -> float:
    if not pd.isna(row.plants) and row.plants > 0:
        return float(row.plants)
    if not pd.isna(row.row_m):
        return float(row.row_m * facts.plants_per_m_row)
    if not pd.isna(row.area_m2):
        return float(row.area_m2 / facts.spacing_m2)
    return np.nan


def _killed(facts: CropFacts, tmin: Array, share: Array, mass: Array) -> bool:
    """Whether a killing frost ended the crop: no pick a week or more after it says otherwise."""
    if not facts.tender:
        return False
    standing = share.sum(axis=0) > 0
    half = np.arange(len(tmin)) > 150  # spring frosts kill no crop that stands in summer
    cold = np.flatnonzero((tmin <= facts.kill_c) & standing & half)
    if not len(cold):
        return False
    return not (np.nan_to_num(mass[cold[0] + 7 :]) > 0).any()
