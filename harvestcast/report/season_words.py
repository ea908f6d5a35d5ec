"""Figures of the season's end in words: a measure with its range, a line of the review."""

from __future__ import annotations

import pandas as pd

from harvestcast.report import measures, wording
from harvestcast.report.wording import Units


def measured(value: float, low: float, high: float, unit: str, units: Units) -> str:
    """Return a measure with its 90 % interval, without the unit; shares to a tenth of a percent.

    Examples
    --------
    >>> measured(0.0000028, 0.0, 0.00003, "share", "us"), measured(0.0, 0.0, 0.0, "share", "us")
    ('under 0.1', 'none')
    >>> measured(0.05, 0.0004, 0.24, "share", "us"), measured(1.8, 1.05, 3.2, "kg", "metric")
    ('5 (under 0.1 to 24)', '1.8 (1.1 to 3.2)')
    """
    if unit != "share" or pd.isna(value):
        return measures.measured(value, low, high, unit, units)
    middle, a, b = (_percent(one) for one in (value, low, high))
    if pd.isna(low) or pd.isna(high) or (a in (b, "0") and b == middle):
        return "none" if middle == "0" else middle
    return f"{middle} ({a} to {b})"


def _percent(share: float) -> str:
    # A tenth of a percent is the least that a log of some hundred fruits can say.
    if pd.isna(share):
        return wording.UNKNOWN
    return "under 0.1" if 0 < share < 0.001 else wording.significant(100 * share)


def plainly(line: str) -> str:
    """Return a line of the review as one would say it: two varieties are no pairs."""
    return wording.clean(line).replace("1 of 1 pairs can be told apart", "told apart")
