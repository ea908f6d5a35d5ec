"""What ``[stock]`` of garden.toml means: ingredients by item of the shopping list."""

from __future__ import annotations

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


def stock_of(household: Household) -> dict[str, float]:
    """Return what is in stock by item of the list, in the list's units.

    Examples
    --------
    >>> stock_of(Household(stock={"vinegar_gal": 1}))
    {'vinegar, 5 % acidity': 3.785411784}
    """
    stock: dict[str, float] = {}
    for key, amount in household.stock.items():
        if key in _STOCK:
            item, each = _STOCK[key]
            stock[item] = stock.get(item, 0.0) + float(amount) * each
    if "lids" in household.jars:
        stock["new lids"] = float(household.jars["lids"])
    if "freezer_bags" in household.jars:
        stock["freezer bags, pint"] = float(household.jars["freezer_bags"])
    for jars in jars_by_size(household).values():
        stock[jar_item(jars.name)] = jars.number
    return stock


def jar_item(size: str) -> str:
    """Return the item of the shopping list that jars of a size are.

    Examples
    --------
    >>> jar_item("half_pint"), jar_item("500 ml")
    ('half-pint jars', 'jars of 500 ml')
    """
    return f"{size.replace('_', '-')} jars" if size in SIZES else f"jars of {size}"
