"""How much produce a jar takes, how many jars a recipe fills, and what else goes in.

Weights and volumes are planning figures, so rows from memory and from retyped copies may be used
here, and each says in its source what it is. Process times are another matter: see
:mod:`harvestcast.kitchen.handbook.process_times`.
"""

from __future__ import annotations

import math
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
    >>> yield_row(product("dill_pickles"))["batch_lb_low"]
    8.0
    """
    name, _, variant = item.amounts.partition("/")
    return _yields().get((name, variant))


@cache
def _yields() -> dict[tuple[str, str], dict[str, Any]]:
    return {(r["product"], _text(r["variant"])): r for r in _rows("canning_yield")}


def _text(value: object) -> str:
    return str(value) if isinstance(value, str) else ""


def _canned(item: Product, jar: str) -> Amounts | None:
    row = yield_row(item)
    if row is None:
        return None
    source = cited(row)
    if row["row_kind"] == "canner_load":
        quart, pint = float(row["lb_per_7_quarts"]) / 7, float(row["lb_per_9_pints"]) / 9
        # Printed by the quart or by the pint only: the one from the other.
        pint = quart / 2 if math.isnan(pint) else pint
        quart = 2 * pint if math.isnan(quart) else quart
        lb = {"quart": quart, "pint": pint, "half_pint": pint / 2}[jar]
        return Amounts(kg_per_jar=lb * KG_PER_LB, recipe_jars=float("nan"), source=source)
    kg, how = recipe_kg(item)
    if row["jar_size"] == "gallon_container":
        pints = 2 * QUARTS_PER_CROCK_GALLON
    else:
        pints = _middle(row, "jars") * PINTS[str(row["jar_size"])]
    jars = pints / PINTS[jar]
    return Amounts(kg_per_jar=kg / jars, recipe_jars=jars, source=f"{source}{how}")


def kg_per_gallon(item: Product) -> float:
    """Return the produce that ferments in a gallon of crock, kg.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> round(kg_per_gallon(product("fermented_dill_pickles")), 2)  # 4 lb
    1.81
    """
    row = yield_row(item)
    if row is not None and row["jar_size"] == "gallon_container":
        return recipe_kg(item)[0]
    rule = next(r for r in _rows("rules") if r["rule"] == "crock_capacity")
    return float(rule["value"]) * KG_PER_LB


_CUPS = {
    "cup": 1.0, "tbsp": 1 / 16, "tsp": 1 / 48, "pint": 2.0, "qt": 4.0, "gal": 16.0, "oz": 1 / 8,
}  # fmt: skip
"""Cups in a measure of the recipes; exact."""

_PINTS_OF = {"half_pint": 0.5, "pint": 1.0, "quart": 2.0, "quart_prepared": 2.0}
# A gallon of salted water is what a recipe's cauliflower is blanched in.
_WHOLE = ("recipe", "gallon_container", "gallon_of_water")
_PINTS_OF_LOAD = {"7_quart_load": 14.0, "9_pint_load": 9.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """One thing that a recipe takes beside its main produce.

    Attributes
    ----------
    item : str
        Item of the shopping list.
    unit : str
        kg, l, tbsp, pieces or packages.
    amount : float
        Amount in the unit, for a whole recipe or for so many pints of food.
    pints : float
        Pints of food in the jars that the amount is for; NaN where it is for a whole recipe.
    settled : str
        What the guide prints in two ways, where the larger amount was taken; else empty.
    """

    item: str
    unit: str
    amount: float
    pints: float
    settled: str


@cache
def recipe(item: Product) -> tuple[Ingredient, ...]:
    """Return what the recipe of a product takes beside its main produce; empty without one.

    Water and ice, and what the guide leaves to taste, are left out.

    Parameters
    ----------
    item : Product
        Product of the catalogue.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> [one.item for one in recipe(product("canned_snap_beans"))]
    []
    >>> {one.item: one.amount for one in recipe(product("dill_pickles"))}["dill heads"]
    14.0
    """
    if not (item.canned or item.methods[0] == "fermenting"):
        return ()
    name, _, variant = item.amounts.partition("/")
    row = yield_row(item)
    found = []
    for one in _recipes().get((name, variant), ()):
        known = _ingredients().get(one["ingredient"])
        if one["optional"] or one["main"] or known is None:
            continue
        amount, pints = _bought(one, known), float("nan")
        per = str(one["per"])
        if per in _PINTS_OF:
            pints = _PINTS_OF[per]
        elif per in _PINTS_OF_LOAD:
            pints = _PINTS_OF_LOAD[per]
        elif per == "cup_of_juice" and row is not None:
            amount *= float(row["batch_lb_low"])  # a pound of fruit gives a cup of juice
        elif per not in _WHOLE:
            continue
        settled = _text(one["settled"])
        found.append(
            Ingredient(
                item=str(known["item"]),
                unit=str(known["unit"]),
                amount=amount,
                pints=pints,
                settled=settled,
            )
        )
    return tuple(found)


@cache
def _recipes() -> dict[tuple[str, str], list[dict[str, Any]]]:
    rows: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in _rows("recipes"):
        rows.setdefault((row["product"], _text(row["variant"])), []).append(row)
    return rows


@cache
def _ingredients() -> dict[str, dict[str, Any]]:
    """Return how each ingredient of the recipes is bought; water and ice are not."""
    return {str(row["ingredient"]): row for row in _rows("ingredients")}


def unit_of(item: str) -> str:
    """Return the unit that an item of the shopping list is reckoned in.

    Examples
    --------
    >>> unit_of("mustard seed"), unit_of("new lids")
    ('tbsp', 'pieces')
    """
    return next((str(r["unit"]) for r in _rows("ingredients") if r["item"] == item), "pieces")


def _bought(row: dict[str, Any], known: dict[str, Any]) -> float:
    """Return an amount of a recipe in the unit it is bought in, the high end of a range."""
    amount, unit = float(row["amount_high"]), str(row["unit"])
    if unit == "lb":
        return amount * KG_PER_LB
    if unit in _CUPS:
        cups = amount * _CUPS[unit]
        if isinstance(known["measure"], str):
            return cups / cups_per_pound(known["measure"])[0] * KG_PER_LB
        return cups * float(known["per_cup"])
    return amount * float(known["per_piece"])


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
class Blanching:
    """How long a vegetable lies in boiling water, or in steam, before it is frozen.

    Attributes
    ----------
    words : str
        Minutes by form and size.
    longest_min : float
        The longest of them, minutes.
    verified : bool
        Whether all were read in a publication of a government or extension service.
    source : str
        Where they stand.
    """

    words: str
    longest_min: float
    verified: bool
    source: str


# Product -> vegetable of the table and the beginning of the form that the product is.
_BLANCHED: dict[str, tuple[str, str]] = {
    "frozen_asparagus": ("asparagus", "spears"),
    "frozen_snap_beans": ("snap_beans", "cut"),
    "frozen_broccoli": ("broccoli", "florets"),
    "frozen_cauliflower": ("cauliflower", "pieces"),
    "frozen_carrots": ("carrots", "diced or sliced"),
    "frozen_chard": ("chard", "leaves"),
    "frozen_kale": ("kale", "leaves"),
    "frozen_spinach": ("spinach", "leaves"),
    "frozen_collards": ("collards", "leaves"),
    "frozen_corn": ("sweet_corn", "ears, kernels"),
    "frozen_snap_peas": ("edible_pod_peas", "whole"),
    "frozen_peas": ("peas_green", "shelled"),
    "frozen_lima_beans": ("lima_beans", "shelled"),
    "frozen_zucchini": ("summer_squash", "half-inch slices"),
    "frozen_summer_squash": ("summer_squash", "half-inch slices"),
    "frozen_eggplant": ("eggplant", "third-inch slices"),
    "frozen_okra": ("okra", "pods"),
    "frozen_beets": ("beets", "whole"),
    "frozen_grated_zucchini": ("zucchini", "grated, for baking"),
}


@cache
def blanching(item: Product) -> Blanching | None:
    """Return how long a product is blanched before it is frozen; None where no time is on record.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> blanching(product("frozen_snap_beans")).words
    '3 min'
    >>> blanching(product("frozen_asparagus")).words
    '2 min (small), 3 min (medium), 4 min (large)'
    """
    vegetable, form = _BLANCHED.get(item.key, ("", ""))
    rows = [
        row
        for row in _rows("blanching")
        if row["vegetable"] == vegetable
        and str(row["form"]).startswith(form)
        and (pd.notna(row["water_min"]) or pd.notna(row["steam_min"]))
    ]
    if not rows:
        return None
    words, longest = [], 0.0
    for row in rows:
        steam = pd.isna(row["water_min"])
        names = ("steam_min",) if steam else ("water_min", "water_min_high")
        minutes = dict.fromkeys(float(row[name]) for name in names)
        size = f" ({row['size']})" if _text(row["size"]) else ""
        words.append(f"{' to '.join(f'{one:g}' for one in minutes)} min{' in steam' * steam}{size}")
        longest = max(longest, *minutes)
    return Blanching(
        words=", ".join(words),
        longest_min=longest,
        verified=all(row["verified"] for row in rows),
        source="; ".join(dict.fromkeys(cited(row) for row in rows)),
    )


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
    before : str
        Minutes in boiling water before it is dried, or that it is cooked; empty where neither.
    verified : bool
        Whether the hours were read in a publication of a government or extension service.
    source : str
        Where the hours stand.
    """

    hours: float
    temperature_f: float
    best_by_days: float
    before: str
    verified: bool
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
    before = "until cooked" if str(row["preparation"]).startswith("cooked") else ""
    if row["blanch_min"] > 0:
        before = f"{row['blanch_min']:g} min"
    return Drying(
        hours=float(row["hours_high"]),
        temperature_f=float(row["temp_low_f"]),
        best_by_days=round(days),
        before=before,
        verified=bool(row["verified"]),
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
