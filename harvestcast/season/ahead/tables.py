"""What a season brings as tables: weeks, crops, shelves, stores and hours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import (
    AHEAD_CROPS,
    AHEAD_HOURS,
    AHEAD_LIMITS,
    AHEAD_ROOM,
    AHEAD_SHELVES,
    AHEAD_WEEKS,
)
from harvestcast.growth.log.picked import picked_days
from harvestcast.growth.log.series import gather
from harvestcast.kitchen.handbook.products import PINTS, product
from harvestcast.kitchen.household.capacity import JAR_SIZES, capacity_of, jar_store
from harvestcast.records.garden import Garden
from harvestcast.season.kitchen_year import KitchenYear, YearResult, best_ways

LITTLE_KG = 0.1
"""Below this a week of a crop brings nothing to speak of. Our judgement."""
OVER_KG = 0.5
"""From this on something to speak of is left over in a week. Our judgement."""
FULL = 0.98
"""Share of a store from which on it counts as full: another bag would not fit."""
TABLE_SHARE = 0.5
"""Share of the appetite with which a crop counts as being on the table, as in a plan for next
season (:data:`harvestcast.season.next.goals.DISH`)."""
LEVELS = (0.1, 0.25, 0.5, 0.75, 0.9)


class Found(NamedTuple):
    """Futures worked through; ``picked`` without what lies in the kitchen already, kg."""

    crops: tuple[str, ...]
    starts: pd.DatetimeIndex
    as_of: pd.Timestamp
    shown: int
    picked: Array
    come: Array
    kitchen: KitchenYear
    year: YearResult

    @property
    def head(self) -> dict[str, Any]:
        """Number, first and last day of the weeks shown."""
        starts = self.starts[: self.shown]
        ends = starts + pd.Timedelta(days=6)
        return {"week": np.arange(self.shown) + 1, "start": starts, "end": ends}


def _spread(values: Array, name: str) -> dict[str, Array]:
    """Return mean and quantiles over the draws, the first axis."""
    levels = np.quantile(values, LEVELS, axis=0)
    named = {f"q{100 * level:.0f}_{name}": row for level, row in zip(LEVELS, levels, strict=True)}
    return {f"mean_{name}": values.mean(axis=0), **named}


def weeks_table(found: Found) -> pd.DataFrame:
    """Return every crop week by week, and where it goes (AHEAD_WEEKS)."""
    year, kitchen, shown = found.year, found.kitchen, found.shown
    put_up = year.put_up_by_week
    tables = []
    for place, crop in enumerate(found.crops):
        over = year.spoiled[:shown, place]
        least = TABLE_SHARE * kitchen.eat[place]
        tables.append(
            pd.DataFrame(
                {
                    "crop": crop,
                    **found.head,
                    **_spread(found.picked[:, :shown, place], "kg"),
                    "eaten_kg": year.eaten[:, :shown, place].mean(axis=0),
                    "given_kg": year.more[:shown, place].mean(axis=1),
                    "put_up_kg": put_up[:shown, place].mean(axis=1),
                    "over_kg": over.mean(axis=1),
                    "over_q50_kg": np.quantile(over, 0.5, axis=1),
                    "over_q90_kg": np.quantile(over, 0.9, axis=1),
                    "p_over": (over >= OVER_KG).mean(axis=1),
                    "p_table": (year.eaten[:, :shown, place] >= least - 1e-9).mean(axis=0),
                }
            )
        )
    if not tables:
        return AHEAD_WEEKS.empty()
    return check_frame(pd.concat(tables, ignore_index=True), AHEAD_WEEKS)


def crops_table(found: Found, garden: Garden, first: Array) -> pd.DataFrame:
    """Return every crop over the whole time (AHEAD_CROPS)."""
    year, picked = found.year, found.picked
    start = garden.seasons.start(found.as_of)
    log = picked_days(gather(garden, found.as_of, begun=start))
    so_far = log.groupby("crop")["mass_kg"].sum() if len(log) else pd.Series(dtype=float)
    put_up, rows = year.put_up_by_week, []
    for place, crop in enumerate(found.crops):
        weekly = picked[:, :, place]
        total = weekly.sum(axis=1)
        some = total >= LITTLE_KG
        running = np.cumsum(weekly, axis=1)
        nine = np.argmax(running >= 0.9 * total[:, None], axis=1) * 7.0 + 7
        peaks = weekly.mean(axis=0)
        over = year.spoiled[:, place].sum(axis=0)
        rows.append(
            {
                "crop": crop,
                "so_far_kg": float(so_far.get(crop, 0.0)),
                **_spread(total, "kg"),
                "p_any": some.mean(),
                **_days(found.as_of, first[:, place], "first"),
                "peak": found.starts[int(peaks.argmax())] if peaks.max() > 0 else pd.NaT,
                "last_q50": _days(found.as_of, np.where(some, nine, np.nan), "last")["last_q50"],
                "eaten_kg": year.eaten[:, :, place].sum(axis=1).mean(),
                "given_kg": year.more[:, place].sum(axis=0).mean(),
                "put_up_kg": put_up[:, place].sum(axis=0).mean(),
                "over_kg": over.mean(),
                "over_q10_kg": np.quantile(over, 0.1),
                "over_q90_kg": np.quantile(over, 0.9),
                "stored_kg": year.left[:, place].mean(),
            }
        )
    return check_frame(pd.DataFrame(rows), AHEAD_CROPS) if rows else AHEAD_CROPS.empty()


def _days(day: pd.Timestamp, after: Array, name: str) -> dict[str, Any]:
    """Return early, middle and late day of something; none where it never comes by then."""
    # What never comes lies behind all that does.
    ordered = np.sort(np.where(np.isnan(after), np.inf, after))
    found = {}
    for level in (0.1, 0.5, 0.9):
        days = ordered[min(int(level * len(ordered)), len(ordered) - 1)]
        never = not np.isfinite(days)
        found[f"{name}_q{100 * level:.0f}"] = (
            pd.NaT if never else day + pd.Timedelta(days=int(days))
        )
    return found


def shelves_table(found: Found, wanted: pd.DataFrame) -> pd.DataFrame:
    """Return the targets and how much of each is likely put up (AHEAD_SHELVES)."""
    kitchen, year, rows = found.kitchen, found.year, []
    for row in wanted[wanted["target_jars"] > 0].to_dict("records"):
        key = str(row["product"])
        line = {
            "product": key,
            "label": str(row["label"]),
            "unit": product(key).counted_in,
            "target_jars": row["target_jars"],
            "stock_jars": row["stock_jars"],
            "wanted_jars": row["wanted_jars"],
        }
        if key in kitchen.products:
            place = kitchen.products.index(key)
            need = float(kitchen.need[place])
            ways = kitchen.method_product == place
            made = np.tensordot(kitchen.jars_per_kg[ways], year.made[:, ways], axes=(0, 1))
            done = np.cumsum(made, axis=0).T
            full = done >= need - 1e-6
            weeks = np.where(full.any(axis=1), 7.0 * full.argmax(axis=1) + 7, np.nan)
            low, middle, high = np.quantile(year.jars[:, place], (0.1, 0.5, 0.9))
            line |= {"q10_jars": low, "q50_jars": middle, "q90_jars": high}
            line |= {"p_met": full[:, -1].mean()}
            if need > 0:
                line |= _days(found.as_of, weeks, "met")
        rows.append(line)
    table = pd.DataFrame(rows, columns=AHEAD_SHELVES.names)
    return check_frame(table, AHEAD_SHELVES) if rows else AHEAD_SHELVES.empty()


class Store(NamedTuple):
    """Something that fills up or is used up: taken by the end of each week (weeks, draws)."""

    name: str
    unit: str
    there: float
    taken: Array


def stores_of(
    garden: Garden, found: Found, needed: pd.DataFrame, fresh: pd.DataFrame
) -> Iterator[Store]:
    """Yield what fills up and what is used up.

    Jars of all sizes count together, as pints: who runs out of one size takes another.
    """
    kitchen, made = found.kitchen, found.year.made
    capacity = capacity_of(garden.household, found.starts[0], 1)
    ways = best_ways(garden, needed[needed["crop"].isin(list(found.crops))])
    size = [jar_store(jar) for jar in ways["jar"]]
    per_kg = (ways["jars_per_batch"] / ways["kg_per_batch"]).to_numpy(float)
    pints = ways["pint_jars_per_jar"].to_numpy(float)
    glass = np.array([one in JAR_SIZES for one in size], dtype=bool)
    bag = np.array([one == "freezer_bags" for one in size], dtype=bool)
    there = [PINTS[one] * capacity.store(one) for one in JAR_SIZES]
    for name, unit, have, rate in (
        ("freezer", "l", capacity.store("freezer_l"), kitchen.freezer_l_per_kg),
        ("jars", "pints", float(np.sum(there)), per_kg * pints * glass),
        ("lids", "lids", capacity.store("lids"), per_kg * glass),
        ("freezer_bags", "bags", capacity.store("freezer_bags"), per_kg * bag),
    ):
        if (rate > 0).any():
            yield Store(name, unit, have, np.cumsum(np.tensordot(made, rate, (1, 0)), axis=0))
    used = found.year.eaten.transpose(1, 2, 0) + found.year.more + found.year.spoiled
    lying = np.cumsum(found.come.transpose(1, 2, 0) - used - found.year.put_up_by_week, axis=0)
    cool = (fresh["place"] == "cool_store").to_numpy(bool)
    if cool.any():
        litres = fresh["litres_per_kg"].to_numpy(float) * cool
        taken = np.tensordot(np.maximum(lying, 0.0), litres, (1, 0))
        yield Store("cool_store", "l", capacity.store("cool_store_l"), taken)


def room_table(found: Found, stores: Sequence[Store]) -> pd.DataFrame:
    """Return what is taken of every store week by week (AHEAD_ROOM)."""
    tables = []
    for one in stores:
        low, middle, high = np.quantile(one.taken[: found.shown], (0.1, 0.5, 0.9), axis=1)
        head = {"store": one.name, **found.head, "unit": one.unit}
        tables.append(
            pd.DataFrame({**head, "q10": low, "q50": middle, "q90": high, "there": one.there})
        )
    if not tables:
        return AHEAD_ROOM.empty()
    return check_frame(pd.concat(tables, ignore_index=True), AHEAD_ROOM)


def limits_table(found: Found, stores: Sequence[Store]) -> pd.DataFrame:
    """Return what is taken of every store in its fullest week, and when (AHEAD_LIMITS)."""
    rows = []
    for one in stores:
        low, middle, high = np.quantile(one.taken.max(axis=0), (0.1, 0.5, 0.9))
        line = {"store": one.name, "unit": one.unit, "there": one.there}
        line |= {"q10": low, "q50": middle, "q90": high}
        if not np.isnan(one.there):
            taken, most = one.taken.T, FULL * one.there
            full = taken >= most
            weeks = np.where(full.any(axis=1), 7.0 * full.argmax(axis=1) + 1, np.nan)
            line |= {"p_full": full.any(axis=1).mean(), **_days(found.as_of, weeks, "full")}
        rows.append(line)
    table = pd.DataFrame(rows, columns=AHEAD_LIMITS.names)
    return check_frame(table, AHEAD_LIMITS) if rows else AHEAD_LIMITS.empty()


def hours_table(found: Found) -> pd.DataFrame:
    """Return the hours that putting up takes (AHEAD_HOURS)."""
    taken = np.tensordot(found.year.made, found.kitchen.hours_per_kg, (1, 0))[: found.shown]
    middle, high = np.quantile(taken, (0.5, 0.9), axis=1)
    there = found.kitchen.hours[: found.shown]
    return check_frame(
        pd.DataFrame({**found.head, "there": there, "q50": middle, "q90": high}), AHEAD_HOURS
    )
