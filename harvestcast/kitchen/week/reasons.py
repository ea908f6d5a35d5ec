"""Why the plan puts up what it puts up, in household words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from harvestcast import frames
from harvestcast.kitchen.handbook.products import product
from harvestcast.records.household import Household
from harvestcast.units import KG_PER_LB

LEAST_KG = 0.05
"""Where a crop's fruit goes: less than this, in the mean over draws, is not mentioned."""

ROUNDS = 0.5
"""Jars that make no difference when they are said in whole ones."""

_GOES = (
    ("eaten", "eaten fresh"),
    ("given", "given away or fed to animals"),
    ("carried_out", "still keeping at the end"),
    ("spoiled", "more than can be used in time"),
)


def batch_reasons(
    batches: pd.DataFrame,
    wanted: pd.DataFrame,
    options: pd.DataFrame,
    past: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Give every batch its reason.

    Parameters
    ----------
    batches, wanted, options : pandas.DataFrame
        Tables BATCHES, WANTED and OPTIONS.
    past : pandas.DataFrame, optional
        As :func:`harvestcast.kitchen.household.demand.past_best` returns it; left out: nothing is
        said of jars that will be past their best.

    Returns
    -------
    pandas.DataFrame
        Table BATCHES with the column ``reason`` filled in: how far its shelf is from the target,
        what of the plan goes beyond it, or which shelves of the same crop are full already.
    """
    shelves = _shelves(wanted)
    for row in () if past is None else past.to_dict("records"):
        shelves.get(str(row["product"]), {})["past_jars"] = row["past_jars"]
    for row in batches.to_dict("records"):
        mine = shelves.get(str(row["product"]), {})
        counted = product(str(row["product"])).counted(str(row["jar"]), row["jars"])
        mine["planned"] = mine.get("planned", 0.0) + counted
    table = batches.copy()
    table["reason"] = pd.array(
        [
            _reason(str(row["product"]), str(row["crop"]), shelves, options)
            for row in batches.to_dict("records")
        ],
        dtype="string",
    )
    return frames.check_frame(table, frames.BATCHES) if len(table) else frames.BATCHES.empty()


def crop_reasons(
    batches: pd.DataFrame,
    balance: pd.DataFrame,
    wanted: pd.DataFrame,
    options: pd.DataFrame,
    household: Household,
) -> pd.DataFrame:
    """Say where the fruit of a crop goes whose shelves are full.

    Parameters
    ----------
    batches, balance, wanted, options : pandas.DataFrame
        Tables BATCHES, BALANCE, WANTED and OPTIONS.
    household : Household
        Settings; the words use its units.

    Returns
    -------
    pandas.DataFrame
        Columns crop and reason, one row for each crop with fruit in the plan and at least one
        full shelf. Amounts are means over draws.
    """
    shelves, rows = _shelves(wanted), []
    for crop, own in balance.groupby("crop", sort=True):
        full = _full(str(crop), shelves, options)
        days = own.sort_values("day")
        come = float(days["carried_in"].iloc[0] + days["picked"].sum())
        if not full or come < LEAST_KG:
            continue
        goes = {str(k): float(v) for k, v in days[["eaten", "given", "spoiled"]].sum().items()}
        goes["carried_out"] = float(days["carried_out"].iloc[-1])
        mine = batches[batches["crop"] == crop]
        made = mine.groupby("label", sort=False)["mass_kg"].sum().sort_values(ascending=False)
        parts = [
            f"{_mass(kg, household)} for {label}" for label, kg in made.items() if kg >= LEAST_KG
        ]
        parts += [
            f"{_mass(goes[name], household)} {words}"
            for name, words in _GOES
            if goes[name] >= LEAST_KG
        ]
        head = f"{_listed(full)} {'is' if len(full) == 1 else 'are'} full"
        where = f"of about {_mass(come, household)} of {crop}: {', '.join(parts)}"
        rows.append({"crop": str(crop), "reason": f"{head}; {where}"})
    return pd.DataFrame(rows, columns=["crop", "reason"]).astype("string")


def _shelves(wanted: pd.DataFrame) -> dict[str, dict[str, Any]]:
    return {
        str(row["product"]): {str(k): v for k, v in row.items()}
        for row in wanted.to_dict("records")
    }


def _reason(
    key: str, crop: str, shelves: Mapping[str, Mapping[str, Any]], options: pd.DataFrame
) -> str:
    mine = shelves.get(key)
    if mine is not None and mine["wanted_jars"] > 0:
        stock, target = float(mine["stock_jars"]), float(mine["target_jars"])
        wanted, past = float(mine["wanted_jars"]), float(mine.get("past_jars", 0.0))
        said = f"{stock:.0f} of {target:.0f} {_counted(key)} on the shelf"
        if wanted > max(0.0, target - stock) + ROUNDS:
            said += f", but {wanted:.0f} more are wanted by the season's end"
            if past > ROUNDS:
                said += f": {past:.0f} of those on the shelf are past their best by then"
        beyond = float(mine.get("planned", 0.0)) - wanted
        if beyond > ROUNDS:
            said += (
                f"; {beyond:.0f} of the {mine['planned']:.0f} in this plan go beyond what is "
                "wanted, only so that nothing spoils"
            )
        return said
    full = _full(crop, shelves, options)
    if not full:
        return "no target is set; better than letting it spoil"
    said = f"{_listed(full)} {'is' if len(full) == 1 else 'are'} full"
    if mine is not None and _is_full(mine):
        return f"{said}; more only so that nothing spoils"
    return said


def _is_full(shelf: Mapping[str, Any]) -> bool:
    """Whether a shelf has a target and wants no more."""
    return bool(shelf["wanted_jars"] <= 0 and shelf["target_jars"] > 0)


def _full(crop: str, shelves: Mapping[str, Mapping[str, Any]], options: pd.DataFrame) -> list[str]:
    """Return the full shelves of a crop, each as label (jars on the shelf of jars wanted)."""
    offered = dict.fromkeys(options.loc[options["crop"] == crop, "product"].astype(str))
    words = []
    for key in offered:
        mine = shelves.get(key)
        if mine is None or not _is_full(mine):
            continue
        jars = f"{mine['stock_jars']:.0f} of {mine['target_jars']:.0f} {_counted(key)}"
        words.append(f"{product(key).label} ({jars})")
    return words


def _counted(key: str) -> str:
    """Return what a product is counted in.

    Examples
    --------
    >>> _counted("dill_pickles"), _counted("frozen_corn"), _counted("stored_onions")
    ('pints', 'pint bags', 'kg')
    """
    return product(key).counted_in


def _listed(words: list[str]) -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> _listed(["a", "b", "c"])
    'a, b and c'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _mass(kg: float, household: Household) -> str:
    """Return a mass in the household's units.

    Examples
    --------
    >>> _mass(2.0, Household(units="us")), _mass(2.0, Household(units="metric"))
    ('4.4 lb', '2.0 kg')
    """
    return f"{kg / KG_PER_LB:.1f} lb" if household.units == "us" else f"{kg:.1f} kg"
