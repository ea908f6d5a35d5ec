"""Settings that only the kitchen can judge: products in the targets, canners without elevation."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches

import pandas as pd

from harvestcast.errors import Problem
from harvestcast.kitchen.handbook.own_recipes import own_process
from harvestcast.kitchen.handbook.process_times import elevation_in_feet, has_tested_row
from harvestcast.kitchen.handbook.products import (
    is_weight,
    match_product,
    nearest_products,
    product,
    usual_jars,
)
from harvestcast.kitchen.household.stock import STOCK_KEYS
from harvestcast.kitchen.messages import Said, notice, notices
from harvestcast.records.household import Household, to_metric_keys

GAUGE = "gauge"
"""Column of the notices that a pressure canner cannot be used."""


def settings_problems(household: Household) -> tuple[Problem, ...]:
    """Return what no week could be planned with, before a plan is asked for.

    Parameters
    ----------
    household : Household
        Settings that read clean.

    Returns
    -------
    tuple of Problem
        Empty where the kitchen has nothing to say.

    Examples
    --------
    >>> settings_problems(Household(targets={"dill pickles": 3}))
    ()
    """
    problems: list[Problem] = []
    canners = [piece for piece in household.equipment if piece.kind.endswith("canner")]
    if canners and household.elevation_m is None:
        said = Said("elevation.canner")
        problems.append(
            Problem(file="garden.toml", column="elevation_m", rule=said.text, cure=said.cure)
        )
    return tuple(problems)


def vessel_notices(household: Household, lines: Mapping[str, int] | None = None) -> pd.DataFrame:
    """Return the pressure canners that have no tested row at the household's elevation.

    Parameters
    ----------
    household : Household
        Settings.
    lines : mapping of str to int, optional
        Line of each key of ``garden.toml``.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a canner; column ``gauge``.

    Examples
    --------
    >>> canner = {"kind": "pressure_canner", "gauge": "dial"}
    >>> len(vessel_notices(Household(elevation_m=2743.2, equipment=[canner])))  # 9,000 ft
    1
    """
    found = []
    metres = household.elevation_m
    for number, piece in enumerate(household.equipment):
        # Below sea level no canner has a row, and the refusal of each product says so.
        if piece.gauge is None or metres is None or metres < 0:
            continue
        if not has_tested_row(piece.gauge, metres):
            facts = {
                "gauge": piece.gauge,
                "metres": metres,
                "feet": elevation_in_feet(metres),
                "units": household.units,
            }
            line = (lines or {}).get(f"equipment.{number}")
            said = Said("canner.no_row", facts)
            found.append(
                notice(said, file="garden.toml", line=line, column=GAUGE, value=piece.gauge)
            )
    return notices(found)


def target_notices(household: Household, lines: Mapping[str, int] | None = None) -> pd.DataFrame:
    """Return the targets that cannot be used; they are refused, and the rest goes on.

    The catalogue lacks the product, or the size of jar in the name cannot be read.

    A product that nothing tested is known of is never planned. That is no reason to keep the
    week of everything else from whoever grows it.

    Parameters
    ----------
    household : Household
        Settings.
    lines : mapping of str to int, optional
        Line of each key of ``garden.toml``.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a product.

    Examples
    --------
    >>> target_notices(Household(targets={"dill pickles": 3, "unicorn": 1}))["value"].to_list()
    ['unicorn']
    """
    found = []
    for name in household.targets:
        try:
            if usual_jars(name) is not None:
                continue
            said = Said("target.unknown", {"near": list(nearest_products(name))})
        except ValueError:
            key = match_product(name)
            weighed = key is not None and product(key).usual_jar == "kg"
            label = product(key).label if key is not None else name
            said = (
                Said("target.weighed", {"label": label}) if weighed else Said("target.size_unread")
            )
            if key is not None and not weighed and is_weight(name):
                counted = product(key).counted_in
                said = Said("target.not_weighed", {"label": label, "counted": counted})
        line = (lines or {}).get(f"targets.{name}")
        found.append(notice(said, file="garden.toml", line=line, column="targets", value=name))
    return notices(found)


def recipe_notices(household: Household, lines: Mapping[str, int] | None = None) -> pd.DataFrame:
    """Return the household's own recipes that are refused, and why.

    Parameters
    ----------
    household : Household
        Settings.
    lines : mapping of str to int, optional
        Line of each key of ``garden.toml``.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a recipe.
    """
    rows = []
    for number, recipe in enumerate(household.recipes):
        if household.elevation_m is None or household.elevation_m < 0:
            continue  # then nothing is canned at all, and that is said elsewhere
        found = own_process(recipe, household.elevation_m)
        if isinstance(found, Said):
            line = (lines or {}).get(f"recipes.{number}")
            rows.append(
                notice(found, file="garden.toml", line=line, column="recipes", value=recipe.product)
            )
    return notices(rows)


def stock_notices(household: Household, lines: Mapping[str, int] | None = None) -> pd.DataFrame:
    """Return the keys of ``[stock]`` that the kitchen does not know, with the nearest it does.

    Parameters
    ----------
    household : Household
        Settings; keys stand there in metric units.
    lines : mapping of str to int, optional
        Line of each key of ``garden.toml``.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a key; what stands under it counts as nothing.

    Examples
    --------
    >>> stock_notices(Household(stock={"vinegar_gal": 2, "vinagar_l": 1}))["value"].to_list()
    ['vinagar_l']
    """
    typed: dict[str, tuple[str, int | None]] = {}
    for whole, number in (lines or {}).items():
        table, _, key = whole.partition(".")
        if table == "stock" and key:
            (metric,) = to_metric_keys({key: 0.0})
            typed[metric] = (key, number)
    rows = []
    for key in household.stock:
        if key not in STOCK_KEYS:
            name, place = typed.get(key, (key, None))
            said = Said("stock.unknown", {"near": get_close_matches(key, STOCK_KEYS, n=2)})
            rows.append(notice(said, file="garden.toml", line=place, column="stock", value=name))
    return notices(rows)
