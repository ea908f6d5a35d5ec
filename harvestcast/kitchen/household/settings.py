"""Settings that only the kitchen can judge: products in the targets, canners without elevation."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches

import pandas as pd

from harvestcast.errors import Problem
from harvestcast.frames import NOTICES, check_frame
from harvestcast.kitchen.handbook.both_units import elevation
from harvestcast.kitchen.handbook.process_times import has_tested_row
from harvestcast.kitchen.handbook.products import nearest_products, usual_jars
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
        problems.append(
            Problem(
                file="garden.toml",
                column="elevation_m",
                rule="there is a canner but no elevation, and no canning time is shown without one",
                cure="Add elevation_m (or elevation_ft), or take the canner out",
            )
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
            found.append(
                {
                    "file": "garden.toml",
                    "line": (lines or {}).get(f"equipment.{number}"),
                    "column": GAUGE,
                    "value": piece.gauge,
                    "odd": f"the tables have no tested row for a {piece.gauge}-gauge pressure "
                    f"canner at {elevation(household)}",
                    "done": "nothing is planned in that canner; ask your local extension office",
                }
            )
    return check_frame(pd.DataFrame(found, columns=NOTICES.names), NOTICES)


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
        where = {
            "file": "garden.toml",
            "line": (lines or {}).get(f"targets.{name}"),
            "column": "targets",
            "value": name,
        }
        try:
            if usual_jars(name) is not None:
                continue
        except ValueError as error:
            done = "left out: name the product with half pints, pints or quarts, or with no size"
            found.append({**where, "odd": str(error), "done": done})
            continue
        near = nearest_products(name)
        found.append(
            {
                **where,
                "odd": "no such product is known here, so no tested way to put it up either",
                "done": "left out: nothing is planned or counted towards it"
                + (f"; did you mean {' or '.join(near)}?" if near else "")
                + "; 'harvestcast check FOLDER --products' lists what there is",
            }
        )
    return check_frame(pd.DataFrame(found, columns=NOTICES.names), NOTICES)


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
    typed: dict[str, tuple[str, int]] = {}
    for name, line in (lines or {}).items():
        table, _, key = name.partition(".")
        if table == "stock" and key:
            (metric,) = to_metric_keys({key: 0.0})
            typed[metric] = (key, line)
    rows = []
    for key in household.stock:
        if key not in STOCK_KEYS:
            name, line = typed.get(key, (key, None))
            said = Said("stock.unknown", {"near": get_close_matches(key, STOCK_KEYS, n=2)})
            rows.append(notice(said, file="garden.toml", line=line, column="stock", value=name))
    return notices(rows)
