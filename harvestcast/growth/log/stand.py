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
    covered: bool
    bed: Any
    date: Any


class Stand(NamedTuple):
    """All plantings of one variety.

    ``heat`` and ``share`` have shape (plantings, days) and run from the season's start; ``covered``
    (plantings,) says which stand under cover; ``plants`` is NaN where unknown.
    """

    heat: Array
    share: Array
    plants: float
    set_out: bool
    dated: bool
    covered: Flags


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
            plantings["cover"].notna(),
            strict=True,
        )
    )
    out: dict[Key, list[Planting]] = {}
    for row, (crop, variety, how, bed, date, covered) in enumerate(names):
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
                covered=bool(covered),
                bed=bed,
                date=date,
            )
        )
    return out


def stand_of(
    own: Sequence[Planting] | None,
    facts: CropFacts,
    first: int,
    open_total: Array,
    cover_total: Array,
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
        First day of the totals.
    open_total, cover_total : ndarray (days,)
        Heat added up from ``first`` on, in the open and under cover. [degC d]
    tmin : ndarray (days,)
        Daily minimum in the open. [degC]
    offset : int
        Position of the season's start in the totals.
    picked : bool
        Whether anything was written down of it this season.
    """
    days = len(open_total)

    def since_start_of(total: Array) -> Array:
        return (total - (total[offset - 1] if offset else 0.0))[offset:]

    if own is None:
        heat, alive = since_start_of(open_total), np.ones(days - offset)
        return Stand(heat[None], alive[None], np.nan, False, False, np.zeros(1, dtype=bool))
    heats, stands, numbers, outs, covered = [], [], [], [], []
    dated = False
    for row in own:
        total = cover_total if row.covered else open_total
        if row.day is None or (facts.perennial and row.day < first + offset):
            heat, alive = since_start_of(total), np.ones(days - offset)
        else:
            at = row.day - first
            if at < 0:
                continue
            heat = total - total[at]
            heat[:at] = 0.0
            killed = facts.tender and not row.covered
            killed = killed and bool((tmin[at:offset] <= facts.kill_c).any())
            if at < offset and (killed or not _carries_over(heat[offset - 1], facts, row.how)):
                continue
            heat = heat[offset:]
            alive = np.ones(days - offset)
            alive[: max(at - offset, 0)] = 0.0
            dated = True
        if row.removed is not None:
            # It may be picked on its last day, but where that is the last one known, nothing of it
            # stands in the days ahead.
            last = row.removed - first - offset
            alive[max(last + (last < days - offset - 1), 0) :] = 0.0
        heats.append(heat)
        stands.append(alive)
        numbers.append(_plants(row, facts))
        outs.append(row.how == "set_out")
        covered.append(row.covered)
    if not heats:
        nothing = stand_of(None, facts, first, open_total, cover_total, tmin, offset, picked)
        return nothing if picked else ""
    if not dated and not picked and not facts.perennial:
        return "planting.undated"
    plants = np.array(numbers, dtype=float)
    known = np.isfinite(plants)
    typical = plants[known].mean() if known.any() else 1.0
    weight = np.where(known, plants, typical)
    share = np.array(stands) * (weight / weight.sum())[:, None]
    number = float(weight.sum()) if known.any() else np.nan
    out = sum(outs) >= 0.5 * len(outs)
    return Stand(np.array(heats), share, number, out, dated, np.array(covered))


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


def frosted(facts: CropFacts, tmin: Array, stand: Stand, mass: Array) -> tuple[Array, int]:
    """Return the shares that a killing frost leaves, and the days since it ended the crop.

    Parameters
    ----------
    facts : CropFacts
    tmin : ndarray (days,)
        Daily minimum in the open. [degC]
    stand : Stand
    mass : ndarray (days,)
        Picked. [kg]

    Returns
    -------
    share : ndarray (plantings, days)
        What stands in the open beside covered plants is gone from the frost on.
    days : int
        With the frost's own; 0 where none came, or any of it stands under cover. A pick a week or
        more after a frost says that it killed nothing, where none is under cover.
    """
    share = stand.share
    if not facts.tender or stand.covered.all():
        return share, 0
    sheltered = bool(share[stand.covered, -1:].any())
    standing = share[~stand.covered].sum(axis=0) > 0
    half = np.arange(len(tmin)) > 150  # spring frosts kill no crop that stands in summer
    cold = np.flatnonzero((tmin <= facts.kill_c) & standing & half)
    if not len(cold) or (not sheltered and (mass[cold[0] + 7 :] > 0).any()):
        return share, 0
    if not sheltered:
        return share, len(tmin) - int(cold[0])
    share = share.copy()
    share[~stand.covered, cold[0] :] = 0.0
    return share, 0
