"""How much produce a jar takes, how many jars a recipe fills, and what else goes in.

Weights and volumes are planning figures, so rows from memory and from retyped copies may be used
here, and each says in its source what it is. Process times are another matter: see
:mod:`harvestcast.kitchen.handbook.process_times`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import pandas as pd

from harvestcast.kitchen.handbook.process_times import table
from harvestcast.kitchen.handbook.products import PINTS, Product
from harvestcast.units import KG_PER_LB

GALLON_L = 3.785411784

LOOSE_BATCH_KG = 5.0
"""Produce carried to the cool store at a time. Planning estimate."""
FREEZING_SESSION_PINTS = 8.0
"""Pints of one freezing session. Planning estimate."""
DISH_BATCH_KG = 1.0
"""Produce of one dish of food for the week. Planning estimate."""
PINTS_PER_DISH_KG = 2.5
"""Pints that a kilogram of sliced vegetable fills. Planning estimate."""
QUARTS_PER_CROCK_GALLON = 3.5
"""Quart jars that a gallon of fermented pickles fills with its brine. Planning estimate."""

_BEST = ("published", "reprinted", "repeated", "memory")


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """Produce and jars of one product in one jar size.

    Attributes
    ----------
    kg_per_jar : float
        Produce as picked in one jar, kg.
    recipe_jars : float
        Jars that one whole recipe fills; NaN where the handbook gives a canner load or a yield
        instead of a recipe.
    source : str
        Where the figures stand.
    """

    kg_per_jar: float
    recipe_jars: float
    source: str


@cache
def _rows(name: str) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in table(name).to_dict("records")]


def _best(rows: list[dict[str, Any]], *needed: str) -> dict[str, Any] | None:
    """Return the best-read row that has the figures."""
    full = [row for row in rows if all(pd.notna(row[name]) for name in needed)]
    return min(full, key=lambda row: _BEST.index(row["standing"])) if full else None


_SAID = {"memory": "from memory", "reprinted": "retyped copy", "repeated": "unverified"}


def cited(row: dict[str, Any]) -> str:
    """Return the source of a row, and whether it is anything less than read in print there."""
    source, said = str(row["source"]), _SAID.get(row["standing"])
    plain = said is None or said in source or "planning estimate" in source
    return source if plain else f"{source} ({said})"


def _middle(row: dict[str, Any], name: str) -> float:
    return (float(row[f"{name}_low"]) + float(row[f"{name}_high"])) / 2


def cups_per_pound(measure: str) -> tuple[float, str]:
    """Return the cups that a pound fills, and the source.

    Parameters
    ----------
    measure : str
        ``produce/form`` of the table ``weights``.

    Examples
    --------
    >>> cups_per_pound("snap_bean/trimmed")[0]
    3.0
    """
    produce, form = measure.split("/")
    rows = [r for r in _rows("weights") if (r["produce"], r["form"]) == (produce, form)]
    row = _best([r for r in rows if r["measure"] == "cups_per_pound"], "value_low")
    if row is None:
        raise KeyError(measure)
    return _middle(row, "value"), cited(row)


def amounts(item: Product, jar: str) -> Amounts | None:
    """Return the produce and jars of a product in one jar size.

    Parameters
    ----------
    item : Product
        Product of the catalogue.
    jar : str
        Jar size or container.

    Returns
    -------
    Amounts or None
        None where no figure is on record.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> round(amounts(product("dill_pickles"), "pint").kg_per_jar, 3)  # 8 lb fill 7 to 9 pints
    0.454
    """
    method = item.methods[0]
    if method == "keeping":
        return Amounts(kg_per_jar=1.0, recipe_jars=float("nan"), source="weighed, not in jars")
    if method == "refrigerating":
        return Amounts(
            kg_per_jar=1 / PINTS_PER_DISH_KG,
            recipe_jars=DISH_BATCH_KG * PINTS_PER_DISH_KG,
            source="planning estimate",
        )
    if method == "freezing":
        return _frozen(item)
    if method == "drying":
        return _dried(item, jar)
    return _canned(item, jar)


def yield_row(item: Product) -> dict[str, Any] | None:
    """Return the row of the yield table of a canned or fermented product.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> yield_row(product("dill_pickles"))["vinegar_5pct_cups"]
    6.0
    """
    return next((r for r in _rows("canning_yield") if r["product"] == item.amounts), None)


def _canned(item: Product, jar: str) -> Amounts | None:
    row = yield_row(item)
    if row is None:
        return None
    source = cited(row)
    if row["row_kind"] == "canner_load":
        pints = float(row["lb_per_9_pints"]) / 9
        quarts = float(row["lb_per_7_quarts"]) / 7
        lb = {"quart": quarts, "pint": pints, "half_pint": pints / 2}[jar]
        return Amounts(kg_per_jar=lb * KG_PER_LB, recipe_jars=float("nan"), source=source)
    kg, how = recipe_kg(item)
    if item.methods[0] == "fermenting":  # printed per gallon of crock
        pints = 2 * QUARTS_PER_CROCK_GALLON
    else:
        pints = _middle(row, "jars") * PINTS[str(row["jar_size"])]
    jars = pints / PINTS[jar]
    return Amounts(kg_per_jar=kg / jars, recipe_jars=jars, source=f"{source}{how}")


def recipe_kg(item: Product) -> tuple[float, str]:
    """Return the main produce of one whole recipe, kg, and how a weight was found.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> round(recipe_kg(product("bread_and_butter_pickles"))[0], 2)  # 6 lb
    2.72
    """
    row = yield_row(item)
    if row is None:
        raise KeyError(item.key)
    if pd.notna(row["batch_lb_low"]):
        return _middle(row, "batch_lb") * KG_PER_LB, ""
    if item.measure == "strawberry/crushed":
        # Printed as cups of crushed berries and quart boxes; a box is weighed by common practice.
        per_box = next(r for r in _rows("weights") if r["measure"] == "cups_per_quart_box")
        box = next(r for r in _rows("weights") if r["measure"] == "pounds_per_quart_box")
        boxes = float(row["batch_measure_cups"]) / _middle(per_box, "value")
        return boxes * _middle(box, "value") * KG_PER_LB, "; weight of a quart box: " + cited(box)
    cups, source = cups_per_pound(item.measure)
    return float(row["batch_measure_cups"]) / cups * KG_PER_LB, f"; cups to pounds: {source}"


def _frozen(item: Product) -> Amounts | None:
    produce, form = item.amounts.split("/")
    rows = [r for r in _rows("freezing") if (r["product"], r["form"]) == (produce, form)]
    row = _best(rows, "lb_fresh_per_pint_low")
    if row is None:
        return None
    kg = _middle(row, "lb_fresh_per_pint") * KG_PER_LB
    return Amounts(kg_per_jar=kg, recipe_jars=FREEZING_SESSION_PINTS, source=cited(row))


def _dried(item: Product, jar: str) -> Amounts | None:
    produce = item.amounts.split("/")[1]
    row = _best([r for r in _rows("drying") if r["product"] == produce], "dried_pints_low")
    if row is None:
        return None
    kg_per_pint = float(row["fresh_lb"]) * KG_PER_LB / _middle(row, "dried_pints")
    return Amounts(kg_per_jar=kg_per_pint * PINTS[jar], recipe_jars=float("nan"), source=cited(row))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drying:
    """Hours, temperature and shelf life of a dried product.

    Attributes
    ----------
    hours : float
        Hours in the dryer, the long end of the printed range: a load cannot come out damp.
    temperature_f : float
        Drying temperature, degrees F.
    best_by_days : float
        Days of best quality at 70 F.
    source : str
        Where the hours stand.
    """

    hours: float
    temperature_f: float
    best_by_days: float
    source: str


def drying(item: Product) -> Drying | None:
    """Return hours and shelf life of a dried product; None where no row gives the hours.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> drying(product("dried_snap_beans")).hours
    14.0
    """
    produce, other = item.amounts.split("/")
    row = _best([r for r in _rows("drying") if r["product"] == produce], "hours_high")
    if row is None:
        return None
    months = None
    for name in (produce, other):
        shelf = [r for r in _rows("drying") if r["product"] == name and r["shelf_basis"] == "70 F"]
        months = months or _best(shelf, "shelf_months_high")
    # Without a row of its own: half the life of dried fruit, 6 months at 60 F
    # (rule dried_storage, Univ. of Georgia drying guide).
    days = 30.4 * (float(months["shelf_months_high"]) if months else 6.0)
    if pd.notna(item.best_by_days):
        days = item.best_by_days
    return Drying(
        hours=float(row["hours_high"]),
        temperature_f=float(row["temp_low_f"]),
        best_by_days=round(days),
        source=cited(row),
    )


def storage_days(crop: str, place: str) -> tuple[float, str] | None:
    """Return the days a crop keeps fresh in a place, and the source.

    Parameters
    ----------
    crop : str
        Canonical crop name.
    place : str
        refrigerator, counter or cool_store.

    Returns
    -------
    tuple of (float, str) or None
        Median over the rows of the middle of their ranges, since publications disagree (cucumbers
        2 to 4 weeks against 10 to 14 days); green fruit is left out. None without a row.

    Examples
    --------
    >>> storage_days("cucumber", "refrigerator")[0]
    6.0
    """
    rows = [r for r in _rows("storage") if r["crop"] == crop and r["place"] == place]
    rows = [r for r in rows if "green" not in str(r["stage"]) or crop != "tomato"]
    rows = [r for r in rows if r["stage"] != "breaker"]
    if not rows:
        return None
    middles = pd.Series([_middle(r, "days") for r in rows])
    return float(middles.median()), "; ".join(dict.fromkeys(cited(r) for r in rows))


def best_by_days(item: Product) -> float:
    """Return the days of best quality of a product once it is put up.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> best_by_days(product("dill_pickles")), best_by_days(product("stored_onions"))
    (365.0, 165.5)
    """
    if pd.notna(item.best_by_days):
        return float(item.best_by_days)
    if item.methods[0] == "drying":
        dried = drying(item)
        return 180.0 if dried is None else dried.best_by_days
    kept = storage_days(item.crop, "cool_store")
    if kept is None:
        raise KeyError(item.key)
    return kept[0]
