"""Numbers and amounts as people type them.

Every reader here either returns a value or raises a ``TypedError`` whose code and facts say what
is wrong with what was typed. Nothing is guessed: a comma that may be a decimal
mark or a thousands mark is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Literal

from harvestcast.records.messages import unreadable
from harvestcast.units import KG

Decimal = Literal["point", "comma", "unknown", "unsure"]

# Exact by definition: international avoirdupois pound (1959) and its sixteenth.

AMOUNT_UNITS = (*KG, "each", "dozen")
"""Units of an amount picked."""

_UNIT_WORDS: dict[str, str] = {
    word: unit
    for unit, words in {
        "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
        "g": "g gr gm gms gram grams gramme grammes",
        "lb": "lb lbs pound pounds",
        "oz": "oz ozs ounce ounces",
        "each": "each ea count counts piece pieces pc pcs fruit fruits head heads ear ears "
        "number no unit bulb bulbs pod pods bunch bunches root roots stk stck st\u00fcck stueck "
        "st\u00fccke pi\u00e8ce pi\u00e8ces piezas stuks pezzi",
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
_OTHER_POUNDS = frozenset(
    ["pfund", "pfunde", "pfd", "livre", "livres", "libra", "libras", "libbra", "libbre", "pond"]
)
"""Pounds of countries that weigh in kilograms: 500 g at the market, 454 g in a translation."""
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
_MARKED = re.compile(r"\d[\d.,]*\d", re.ASCII)
_PIECE = re.compile(
    r"(?P<number>(?:\d{1,6} )?\d{1,4} ?/ ?\d{1,4}|\d[\d.,']*|[.,]\d+)(?!/)"
    r"|(?P<word>[^\W\d_]+)\.?|[ &+,]+"
)
MOST_OF_A_PICK = 1e6
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
    found = set()
    for cell in cells:
        if "," in cell or "." in cell:
            for number in _MARKED.findall(cell[:200]):
                marks = set(number) & {",", "."}
                last = max(number.rfind(","), number.rfind("."))
                once = number.count(number[last]) == 1
                if len(marks) == 2 or (once and len(number) - last - 1 != 3):
                    found.add(number[last])
    if len(found) != 1:
        return "unknown"
    return "comma" if found == {","} else "point"


@lru_cache(maxsize=4096)
def parse_number(text: str, decimal: Decimal = "unknown") -> float:
    """Return a plain number or fraction.

    Parameters
    ----------
    text : str
        What was typed: ``12``, ``3.5``, ``3,5``, ``1 1/2``, ``½``, ``1,234.5``.
    decimal : {"point", "comma", "unknown", "unsure"}
        Decimal mark where it is known. Where it is ``unknown``, a point before three digits
        is a decimal point and a comma there is refused; where it is ``unsure`` (a file from
        a country of decimal commas that shows none), both are refused.

    Raises
    ------
    harvestcast.errors.TypedError
        Where it is no number, or may be two; a ``ValueError`` with code and facts.

    Examples
    --------
    >>> parse_number("1 1/2"), parse_number("3,5"), parse_number("1,234.5")
    (1.5, 3.5, 1234.5)
    >>> parse_number("1,234", "point"), parse_number("1,234", "comma")
    (1234.0, 1.234)
    >>> parse_number("1,234")
    Traceback (most recent call last):
    ...
    harvestcast.errors.TypedError: the number may be 1.234 or 1234
    """
    typed = text.strip().casefold()
    if len(typed) > 60:
        raise unreadable("number.unreadable")
    if typed in _WORD_NUMBERS:
        return _WORD_NUMBERS[typed]
    if re.fullmatch(r"[+-]?\d{1,15}(\.\d{1,2})?", typed, flags=re.ASCII):
        return float(typed)
    for sign, plain in _FRACTIONS.items():
        typed = typed.replace(sign, f" {plain}")
    typed = typed.strip()
    fraction = re.fullmatch(r"(?:(\d{1,6})[ -]+)?(\d{1,4}) ?/ ?(\d{1,4})", typed, flags=re.ASCII)
    if fraction:
        if int(fraction[3]) == 0:
            raise unreadable("number.divides_by_zero")
        return int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    if re.fullmatch(r"[+-]?\d+(\.\d+)?e[+-]?\d{1,3}", typed, flags=re.ASCII):
        value = float(typed)
        if not math.isfinite(value):
            raise unreadable("number.unreadable")
        return value
    factor = -1.0 if typed.startswith("-") else 1.0
    return factor * float(_unmarked(typed.removeprefix("-").removeprefix("+"), decimal))


def _unmarked(body: str, decimal: Decimal) -> str:
    """Return a number with a decimal point and no thousands mark."""
    body = re.sub(r"(?<=\d)['\u2019\u00a0\u202f ](?=\d{3}(?!\d))", "", body)
    if re.fullmatch(r"\d+|\d+[.,]|\d*[.,]\d+", body, flags=re.ASCII) is None:
        for mark, other in ((",", "."), (".", ",")):
            grouped = rf"\d{{1,3}}(\{mark}\d{{3}})+(\{other}\d+)?"
            if re.fullmatch(grouped, body, flags=re.ASCII):
                return body.replace(mark, "").replace(other, ".")
        raise unreadable("number.unreadable")
    thousands = re.fullmatch(r"([1-9]\d{0,2})([.,])(\d{3})", body, flags=re.ASCII)
    if thousands is None:
        return body.replace(",", ".")
    whole, mark, rest = thousands.groups()
    style = {"point": ".", "comma": ",", "unknown": "." if mark == "." else "", "unsure": ""}
    if not style[decimal]:
        raise unreadable("number.decimal", first=f"{whole}.{rest}", second=f"{whole}{rest}")
    return f"{whole}.{rest}" if mark == style[decimal] else whole + rest


def parse_amount(
    text: str,
    unit: str | None = None,
    decimal: Decimal = "unknown",
    *,
    beside: str | None = None,
) -> tuple[float | None, float | None]:
    """Return the count and the mass (kg) that a short form means; None where it says neither.

    Parameters
    ----------
    text : str
        ``34``, ``2 dozen``, ``3 lb 4 oz``, ``1/2 kg``, ``none``, ``dozen``.
    unit : str, optional
        Unit of a bare number: ``each``, ``dozen``, ``kg``, ``g``, ``lb`` or ``oz``.
    decimal : {"point", "comma", "unknown"}
        Decimal mark where it is known. Where it is unknown, a point before just three digits is
        refused too with grams and ounces typed beside it, and with bare grams: ``1.200 g`` is
        1200 g to half of Europe.
    beside : str, optional
        Unit in a cell of its own beside the amount; it goes before ``unit``.

    Raises
    ------
    harvestcast.errors.TypedError
        Where the amount cannot be read, is negative, may be two, its unit is unknown or
        missing, or is another than the one beside it.

    Examples
    --------
    >>> parse_amount("2 dozen")
    (24.0, None)
    >>> count, mass = parse_amount("3 lb 4 oz")
    >>> count is None, round(mass, 4)
    (True, 1.4742)
    >>> parse_amount("1/2 kg"), parse_amount("none", "each")
    ((None, 0.5), (0.0, None))
    >>> parse_amount("2", "each", beside="dozen")
    (24.0, None)
    """
    unit = beside or unit
    typed = " ".join(text.casefold().split())
    if len(typed) > 80:
        raise unreadable("amount.unreadable")
    for sign, plain in _FRACTIONS.items():
        typed = typed.replace(sign, f" {plain}")
    typed = re.sub(r"^(?:about|approx\.?|ca\.?|~)(?=[\s\d])", "", " ".join(typed.split())).strip()
    typed = re.sub(r"^(?:an? )?half (?:an? )?(?=[a-z])", "1/2 ", typed)
    if typed.startswith("-"):
        raise unreadable("amount.negative")
    count: float | None = None
    mass: float | None = None
    number: float | None = None
    figures = ""
    named: str | None = None
    used: list[str] = []
    for piece, is_word in _pieces(typed):
        if not is_word or piece in _WORD_NUMBERS:
            if number is not None:
                raise unreadable("amount.two_numbers")
            number, figures = parse_number(piece, decimal), piece
            continue
        if piece in _VOLUMES:
            raise unreadable("amount.volume", word=piece)
        if piece in _OTHER_POUNDS:
            raise unreadable("amount.pound", word=piece)
        named = unit_of(piece)
        if named not in AMOUNT_UNITS:
            raise unreadable("amount.unknown_unit", word=piece)
        if number is None and not (named == "dozen" and typed == piece):
            raise unreadable("amount.bare_unit", word=piece)
        if named in used:
            raise unreadable("amount.unit_twice", word=piece)
        if named in ("g", "oz") and number is not None and not used:
            number = _small(figures, decimal)
        count, mass = _add(count, mass, 1.0 if number is None else number, named)
        used.append(named)
        number = None
    if used and beside is not None and not _agree(used, beside):
        raise unreadable("number.unit_differs", beside=beside)
    if number is not None:
        if used not in ([], ["dozen"]):
            raise unreadable("amount.last_number")
        last = "each" if used else unit
        if last is None and number != 0:
            raise unreadable("number.no_unit")
        number = _small(figures, decimal) if last == "g" else number
        count, mass = _add(count, mass, number, last or "each")
    elif not used:
        raise unreadable("amount.unreadable")
    if max(count or 0.0, mass or 0.0) > MOST_OF_A_PICK:
        raise unreadable("amount.too_large")
    return count, mass


def _agree(used: list[str], beside: str) -> bool:
    return beside in used if beside in KG else not set(used) & set(KG)


def _small(figures: str, decimal: Decimal) -> float:
    """Return a number of a small unit, in which thousands are as common as fractions."""
    return parse_number(figures, "unsure" if decimal == "unknown" else decimal)


def _pieces(typed: str) -> Iterator[tuple[str, bool]]:
    """Yield numbers and words in order, and whether each is a word."""
    place = 0
    while place < len(typed):
        match = _PIECE.match(typed, place)
        if match is None:
            raise unreadable("amount.unreadable")
        place = match.end()
        if match["number"]:
            yield match["number"], False
        elif match["word"] and match["word"] not in ("and", "of"):
            yield match["word"], True


def _add(
    count: float | None, mass: float | None, number: float, unit: str
) -> tuple[float | None, float | None]:
    if unit in KG:
        return count, (mass or 0.0) + number * KG[unit]
    return (count or 0.0) + number * (12 if unit == "dozen" else 1), mass
