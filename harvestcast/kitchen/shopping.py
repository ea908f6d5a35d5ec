"""What to buy for the planned batches, less what is in stock."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.frames import SHOPPING, check_frame
from harvestcast.kitchen.amounts import CUP_L, LB_KG, cups_per_pound, recipe_kg, yield_row
from harvestcast.kitchen.catalogue import PINTS, Product, product
from harvestcast.kitchen.handbook import table
from harvestcast.kitchen.options import weekly_options
from harvestcast.records.household import Household

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

QUART_L = 4 * CUP_L
FLUID_OUNCE_L = CUP_L / 8
TABLESPOON_L = CUP_L / 16
OUNCE_KG = LB_KG / 16
SUGAR_KG_PER_CUP = 0.2  # common practice, no source
CITRIC_ACID_KG_PER_TSP = 0.0046  # from memory

JAR_SIZES = ("half_pint", "pint", "quart")
ACID_CROPS = ("tomato", "cherry tomato")
ACID_METHODS = ("boiling_water", "pressure")


@dataclass(frozen=True, slots=True)
class _Sold:
    """How an item is sold: steps to round up to, in the unit of the list."""

    unit: str
    us_step: float
    metric_step: float
    us_word: str
    metric_word: str


# Package sizes are common practice, no source.
_SOLD: dict[str, _Sold] = {
    "vinegar, 5 % acidity": _Sold("l", QUART_L, 1.0, "qt", "l"),
    "canning salt": _Sold("kg", LB_KG, 0.5, "lb", "kg"),
    "sugar": _Sold("kg", LB_KG, 0.5, "lb", "kg"),
    "onion": _Sold("kg", LB_KG / 2, 0.25, "lb", "kg"),
    "sweet pepper": _Sold("kg", LB_KG / 2, 0.25, "lb", "kg"),
    "onion or pepper": _Sold("kg", LB_KG / 2, 0.25, "lb", "kg"),
    "bottled lemon juice": _Sold("l", 4 * FLUID_OUNCE_L, 0.1, "fl oz", "l"),
    "citric acid": _Sold("kg", OUNCE_KG, 0.025, "oz", "kg"),
    "new lids": _Sold("pieces", 12, 12, "", ""),
    "freezer bags, pint": _Sold("pieces", 1, 1, "", ""),
}
_BY_UNIT = {
    "kg": _Sold("kg", LB_KG / 2, 0.25, "lb", "kg"),
    "tbsp": _Sold("tbsp", 1, 1, "tbsp", "tbsp"),
    "pieces": _Sold("pieces", 1, 1, "", ""),
    "packages": _Sold("packages", 1, 1, "packages", "packages"),
}
_PER_UNIT = {"qt": QUART_L, "lb": LB_KG, "fl oz": FLUID_OUNCE_L, "oz": OUNCE_KG}

# Key of [stock] in garden.toml -> item and how much of the item's unit one unit of the key is.
_STOCK: dict[str, tuple[str, float]] = {
    "vinegar_l": ("vinegar, 5 % acidity", 1.0),
    "salt_kg": ("canning salt", 1.0),
    "sugar_kg": ("sugar", 1.0),
    "sugar_l": ("sugar", SUGAR_KG_PER_CUP / CUP_L),
    "onion_kg": ("onion", 1.0),
    "onions_kg": ("onion", 1.0),
    "sweet_pepper_kg": ("sweet pepper", 1.0),
    "lemon_juice_l": ("bottled lemon juice", 1.0),
    "citric_acid_kg": ("citric acid", 1.0),
    "citric_acid_g": ("citric acid", 0.001),
    "pectin_packages": ("powdered pectin", 1.0),
}


def shopping_list(
    batches: pd.DataFrame, garden: Garden, *, options: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Return what to buy for planned batches.

    Parameters
    ----------
    batches : pandas.DataFrame
        Table BATCHES (columns product, jar, method, batches and mass_kg are read). A batch that is
        decided is bought for in full, even where some draws leave it part empty.
    garden : Garden
        The garden folder: stock, jars, units.
    options : pandas.DataFrame, optional
        Table OPTIONS the batches were planned with; left out: worked out again.

    Returns
    -------
    pandas.DataFrame
        Table SHOPPING: needed and in stock in metric units, ``to_buy`` rounded up to what is sold,
        ``shown`` in the household's units. Salt is shown by weight and by volume of each kind.
        Tomatoes take bottled lemon juice, or citric acid where the household has some in stock.

    Notes
    -----
    Ingredients scale with the produce: a batch of twice a recipe's produce takes twice its vinegar.
    Shares of vinegar to produce are those of the recipe, never less.
    """
    known = weekly_options(garden) if options is None else options
    rows_of = {str(row["option"]): row for row in known.to_dict("records")}
    home = garden.household
    needed: dict[str, float] = {}
    use: dict[str, dict[str, None]] = {}
    for row in batches.to_dict("records"):
        item = product(str(row["product"]))
        option = f"{item.key}/{row['jar']}/{row['method']}"
        kg, jars, lids = float(row["mass_kg"]), float(row["jars"]), 0.0
        if option in rows_of:
            full = rows_of[option]
            kg = max(kg, float(row["batches"]) * float(full["kg_per_batch"]))
            jars = max(jars, float(row["batches"]) * float(full["jars_per_batch"]))
            lids = jars * float(full["lids_per_batch"]) / float(full["jars_per_batch"])
        parts = ingredients(item, kg) | _acid(item, str(row["method"]), str(row["jar"]), jars, home)
        parts |= _containers(str(row["jar"]), jars, lids, home)
        for name, amount in parts.items():
            if amount > 0:
                needed[name] = needed.get(name, 0.0) + amount
                use.setdefault(name, {})[item.label] = None
    if not needed:
        return SHOPPING.empty()
    stock = stock_of(home)
    rows = [
        _row(name, amount, stock.get(name), tuple(use[name]), home)
        for name, amount in sorted(needed.items())
    ]
    return check_frame(pd.DataFrame(rows), SHOPPING)


def more_to_buy(first: pd.DataFrame, more: pd.DataFrame, garden: Garden) -> pd.DataFrame:
    """Return what further batches take beyond the shopping list of the first ones.

    Parameters
    ----------
    first, more : pandas.DataFrame
        Table BATCHES, as in :func:`shopping_list`; those decided, and those that are only likely.
    garden : Garden
        The garden folder.

    Returns
    -------
    pandas.DataFrame
        Table SHOPPING of what is bought in addition; stock and what the first batches leave of a
        package are used up before.
    """
    columns = ["product", "jar", "method", "batches", "mass_kg", "jars"]
    both = shopping_list(pd.concat([first[columns], more[columns]], ignore_index=True), garden)
    bought = shopping_list(first, garden)
    before = dict(zip(bought["item"], bought["to_buy"], strict=True))
    beyond = both["to_buy"] - both["item"].map(before).fillna(0.0).astype(float)
    table = both.assign(to_buy=beyond).loc[beyond > 1e-9].reset_index(drop=True)
    table["shown"] = [
        _shown(float(row["to_buy"]), _sold(str(row["item"])), garden.household)
        for row in table.to_dict("records")
    ]
    return check_frame(table, SHOPPING)


def ingredients(item: Product, kg: float) -> dict[str, float]:
    """Return what a recipe takes beside its main produce.

    Parameters
    ----------
    item : Product
        Product of the catalogue.
    kg : float
        Main produce, kg.

    Returns
    -------
    dict of str to float
        Item and amount: vinegar and lemon juice in litres, salt, sugar and onions in kg, spices in
        tablespoons, the rest in pieces or packages. Empty where there is no recipe.

    Examples
    --------
    >>> from harvestcast.kitchen.catalogue import product
    >>> parts = ingredients(product("dill_pickles"), 24 * 0.45359237)  # 3 batches of 8 lb
    >>> round(parts["vinegar, 5 % acidity"] / 0.946352946, 2)  # quarts
    4.5
    """
    row = yield_row(item)
    if row is None or row["row_kind"] != "recipe_batch" or item.methods[0] == "keeping":
        return {}
    recipes = kg / recipe_kg(item)[0]
    onion_lb = row["onion_lb"]
    if pd.isna(onion_lb) and pd.notna(row["onion_cups"]):
        onion_lb = row["onion_cups"] / cups_per_pound("onion/thinly_sliced")[0]
    amounts = {
        "vinegar, 5 % acidity": row["vinegar_5pct_cups"] * CUP_L,
        "canning salt": row["salt_cups"] * salt_kg_per_cup(),
        "sugar": row["sugar_cups"] * SUGAR_KG_PER_CUP,
        "onion": onion_lb * LB_KG,
        "bottled lemon juice": row["lemon_juice_cups"] * CUP_L,
    }
    for need in _needs().get(item.key, []):
        before = amounts.get(need["item"], 0.0)
        amounts[need["item"]] = need["amount"] + (0.0 if pd.isna(before) else before)
    return {name: float(a) * recipes for name, a in amounts.items() if pd.notna(a) and a > 0}


def salt_kg_per_cup() -> float:
    """Return the weight of a cup of canning salt, kg.

    Examples
    --------
    >>> salt_kg_per_cup()
    0.22
    """
    return _rule("salt_weight", "canning") / 1000


def salt_in_words(kg: float, units: str = "us") -> str:
    """Return an amount of canning salt by volume, for each kind the handbook gives.

    Cups are rounded up to the next quarter; metric households read millilitres too.

    Examples
    --------
    >>> salt_in_words(0.825)  # 3.75 cups
    '3.75 cups of canning salt, or 5.75 cups of flaked kosher salt'
    """
    cups = kg / salt_kg_per_cup()
    kosher = cups * _rule("salt_volume", "kosher_flake_vs_canning")
    plain, flaked = (_cups(amount, units) for amount in (cups, kosher))
    return f"{plain} of canning salt, or {flaked} of flaked kosher salt"


def _cups(amount: float, units: str) -> str:
    quarters = max(1, math.ceil(4 * amount - 1e-9))
    said = f"{quarters / 4:g} cup{'' if quarters <= 4 else 's'}"
    return said if units == "us" else f"{said} ({10 * round(25 * quarters * CUP_L):g} ml)"


def stock_of(household: Household) -> dict[str, float]:
    """Return what is in stock by item of the list, in the list's units.

    Examples
    --------
    >>> stock_of(Household(stock={"vinegar_gal": 1}))
    {'vinegar, 5 % acidity': 3.785411784}
    """
    stock: dict[str, float] = {}
    ways = _STOCK | {"salt_l": ("canning salt", salt_kg_per_cup() / CUP_L)}
    for key, amount in household.stock.items():
        if key in ways:
            item, each = ways[key]
            stock[item] = stock.get(item, 0.0) + float(amount) * each
    if "lids" in household.jars:
        stock["new lids"] = float(household.jars["lids"])
    if "freezer_bags" in household.jars:
        stock["freezer bags, pint"] = float(household.jars["freezer_bags"])
    for size in JAR_SIZES:
        if size in household.jars:
            stock[_jar_item(size)] = float(household.jars[size])
    return stock


@cache
def _needs() -> dict[str, list[dict[str, Any]]]:
    needs: dict[str, list[dict[str, Any]]] = {}
    for row in table("needs").to_dict("records"):
        needs.setdefault(row["product"], []).append({str(k): v for k, v in row.items()})
    return needs


@cache
def _rule(rule: str, subject: str, condition: str = "") -> float:
    rules = table("rules")
    mine = rules[(rules["rule"] == rule) & (rules["subject"] == subject)]
    if condition:
        mine = mine[mine["condition"].str.startswith(condition)]
    return float(mine["value"].iloc[0])


def _jar_item(size: str) -> str:
    return f"{size.replace('_', '-')} jars"


def _acid(item: Product, method: str, jar: str, jars: float, home: Household) -> dict[str, float]:
    """Acid for tomatoes, by the jar: rules acidify_lemon_juice and acidify_citric."""
    if item.crop not in ACID_CROPS or method not in ACID_METHODS or ingredients(item, 1.0):
        return {}
    pints = jars * PINTS[jar]
    if stock_of(home).get("citric acid", 0.0) > 0:
        spoons = _rule("acidify_citric", "tomato", "per pint")
        return {"citric acid": pints * spoons * CITRIC_ACID_KG_PER_TSP}
    spoons = _rule("acidify_lemon_juice", "tomato", "per pint")
    return {"bottled lemon juice": pints * spoons * TABLESPOON_L}


def _containers(jar: str, jars: float, lids: float, home: Household) -> dict[str, float]:
    """Lids, bags and jars; jars only where the household counts its jars."""
    parts = {"new lids": float(math.ceil(lids - 1e-9))}
    whole = float(math.ceil(jars - 1e-9))
    if jar.endswith("_bag"):
        parts["freezer bags, pint"] = whole
    elif jar in JAR_SIZES and any(size in home.jars for size in JAR_SIZES):
        parts[_jar_item(jar)] = whole
    return parts


def _row(
    name: str, needed: float, stock: float | None, labels: tuple[str, ...], home: Household
) -> dict[str, Any]:
    sold = _sold(name)
    in_stock = stock or 0.0
    step = sold.us_step if home.units == "us" else sold.metric_step
    missing = max(0.0, needed - in_stock)
    to_buy = math.ceil(missing / step - 1e-9) * step
    shown = _shown(to_buy, sold, home) if to_buy > 0 else "enough in stock"
    if name == "canning salt":
        shown += f" (needed in all: {salt_in_words(needed, home.units)})"
    if name == "new lids" and stock is None:
        shown += " (lids in stock are not stated in garden.toml)"
    return {
        "item": name,
        "needed": needed,
        "in_stock": in_stock,
        "to_buy": to_buy,
        "unit": sold.unit,
        "shown": shown,
        "use": ", ".join(labels),
    }


def _sold(name: str) -> _Sold:
    return _SOLD.get(name) or _BY_UNIT[_unit(name)]


def _unit(name: str) -> str:
    for rows in _needs().values():
        for need in rows:
            if need["item"] == name:
                return str(need["unit"])
    return "pieces"


def _shown(amount: float, sold: _Sold, home: Household) -> str:
    if home.units != "us":
        return f"{amount:.6g} {sold.metric_word}".strip()
    number = amount / _PER_UNIT.get(sold.us_word, 1.0)
    if sold.us_word == "qt" and number >= 4:
        gallons, quarts = divmod(round(number), 4)
        return f"{gallons} gal" + (f" {quarts} qt" if quarts else "")
    return f"{number:.6g} {sold.us_word}".strip()
