"""Targets of the pantry that no plan can serve, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.errors import ElevationError
from harvestcast.kitchen.catalogue import product
from harvestcast.kitchen.options import left_out_options, weekly_options

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

NO_TESTED_TIME = (
    "no tested time on record here that was read in a published table; use your extension "
    "service's current table"
)
"""Why a product whose row was only read second-hand is kept out."""

_COLUMNS = ["product", "label", "target_jars", "why"]


def kept_out(garden: Garden, wanted: pd.DataFrame, as_of: object = None) -> pd.DataFrame:
    """List the targets that no plan can serve, and why.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    wanted : pandas.DataFrame
        Table WANTED.
    as_of : date-like, optional
        As in :func:`harvestcast.kitchen.options.weekly_options`.

    Returns
    -------
    pandas.DataFrame
        Columns product, label, target_jars, why; a row for every target above zero that can be
        put up in no way by this household. Empty where there is no elevation for a canner: then
        nothing is planned at all, and that is said elsewhere.
    """
    try:
        offered = set(weekly_options(garden, as_of)["product"])
        refused = left_out_options(garden, as_of)
    except ElevationError:
        return pd.DataFrame(columns=_COLUMNS)
    rows = []
    for row in wanted.loc[wanted["target_jars"] > 0].to_dict("records"):
        key = str(row["product"])
        if key not in offered:
            reasons = refused.loc[refused["product"] == key, "reason"]
            rows.append((key, row["label"], row["target_jars"], _why(key, list(reasons))))
    return pd.DataFrame(rows, columns=_COLUMNS)


def _why(key: str, reasons: list[str]) -> str:
    if not reasons:
        return f"no {product(key).crop} is planted or picked"
    if any("so no time is given" in reason for reason in reasons):
        return NO_TESTED_TIME
    return "; ".join(dict.fromkeys(reasons))
