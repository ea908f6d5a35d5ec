"""Write a simulated garden as a folder of files, or hand it to the library as tables."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from tests.simulated.garden import SimulatedGarden


def write_folder(garden: SimulatedGarden, destination: str | Path, *, settings: str = "") -> Path:
    """Write garden.toml, plantings.csv, picks.csv and weather.csv (metric).

    Parameters
    ----------
    garden : SimulatedGarden
        The garden.
    destination : path
        Folder to write; made where missing.
    settings : str
        Further lines of garden.toml (tables of equipment, hours, targets and so on).
    """
    folder = Path(destination)
    folder.mkdir(parents=True, exist_ok=True)
    head = [
        f'place = "simulated garden, seed {garden.seed}"',
        "elevation_m = 200",
        'units = "metric"',
        "people = 4",
        f'last_frost = "{garden.last_frost}"',
        f'first_frost = "{garden.first_frost}"',
        settings,
    ]
    (folder / "garden.toml").write_text("\n".join(head) + "\n", "utf-8")
    tables = {
        "plantings.csv": garden.plantings[["crop", "variety", "bed", "date", "how", "plants"]],
        "picks.csv": garden.picks[["date", "crop", "variety", "count", "mass_kg", "grade"]].rename(
            columns={"mass_kg": "weight_kg"}
        ),
        "weather.csv": garden.weather[["date", "tmin_c", "tmax_c", "rain_mm"]],
    }
    for name, table in tables.items():
        table.to_csv(folder / name, index=False, date_format="%Y-%m-%d", float_format="%.6g")
    return folder


def as_garden(garden: SimulatedGarden, **settings: Any) -> Any:
    """Return the library's Garden without a detour over files (fast, for many gardens).

    Parameters
    ----------
    garden : SimulatedGarden
        The garden.
    **settings
        Settings of the household beyond place, elevation, people and frost dates.
    """
    from harvestcast.records.garden import garden_from_frames
    from harvestcast.records.household import Household

    plain = {
        "place": f"simulated garden, seed {garden.seed}",
        "elevation_m": 200,
        "people": 4,
        "last_frost": garden.last_frost,
        "first_frost": garden.first_frost,
        **settings,
    }
    return garden_from_frames(
        garden.picks,
        garden.plantings,
        garden.weather,
        name=f"simulated garden {garden.seed}",
        household=Household.model_validate(plain),
    )


def weekly_picks(garden: SimulatedGarden, origin: str | pd.Timestamp) -> pd.DataFrame:
    """Return what was written down per week after ``origin``: crop, variety, week, count, mass."""
    ahead = (garden.picks["date"] - pd.Timestamp(origin)).dt.days
    table = garden.picks[ahead >= 1].assign(week=(ahead[ahead >= 1] - 1) // 7 + 1)
    return table.groupby(["crop", "variety", "week"], as_index=False)[["count", "mass_kg"]].sum(
        min_count=1
    )
