"""What a forecast costs beside exponential smoothing of the same series, and how it grows.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.forecast_speed

Everything is CPU time of one process, the least of a few runs, taken in turns with
the rival so that a busy machine disturbs both alike. The rival, AutoETS of statsforecast (weekly
season), gives point forecasts of the daily sums of every series that has been picked; ours gives
draws of every series of the garden, picked yet or not.
"""

from __future__ import annotations

import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from harvestcast import open_garden
from harvestcast.growth.forecast import forecast
from harvestcast.growth.model.fit import fit_garden
from harvestcast.records.garden import Garden, garden_from_frames
from tests.real_log import garden_folder_from_real_log
from tests.simulated import as_garden, simulate_garden

DAY = pd.Timestamp("2020-08-09")
CROPS = ("cucumber", "zucchini", "snap bean", "tomato", "sweet pepper", "okra")


def cpu(work: Callable[[], object], runs: int = 3) -> float:
    """Return the least CPU seconds of some runs."""
    out = []
    for _ in range(runs):
        begin = time.process_time()
        work()
        out.append(time.process_time() - begin)
    return min(out)


def daily_series(garden: Garden, day: pd.Timestamp) -> list[np.ndarray]:
    """Return daily sums of every variety picked by a day, from its first pick on."""
    picks = garden.picks[garden.picks["date"] <= day]
    out = []
    for _, rows in picks.groupby(["crop", "variety"]):
        sums = rows.groupby("date")["mass_kg"].sum()
        out.append(sums.reindex(pd.date_range(sums.index[0], day)).fillna(0.0).to_numpy(float))
    return out


def smoothing(series: list[np.ndarray]) -> None:
    """Forecast three weeks of every series that is long enough by exponential smoothing."""
    from statsforecast.models import AutoETS

    for values in series:
        try:
            AutoETS(season_length=7).forecast(y=values, h=21)
        except Exception:  # too short for the rival
            continue


def picked_by(garden: Garden, day: pd.Timestamp) -> pd.DataFrame:
    """Return the varieties picked by a day."""
    picks = garden.picks
    return picks.loc[picks["date"] <= day, ["crop", "variety"]].drop_duplicates()


def some_varieties(garden: Garden, names: pd.DataFrame) -> Garden:
    """Return the garden with some of its varieties only."""
    plantings, picks = garden.plantings, garden.picks
    return garden_from_frames(
        picks.merge(names, on=["crop", "variety"]),
        plantings.merge(names, on=["crop", "variety"]),
        garden.weather,
        household=garden.household,
    )


def main() -> None:
    """Print the tables."""
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as folder:
        garden = open_garden(garden_folder_from_real_log(Path(folder)))
        series = daily_series(garden, DAY)
        n = len(forecast(garden, DAY, draws=1000).keys)
        smoothing(series[:2])
        ours, fit, ets = [], [], []
        for _ in range(3):
            ours.append(cpu(lambda: forecast(garden, DAY, draws=1000), 1))
            ets.append(cpu(lambda: smoothing(series), 1))
            fit.append(cpu(lambda: fit_garden(garden, DAY), 1))
        picked = some_varieties(garden, picked_by(garden, DAY))
        same = cpu(lambda: forecast(picked, DAY, draws=1000))
        whole, alone, rival = min(ours), min(fit), min(ets)
        print(f"The whole garden of 2020 on {DAY:%d %B}, three weeks, 1,000 draws")
        print(f"  ours, {n} series: {1e3 * whole:.0f} ms; a series {1e3 * whole / n:.1f} ms")
        print(f"  ETS, {len(series)} picked series: {1e3 * rival:.0f} ms; ", end="")
        print(f"a series {1e3 * rival / len(series):.1f} ms")
        print(f"  ratio: all our series {whole / rival:.2f}, ", end="")
        print(f"the same {len(picked_by(garden, DAY))} series {same / rival:.2f}, ", end="")
        print(f"a series {whole / n / (rival / len(series)):.2f}; ", end="")
        print(f"fit alone {alone / whole:.2f} of ours, {1e3 * alone / n:.1f} ms a series\n")

        print("Growth with the days of the season (1 = 1 July)")
        days = [pd.Timestamp(f"2020-{day}") for day in ("07-01", "08-01", "09-01", "10-01")]
        costs = [cpu(lambda d=day: forecast(garden, d, draws=1000)) for day in days]
        for day, cost in zip(days, costs, strict=True):
            fitted = fit_garden(garden, day)
            print(f"  {day:%d %B}: {len(fitted.dates)} days, {cost / costs[0]:.2f}")

        print("Growth with varieties (1 = all)")
        for number in (5, 10, 20, 40):
            names = garden.plantings[["crop", "variety"]].drop_duplicates()
            part = some_varieties(garden, names.sample(number, random_state=1))
            cost = cpu(lambda g=part: forecast(g, DAY, draws=1000))
            print(f"  {number}: {cost / whole:.2f}, a variety {cost / number / (whole / n):.2f}")

        print("Growth with draws (1 = 1,000)")
        for draws in (100, 400, 1000, 4000):
            cost = cpu(lambda d=draws: forecast(garden, DAY, draws=d), 2)
            print(f"  {draws}: {cost / whole:.2f}")

    small = as_garden(simulate_garden(3, crops=CROPS, varieties=2, truth=False))
    for draws in (400, 1000):
        cost = cpu(lambda d=draws: forecast(small, "2026-07-26", draws=d), 7)
        print(
            f"A simulated garden of 12 plantings on 26 July, {draws} draws: {1e3 * cost:.0f} ms, "
        )
        print(f"  {cost / rival * len(series):.1f} ETS series")


if __name__ == "__main__":
    main()
