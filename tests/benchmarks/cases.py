"""The weeks to be forecast: which series, which origins, what was known and what came.

A case is one series (a variety, or all varieties of a crop) on one origin: the last day known.
Origins start on the sixth day after the series' first pick of the season, so that the first seven
days of picking are the first week known, and go on every seven days as long as the week to be
forecast lies within the log. Weeks are seven-day blocks that end at the origin. A week without a
row counts as 0 kg: nothing was picked. Two sets of cases:

- ``all``: every such origin;
- ``in_season``: only origins with a pick within the 21 days up to it, which is known then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.growth.backtest import daily_mass
from harvestcast.growth.scores import crps_ensemble

IN_SEASON_DAYS = 21
MIN_PICK_DAYS = 8
MIN_WEEKS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cases:
    """Cases of one garden and year, at one level; arrays run over cases."""

    level: str
    """variety or crop"""
    crop: np.ndarray
    variety: np.ndarray
    origin: np.ndarray
    observed: np.ndarray
    """Picked in the seven days after the origin. [kg]"""
    history: tuple[np.ndarray, ...]
    """Weekly totals up to the origin, oldest first, from the week of the first pick. [kg]"""
    in_season: np.ndarray
    mean_week: np.ndarray
    """Mean observed week over the cases of the series; errors are divided by it. [kg]"""

    def __len__(self) -> int:
        return len(self.observed)

    def where(self, keep: np.ndarray) -> Cases:
        """Return the cases where ``keep`` is true."""
        arrays = {
            name: getattr(self, name)[keep]
            for name in ("crop", "variety", "origin", "observed", "in_season", "mean_week")
        }
        history = tuple(self.history[i] for i in np.flatnonzero(keep))
        return Cases(level=self.level, history=history, **arrays)

    @property
    def series(self) -> np.ndarray:
        """Number of the series each case belongs to."""
        names = pd.Series(list(zip(self.crop, self.variety, strict=True)))
        return pd.factorize(names)[0]


def weekly_cases(
    garden: Any,
    year: int | None,
    level: str = "variety",
    *,
    min_pick_days: int = MIN_PICK_DAYS,
    min_weeks: int = MIN_WEEKS,
    together: bool = False,
) -> Cases:
    """Return the cases of every series with at least so many days of picks and weeks to score.

    ``year`` None: of the whole log. ``together``: weeks of all series end on one weekday, that of
    the garden's first week, so that few origins serve them all.
    """
    dates = garden.picks["date"]
    if year is not None:
        dates = dates[dates.dt.year == year]
    daily = daily_mass(garden, dates.min(), dates.max())
    if level == "crop":
        daily = daily.T.groupby(level="crop").sum().T
        daily.columns = pd.MultiIndex.from_tuples([(c, "all") for c in daily.columns])
    rows, histories = [], []
    for crop, variety in daily.columns:
        kg = daily[crop, variety].to_numpy(float)
        picked = np.flatnonzero(kg > 0)
        if len(picked) < min_pick_days:
            continue
        first = picked[0] // 7 * 7 if together else picked[0]
        origins = np.arange(first + 6, len(kg) - 7, 7)
        if len(origins) < min_weeks:
            continue
        total = np.concatenate([[0.0], np.cumsum(kg)])
        coming = total[origins + 8] - total[origins + 1]
        if coming.mean() == 0:
            continue
        for number, at in enumerate(origins):
            recent = kg[max(0, at - IN_SEASON_DAYS + 1) : at + 1]
            ends = origins[: number + 1] + 1
            histories.append(total[ends] - total[ends - 7])
            rows.append(
                (crop, variety, daily.index[at], coming[number], recent.any(), coming.mean())
            )
    crops, varieties, origin, observed, season, mean = (
        zip(*rows, strict=True) if rows else ([],) * 6
    )
    return Cases(
        level=level,
        crop=np.array(crops, dtype=object),
        variety=np.array(varieties, dtype=object),
        origin=np.array(origin, dtype="datetime64[ns]"),
        observed=np.array(observed, dtype=float),
        history=tuple(histories),
        in_season=np.array(season, dtype=bool),
        mean_week=np.array(mean, dtype=float),
    )


def joined(parts: list[Cases]) -> Cases:
    """Return the cases of several years of one level in one."""
    together = {
        name: np.concatenate([getattr(p, name) for p in parts])
        for name in ("crop", "variety", "origin", "observed", "in_season", "mean_week")
    }
    history = tuple(h for p in parts for h in p.history)
    return Cases(level=parts[0].level, history=history, **together)


def summarise(
    cases: Cases, draws: np.ndarray, points: tuple[np.ndarray, ...], keep: np.ndarray
) -> dict:
    """Return the scores of one forecaster over the cases where ``keep`` is true.

    Parameters
    ----------
    cases : Cases
    draws : ndarray (cases, draws)
        Forecast draws. [kg]
    points : tuple of ndarray (cases,)
        Point forecasts for the absolute error; of several the best counts, each score by itself.
        [kg]
    keep : ndarray of bool (cases,)

    Returns
    -------
    dict
        ``mae`` and ``crps`` are errors divided by the series' mean week, averaged over cases;
        ``mae_so_far`` are divided by the mean week known at the origin; ``mae_series`` and
        ``crps_series`` average within each series first; ``wape`` and
        ``crps_share`` pool kilograms over all cases; ``coverage`` is of the 80 % interval. CRPS is
        of the NRG estimator: the draws are taken as the whole forecast.
    """
    y, d = cases.observed[keep], draws[keep]
    scale, series = cases.mean_week[keep], cases.series[keep]
    so_far = np.array([h.mean() for h in cases.history])[keep]
    errors = [np.abs(y - p[keep]) for p in points]
    crps = crps_ensemble(y, d, estimator="nrg")
    low, high = np.quantile(d, [0.1, 0.9], axis=1)

    def by_series(values: np.ndarray) -> float:
        return pd.Series(values / scale).groupby(series).mean().mean()

    return {
        "mae": min((e / scale).mean() for e in errors),
        "crps": (crps / scale).mean(),
        "mae_so_far": min((e / so_far).mean() for e in errors),
        "mae_series": min(by_series(e) for e in errors),
        "crps_series": by_series(crps),
        "wape": min(e.sum() / y.sum() for e in errors),
        "crps_share": crps.sum() / y.sum(),
        "coverage": ((low <= y) & (y <= high)).mean(),
    }
