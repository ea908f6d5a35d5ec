"""Targets of the pantry that no plan can serve, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.errors import ElevationError
from harvestcast.kitchen.handbook.process_times import elevation_in_feet
from harvestcast.kitchen.handbook.products import Product, jars_in_words, match_product, product
from harvestcast.kitchen.messages import Said, listed
from harvestcast.kitchen.week.options import left_out_options, weekly_options
from harvestcast.records.household import Household

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

_COLUMNS = ["product", "label", "target_jars", "unit", "typed", "why", "code", "facts"]

UNTESTED = "process.untested"
"""Code of the refusal for want of a time that was read in a published table."""


def kept_out(garden: Garden, wanted: pd.DataFrame, as_of: object = None) -> pd.DataFrame:
    """List the targets that no plan can serve, and why.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    wanted : pandas.DataFrame
        Table WANTED.
    as_of : date-like, optional
        As in :func:`harvestcast.kitchen.week.options.weekly_options`.

    Returns
    -------
    pandas.DataFrame
        Columns product, label, target_jars, unit (what the target is counted in), typed (its name
        in garden.toml where that is another than the label, else empty), why, and what the reason
        is made of: code, facts. A row for every target above zero that can be put up in no way by
        this household. Empty where there is no elevation for a canner: then nothing is planned at
        all, and that is said elsewhere.
    """
    try:
        options = weekly_options(garden, as_of)
        refused = left_out_options(garden, as_of)
    except ElevationError:
        return pd.DataFrame(columns=_COLUMNS)
    offered, typed = set(options["product"]), _typed(garden)
    rows = []
    for row in wanted.loc[wanted["target_jars"] > 0].to_dict("records"):
        item = product(str(row["product"]))
        if item.key not in offered:
            own = refused.loc[refused["product"] == item.key]
            said = [name for name in typed.get(item.key, ()) if name.casefold() != item.label]
            instead = list(dict.fromkeys(options.loc[options["crop"] == item.crop, "label"]))
            why = _why(item, own, instead, garden.household)
            known = (item.key, row["label"], row["target_jars"], item.counted_in, listed(said))
            rows.append((*known, why.text, why.code, dict(why.facts)))
    return pd.DataFrame(rows, columns=_COLUMNS)


def _typed(garden: Garden) -> dict[str, list[str]]:
    """Return the names of the targets as they stand in garden.toml, by product."""
    names: dict[str, list[str]] = {}
    for name in garden.household.targets:
        key = match_product(name)
        if key is not None:
            names.setdefault(key, []).append(name)
    return names


def _why(item: Product, refused: pd.DataFrame, instead: list[str], household: Household) -> Said:
    if not len(refused):
        return Said("target.not_grown", {"crop": item.crop})
    untested = refused.loc[refused["code"] == UNTESTED]
    if not len(untested):
        reasons = list(dict.fromkeys(refused["reason"]))
        return Said("target.refused", {"reasons": reasons, "codes": list(refused["code"].unique())})
    metres = household.elevation_m
    return Said(
        "target.untested",
        {
            "crop": item.crop,
            "jars": [
                jars_in_words(str(jar), 2).removeprefix("2 ") for jar in untested["jar"].unique()
            ],
            "methods": [str(method) for method in untested["method"].unique()],
            "metres": metres,
            "feet": None if metres is None else elevation_in_feet(metres),
            "units": household.units,
            "instead": instead,
        },
    )
