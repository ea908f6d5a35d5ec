"""What many gardens cost: time, memory, workers, and where the time goes.

    python -m tests.benchmarks.scale                       # all but the long run
    python -m tests.benchmarks.scale size rivals profile   # some of it
    python -m tests.benchmarks.scale run --gardens 10000 --workers 2 --minutes 15

Times are CPU seconds of the process that works, so that others on the machine disturb them
little, and are shown as ratios to one reference: forecasting a garden of 12 plantings on 10 August
with 400 draws and ten years of weather. Clock times stand beside them where workers are compared.
Gardens are those of :mod:`tests.gardens.many`.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import platform
import pstats
import sys
import tempfile
import time
import tracemalloc
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.gardens.dataset import GardenTables, dataset_shares, write_dataset
from harvestcast.gardens.engine import peak_mb
from harvestcast.gardens.run import GardensResult, run_gardens
from harvestcast.gardens.sources import Share
from harvestcast.gardens.study import measured
from harvestcast.gardens.trial import pool_trial
from harvestcast.growth.forecast import forecast
from harvestcast.growth.model import newton as mode
from harvestcast.growth.model.fit import fit_garden
from harvestcast.records.garden import Garden, open_garden
from tests.gardens.many import KINDS, many_gardens
from tests.gardens.trials import trial

USUAL: dict[str, Any] = {"stations": 4, "seed": 3}
GARDENS = 6


def opened(number: int = GARDENS, **changes: Any) -> list[Garden]:
    """Return simulated gardens, opened."""
    with tempfile.TemporaryDirectory() as folder:
        shares = write_dataset(
            Path(folder) / "d", many_gardens(number, **{**USUAL, **changes}), per_share=10**6
        )
        return [opener() for _, opener in shares[0].load("")]


def cpu(call: Callable[[Garden], Any], gardens: list[Garden], repeat: int = 3) -> float:
    """Return CPU seconds a garden: the least of some rounds, each over all gardens."""
    rounds = []
    for _ in range(repeat):
        began = time.process_time()
        for garden in gardens:
            call(garden)
        rounds.append((time.process_time() - began) / len(gardens))
    return min(rounds)


def compare(garden: Garden, draws: int = 400) -> Any:
    """Compare the varieties of a usual garden."""
    return measured(garden, 2026, draws=draws, seed=1)


def reference() -> float:
    """Return CPU seconds of forecasting one usual garden."""
    gardens = opened()
    cpu(forecast, gardens[:1], 1)
    return cpu(forecast, gardens)


def size() -> None:
    """Print fit, forecast and comparison against days, plantings, draws and years of weather."""
    one = reference()
    print(f"reference: {one:.3f} CPU s a garden, {one / 12:.4f} a series")
    print(f"{'garden':38} {'fit':>6} {'forecast':>9} {'compare':>8}   ratios to the reference")

    def line(name: str, gardens: list[Garden], draws: int = 400) -> None:
        fit = cpu(fit_garden, gardens) / one
        ahead = cpu(lambda g: forecast(g, draws=draws), gardens) / one
        beside = cpu(lambda g: compare(g, draws), gardens, 2) / one
        print(f"{name:38} {fit:6.2f} {ahead:9.2f} {beside:8.2f}", flush=True)

    line("12 plantings, 10 August, 400 draws", opened())
    for day in ("2026-06-20", "2026-07-15", "2026-09-10"):
        line(f"as of {day}", opened(as_of=day))
    names = list(KINDS)
    for crops, varieties in ((1, 1), (3, 1), (6, 1), (6, 4), (6, 8)):
        line(f"{crops * varieties} plantings, {crops} crops", opened(
            crops=names[:crops], varieties=varieties))  # fmt: skip
    for draws in (100, 1600):
        line(f"{draws} draws", opened(), draws)
    for years in (2, 30):
        line(f"{years} years of weather", opened(weather_years=years))


def rivals() -> None:
    """Print the time of AutoETS and AutoARIMA on the same series, against ours."""
    from statsforecast.models import AutoARIMA, AutoETS

    gardens = opened()
    ours = cpu(forecast, gardens) / 12
    picks = [garden.picks for garden in gardens]
    daily, weekly = [], []
    for table in picks:
        for _, rows in table.groupby(["crop", "variety"]):
            amount = rows["mass_kg"].fillna(rows["count"] * 0.1)
            days = amount.groupby(rows["date"]).sum().resample("D").sum()
            if len(days) >= 28:
                daily.append(days.to_numpy(float))
                weekly.append(days.resample("7D").sum().to_numpy(float))
    print(f"ours: {ours:.4f} CPU s a series, {len(daily)} of {12 * GARDENS} series long enough")
    for name, build, series, ahead in (
        ("AutoETS, weekly", lambda: AutoETS(season_length=1), weekly, 3),
        ("AutoARIMA, weekly", lambda: AutoARIMA(season_length=1), weekly, 3),
        ("AutoETS, daily, week of 7", lambda: AutoETS(season_length=7), daily, 21),
        ("AutoARIMA, daily, week of 7", lambda: AutoARIMA(season_length=7), daily, 21),
    ):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            build().forecast(y=max(series, key=len), h=ahead)  # compiled the first time
            each, failed = [], 0
            for y in series:
                began = time.process_time()
                try:
                    build().forecast(y=y, h=ahead)
                    each.append(time.process_time() - began)
                except (ArithmeticError, LookupError, NotImplementedError, ValueError):
                    failed += 1
            spent = float(np.mean(each))
        print(f"{name:30} {spent:.4f} s, {spent / ours:6.2f} times ours, {failed} failed",
              flush=True)  # fmt: skip


def profile() -> None:
    """Print where the time of a forecast goes, by room and by function."""
    gardens = opened()
    forecast(gardens[0])
    for name, call in (("forecast", forecast), ("compare", compare)):
        watch = cProfile.Profile()
        watch.enable()
        for garden in gardens:
            call(garden)
        watch.disable()
        stats = pstats.Stats(watch)
        by_place: dict[str, float] = {}
        for (file, _, function), row in stats.stats.items():  # type: ignore[attr-defined]
            by_place[_place(file, function)] = by_place.get(_place(file, function), 0.0) + row[2]
        total = sum(by_place.values())
        print(f"{name}: own time by place, share of all")
        for place, spent in sorted(by_place.items(), key=lambda item: -item[1])[:10]:
            print(f"  {spent / total:5.1%} {place}")
        print(f"{name}: functions of the library, share with all they call")
        rows = [(row[3], file, function) for (file, _, function), row in stats.stats.items()  # type: ignore[attr-defined]
                if "harvestcast" in file and "tests" not in file]  # fmt: skip
        for spent, file, function in sorted(rows, reverse=True)[:14]:
            print(f"  {spent / total:5.1%} {Path(file).parent.name}/{Path(file).stem}.{function}")


def _place(file: str, function: str) -> str:
    parts = Path(file).parts
    if "harvestcast" in parts:
        at = len(parts) - 1 - parts[::-1].index("harvestcast")
        return "/".join(parts[at : at + 3])
    for package in ("pandas", "numpy", "scipy", "pydantic"):
        if package in parts:
            return package
    if any(word in function for word in ("numpy", "ndarray", "ufunc", "linalg", "random")):
        return "numpy"
    return "Python and the rest"


def limit() -> None:
    """Print what the evaluations of the likelihood alone take: no fit can be faster than that."""
    gardens = opened()
    forecast(gardens[0])
    look = mode.look_around
    calls: list[tuple[Any, ...]] = []

    def counted(*given: Any) -> Any:
        # The places looked at are changed in place later.
        calls.append((given[0], given[1].copy(), given[2].copy()))
        return look(*given)

    mode.look_around = counted
    try:
        fits = [fit_garden(garden) for garden in gardens]
    finally:
        mode.look_around = look
    series = sum(len(fit.series) for fit in fits)
    rounds = []
    for _ in range(3):
        began = time.process_time()
        for given in calls:
            look(*given)
        rounds.append(time.process_time() - began)
    spent, rows = min(rounds) / len(gardens), sum(len(given[1]) for given in calls)
    levels = len(fits[0].noises)
    whole, ahead = cpu(fit_garden, gardens), cpu(forecast, gardens)
    print(f"{rows / series / (levels + 1):.1f} evaluations a series and noise level, with slope "
          f"and curvature, {levels} noise levels and a first look")  # fmt: skip
    print(f"one evaluation: {1e6 * spent * len(gardens) / rows:.0f} CPU us; all of them "
          f"{1000 * spent * len(gardens) / series:.2f} CPU ms a series")  # fmt: skip
    print(f"fit: {whole / spent:.2f} times that limit, fit and forecast {ahead / spent:.2f} times")


def memory() -> None:
    """Print what a garden holds, and what working on one takes at most."""
    gardens = opened(2)
    tables = ("picks", "plantings", "weather", "pantry")
    held = [sum(int(getattr(g, t).memory_usage(deep=True).sum()) for t in tables) for g in gardens]
    print(f"tables of a garden: {np.mean(held) / 2**20:.2f} MB, of it weather "
          f"{gardens[0].weather.memory_usage(deep=True).sum() / 2**20:.2f} MB")  # fmt: skip
    forecast(gardens[0])
    for name, call in (("forecast", forecast), ("compare", compare)):
        tracemalloc.start()
        call(gardens[1])
        print(f"{name}: {tracemalloc.get_traced_memory()[1] / 2**20:.1f} MB at most beyond that")
        tracemalloc.stop()
    print(f"this process so far: {peak_mb():.0f} MB")


def folders() -> None:
    """Print what opening a folder costs against opening the same garden from Parquet."""
    from tests.simulated import simulate_garden, write_folder

    one = reference()
    with tempfile.TemporaryDirectory() as place:
        paths = []
        for seed in range(4):
            sim = simulate_garden(seed, sowings=1, truth=False, as_of="2026-08-10")
            paths.append(write_folder(sim, Path(place) / f"garden {seed}"))
        open_garden(paths[0])
        spent = []
        for _ in range(3):
            began = time.process_time()
            for path in paths:
                open_garden(path, today="2026-08-11")
            spent.append((time.process_time() - began) / len(paths))
        size_mb = sum(p.stat().st_size for f in paths for p in f.iterdir()) / len(paths) / 2**20
    print(f"folder: {min(spent):.3f} s, {min(spent) / one:.2f} of a forecast, {size_mb:.2f} MB")
    with tempfile.TemporaryDirectory() as place:
        for own in (False, True):
            tables = many_gardens(64, stations=8, own_weather=own)
            shares = write_dataset(Path(place) / f"{own}", tables, per_share=10**6)
            for _ in range(2):
                began = time.process_time()
                for _, opener in shares[0].load(""):
                    opener()
                spent_one = (time.process_time() - began) / 64
            files = list((Path(place) / f"{own}").rglob("*.parquet"))
            size_mb = sum(p.stat().st_size for p in files) / 64 / 2**20
            word = "weather of its own" if own else "weather of eight stations"
            print(f"Parquet, {word}: {spent_one:.4f} s, {spent_one / one:.2f} of a forecast, "
                  f"{size_mb:.3f} MB")  # fmt: skip


def pooled() -> None:
    """Print the time of a pooled trial against the number of gardens."""
    base = None
    for gardens in (100, 1000, 10_000):
        values = trial(
            np.random.default_rng(1), gardens=gardens, means=[0.0, 0.1, 0.2, -0.1], seasons=2,
            spreads={"garden": 0.4, "garden x variety": 0.2, "season": 0.2}, grown=0.5,
        )  # fmt: skip
        began = time.process_time()
        pool_trial(values)
        spent = time.process_time() - began
        base = base or spent / len(values)
        against = spent / len(values) / base
        print(
            f"{gardens:6} gardens, {len(values):6} values: {spent:7.2f} CPU s, "
            f"{against:5.2f} a value against the first",
            flush=True,
        )


def shown(result: GardensResult, clock: float, workers: int) -> float:
    """Print one run and return its clock seconds a garden."""
    shares = result.shares[~result.shares["reused"].astype(bool)]
    gardens, used = int(shares["gardens"].sum()), float(shares["cpu_s"].sum())
    busy = float(shares["clock_s"].sum())
    stages = {
        name: float(shares[f"{name}_cpu_s"].sum()) for name in ("read", "forecast", "compare")
    }
    print(
        f"{gardens} gardens on {workers}: {clock:.1f} s by the clock, {used:.1f} CPU s in workers "
        f"({used / busy:.0%} of the time they were at it), "
        f"{1000 * used / gardens:.1f} CPU ms a garden ("
        + ", ".join(f"{name} {1000 * spent / gardens:.1f}" for name, spent in stages.items())
        + f"), at it {busy / (workers * clock):.0%}, peak {shares['peak_mb'].max():.0f} MB, "
        f"{len(result.errors)} errors, load {os.getloadavg()[0]:.1f}",
        flush=True,
    )
    return clock / gardens


def workers(gardens: int, varieties: bool) -> None:
    """Print clock and CPU of one and two workers, twice each in turn."""
    with tempfile.TemporaryDirectory() as place:
        root = Path(place) / "d"
        write_dataset(root, many_gardens(gardens, stations=50), per_share=16)
        found: dict[int, list[tuple[float, float]]] = {1: [], 2: []}
        for _ in range(2):
            for number in (1, 2):
                with _cluster(number) as client:
                    began = time.monotonic()
                    result = run_gardens(root, cluster=client, varieties=varieties)
                    clock = time.monotonic() - began
                shown(result, clock, number)
                found[number].append((clock, float(result.shares["cpu_s"].sum())))
        one, two = (min(clock for clock, _ in found[n]) for n in (1, 2))
        print(f"efficiency from 1 to 2 workers by the clock: {one / two / 2:.2f}")
        cpu_one, cpu_two = (min(spent for _, spent in found[n]) for n in (1, 2))
        print(f"CPU of one worker over CPU of two: {cpu_one / cpu_two:.2f}")


def linear(gardens: int, varieties: bool) -> None:
    """Print CPU a garden against the number of gardens, in this process."""
    with tempfile.TemporaryDirectory() as place:
        root = Path(place) / "d"
        write_dataset(root, many_gardens(gardens, stations=50), per_share=16)
        shares = dataset_shares(root)
        print("growth with gardens, one process:")
        for part in (8, 4, 2, 1):
            some: list[Share] = shares[: max(1, len(shares) // part)]
            began, spent = time.monotonic(), time.process_time()
            result = run_gardens(some, varieties=varieties)
            spent = time.process_time() - spent
            number = int(result.shares["gardens"].sum())
            print(f"  {number:5} gardens: {1000 * spent / number:.1f} CPU ms a garden, "
                  f"{1000 * (time.monotonic() - began) / number:.1f} ms by the clock",
                  flush=True)  # fmt: skip


def _cluster(number: int) -> Any:
    from harvestcast.gardens.engine import local

    return local(number)


def run(gardens: int, number: int, minutes: float, varieties: bool, keep: Path | None) -> None:
    """Forecast as many gardens as asked for, or as fit in the time, and print what it took."""
    with tempfile.TemporaryDirectory() as place:
        root = (keep or Path(place)) / "dataset"
        if not root.exists():
            began = time.process_time()
            tables: GardenTables = many_gardens(gardens)
            made = time.process_time() - began
            write_dataset(root, tables, per_share=64)
            del tables
            print(f"made in {made:.1f} CPU s, written in {time.process_time() - began - made:.1f}")
        size_mb = sum(p.stat().st_size for p in root.rglob("*.parquet")) / 2**20
        print(f"dataset: {size_mb:.0f} MB, {1024 * size_mb / gardens:.1f} kB a garden")
        shares = dataset_shares(root)
        with _cluster(number) as client:
            run_gardens(shares[:number], cluster=client, varieties=varieties)  # workers warm up
            began = time.monotonic()
            probe = run_gardens(shares[:number], cluster=client, varieties=varieties)
            rate = shown(probe, time.monotonic() - began, number)
            fits = int(60 * minutes / rate)
            if fits < gardens:
                share = max(2, int(len(shares) * fits / gardens))
                print(f"{gardens} would take {gardens * rate / 60:.0f} minutes: {share} of "
                      f"{len(shares)} shares")  # fmt: skip
                shares = shares[:share]
            out = (keep or Path(place)) / "results"
            began = time.monotonic()
            result = run_gardens(
                shares, out, cluster=client, varieties=varieties, progress=sys.stderr.isatty()
            )
            shown(result, time.monotonic() - began, number)
            size_mb = sum(p.stat().st_size for p in out.rglob("*") if p.is_file()) / 2**20
            done = int(result.shares["gardens"].sum())
            print(f"results: {size_mb:.0f} MB, {1024 * size_mb / done:.1f} kB a garden")
            rows = result.shares.sort_values("label")
            quarter = [rows.iloc[one] for one in np.array_split(np.arange(len(rows)), 4)]
            each = [1000 * part["cpu_s"].sum() / part["gardens"].sum() for part in quarter]
            print(
                "CPU ms a garden by quarter of the shares: " + ", ".join(f"{x:.1f}" for x in each)
            )
            began = time.monotonic()
            again = run_gardens(shares, out, cluster=client, varieties=varieties)
            print(f"started again: {again.shares['reused'].mean():.0%} of shares kept, "
                  f"{time.monotonic() - began:.1f} s")  # fmt: skip


def machine() -> None:
    """Print the machine."""
    chip = platform.processor() or platform.machine()
    with Path("/proc/cpuinfo").open() as lines:
        chip = next((x.split(":")[1].strip() for x in lines if x.startswith("model name")), chip)
    print(f"{chip}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy "
          f"{np.__version__}, pandas {pd.__version__}, load {os.getloadavg()[0]:.1f}")  # fmt: skip


def main() -> None:
    """Run the parts asked for."""
    parts = ("size", "rivals", "limit", "profile", "memory", "folders", "pooled", "linear",
             "workers", "run")  # fmt: skip
    read = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    read.add_argument("parts", nargs="*", choices=[*parts, []], default=list(parts[:-1]))
    read.add_argument(
        "--gardens", type=int, help="gardens of 'linear', 'workers' (200) and 'run' (10,000)"
    )
    read.add_argument("--workers", type=int, default=2)
    read.add_argument("--minutes", type=float, default=15.0)
    read.add_argument("--varieties", action="store_true", help="compare varieties too")
    read.add_argument("--keep", type=Path, help="folder for dataset and results of 'run'")
    asked = read.parse_args()
    machine()
    for part in asked.parts:
        print(f"\n== {part}")
        if part in ("workers", "linear"):
            globals()[part](asked.gardens or 200, asked.varieties)
        elif part == "run":
            run(asked.gardens or 10_000, asked.workers, asked.minutes, asked.varieties, asked.keep)
        else:
            globals()[part]()


if __name__ == "__main__":
    main()
