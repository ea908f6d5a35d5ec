"""Amounts that can hardly be meant: grams under kilograms, a slipped digit, a wrong unit.

One rule for a pick written down and for a whole log. Everything here is only said, never changed:
the gardener knows better than any range. What judges a single pick needs no tables, so that
writing one down waits for none; pandas is loaded where a log is judged.
"""

from __future__ import annotations

import csv
from bisect import bisect_left
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from harvestcast.records.tables.findings import Findings
from harvestcast.words.messages import mass

if TYPE_CHECKING:
    import pandas as pd

_FAR_COUNTS = ((10, 6.0), (7, 8.0), (3, 12.0), (1, 40.0))
"""From so many other picks on, so many times the largest of them is too much for a count. A slipped
digit makes ten times as many, but first handfuls and flushes differ by as much: of 800 simulated
gardens less than 1 pick in 1,000 is said with ten or more before it, and 1 in 2,000 with one."""
_FAR_WEIGHTS = ((7, 20.0), (3, 50.0), (2, 200.0))
"""The same for weights; they differ more, and a unit mistaken makes 450 (g for lb) or 1000 times
(g for kg). Of the same gardens less than 1 weight in 1,000 is said."""
FAR_TIMES = 20.0
"""Times the usual large pick (90 % quantile) from which an amount is too much, though another as
large stands beside it: digits slip twice."""
_MANY = 7
"""Other picks from which on there is a usual large pick."""
_LIGHT = 200.0
"""Times less than the middle one of the other weights from which a weight is too small."""
MOST_KG = 300.0
"""More of one crop than any household picks in a day (common practice, no source)."""
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
    text = (files("harvestcast.records.checks") / "data" / "one_fruit.csv").read_text("utf-8")
    return {
        row["crop"]: (float(row["low_kg"]), float(row["high_kg"]))
        for row in csv.DictReader(text.splitlines())
    }


def quantile(ranked: Sequence[float], share: float) -> float:
    """Return a quantile of ascending values, in between the two next to it; NaN without any.

    Examples
    --------
    >>> quantile([1.0, 2.0, 5.0], 0.5), quantile([1.0, 2.0], 0.9)
    (2.0, 1.9)
    """
    if not len(ranked):
        return float("nan")
    place = share * (len(ranked) - 1)
    low = int(place)
    high = min(low + 1, len(ranked) - 1)
    return ranked[low] + (place - low) * (ranked[high] - ranked[low])


def _too_much(value: float, others: Sequence[float], steps: tuple[tuple[int, float], ...]) -> str:
    far = next((times for fewest, times in steps if len(others) >= fewest), None)
    if far is None:
        return ""
    if value > far * others[-1]:
        return "most"
    if len(others) >= _MANY and value > FAR_TIMES * quantile(others, 0.9):
        return "large"
    return ""


def far_count(value: float, others: Sequence[float]) -> str:
    """Return what a count is far beyond: ``most``, the ``large`` ones, or nothing.

    Parameters
    ----------
    value : float
        Count of one pick.
    others : sequence of float
        Counts above zero of the other picks of its crop, ascending.

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
        Weights above zero of the other picks of its crop, ascending.
    least : float
        The least that one fruit of the crop weighs.

    Examples
    --------
    >>> far_weight(900.0, [1.5, 2.0]), far_weight(0.002, [1.5, 2.0]), far_weight(4.0, [0.1, 0.2])
    ('more', 'less', '')
    """
    if _too_much(value, others, _FAR_WEIGHTS):
        return "more"
    if value < 0.5 * least or (len(others) > 1 and value < quantile(others, 0.5) / _LIGHT):
        return "less"
    return ""


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
    import numpy as np
    import pandas as pd

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
            _line(first["line"]),
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
                _line(first["line"]),
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
    weighed = picks.loc[picks["mass_kg"] > 0]
    by_crop = {crop: sorted(own.to_list()) for crop, own in weighed.groupby("crop")["mass_kg"]}
    for crop, group in alone.groupby("crop", sort=True):
        kg = by_crop[crop]
        least = fruit_range().get(str(crop), (0.0, 0.0))[0]
        usual = quantile(kg, 0.5)
        if usual > HEAVY_KG:
            continue  # said already
        # Near the middle nothing is far.
        near = group["mass_kg"].between(max(least, usual / 6), min(MOST_KG, 6 * usual))
        for row in group[~near].to_dict("records"):
            weight = float(row["mass_kg"])
            others = _Others(kg, bisect_left(kg, weight))
            far = far_weight(weight, others, least)
            if not far and weight <= MOST_KG:
                continue
            line = _line(row["line"])
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


def _line(line: float) -> int | None:
    return None if line != line else int(line)  # a line that is not known is NaN


class _Others(Sequence[float]):
    """Ascending values but for the one at a place; copies none, so that long logs stay quick."""

    def __init__(self, ranked: list[float], left_out: int) -> None:
        self._ranked, self._left_out = ranked, left_out

    def __len__(self) -> int:
        return len(self._ranked) - 1

    def __getitem__(self, place: Any) -> Any:
        place = place + len(self) if place < 0 else place
        if not 0 <= place < len(self):
            raise IndexError(place)
        return self._ranked[place + (place >= self._left_out)]


def _slips(picks: pd.DataFrame, findings: Findings) -> None:
    for crop, group in picks.groupby("crop", sort=True):
        counts = sorted(group["count"].astype(float).to_list())
        usual = quantile(counts, 0.5)
        # Far beyond the next is the largest only, and what is far beyond the usual large ones lies
        # as far beyond the middle one.
        large = (group["count"] == counts[-1]) | (group["count"] > FAR_TIMES * usual)
        for row in group[(group["count"] > usual) & large].to_dict("records"):
            others = _Others(counts, bisect_left(counts, float(row["count"])))
            far = far_count(float(row["count"]), others)
            if not far:
                continue
            next_most = far == "most"
            findings.notice(
                "amount.far_count",
                str(row["file"]),
                _line(row["line"]),
                "count",
                f"{row['count']:g} fruits",
                crop=str(crop),
                usual=float(others[-1] if next_most else quantile(others, 0.9)),
                next_most=next_most,
            )
