"""Trials over many gardens: which variety does best where gardens, seasons and luck differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import norm

from harvestcast.frames import CHECKS, check_frame
from harvestcast.frames.gardens_tables import TRIAL, TRIAL_SPREADS, TRIAL_VALUES
from harvestcast.frames.season_tables import MEASURES
from harvestcast.gardens.mixed import Fitted, Layout, Trial, fit, lay_out, marginal_sd
from harvestcast.records.typed.varieties import UNNAMED, variety_key
from harvestcast.results import Result
from harvestcast.season.yields.learned import LOGIT

POOLED: tuple[str, ...] = tuple(name for name in MEASURES if name not in LOGIT)
"""Measures that can be pooled. Shares cannot: a share of none has no log odds without the number
of fruits behind it, and leaving such gardens out would favour the varieties that have them."""

_WIDTH = float(norm.ppf(0.95) - norm.ppf(0.05))
_FAR, _ENOUGH = 0.2, 30
"""Log ratio of spreads that is noticed (a fifth; our judgement), and values it needs."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class PooledTrial(Result):
    """What many gardens say of the varieties of each crop.

    Parameters
    ----------
    measure : str
        What was compared.
    table : DataFrame
        TRIAL: one row a variety; unknown figures where too few gardens grew it.
    spreads : DataFrame
        TRIAL_SPREADS: how far gardens, seasons and their combinations with varieties differ.
    values : DataFrame
        TRIAL_VALUES: what went in.
    checks : DataFrame
        CHECKS: whether values that call themselves sure lie as near to their variety's mean as
        they should, and unsure ones as far. Where not, intervals are too narrow or too wide.
    """

    measure: str
    table: pd.DataFrame
    spreads: pd.DataFrame
    values: pd.DataFrame
    checks: pd.DataFrame

    def _brief(self) -> str:
        return f"{self.measure!r}, {len(self.table)} varieties"

    def _table(self) -> pd.DataFrame:
        return self.table


def trial_values(varieties: pd.DataFrame, measure: str = "kg_per_plant") -> pd.DataFrame:
    """Return what every garden showed of its varieties, with its own uncertainty.

    A garden's review pulls its varieties towards each other, as it must with a few plants of
    each; pooled over gardens that pull would add up. So the value is what was logged, and its
    standard deviation is how far one planting lies from what it stands for: the variance of "one
    more planting" less that of the expected value, over the number of plantings. On the
    logarithmic scale the mean over plantings lies half a variance above the mean of their logs.

    Parameters
    ----------
    varieties : DataFrame
        GARDEN_VARIETIES: ``varieties`` of :class:`harvestcast.gardens.run.GardensResult`.
        Seasons should be over: a late variety looks poor at mid-season.
    measure : str
        One of :data:`POOLED`.

    Returns
    -------
    DataFrame
        TRIAL_VALUES. Picks without a variety are left out; names spelt alike but for
        capitals, accents, marks and spaces are one variety, written as most gardens write it.
    """
    if measure not in POOLED:
        raise ValueError(f"measure must be one of {', '.join(POOLED)}, not {measure!r}")
    rows = varieties[(varieties["measure"] == measure) & (varieties["seen"] > 0)]
    rows = rows[(rows["variety"] != UNNAMED) & (rows["q05"] > 0) & (rows["again_q05"] > 0)]
    expected = np.log(rows["q95"] / rows["q05"]) / _WIDTH
    again = np.log(rows["again_q95"] / rows["again_q05"]) / _WIDTH
    # Both stand on a few hundred draws; their difference must not vanish by luck.
    one = np.maximum(again**2 - expected**2, (0.25 * again) ** 2)
    variance = one / np.maximum(rows["plantings"], 1)
    found = rows[["garden", "year", "crop", "variety", "measure"]].assign(
        value=np.log(rows["seen"]) + variance / 2, sd=np.sqrt(variance)
    )
    found["variety"] = _one_name(found)
    found = found.drop_duplicates([*TRIAL_VALUES.key])
    return check_frame(found.sort_values(list(TRIAL_VALUES.key)), TRIAL_VALUES)


def _one_name(rows: pd.DataFrame) -> pd.Series:
    tidy = rows["variety"].str.split().str.join(" ")
    key = rows["crop"] + "\0" + tidy.map(variety_key)
    # The spelling of most gardens; of equally many, the first in the alphabet.
    often = pd.DataFrame({"key": key, "name": tidy}).value_counts(sort=False).reset_index()
    often = often.sort_values(["count", "name"], ascending=[False, True]).drop_duplicates("key")
    return key.map(often.set_index("key")["name"])


def pool_trial(
    values: pd.DataFrame, *, least_gardens: int = 3, draws: int = 4000, seed: int = 1
) -> PooledTrial:
    """Compare varieties over many gardens and seasons.

    Each crop by itself: varieties are fixed; gardens, seasons, gardens in a season, varieties in
    a garden and varieties in a season are random, with standard deviations estimated by REML
    (:mod:`harvestcast.gardens.mixed`); what each garden knows of its own value is known. Estimates
    and standard errors are those of the mixed model; intervals and probabilities come from draws
    that also know how little the spreads are known.

    Parameters
    ----------
    values : DataFrame
        TRIAL_VALUES of one measure, as :func:`trial_values` gives them.
    least_gardens : int
        Gardens below which nothing is said of a variety.
    draws : int
        Draws behind the intervals.
    seed : int
        The same seed gives the same draws.

    Returns
    -------
    PooledTrial

    Examples
    --------
    Three varieties in twenty gardens, the third truly a fifth better:

    >>> rng = np.random.default_rng(1)
    >>> garden = np.repeat(np.arange(20), 3)
    >>> log = rng.normal(0, 0.4, 20)[garden] + np.tile([0.0, 0.0, 0.2], 20)
    >>> values = pd.DataFrame({
    ...     "garden": [f"g{one}" for one in garden], "year": 2026, "crop": "tomato",
    ...     "variety": ["A", "B", "C"] * 20, "measure": "kg_per_plant",
    ...     "value": log + rng.normal(0, 0.1, 60), "sd": 0.1})
    >>> found = pool_trial(values, draws=1000).table.set_index("variety")
    >>> found["probability_best"].idxmax(), bool(found.loc["C", "against_mean"] > 1.05)
    ('C', True)
    """
    checked = check_frame(values, TRIAL_VALUES)
    if len(set(checked["measure"])) > 1:
        raise ValueError("values: one measure at a time")
    tables, spreads, checks = [], [], []
    for number, (crop, rows) in enumerate(checked.groupby("crop", sort=True)):
        rng = np.random.default_rng([seed, number])
        table, spread, check = _crop(str(crop), rows, least_gardens, draws, rng)
        tables.append(table)
        spreads.append(spread)
        checks.append(check)
    return PooledTrial(
        measure=str(checked["measure"].iloc[0]) if len(checked) else "",
        table=_checked(tables, TRIAL.names, TRIAL),
        spreads=_checked(spreads, TRIAL_SPREADS.names, TRIAL_SPREADS),
        values=checked,
        checks=_checked(checks, CHECKS.names, CHECKS),
    )


def _checked(rows: list[list[dict[str, Any]]], names: list[str], spec: Any) -> pd.DataFrame:
    flat = [row for part in rows for row in part]
    return check_frame(pd.DataFrame(flat, columns=names), spec) if flat else spec.empty()


def _crop(
    crop: str, rows: pd.DataFrame, least: int, draws: int, rng: np.random.Generator
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    measure = str(rows["measure"].iloc[0])
    counted = rows.groupby("variety")[["garden", "year"]].nunique()
    counted.columns = pd.Index(["gardens", "seasons"])
    table: dict[str, dict[str, Any]] = {
        str(one.Index): {
            "crop": crop,
            "variety": str(one.Index),
            "measure": measure,
            "unit": MEASURES[measure][0],
            "gardens": one.gardens,
            "seasons": one.seasons,
        }
        for one in counted.itertuples()
    }
    names = sorted(str(name) for name in counted.index[counted["gardens"] >= least])
    if not names:
        return list(table.values()), [], []
    used = rows[rows["variety"].isin(names)]
    layout = lay_out(
        Trial(
            y=used["value"].to_numpy(float),
            sd=used["sd"].to_numpy(float),
            garden=np.unique(used["garden"].astype(str), return_inverse=True)[1],
            season=np.unique(used["year"], return_inverse=True)[1],
            variety=np.searchsorted(names, used["variety"].astype(str)),
        )
    )
    fitted = fit(layout, draws=draws, rng=rng)
    for place, row in enumerate(_variety_rows(fitted, measure, rng)):
        table[names[place]] |= row
    return (
        list(table.values()),
        _spread_rows(crop, measure, layout, fitted),
        _check_rows(crop, layout, fitted),
    )


def _variety_rows(fitted: Fitted, measure: str, rng: np.random.Generator) -> list[dict[str, float]]:
    mean, covariance = fitted.solved.mean, fitted.solved.covariance
    draws, count = fitted.draws.shape
    centred = fitted.draws - fitted.draws.mean(axis=1, keepdims=True)
    sign = {"more": 1.0, "less": -1.0}.get(MEASURES[measure][1], np.nan)
    local = np.zeros(draws)
    for part in ("garden x variety", "variety x season"):
        local = np.hypot(local, fitted.draws_sd.get(part, 0.0))
    here = fitted.draws + local[:, None] * rng.standard_normal(fitted.draws.shape)
    known = count > 1 and np.isfinite(sign)
    best, best_here = (
        np.bincount((sign * one).argmax(axis=1), minlength=count) / draws
        if known
        else np.full(count, np.nan)
        for one in (fitted.draws, here)
    )
    low, high = np.exp(np.quantile(fitted.draws, (0.05, 0.95), axis=0))
    ratio_low, ratio_high = np.exp(np.quantile(centred, (0.05, 0.95), axis=0))
    return [
        {
            "estimate": float(np.exp(mean[v])),
            "q05": low[v],
            "q95": high[v],
            "log_estimate": mean[v],
            "log_se": float(np.sqrt(covariance[v, v])),
            "against_mean": float(np.exp(mean[v] - mean.mean())),
            "against_mean_q05": ratio_low[v],
            "against_mean_q95": ratio_high[v],
            "probability_best": best[v],
            "probability_best_here": best_here[v],
        }
        for v in range(count)
    ]


def _check_rows(crop: str, layout: Layout, fitted: Fitted) -> list[dict[str, Any]]:
    """Compare the surer and the less sure half of the values with what they say of themselves."""
    trial = layout.trial
    far = (trial.y - fitted.solved.mean[trial.variety]) / marginal_sd(layout, fitted.sd)
    surer = trial.sd <= np.median(trial.sd)
    if surer.all() or len(far) < _ENOUGH:
        return []
    rows = []
    for half, name in ((surer, "surer values"), (~surer, "less sure values")):
        statistic = abs(float(np.log(np.mean(far[half] ** 2)) / 2))
        rows.append(
            {
                "crop": crop,
                "variety": "all",
                "code": "trial.spread",
                "check": f"spread of the {name}",
                "statistic": statistic,
                "operator": "<",
                "threshold": _FAR,
                "passed": statistic < _FAR,
                "comment": "log ratio of the spread found to the spread expected; beyond the "
                "threshold the gardens' own uncertainties do not fit together with each other",
            }
        )
    return rows


def _spread_rows(crop: str, measure: str, layout: Layout, fitted: Fitted) -> list[dict[str, Any]]:
    rows = []
    for part, sd in fitted.sd.items():
        low, high = np.quantile(fitted.draws_sd[part], (0.05, 0.95))
        rows.append(
            {
                "crop": crop,
                "measure": measure,
                "between": part,
                "levels": layout.levels(part),
                "sd": sd,
                "q05": low,
                "q95": high,
            }
        )
    return rows
