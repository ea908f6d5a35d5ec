"""Thousands of simulated gardens in one go, as tables; invented numbers, for tests only.

Simpler than :mod:`tests.simulated` and a thousand times as fast: what ripens is a smooth course
over heat times noise that wanders from week to week, whoever comes picks what has ripened since.
It shares no code and no formula with the curves of the library.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from harvestcast.gardens.dataset import GardenTables

BETTER = 0.1
"""Log yield per plant by which each variety beats the one before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One crop of the simulated gardens."""

    day: int
    """Usual planting, day of the year."""
    how: str
    base_c: float
    first_dd: float
    """Heat to the middle of the rise."""
    long_dd: float
    """Heat over which it bears."""
    kg_plant: float
    fruit_kg: float
    plants: tuple[int, int]
    counted: float
    """Share of households that count it; the others weigh."""


KINDS: dict[str, Kind] = {
    "cucumber": Kind(day=135, how="sown", base_c=12, first_dd=330, long_dd=700, kg_plant=2.6,
                     fruit_kg=0.14, plants=(3, 14), counted=0.7),
    "zucchini": Kind(day=133, how="sown", base_c=10, first_dd=440, long_dd=900, kg_plant=5.5,
                     fruit_kg=0.24, plants=(1, 5), counted=0.8),
    "snap bean": Kind(day=130, how="sown", base_c=10, first_dd=560, long_dd=420, kg_plant=0.22,
                      fruit_kg=0.0058, plants=(20, 70), counted=0.0),
    "tomato": Kind(day=136, how="set_out", base_c=10, first_dd=680, long_dd=900, kg_plant=5.0,
                   fruit_kg=0.14, plants=(1, 8), counted=0.4),
    "sweet pepper": Kind(day=141, how="set_out", base_c=12, first_dd=520, long_dd=700,
                         kg_plant=1.5, fruit_kg=0.12, plants=(3, 10), counted=0.8),
    "pea": Kind(day=98, how="sown", base_c=4, first_dd=650, long_dd=260, kg_plant=0.06,
                fruit_kg=0.0045, plants=(40, 120), counted=0.0),
}  # fmt: skip


def station_weather(
    rng: np.random.Generator, stations: int, years: Sequence[int], last: pd.Timestamp
) -> tuple[pd.DatetimeIndex, np.ndarray, np.ndarray]:
    """Return days, minima and maxima (stations, days) of a temperate climate."""
    days = pd.date_range(f"{min(years)}-01-01", last)
    wave = -np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 20) / 365.25)
    place = rng.normal(0, 1.2, (stations, 1))
    slow = lfilter([0.6], [1, -0.8], rng.normal(0, 3.0, (stations, len(days))), axis=1)
    mean = 10.0 + 11.5 * wave + place + slow
    half = 5.5 + rng.gamma(4.0, 0.3, mean.shape)
    return days, np.round(mean - half, 1), np.round(mean + half, 1)


def many_gardens(
    number: int,
    *,
    seed: int = 1,
    as_of: str = "2026-08-10",
    stations: int = 200,
    weather_years: int = 10,
    crops: Sequence[str] = tuple(KINDS),
    varieties: int = 2,
    first: int = 0,
    own_weather: bool = False,
) -> GardenTables:
    """Simulate gardens of ``crops`` times ``varieties`` plantings each, up to a day.

    Parameters
    ----------
    number : int
        Gardens.
    seed : int
        Seed of everything; the same number, seed and ``first`` give the same gardens.
    as_of : str
        Last day of the logs.
    stations : int
        Weather stations; each garden has the weather of one.
    weather_years : int
        Years of weather, the last season included.
    first : int
        Number of the first garden, for its name.
    own_weather : bool
        Write the weather out for every garden instead of sharing it by station.
    """
    last = pd.Timestamp(as_of)
    rng = np.random.default_rng([seed, first])
    years = range(last.year - weather_years + 1, last.year + 1)
    days, tmin, tmax = station_weather(
        np.random.default_rng([seed, 9]), min(stations, number), years, last
    )
    season = days.year == last.year
    station = rng.integers(0, len(tmin), number)
    names = np.array([f"garden {first + one:07d}" for one in range(number)], object)
    places = np.array([f"station {one:04d}" for one in range(len(tmin))], object)
    picks, plantings = _books(
        rng, names, station, (tmin[:, season] + tmax[:, season]) / 2, last, crops, varieties
    )
    settings = [
        json.dumps({"people": int(people), "elevation_m": 200, "last_frost": "05-05",
                    "first_frost": "10-12"})
        for people in rng.integers(1, 7, number)
    ]  # fmt: skip
    gardens = pd.DataFrame({"garden": names, "settings": settings})
    if not own_weather:
        gardens["station"] = places[station]
    weather = pd.DataFrame(
        {
            "station": np.repeat(places, len(days)),
            "date": np.tile(days.to_numpy(), len(places)),
            "tmin_c": tmin.ravel(),
            "tmax_c": tmax.ravel(),
        }
    )
    if own_weather:
        whose = pd.DataFrame({"garden": names, "station": places[station]})
        weather = whose.merge(weather, on="station").drop(columns="station")
    return GardenTables(gardens=gardens, picks=picks, plantings=plantings, weather=weather)


def _books(
    rng: np.random.Generator,
    names: np.ndarray,
    station: np.ndarray,
    mean_c: np.ndarray,
    last: pd.Timestamp,
    crops: Sequence[str],
    varieties: int,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    picks, plantings = [], []
    new_year = np.datetime64(f"{last.year}-01-01", "ns")
    for block in np.array_split(np.arange(len(names)), max(1, len(names) // 1000)):
        fertile = rng.normal(0, 0.4, len(block))
        eager = rng.uniform(0.35, 0.85, len(block))
        visits = rng.random((len(block), mean_c.shape[1])) < eager[:, None]
        for crop in crops:
            kind = KINDS[crop]
            for variety in range(varieties):
                said: dict[str, Any] = {"crop": crop, "variety": f"{'ABCDEFGH'[variety]} sort"}
                planted, plants, picked = _grown(
                    rng, kind, variety, station[block], mean_c, visits, fertile
                )
                here = planted < mean_c.shape[1]
                plantings.append(
                    pd.DataFrame(
                        {
                            "garden": names[block][here],
                            **said,
                            "date": new_year + planted[here] * np.timedelta64(1, "D"),
                            "how": kind.how,
                            "plants": plants[here].astype(float),
                        }
                    )
                )
                counts = rng.random(len(block)) < kind.counted
                row, day = np.nonzero(picked > 0)
                number = picked[row, day].astype(float)
                mass = np.round(number * kind.fruit_kg * rng.normal(1, 0.05, len(row)), 3)
                picks.append(
                    pd.DataFrame(
                        {
                            "garden": names[block][row],
                            "date": new_year + day * np.timedelta64(1, "D"),
                            **said,
                            "count": np.where(counts[row], number, np.nan),
                            "mass_kg": np.where(counts[row], np.nan, np.maximum(mass, 0.001)),
                        }
                    )
                )
    book = pd.concat(picks, ignore_index=True)
    book = book.sort_values(["garden", "date"], kind="stable", ignore_index=True)
    return book, pd.concat(plantings, ignore_index=True)


def _grown(
    rng: np.random.Generator,
    kind: Kind,
    variety: int,
    station: np.ndarray,
    mean_c: np.ndarray,
    visits: np.ndarray,
    fertile: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return planting day, plants, and fruits picked each day (gardens, days)."""
    n, days = visits.shape
    heat = np.cumsum(np.maximum(mean_c - kind.base_c, 0.0), axis=1)[station]
    planted = np.clip(kind.day + np.rint(rng.normal(0, 6, n)).astype(int), 0, 364)
    before = heat[np.arange(n), np.minimum(planted, days - 1)]
    gone = np.maximum(heat - before[:, None], 0.0) * (np.arange(days) > planted[:, None])
    at = kind.first_dd * np.exp(rng.normal(0, 0.07, (n, 1)))
    long = kind.long_dd * np.exp(rng.normal(0, 0.15, (n, 1)))
    # Share of the season's harvest that is ripe by then: between two straight-edged ramps.
    ripe = np.clip((gone - at) / long, 0.0, 1.0)
    ripe = ripe * ripe * (3 - 2 * ripe)
    plants = rng.integers(kind.plants[0], kind.plants[1] + 1, n)
    # The garden, the variety (each a tenth better than the one before), the variety here.
    level = np.exp(fertile + rng.normal(BETTER * variety, 0.25, n))
    noise = lfilter([0.35], [1, -0.85], rng.normal(0, 1.0, (n, days)), axis=1)
    daily = np.diff(ripe, axis=1, prepend=0.0) * np.exp(0.6 * noise)
    fruits = np.cumsum(daily, axis=1) * (plants * level * kind.kg_plant / kind.fruit_kg)[:, None]
    # Whoever comes picks all that has ripened since the last visit.
    seen = np.maximum.accumulate(np.where(visits, fruits, 0.0), axis=1)
    since = np.diff(seen, axis=1, prepend=0.0)
    return planted, plants, rng.poisson(np.maximum(since, 0.0))
