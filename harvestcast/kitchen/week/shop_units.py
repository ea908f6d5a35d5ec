"""How things are sold, and amounts of them in the household's units.

A recipe measures by volume. Metric households read millilitres and litres, which are right for
anything; they read grams only where the handbook gives what a cup weighs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from harvestcast.kitchen.handbook.process_times import table
from harvestcast.units import KG_PER_LB, KG_PER_OZ, L_PER_CUP, L_PER_FLOZ, L_PER_QUART, L_PER_TBSP

SUGAR_KG_PER_CUP = 0.2  # common practice, no source

CRUMB = 1e-6
"""By so little an amount may pass a step without taking the next: plans are solved to that."""
MUCH_OVER = 1.25
"""What has to be bought of a package beside what is needed, from which both are said."""


@dataclass(frozen=True, slots=True)
class Sold:
    """How an item is sold: steps to round up to, in the unit of the list."""

    unit: str
    us_step: float
    metric_step: float
    us_word: str
    metric_word: str
    package: bool = True


# Package sizes are common practice, no source.
_SOLD: dict[str, Sold] = {
    "vinegar, 5 % acidity": Sold("l", L_PER_QUART, 1.0, "qt", "l"),
    "canning salt": Sold("kg", KG_PER_LB, 0.5, "lb", "kg"),
    "sugar": Sold("kg", KG_PER_LB, 0.5, "lb", "kg"),
    "onion": Sold("kg", KG_PER_LB / 2, 0.25, "lb", "kg"),
    "sweet pepper": Sold("kg", KG_PER_LB / 2, 0.25, "lb", "kg"),
    "onion or pepper": Sold("kg", KG_PER_LB / 2, 0.25, "lb", "kg"),
    "bottled lemon juice": Sold("l", 4 * L_PER_FLOZ, 0.1, "fl oz", "l"),
    "citric acid": Sold("kg", KG_PER_OZ, 0.025, "oz", "kg"),
    "new lids": Sold("pieces", 12, 12, "", ""),
    "freezer bags, pint": Sold("pieces", 1, 1, "", "", package=False),
}
_BY_UNIT = {
    "kg": Sold("kg", KG_PER_LB / 2, 0.25, "lb", "kg"),
    # Spoons of a recipe are measured, not bought by the package.
    "tbsp": Sold("tbsp", 1, 0.005 / L_PER_TBSP, "tbsp", "ml", package=False),
    "pieces": Sold("pieces", 1, 1, "", "", package=False),
    "l": Sold("l", L_PER_CUP, 0.1, "cups", "l"),
    "packages": Sold("packages", 1, 1, "packages", "packages", package=False),
}
_PER_UNIT = {
    "qt": L_PER_QUART,
    "cups": L_PER_CUP,
    "lb": KG_PER_LB,
    "fl oz": L_PER_FLOZ,
    "oz": KG_PER_OZ,
}
_PARTS = {"l": "ml", "kg": "g"}


def how_sold(name: str, unit: str) -> Sold:
    """Return how an item of the list is sold; ``unit`` is what recipes measure it in."""
    return _SOLD.get(name) or _BY_UNIT[unit]


def bought_in_words(amount: float, sold: Sold, units: str) -> str:
    """Return an amount of whole packages, pieces or spoons.

    Examples
    --------
    >>> vinegar, spice = how_sold("vinegar, 5 % acidity", "l"), how_sold("mustard seed", "tbsp")
    >>> bought_in_words(5 * L_PER_QUART, vinegar, "us"), bought_in_words(2.0, vinegar, "metric")
    ('1 gal 1 qt', '2 l')
    >>> bought_in_words(1, how_sold("powdered pectin", "packages"), "metric")
    '1 package'
    >>> bought_in_words(3, spice, "us"), bought_in_words(3 * spice.metric_step, spice, "metric")
    ('3 tbsp', '15 ml')
    """
    if units != "us":
        if sold.metric_word == "ml":
            return f"{1000 * amount * L_PER_TBSP:.6g} ml"
        if sold.metric_word in _PARTS and amount < 1 - CRUMB:
            return f"{1000 * amount:.6g} {_PARTS[sold.metric_word]}"
        return _counted(amount, sold.metric_word)
    number = amount / _PER_UNIT.get(sold.us_word, 1.0)
    if sold.us_word == "qt" and number >= 4:
        gallons, quarts = divmod(round(number), 4)
        return f"{gallons} gal" + (f" {quarts} qt" if quarts else "")
    return _counted(number, sold.us_word)


def needed_in_words(name: str, amount: float, sold: Sold, units: str) -> str:
    """Return what the recipes take, rounded up.

    Examples
    --------
    >>> vinegar = how_sold("vinegar, 5 % acidity", "l")
    >>> [needed_in_words("vinegar", 1.5 * L_PER_CUP, vinegar, units) for units in ("us", "metric")]
    ['1.5 cups', '360 ml']
    >>> [needed_in_words("vinegar", 6 * L_PER_CUP, vinegar, units) for units in ("us", "metric")]
    ['1.5 qt', '1.42 l']
    """
    if name == "sugar":  # by volume, as the recipe has it: what a cup weighs has no source
        litres = amount / SUGAR_KG_PER_CUP * L_PER_CUP
        return _cups(litres) if units == "us" else _metric(litres, "l")
    if sold.unit in _PARTS and units != "us":
        return _metric(amount, sold.unit)
    if sold.us_word == "qt":
        return _cups(amount) if amount < L_PER_QUART else f"{_up(amount / L_PER_QUART, 4)} qt"
    if sold.us_word in _PER_UNIT:
        return f"{_up(amount / _PER_UNIT[sold.us_word], 10)} {sold.us_word}"
    return f"{math.ceil(amount - CRUMB)} {sold.us_word}".strip()


def salt_kg_per_cup() -> float:
    """Return the weight of a cup of canning salt, kg.

    Examples
    --------
    >>> salt_kg_per_cup()
    0.292
    """
    return rule("salt_weight", "canning") / 1000


def salt_in_words(kg: float, units: str = "us") -> str:
    """Return an amount of canning salt, rounded up.

    By volume; metric households read the weight too. No other kind stands beside it: flaked salt
    differs in weight from cup to cup, and the guide does not use it for pickles (p. 6-7).

    Examples
    --------
    >>> salt_in_words(3.75 * 0.292)
    '3.75 cups of canning salt'
    >>> salt_in_words(0.292, "metric")  # a cup of 237 ml
    '295 g (240 ml) of canning salt'
    """
    litres = kg / salt_kg_per_cup() * L_PER_CUP
    if units == "us":
        return f"{_cups(litres)} of canning salt"
    return f"{5 * math.ceil(200 * kg - CRUMB)} g ({_metric(litres, 'l')}) of canning salt"


def rule(name: str, subject: str, condition: str = "") -> float:
    """Return the value of a rule of the handbook."""
    rules = table("rules")
    mine = rules[(rules["rule"] == name) & (rules["subject"] == subject)]
    if condition:
        mine = mine[mine["condition"].str.startswith(condition)]
    return float(mine["value"].iloc[0])


def _counted(number: float, word: str) -> str:
    return f"{number:.6g} {word.removesuffix('s') if number == 1 else word}".strip()


def _cups(litres: float) -> str:
    quarters = max(1, math.ceil(4 * litres / L_PER_CUP - CRUMB))
    return f"{quarters / 4:g} cup{'' if quarters <= 4 else 's'}"


def _metric(amount: float, unit: str) -> str:
    """Return litres or kilograms: small ones as the thousandth, to the next ten of them."""
    if amount >= 1:
        return f"{_up(amount, 100)} {unit}"
    return f"{10 * math.ceil(100 * amount - CRUMB)} {_PARTS[unit]}"


def _up(number: float, steps: int) -> str:
    return f"{math.ceil(steps * number - CRUMB) / steps:g}"
