"""Past weeks forecast again: what the page, the summary and the JSON are made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.errors import InputError
from harvestcast.words.amounts import Units

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PastWeeks:
    """A back-test and the settings it is worded by.

    Parameters
    ----------
    place : str
        Where the garden is.
    units : {"us", "metric"}
        Units of the words.
    seasons : tuple of str
        Labels of the seasons forecast again, oldest first.
    scores : pandas.DataFrame
        As :func:`harvestcast.growth.backtest.backtest` returns it with ``by="crop"``.
    by_crop : pandas.DataFrame
        As :func:`against_last_week` returns it.
    unscored : tuple of str
        As :func:`unscored` returns it.
    crop_words : mapping of str to str
        What the household calls its crops: :func:`harvestcast.words.crops.crops_said_as`.
    """

    place: str
    units: Units
    seasons: tuple[str, ...]
    scores: pd.DataFrame
    by_crop: pd.DataFrame
    unscored: tuple[str, ...]
    crop_words: Mapping[str, str] = field(default_factory=dict)


def past_weeks_of(garden: Garden, scores: pd.DataFrame) -> PastWeeks:
    """Put a back-test beside the settings of its garden.

    Parameters
    ----------
    garden : Garden
        The garden it is of.
    scores : pandas.DataFrame
        As :func:`harvestcast.growth.backtest.backtest` returns it with ``by="crop"``.
    """
    years = sorted({garden.seasons.of(day) for day in scores["origin"]})
    return PastWeeks(
        place=garden.household.place or garden.name,
        units=garden.household.units,
        seasons=tuple(garden.seasons.label(year) for year in years),
        scores=scores,
        by_crop=against_last_week(garden, scores),
        unscored=tuple(unscored(garden, scores) if len(scores) else ()),
        crop_words=garden.crop_words,
    )


def forecast_again(
    folder: str | Path,
    *,
    year: int | None = None,
    weeks: int = 1,
    seed: int = 1,
    say: Callable[[str], None] | None = None,
    bar: bool | None = False,
) -> PastWeeks:
    """Open a garden and forecast its past weeks from what was known on their day.

    Parameters
    ----------
    folder : path
        The garden folder.
    year : int, optional
        The season, by the year it begins in; left out: all seasons of the log.
    weeks : int
        Weeks ahead.
    seed : int
        Seed of the draws.
    say : callable, optional
        Told what is being done.
    bar : bool, optional
        Whether a bar shows how far it is.

    Raises
    ------
    harvestcast.errors.InputError
        Where the season has no picks, or no week to score.
    """
    from harvestcast.growth.backtest import backtest
    from harvestcast.records.garden import open_garden
    from harvestcast.report.check import needs_picks

    tell = say or (lambda words: None)
    tell("reading the garden")
    garden = open_garden(folder)
    needs_picks(garden)
    tell("forecasting week after week")
    picks = garden.picks
    some = picks.loc[picks["count"].gt(0) | picks["mass_kg"].gt(0), "date"]
    years: list[int | None] = [year]
    if year is None and len(some):
        years = [*sorted({garden.seasons.of(day) for day in some})]
    parts: list[pd.DataFrame] = []
    for one in years:
        try:
            own = backtest(garden, one, weeks=weeks, by="crop", seed=seed, progress=bar)
        except InputError:  # no full week after the first pick of that season
            if one == years[-1] and not parts:
                raise
        else:
            parts.append(own)
    return past_weeks_of(garden, pd.concat(parts, ignore_index=True))


def against_last_week(garden: Garden, scores: pd.DataFrame) -> pd.DataFrame:
    """Return the errors per crop beside those of "as much as in the last seven days".

    Parameters
    ----------
    garden : Garden
        The household's log.
    scores : pandas.DataFrame
        As :func:`harvestcast.growth.backtest.backtest` returns it with ``by="crop"``.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``forecasts`` (number), ``picked_kg`` (mean a week), ``error_kg`` and
        ``last_week_error_kg`` (mean absolute errors), ``within_80`` (share of weeks within the
        80 % range); the row ``all``, the means over all forecasts of all crops, last.
    """
    from harvestcast.growth.backtest import daily_mass
    from harvestcast.growth.scores import coverage

    if not len(scores):
        return pd.DataFrame(
            columns=["crop", "forecasts", "picked_kg", "error_kg", "last_week_error_kg",
                     "within_80"]
        )  # fmt: skip
    week = pd.Timedelta(days=6)
    daily = daily_mass(garden, scores["origin"].min() - week, scores["origin"].max())
    by_crop = daily.T.groupby(level=0).sum().T
    naive = np.array(
        [
            by_crop.loc[origin - week : origin, crop].sum() if crop in by_crop.columns else 0.0
            for origin, crop in zip(scores["origin"], scores["crop"], strict=True)
        ]
    )
    table = scores.assign(
        error_kg=(scores["observed"] - scores["q50"]).abs(),
        last_week_error_kg=np.abs(scores["observed"].to_numpy(float) - naive),
    )
    made = []
    for crop, own in [*table.groupby("crop", sort=True), ("all", table)]:
        made.append(
            {
                "crop": str(crop),
                "forecasts": len(own),
                "picked_kg": own["observed"].mean(),
                "error_kg": own["error_kg"].mean(),
                "last_week_error_kg": own["last_week_error_kg"].mean(),
                "within_80": coverage(own["observed"], own["q10"], own["q90"]),
            }
        )
    return pd.DataFrame(made)


def unscored(garden: Garden, scores: pd.DataFrame) -> list[str]:
    """Return the crops picked since the first forecast that no scored week is about.

    A crop is forecast from its first pick on, so one brought in on a single day has no week to
    score where it is brought in.

    Parameters
    ----------
    garden : Garden
    scores : pandas.DataFrame
        As for :func:`against_last_week`; not empty.
    """
    picks = garden.picks
    since = scores["origin"].min() - pd.Timedelta(days=6)
    some = picks["date"].ge(since) & (picks["count"].gt(0) | picks["mass_kg"].gt(0))
    until = scores["origin"].max() + pd.Timedelta(days=7)
    named = set(picks.loc[some & picks["date"].le(until), "crop"])
    told = scores.groupby("crop")["observed"].max()
    return sorted(str(crop) for crop in named if not told.get(crop, 0.0) > 0)
