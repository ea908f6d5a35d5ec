"""Whatever a log holds: every crop, sown in any month, on both sides of the equator.

``python -m tests.season.test_any_log 0 50`` runs more gardens than the suite has time for.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pandas as pd
import pytest

import harvestcast as hc
from harvestcast.errors import FrameError, HarvestcastError
from harvestcast.growth.crops.almanac import crops
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from harvestcast.report.check import odd_things, still_missing
from harvestcast.season.next import plan as plan_module
from harvestcast.season.next.plan import plan_next_season
from harvestcast.season.review.varieties import compare_varieties
from harvestcast.season.yields.plantings import seasons_with_picks, units_of

FIRST = pd.Timestamp("2023-01-01")
CLIMATES = ((6.0, 11.0), (10.0, 6.0), (16.0, 6.0), (24.0, 1.0))
"""Mean and swing of the year, degC: from hard winters to none at all."""


def any_garden(seed: int) -> Garden:
    """Return a garden of crops of the almanac, sown and picked on days that nobody chose."""
    rng = np.random.default_rng(seed)
    south = bool(rng.random() < 0.5)
    mean, swing = CLIMATES[rng.integers(len(CLIMATES))]
    last = pd.Timestamp("2025-01-01") + pd.Timedelta(days=int(rng.integers(0, 500)))
    days = pd.date_range("2022-01-01", last)
    wave = -np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 18) / 365.25) * (-1 if south else 1)
    middle = mean + swing * wave + rng.normal(0, 1.5, len(days))
    weather = pd.DataFrame({"date": days, "tmin_c": middle - 5, "tmax_c": middle + 5})
    if rng.random() < 0.2:
        weather = weather[rng.random(len(weather)) < 0.5]
    home: dict[str, Any] = {"people": 2, "elevation_m": 100, "hours": {"saturday": 3}}
    if rng.random() < 0.3:
        home["latitude"] = -40.0 if south else 40.0
    if rng.random() < 0.3:
        home["last_frost"] = "10-20" if south else "04-20"
    if rng.random() < 0.3:
        home["first_frost"] = "04-20" if south else "10-20"
    planted, picked = _rows(rng, last)
    return garden_from_frames(
        picked,
        planted,
        weather,
        name=f"any garden {seed}",
        household=Household.model_validate(home),
    )


def _rows(
    rng: np.random.Generator, last: pd.Timestamp
) -> tuple[pd.DataFrame | None, pd.DataFrame | None]:
    span = int((last - FIRST).days) + 1
    planted: list[tuple[Any, ...]] = []
    picked: list[tuple[Any, ...]] = []
    for crop in rng.choice(crops(), size=int(rng.integers(1, 9)), replace=False):
        for _ in range(int(rng.integers(0, 5))):
            day = FIRST + pd.Timedelta(days=int(rng.integers(0, span)))
            gone = day + pd.Timedelta(days=int(rng.integers(30, 300)))
            planted.append(
                (crop, "AB"[rng.integers(2)], ("n", "s", None)[rng.integers(3)],
                 day if rng.random() < 0.9 else pd.NaT, ("sown", "set_out")[rng.integers(2)],
                 (1.0, 12.0, np.nan)[rng.integers(3)], gone if rng.random() < 0.2 else pd.NaT)
            )  # fmt: skip
        for _ in range(int(rng.integers(0, 4))):
            first = FIRST + pd.Timedelta(days=int(rng.integers(0, span)))
            variety, bed = "AB"[rng.integers(2)], ("n", "s", None)[rng.integers(3)]
            for number in range(int(rng.integers(1, 15))):
                day = first + pd.Timedelta(days=int(number * rng.integers(1, 9)))
                if day <= last:
                    picked.append((day, crop, variety, (0.2, np.nan, 1.5)[rng.integers(3)],
                                   float(rng.integers(0, 9)), bed))  # fmt: skip
    names = ["crop", "variety", "bed", "date", "how", "plants", "removed"]
    plantings = pd.DataFrame(planted, columns=names) if planted else None
    picks = None
    if picked:
        names = ["date", "crop", "variety", "mass_kg", "count", "bed"]
        picks = pd.DataFrame(picked, columns=names).astype({"bed": "string"})
    if plantings is not None:
        plantings = plantings.astype({"bed": "string"})
        plantings["date"] = pd.to_datetime(plantings["date"])
        plantings["removed"] = pd.to_datetime(plantings["removed"])
    return plantings, picks


def commands(garden: Garden) -> Iterator[tuple[str, Callable[[], object]]]:
    """Yield what each command does with a garden, small."""
    yield "check", lambda: (odd_things(garden), still_missing(garden))
    last = garden.last_day
    if last is None:
        return
    for season in seasons_with_picks(garden):
        yield f"season {season}", lambda s=season: compare_varieties(garden, year=s, draws=100)
    coming = garden.seasons.of(last) + 1
    yield "next", lambda: plan_next_season(garden, year=coming, futures=10, sowings=2)
    yield "week", lambda: hc.plan_week(hc.forecast(garden, weeks=2, draws=50), garden)
    yield "ahead", lambda: hc.season_ahead(garden, draws=100)
    yield "backtest", lambda: hc.backtest(garden, draws=20, every_days=60, progress=False)


def run(garden: Garden) -> None:
    """Run every command; what is refused must be refused in words."""
    for name, command in commands(garden):
        try:
            command()
        except FrameError as error:
            raise AssertionError(f"{garden.name}, {name}: {error}") from error
        except HarvestcastError as error:
            assert str(error), f"{garden.name}, {name}"


@pytest.fixture(autouse=True)
def few_futures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_module, "TRIALS", 20)
    monkeypatch.setattr(plan_module, "FRESH_FUTURES", 20)


@pytest.mark.statistics
@pytest.mark.parametrize("seed", [3, 12, 107])
def test_every_command_takes_any_log(seed: int) -> None:
    run(any_garden(seed))


@pytest.mark.parametrize("seed", range(40, 60))
def test_every_pick_has_one_sowing_that_can_have_borne_it_or_none(seed: int) -> None:
    garden = any_garden(seed)
    units = [unit for one in seasons_with_picks(garden) for unit in units_of(garden, one)]
    rows = sum(len(part) for _, part in garden.picks.groupby(["crop", "variety", "date"]))
    assert rows == len(garden.picks)
    looked: dict[tuple[str, str], set[pd.Timestamp]] = {}
    for unit in units:
        days = set(unit.dates[unit.looked])
        looked.setdefault((unit.crop, unit.variety), set()).update(days)
        first = min(days)
        assert pd.isna(unit.planted) or unit.planted <= first, "a pick before its sowing"
        assert unit.heat[-1] >= 0.0 and np.diff(unit.heat).min(initial=0.0) >= -1e-9
        assert unit.counted_from <= first
    for key, own in garden.picks.groupby(["crop", "variety"]):
        assert looked[key] == set(own["date"])
    known = garden.picks["mass_kg"].notna().to_numpy()
    weighed = float(garden.picks.loc[known, "mass_kg"].sum())
    assert sum(float(unit.mass.sum()) for unit in units) >= weighed - 1e-6


if __name__ == "__main__":
    plan_module.TRIALS = plan_module.FRESH_FUTURES = 20
    for number in range(int(sys.argv[1]), int(sys.argv[2])):
        began = time.perf_counter()
        for name, command in commands(any_garden(number)):
            at = time.perf_counter()
            try:
                command()
            except Exception as error:
                if isinstance(error, FrameError) or not isinstance(error, HarvestcastError):
                    print("FAILED", number, name, type(error).__name__, str(error)[:300])
            if time.perf_counter() - at > 60:
                print("slow", number, name, round(time.perf_counter() - at))
        print(number, round(time.perf_counter() - began, 1), flush=True)
