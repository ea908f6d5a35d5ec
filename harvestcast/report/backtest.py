"""A back-test in words: how far off the forecasts were, and how far the simplest rival was."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.report.plain import plain, rows
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


LEAST_WEEKS, ONE_SIDED, SURE = 20, 0.65, 2.5
"""Weeks, share on one side of the middle, and standard errors from half of them, from which on
forecasts are said to lean to one side."""


def against_last_week(garden: Garden, scores: pd.DataFrame) -> pd.DataFrame:
    """Return the errors per crop beside those of "as much as in the last seven days".

    Parameters
    ----------
    garden : Garden
        The household's log.
    scores : pandas.DataFrame
        As :func:`harvestcast.growth.backtest.backtest` returns it with ``by="crop"``.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``forecasts`` (number), ``picked_kg`` (mean a week), ``error_kg`` and
        ``last_week_error_kg`` (mean absolute errors), ``within_80`` (share of weeks within the
        80 % range); the row ``all``, the means over all forecasts of all crops, last.
    """
    from harvestcast.growth.backtest import daily_mass
    from harvestcast.growth.scores import coverage

    if not len(scores):
        return pd.DataFrame(
            columns=["crop", "forecasts", "picked_kg", "error_kg", "last_week_error_kg",
                     "within_80"]
        )  # fmt: skip
    week = pd.Timedelta(days=6)
    daily = daily_mass(garden, scores["origin"].min() - week, scores["origin"].max())
    by_crop = daily.T.groupby(level=0).sum().T
    naive = np.array(
        [
            by_crop.loc[origin - week : origin, crop].sum() if crop in by_crop.columns else 0.0
            for origin, crop in zip(scores["origin"], scores["crop"], strict=True)
        ]
    )
    table = scores.assign(
        error_kg=(scores["observed"] - scores["q50"]).abs(),
        last_week_error_kg=np.abs(scores["observed"].to_numpy(float) - naive),
    )
    made = []
    for crop, own in [*table.groupby("crop", sort=True), ("all", table)]:
        made.append(
            {
                "crop": str(crop),
                "forecasts": len(own),
                "picked_kg": own["observed"].mean(),
                "error_kg": own["error_kg"].mean(),
                "last_week_error_kg": own["last_week_error_kg"].mean(),
                "within_80": coverage(own["observed"], own["q10"], own["q90"]),
            }
        )
    return pd.DataFrame(made)


def verdict(table: pd.DataFrame) -> str:
    """Return in how many crops this forecast was nearer than the last seven days, in words.

    Parameters
    ----------
    table : pandas.DataFrame
        As :func:`against_last_week` returns it.

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


def unscored(garden: Garden, scores: pd.DataFrame) -> list[str]:
    """Return the crops picked since the first forecast that no scored week is about.

    A crop is forecast from its first pick on, so one brought in on a single day has no week to
    score where it is brought in.

    Parameters
    ----------
    garden : Garden
    scores : pandas.DataFrame
        As for :func:`against_last_week`; not empty.
    """
    picks = garden.picks
    since = scores["origin"].min() - pd.Timedelta(days=6)
    some = picks["date"].ge(since) & (picks["count"].gt(0) | picks["mass_kg"].gt(0))
    until = scores["origin"].max() + pd.Timedelta(days=7)
    named = set(picks.loc[some & picks["date"].le(until), "crop"])
    told = scores.groupby("crop")["observed"].max()
    return sorted(str(crop) for crop in named if not told.get(crop, 0.0) > 0)


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


def summary(garden: Garden, scores: pd.DataFrame, table: pd.DataFrame) -> dict[str, Any]:
    """Return the back-test as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("backtest"), ``place``, ``first``, ``last`` (days forecast from), ``verdict``
        and ``leaning`` (sentences, or nothing), ``unscored`` (crops picked that no scored week is
        about), ``by_crop`` (columns of :func:`against_last_week`; ``all`` is the mean over all
        forecasts of all crops) and ``scores`` (columns of the scores table); kg.
    """
    return {
        "kind": "backtest",
        "place": garden.household.place or garden.name,
        "first": plain(scores["origin"].min()),
        "last": plain(scores["origin"].max()),
        "verdict": verdict(table),
        "leaning": leaning(scores),
        "unscored": unscored(garden, scores) if len(scores) else [],
        "by_crop": rows(table),
        "scores": rows(scores),
    }


def terminal(garden: Garden, scores: pd.DataFrame, table: pd.DataFrame) -> str:
    """Return the back-test for the terminal."""
    units = garden.household.units
    if not len(scores):
        return "No week of that season can be forecast from what was known before it."
    first, last = scores["origin"].min(), scores["origin"].max()
    out = [
        f"Forecasts from {wording.long_day(first, units)} to {wording.long_day(last, units)}, each "
        "from what was known on its day.",
        "Mean error of a week: this forecast / as much as in the last seven days",
    ]
    width = max(len(wording.clean(crop)) for crop in table["crop"])
    for _, row in table.iterrows():
        out.append(
            f"  {wording.clean(row['crop']):<{width}}  {wording.mass(row['error_kg'], units)} / "
            f"{wording.mass(row['last_week_error_kg'], units)} "
            f"(picked {wording.mass(row['picked_kg'], units)} a week); "
            f"{row['within_80'] * row['forecasts']:.0f} of {row['forecasts']} weeks within the "
            "80% range"
        )
    own = table.loc[table["crop"] != "all"]
    out += [
        f"  (all: mean over the {int(own['forecasts'].sum())} forecasts of "
        f"{'the one crop' if len(own) == 1 else f'the {len(own)} crops'}; what is picked by the "
        "basket weighs most)",
        verdict(table),
        leaning(scores),
        _of_unscored(unscored(garden, scores)),
    ]
    return "\n".join(line for line in out if line)
