"""Amounts of things in a kitchen as people type them: pieces, weights, volumes."""

from __future__ import annotations

import re
from dataclasses import dataclass

from harvestcast.records.messages import unreadable
from harvestcast.records.typed.numbers import Decimal, parse_amount, parse_number
from harvestcast.units import L_PER_CUFT, L_PER_CUP, L_PER_FLOZ, L_PER_PINT, L_PER_TBSP, L_PER_TSP

LITRES: dict[str, float] = {
    "l": 1.0,
    "ml": 0.001,
    "gal": 16 * L_PER_CUP,
    "qt": 4 * L_PER_CUP,
    "pt": L_PER_PINT,
    "cup": L_PER_CUP,
    "fl oz": L_PER_FLOZ,
    "tbsp": L_PER_TBSP,
    "tsp": L_PER_TSP,
    "ft3": L_PER_CUFT,
}
"""Litres in one of every unit of volume that may be typed; US measure."""

_WORDS: dict[str, str] = {
    word: unit
    for unit, words in {
        "l": "l litre litres liter liters",
        "ml": "ml millilitre millilitres milliliter milliliters",
        "gal": "gal gals gallon gallons",
        "qt": "qt qts quart quarts",
        "pt": "pt pts pint pints",
        "cup": "cup cups",
        "tbsp": "tbsp tbs tablespoon tablespoons",
        "tsp": "tsp teaspoon teaspoons",
        "ft3": "ft3 cuft",
    }.items()
    for word in words.split()
}
_PLAIN = {"fl oz": "floz", "fl. oz": "floz", "fluid oz": "floz", "fluid ounces": "floz",
          "cubic feet": "ft3", "cubic foot": "ft3", "cu ft": "ft3"}  # fmt: skip
_PART = re.compile(r"(?P<number>[\d.,'/ ]*\d) ?(?P<unit>[a-z]+3?)\.?(?: |$)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """An amount of something: of pieces, weight and volume those that were said, else None."""

    count: float | None = None
    mass_kg: float | None = None
    volume_l: float | None = None


def parse_quantity(text: str, decimal: Decimal = "unknown") -> Quantity:
    """Return the amount that a text says.

    Parameters
    ----------
    text : str
        ``24``, ``2 dozen``, ``3 lb 4 oz``, ``1 gal 2 qt``, ``500 ml``, ``1 1/2 cups``.
    decimal : {"point", "comma", "unknown", "unsure"}
        Decimal mark, where it is known.

    Raises
    ------
    harvestcast.errors.TypedError
        Where the amount cannot be read, or may be two; nothing is guessed.

    Examples
    --------
    >>> parse_quantity("2 dozen").count, parse_quantity("1/2 kg").mass_kg
    (24.0, 0.5)
    >>> round(parse_quantity("1 gal 2 qt").volume_l, 3), parse_quantity("500 ml").volume_l
    (5.678, 0.5)
    """
    typed = " ".join(text.casefold().replace("³", "3").split())
    for long, short in _PLAIN.items():
        typed = re.sub(rf"(?<![a-z]){re.escape(long)}(?![a-z])", short, typed)
    if typed.startswith("-"):
        raise unreadable("amount.negative")
    words = re.findall(r"[a-z]+3?", typed)
    units = ["fl oz" if word == "floz" else _WORDS.get(word) for word in words]
    if not words or not any(units):
        count, mass = parse_amount(typed, "each", decimal)
        return Quantity(count=count, mass_kg=mass)
    litres, place = 0.0, 0
    while place < len(typed):
        match = _PART.match(typed, place)
        if match is None:
            raise unreadable("amount.unreadable")
        word = match["unit"]
        known = "fl oz" if word == "floz" else _WORDS.get(word)
        if known is None:
            raise unreadable("amount.unknown_unit", word=word)
        litres += parse_number(match["number"].strip(), decimal) * LITRES[known]
        place = match.end()
    return Quantity(volume_l=litres)
