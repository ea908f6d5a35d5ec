"""Amounts, dates and names as a household reads them, in its own units; plain ASCII.

Every function takes the metric figures of the tables and returns text. Unknown is said as
"not known", never shown as zero.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from fractions import Fraction
from typing import Any, Literal

import numpy as np
import pandas as pd

from harvestcast.units import KG_PER_LB, KPA_PER_PSI, M_PER_FT
from harvestcast.words.crops import crop_word, own_jar
from harvestcast.words.days import MONTHS, WEEKDAYS

Units = Literal["us", "metric"]

# Exact by definition: international yard and pound agreement, 1959.
# Pound-force per square inch in kilopascals (NIST SP 811, 2008, appendix B.8).

UNKNOWN = "not known"
SMALL_KG = 0.015
"""A forecast below half an ounce is as good as nothing."""

METHODS: dict[str, str] = {
    "boiling_water": "boiling-water canner",
    "pressure": "pressure canner",
    "freezing": "freezer",
    "drying": "dryer",
    "fermenting": "crock",
    "refrigerating": "refrigerator",
    "keeping": "cool store",
}
"""Ways of putting up, in the words of the kitchen."""


def clean(text: object) -> str:
    r"""Return typed text on one line, without control or direction-changing characters.

    The name of a crop comes back as the household calls it.

    Examples
    --------
    >>> clean("Long\tGreen\u202e ")
    'Long Green'
    """
    kept = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c
        for c in str(text)
        if unicodedata.category(c) not in ("Cf", "Cs")
    )
    return crop_word(" ".join(kept.split()))


def mass_unit(units: Units) -> str:
    """Return the unit that masses are shown in: ``lb`` or ``kg``."""
    return "lb" if units == "us" else "kg"


def in_mass_unit(kg: Any, units: Units) -> Any:
    """Convert kilograms (scalar or array) to the unit that masses are shown in.

    Examples
    --------
    >>> round(in_mass_unit(1.0, "us"), 3)
    2.205
    """
    return kg / KG_PER_LB if units == "us" else kg


def in_heat_unit(degree_days_c: Any, units: Units) -> Any:
    """Convert degree-days Celsius to Fahrenheit where the household uses those."""
    return degree_days_c * 1.8 if units == "us" else degree_days_c


def heat_unit(units: Units) -> str:
    """Return the unit of degree-days: ``deg F d`` or ``deg C d``, with the degree sign."""
    return "\N{DEGREE SIGN}F d" if units == "us" else "\N{DEGREE SIGN}C d"


def plain_number(value: float, decimals: int = 0) -> str:
    """Return a number with thousands separated, without trailing zeros.

    Examples
    --------
    >>> plain_number(1234.5), plain_number(2.50, 2)
    ('1,234', '2.5')
    """
    text = f"{value:,.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _figure(value: float) -> str:
    """Two significant figures below ten, whole numbers above."""
    return plain_number(value, 1 if abs(value) < 9.95 else 0)


def mass(kg: float | None, units: Units) -> str:
    """Return a mass in words: small ones in ounces or grams.

    Examples
    --------
    >>> mass(5.2, "us"), mass(0.2, "us"), mass(0.2, "metric"), mass(float("nan"), "us")
    ('11 lb', '7 oz', '200 g', 'not known')
    """
    if kg is None or pd.isna(kg):
        return UNKNOWN
    value = float(in_mass_unit(float(kg), units))
    if abs(value) < 0.005:
        return f"0 {mass_unit(units)}"
    if units == "us" and abs(value) < 0.97:
        ounces = value * 16
        return f"{plain_number(ounces, 0 if abs(ounces) >= 1 else 1)} oz"
    if units == "metric" and abs(value) < 0.95:
        grams = value * 1000
        return f"{plain_number(round(grams, -1) if abs(grams) >= 100 else grams)} g"
    return f"{_figure(value)} {mass_unit(units)}"


def about_mass(kg: float | None, units: Units) -> str:
    """Return a forecast mass: two significant figures from a hundred up, nothing for crumbs.

    Examples
    --------
    >>> about_mass(76.7, "us"), about_mass(0.5, "metric")
    ('170 lb', '500 g')
    """
    if kg is None or pd.isna(kg):
        return UNKNOWN
    shown = float(in_mass_unit(float(kg), units))
    if abs(kg) < SMALL_KG:
        return mass(0.0, units)
    if abs(shown) < 100:
        return mass(kg, units)
    return f"{significant(shown)} {mass_unit(units)}"


def mass_range(low_kg: float, high_kg: float, units: Units) -> str:
    """Return a range of masses with the unit said once.

    Examples
    --------
    >>> mass_range(9.0, 20.0, "metric"), mass_range(0.0, 9.0, "us"), mass_range(0, 0.056, "metric")
    ('9 to 20 kg', '0 to 20 lb', '0 to 56 g')
    """
    if pd.isna(low_kg) or pd.isna(high_kg):
        return UNKNOWN
    low, high = about_mass(low_kg, units), about_mass(high_kg, units)
    if low == high:
        return low
    if low.startswith("0 "):
        return f"0 to {high}"
    if low.split(" ")[-1] == high.split(" ")[-1]:
        low = low.split(" ")[0]
    return f"{low} to {high}"


def unbroken(text: str) -> str:
    """Return a text whose brackets and numbers of pieces are kept on one line of a narrow cell.

    Examples
    --------
    >>> unbroken("41 lb (6.2 to 100 lb)").split()
    ['41', 'lb', '(6.2', 'to', '100', 'lb)']
    >>> unbroken("41 lb (6.2 to 100 lb)").count(" "), unbroken("5 lb, 16 pieces").count(" ")
    (2, 2)
    """
    return re.sub(
        r"\([^()]*\)|\d pieces?\b",
        lambda found: found[0].replace(" ", "\N{NO-BREAK SPACE}"),
        text,
    )


def count(value: float | None) -> str:
    """Return a number of fruits, rounded to what a forecast can tell."""
    if value is None or pd.isna(value):
        return UNKNOWN
    return plain_number(float(value), 0)


def hours(value: float | None) -> str:
    """Return hours as hours and minutes, to the nearest five minutes above one hour.

    Examples
    --------
    >>> hours(1.5), hours(0.25), hours(2.0), hours(0)
    ('1 h 30 min', '15 min', '2 h', '0 min')
    """
    if value is None or pd.isna(value):
        return UNKNOWN
    step = 5 if value >= 1 else 1
    total = int(step * math.floor(60 * float(value) / step + 0.5))
    whole, rest = divmod(total, 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest} min" if rest else f"{whole} h"


def chance(share: float | None) -> str:
    """Return a probability in percent; the ends are never said as certain.

    Examples
    --------
    >>> chance(0.0), chance(0.304), chance(1.0)
    ('under 1%', '30%', 'over 99%')
    """
    if share is None or pd.isna(share):
        return UNKNOWN
    if share < 0.01:
        return "under 1%"
    if share > 0.99:
        return "over 99%"
    return f"{100 * share:.0f}%"


def day(value: Any, units: Units, *, weekday: bool = True, year: bool = False) -> str:
    """Return a short date, in the order of the household's units, with its year if wanted.

    Examples
    --------
    >>> day("2026-07-25", "us"), day("2026-07-25", "metric", weekday=False)
    ('Sat Jul 25', '25 Jul')
    >>> day("2026-07-25", "us", year=True), day("2026-07-25", "metric", weekday=False, year=True)
    ('Sat Jul 25, 2026', '25 Jul 2026')
    """
    stamp = pd.Timestamp(value)
    if pd.isna(stamp):
        return UNKNOWN
    month = MONTHS[stamp.month - 1][:3]
    date = f"{month} {stamp.day}" if units == "us" else f"{stamp.day} {month}"
    if year:
        date += f", {stamp.year}" if units == "us" else f" {stamp.year}"
    return f"{WEEKDAYS[stamp.weekday()][:3]} {date}" if weekday else date


def long_day(value: Any, units: Units, *, weekday: bool = True) -> str:
    """Return a date in full.

    Examples
    --------
    >>> long_day("2026-07-25", "metric"), long_day("2026-07-25", "us", weekday=False)
    ('Saturday 25 July 2026', 'July 25, 2026')
    """
    stamp = pd.Timestamp(value)
    if pd.isna(stamp):
        return UNKNOWN
    month, name = MONTHS[stamp.month - 1], WEEKDAYS[stamp.weekday()]
    if units == "us":
        date = f"{month} {stamp.day}, {stamp.year}"
        return f"{name}, {date}" if weekday else date
    date = f"{stamp.day} {month} {stamp.year}"
    return f"{name} {date}" if weekday else date


def headspace(inches: float | None, units: Units) -> str:
    """Return a headspace as the fraction of an inch the tables give, with millimetres for metric.

    Examples
    --------
    >>> headspace(0.25, "us"), headspace(0.5, "metric")
    ('1/4 in', '13 mm (1/2 in)')
    """
    if inches is None or pd.isna(inches):
        return ""
    exact = Fraction(float(inches)).limit_denominator(16)
    whole, rest = divmod(exact, 1)
    parts = [str(whole)] if whole else []
    parts += [f"{rest.numerator}/{rest.denominator}"] if rest else []
    text = f"{' '.join(parts) or '0'} in"
    # Half up: 12.7 mm is 13 mm, as the headspace must not shrink.
    return text if units == "us" else f"{math.floor(25.4 * float(inches) + 0.5)} mm ({text})"


def pressure(psi: float | None, units: Units) -> str:
    """Return a gauge pressure; pounds stay, since the tables and most gauges are in pounds.

    Examples
    --------
    >>> pressure(11, "us"), pressure(11, "metric")
    ('11 psi', '11 psi (76 kPa)')
    """
    if psi is None or pd.isna(psi):
        return ""
    text = f"{plain_number(float(psi), 1)} psi"
    # Never below the tested pressure: kilopascals are rounded up.
    return text if units == "us" else f"{text} ({math.ceil(float(psi) * KPA_PER_PSI - 1e-9)} kPa)"


def minutes(value: float | None) -> str:
    """Return a process time."""
    return "" if value is None or pd.isna(value) else f"{plain_number(float(value), 1)} min"


def elevation(metres: float | None, units: Units) -> str:
    """Return an elevation in feet or metres."""
    if metres is None or pd.isna(metres):
        return UNKNOWN
    return f"{plain_number(metres / M_PER_FT)} ft" if units == "us" else f"{plain_number(metres)} m"


def degrees(celsius: float | None, units: Units) -> str:
    """Return a temperature in degrees Fahrenheit or Celsius."""
    if celsius is None or pd.isna(celsius):
        return UNKNOWN
    return f"{celsius * 1.8 + 32:.0f} F" if units == "us" else f"{celsius:.0f} C"


def method_words(method: object) -> str:
    """Return a way of putting up in the words of the kitchen."""
    return METHODS.get(str(method), clean(method).replace("_", " "))


def jar_words(jar: Any, number: float = 1) -> str:
    """Return a number of jars or bags of one size.

    Examples
    --------
    >>> jar_words("pint", 7), jar_words("half_pint", 1), jar_words("pint_dish", 3.6)
    ('7 pints', '1 half pint', '4 pint dishes')
    """
    name = "jar" if jar is None or pd.isna(jar) else clean(jar).replace("_", " ")
    name = own_jar(jar) or {"pint dry": "pint jar, dried"}.get(name, name)
    if pd.isna(number):
        return name
    whole = round(float(number))
    kind, *rest = name.split(",")
    return ",".join([f"{plain_number(whole)} {kind if whole == 1 else plural(kind)}", *rest])


def plural(noun: str) -> str:
    """Return the plural of the few nouns used here.

    Examples
    --------
    >>> plural("pint dish"), plural("jar of 500 ml")
    ('pint dishes', 'jars of 500 ml')
    """
    head, of, rest = noun.partition(" of ")
    if of:
        return f"{plural(head)} of {rest}"
    if noun.endswith("s"):
        return noun
    return f"{noun}es" if noun.endswith(("sh", "ch", "x")) else f"{noun}s"


def sentence(words: object) -> str:
    """Return words with a capital letter and a full stop; a file keeps its name.

    Examples
    --------
    >>> sentence("no two can be told apart"), sentence("garden.toml gives no hours")
    ('No two can be told apart.', 'garden.toml gives no hours.')
    """
    text = clean(words)
    if not text:
        return text
    whole = text if "." in text.split(" ")[0] else text[0].upper() + text[1:]
    return whole + ("" if text[-1] in ".!?" else ".")


def listing(items: Iterable[str]) -> str:
    """Return items as a phrase.

    Examples
    --------
    >>> listing(["kale", "beets", "leeks"])
    'kale, beets and leeks'
    """
    words = list(items)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def some(names: Iterable[object], most: int = 5) -> str:
    """Return the first few names as a phrase, each once, and how many more there are.

    Examples
    --------
    >>> some(["kale", "beets", "kale", "leeks"], most=2)
    'kale, beets and 1 more'
    """
    own = list(dict.fromkeys(clean(name) for name in names))
    more = len(own) - most
    return listing(own if more <= 0 else [*own[:most], f"{more} more"])


def finite(values: Iterable[float]) -> np.ndarray:
    """Return the known values of an array."""
    array = np.asarray(list(values), float)
    return array[np.isfinite(array)]


def significant(value: float, figures: int = 2) -> str:
    """Return a number with so many significant figures, in plain notation.

    Examples
    --------
    >>> significant(1882.0), significant(0.0341), significant(7.25, 3), significant(0)
    ('1,900', '0.034', '7.25', '0')
    """
    if pd.isna(value):
        return UNKNOWN
    if value == 0:
        return "0"
    decimals = figures - 1 - math.floor(math.log10(abs(value)))
    return plain_number(round(float(value), decimals), max(0, decimals))
