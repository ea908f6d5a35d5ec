"""The household's own tested recipes: a process it has read in a publication, held to the guide's.

``[[recipes]]`` of garden.toml brings a process that these tables lack: another jar, pack or
elevation, a product read elsewhere. It is shown as the household's own, with its publication. It is
refused without one, and wherever it is laxer than the tested rows of the same food: a shorter time,
a lower pressure, less headspace, less acid, a larger jar.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from harvestcast.kitchen.handbook.process_times import (
    ACIDS,
    JARS,
    Process,
    acid_of,
    elevation_in_feet,
    tested_rows,
)
from harvestcast.kitchen.handbook.products import Product, match_product, product
from harvestcast.kitchen.messages import Said
from harvestcast.records.household import Recipe
from harvestcast.units import KPA_PER_PSI, M_PER_FT, M_PER_IN

_SLACK = 1e-3
"""Share by which a figure may fall short from turning units."""


def own_process(recipe: Recipe, elevation_m: float | None) -> Process | Said:
    """Return the process of a household's own recipe at an elevation, or why it is refused.

    Parameters
    ----------
    recipe : Recipe
        As typed in garden.toml.
    elevation_m : float or None
        Elevation of the kitchen, m.

    Returns
    -------
    Process or Said
        The process, its ``source`` the publication; else the code of the refusal and its facts.

    Raises
    ------
    ElevationError
        Without an elevation.

    Notes
    -----
    A tested row is the guide's at the household's elevation, or its highest band below where the
    guide ends. Where the guide offers several pressures, a recipe has to match one of them in time
    and pressure together. A pack without a row of its own is held to the longest time of the
    others.
    """
    key = match_product(recipe.product)
    if key is None:
        return Said("recipe.unknown_product", {"product": recipe.product})
    item = product(key)
    if not item.canned:
        return Said("recipe.not_canned", {"label": item.label})
    if len(recipe.source.split()) < 2:
        return Said("recipe.no_source", {"label": item.label})
    feet = elevation_in_feet(elevation_m)
    low, high = _band(recipe)
    if not low <= feet <= high:
        return Said("recipe.band", {"label": item.label, "feet": feet})
    if item.low_acid and recipe.method == "boiling_water":
        return Said("recipe.low_acid", {"label": item.label})
    return _not_laxer(recipe, item, feet) or _acid(recipe, item) or _made(recipe, item)


def _band(recipe: Recipe) -> tuple[float, float]:
    """Return the band of elevations that a recipe was tested for, whole feet."""
    low = round((recipe.elevation_from_m or 0.0) / M_PER_FT)
    high = recipe.elevation_to_m
    return float(low), math.inf if high is None else float(round(high / M_PER_FT))


def _not_laxer(recipe: Recipe, item: Product, feet: int) -> Said | None:
    """Return what of a recipe is laxer than the tested rows of the same food; None if nothing."""
    sizes = list(JARS)
    ways = [("boiling_water", None), ("pressure", "dial"), ("pressure", "weighted")]
    every = [sizes.index(str(row["jar"])) for way in ways
             for row in tested_rows(item.handbook, *way)]  # fmt: skip
    facts: dict[str, Any] = {"label": item.label}
    if every and sizes.index(recipe.jar) > max(every):
        return Said("recipe.larger_jar", {**facts, "jar": recipe.jar, "most": sizes[max(every)]})
    rows = tested_rows(item.handbook, recipe.method, recipe.gauge)
    tested = [sizes.index(str(row["jar"])) for row in rows]
    if not rows or sizes.index(recipe.jar) > max(tested):
        return None  # this way of canning is not in the guide: there is nothing to hold it to
    # A jar without a row of its own is held to the next larger one.
    size = min(one for one in tested if one >= sizes.index(recipe.jar))
    rows = [row for row, one in zip(rows, tested, strict=True) if one == size]
    rows = [row for row in rows if row["pack"] == recipe.pack] or rows
    below = [row for row in rows if row["low_ft"] <= feet]
    top = max(float(row["low_ft"]) for row in below)
    here = [row for row in below if row["low_ft"] == top or row["high_ft"] >= feet]
    psi = 0.0 if recipe.pressure_kpa is None else recipe.pressure_kpa / KPA_PER_PSI
    least = max(float(row["headspace_in"]) for row in here)
    if recipe.headspace_m / M_PER_IN < least * (1 - _SLACK):
        return Said("recipe.less_headspace", {**facts, "least": least})
    pressed = [row for row in here if not _psi(row) > psi * (1 + _SLACK)]
    if not pressed:
        return Said("recipe.lower_pressure", {**facts, "least": min(_psi(row) for row in here)})
    # The longest time is that of the pack, where several have rows.
    packs = {str(row["pack"]) for row in pressed}
    needed = max(
        min(float(row["process_min"]) for row in pressed if row["pack"] == pack) for pack in packs
    )
    if recipe.minutes < needed:
        return Said("recipe.shorter", {**facts, "minutes": recipe.minutes, "least": needed})
    return None


def _psi(row: dict[str, Any]) -> float:
    psi = float(row["pressure_psi"])
    return 0.0 if math.isnan(psi) else psi


def _acid(recipe: Recipe, item: Product) -> Said | None:
    """Return what acid a recipe lacks; None where it has what the guide's has."""
    facts: dict[str, Any] = {"label": item.label}
    if recipe.acid not in ACIDS:
        return Said("recipe.no_acid", {**facts, "known": list(ACIDS)})
    try:
        guide = acid_of(item.handbook, recipe.jar)
    except KeyError:
        guide = {"acid": "none_added"}
    if guide["acid"] == "none_added":
        return None
    if recipe.acid != guide["acid"]:
        return Said("recipe.other_acid", {**facts, "acid": ACIDS[str(guide["acid"])]})
    if guide["acid"] == "each_jar" and (recipe.lemon_juice_tbsp or 0.0) < float(
        guide["lemon_juice_tbsp"]
    ):
        return Said("recipe.less_acid", {**facts, "least": float(guide["lemon_juice_tbsp"])})
    return None


def _made(recipe: Recipe, item: Product) -> Process:
    psi = None if recipe.pressure_kpa is None else round(recipe.pressure_kpa / KPA_PER_PSI, 2)
    return Process(
        product=item.handbook,
        jar=recipe.jar,
        pack=recipe.pack,
        method=recipe.method,
        gauge=recipe.gauge,
        minutes=float(recipe.minutes),
        pressure_psi=psi,
        dial_psi=psi if recipe.gauge == "dial" else None,
        weighted_psi=psi if recipe.gauge == "weighted" else None,
        headspace_in=round(recipe.headspace_m / M_PER_IN, 3),
        acid=recipe.acid,
        lemon_juice_tbsp=recipe.lemon_juice_tbsp,
        citric_acid_tsp=None,
        sterile_jars=recipe.minutes < 10,
        band=_band(recipe),
        source=f"the household's own recipe: {' '.join(recipe.source.split())}",
    )


def own_recipe(
    recipes: Sequence[Recipe], item: Product, jar: str, method: str, gauge: str | None
) -> Recipe | None:
    """Return the household's own recipe for one way of canning; None where it has none."""
    for recipe in recipes:
        here = (recipe.jar, recipe.method, recipe.gauge) == (jar, method, gauge)
        if here and match_product(recipe.product) == item.key:
            return recipe
    return None
