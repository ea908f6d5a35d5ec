"""What stands in the beds: heat, share and number of plants of every planting of a variety."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import CropFacts

Key = tuple[str, str]


class Planting(NamedTuple):
    """One row of the plantings; days are numbers of days since 1970, None where unknown."""

    day: int | None
    how: str
    plants: float
    row_m: float
    area_m2: float
    removed: int | None
    bed: Any
    date: Any


class Stand(NamedTuple):
    """All plantings of one variety.

    ``heat`` and ``share`` have shape (plantings, days) and run from the season's start; ``plants``
    is NaN where unknown.
    """

    heat: Array
    share: Array
    plants: float
    set_out: bool
    dated: bool


def day_number(day: pd.Timestamp) -> int:
    """Return the number of days since 1970 of a day."""
    return int(np.datetime64(day, "D").astype(np.int64))


def day_numbers(dates: pd.Series) -> tuple[Index, Flags]:
    """Return days since 1970 of a column of dates, and which of them are known."""
    days = dates.to_numpy().astype("datetime64[D]")
    return days.astype(np.int64), ~np.isnat(days)


def plantings_by_key(plantings: pd.DataFrame, last: int) -> dict[Key, list[Planting]]:
    """Return the plantings made by a day, per crop and variety."""
    day, known = day_numbers(plantings["date"])
    removed, gone = day_numbers(plantings["removed"])
    numbers = plantings[["plants", "row_m", "area_m2"]].to_numpy(float)
    names = list(
        zip(
            plantings["crop"].astype(object),
            plantings["variety"].astype(object),
            plantings["how"].astype(object),
            plantings["bed"].astype(object),
            plantings["date"],
            strict=True,
        )
    )
    out: dict[Key, list[Planting]] = {}
    for row, (crop, variety, how, bed, date) in enumerate(names):
        if known[row] and day[row] > last:
            continue
        plants, row_m, area = numbers[row].tolist()
        out.setdefault((str(crop), str(variety)), []).append(
            Planting(
                day=int(day[row]) if known[row] else None,
                how=str(how),
                plants=plants,
                row_m=row_m,
                area_m2=area,
                removed=int(removed[row]) if gone[row] else None,
                bed=bed,
                date=date,
            )
        )
    return out


def stand_of(
    own: Sequence[Planting] | None,
    facts: CropFacts,
    first: int,
    total: Array,
    tmin: Array,
    offset: int,
    picked: bool,
) -> Stand | str:
    """Return what stands of one variety; or by code why there is nothing to forecast.

    Parameters
    ----------
    own : sequence of Planting, optional
        Its plantings; None where it was picked only.
    facts : CropFacts
    first : int
        First day of ``total``.
    total : ndarray (days,)
        Heat added up from ``first`` on. [degC d]
    tmin : ndarray (days,)
        Daily minimum. [degC]
    offset : int
        Position of the season's start in ``total``.
    picked : bool
        Whether anything was written down of it this season.
    """
    days = len(total)
    since_start = (total - (total[offset - 1] if offset else 0.0))[offset:]
    if own is None:
        return Stand(since_start[None], np.ones((1, days - offset)), np.nan, False, False)
    heats, stands, numbers, outs = [], [], [], []
    dated = False
    for row in own:
        if row.day is None or (facts.perennial and row.day < first + offset):
            heat, alive = since_start, np.ones(days - offset)
        else:
            at = row.day - first
            if at < 0:
                continue
            heat = total - total[at]
            heat[:at] = 0.0
            killed = facts.tender and bool((tmin[at:offset] <= facts.kill_c).any())
            if at < offset and (killed or not _carries_over(heat[offset - 1], facts, row.how)):
                continue
            heat = heat[offset:]
            alive = np.ones(days - offset)
            alive[: max(at - offset, 0)] = 0.0
            dated = True
        if row.removed is not None:
            alive[max(row.removed - first - offset + 1, 0) :] = 0.0
        heats.append(heat)
        stands.append(alive)
        numbers.append(_plants(row, facts))
        outs.append(row.how == "set_out")
    if not heats:
        return stand_of(None, facts, first, total, tmin, offset, picked) if picked else ""
    if not dated and not picked and not facts.perennial:
        return "planting.undated"
    plants = np.array(numbers, dtype=float)
    known = np.isfinite(plants)
    typical = plants[known].mean() if known.any() else 1.0
    weight = np.where(known, plants, typical)
    share = np.array(stands) * (weight / weight.sum())[:, None]
    number = float(weight.sum()) if known.any() else np.nan
    return Stand(np.array(heats), share, number, sum(outs) >= 0.5 * len(outs), dated)


def _carries_over(heat_by_start: float, facts: CropFacts, how: str) -> bool:
    """Whether a planting of last season is still on its way when the new one starts.

    Tender crops that no frost has killed stand under cover, or where there is no winter: they are
    on their way until they bear. Where they bear already the season begins before them
    (:func:`harvestcast.growth.log.series.quiet_start`).
    """
    needed = facts.dd_to_first_pick_set_out if how == "set_out" else facts.dd_to_first_pick
    return heat_by_start < (1.0 if facts.tender else 0.5) * needed


def _plants(row: Planting, facts: CropFacts) -> float:
    if row.plants > 0:
        return row.plants
    if not np.isnan(row.row_m):
        return float(row.row_m * facts.plants_per_m_row)
    if not np.isnan(row.area_m2):
        return float(row.area_m2 / facts.spacing_m2)
    return np.nan


def frosted_days(facts: CropFacts, tmin: Array, share: Array, mass: Array) -> int:
    """Return the days since the killing frost that ended the crop, its own included; 0 if none.

    A pick a week or more after it says that it did not.
    """
    if not facts.tender:
        return 0
    standing = share.sum(axis=0) > 0
    half = np.arange(len(tmin)) > 150  # spring frosts kill no crop that stands in summer
    cold = np.flatnonzero((tmin <= facts.kill_c) & standing & half)
    if not len(cold) or (mass[cold[0] + 7 :] > 0).any():
        return 0
    return len(tmin) - int(cold[0])
