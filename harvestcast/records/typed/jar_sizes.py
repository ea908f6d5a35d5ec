"""Sizes of jars as people type them, read in one place: jars in stock, pantry book, targets."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from harvestcast.records.messages import unreadable

SIZES: dict[str, Fraction] = {
    "half_pint": Fraction(1, 2),
    "pint": Fraction(1),
    "quart": Fraction(2),
}
"""Sizes of the process tables, in US liquid pints."""

# US liquid pints a unit; exact by definition: the pint is 473.176473 ml, 16 fluid ounces, 2 cups.
_ML = Fraction(1_000_000, 473_176_473)
_UNITS: tuple[tuple[str, Fraction], ...] = (
    (r"half[ -]?(?:pints?|pts?)", Fraction(1, 2)),
    (r"pints?|pts?", Fraction(1)),
    (r"quarts?|qts?", Fraction(2)),
    (r"gallons?|gal", Fraction(8)),
    (r"cups?", Fraction(1, 2)),
    (r"(?:fl(?:uid)?\.? ?)?(?:oz|ounces?)", Fraction(1, 16)),
    (r"millilit(?:er|re)s?|mls?|cc", _ML),
    (r"centilit(?:er|re)s?|cl", 10 * _ML),
    (r"decilit(?:er|re)s?|dl", 100 * _ML),
    (r"lit(?:er|re)s?|l", 1000 * _ML),
)
_WORDS = {"half": Fraction(1, 2), "quarter": Fraction(1, 4)}
_NUMBER = r"\d+ +\d+ ?/ ?\d+|\d+ ?/ ?\d+|\d*[.,]?\d+|half|quarter"
_UNIT = "|".join(f"(?P<u{i}>{words})" for i, (words, _) in enumerate(_UNITS))
_SIZE = re.compile(
    rf"(?<![\w.,/])(?:(?P<number>{_NUMBER})(?: ?- ?| +)?(?:an? +|of +an? +)?)?(?:{_UNIT})(?!\w)"
)
_UNSAID = re.compile(r"\d|\b(?:half|quarter|third|and a|double|mini)\b")
NEAR_SHARE = Fraction(6, 100)
"""A jar of 500 ml counts as a pint on the shelf, one of 250 ml as half a pint: within this share.
Common practice, no source."""
EXACT = Fraction(1, 100)
"""Within this share a jar is the table's very size."""
LEAST_PINTS, MOST_PINTS = Fraction(1, 8), Fraction(10)
"""Pints that a jar holds at least and at most: of two readings of a comma one is no jar."""


@dataclass(frozen=True, slots=True)
class JarSize:
    """One size of jar, bag or container.

    Attributes
    ----------
    pints : float
        US liquid pints it counts as.
    size : str or None
        half_pint, pint or quart where it counts as one of these, else None.
    exact : bool
        Whether it is that very size of the process tables, not a metric jar near it.
    """

    pints: float
    size: str | None
    exact: bool
    held: float = 0.0
    """US liquid pints that it holds: those of the very jar, not of the size it counts as."""


def jar_size(text: str) -> JarSize | None:
    """Return the size that a text says.

    Parameters
    ----------
    text : str
        As typed: a jar of the pantry book, the name of a target.

    Returns
    -------
    JarSize or None
        None where no size is said.

    Raises
    ------
    harvestcast.errors.TypedError
        Where a size is said that cannot be read for certain; nothing is guessed.

    Examples
    --------
    >>> [jar_size(words).size for words in ("1/2 pint", "Quart jars", "litre", "1/2 quart")]
    ['half_pint', 'quart', 'quart', 'pint']
    >>> jar_size("1.5 pint").pints, jar_size("freezer bag")
    (1.5, None)
    """
    plain = _plain(text)
    found = list(_SIZE.finditer(plain))
    rest = _SIZE.sub(" ", plain)
    if not found and not _UNSAID.search(rest):
        return None
    if len(found) != 1 or _UNSAID.search(rest):
        raise unreadable("jar.unreadable")
    match = found[0]
    unit = next(pints for i, (_, pints) in enumerate(_UNITS) if match[f"u{i}"])
    read = {number * unit for number in _numbers(match["number"])}
    likely = [pints for pints in read if LEAST_PINTS <= pints <= MOST_PINTS]
    if len(likely) != 1:
        raise unreadable("jar.unreadable")
    pints = likely[0]
    for size, own in SIZES.items():
        if abs(pints - own) <= NEAR_SHARE * own:
            return JarSize(float(own), size, abs(pints - own) <= EXACT * own, float(pints))
    return JarSize(float(pints), None, False, float(pints))


def next_tested(pints: float, sizes: Iterable[str] = tuple(SIZES)) -> str | None:
    """Return the smallest size of the tables that holds no less than a jar.

    A jar between two sizes is processed as the larger: never for less time than was tested.

    Parameters
    ----------
    pints : float
        What the jar holds, US liquid pints.
    sizes : iterable of str, optional
        Sizes that there is a tested time for.

    Returns
    -------
    str or None
        None where the jar is larger than any of them by more than a hundredth.

    Examples
    --------
    >>> next_tested(500 / 473.176473), next_tested(1000 / 473.176473), next_tested(1.0)
    ('quart', None, 'pint')
    """
    known = sorted((SIZES[size], size) for size in sizes)
    return next((size for own, size in known if pints <= own * (1 + EXACT)), None)


def without_jar_size(text: str) -> str:
    """Return a name without the size of jar in it, in lower case.

    Examples
    --------
    >>> without_jar_size("Dill pickles (1/2 pints)")
    'dill pickles ( )'
    """
    return _SIZE.sub(" ", _plain(text))


def _plain(text: str) -> str:
    """Return a text in lower case, with fractions of one letter written out."""
    spaced = "".join(
        f" {c}" if unicodedata.category(c) == "No" and c not in "\N{SUPERSCRIPT TWO}" else c
        for c in str(text)
    )
    plain = unicodedata.normalize("NFKC", spaced).replace("\N{FRACTION SLASH}", "/").casefold()
    return " ".join(re.sub(r"[_\N{EN DASH}]", " ", plain).replace("fl.", "fl").split())


def _numbers(typed: str | None) -> set[Fraction]:
    """Return what a number may mean; more than one where a comma may divide thousands."""
    if typed is None:
        return {Fraction(1)}
    if typed in _WORDS:
        return {_WORDS[typed]}
    if "/" in typed:
        *whole, fraction = re.sub(r" ?/ ?", "/", typed).split()
        top, _, bottom = fraction.partition("/")
        if int(bottom) == 0:
            return set()
        return {sum((Fraction(w) for w in whole), Fraction(int(top), int(bottom)))}
    meant = {Fraction(typed.replace(",", "."))}
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", typed):
        meant.add(Fraction(typed.replace(",", "")))
    return meant
