"""Possible weather of the coming days: the weather forecast first, then past years as scenarios.

What the record's last days and weeks say fades into a climate
(:mod:`harvestcast.growth.future.climate`). Where past years are enough each draw takes the days of
one of them, in their own order, so that warm spells and frosts keep their length and their place in
the season; they are moved, all alike, by what the last days say of the next. All crops share the
weather of a draw.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.future.climate import Place, climate_draws, climate_given
from harvestcast.growth.log.stand import day_numbers
from harvestcast.growth.messages import MESSAGES
from harvestcast.words.messages import say

Source = Literal["past_years", "climate"]

ENOUGH_YEARS = 8
"""With fewer past years than this, a climate learned from them stands in."""
FADING_DAYS = 30.0
"""Days in which the move of past years by this season's last days falls to 1/e. [d]"""

LONGEST_GAP = 5
"""Missing days in a row that are bridged by straight lines inside a past year."""


class WeatherFutures(NamedTuple):
    """Possible weather of the days after ``as_of``; row ``i`` belongs to draw ``i`` of all crops.

    Unpacks as ``tmin_c, tmax_c, year, ...``.
    """

    tmin_c: Array
    """Shape (draws, days). [degC]"""
    tmax_c: Array
    """Shape (draws, days). [degC]"""
    year: Index
    """Past year each draw took its days from (the year of the first day); 0 for a climate."""
    dates: pd.DatetimeIndex
    """The days."""
    forecast: Flags
    """Shape (days,): whether the weather forecast gave the day."""
    source: Source
    """Where days beyond the weather forecast come from."""
    notices: tuple[str, ...]
    """What was odd and what was done about it."""


def weather_futures(
    weather: pd.DataFrame,
    as_of: object,
    days: int,
    *,
    draws: int,
    seed: int | Sequence[int],
    first_frost: str | None = None,
    last_frost: str | None = None,
    latitude: float | None = None,
    elevation_m: float | None = None,
    last_day: object | None = None,
    southern: bool | None = None,
) -> WeatherFutures:
    """Draw possible weather for the days after ``as_of``.

    Parameters
    ----------
    weather : pandas.DataFrame
        Table :data:`harvestcast.frames.WEATHER`. Of its observed and filled days only those up to
        ``as_of`` are read; of its forecasts those issued by then.
    as_of : date-like
        Last day known.
    days : int
        How many days to draw, from 1.
    draws : int
        How many possible futures.
    seed : int
        Seed of the random assignment of years to draws.
    first_frost, last_frost : str, optional
        The household's usual first frost of autumn and last of spring, ``MM-DD``. With latitude and
        elevation they say what is expected of the climate before the record does, where past years
        are few, and are not used otherwise.
    latitude : float, optional
        Of the garden, south negative. [degrees]
    elevation_m : float, optional
        Of the garden; says something only beside a latitude. [m]
    last_day : date-like, optional
        Last day of the garden's records. A weather forecast without a day of issue counts as
        issued then. Left out: the last observed day of ``weather``.
    southern : bool, optional
        Whether the garden lies south of the equator, where no latitude is given; left out: by the
        frost dates.

    Returns
    -------
    WeatherFutures

    Raises
    ------
    ValueError
        For fewer than one day or draw.

    Notes
    -----
    A past year can serve where it has every one of the days, at most five missing in a row. Years
    are dealt out evenly over the draws, and moved by the gap between their mean and what the
    climate and the record's last days lead one to expect, which fades within weeks. Days run on
    from the same month and day as the first one (29 February: from 28 February in other years), so
    a leap day inside the span moves the rest by a day. With fewer than eight such years the weather
    is drawn from :func:`harvestcast.growth.future.climate.climate_draws`, which is said in
    ``notices``.

    Examples
    --------
    >>> days = pd.date_range("2015-01-01", "2026-06-30")
    >>> weather = pd.DataFrame({"date": days, "tmin_c": 12.0, "tmax_c": 24.0, "kind": "observed",
    ...                         "issued": pd.NaT})
    >>> ahead = weather_futures(weather, "2026-06-30", 14, draws=100, seed=1)
    >>> ahead.tmin_c.shape, ahead.source, len(set(ahead.year))
    ((100, 14), 'past_years', 11)
    """
    if days < 1 or draws < 1:
        raise ValueError(f"days and draws must be at least 1, not {days} and {draws}")
    day = pd.Timestamp(as_of).normalize()  # type: ignore[arg-type]
    dates = pd.date_range(day + pd.Timedelta(days=1), periods=days)
    known = (weather["kind"] != "forecast").to_numpy(bool)
    record = _daily(weather, known & (weather["date"] <= day).to_numpy(bool))
    rng = np.random.default_rng(seed)
    notices: list[str] = []
    source: Source = "past_years"
    years, blocks = _past_blocks(record, dates)
    place = Place(latitude, elevation_m, first_frost, last_frost, southern)
    if len(years) >= ENOUGH_YEARS:
        pick = _deal(len(years), draws, rng)
        gap = climate_given(record, dates, place)[0].middle - blocks.mean(axis=(0, 2))
        move = gap * np.exp(-np.arange(len(dates)) / FADING_DAYS)
        values, year = blocks[pick] + move[:, None], years[pick]
    else:
        source = "climate"
        values = climate_draws(record, dates, draws=draws, rng=rng, place=place)
        year = np.zeros(draws, dtype=np.int64)
        known_by = [
            *(["the days on record"] if len(record) else []),
            *(["the latitude in garden.toml"] if latitude is not None else []),
            *(["the frost dates in garden.toml"] if first_frost or last_frost else []),
        ]
        few = MESSAGES["weather.few_years"]
        facts = {"years": len(years), "known": tuple(known_by)}
        notices.append(f"{say(few.text, facts)} {say(few.cure, facts)}")
    if last_day is None:
        last = weather.loc[known, "date"].max() if known.any() else day
    else:
        last = pd.Timestamp(last_day)  # type: ignore[arg-type]
    given = _forecast_days(weather[~known], day, last, dates)
    told = np.asarray(~np.isnan(given).any(axis=1), dtype=bool)
    values = values.copy()
    values[:, told] = given[told]
    tmin, tmax = values[..., 0], values[..., 1]
    return WeatherFutures(tmin, tmax, year, dates, told, source, tuple(notices))


def killing_frost(ahead: WeatherFutures, kill_c: float) -> Index:
    """Return for each draw on which day a frost kills: its position, or ``days`` where none does.

    Parameters
    ----------
    ahead : WeatherFutures
        Possible weather.
    kill_c : float
        Daily minimum at or below which the crop dies. [degC]

    Returns
    -------
    numpy.ndarray
        Shape (draws,), 0 to ``days``.

    Examples
    --------
    >>> days = pd.date_range("2015-01-01", "2026-06-30")
    >>> weather = pd.DataFrame({"date": days, "tmin_c": 12.0, "tmax_c": 24.0, "kind": "observed",
    ...                         "issued": pd.NaT})
    >>> ahead = weather_futures(weather, "2026-06-30", 14, draws=3, seed=1)
    >>> killing_frost(ahead, -1.0).tolist()
    [14, 14, 14]
    """
    frost = ahead.tmin_c <= kill_c
    return np.where(frost.any(axis=1), frost.argmax(axis=1), frost.shape[1]).astype(np.int64)


def _daily(weather: pd.DataFrame, used: Flags) -> pd.DataFrame:
    """Return one row for every day from the first to the last, short gaps bridged."""
    if not used.any():
        return pd.DataFrame({"tmin_c": [], "tmax_c": []}, index=pd.DatetimeIndex([]), dtype=float)
    at = day_numbers(weather["date"])[0][used]
    first = int(at.min())
    values = np.full((int(at.max()) - first + 1, 2), np.nan)
    # Of two rows of one day the last one counts.
    values[at - first] = weather[["tmin_c", "tmax_c"]].to_numpy(float)[used]
    every = pd.date_range(pd.Timestamp(first, unit="D"), periods=len(values))
    whole = pd.DataFrame(values, index=every, columns=["tmin_c", "tmax_c"])
    if not np.isnan(values).any():
        return whole
    missing = whole.isna().any(axis=1)
    run = missing.groupby((~missing).cumsum()).transform("sum")
    bridged = whole.interpolate(limit_area="inside")
    bridged[missing & (run > LONGEST_GAP)] = np.nan
    return bridged


def _first_day(dates: pd.DatetimeIndex, year: int) -> pd.Timestamp:
    first = dates[0]
    if (first.month, first.day) == (2, 29) and not pd.Timestamp(year, 1, 1).is_leap_year:
        return pd.Timestamp(year, 2, 28)
    return pd.Timestamp(year, first.month, first.day)


def _past_blocks(record: pd.DataFrame, dates: pd.DatetimeIndex) -> tuple[Index, Array]:
    """Return the past years that have all the days, and their (years, days, 2) temperatures."""
    years, blocks = [], []
    table = record.to_numpy(float)
    if len(table):
        for year in range(record.index[0].year - 1, dates[0].year):
            at = (_first_day(dates, year) - record.index[0]).days
            block = table[at : at + len(dates)] if at >= 0 else table[:0]
            if len(block) == len(dates) and not np.isnan(block).any():
                years.append(year)
                blocks.append(block)
    if not years:
        return np.zeros(0, dtype=np.int64), np.zeros((0, len(dates), 2))
    return np.array(years, dtype=np.int64), np.stack(blocks)


def _deal(choices: int, draws: int, rng: np.random.Generator) -> Index:
    """Deal choices out evenly, each round in a random order of its own."""
    rounds = -(-draws // choices)
    return np.concatenate([rng.permutation(choices) for _ in range(rounds)])[:draws]


def _forecast_days(
    rows: pd.DataFrame, as_of: pd.Timestamp, last_day: pd.Timestamp, dates: pd.DatetimeIndex
) -> Array:
    """Return (days, 2) temperatures of the latest forecast issued by ``as_of``; NaN elsewhere."""
    if rows.empty:
        return np.full((len(dates), 2), np.nan)
    issued = rows["issued"].fillna(last_day)
    usable = rows.assign(issued=issued)[(issued <= as_of) & rows["date"].isin(dates)]
    latest = usable.sort_values("issued", kind="stable").drop_duplicates("date", keep="last")
    return latest.set_index("date")[["tmin_c", "tmax_c"]].reindex(dates).to_numpy(float)
