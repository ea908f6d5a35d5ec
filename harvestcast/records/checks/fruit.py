"""What one fruit of a crop may weigh, from the smallest pickling size to the overgrown."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def fruit_range() -> dict[str, tuple[float, float]]:
    """Return the least and the largest weight (kg) of one fruit that is believed, by crop.

    Wide on purpose: smallest pickling size to the overgrown ones. Common practice, no
    source; used for notices only.

    Examples
    --------
    >>> fruit_range()["cucumber"]
    (0.005, 2.0)
    """
    text = (files("harvestcast.records.checks") / "data" / "one_fruit.csv").read_text("utf-8")
    return {
        row["crop"]: (float(row["low_kg"]), float(row["high_kg"]))
        for row in csv.DictReader(text.splitlines())
    }
