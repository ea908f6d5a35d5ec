"""Forecasts of gardens whose parameters are known: coverage, an oracle, what the fit recovers.

    python -m tests.benchmarks.known_parameters coverage oracle recovery --first 5000 --gardens 60
    python -m tests.benchmarks.known_parameters learner --first 5000 --gardens 60

Gardens are those of :mod:`tests.simulated.known`. A case is one series on one Sunday from its first
pick on, as long as it was picked within the last three weeks and no frost has killed it: all of it
known at the origin. Weeks without a pick tie with draws without one; ties are broken at random, so
that a calibrated forecast holds 80 % of cases in its middle 80 %. CRPS is in mean weeks of each
series. ``oracle`` sets it beside that of a forecaster who knows the parameters, ``learner`` also
beside that of one who knows by what law they are drawn and learns them from the picks
(:mod:`tests.simulated.learner`): what that one loses to the oracle nobody can win. ``recovery``
asks at the season's end how often 80 % intervals hold the true season total and heats.
Seeds below 5000 may be looked at while the model is mended; report from 5000 on.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from harvestcast.growth.forecast import forecast
from harvestcast.growth.future.draws import draw_series
from harvestcast.growth.future.numbers import garden_numbers
from harvestcast.growth.model.curve import season_heat, season_total
from harvestcast.growth.model.fit import fit_garden
from harvestcast.growth.scores import crps_ensemble
from tests.simulated.known import (
    NEW_YEAR,
    VARIETY,
    YEAR,
    KnownGarden,
    KnownSeries,
    known_garden,
    oracle,
)
from tests.simulated.learner import learner

LATELY = 21
"""Days within which a series must have been picked to be forecast here."""


def origins_of(known: KnownGarden) -> list[int]:
    """Return the Sundays of the season, as days of the year."""
    sundays = pd.date_range(f"{YEAR}-06-07", f"{YEAR}-10-25", freq="W-SUN")
    return [
        (day - NEW_YEAR).days for day in sundays if (known.number > 0)[:, : day.day_of_year].any()
    ]


def live(known: KnownGarden, row: int, day: int) -> int:
    """Return for how many weeks a series has been picked on a day; -1 where it is none's case."""
    picks = np.flatnonzero(known.number[row, : day + 1])
    if not len(picks) or day - picks[-1] > LATELY or known.calm[row, day] == 0:
        return -1
    return int(day - picks[0]) // 7


def cases(
    seed: int, *, weeks: int, draws: int, with_oracle: bool, with_learner: bool = False
) -> pd.DataFrame:
    """Return one row per case and week ahead of one garden."""
    known = known_garden(seed)
    rng = np.random.default_rng(seed)
    origins = origins_of(known)
    others = {"oracle": oracle} if with_oracle else {}
    others |= {"learner": learner} if with_learner else {}
    theirs = {
        name: [
            forecaster(known, row, origins, 7 * weeks, draws=draws, seed=seed)
            for row in range(len(known.series))
        ]
        for name, forecaster in others.items()
    }
    rows = []
    for place, day in enumerate(origins):
        alive = {row: live(known, row, day) for row in range(len(known.series))}
        if max(alive.values()) < 0:
            continue
        made = forecast(
            known.until(day), NEW_YEAR + pd.Timedelta(days=day), weeks=weeks, draws=draws, seed=seed
        )
        for row, s in enumerate(known.series):
            if alive[row] < 0:
                continue
            column = made.keys.index((s.crop, VARIETY))
            ours = made.mass_kg[:, :, column] / s.facts.fruit_kg
            for week in range(weeks):
                span = slice(7 * week, 7 * week + 7)
                seen = known.number[row, day + 1 :][span].sum()
                total = ours[:, span].sum(axis=1)
                found = {"seed": seed, "crop": s.crop, "week": week + 1, "weeks": alive[row]}
                found |= {"flush": s.flush > 0, "seen": seen}
                found |= _scored("ours", total, seen, rng)
                for name, made_by in theirs.items():
                    found |= _scored(name, made_by[row][place][:, span].sum(axis=1), seen, rng)
                rows.append(found)
    table = pd.DataFrame(rows)
    scale = table.groupby("crop")["seen"].transform("mean")
    for name in ("ours", *theirs):
        table[f"{name}_crps"] = (table[f"{name}_crps"] / scale).where(scale > 0)
    return table


def _scored(
    name: str, total: np.ndarray, seen: float, rng: np.random.Generator
) -> dict[str, float]:
    place = (total < seen).mean() + rng.random() * (total == seen).mean()
    score = float(crps_ensemble(np.array([seen]), total[None])[0])
    return {f"{name}_inside": 0.1 <= place <= 0.9, f"{name}_place": place, f"{name}_crps": score}


def recovered(seed: int, draws: int) -> pd.DataFrame:
    """Return truth and 80 % intervals of season totals and heats at the season's end."""
    known = known_garden(seed)
    day = int(np.flatnonzero(known.number.any(axis=0)).max()) + 3
    fit = fit_garden(known.until(day), NEW_YEAR + pd.Timedelta(days=day))
    numbers = garden_numbers(fit, draws, tried=4 * draws, seed=seed)
    rows = []
    names = [s.crop for s in fit.series]
    for s in known.series:
        if s.crop not in names or (known.number[known.series.index(s)] > 0).sum() < 8:
            continue
        row = names.index(s.crop)
        theta = draw_series(fit, row, numbers.tried, numbers.own[row]).theta.astype(float)
        truth = true_parameters(s)
        for name, ours, true in (
            ("season total", season_total(theta), season_total(truth)),
            ("level", np.exp(theta[:, 0]), np.exp(truth[0])),
            ("first half height h1", np.exp(theta[:, 1]), np.exp(truth[1])),
            *(
                (f"heat of {share:.0%}", heat, true_heat)
                for share, heat, true_heat in zip(
                    (0.1, 0.5, 0.9), season_heat(theta).T, season_heat(truth), strict=True
                )
            ),
        ):
            low, middle, high = np.quantile(ours, (0.1, 0.5, 0.9))
            rows.append(
                {
                    "seed": seed, "crop": s.crop, "what": name,
                    "inside": low <= true <= high, "below": true < low, "above": true > high,
                    "error": np.log(middle / true), "width": np.log(high / low),
                }
            )  # fmt: skip
    return pd.DataFrame(rows)


def true_parameters(s: KnownSeries) -> np.ndarray:
    """Return a series' true curve as the library's parameters."""
    span = s.h2 - s.h1
    return np.log([s.level, s.h1, span, s.s1 / span, s.s2 / span])


def main() -> None:
    """Print what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("parts", nargs="*", default=["coverage", "oracle", "recovery"])
    parser.add_argument("--first", type=int, default=5000, help="first seed")
    parser.add_argument("--gardens", type=int, default=60, help="number of gardens")
    parser.add_argument("--weeks", type=int, default=3)
    parser.add_argument("--draws", type=int, default=300)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.gardens)
    print(f"seeds {seeds.start} to {seeds.stop - 1}")
    if {"coverage", "oracle", "learner"} & set(options.parts):
        table = pd.concat(
            [
                cases(
                    seed,
                    weeks=options.weeks,
                    draws=options.draws,
                    with_oracle=bool({"oracle", "learner"} & set(options.parts)),
                    with_learner="learner" in options.parts,
                )
                for seed in seeds
            ]
        )
        report(table)
    if "recovery" in options.parts:
        table = pd.concat([recovered(seed, options.draws) for seed in seeds])
        by = table.groupby("what", sort=False)
        shown = by[["inside", "below", "above", "width"]].mean()
        shown["median error"] = by["error"].median()
        shown["mean absolute error"] = by["error"].agg(lambda e: e.abs().mean())
        shown["series"] = by.size()
        print("\nwhat the fit recovers at the season's end (logs; 80 % intervals)")
        print(shown.round(3).to_string())


def report(table: pd.DataFrame) -> None:
    """Print coverage and CRPS by weeks of picking, weeks ahead, and flushes."""
    bands = pd.cut(table["weeks"], [-1, 0, 1, 3, 7, 99], labels=["0", "1", "2-3", "4-7", "8+"])
    columns = [c for c in table.columns if c.endswith(("_inside", "_crps"))]
    table = table.assign(
        picked=bands, below=table["ours_place"] < 0.1, above=table["ours_place"] > 0.9
    )
    columns += ["below", "above"]
    soon, late = table[table["week"] == 1], table[table["weeks"] >= 4]
    for title, part, by in (
        ("by weeks ahead", table, "week"),
        ("by weeks since the first pick, next week", soon, "picked"),
        ("by flushes, next week", soon, "flush"),
        ("by crop, next week", soon, "crop"),
        ("four weeks of picks or more, by week ahead", late, "week"),
    ):
        groups = part.groupby(by, observed=True)
        shown = groups[columns].mean()
        shown.insert(0, "cases", groups.size())
        if "oracle_crps" in columns:
            shown["ratio"] = shown["ours_crps"] / shown["oracle_crps"]
        if "learner_crps" in columns:
            shown["learner"] = shown["learner_crps"] / shown["oracle_crps"]
        print(f"\n{title}")
        print(shown.round(3).to_string())


if __name__ == "__main__":
    main()
