"""Back-test: what the forecast would have said, week after week, beside what was picked.

At each origin the garden is cut back to what was known that day (:func:`as_known`) before it is
handed to the forecaster, so that nothing later can reach a forecast, whatever the forecaster reads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, NoReturn, Protocol

import numpy as np
import pandas as pd
from tqdm.auto import tqdm

from harvestcast.arrays import Array
from harvestcast.errors import InputError, Problem
from harvestcast.frames import QUANTILES, SCORES, check_frame
from harvestcast.growth.crops.almanac import crop_facts, weighed_and_counted
from harvestcast.growth.forecast import forecast
from harvestcast.growth.scores import crps_ensemble
from harvestcast.records.garden import Garden
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.results import must_be

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from harvestcast.words.amounts import Units

Rows = Literal["in_season", "planted"]
By = Literal["variety", "crop", "both"]

ALL_VARIETIES = "all varieties"
"""What stands in the column ``variety`` of a row that is about a whole crop."""

IN_SEASON_DAYS = 21
"""A series is in season at an origin if it was picked within so many days up to it."""

_DAY = pd.Timedelta(days=1)


class HasDraws(Protocol):
    """What a forecaster returns: an object with the frame :data:`harvestcast.frames.DRAWS`."""

    @property
    def draws(self) -> pd.DataFrame:
        """Possible futures."""
        ...


class Scores(pd.DataFrame):
    """A back-test: an ordinary frame (:data:`harvestcast.frames.SCORES`) that draws itself."""

    @property
    def _constructor(self) -> type[pd.DataFrame]:
        return pd.DataFrame  # a part of a back-test is a frame like any other

    def plot(  # type: ignore[override]
        self, crop: str | None = None, *, units: Units = "metric", ax: Axes | None = None
    ) -> Axes:
        """Draw what was said of the next week of a crop, and what came.

        Parameters
        ----------
        crop : str, optional
            Crop; left out: the one of which most came.
        units : {"us", "metric"}
            Units of the axis.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ValueError
            Where the crop was not scored.
        """
        from harvestcast import figures

        first = self[self["week"] == 1]
        if crop is None and len(first):
            crop = str(first.groupby("crop", observed=True)["observed"].sum().idxmax())
        crop = canonical_crop(crop or "") or crop
        own = first[first["crop"] == crop]
        whole = own[own["variety"] == ALL_VARIETIES]
        variety = ALL_VARIETIES
        if not len(whole) and len(own):
            variety = str(own.groupby("variety", observed=True)["observed"].sum().idxmax())
            whole = own[own["variety"] == variety]
        if not len(whole):
            raise ValueError(f"{crop!r} was not scored")
        title = str(crop).capitalize()
        if variety != ALL_VARIETIES:
            title += f": {variety}"
        drawn = figures.said_and_came(whole, units=units, title=title, ax=ax)
        return figures.in_session(drawn, ax)


def as_known(garden: Garden, day: object) -> Garden:
    """Return the garden as it was known in the evening of a day.

    Later picks, plantings, pantry entries and weather are gone, and with them weather forecasts
    issued later (or without a day of issue, unless the day is no earlier than the garden's last)
    and the days on which plants were pulled out later. Settings and plantings without a date stay:
    ``garden.toml`` keeps no history.

    Parameters
    ----------
    garden : Garden
        The garden.
    day : date-like
        Last day known.

    Returns
    -------
    Garden
    """
    end = pd.Timestamp(day).normalize()  # type: ignore[arg-type]
    plantings = garden.plantings
    plantings = plantings[plantings["date"].isna() | (plantings["date"] <= end)]
    removed = plantings["removed"].where(plantings["removed"] <= end)
    weather = garden.weather
    told = weather["kind"] == "forecast"
    last = garden.last_day
    undated = weather["issued"].isna() & (last is None or end >= last)
    known = np.where(told, (weather["issued"] <= end) | undated, weather["date"] <= end)
    picks, pantry, kitchen = garden.picks, garden.pantry, garden.kitchen
    return replace(
        garden,
        # Where the garden lies was known before there was weather to tell it.
        household=garden.household.model_copy(update={"hemisphere": garden.seasons.hemisphere}),
        picks=picks[picks["date"] <= end].reset_index(drop=True),
        plantings=plantings.assign(removed=removed).reset_index(drop=True),
        weather=weather[known].reset_index(drop=True),
        pantry=pantry[pantry["date"] <= end].reset_index(drop=True),
        kitchen=kitchen[kitchen["date"] <= end].reset_index(drop=True),
    )


def backtest(
    garden: Garden,
    year: int | None = None,
    *,
    origins: Iterable[object] | None = None,
    weeks: int = 1,
    every_days: int = 7,
    rows: Rows = "in_season",
    by: By = "variety",
    draws: int = 400,
    seed: int = 1,
    forecaster: Callable[..., HasDraws] = forecast,
    progress: bool | None = None,
) -> Scores:
    """Forecast a season again and again from what was known, and score each week's total.

    Parameters
    ----------
    garden : Garden
        The garden.
    year : int, optional
        Season to go through, by the year it begins in; left out: that of the last pick.
    origins : iterable of date-like, optional
        Days to forecast on, each the last day known. Left out: every ``every_days`` from the sixth
        day after the season's first pick (``rows="planted"``: from its first planting, where that
        is earlier) as long as the next seven days lie within the records.
    weeks : int
        Weeks ahead to score; week 1 is the seven days after the origin. Weeks that reach beyond the
        garden's last day are left out.
    every_days : int
        Days from one origin to the next.
    rows : {"in_season", "planted"}
        ``in_season`` scores a series at an origin only if it was picked within the 21 days up to
        it; ``planted`` scores every series that is forecast or was picked this season, the long
        weeks of nothing before the first pick and after the last included. Both rules use only what
        was known at the origin.
    by : {"variety", "crop", "both"}
        What a row is about. Rows about crops have ``variety`` "all varieties"; their draws are
        summed over varieties, draw by draw.
    draws, seed : int
        Handed to the forecaster.
    forecaster : callable
        Called as ``forecaster(garden, as_of=..., weeks=..., draws=..., seed=...)`` with the garden
        cut back to the origin; what it returns has a frame ``draws``.
    progress : bool, optional
        Whether to show a progress bar; left out: on a terminal only.

    Returns
    -------
    Scores
        Table :data:`harvestcast.frames.SCORES`, one row an origin, series and week ahead. A week
        without a pick counts as 0 kg: nothing was picked. Picks counted but not weighed are turned
        into kg with the mean fruit of the log, or else the almanac. A series that the forecaster
        leaves out although it is in season counts as a forecast of nothing. CRPS is of the fair
        estimator.

    Raises
    ------
    InputError
        Where the season has no picks, or no full week after an origin.
    ValueError
        For arguments out of range.

    Examples
    --------
    An invented log: okra, 200 g a day for 40 days.

    >>> from harvestcast.records.garden import garden_from_frames
    >>> days = pd.date_range("2026-07-01", periods=40)
    >>> picks = pd.DataFrame({"date": days, "crop": "okra", "mass_kg": 0.2})
    >>> scores = backtest(garden_from_frames(picks=picks), draws=50, progress=False)
    >>> scores["origin"].dt.date.astype(str).tolist()[:2], scores["observed"].round(3).tolist()[:2]
    (['2026-07-07', '2026-07-14'], [1.4, 1.4])
    """
    must_be(garden, Garden, "backtest")
    if min(weeks, every_days) < 1 or draws < 2:
        raise ValueError("weeks and every_days must be at least 1, draws at least 2")
    if rows not in ("in_season", "planted") or by not in ("variety", "crop", "both"):
        raise ValueError(f"rows={rows!r}, by={by!r}: see the choices of each")
    start, end = _season(garden, year)
    picked = daily_mass(garden, start, end)
    if origins is None:
        days = _origins(garden, picked, start, end, every_days, rows)
    else:
        days = [pd.Timestamp(day).normalize() for day in origins]  # type: ignore[arg-type]
    parts = []
    for origin in tqdm(days, desc="back-test", unit="week", leave=False, disable=_quiet(progress)):
        ahead = min(weeks, (end - origin).days // 7)
        names = _in_season(picked, origin)
        if ahead < 1 or (rows == "in_season" and not names):
            continue
        known = as_known(garden, origin)
        outlook = forecaster(known, as_of=origin, weeks=ahead, draws=draws, seed=seed)
        totals = _weekly_draws(outlook.draws, origin, ahead)
        if rows == "planted":
            so_far = picked.loc[:origin]
            names = {*totals, *so_far.columns[(so_far > 0).any()]}
        parts += _scored(totals, picked, origin, ahead, names, draws, by)
    if not parts:
        season = garden.seasons.label(start.year)
        _refuse(season, "has no week to score: no full week of records after an origin")
    return Scores(check_frame(pd.DataFrame(parts, columns=SCORES.names), SCORES))


def daily_mass(garden: Garden, start: pd.Timestamp, end: pd.Timestamp) -> pd.DataFrame:
    """Return what was picked on each day (rows) of each crop and variety (columns). [kg].

    Days without a row are 0. Picks without a weight count with the mean fruit of the variety's rows
    that have both (shrunk to the crop's, and that to the almanac's).
    """
    picks = garden.picks
    days = pd.date_range(start, end)
    out = {}
    for crop, whole in picks.groupby("crop", observed=True):
        facts = crop_facts(str(crop), garden.household)
        for variety, own in whole.groupby("variety", observed=True):
            rows = own[own["date"].between(start, end)]
            if rows.empty:
                continue
            fruit = facts.fruit_mass(weighed_and_counted(whole), weighed_and_counted(own))
            kg = rows["mass_kg"].fillna(rows["count"] * fruit)
            out[str(crop), str(variety)] = kg.groupby(rows["date"]).sum().reindex(days).fillna(0.0)
    columns = pd.MultiIndex.from_tuples(list(out), names=["crop", "variety"])
    return pd.DataFrame(out, index=days, columns=columns, dtype=float)


def _quiet(progress: bool | None) -> bool | None:
    # None lets tqdm decide: it stays silent where the output is no terminal.
    return None if progress is None else not progress


def _refuse(season: str, rule: str) -> NoReturn:
    problem = Problem(
        file="picks.csv",
        value=season,
        rule=f"{f'the season of {season}' if season else 'the log'} {rule}",
        cure="Choose another year, or add its picks.",
    )
    raise InputError([problem])


def _season(garden: Garden, year: int | None) -> tuple[pd.Timestamp, pd.Timestamp]:
    last = garden.last_day
    picks = garden.picks["date"]
    if last is None or picks.empty:
        _refuse("" if year is None else garden.seasons.label(year), "has no picks")
    year = garden.seasons.of(picks.max()) if year is None else year
    start, end = garden.seasons.span(year)
    end = min(end, last)
    if not picks.between(start, end).any():
        _refuse(garden.seasons.label(year), "has no picks")
    return start, end


def _origins(
    garden: Garden,
    picked: pd.DataFrame,
    start: pd.Timestamp,
    end: pd.Timestamp,
    every: int,
    rows: Rows,
) -> list[pd.Timestamp]:
    begun = [day + 6 * _DAY for day in picked.index[(picked > 0).any(axis=1)][:1]]
    if rows == "planted":
        planted = garden.plantings["date"]
        season = planted[planted.between(start, end)]
        begun += season.sort_values().iloc[:1].to_list()
    if not begun:
        _refuse(garden.seasons.label(start.year), "has no picks but empty ones")
    first = min(begun)
    return list(pd.date_range(first, end - 7 * _DAY, freq=f"{every}D"))


def _in_season(picked: pd.DataFrame, origin: pd.Timestamp) -> set[tuple[str, str]]:
    recent = picked.loc[origin - (IN_SEASON_DAYS - 1) * _DAY : origin]
    some = (recent > 0).any()
    return {(str(name[0]), str(name[1])) for name in recent.columns if some[name]}


def _weekly_draws(
    frame: pd.DataFrame, origin: pd.Timestamp, weeks: int
) -> dict[tuple[str, str], Array]:
    """Return each series' weekly totals (weeks, draws)."""
    week = ((frame["date"] - origin).dt.days - 1) // 7
    inside = frame[week.between(0, weeks - 1)].assign(week=week)
    table = inside.pivot_table(
        index=["crop", "variety"],
        columns=["week", "draw"],
        values="mass_kg",
        aggfunc="sum",
        observed=True,
    )
    if table.empty:  # nothing was forecast: no weather yet, or nothing planted
        return {}
    values = table.to_numpy(float).reshape(len(table), weeks, -1)
    return {(str(c), str(v)): row for (c, v), row in zip(table.index, values, strict=True)}


def _scored(
    totals: dict[tuple[str, str], Array],
    picked: pd.DataFrame,
    origin: pd.Timestamp,
    weeks: int,
    names: set[tuple[str, str]],
    draws: int,
    by: By,
) -> list[tuple[object, ...]]:
    observed: dict[tuple[str, str], Array] = {
        (str(name[0]), str(name[1])): picked[name]
        .loc[origin + _DAY :]
        .to_numpy(float)[: 7 * weeks]
        .reshape(weeks, 7)
        .sum(1)
        for name in picked.columns
    }
    nothing_forecast, nothing_picked = np.zeros((weeks, draws)), np.zeros(weeks)
    jobs: list[tuple[str, str, Array, Array]] = []
    if by in ("variety", "both"):
        jobs += [
            (*name, totals.get(name, nothing_forecast), observed.get(name, nothing_picked))
            for name in sorted(names)
        ]
    if by in ("crop", "both"):
        for crop in sorted({name[0] for name in names}):
            whole = sum((d for n, d in totals.items() if n[0] == crop), nothing_forecast)
            came = sum((y for n, y in observed.items() if n[0] == crop), nothing_picked)
            jobs.append((crop, ALL_VARIETIES, whole, came))
    scored: list[tuple[object, ...]] = []
    for crop, variety, d, y in jobs:
        crps = crps_ensemble(y, d)
        q = np.quantile(d, QUANTILES, axis=1)
        scored += [
            (origin, crop, variety, w + 1, y[w], d[w].mean(), *q[:, w], crps[w])
            for w in range(weeks)
        ]
    return scored
