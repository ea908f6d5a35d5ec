"""Amounts that can hardly be meant: grams under kilograms, a slipped digit, a wrong unit.

Everything here is only said, never changed: the gardener knows better than any range.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast.records.findings import Findings, plural
from harvestcast.records.fruit import fruit_range
from harvestcast.records.hand import short_number
from harvestcast.records.values import KG

FEWEST = 8
"""Picks of a crop needed before one of them is called unusual."""
FAR = 20.0
"""How many times its crop's usual large pick (90 % quantile) one pick must be to be said."""
ALONE = 6.0
"""How many times its crop's next largest count one count must be to be said. A slipped digit makes
ten times as many; in simulated gardens, flushes and first handfuls among them, none of 800 seasons
or beginnings of seasons has a largest count of more than 4.5 times the next."""
APART = 200.0
"""How many times the other picks' middle one must weigh, or how many times less, where there are
few: a unit mistaken makes 450 (g for lb) or 1000 (g for kg); the first handfuls of a season and
its glut lie less than a hundred times apart (common practice, no source)."""
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
        kg = picks.loc[(picks["crop"] == crop) & (picks["mass_kg"] > 0), "mass_kg"]
        least = fruit_range().get(str(crop), (0.0, 0.0))[0]
        usual, large = float(kg.median()), float(kg.quantile(0.9))
        for row in group.to_dict("records"):
            mass = float(row["mass_kg"])
            if len(kg) < FEWEST:  # one odd pick of few moves the middle: leave it out
                others = kg.drop(kg[kg == mass].index[:1])
                usual = float(others.median()) if len(others) > 1 else np.nan
            heavy = mass > (FAR * large if len(kg) >= FEWEST else APART * usual)
            light = mass < usual / APART or mass < 0.5 * least
            if usual > HEAVY_KG or not (heavy or light):
                continue
            other = f"the others weigh about {_weight(usual, units)}" if usual > 0 else ""
            other = other or f"the smallest single one weighs {_weight(least, units)}"
            findings.notice(
                str(row["file"]),
                None if pd.isna(row["line"]) else int(row["line"]),
                "weight",
                _weight(mass, units),
                f"far {'more' if heavy else 'less'} {crop} than usual; {other}",
                "kept as typed; "
                + (
                    "typed in grams or ounces under a heading of kg or lb? or a slipped digit"
                    if heavy
                    else "typed in kg or lb under a heading of grams or ounces? or a slipped digit"
                ),
                kind=f"far {crop}",
            )


def _slips(picks: pd.DataFrame, column: str, unit: str, findings: Findings) -> None:
    for crop, group in picks.groupby("crop", sort=True):
        if len(group) < FEWEST:
            continue
        usual = float(group[column].quantile(0.9))
        most, next_most = (float(n) for n in group[column].nlargest(2))
        far, large = FAR * usual, f"a large pick is {usual:.3g}"
        if most > ALONE * next_most:
            far, large = ALONE * next_most, f"the next most is {next_most:.3g}"
        for row in group[group[column] > far].to_dict("records"):
            findings.notice(
                str(row["file"]),
                None if pd.isna(row["line"]) else int(row["line"]),
                column,
                f"{row[column]:g} {unit}",
                f"far more {crop} than any other day; {large} {unit}",
                "kept as typed; check for a slipped digit",
                kind=f"slip {crop}",
            )
