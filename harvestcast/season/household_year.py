"""The household's appetite, targets, hours and equipment of next season, as a kitchen's year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Index
from harvestcast.kitchen.handbook.products import FOR_THE_WEEK_DAYS, PINTS, product
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, season_end, wanted_jars
from harvestcast.kitchen.household.pantry import shelf
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.records.household import WEEKDAYS, Household
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.words.days import spoken

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


FRESH_DAYS = 5.0
"""A product that wants fruit no older than this is put up from fruit of the same week."""


def jars_to_put_up(garden: Garden, year: int) -> pd.DataFrame:
    """Return the jars to put up in a coming season, product by product.

    A year's target, less what will still stand on the shelf and be good when that season ends:
    today's stock eaten at the present pace, or at a year's target a year where no pace is known.
    What this season is still to add is taken to be eaten by then.

    Parameters
    ----------
    garden : Garden
        The garden.
    year : int
        The coming season.

    Returns
    -------
    pandas.DataFrame
        Columns product, label, crop, need, stock (today), left (then), all in jars of the usual
        size, end (the day then) and paced (whether the pantry book shows how fast they are
        eaten); products without a target are left out.
    """
    today = garden.last_day or pd.Timestamp(year - 1, 11, 1)
    wanted = wanted_jars(garden, today)
    wanted = wanted[wanted["target_jars"] > 0]
    end = season_end(garden.household, pd.Timestamp(year, 6, 1))
    weeks = max((end - today).days / 7, 0.0)
    target = wanted["target_jars"].to_numpy(float)
    pace = wanted["eaten_jars_week"].to_numpy(float)
    paced = pace > 0
    pace = np.where(paced, pace, target / 52)
    stock = wanted["stock_jars"].to_numpy(float)
    shelves = shelf(garden, today)
    good = shelves[shelves["best_by"] >= end].groupby("product")["jars"].sum()
    # As for this season: the oldest are eaten first, and what is past its day does not count.
    left = np.minimum(
        np.array([float(good.get(str(key), 0.0)) for key in wanted["product"]]),
        np.maximum(stock - pace * weeks, 0.0),
    )
    need = np.maximum(target - left, 0.0)
    return pd.DataFrame(
        {
            "product": wanted["product"].astype(str).to_numpy(),
            "label": wanted["label"].astype(str).to_numpy(),
            "crop": [product(str(key)).crop for key in wanted["product"]],
            "need": need,
            "stock": stock,
            "left": left,
            "end": end,
            "paced": paced,
        }
    )


def shelf_line(jars: pd.DataFrame) -> str | None:
    """Say how much of today's shelf counts towards next season's targets; None where none stands.

    Parameters
    ----------
    jars : pandas.DataFrame
        Table of :func:`jars_to_put_up`.
    """
    mine = jars[jars["stock"] >= 0.5]
    if mine.empty:
        return None
    counts = [f"{row.label} {row.left:.0f} of {row.stock:.0f} jars" for row in mine.itertuples()]
    said = (
        f"What stands on the shelf counts as far as it is left and still good on "
        f"{spoken(mine['end'].iloc[0])}: {', '.join(counts)}."
    )
    unknown = mine.loc[~mine["paced"].astype(bool), "label"].astype(str)
    if len(unknown):
        said += (
            " Where the pantry book does not show how fast it is eaten "
            f"({', '.join(unknown)}), a year's target is taken to last a year."
        )
    return said


def kitchen_year(
    garden: Garden, crops: Sequence[str], weeks: pd.DatetimeIndex, jars: pd.DataFrame
) -> KitchenYear:
    """Return the kitchen of a coming season.

    Parameters
    ----------
    garden : Garden
        The garden.
    crops : sequence of str
        Crops of the plan, in order.
    weeks : DatetimeIndex
        Mondays of the weeks of the plan.
    jars : pandas.DataFrame
        Table of :func:`jars_to_put_up`.

    Returns
    -------
    KitchenYear
        Products that this household has no safe way of putting up are left out.
    """
    household = garden.household
    fresh = fresh_use(garden, crops).set_index("crop").loc[list(crops)]
    ways = _ways(garden, jars[jars["crop"].isin(list(crops))])
    names = [name for name in jars["product"] if name in set(ways["product"])]
    kept = jars.set_index("product").loc[names]
    capacity = capacity_of(household, weeks[0], 7 * len(weeks))
    daily = capacity.daily
    week = np.arange(len(daily)) // 7
    kinds = tuple(kind for kind in capacity.kinds if f"{kind}_h" in daily)
    age = ways["max_age_days"].to_numpy(float)
    freezer = capacity.store("freezer_l")
    return KitchenYear(
        crops=tuple(crops),
        eat=7 * fresh["eat_kg_day"].to_numpy(float),
        most=7 * fresh["eat_at_most_kg_day"].to_numpy(float),
        give=7 * (fresh["give_kg_day"] + fresh["animals_kg_day"]).to_numpy(float),
        keep_weeks=_keep_weeks(fresh["keep_days"].to_numpy(float)),
        products=tuple(names),
        labels=tuple(str(label) for label in kept["label"]),
        need=kept["need"].to_numpy(float),
        method_product=np.array([names.index(p) for p in ways["product"]], dtype=np.int64),
        method_crop=np.array([list(crops).index(c) for c in ways["crop"]], dtype=np.int64),
        jars_per_kg=ways["jars_per_kg"].to_numpy(float),
        hours_per_kg=ways["hours_per_kg"].to_numpy(float),
        equipment_h_per_kg=ways["equipment_h_per_kg"].to_numpy(float),
        freezer_l_per_kg=ways["freezer_l_per_kg"].to_numpy(float),
        equipment=np.array(
            [kinds.index(k) if k in kinds else -1 for k in ways["equipment"]], dtype=np.int64
        ),
        fresh_only=age < FRESH_DAYS,
        usable=np.array([usable_share(household, float(a)) for a in age]),
        hours=_weekly(daily["hands_on_h"], week),
        kinds=kinds,
        equipment_h=np.array([_weekly(daily[f"{kind}_h"], week) for kind in kinds]).reshape(
            len(kinds), len(weeks)
        ),
        freezer_l=float("inf") if np.isnan(freezer) else freezer,
    )


def keep_weeks_of(garden: Garden, crops: Sequence[str]) -> list[int]:
    """Return the whole weeks that each crop keeps after the week of its pick."""
    if not crops:
        return []
    fresh = fresh_use(garden, crops).set_index("crop").loc[list(crops)]
    return [int(one) for one in _keep_weeks(fresh["keep_days"].to_numpy(float))]


def _weekly(daily: pd.Series, week: Index) -> Array:
    return np.asarray(np.bincount(week, weights=daily.to_numpy(float)), dtype=np.float64)


def _keep_weeks(days: Array) -> Index:
    """Whole weeks after that of the pick: fruit of mid-week that keeps half a week more counts."""
    return np.floor(days / 7 + 0.5).astype(np.int64)


def usable_share(household: Household, age_days: float) -> float:
    """Return the share of a week's picks with kitchen hours within the days the fruit may wait.

    Examples
    --------
    >>> usable_share(Household(hours={"saturday": 4, "sunday": 2}), 1.0)
    0.42857142857142855
    """
    said: dict[str, float] = {str(k): float(v) for k, v in household.hours.items()}
    hours = np.array([said.get(day, 0.0) > 0 for day in WEEKDAYS])
    wait = int(min(age_days, 6))
    near = [hours[(first + np.arange(wait + 1)) % 7].any() for first in range(7)]
    return float(np.mean(near))


def _ways(garden: Garden, jars: pd.DataFrame) -> pd.DataFrame:
    """Return, per wanted product, the way that takes the fewest hands-on hours a jar."""
    options = weekly_options(garden)
    options = options[options["product"].isin(jars["product"])]
    options = options[options["best_by_days"] > FOR_THE_WEEK_DAYS]
    usual = np.array([PINTS[product(str(p)).usual_jar] for p in options["product"]], float)
    kg = options["kg_per_batch"].to_numpy(float)
    table = options.assign(
        jars_per_kg=options["jars_per_batch"] * options["pint_jars_per_jar"] / (kg * usual),
        hours_per_kg=options["hands_on_h"] / kg,
        equipment_h_per_kg=options["equipment_h"] / kg,
        freezer_l_per_kg=options["freezer_l_per_batch"] / kg,
    )
    table["hours_per_jar"] = table["hours_per_kg"] / table["jars_per_kg"]
    table = table.sort_values(["product", "hours_per_jar", "option"], kind="stable")
    return table.groupby("product", sort=True).head(1).reset_index(drop=True)
