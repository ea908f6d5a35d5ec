"""Numbers in sentences."""

from __future__ import annotations


def plural(number: int, word: str) -> str:
    """Return a number of things in words.

    Examples
    --------
    >>> plural(1, "pick"), plural(3, "pick")
    ('1 pick', '3 picks')
    """
    return f"{number} {word}{'' if number == 1 else 's'}"


def short_number(value: float) -> str:
    """Return a number as said to a person: three figures, whole from a hundred up.

    Examples
    --------
    >>> short_number(5.2004), short_number(3400.4)
    ('5.2', '3,400')
    """
    return f"{value:.3g}" if abs(value) < 99.5 else f"{value:,.0f}"
