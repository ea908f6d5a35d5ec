"""The measures of the season, in the household's units."""

from __future__ import annotations

from typing import Any

import pandas as pd

from harvestcast.units import KG_PER_LB, M_PER_FT
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

_MEASURE_UNITS: dict[str, tuple[str, str, float]] = {
    # unit in the tables: (us unit, metric unit, factor from metric to us)
    "kg": ("lb", "kg", 1 / KG_PER_LB),
    "kg/m": ("lb a foot", "kg a metre", M_PER_FT / KG_PER_LB),
    "kg/m2": ("lb a square foot", "kg a square metre", M_PER_FT**2 / KG_PER_LB),
    "h/kg": ("min a lb", "min a kg", 60 * KG_PER_LB),
    "d": ("days", "days", 1.0),
    "degC d": ("\N{DEGREE SIGN}F d", "\N{DEGREE SIGN}C d", 1.8),
    "share": ("%", "%", 100.0),
    "weeks": ("weeks", "weeks", 1.0),
    "fruits": ("pieces", "pieces", 1.0),
    "jars": ("jars", "jars", 1.0),
    "m2": ("sq ft", "m2", 1 / M_PER_FT**2),
    "m": ("ft", "m", 1 / M_PER_FT),
    "h": ("h", "h", 1.0),
}


def measure_unit(unit: str, units: Units) -> str:
    """Return the household's unit of a measure whose table unit is ``unit``.

    Examples
    --------
    >>> measure_unit("kg/m", "us"), measure_unit("share", "metric")
    ('lb a foot', '%')
    """
    us, metric, _ = _MEASURE_UNITS.get(unit, (unit, unit, 1.0))
    return us if units == "us" else metric


def in_measure_unit(value: Any, unit: str, units: Units) -> Any:
    """Convert a value (scalar or array) from its table unit to the household's.

    Examples
    --------
    >>> round(in_measure_unit(1.0, "kg/m", "us"), 3), in_measure_unit(0.25, "share", "metric")
    (0.672, 25.0)
    """
    factor = _MEASURE_UNITS.get(unit, ("", "", 1.0))[2]
    if unit == "share":
        return value * 100.0
    if unit == "h/kg":
        return value * (factor if units == "us" else 60.0)
    return value * factor if units == "us" else value


def measured(value: float, low: float, high: float, unit: str, units: Units) -> str:
    """Return a measure with its 90 % interval, without the unit; shares to a tenth of a percent.

    Examples
    --------
    >>> measured(1.8, 1.05, 3.2, "kg", "metric"), measured(float("nan"), 0, 0, "kg", "us")
    ('1.8 (1.1 to 3.2)', '')
    >>> measured(0.0000028, 0.0, 0.00003, "share", "us"), measured(0.0, 0.0, 0.0, "share", "us")
    ('under 0.1', 'none')
    >>> measured(0.05, 0.0004, 0.24, "share", "us")
    '5 (under 0.1 to 24)'
    """
    if pd.isna(value):
        return ""
    middle, a, b = (_figure(v, unit, units) for v in (value, low, high))
    unsaid = pd.isna(low) or pd.isna(high)
    if unit == "share" and (unsaid or (a in (b, "0") and b == middle)):
        return "none" if middle == "0" else middle
    return middle if unsaid else f"{middle} ({a} to {b})"


def _figure(value: float, unit: str, units: Units) -> str:
    # A tenth of a percent is the least that a log of some hundred fruits can say.
    if unit == "share" and 0 < value < 0.001:
        return "under 0.1"
    return wording.significant(in_measure_unit(value, unit, units))
