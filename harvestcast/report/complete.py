"""What a garden lacks before a report says anything, and yields that no plant can bear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.frames import NOTICES, check_frame
from harvestcast.report import wording

if TYPE_CHECKING:
    from harvestcast.growth.almanac import CropFacts
    from harvestcast.records.garden import Garden

BEYOND = 3.0
"""How many times the almanac's high yield of the plants a season must bring to be said."""
STANDING_DAYS = 400
"""Longest time from planting to pick of a crop that is no perennial."""
FEW_YEARS = 3
"""Years of weather below which the scenarios are few."""
NO_ELEVATION = ", so no canning time is shown"
"""End of the line that says that there is no elevation."""


def still_missing(garden: Garden) -> list[str]:
    """Return what is to be written down next before the reports say what they can.

    Parameters
    ----------
    garden : Garden
        A garden without anything to mend.

    Returns
    -------
    list of str
        One sentence a thing; empty where all is there.
    """
    home, weather = garden.household, garden.weather
    name = wording.clean(garden.folder or "my_garden")
    us = home.units == "us"
    said = []
    if garden.plantings.empty:
        said.append(
            "plantings.csv: nothing is planted yet; write crop, variety, date, how (sown or "
            "set_out) and plants of every bed"
        )
    if garden.picks.empty:
        said.append(f"no pick is written down; harvestcast add {name} cucumber 12, or import a log")
    years = weather.loc[weather["kind"] != "forecast", "date"].dt.year.nunique()
    if years < FEW_YEARS:
        columns = "date, tmin_f, tmax_f" if us else "date, tmin_c, tmax_c"
        have = "there is no weather; without it nothing is forecast"
        if years:
            have = (
                f"there is weather of {years} year{'s' if years > 1 else ''}; the weeks ahead are "
                "drawn from the same weeks of past years, and these are few"
            )
        said.append(
            f"weather.csv: {have}; ten years are best: {columns}, or the daily file of a station "
            "near you (GHCN-Daily), as it comes"
        )
    if home.elevation_m is None:
        height = "elevation_ft" if us else "elevation_m"
        said.append(f"garden.toml: no {height}{NO_ELEVATION}")
    if not home.equipment:
        said.append("garden.toml: no [[equipment]], so nothing but cool storage is planned")
    if not any(home.hours.values()):
        said.append("garden.toml: no [hours], so no work in the kitchen is planned")
    if not home.targets:
        said.append("garden.toml: no [targets], so nothing is said of what the shelf should hold")
    return said


def odd_things(garden: Garden) -> pd.DataFrame:
    """Return what was odd in the files, unlikely yields and the pantry book's lines among it."""
    from harvestcast.kitchen.ledger import pantry_notices

    found = [garden.notices, unlikely_yields(garden), pantry_notices(garden)]
    return pd.concat(found, ignore_index=True)


def unlikely_yields(garden: Garden) -> pd.DataFrame:
    """Return notices of seasons, and of single picks, that outdo what the plants can bear.

    Compared with the almanac's high yield a plant; a pick weighed in the wrong unit stands out
    here even where it is the only one of its crop. Nothing is changed.

    Parameters
    ----------
    garden : Garden
        Picks and plantings.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame.
    """
    from harvestcast.growth.almanac import crop_facts

    weighed = garden.picks.loc[garden.picks["mass_kg"] > 0]
    said = garden.notices.loc[garden.notices["column"] == "weight", ["file", "line"]]
    known = set(said.itertuples(index=False, name=None))
    found = []
    for (crop, year), picks in weighed.groupby(["crop", weighed["date"].dt.year], sort=True):
        facts = crop_facts(str(crop), garden.household)
        most = _most_kg(garden.plantings, facts, picks["date"].max())
        if not facts.known or most is None:
            continue
        largest = picks.iloc[int(np.argmax(picks["mass_kg"].to_numpy(float)))]
        if (largest["file"], largest["line"]) in known:
            continue  # said already, beside the other picks
        alone = float(largest["mass_kg"]) > BEYOND * most
        total = float(picks["mass_kg"].sum())
        if not alone and total <= BEYOND * most:
            continue
        units = garden.household.units
        kg = float(largest["mass_kg"]) if alone else total
        found.append(
            {
                "file": largest["file"],
                "line": largest["line"],
                "column": "weight",
                "value": wording.mass(float(largest["mass_kg"]), units),
                "odd": f"{'this pick' if alone else f'the picks of {year}'} would be "
                f"{wording.mass(kg, units)} of {crop}; its plants bear about "
                f"{wording.mass(most, units)} in a good season",
                "done": "kept as typed; check the unit of the weight and the number of plants",
            }
        )
    return check_frame(pd.DataFrame(found, columns=NOTICES.names), NOTICES)


def _most_kg(plantings: pd.DataFrame, facts: CropFacts, last: pd.Timestamp) -> float | None:
    """Return the high yield of a crop's plants in one season, kg; None where it is not known."""
    own: Any = plantings.loc[plantings["crop"] == facts.crop]
    if not facts.perennial:
        own = own.loc[own["date"].between(last - pd.Timedelta(days=STANDING_DAYS), last)]
    plants = own["plants"].to_numpy(float, na_value=np.nan)
    by_row = own["row_m"].to_numpy(float, na_value=np.nan) * facts.yield_kg_per_m[1]
    kg = np.fmax(plants * facts.yield_kg_per_plant[1], by_row)
    return float(kg.sum()) if len(kg) and np.isfinite(kg).all() and kg.sum() > 0 else None
