"""Small gardens for the tests of the season room."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.frames import NOTICES, PANTRY, PICKS, PLANTINGS, WEATHER, check_frame
from harvestcast.records.garden import Garden
from harvestcast.records.household import Household

SUMMER = {"last_frost": "05-01", "first_frost": "10-10", "people": 4, "elevation_m": 200}


def weather(first: int = 2018, last: int = 2026) -> pd.DataFrame:
    """Return smooth years that differ by a steady amount, frost from mid-October on."""
    days = pd.date_range(f"{first}-01-01", f"{last}-12-31")
    wave = -np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 18) / 365.25)
    mean = 8.5 + 15.0 * wave + 0.4 * ((days.year.to_numpy() % 5) - 2)
    return pd.DataFrame(
        {
            "date": days,
            "tmin_c": mean - 5.5,
            "tmax_c": mean + 5.5,
            "rain_mm": 0.0,
            "kind": "observed",
            "issued": pd.NaT,
        }
    )


def plantings(rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    """Return plantings from crop, variety, bed, date, how, plants."""
    table = pd.DataFrame(rows, columns=["crop", "variety", "bed", "date", "how", "plants"])
    table["date"] = pd.to_datetime(table["date"])
    table["plants"] = table["plants"].astype(float)
    for name in ("row_m", "area_m2", "line"):
        table[name] = np.nan
    table["removed"] = pd.NaT
    table["cover"], table["note"], table["file"] = None, None, "plantings.csv"
    return check_frame(table, PLANTINGS)


def picks(rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    """Return picks from date, crop, variety, mass_kg, and optionally count, grade, bed, hours."""
    full = [(*row, *(np.nan, "good", None, np.nan)[len(row) - 4 :]) for row in rows]
    names = ["date", "crop", "variety", "mass_kg", "count", "grade", "bed", "hours"]
    table = pd.DataFrame(full, columns=names)
    table["date"] = pd.to_datetime(table["date"])
    table["note"], table["file"], table["line"] = None, "picks.csv", np.nan
    for name in ("mass_kg", "count", "hours"):
        table[name] = table[name].astype(float)
    return check_frame(table, PICKS)


def bell(start: str, days: int, total: float, every: int = 3) -> list[tuple[pd.Timestamp, float]]:
    """Return picks every few days under a bell, kg."""
    day = np.arange(0, days, every)
    shape = np.exp(-0.5 * ((day - days / 2) / (days / 5)) ** 2)
    mass = total * shape / shape.sum()
    first = pd.Timestamp(start)
    return [(first + pd.Timedelta(days=int(d)), float(m)) for d, m in zip(day, mass, strict=True)]


def garden(planted: pd.DataFrame, picked: pd.DataFrame, **settings: Any) -> Garden:
    """Return a garden of these frames."""
    return Garden(
        folder=Path("invented"),
        household=Household.model_validate({**SUMMER, **settings}),
        picks=picked,
        plantings=planted,
        weather=check_frame(weather(), WEATHER),
        pantry=PANTRY.empty(),
        notices=NOTICES.empty(),
    )


def tomatoes(**settings: Any) -> Garden:
    """Return a garden of three tomatoes: many plants in two beds, some plants, one plant."""
    planted = plantings(
        [
            ("tomato", "Many", "east", "2026-05-15", "set_out", 6),
            ("tomato", "Many", "west", "2026-05-15", "set_out", 6),
            ("tomato", "Some", "east", "2026-05-15", "set_out", 3),
            ("tomato", "Single", "east", "2026-05-15", "set_out", 1),
        ]
    )
    rows: list[tuple[Any, ...]] = []
    for variety, bed, total, start in (
        ("Many", "east", 30.0, "2026-07-20"),
        ("Many", "west", 27.0, "2026-07-21"),
        ("Some", "east", 12.0, "2026-07-25"),
        ("Single", "east", 6.0, "2026-07-18"),
    ):
        rows += [(day, "tomato", variety, kg, np.nan, "good", bed) for day, kg in
                 bell(start, 60, total)]  # fmt: skip
    return garden(planted, picks(rows), **settings)
