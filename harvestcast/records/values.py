"""Numbers and amounts as people type them.

Every reader here either returns a value or raises ``ValueError`` whose text says, in plain
words, what is wrong with what was typed. Nothing is guessed: a comma that may be a decimal
mark or a thousands mark is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Literal

Decimal = Literal["point", "comma", "unknown"]

# Exact by definition: international avoirdupois pound (1959) and its sixteenth.
KG: dict[str, float] = {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "oz": 0.45359237 / 16}
"""Kilograms in one unit of mass."""

_UNIT_WORDS: dict[str, str] = {
    word: unit
    for unit, words in {
        "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
        "g": "g gr gm gms gram grams gramme grammes",
        "lb": "lb lbs pound pounds",
        "oz": "oz ozs ounce ounces",
        "each": "each ea count counts piece pieces pc pcs fruit fruits head heads ear ears "
        "number no unit bulb bulbs pod pods bunch bunches root roots",
        "dozen": "dozen dozens doz dz",
        "degC": "c degc celsius centigrade",
        "degF": "f degf fahrenheit",
        "mm": "mm millimeter millimeters millimetre millimetres",
        "cm": "cm centimeter centimeters centimetre centimetres",
        "in": "in inch inches",
        "m": "m meter meters metre metres",
        "ft": "ft foot feet",
        "m2": "m2 sqm",
        "ft2": "ft2 sqft",
        "h": "h hr hrs hour hours",
        "min": "min mins minute minutes",
    }.items()
    for word in words.split()
}
_VOLUMES = frozenset(
    [
        "basket",
        "baskets",
        "bucket",
        "buckets",
        "bowl",
        "bowls",
        "bag",
        "bags",
        "bushel",
        "bushels",
        "peck",
        "pecks",
        "quart",
        "quarts",
        "qt",
        "pint",
        "pints",
        "pt",
        "cup",
        "cups",
        "litre",
        "litres",
        "liter",
        "liters",
        "gallon",
        "gallons",
        "box",
        "boxes",
        "crate",
        "crates",
        "handful",
        "handfuls",
    ]
)
_WORD_NUMBERS: dict[str, float] = {
    word: float(number)
    for number, words in enumerate(
        [
            "none/zero/no/nothing/nil",
            "one/a/an",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
        ]
    )
    for word in words.split("/")
} | {"half": 0.5}
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8"}
MOST = 1e6
"""Largest count or mass (kg) of one line that is believed to be typed on purpose."""


def unit_of(word: str) -> str | None:
    """Return the unit a word stands for, or None.

    Examples
    --------
    >>> unit_of("grams"), unit_of("Lbs."), unit_of("°F"), unit_of("apples")
    ('g', 'lb', 'degF', None)
    """
    plain = re.sub(r"[^a-z0-9]", "", word.casefold().replace("°", "deg").replace("²", "2"))
    return _UNIT_WORDS.get(plain)


def decimal_style(cells: Iterable[str]) -> Decimal:
    """Return the decimal mark of a column, from the cells that can be read in one way only.

    Examples
    --------
    >>> decimal_style(["1,5", "12"]), decimal_style(["1.5"]), decimal_style(["1,234"])
    ('comma', 'point', 'unknown')
    """
    comma = point = False
    for cell in cells:
        for number in re.findall(r"\d[\d.,]*\d", cell) if "," in cell or "." in cell else ():
            last = max(number.rfind(","), number.rfind("."))
            if last < 0:
                continue
            marks = set(number) & {",", "."}
            tail = len(number) - last - 1
            if len(marks) == 2 or (number.count(number[last]) == 1 and tail != 3):
                comma |= number[last] == ","
                point |= number[last] == "."
    if comma == point:
        return "unknown"
    return "comma" if comma else "point"


@lru_cache(maxsize=4096)
def parse_number(text: str, decimal: Decimal = "unknown") -> float:
    """Return a plain number or fraction.

    Parameters
    ----------
    text : str
        What was typed: ``12``, ``3.5``, ``3,5``, ``1 1/2``, ``½``, ``1,234.5``.
    decimal : {"point", "comma", "unknown"}
        Decimal mark where it is known.

    Raises
    ------
    ValueError
        Where it is no number, or may be two.

    Examples
    --------
    >>> parse_number("1 1/2"), parse_number("3,5"), parse_number("1,234.5")
    (1.5, 3.5, 1234.5)
    >>> parse_number("1,234")
    Traceback (most recent call last):
    ...
    ValueError: may be 1.234 or 1234
    """
    typed = text.strip().casefold()
    if len(typed) > 60:
        raise ValueError("is no number")
    if typed in _WORD_NUMBERS:
        return _WORD_NUMBERS[typed]
    for sign, plain in _FRACTIONS.items():
        typed = typed.replace(sign, f" {plain}")
    typed = typed.strip()
    fraction = re.fullmatch(r"(?:(\d{1,6})[ -]+)?(\d{1,4}) ?/ ?(\d{1,4})", typed)
    if fraction:
        if int(fraction[3]) == 0:
            raise ValueError("divides by zero")
        return int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    if re.fullmatch(r"[+-]?\d+", typed):
        return float(typed)
    if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)e[+-]?\d{1,3}", typed):
        value = float(typed)
    else:
        value = float(_plain(typed, decimal))
    if not math.isfinite(value):
        raise ValueError("is no number")
    return value


def _plain(typed: str, decimal: Decimal) -> str:
    if not re.fullmatch(r"[+-]?(\d[\d., ]*|[.,]\d+)", typed, flags=re.ASCII):
        raise ValueError("is no number")
    sign = typed[0] if typed[0] in "+-" else ""
    body = typed.lstrip("+-")
    grouped = re.fullmatch(r"\d{1,3}(?:([., ])\d{3})(?:\1\d{3})*(?:([.,])\d+)?", body)
    marks = {c for c in body if c in ".,"}
    if re.fullmatch(r"\d*[.,]\d+|\d+[.,]", body) and not (grouped and decimal == "unknown"):
        mark = next(iter(marks))
        named = {"point": ".", "comma": ","}.get(decimal)
        if named is None or named == mark:
            return sign + body.replace(",", ".")
        if not grouped:
            return sign + body.replace(",", ".")
        # 1.234 beside 1,5 is a thousands mark to a careful hand and a slip to a hurried one.
        if mark == ",":
            return sign + body.replace(",", "")
        raise ValueError(f"may be {body} or {body.replace('.', '')}")
    if grouped and grouped[2] != grouped[1]:
        if grouped[2] or grouped[1] == " " or body.count(grouped[1]) > 1:
            whole = body[: -len(body.rpartition(grouped[2])[2]) - 1] if grouped[2] else body
            part = body.rpartition(grouped[2])[2] if grouped[2] else "0"
            return f"{sign}{re.sub('[., ]', '', whole)}.{part}"
        # The point alone before three digits is a decimal point to most of the world.
        if grouped[1] == ".":
            return sign + body
        raise ValueError(f"may be {body.replace(',', '.')} or {body.replace(',', '')}")
    raise ValueError("is no number")


def parse_amount(
    text: str, unit: str | None = None, decimal: Decimal = "unknown"
) -> tuple[float | None, float | None]:
    """Return the count and the mass (kg) that a short form means; None where it says neither.

    Parameters
    ----------
    text : str
        ``34``, ``2 dozen``, ``3 lb 4 oz``, ``1/2 kg``, ``none``, ``12 / 5.2lb`` is not.
    unit : str, optional
        Unit of a bare number: ``each``, ``dozen``, ``kg``, ``g``, ``lb`` or ``oz``.
    decimal : {"point", "comma", "unknown"}
        Decimal mark where it is known.

    Raises
    ------
    ValueError
        Where the amount cannot be read, is negative, or its unit is unknown or missing.

    Examples
    --------
    >>> parse_amount("2 dozen")
    (24.0, None)
    >>> count, mass = parse_amount("3 lb 4 oz")
    >>> count is None, round(mass, 4)
    (True, 1.4742)
    >>> parse_amount("1/2 kg"), parse_amount("none", "each")
    ((None, 0.5), (0.0, None))
    """
    typed = " ".join(text.casefold().split())
    for sign, plain in _FRACTIONS.items():
        typed = typed.replace(sign, f" {plain}")
    typed = re.sub(r"^(?:a )?half (?:a |an )?", "1/2 ", " ".join(typed.split()))
    if len(typed) > 80:
        raise ValueError("is no amount")
    if typed.startswith("-"):
        raise ValueError("is negative")
    if typed in _UNIT_WORDS and _UNIT_WORDS[typed] == "dozen":
        typed = "1 dozen"
    pieces = re.findall(r"([\d.,/]+(?: \d+ ?/ ?\d+)?|[^\W\d_]+(?:\d$)?)\.?", typed)
    if not pieces or re.sub(r"[\d.,/ ]|[^\W\d_]|&|\+", "", typed):
        raise ValueError("is no amount")
    count: float | None = None
    mass: float | None = None
    number: float | None = None
    for piece in [p for p in pieces if p not in ("and", "of")]:
        if piece[0].isdigit() or piece[0] in ".," or piece in _WORD_NUMBERS:
            if number is not None:
                raise ValueError("has two numbers without a unit between them")
            number = parse_number(piece, decimal)
            continue
        named = unit_of(piece)
        if piece in _VOLUMES:
            raise ValueError(f"is measured in {piece}, which says neither count nor weight")
        if named not in (*KG, "each", "dozen"):
            raise ValueError(f"has the unknown unit {piece}")
        if number is None:
            raise ValueError(f"has no number before {piece}")
        count, mass = _add(count, mass, number, named)
        number = None
    if number is not None:
        if count is not None or mass is not None:
            raise ValueError("has a number without a unit at its end")
        if unit is None:
            if number == 0:
                return 0.0, None
            raise ValueError("has no unit")
        count, mass = _add(count, mass, number, unit)
    for value in (count, mass):
        if value is not None and value > MOST:
            raise ValueError("is larger than any pick")
    return count, mass


def _add(
    count: float | None, mass: float | None, number: float, unit: str
) -> tuple[float | None, float | None]:
    if unit in KG:
        return count, (mass or 0.0) + number * KG[unit]
    return (count or 0.0) + number * (12 if unit == "dozen" else 1), mass
