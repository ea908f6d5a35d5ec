"""Amounts far from the other picks of their crop: one rule for a pick written down and for a log.

Light on purpose: writing a pick down needs this much and no tables.
"""

from __future__ import annotations

from collections.abc import Sequence

_FAR_COUNTS = ((10, 6.0), (7, 8.0), (3, 12.0), (1, 40.0))
"""From so many other picks on, so many times the largest of them is too much for a count. A slipped
digit makes ten times as many, but first handfuls and flushes differ by as much: of 800 simulated
gardens less than 1 pick in 1,000 is said with ten or more before it, and 1 in 2,000 with one."""
_FAR_WEIGHTS = ((7, 20.0), (3, 50.0), (2, 200.0))
"""The same for weights; they differ more, and a unit mistaken makes 450 (g for lb) or 1000 times
(g for kg). Of the same gardens less than 1 weight in 1,000 is said."""
FAR = 20.0
"""Times the usual large pick (90 % quantile) from which an amount is too much, though another as
large stands beside it: digits slip twice."""
_MANY = 7
"""Other picks from which on there is a usual large pick."""
_LIGHT = 200.0
"""Times less than the middle one of the other weights from which a weight is too small."""
MOST_KG = 300.0
"""More of one crop than any household picks in a day (common practice, no source)."""


def quantile(values: Sequence[float], share: float) -> float:
    """Return a quantile, in between the two values next to it; NaN where there is none.

    Examples
    --------
    >>> quantile([1.0, 5.0, 2.0], 0.5), quantile([1.0, 2.0], 0.9)
    (2.0, 1.9)
    """
    if not values:
        return float("nan")
    ranked = sorted(values)
    place = share * (len(ranked) - 1)
    low = int(place)
    high = min(low + 1, len(ranked) - 1)
    return ranked[low] + (place - low) * (ranked[high] - ranked[low])


def _too_much(value: float, others: Sequence[float], steps: tuple[tuple[int, float], ...]) -> str:
    far = next((times for fewest, times in steps if len(others) >= fewest), None)
    if far is None:
        return ""
    if value > far * max(others):
        return "most"
    if len(others) >= _MANY and value > FAR * quantile(others, 0.9):
        return "large"
    return ""


def far_count(value: float, others: Sequence[float]) -> str:
    """Return what a count is far beyond: ``most``, the ``large`` ones, or nothing.

    Parameters
    ----------
    value : float
        Count of one pick.
    others : sequence of float
        Counts above zero of the other picks of its crop.

    Examples
    --------
    >>> far_count(400, [5, 5]), far_count(40, [5, 5]), far_count(400, [])
    ('most', '', '')
    """
    return _too_much(value, others, _FAR_COUNTS)


def far_weight(value: float, others: Sequence[float], least: float = 0.0) -> str:
    """Return whether a weight (kg) is far ``more`` or ``less`` than the others of its crop.

    Parameters
    ----------
    value : float
        Weight of one pick.
    others : sequence of float
        Weights above zero of the other picks of its crop.
    least : float
        The least that one fruit of the crop weighs.

    Examples
    --------
    >>> far_weight(900.0, [2.0, 1.5]), far_weight(0.002, [2.0, 1.5]), far_weight(4.0, [0.1, 0.2])
    ('more', 'less', '')
    """
    if _too_much(value, others, _FAR_WEIGHTS):
        return "more"
    if value < 0.5 * least or (len(others) > 1 and value < quantile(others, 0.5) / _LIGHT):
        return "less"
    return ""
