"""What to buy for the planned batches, less what is in stock."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.frames import SHOPPING, check_frame
from harvestcast.kitchen.handbook.amounts import amounts, recipe, recipe_kg, unit_of
from harvestcast.kitchen.handbook.process_times import METHODS, acid_of
from harvestcast.kitchen.handbook.products import PINTS, Product, jars_in_words, product
from harvestcast.kitchen.household.capacity import JAR_SIZES
from harvestcast.kitchen.household.jars import jars_by_size, real_jar, tested_size
from harvestcast.kitchen.household.stock import jar_item, stock_of
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.shop_units import (
    CRUMB,
    MUCH_OVER,
    Sold,
    bought_in_words,
    how_sold,
    needed_in_words,
    salt_in_words,
)
from harvestcast.records.household import Household
from harvestcast.units import L_PER_TBSP

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

CITRIC_ACID_KG_PER_TSP = 0.0046  # from memory

NAN = float("nan")

PART_JAR = 0.1
"""A recipe that fills this much of one more jar is not bought one more jar and lid for."""


def shopping_list(
    batches: pd.DataFrame, garden: Garden, *, options: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Return what to buy for planned batches.

    Parameters
    ----------
    batches : pandas.DataFrame
        Table BATCHES (columns product, jar, method, batches, mass_kg and jars are read, and
        gauge, jars_high and decided where there are such). A batch that is decided is bought for
        as full as it becomes in nine draws of ten, and in full where that is not known or the
        recipe must not be divided; one that is only likely for what it comes to on average.
    garden : Garden
        The garden folder: stock, jars, units.
    options : pandas.DataFrame, optional
        Table OPTIONS the batches were planned with; left out: worked out again.

    Returns
    -------
    pandas.DataFrame
        Table SHOPPING: needed and in stock in metric units, ``to_buy`` rounded up to what is sold,
        ``shown`` in the household's units, ``use`` the jars it is for. Salt is shown by volume of
        each kind as well. Tomatoes take bottled lemon juice, or citric acid where the household has
        some in stock.

    Notes
    -----
    Ingredients scale with the produce: a batch of twice a recipe's produce takes twice its vinegar.
    Shares of vinegar to produce are those of the recipe, never less.
    """
    known = weekly_options(garden) if options is None else options
    rows_of = {_way(row): row for row in known.to_dict("records")}
    home = garden.household
    needed: dict[str, float] = {}
    use: dict[str, list[_Filled]] = {}
    for row in batches.to_dict("records"):
        item, jar = product(str(row["product"])), str(row["jar"])
        filled = _filled(row, rows_of.get(_way(row)))
        parts = ingredients(item, filled.kg)
        for name, amount in acid_in_jars(item, str(row["method"]), jar, filled.jars, home).items():
            parts[name] = parts.get(name, 0.0) + amount
        parts |= _containers(jar, filled.jars, filled.lids, home)
        for name, amount in parts.items():
            if amount > 0:
                needed[name] = needed.get(name, 0.0) + amount
                use.setdefault(name, []).append(filled)
    if not needed:
        return SHOPPING.empty()
    stock = stock_of(home)
    rows = [
        _row(name, amount, stock.get(name), _use(use[name]), home)
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
        package are used up before. ``use`` names the further batches only.
    """
    columns = ["product", "jar", "method", "gauge", "batches", "mass_kg", "jars"]
    columns += ["jars_high", "decided"]
    first, more = first.reindex(columns=columns), more.reindex(columns=columns)
    options = weekly_options(garden)
    # Without empty tables: pandas is to say nothing of their types.
    parts = [part for part in (first, more) if len(part)]
    if not len(more):
        return SHOPPING.empty()
    both = shopping_list(pd.concat(parts, ignore_index=True), garden, options=options)
    bought = shopping_list(first, garden, options=options)
    alone = shopping_list(more, garden, options=options)
    before = dict(zip(bought["item"], bought["to_buy"], strict=True))
    beyond = both["to_buy"] - both["item"].map(before).fillna(0.0).astype(float)
    table = both.assign(to_buy=beyond).loc[beyond > 1e-9].reset_index(drop=True)
    table["shown"] = [
        bought_in_words(float(row["to_buy"]), _sold(str(row["item"])), garden.household.units)
        for row in table.to_dict("records")
    ]
    table["use"] = table["item"].map(dict(zip(alone["item"], alone["use"], strict=True)))
    return check_frame(table, SHOPPING)


@dataclass(frozen=True, slots=True)
class _Filled:
    """What one row of the batches is bought for; ``about`` is said before the number of jars."""

    label: str
    jar: str
    kg: float
    jars: float
    lids: float
    about: str


def _way(row: Mapping[Hashable, Any]) -> tuple[str, ...]:
    """Return the way of putting up that a row of OPTIONS or BATCHES is about."""
    gauge = row.get("gauge")
    names = ("product", "jar", "method")
    return (*(str(row[name]) for name in names), "" if pd.isna(gauge) else str(gauge))


def _filled(row: Mapping[Hashable, Any], full: Mapping[Hashable, Any] | None) -> _Filled:
    """Return how full a batch is bought for; ``full`` is its row of the options."""
    item, jar = product(str(row["product"])), str(row["jar"])
    jars, high = float(row["jars"]), float(row.get("jars_high", NAN))
    decided = row.get("decided", True)
    about = "" if pd.isna(decided) or decided else "about "
    if full is None:
        return _Filled(item.label, jar, float(row["mass_kg"]), jars, 0.0, about)
    each, kg_each = float(full["jars_per_batch"]), float(full["kg_per_batch"])
    most = jars
    if not about:
        most = float(row["batches"]) * each
        # What must not be divided is bought for whole, however little goes into it.
        if math.isfinite(high) and not item.whole_recipe:
            most = min(most, max(jars, high))
    about = about or ("up to " if whole_jars(most) > whole_jars(jars) else "")
    lids = most * float(full["lids_per_batch"]) / each
    return _Filled(item.label, jar, most / each * kg_each, most, lids, about)


def whole_jars(jars: float) -> int:
    """Return the jars to have ready for a number of them.

    Examples
    --------
    >>> whole_jars(4.02), whole_jars(4.3), whole_jars(0.05)
    (4, 5, 1)
    """
    return max(1, math.ceil(jars - PART_JAR)) if jars > 0 else 0


def _use(all_filled: list[_Filled]) -> str:
    """Return the jars that something is bought for, those of one kind together."""
    number: dict[tuple[str, str], float] = {}
    about: dict[tuple[str, str], str] = {}
    for one in all_filled:
        key = (one.label, one.jar)
        number[key] = number.get(key, 0.0) + one.jars
        about[key] = about.get(key) or one.about
    of: dict[str, list[str]] = {}
    for (label, jar), jars in number.items():
        said = f"{about[label, jar]}{jars_in_words(jar, whole_jars(jars))}"
        of.setdefault(label, []).append(said)
    return ", ".join(f"{' and '.join(jars)} of {label}" for label, jars in of.items())


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
    >>> from harvestcast.kitchen.handbook.products import product
    >>> parts = ingredients(product("dill_pickles"), 24 * 0.45359237)  # 3 batches of 8 lb
    >>> round(parts["vinegar, 5 % acidity"] / 0.946352946, 2)  # quarts
    4.5
    """
    parts: dict[str, float] = {}
    needed = recipe(item)
    if not needed:
        return parts
    known = amounts(item, item.usual_jar)
    if known is None:
        return parts
    pints = kg / known.kg_per_jar * PINTS[item.usual_jar]
    whole = math.nan if all(math.isfinite(one.pints) for one in needed) else kg / recipe_kg(item)[0]
    for one in needed:
        times = pints / one.pints if math.isfinite(one.pints) else whole
        parts[one.item] = parts.get(one.item, 0.0) + one.amount * times
    return parts


def acid_in_jars(
    item: Product, method: str, jar: str, jars: float, home: Household
) -> dict[str, float]:
    """Return the acid that goes into jars, under pressure too, whatever else the recipe takes."""
    if method not in METHODS:
        return {}
    # A jar between two sizes takes the acid of the larger, as it takes its time.
    found = acid_of(item.handbook, tested_size(home, jar))
    if found["acid"] != "each_jar":
        return {}
    citric = found["citric_acid_tsp"]
    if citric is not None and stock_of(home).get("citric acid", 0.0) > 0:
        return {"citric acid": jars * citric * CITRIC_ACID_KG_PER_TSP}
    return {"bottled lemon juice": jars * found["lemon_juice_tbsp"] * L_PER_TBSP}


def _containers(jar: str, jars: float, lids: float, home: Household) -> dict[str, float]:
    """Lids, bags and jars; jars only where the household counts its jars."""
    parts = {"new lids": float(whole_jars(lids))}
    whole = float(whole_jars(jars))
    if jar.endswith("_bag"):
        parts["freezer bags, pint"] = whole
    elif jar in JAR_SIZES and jars_by_size(home):
        parts[jar_item(real_jar(home, jar))] = whole
    return parts


def _row(
    name: str, needed: float, stock: float | None, use: str, home: Household
) -> dict[str, Any]:
    sold, units = _sold(name), home.units
    in_stock = stock or 0.0
    step = sold.us_step if units == "us" else sold.metric_step
    missing = max(0.0, needed - in_stock)
    to_buy = math.ceil(missing / step - CRUMB) * step
    shown = bought_in_words(to_buy, sold, units) if to_buy > 0 else "enough in stock"
    notes = []
    if name == "canning salt":
        notes.append(f"needed in all: {salt_in_words(needed, units)}")
    elif sold.package and to_buy > MUCH_OVER * missing:
        notes.append(f"needed in all: {needed_in_words(name, needed, sold, units)}")
    if name == "new lids" and stock is None:
        notes.append("lids in stock are not stated in garden.toml")
    return {
        "item": name,
        "needed": needed,
        "in_stock": in_stock,
        "to_buy": to_buy,
        "unit": sold.unit,
        "shown": shown + (f" ({'; '.join(notes)})" if notes else ""),
        "use": use,
    }


def _sold(name: str) -> Sold:
    return how_sold(name, unit_of(name))
