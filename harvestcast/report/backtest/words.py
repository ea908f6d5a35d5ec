"""A back-test in words: how far off the forecasts were, and how far the simplest rival was."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from harvestcast.report.backtest.results import PastWeeks
from harvestcast.report.plain import plain, rows
from harvestcast.words import amounts as wording

NOTHING_KNOWN = "No week of that season can be forecast from what was known before it."
LEAST_WEEKS, ONE_SIDED, SURE = 20, 0.65, 2.5
"""Weeks, share on one side of the middle, and standard errors from half of them, from which on
forecasts are said to lean to one side."""


def verdict(table: pd.DataFrame) -> str:
    """Return in how many crops this forecast was nearer than the last seven days, in words.

    Parameters
    ----------
    table : pandas.DataFrame
        As :func:`harvestcast.report.backtest.results.against_last_week` returns it.

    Returns
    -------
    str
        Empty where nothing was forecast. Errors that differ by less than a thousandth are equal.

    Examples
    --------
    >>> verdict(pd.DataFrame({"crop": ["kale", "leek", "all"], "error_kg": [1.0, 2.0, 1.5],
    ...                       "last_week_error_kg": [2.0, 1.0, 1.5]}))
    'Nearer than "as much as in the last seven days" in 1 of 2 crops, and not in 1: leek.'
    """
    own = table.loc[table["crop"] != "all"]
    if not len(own):
        return ""
    ours, rival = own["error_kg"].to_numpy(float), own["last_week_error_kg"].to_numpy(float)
    equal = np.isclose(ours, rival, rtol=1e-3, atol=1e-9)
    nearer = (ours < rival) & ~equal
    crops = "crop" if len(own) == 1 else "crops"
    said = (
        f'Nearer than "as much as in the last seven days" in {nearer.sum()} of {len(own)} {crops}'
    )
    for which, words in ((equal, "as near in"), (~nearer & ~equal, "not in")):
        if which.any():
            names = wording.listing(wording.clean(crop) for crop in own.loc[which, "crop"])
            said += f", and {words} {which.sum()}: {names}"
    return f"{said}."


def _of_unscored(crops: list[str]) -> str:
    if not crops:
        return ""
    names = wording.listing(wording.clean(crop) for crop in crops)
    return (
        f"No week scored tells of {names}: a crop is forecast from its first pick on, and nothing "
        "of it came in a whole week after that."
    )


def leaning(scores: pd.DataFrame) -> str:
    """Return to which side the forecasts were off, in words; nothing where to neither.

    Parameters
    ----------
    scores : pandas.DataFrame
        With ``observed`` and ``q50``; weeks in which both are the same do not count.

    Examples
    --------
    >>> leaning(pd.DataFrame({"observed": [2.0] * 18 + [0.5] * 4, "q50": [1.0] * 22}))
    'More came than the middle in 18 of 22 weeks: expect more than the middle says.'
    >>> leaning(pd.DataFrame({"observed": [2.0, 0.5] * 11, "q50": [1.0] * 22}))
    ''
    """
    above = int((scores["observed"] > scores["q50"]).sum())
    number = above + int((scores["observed"] < scores["q50"]).sum())
    side = max(above, number - above)
    if number < LEAST_WEEKS or side < ONE_SIDED * number:
        return ""
    if side - 0.5 * number < SURE * 0.5 * np.sqrt(number):
        return ""
    word = "More" if above == side else "Less"
    return (
        f"{word} came than the middle in {side} of {number} weeks: expect {word.lower()} than "
        "the middle says."
    )


def summary(past: PastWeeks, report: str | None = None) -> dict[str, Any]:
    """Return the back-test as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("backtest"), ``place``, ``seasons``, ``first``, ``last`` (days forecast from),
        ``report``, ``verdict`` and ``leaning`` (sentences, or nothing), ``unscored`` (crops picked
        that no scored week is about), ``by_crop`` (columns of
        :func:`harvestcast.report.backtest.results.against_last_week`; ``all`` is the mean over all
        forecasts of all crops) and ``scores`` (columns of the scores table); kg.
    """
    scores = past.scores
    return {
        "kind": "backtest",
        "place": past.place,
        "seasons": list(past.seasons),
        "first": plain(scores["origin"].min()),
        "last": plain(scores["origin"].max()),
        "report": report,
        "verdict": verdict(past.by_crop),
        "leaning": leaning(scores),
        "unscored": list(past.unscored),
        "by_crop": rows(past.by_crop),
        "scores": rows(scores),
    }


def lead(past: PastWeeks) -> list[str]:
    """Return what a back-test says first: the verdict, the side it leans to, what is not in it."""
    lines = [verdict(past.by_crop), leaning(past.scores), _of_unscored(list(past.unscored))]
    return [line for line in lines if line]


def span_words(past: PastWeeks) -> str:
    """Return from which day to which it was forecast again."""
    first, last = (
        wording.long_day(day, past.units)
        for day in (past.scores["origin"].min(), past.scores["origin"].max())
    )
    return f"Forecasts from {first} to {last}, each from what was known on its day."


def within_words(row: pd.Series) -> str:
    """Return how many weeks of a crop lay within the range."""
    return f"{row['within_80'] * row['forecasts']:.0f} of {row['forecasts']}"


def terminal(past: PastWeeks, *, strong: bool = False) -> str:
    """Return the back-test for the terminal, its first line in bold where that is wished."""
    units, table = past.units, past.by_crop
    if not len(past.scores):
        return NOTHING_KNOWN
    head = span_words(past)
    out = [
        f"\x1b[1m{head}\x1b[0m" if strong else head,
        "Mean error of a week: this forecast / as much as in the last seven days",
    ]
    width = max(len(wording.clean(crop)) for crop in table["crop"])
    for _, row in table.iterrows():
        out.append(
            f"  {wording.clean(row['crop']):<{width}}  {wording.mass(row['error_kg'], units)} / "
            f"{wording.mass(row['last_week_error_kg'], units)} "
            f"(picked {wording.mass(row['picked_kg'], units)} a week); "
            f"{within_words(row)} weeks within the 80% range"
        )
    return "\n".join([*out, _of_all(table), *lead(past)])


def _of_all(table: pd.DataFrame) -> str:
    own = table.loc[table["crop"] != "all"]
    crops = "the one crop" if len(own) == 1 else f"the {len(own)} crops"
    return (
        f"  (all: mean over the {int(own['forecasts'].sum())} forecasts of {crops}; what is picked "
        "by the basket weighs most)"
    )
