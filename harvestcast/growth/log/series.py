"""From the garden's frames to arrays: one series per variety growing in the season of a day.

Nothing dated after ``as_of`` is read here: picks, plantings, observed weather.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.errors import InputError, Problem
from harvestcast.growth.crops.almanac import CropFacts, crop_facts, daily_heat
from harvestcast.growth.crops.cover import at_the_plants, weather_is_inside
from harvestcast.growth.log.doubt import doubted_days
from harvestcast.growth.log.stand import (
    Key,
    day_number,
    day_numbers,
    frosted,
    plantings_by_key,
    stand_of,
)
from harvestcast.growth.messages import MESSAGES
from harvestcast.words.messages import say

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


WARMTH_DAYS = 5
"""Days over which heat is averaged before it drives ripening (tuned; see DEVELOPERS.md)."""
FLOOR = 0.5
"""Heat a day's ripening draws on at least, so that cold days slow it but never stop it. [degC d]"""
EARLIEST_DAYS = 400
"""Days before the season's start from which heat is added up at most, for what was planted then."""
QUIET_DAYS, LEAD_DAYS = 28, 120
"""Days without a pick that part two seasons, and days before its first pick at which one that
crosses the usual start begins at the earliest."""
FAR_OFF, ENOUGH_PIECES = 6.0, 4
"""Times the usual mass of a piece from which a row says nothing of it, and rows from which on there
is a usual one (our judgement: an overgrown zucchini weighs four times a good one)."""
NO_WEATHER = "weather.none"
"""Why every planting is left out where no day of weather was observed."""


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
        Degree-days of each day, in the mean of the plants that stand. [degC d]
    covered : ndarray (plantings,)
        Whether each planting stands under cover.
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
    frosted_days : int
        Days since the killing frost that ended it, that day included; 0 while it lives.
    counted : bool
        Whether counts were written down for it.
    doubted : int
        Days whose amount cannot be meant and counts as unknown
        (:mod:`harvestcast.growth.log.doubt`).
    """

    crop: str
    variety: str
    facts: CropFacts
    heat: Array
    share: Array
    daily: Array
    covered: Flags
    mass: Array
    count: Array
    fruit_kg: float
    plants: float
    set_out: bool
    dated: bool
    frosted_days: int
    counted: bool
    doubted: int = 0

    @property
    def from_stand(self) -> bool:
        """Whether it is taken from a stand as it is wanted (leaves, roots), not as it ripens."""
        return self.facts.habit in ("cut_again", "once_over")

    @property
    def over(self) -> bool:
        """Whether frost or the gardener has ended it: a few fruits are left, and no more come."""
        return self.frosted_days > 0 or not self.share[:, -1].any()


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
    unlogged : int
        Days of the season before the garden's first row of all, of which nothing is known; 0 where
        no row was written yet.
    inside : bool
        Whether the weather is that of the house everything stands in.
    """

    dates: pd.DatetimeIndex
    series: tuple[Series, ...]
    left_out: pd.DataFrame
    weather_filled: int
    unlogged: int
    inside: bool = False

    @property
    def crop(self) -> Index:
        """Which crop each series is of, 0 to the number of crops less 1 (series,)."""
        return np.unique([s.crop for s in self.series], return_inverse=True)[1]


def until(season: Season, back: int) -> Season:
    """Return a season as it was known so many days before its last one, from 1.

    What a fruit weighs and which amounts cannot be meant are as known now.
    """
    series = tuple(
        replace(
            s,
            heat=s.heat[:, :-back],
            share=s.share[:, :-back],
            daily=s.daily[:-back],
            mass=s.mass[:-back],
            count=s.count[:-back],
            frosted_days=max(s.frosted_days - back, 0),
        )
        for s in season.series
    )
    return replace(season, dates=season.dates[:-back], series=series)


def quiet_start(picks: pd.DataFrame, start: pd.Timestamp, as_of: pd.Timestamp) -> pd.Timestamp:
    """Return the first day of a crop's season, moved back where picking crosses its usual one.

    A winter crop is picked over New Year, and without a winter any crop: there its season begins
    after the last four weeks without a pick, :data:`LEAD_DAYS` before its first pick at most.

    Parameters
    ----------
    picks : DataFrame
        Table :data:`harvestcast.frames.PICKS` of the crop, up to the last day known.
    start : Timestamp
        First day of the season as the calendar has it.
    as_of : Timestamp
        Last day known.

    Examples
    --------
    >>> days = pd.to_datetime(["2025-11-20", "2025-12-10", "2026-01-02"])
    >>> picks = pd.DataFrame({"date": days, "count": 1.0, "mass_kg": 0.5})
    >>> quiet_start(picks, pd.Timestamp("2026-01-01"), pd.Timestamp("2026-01-05"))
    Timestamp('2025-07-23 00:00:00')
    """
    some = (picks["count"].gt(0) | picks["mass_kg"].gt(0)).to_numpy(bool)
    day = np.unique(day_numbers(picks["date"])[0][some])
    first = day_number(start)
    before, after = day[day < first], day[day >= first]
    # Until four weeks without a pick have gone by, nobody can say that a season has ended.
    until = after[0] if len(after) else day_number(as_of)
    if not len(before) or until - before[-1] >= QUIET_DAYS:
        return start
    gaps = np.flatnonzero(np.diff(before) >= QUIET_DAYS)
    run = before[gaps[-1] + 1] if len(gaps) else before[0]
    earliest = before[gaps[-1]] + 1 if len(gaps) else run - LEAD_DAYS
    moved = max(earliest, run - LEAD_DAYS, first - EARLIEST_DAYS)
    return pd.Timestamp(int(moved), unit="D")


def _starts(
    picks: pd.DataFrame, usual: pd.Timestamp, as_of: pd.Timestamp
) -> dict[str, pd.Timestamp]:
    """Return the first day of each crop's season: kale of the winter moves no tomatoes."""
    return {
        str(crop): quiet_start(rows, usual, as_of)
        for crop, rows in picks.groupby("crop", observed=True)
    }


def _later(values: Array, late: int, before: float) -> Array:
    """Return values along the last axis with so many days before them."""
    width = [(0, 0)] * (values.ndim - 1) + [(late, 0)]
    return np.pad(values, width, constant_values=before)


def temperatures(
    weather: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp
) -> tuple[Array, Array, int]:
    """Return daily minimum and maximum over a span and how many days had to be filled.

    Days without a record take the mean of the same days of other years (within a week), then of
    the nearest days; without any record at all 10 and 22 degC, so that heat counts days.
    """
    tmin, tmax, gaps = _temperatures(weather, first, last)
    return tmin, tmax, int(gaps.sum())


def _temperatures(
    weather: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp
) -> tuple[Array, Array, Flags]:
    start, end = day_number(first), day_number(last)
    day = day_numbers(weather["date"])[0]
    usable = (weather["kind"] != "forecast").to_numpy(bool) & (day <= end)
    day, table = day[usable], weather[["tmin_c", "tmax_c"]].to_numpy(float)[usable]
    values = np.full((end - start + 1, 2), np.nan)
    inside = day >= start
    values[day[inside] - start] = table[inside]  # of two rows of one day the last one counts
    gaps = np.isnan(values).any(axis=1)
    if gaps.any() and len(day):
        doy = pd.DatetimeIndex(day.astype("datetime64[D]")).day_of_year.to_numpy()
        own = pd.date_range(first, last).day_of_year.to_numpy()
        for row in np.flatnonzero(gaps).tolist():
            away = np.abs(doy - own[row])
            near = np.minimum(away, 365 - away) <= 7
            if near.any():
                values[row] = np.nanmean(table[near], axis=0)
        values = pd.DataFrame(values).interpolate(limit_direction="both").to_numpy(float)
    values = np.where(np.isnan(values), np.array([10.0, 22.0]), values)
    return values[:, 0], values[:, 1], gaps


def _any_observed(weather: pd.DataFrame, last: int) -> bool:
    """Whether any day up to the last one has both temperatures on record, not as a forecast."""
    observed = (weather["kind"] != "forecast").to_numpy(bool)
    observed &= day_numbers(weather["date"])[0] <= last
    return bool(np.isfinite(weather[["tmin_c", "tmax_c"]].to_numpy(float)[observed]).all(1).any())


def log_warmth(daily: Array) -> Array:
    """Return the log of the heat that ripening draws on, a trailing mean along the last axis."""
    padded = np.concatenate((np.repeat(daily[..., :1], WARMTH_DAYS - 1, axis=-1), daily), axis=-1)
    sums = np.cumsum(padded, axis=-1)
    sums = np.concatenate((np.zeros_like(sums[..., :1]), sums), axis=-1)
    mean = (sums[..., WARMTH_DAYS:] - sums[..., :-WARMTH_DAYS]) / WARMTH_DAYS
    return np.log(np.maximum(mean, 0.0) + FLOOR)


def gather(garden: Garden, as_of: pd.Timestamp, begun: pd.Timestamp | None = None) -> Season:
    """Gather every variety growing in the season of ``as_of``, with what is known by then.

    Parameters
    ----------
    garden : Garden
    as_of : Timestamp
        Last day known.
    begun : Timestamp, optional
        First day of the season; left out: the usual one, or that of :func:`quiet_start`.

    Returns
    -------
    Season
        Where not one day of weather was observed by then, heat would be invented: no series, and
        everything growing is left out with the code :data:`NO_WEATHER`.
    """
    household = garden.household
    picks = garden.picks
    usual = garden.seasons.start(as_of) if begun is None else begun
    starts = _starts(picks[picks["date"] <= as_of], usual, as_of) if begun is None else {}
    start = min(starts.values(), default=usual)
    beds = plantings_by_key(garden.plantings, day_number(as_of))
    dated = [row.day for rows in beds.values() for row in rows if row.day is not None]
    season, last = day_number(start), day_number(as_of)
    first = min(season, max(min(dated), season - EARLIEST_DAYS)) if dated else season
    tmin, tmax, gaps = _temperatures(
        garden.weather, start - pd.Timedelta(days=season - first), as_of
    )
    offset, days = season - first, last - season + 1
    log = _read_log(picks, season, last)
    places = {c: at_the_plants(garden, tmin, tmax, covered=c) for c in (False, True)}
    heat: dict[tuple[float, float | None, str, bool], tuple[Array, Array]] = {}

    def heat_of(facts: CropFacts, covered: bool) -> tuple[Array, Array]:
        """Return each day's heat, and its sum, where a crop stands."""
        limits = (facts.base_c, facts.upper_c, facts.heat_method, covered)
        if limits not in heat:
            by_day = daily_heat(facts, *places[covered])
            heat[limits] = by_day, np.cumsum(by_day)
        return heat[limits]

    built: list[Series] = []
    left: list[tuple[object, ...]] = []
    unheated = not _any_observed(garden.weather, last)
    for key in sorted({*log.mass, *beds}):
        facts = crop_facts(key[0], household)
        own = beds.get(key)
        daily, total = heat_of(facts, False)
        # What nobody covered asks for no heat under cover.
        cover_daily, cover_total = heat_of(facts, any(row.covered for row in own or ()))
        # What its own season does not hold yet is as unknown as the days before a sowing.
        late = day_number(starts.get(key[0], usual)) - season
        mass = log.mass.get(key, np.full(days, np.nan))[late:]
        count = log.counts.get(key, np.full(days, np.nan))[late:]
        picked = bool((np.isfinite(mass) | np.isfinite(count)).any())
        stand = stand_of(own, facts, first, total, cover_total, tmin, offset + late, picked)
        if unheated and stand:
            listed = [(row.bed, row.date) for row in own or ()] or [(pd.NA, pd.NaT)]
            left.extend((*key, *planting, NO_WEATHER) for planting in listed)
            continue
        if isinstance(stand, str):
            if stand:  # the code of a message
                left.extend((*key, row.bed, row.date, stand) for row in own or ())
            continue
        fruit = log.fruit_mass(key, facts)
        amount = np.where(np.isnan(mass), count * fruit, mass)
        if key in log.apart:
            weighed, rest = (values[late:] for values in log.apart[key])
            amount = np.where(np.isnan(amount), weighed + rest * fruit, amount)
        doubted = doubted_days(amount, facts, stand.plants)
        amount[doubted] = np.nan
        share, since_frost = frosted(facts, tmin[offset + late :], stand, amount)
        share = _later(share, late, 0.0)
        part = covered_part(share, stand.covered)
        built.append(
            Series(
                crop=key[0],
                variety=key[1],
                facts=facts,
                heat=_later(stand.heat, late, 0.0),
                share=share,
                daily=(1.0 - part) * daily[offset:] + part * cover_daily[offset:],
                covered=stand.covered,
                mass=_later(amount, late, np.nan),
                count=_later(count, late, np.nan),
                fruit_kg=fruit,
                plants=stand.plants,
                set_out=stand.set_out,
                dated=stand.dated,
                frosted_days=since_frost,
                counted=bool(np.isfinite(count).any()),
                doubted=int(doubted.sum()),
            )
        )
    return Season(
        dates=pd.date_range(start, as_of),
        series=tuple(built),
        left_out=pd.DataFrame(left, columns=["crop", "variety", "bed", "date", "code"]).assign(
            reason=[say(MESSAGES[str(row[-1])].text, {}) for row in left]
        ),
        weather_filled=int(gaps[offset:].sum()),
        unlogged=log.unlogged,
        inside=weather_is_inside(garden),
    )


def covered_part(share: Array, covered: Flags) -> Array:
    """Return the part of the standing plants that is under cover (days,).

    Parameters
    ----------
    share : ndarray (plantings, days)
    covered : ndarray of bool (plantings,)

    Returns
    -------
    ndarray (days,)
        On days on which nothing stands, as on the last one before; before the first, as on it.
    """
    if covered.all() or not covered.any():
        return np.full(share.shape[1], float(covered.all()))
    standing = share.sum(axis=0)
    days = np.flatnonzero(standing > 0)
    if not len(days):
        return np.full(share.shape[1], float(covered.mean()))
    part = share[covered].sum(axis=0)[days] / standing[days]
    at = np.searchsorted(days, np.arange(share.shape[1]), side="right") - 1
    return part[np.maximum(at, 0)]


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


class _Log(NamedTuple):
    """Picks by day, and rows with both count and weight added up per crop and per variety.

    ``apart`` is for days on which some rows are weighed only and others counted only, so that
    neither figure holds for the whole day: the weight of all that are weighed, the count of the
    others.
    """

    mass: dict[Key, Array]
    counts: dict[Key, Array]
    apart: dict[Key, tuple[Array, Array]]
    of_crop: dict[str, tuple[float, float]]
    of_key: dict[Key, tuple[float, float]]
    unlogged: int

    def fruit_mass(self, key: Key, facts: CropFacts) -> float:
        """Mass of one fruit: rows with count and weight, shrunk to the crop's, the almanac's."""
        return facts.fruit_mass(
            self.of_crop.get(key[0], (0.0, 0.0)), self.of_key.get(key, (0.0, 0.0))
        )


def _read_log(picks: pd.DataFrame, start: int, last: int) -> _Log:
    """Daily sums per variety; a day is NaN unless a row says something about it."""
    at = day_numbers(picks["date"])[0] - start
    until = at <= last - start
    at = at[until]
    kg = picks["mass_kg"].to_numpy(float)[until]
    number = picks["count"].to_numpy(float)[until]
    names = zip(
        picks["crop"].astype(object)[until], picks["variety"].astype(object)[until], strict=True
    )
    rows: dict[Key, list[int]] = {}
    for row, (crop, variety) in enumerate(names):
        rows.setdefault((str(crop), str(variety)), []).append(row)
    mass: dict[Key, Array] = {}
    count: dict[Key, Array] = {}
    apart: dict[Key, tuple[Array, Array]] = {}
    of_crop: dict[str, tuple[float, float]] = {}
    of_key: dict[Key, tuple[float, float]] = {}
    # A count of 0 without a weight is a mass of 0: looked and found none.
    kg_said = np.where(np.isnan(kg) & (number == 0), 0.0, kg)
    number_said = np.where(np.isnan(number) & (kg == 0), 0.0, number)
    unweighed = np.isnan(kg_said)
    weighed = np.where(unweighed & ~np.isnan(number_said), 0.0, kg_said)
    rest = np.where(unweighed, number_said, 0.0)
    both = (number > 0) & (kg > 0)
    days = last - start + 1
    for key, listed in rows.items():
        index = np.array(listed)
        double = index[both[index]]
        double = double[_can_be_meant(kg[double] / number[double])]
        if len(double):
            sums = float(kg[double].sum()), float(number[double].sum())
            of_key[key] = sums
            crop_kg, crop_number = of_crop.get(key[0], (0.0, 0.0))
            of_crop[key[0]] = crop_kg + sums[0], crop_number + sums[1]
        index = index[at[index] >= 0]
        if len(index):
            mass[key] = _sum(kg_said[index], at[index], days)
            count[key] = _sum(number_said[index], at[index], days)
            apart[key] = _sum(weighed[index], at[index], days), _sum(rest[index], at[index], days)
    unlogged = max(int(at.min()), 0) if len(at) else 0
    return _Log(mass, count, apart, of_crop, of_key, unlogged)


def _can_be_meant(piece: Array) -> Flags:
    """Return which masses of a piece lie near enough to the others of a variety.

    One weight typed in grams would else make every fruit of it a hundredweight.
    """
    if len(piece) < ENOUGH_PIECES:
        return np.ones(len(piece), dtype=bool)
    return np.asarray(np.abs(np.log(piece / np.median(piece))) < np.log(FAR_OFF))


def _sum(values: Array, at: Index, days: int) -> Array:
    known = ~np.isnan(values)
    out = np.full(days, np.nan)
    out[at[known]] = 0.0
    np.add.at(out, at[known], values[known])
    # A day where one row lacks the figure is unknown as a whole.
    out[at[~known]] = np.nan
    return out
