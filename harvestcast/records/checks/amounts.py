"""Amounts that can hardly be meant: grams under kilograms, a slipped digit, a wrong unit.

Everything here is only said, never changed: the gardener knows better than any range.
"""

from __future__ import annotations

from bisect import bisect_left

import numpy as np
import pandas as pd

from harvestcast.records.checks.fruit import fruit_range
from harvestcast.records.checks.usual import FAR, MOST_KG, far_count, far_weight, quantile
from harvestcast.records.tables.findings import Findings
from harvestcast.words.messages import mass

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
    _slips(picks[picks["count"] > 0], findings)
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
        findings.notice(
            "amount.fruit_weight",
            str(file),
            None if pd.isna(first["line"]) else int(first["line"]),
            "weight",
            f"{first['count']:g} / {mass(float(first['mass_kg']), units)}",
            crop=str(crop),
            kg=float(first["each"]),
            lines=len(group),
            grams=bool(grams.any(axis=1).mean() > 0.8),
            units=units,
        )


def _heavy(picks: pd.DataFrame, findings: Findings, units: str) -> None:
    for (file, crop), group in picks.groupby(["file", "crop"], sort=True, dropna=False):
        usual = float(group["mass_kg"].median())
        if usual > HEAVY_KG:
            first = group.iloc[0]
            findings.notice(
                "amount.heavy",
                str(file),
                None if pd.isna(first["line"]) else int(first["line"]),
                "weight",
                mass(float(first["mass_kg"]), units),
                crop=str(crop),
                kg=usual,
                units=units,
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
            weight = float(row["mass_kg"])
            # Near the middle nothing is far: spares looking at all the others of a long log.
            if weight <= MOST_KG and least <= weight and usual / 6 <= weight <= 6 * usual:
                continue
            others = _without(kg, weight)
            far = far_weight(weight, others, least)
            if not far and weight <= MOST_KG:
                continue
            line = None if pd.isna(row["line"]) else int(row["line"])
            place = (str(row["file"]), line, "weight", mass(weight, units))
            if not far:
                findings.notice("amount.too_much", *place, crop=str(crop), kg=weight, units=units)
                continue
            findings.notice(
                "amount.far_weight",
                *place,
                crop=str(crop),
                far=far,
                usual_kg=quantile(others, 0.5) if others else least,
                alone=not others,
                units=units,
            )


def _without(values: list[float], value: float) -> list[float]:
    """Return ranked values without one of them."""
    place = bisect_left(values, value)
    return values[:place] + values[place + 1 :]


def _slips(picks: pd.DataFrame, findings: Findings) -> None:
    for crop, group in picks.groupby("crop", sort=True):
        counts = sorted(group["count"].astype(float).to_list())
        usual = quantile(counts, 0.5)
        for row in group[group["count"] > usual].to_dict("records"):
            # Far beyond the next is the largest only, and what is far beyond the usual large ones
            # lies as far beyond the middle one: spares looking at all the others of a long log.
            if row["count"] < counts[-1] and row["count"] <= FAR * usual:
                continue
            others = _without(counts, float(row["count"]))
            far = far_count(float(row["count"]), others)
            if not far:
                continue
            next_most = far == "most"
            findings.notice(
                "amount.far_count",
                str(row["file"]),
                None if pd.isna(row["line"]) else int(row["line"]),
                "count",
                f"{row['count']:g} fruits",
                crop=str(crop),
                usual=float(others[-1] if next_most else quantile(others, 0.9)),
                next_most=next_most,
            )
