"""Amounts that can hardly be meant: grams under kilograms, a slipped digit, a wrong unit.

Everything here is only said, never changed: the gardener knows better than any range.
"""

from __future__ import annotations

from bisect import bisect_left

import numpy as np
import pandas as pd

from harvestcast.records.checks.fruit import fruit_range
from harvestcast.records.checks.usual import FAR, MOST_KG, TOO_MUCH, far_count, far_weight, quantile
from harvestcast.records.tables.findings import Findings
from harvestcast.units import KG
from harvestcast.words.numbers import plural, short_number

HEAVY_KG = 50.0
"""A usual pick heavier than this is no household's (common practice, no source)."""


def say_unlikely(picks: pd.DataFrame, findings: Findings, units: str = "metric") -> None:
    """Say amounts that can hardly be meant.

    Parameters
    ----------
    picks : pandas.DataFrame
        PICKS frame.
    findings : Findings
        Takes one notice a file and crop for fruit weights, one a line for slipped digits.
    units : {"us", "metric"}
        Units of the messages.
    """
    if picks.empty:
        return
    _fruit_weights(picks, findings, units)
    # A weight with its count was judged by the fruit just now; once is enough.
    alone = picks[(picks["mass_kg"] > 0) & ~(picks["count"] > 0)]
    _heavy(alone, findings, units)
    _slips(picks[picks["count"] > 0], "count", "fruits", findings)
    _weights_apart(alone, picks, findings, units)


def _fruit_weights(picks: pd.DataFrame, findings: Findings, units: str) -> None:
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
        grams = pd.concat(
            [(group["each"] / g).between(group["low"], group["high"]) for g in (1000, 453.59237)],
            axis=1,
        )
        hint = "check count and unit"
        if grams.any(axis=1).mean() > 0.8:
            hint = "grams under a heading of kg or lb?"
        findings.notice(
            str(file),
            None if pd.isna(first["line"]) else int(first["line"]),
            "weight",
            f"{first['count']:g} / {_weight(float(first['mass_kg']), units)}",
            f"one {crop} would weigh {_weight(float(first['each']), units)} "
            f"({plural(len(group), 'line')})",
            f"kept as typed; {hint}",
            kind=f"fruit weight {crop}",
        )


def _weight(kg: float, units: str) -> str:
    large, small = ("lb", "oz") if units == "us" else ("kg", "g")
    if kg >= KG[large]:
        return f"{short_number(kg / KG[large])} {large}"
    return f"{short_number(kg / KG[small])} {small}"


def _heavy(picks: pd.DataFrame, findings: Findings, units: str) -> None:
    for (file, crop), group in picks.groupby(["file", "crop"], sort=True, dropna=False):
        usual = float(group["mass_kg"].median())
        if usual > HEAVY_KG:
            first = group.iloc[0]
            findings.notice(
                str(file),
                None if pd.isna(first["line"]) else int(first["line"]),
                "weight",
                _weight(float(first["mass_kg"]), units),
                f"the usual pick of {crop} would weigh {_weight(usual, units)}",
                "kept as typed; grams under a heading of kg or lb?",
                kind=f"heavy {crop}",
            )


def _weights_apart(
    alone: pd.DataFrame, picks: pd.DataFrame, findings: Findings, units: str
) -> None:
    """Say weights without a count that lie far from the other picks of the crop."""
    for crop, group in alone.groupby("crop", sort=True):
        all_kg = picks.loc[(picks["crop"] == crop) & (picks["mass_kg"] > 0), "mass_kg"]
        kg = sorted(all_kg.to_list())
        least = fruit_range().get(str(crop), (0.0, 0.0))[0]
        usual = float(all_kg.median())
        if usual > HEAVY_KG:
            continue  # said already
        for row in group.to_dict("records"):
            mass = float(row["mass_kg"])
            # Near the middle nothing is far: spares looking at all the others of a long log.
            if mass <= MOST_KG and least <= mass and usual / 6 <= mass <= 6 * usual:
                continue
            others = _without(kg, mass)
            far = far_weight(mass, others, least)
            if not far and mass <= MOST_KG:
                continue
            middle = quantile(others, 0.5)
            other = f"the others weigh about {_weight(middle, units)}" if others else ""
            other = other or f"the smallest single one weighs {_weight(least, units)}"
            odd = f"far {far} {crop} than usual; {other}"
            if mass > MOST_KG and not far:
                odd = f"{_weight(mass, units)} of {crop} is {TOO_MUCH}"
            findings.notice(
                str(row["file"]),
                None if pd.isna(row["line"]) else int(row["line"]),
                "weight",
                _weight(mass, units),
                odd,
                "kept as typed; "
                + (
                    "typed in kg or lb under a heading of grams or ounces? or a slipped digit"
                    if far == "less"
                    else "typed in grams or ounces under a heading of kg or lb? or a slipped digit"
                ),
                kind=f"far {crop}",
            )


def _without(values: list[float], value: float) -> list[float]:
    """Return ranked values without one of them."""
    place = bisect_left(values, value)
    return values[:place] + values[place + 1 :]


def _slips(picks: pd.DataFrame, column: str, unit: str, findings: Findings) -> None:
    for crop, group in picks.groupby("crop", sort=True):
        counts = sorted(group[column].astype(float).to_list())
        usual = quantile(counts, 0.5)
        for row in group[group[column] > usual].to_dict("records"):
            # Far beyond the next is the largest only, and what is far beyond the usual large ones
            # lies as far beyond the middle one: spares looking at all the others of a long log.
            if row[column] < counts[-1] and row[column] <= FAR * usual:
                continue
            others = _without(counts, float(row[column]))
            far = far_count(float(row[column]), others)
            if not far:
                continue
            large = f"the next most is {others[-1]:.3g}"
            if far == "large":
                large = f"a large pick is {quantile(others, 0.9):.3g}"
            findings.notice(
                str(row["file"]),
                None if pd.isna(row["line"]) else int(row["line"]),
                column,
                f"{row[column]:g} {unit}",
                f"far more {crop} than any other day; {large} {unit}",
                "kept as typed; check for a slipped digit",
                kind=f"slip {crop}",
            )
