"""What the season taught the kitchen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.errors import UnsafeProcessError
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import LESSONS, OVER_CAPACITY
from harvestcast.kitchen.handbook.amounts import amounts
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.demand import fresh_use, targets
from harvestcast.kitchen.household.learned import learned_factors
from harvestcast.kitchen.household.pantry import pantry_book, shelf
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.season.kitchen_year import KitchenYear, kitchen_year, run_year, shelf_day
from harvestcast.season.messages import said
from harvestcast.season.yields.plantings import Unit

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


_ENDLESS = 1e6  # jars: no target, so that only hours, equipment and room limit what is put up


def weekly_by_crop(units: Sequence[Unit]) -> tuple[pd.DatetimeIndex, tuple[str, ...], Array]:
    """Return Mondays, crops and what was picked, kg, shape (weeks, crops)."""
    crops = tuple(sorted({unit.crop for unit in units}))
    first = min(unit.dates[int(np.argmax(unit.looked))] for unit in units)
    first = first - pd.Timedelta(days=first.day_of_week)
    last = max(unit.dates[-1] for unit in units)
    weeks = pd.date_range(first, last, freq="7D")
    picked = np.zeros((len(weeks), len(crops)))
    for unit in units:
        week = (unit.dates - first).days.to_numpy() // 7
        here = week >= 0
        np.add.at(picked[:, crops.index(unit.crop)], week[here], unit.mass[here])
    return weeks, crops, picked


def over_capacity(garden: Garden, units: Sequence[Unit]) -> pd.DataFrame:
    """Return the weeks of a season and what came in beyond what the household could use.

    Parameters
    ----------
    garden : Garden
        Settings: appetite, hours, equipment.
    units : sequence of Unit
        What was picked in the season, by planting.

    Returns
    -------
    pandas.DataFrame
        Table OVER_CAPACITY. Capacity is hours, equipment and freezer, not targets: what is over
        could not have been saved by anyone in that kitchen. Where no canning time may be shown
        (no elevation), what could have been put up is unknown and so is the rest.
    """
    if not units:
        return OVER_CAPACITY.empty()
    weeks, crops, picked = weekly_by_crop(units)
    frame = pd.DataFrame({"start": weeks, "picked_kg": picked.sum(axis=1)})
    try:
        kitchen = kitchen_year(garden, crops, weeks, _every_way(garden, crops))
    except UnsafeProcessError:
        frame[["eaten_kg", "put_up_kg", "over_kg"]] = np.nan
        return check_frame(frame, OVER_CAPACITY)
    done = run_year(picked[None], kitchen)
    frame["eaten_kg"] = np.minimum(picked, kitchen.most + kitchen.give).sum(axis=1)
    frame["put_up_kg"] = done.made.sum(axis=(1, 2))
    frame["over_kg"] = done.glut[0]
    return check_frame(frame, OVER_CAPACITY)


def _every_way(garden: Garden, crops: Sequence[str]) -> pd.DataFrame:
    """One product per crop, the one that takes the fewest hours a kilogram, without a target."""
    options = weekly_options(garden)
    options = options[options["crop"].isin(list(crops)) & (options["best_by_days"] > 14)]
    rate = options["hands_on_h"] / options["kg_per_batch"]
    options = options.assign(rate=rate).sort_values(["crop", "rate", "option"], kind="stable")
    best = options.groupby("crop", sort=True).head(1)
    return pd.DataFrame(
        {
            "product": best["product"].astype(str).to_numpy(),
            "label": best["label"].astype(str).to_numpy(),
            "crop": best["crop"].astype(str).to_numpy(),
            "need": _ENDLESS,
        }
    )


def kitchen_lessons(
    garden: Garden, year: int, units: Sequence[Unit], weeks: pd.DataFrame
) -> pd.DataFrame:
    """Return what the season taught the kitchen.

    Parameters
    ----------
    garden : Garden
        The garden; the pantry book of the season is read.
    year : int
        Season.
    units : sequence of Unit
        What was picked in the season, by planting.
    weeks : pandas.DataFrame
        Table of :func:`over_capacity`.

    Returns
    -------
    pandas.DataFrame
        Table LESSONS: jars filled against promised, targets met, hours taken against planned,
        picks without any use on record, weeks beyond capacity.
    """
    measure = garden.household.units
    start, end = garden.seasons.span(year)
    book = garden.pantry
    book = book[(book["date"] >= start) & (book["date"] <= end)]
    season = replace(garden, pantry=book)
    rows = [*_batches(season, end), *_targets(garden, season, year)]
    if units:
        rows += _unused(garden, season, units, end)
    over = weeks[weeks["over_kg"] > 0.5] if len(weeks) else weeks
    if len(weeks) and weeks["over_kg"].notna().any():
        worst = weeks.iloc[int(np.nanargmax(weeks["over_kg"].to_numpy(float)))]
        says = said(
            "lesson.over_capacity",
            weeks=len(over),
            kg=float(over["over_kg"].sum()),
            worst=worst["start"],
            worst_kg=float(worst["over_kg"]),
            units=measure,
        ).text
        rows.append(("over_capacity", "all crops", "weeks", 0.0, float(len(over)), pd.NaT, says))
    return check_frame(pd.DataFrame(rows, columns=LESSONS.names), LESSONS)


Row = tuple[str, str, str, float, float, Any, str]


def _batches(season: Garden, end: pd.Timestamp) -> list[Row]:
    """Jars filled against promised, and hours taken against planned, per product.

    Promised and planned are summed batch by batch: a small batch that went well does not make up
    for a large one that did not.
    """
    sums: dict[tuple[str, str], Array] = {}
    for place in np.flatnonzero(season.pantry["change"].to_numpy(float) > 0).tolist():
        one = replace(season, pantry=season.pantry.iloc[place : place + 1])
        book = pantry_book(one, end)
        if book.empty:
            continue
        factors = learned_factors(one, end)
        for line in factors[factors["product"] == book["product"].iloc[0]].to_dict("records"):
            kind = str(line["kind"])
            got = float(book["counted" if kind == "jars" else "hours"].iloc[0])
            key = (str(line["product"]), kind)
            sums[key] = sums.get(key, np.zeros(2)) + np.array([got / float(line["raw"]), got])
    rows: list[Row] = []
    for name, kind in sorted(sums):
        (expected, got), label = sums[name, kind].tolist(), product(name).label
        says = said(f"lesson.{kind}", label=label, got=got, expected=expected).text
        unit = "jars" if kind == "jars" else "h"
        rows.append((kind, label, unit, expected, got, pd.NaT, says))
    return rows


def _targets(garden: Garden, season: Garden, year: int) -> list[Row]:
    """Jars on the shelf at the end of the season (or of the log) against the year's target."""
    last = garden.last_day
    day = shelf_day(garden, year)
    day = day if last is None else min(day, last)
    standing = shelf(garden, day).groupby("product")["jars"].sum()
    book = pantry_book(season, garden.seasons.span(year).end)
    made = book[book["counted"] > 0].groupby("product")["counted"].sum()
    rows: list[Row] = []
    for key, target in targets(garden.household).items():
        have, new, label = (
            float(standing.get(key, 0.0)),
            float(made.get(key, 0.0)),
            product(key).label,
        )
        says = said(
            "lesson.target",
            label=label,
            have=have,
            target=target,
            made=new,
            day=day,
            met=have >= target - 0.5,
        ).text
        rows.append(("target", label, "jars", target, have, day, says))
    return rows


def _unused(garden: Garden, season: Garden, units: Sequence[Unit], end: pd.Timestamp) -> list[Row]:
    """Return picks that were neither put up nor within what is eaten at most and given away."""
    weeks, crops, picked = weekly_by_crop(units)
    put = np.zeros_like(picked)
    book = pantry_book(season, end)
    for line in book[book["jars"] > 0].to_dict("records"):
        item = product(str(line["product"]))
        if item.crop not in crops:
            continue
        kg = float(line["produce_kg"])
        if not kg > 0:
            known = amounts(item, item.usual_jar)
            kg = float(line["counted"]) * known.kg_per_jar if known is not None else 0.0
        week = int((pd.Timestamp(line["date"]) - weeks[0]).days // 7)
        if 0 <= week < len(weeks):
            put[week, crops.index(item.crop)] += kg
    fresh = fresh_use(garden, crops).set_index("crop").loc[list(crops)]
    keep = np.floor(fresh["keep_days"].to_numpy(float) / 7 + 0.5).astype(np.int64)
    left = picked.copy()
    for week, crop in zip(*np.nonzero(put > 0), strict=True):
        rest = put[week, crop]
        for back in range(min(int(keep[crop]) + 1, int(week)) + 1):
            part = min(rest, left[week - back, crop])
            left[week - back, crop] -= part
            rest -= part
    nothing = np.zeros(0, dtype=np.int64)
    table = KitchenYear(
        crops=crops,
        eat=7 * fresh["eat_at_most_kg_day"].to_numpy(float),
        most=7 * fresh["eat_at_most_kg_day"].to_numpy(float),
        give=7 * (fresh["give_kg_day"] + fresh["animals_kg_day"]).to_numpy(float),
        keep_weeks=keep,
        products=(),
        labels=(),
        need=np.zeros(0),
        method_product=nothing,
        method_crop=nothing,
        jars_per_kg=np.zeros(0),
        hours_per_kg=np.zeros(0),
        equipment_h_per_kg=np.zeros(0),
        freezer_l_per_kg=np.zeros(0),
        equipment=nothing,
        fresh_only=np.zeros(0, dtype=bool),
        usable=np.zeros(0),
        hours=np.zeros(len(weeks)),
        kinds=(),
        equipment_h=np.zeros((0, len(weeks))),
        freezer_l=float("inf"),
    )
    rows: list[Row] = []
    for place, crop in enumerate(crops):
        alone = np.zeros((1, *left.shape))
        alone[0, :, place] = left[:, place]
        lost = float(run_year(alone, table).glut.sum())
        if lost > 0.5:
            total = float(picked[:, place].sum())
            units_name = garden.household.units
            says = said("lesson.spoiled", crop=crop, lost=lost, picked=total, units=units_name).text
            rows.append(("spoiled", crop, "kg", 0.0, lost, pd.NaT, says))
    return rows
