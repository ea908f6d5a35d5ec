"""Why the plan puts up what it puts up, in household words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from harvestcast import frames
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.messages import Said
from harvestcast.records.household import Household

LEAST_KG = 0.05
"""Where a crop's fruit goes: less than this, in the mean over draws, is not mentioned."""


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
        Table BATCHES with the columns ``reason`` and ``code`` filled in: how far its shelf is from
        the target, what of the plan goes beyond it, or which shelves of the same crop are full.
    """
    shelves = _shelves(wanted)
    for row in () if past is None else past.to_dict("records"):
        shelves.get(str(row["product"]), {})["past_jars"] = row["past_jars"]
    for row in batches.to_dict("records"):
        mine = shelves.get(str(row["product"]), {})
        counted = product(str(row["product"])).counted(str(row["jar"]), row["jars"])
        mine["planned"] = mine.get("planned", 0.0) + counted
    said = [
        _reason(str(row["product"]), str(row["crop"]), shelves, options)
        for row in batches.to_dict("records")
    ]
    table = batches.copy()
    table["reason"] = pd.array([one.text for one in said], dtype="string")
    table["code"] = pd.array([one.code for one in said], dtype="string")
    table["facts"] = pd.Series([dict(one.facts) for one in said], table.index, dtype=object)
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
        Columns crop, reason, and what it is made of: code, facts; one row for each crop with fruit
        in the plan and at least one full shelf. Amounts are means over draws.
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
        facts = {
            "full": full,
            "crop": str(crop),
            "come": come,
            "made": {str(label): float(kg) for label, kg in made.items() if kg >= LEAST_KG},
            "goes": {name: kg for name, kg in goes.items() if kg >= LEAST_KG},
            "units": household.units,
        }
        said = Said("crop.shelves_full", facts)
        rows.append({"crop": str(crop), "reason": said.text, "code": said.code, "facts": facts})
    table = pd.DataFrame(rows, columns=["crop", "reason", "code", "facts"])
    return table.astype({"crop": "string", "reason": "string", "code": "string"})


def _shelves(wanted: pd.DataFrame) -> dict[str, dict[str, Any]]:
    return {
        str(row["product"]): {str(k): v for k, v in row.items()}
        for row in wanted.to_dict("records")
    }


def _reason(
    key: str, crop: str, shelves: Mapping[str, Mapping[str, Any]], options: pd.DataFrame
) -> Said:
    mine = shelves.get(key)
    if mine is not None and mine["wanted_jars"] > 0:
        return Said(
            "batch.towards_target",
            {
                "stock": float(mine["stock_jars"]),
                "target": float(mine["target_jars"]),
                "unit": product(key).counted_in,
                "wanted": float(mine["wanted_jars"]),
                "past": float(mine.get("past_jars", 0.0)),
                "planned": float(mine.get("planned", 0.0)),
            },
        )
    full = _full(crop, shelves, options)
    if not full:
        return Said("batch.no_target")
    own = mine is not None and _is_full(mine)
    return Said("batch.own_full" if own else "batch.others_full", {"full": full})


def _is_full(shelf: Mapping[str, Any]) -> bool:
    """Whether a shelf has a target and wants no more."""
    return bool(shelf["wanted_jars"] <= 0 and shelf["target_jars"] > 0)


def _full(
    crop: str, shelves: Mapping[str, Mapping[str, Any]], options: pd.DataFrame
) -> list[dict[str, Any]]:
    """Return the full shelves of a crop: label, jars on the shelf, jars wanted, unit."""
    offered = dict.fromkeys(options.loc[options["crop"] == crop, "product"].astype(str))
    return [
        {
            "label": product(key).label,
            "stock": float(shelves[key]["stock_jars"]),
            "target": float(shelves[key]["target_jars"]),
            "unit": product(key).counted_in,
        }
        for key in offered
        if key in shelves and _is_full(shelves[key])
    ]
