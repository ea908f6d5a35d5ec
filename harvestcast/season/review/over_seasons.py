"""Varieties over the seasons of a log: each season's yield in average weather, and a verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import OVER_SEASONS, VERDICTS
from harvestcast.season.messages import said
from harvestcast.season.verdict import judge
from harvestcast.season.yields.learned import CropDraws
from harvestcast.season.yields.plantings import Unit

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

BED, PLANT = "kg_per_m2", "kg_per_plant"
Season = tuple[Sequence[CropDraws], Sequence[CropDraws], Sequence[Unit]]
"""Draws of a season, the same in average weather, and its plantings."""


def seasons_table(garden: Garden, seasons: Mapping[int, Season]) -> pd.DataFrame:
    """Return what every variety brought in each season, as it was and in average weather.

    Parameters
    ----------
    garden : Garden
        The garden.
    seasons : mapping of int to tuple
        Seasons that are over.

    Returns
    -------
    pandas.DataFrame
        Table OVER_SEASONS.
    """
    rows = []
    for year, (drawn, moved, units) in seasons.items():
        for as_it_was, average in zip(drawn, moved, strict=True):
            for place, variety in enumerate(as_it_was.varieties):
                mine = [u for u in units if u.crop == as_it_was.crop and u.variety == variety]
                days = [u.dates[(u.mass > 0) | (u.count > 0)] for u in mine]
                picked = [day for one in days if len(one) for day in (one[0], one[-1])]
                low, middle, high = _spread(average.expected[PLANT][:, place])
                rows.append(
                    {
                        "crop": as_it_was.crop,
                        "variety": variety,
                        "season": year,
                        "label": garden.seasons.label(year),
                        "plants": sum(u.plants for u in mine),
                        "first_pick": min(picked, default=pd.NaT),
                        "last_pick": max(picked, default=pd.NaT),
                        "kg_per_plant": _spread(as_it_was.expected[PLANT][:, place])[1],
                        "average_kg_per_plant": middle,
                        "average_q05": low,
                        "average_q95": high,
                        "notes": _notes(mine),
                    }
                )
    table = pd.DataFrame(rows, columns=OVER_SEASONS.names)
    table = table.sort_values(["crop", "variety", "season"], kind="stable", ignore_index=True)
    return check_frame(table, OVER_SEASONS) if rows else OVER_SEASONS.empty()


def _spread(values: np.ndarray) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95))
    return float(low), float(middle), float(high)


def _notes(units: Sequence[Unit]) -> str | None:
    return "; ".join(dict.fromkeys(note for unit in units for note in unit.notes)) or None


def in_average_weather(seasons: Mapping[int, Season]) -> list[Unit]:
    """Return the plantings of all seasons, their picks as average weather would have had them."""
    found = []
    for drawn, moved, units in seasons.values():
        ratio = {}
        for as_it_was, average in zip(drawn, moved, strict=True):
            for place, variety in enumerate(as_it_was.varieties):
                own, other = (one.expected[PLANT][:, place] for one in (as_it_was, average))
                known = np.isfinite(own) & np.isfinite(other) & (own > 0)
                if known.any():
                    ratio[as_it_was.crop, variety] = float((other[known] / own[known]).mean())
        for unit in units:
            times = ratio.get((unit.crop, unit.variety), 1.0)
            found.append(
                replace(
                    unit, mass=times * unit.mass, count=times * unit.count,
                    graded=times * unit.graded,
                )
            )  # fmt: skip
    return found


def verdicts_table(
    crops: Sequence[CropDraws], units: Sequence[Unit], told: str, shared: Sequence[str]
) -> pd.DataFrame:
    """Return whether each variety stays, gets another try or goes, and on what evidence.

    Parameters
    ----------
    crops : sequence of CropDraws
        Draws over all seasons, in average weather.
    units : sequence of Unit
        The plantings they rest on.
    told : str
        The household's units, ``us`` or ``metric``.
    shared : sequence of str
        Crops most picks of which name no variety: nothing is said of them.

    Returns
    -------
    pandas.DataFrame
        Table VERDICTS.
    """
    rows = []
    for crop in crops:
        yields = crop.expected[BED]
        known = np.flatnonzero(np.isfinite(yields).all(axis=0)).tolist()
        for own in known if crop.crop not in shared else []:
            mine = [u for u in units if (u.crop, u.variety) == (crop.crop, crop.varieties[own])]
            rivals = [one for one in known if one != own]
            found = judge(yields, own, rivals, first=crop.expected["first_pick_days"])
            low, middle, high = _spread(yields[:, own])
            best = found.against
            facts = {
                "units": told,
                "kg_m2": middle,
                "low": low,
                "high": high,
                "other": "" if best is None else crop.varieties[best],
                "other_kg_m2": np.nan if best is None else float(np.median(yields[:, best])),
                "chance": found.chance,
                "seasons": len({u.year for u in mine}),
                "plants": float(sum(u.plants for u in mine)),
            }
            code = "alone" if best is None else found.verdict
            if found.verdict == "keep" and found.days_sooner:
                code = "sooner"
            line = said(f"verdict.{code}", **facts, days=found.days_sooner)
            rows.append(
                {
                    "crop": crop.crop,
                    "variety": crop.varieties[own],
                    "verdict": found.verdict,
                    "kg_per_m2": middle,
                    "q05": low,
                    "q95": high,
                    "against": facts["other"] or None,
                    "against_kg_per_m2": facts["other_kg_m2"],
                    "days_sooner": max(found.days_sooner, 0),
                    "chance_better": found.chance,
                    "seasons": facts["seasons"],
                    "plants": facts["plants"],
                    "notes": _notes(mine),
                    "code": line.code,
                    "says": line.text,
                }
            )
    table = pd.DataFrame(rows, columns=VERDICTS.names)
    return check_frame(table, VERDICTS) if rows else VERDICTS.empty()
