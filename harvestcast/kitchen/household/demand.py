"""What the household eats fresh, gives away and wants on its shelves.

Appetite is the household's own affair: every default is a planning estimate that a line under
``[crops.<name>]`` in ``garden.toml`` replaces. Days of keeping come from the handbook's storage
table.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.frames import FRESH, WANTED, check_frame
from harvestcast.kitchen.handbook.amounts import storage_days
from harvestcast.kitchen.handbook.process_times import table
from harvestcast.kitchen.handbook.products import product, usual_jars
from harvestcast.kitchen.household.pantry import pantry_book, shelf
from harvestcast.records.household import CropSettings, Household
from harvestcast.records.seasons import Hemisphere
from harvestcast.units import KG_PER_LB

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

GIVE_SHARE = 1.0
"""Given away in a week at most, as a share of what the household enjoys eating. Planning
estimate; ``give_kg_week`` in garden.toml replaces it."""
KEEP_DAYS = 4.0
"""Days that a crop without a row in the storage table keeps. Planning estimate."""
BUSHEL_L = 35.23907016688  # exact: US bushel of 2,150.42 cubic inches
SEASON_END = {"north": "10-31", "south": "04-30"}
"""End of the season where no first frost is given, by hemisphere. Planning estimate."""
PACE_DAYS = 365
"""The pace of eating is taken from the last year of the pantry book."""
PACE_AT_LEAST_DAYS = 28
"""A shorter book gives no pace."""


@cache
def _appetite() -> dict[str, dict[str, Any]]:
    rows = table("appetite").to_dict("records")
    return {str(row["crop"]): {str(k): v for k, v in row.items()} for row in rows}


@cache
def _bushels() -> dict[str, tuple[float, str]]:
    """Return weight of a bushel, kg, and source; the verified row where there are several."""
    rows = table("weights")
    rows = rows[(rows["measure"] == "pounds_per_bushel") & rows["crop"].notna()]
    bushels: dict[str, tuple[float, str]] = {}
    for row in rows.sort_values("verified", ascending=False, kind="stable").to_dict("records"):
        kg = (float(row["value_low"]) + float(row["value_high"])) / 2 * KG_PER_LB
        bushels.setdefault(row["crop"], (kg, row["source"]))
    return bushels


def litres_per_kg(crop: str) -> tuple[float, str]:
    """Return the room that a kilogram of a crop takes, litres, and the source.

    Parameters
    ----------
    crop : str
        Canonical crop name.

    Returns
    -------
    tuple of (float, str)
        From the bushel weight where one is on record, else a planning estimate.

    Examples
    --------
    >>> round(litres_per_kg("cucumber")[0], 2)  # 48 lb fill a bushel
    1.62
    """
    bushel = _bushels().get(crop)
    if bushel is not None:
        return BUSHEL_L / bushel[0], f"bushel weight: {bushel[1]}"
    known = _appetite().get(crop, _appetite()["generic"])
    litres = known["litres_per_kg"]
    return (2.0 if pd.isna(litres) else float(litres)), "planning estimate"


def fresh_use(garden: Garden, crops: Iterable[str]) -> pd.DataFrame:
    """Return appetite and keeping of each crop, a day.

    Parameters
    ----------
    garden : Garden
        The garden folder; its household's own figures go before the defaults.
    crops : iterable of str
        Canonical crop names; a crop without defaults of its own gets general ones.

    Returns
    -------
    pandas.DataFrame
        Table FRESH. ``keep_days`` counts from the day the fruit is ripe, ``ripen_days`` from the
        pick. Fruit for animals is 0 unless the household says otherwise: what suits them is its
        judgement.

    Notes
    -----
    Where publications disagree on days of keeping, the median of the middles of their ranges is
    taken.
    """
    rows = [_fresh(garden.household, crop) for crop in dict.fromkeys(crops)]
    return check_frame(pd.DataFrame(rows), FRESH) if rows else FRESH.empty()


def _fresh(home: Household, crop: str) -> dict[str, Any]:
    own = home.crops.get(crop, CropSettings())
    known = _appetite().get(crop)
    default = known or _appetite()["generic"]
    eat = own.eat_kg_per_person_week
    most = own.eat_at_most_kg_per_person_week
    source = "household" if eat is not None else str(default["source"])
    if eat is None:
        eat = float(default["eat_kg_person_week"])
        eat = eat if most is None else min(eat, most)
    if most is None:
        ratio = float(default["eat_at_most_kg_person_week"]) / float(default["eat_kg_person_week"])
        most = eat * ratio
    place = own.keep or str(default["place"])
    kept = storage_days(crop, place)
    days, keep_source = kept or (KEEP_DAYS, "planning estimate")
    if own.keep_days is not None:
        days, keep_source = own.keep_days, "household"
    litres, room_source = litres_per_kg(crop)
    give = own.give_kg_week
    if known is None:
        source += " for a crop without figures of its own" if source != "household" else ""
    return {
        "crop": crop,
        "eat_kg_day": eat * home.people / 7,
        "eat_at_most_kg_day": max(eat, most) * home.people / 7,
        "give_kg_day": (eat * home.people * GIVE_SHARE if give is None else give) / 7,
        "animals_kg_day": (own.animals_kg_week or 0.0) / 7,
        "keep_days": days,
        "place": place,
        "litres_per_kg": litres,
        "ripen_days": own.ripen_days or 0.0,
        "source": f"appetite: {source}; keeping: {keep_source}; room: {room_source}",
    }


def targets(household: Household) -> dict[str, float]:
    """Return the household's targets by catalogue key.

    Parameters
    ----------
    household : Household
        Settings.

    Returns
    -------
    dict of str to float
        Jars a year of the product's usual size, a size in the name counted in; two names of one
        product are added up. A product that the catalogue lacks is left out, as nothing tested is
        known of it, and so is a size that cannot be read;
        :func:`harvestcast.kitchen.household.settings.target_notices` says it.

    Examples
    --------
    >>> targets(Household(targets={"Dill Pickles": 20, "dills": 4, "unicorn": 3}))
    {'dill_pickles': 24.0}
    >>> targets(Household(targets={"dill pickles (quarts)": 20}))  # counted in pints
    {'dill_pickles': 40.0}
    """
    wanted: dict[str, float] = {}
    for name, jars in household.targets.items():
        try:
            found = usual_jars(name)
        except ValueError:
            continue  # said by target_notices, as an unknown product is
        if found is not None:
            item, each = found
            wanted[item.key] = wanted.get(item.key, 0.0) + float(jars) * each
    return wanted


def season_end(
    household: Household, as_of: object, hemisphere: Hemisphere = "north"
) -> pd.Timestamp:
    """Return the day on which this season's putting up ends: the next first frost.

    Examples
    --------
    >>> str(season_end(Household(first_frost="10-05"), "2026-08-01").date())
    '2026-10-05'
    """
    day = pd.Timestamp(as_of)  # type: ignore[arg-type]
    month_day = (household.first_frost or SEASON_END[hemisphere]).replace("02-29", "02-28")
    end = pd.Timestamp(f"{day.year}-{month_day}")
    return end if end >= day else pd.Timestamp(f"{day.year + 1}-{month_day}")


def wanted_jars(garden: Garden, as_of: object) -> pd.DataFrame:
    """Return what the shelves still want, product by product.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        Last day that counts.

    Returns
    -------
    pandas.DataFrame
        Table WANTED, one row for every product with a target or with jars on the shelf. Amounts
        are jars of the product's usual size (column ``usual_jar`` of the catalogue): a quart
        counts as two pints.

    Raises
    ------
    InputError
        Where a target names no product of the catalogue.

    Notes
    -----
    When the season ends the shelf should hold a year's target. Of what stands there now, what
    will be eaten until then at the present pace, and what is past its best-by day by then, is not
    counted: ``wanted = target - max(0, stock still good then - pace x weeks to then)``. The pace
    is what was eaten over the last year of the book (or since it began, if at least four weeks).
    """
    day = pd.Timestamp(as_of)  # type: ignore[arg-type]
    goal = targets(garden.household)
    book = pantry_book(garden, day)
    standing = shelf(garden, day)
    end = season_end(garden.household, day, garden.seasons.hemisphere)
    weeks = (end - day).days / 7
    keys = dict.fromkeys([*goal, *standing["product"]])
    rows = []
    for key in sorted(keys):
        mine = standing[standing["product"] == key]
        stock = float(mine["jars"].sum())
        pace = _pace(book[book["product"] == key], day)
        still_good = float(mine.loc[mine["best_by"] >= end, "jars"].sum())
        eaten = 0.0 if pd.isna(pace) else pace * weeks
        # The oldest jars are eaten first, so eating takes from those that would be past it anyway.
        left = min(still_good, max(0.0, stock - eaten))
        run_out: Any = pd.NaT
        if stock > 0 and pace > 0:
            # Beyond a hundred years the date says nothing.
            run_out = day + pd.Timedelta(days=min(round(7 * stock / pace), 36_500))
        rows.append(
            {
                "product": key,
                "label": product(key).label,
                "target_jars": goal.get(key, 0.0),
                "stock_jars": stock,
                "wanted_jars": max(0.0, goal.get(key, 0.0) - left),
                "eaten_jars_week": pace,
                "run_out": run_out,
            }
        )
    return check_frame(pd.DataFrame(rows), WANTED) if rows else WANTED.empty()


def past_best(garden: Garden, as_of: object) -> pd.DataFrame:
    """Return how much of each product on the shelf will be past its best.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        Last day that counts.

    Returns
    -------
    pandas.DataFrame
        ``product``; ``past_jars``: jars of today's shelf past their best by day when the season
        ends, and so no part of what the shelf holds then; ``unfinished_jars``: jars that will be
        past theirs before they are eaten at the present pace, the oldest first, NaN where the
        book gives no pace. Jars are of the product's usual size.
    """
    day = pd.Timestamp(as_of)  # type: ignore[arg-type]
    book, standing = pantry_book(garden, day), shelf(garden, day)
    end = season_end(garden.household, day, garden.seasons.hemisphere)
    rows = []
    for key, mine in standing.groupby("product", sort=True):
        pace = _pace(book[book["product"] == key], day)
        ordered = mine.sort_values("best_by", kind="stable")
        weeks = (ordered["best_by"] - day).dt.days.clip(lower=0) / 7
        # So many have to be eaten by then, and so many will have been.
        short = (ordered["jars"].cumsum() - pace * weeks).max()
        gone = float(mine.loc[mine["best_by"] < end, "jars"].sum())
        rows.append((str(key), gone, max(0.0, short) if pd.notna(short) else float("nan")))
    return pd.DataFrame(rows, columns=["product", "past_jars", "unfinished_jars"])


def _pace(book: pd.DataFrame, day: pd.Timestamp) -> float:
    """Return jars eaten a week over the last year of one product's book; NaN if it is too young."""
    if book.empty:
        return float("nan")
    start = max(book["date"].min(), day - pd.Timedelta(days=PACE_DAYS))
    days = (day - start).days
    if days < PACE_AT_LEAST_DAYS:
        return float("nan")
    eaten = book[(book["counted"] < 0) & (book["date"] > start)]
    return float(-eaten["counted"].sum()) / days * 7
