"""Amounts that can hardly be meant: grams under kilograms, a slipped digit, a wrong unit.

Everything here is only said, never changed: the gardener knows better than any range.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd

from harvestcast.records.findings import Findings, plural

FEWEST = 8
"""Picks of a crop needed before one of them is called unusual."""
FAR = 20.0
"""How many times its crop's usual large pick (90 % quantile) one pick must be to be said."""
HEAVY_KG = 50.0
"""A usual pick heavier than this is no household's (common practice, no source)."""


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
    text = (files("harvestcast.records") / "data" / "one_fruit.csv").read_text("utf-8")
    return {
        row["crop"]: (float(row["low_kg"]), float(row["high_kg"]))
        for row in csv.DictReader(text.splitlines())
    }


def say_unlikely(picks: pd.DataFrame, findings: Findings) -> None:
    """Say amounts that can hardly be meant.

    Parameters
    ----------
    picks : pandas.DataFrame
        PICKS frame.
    findings : Findings
        Takes one notice a file and crop for fruit weights, one a line for slipped digits.
    """
    if picks.empty:
        return
    _fruit_weights(picks, findings)
    _heavy(picks, findings)
    for column, unit in (("count", "fruits"), ("mass_kg", "kg")):
        _slips(picks, column, unit, findings)


def _fruit_weights(picks: pd.DataFrame, findings: Findings) -> None:
    both = picks[(picks["count"] > 0) & (picks["mass_kg"] > 0)]
    if both.empty:
        return
    each = (both["mass_kg"] / both["count"]).to_numpy(float)
    ranges = fruit_range()
    limits = np.array([ranges.get(crop, (1e-4, 100.0)) for crop in both["crop"]])
    outside = (each < limits[:, 0]) | (each > limits[:, 1])
    strange = both.assign(each=each, low=limits[:, 0], high=limits[:, 1])[outside]
    for (file, crop), group in strange.groupby(["file", "crop"], sort=True, dropna=False):
        first = group.iloc[0]
        grams = ((group["each"] / 1000).between(group["low"], group["high"])).mean()
        hint = "grams under a heading of kilograms?" if grams > 0.8 else "check count and unit"
        findings.notice(
            str(file),
            None if pd.isna(first["line"]) else int(first["line"]),
            "weight",
            f"{first['count']:g} / {first['mass_kg']:g} kg",
            f"one {crop} would weigh {_weight(float(first['each']))} "
            f"({plural(len(group), 'line')})",
            f"kept as typed; {hint}",
            kind=f"fruit weight {crop}",
        )


def _weight(kg: float) -> str:
    return f"{kg:.3g} kg" if kg >= 1 else f"{1000 * kg:.2g} g"


def _heavy(picks: pd.DataFrame, findings: Findings) -> None:
    weighed = picks[picks["mass_kg"] > 0]
    for (file, crop), group in weighed.groupby(["file", "crop"], sort=True, dropna=False):
        usual = float(group["mass_kg"].median())
        if usual > HEAVY_KG:
            first = group.iloc[0]
            findings.notice(
                str(file),
                None if pd.isna(first["line"]) else int(first["line"]),
                "weight",
                f"{first['mass_kg']:g} kg",
                f"the usual pick of {crop} would weigh {usual:.3g} kg",
                "kept as typed; grams under a heading of kilograms?",
                kind=f"heavy {crop}",
            )


def _slips(picks: pd.DataFrame, column: str, unit: str, findings: Findings) -> None:
    some = picks[picks[column] > 0]
    for crop, group in some.groupby("crop", sort=True):
        if len(group) < FEWEST:
            continue
        usual = float(group[column].quantile(0.9))
        for row in group[group[column] > FAR * usual].to_dict("records"):
            findings.notice(
                str(row["file"]),
                None if pd.isna(row["line"]) else int(row["line"]),
                "count" if column == "count" else "weight",
                f"{row[column]:g} {unit}",
                f"far more {crop} than any other day; a large pick is {usual:.3g} {unit}",
                "kept as typed; check for a slipped digit",
                kind=f"slip {crop}",
            )
