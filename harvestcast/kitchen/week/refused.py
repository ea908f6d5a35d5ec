"""Targets of the pantry that no plan can serve, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.errors import ElevationError
from harvestcast.kitchen.handbook.both_units import elevation
from harvestcast.kitchen.handbook.products import Product, jars_in_words, match_product, product
from harvestcast.kitchen.week.options import left_out_options, weekly_options
from harvestcast.records.household import Household

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

NO_TESTED_TIME = "no tested time on record here that was read in a published table"
"""Why a product whose row was only read second-hand is kept out."""

_CANNERS = {"boiling_water": "boiling-water canner", "pressure": "pressure canner"}
_COLUMNS = ["product", "label", "target_jars", "unit", "typed", "why"]


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
        in garden.toml where that is another than the label, else empty) and why; a row for every
        target above zero that can be put up in no way by this household. Empty where there is no
        elevation for a canner: then nothing is planned at all, and that is said elsewhere.
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
            rows.append(
                (item.key, row["label"], row["target_jars"], item.counted_in, _listed(said), why)
            )
    return pd.DataFrame(rows, columns=_COLUMNS)


def _typed(garden: Garden) -> dict[str, list[str]]:
    """Return the names of the targets as they stand in garden.toml, by product."""
    names: dict[str, list[str]] = {}
    for name in garden.household.targets:
        key = match_product(name)
        if key is not None:
            names.setdefault(key, []).append(name)
    return names


def lacks_tested_time(reason: str) -> bool:
    """Return whether a way to put something up was refused for want of a tested time."""
    return "so no time is given" in reason


def _why(item: Product, refused: pd.DataFrame, instead: list[str], household: Household) -> str:
    if not len(refused):
        return f"no {item.crop} is planted or picked"
    untested = refused.loc[[lacks_tested_time(reason) for reason in refused["reason"]]]
    if not len(untested):
        return "; ".join(dict.fromkeys(refused["reason"]))
    jars = [jars_in_words(str(jar), 2).removeprefix("2 ") for jar in untested["jar"].unique()]
    canners = [_CANNERS[str(method)] for method in untested["method"].unique()]
    at = f" at {elevation(household)}" if household.elevation_m is not None else ""
    why = (
        f"{NO_TESTED_TIME}, for {_listed(jars)} in a {_listed(canners, 'or')}{at}; use your "
        "extension service's current table"
    )
    if instead:
        why += f"; what this kitchen can make of {item.crop}: {_listed(instead)}"
    return why


def _listed(words: list[str], last: str = "and") -> str:
    return f" {last} ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)
