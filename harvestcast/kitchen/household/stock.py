"""What ``[stock]`` of garden.toml means: ingredients by item of the shopping list."""

from __future__ import annotations

from functools import cache

from harvestcast.kitchen.handbook.process_times import table
from harvestcast.kitchen.household.jars import jars_by_size
from harvestcast.kitchen.week.shop_units import SUGAR_KG_PER_CUP, salt_kg_per_cup
from harvestcast.records.household import Household
from harvestcast.records.typed.jar_sizes import SIZES
from harvestcast.units import L_PER_CUP

# Key of [stock] in garden.toml -> item and how much of the item's unit one unit of the key is.
_STOCK: dict[str, tuple[str, float]] = {
    "vinegar_l": ("vinegar, 5 % acidity", 1.0),
    "salt_kg": ("canning salt", 1.0),
    "salt_l": ("canning salt", salt_kg_per_cup() / L_PER_CUP),
    "sugar_kg": ("sugar", 1.0),
    "sugar_l": ("sugar", SUGAR_KG_PER_CUP / L_PER_CUP),
    "onion_kg": ("onion", 1.0),
    "onions_kg": ("onion", 1.0),
    "sweet_pepper_kg": ("sweet pepper", 1.0),
    "lemon_juice_l": ("bottled lemon juice", 1.0),
    "citric_acid_kg": ("citric acid", 1.0),
    "citric_acid_g": ("citric acid", 0.001),
    "pectin_packages": ("powdered pectin", 1.0),
}

STOCK_KEYS: tuple[str, ...] = tuple(_STOCK)
"""Keys that ``[stock]`` may hold; those in litres and kilograms in customary units too."""


@cache
def items() -> frozenset[str]:
    """Return the ingredients that a shopping list may hold."""
    return frozenset(table("ingredients")["item"].astype(str))


def stock_of(household: Household) -> dict[str, float]:
    """Return what is in stock by item of the list, in the list's units.

    A key that is an item of the list already, as the kitchen book leaves them, is taken as it is.

    Examples
    --------
    >>> stock_of(Household(stock={"vinegar_gal": 1}))
    {'vinegar, 5 % acidity': 3.785411784}
    """
    stock = ingredients_in_stock(household)
    for name, number in counted_jars(household).items():
        stock[jar_item(name)] = number
    return stock


def ingredients_in_stock(household: Household) -> dict[str, float]:
    """Return the ingredients of ``[stock]`` by item of the list."""
    stock: dict[str, float] = {}
    for key, amount in household.stock.items():
        item, each = _STOCK.get(key, (key, 1.0))
        if key in _STOCK or key in items():
            stock[item] = stock.get(item, 0.0) + float(amount) * each
    return stock


def counted_jars(household: Household) -> dict[str, float]:
    """Return the jars that the plan counts, lids and bags, by their names in ``[jars]``."""
    found = {jars.name: jars.number for jars in jars_by_size(household).values()}
    return found | {n: float(household.jars[n]) for n in _OTHERS if n in household.jars}


_OTHERS = {"lids": "new lids", "freezer_bags": "freezer bags, pint"}


def jar_item(name: str) -> str:
    """Return the item of the shopping list that a name in ``[jars]`` is.

    Examples
    --------
    >>> jar_item("half_pint"), jar_item("500 ml"), jar_item("lids")
    ('half-pint jars', 'jars of 500 ml', 'new lids')
    """
    if name in _OTHERS:
        return _OTHERS[name]
    size = name
    return f"{size.replace('_', '-')} jars" if size in SIZES else f"jars of {size}"
