"""The pantry book in the words of the catalogue: jars on the shelf, oldest eaten first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.kitchen.amounts import best_by_days
from harvestcast.kitchen.catalogue import PINTS, Product, match_product, product

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

_SIZES = (
    ("half_pint", r"half[ _-]?p(?:in)?ts?\b|\b(?:250|236|240) ?ml\b|\b8 ?oz\b"),
    ("quart", r"\bquarts?\b|\bqts?\b|\b(?:1 ?l|946 ?ml|32 ?oz)\b"),
    ("pint", r"\bpints?\b|\bpts?\b|\b(?:500|473) ?ml\b|\b16 ?oz\b"),
)


def size_of(jar: object, item: Product) -> str:
    """Return the size of a jar, bag or container as typed: half_pint, pint or quart.

    Parameters
    ----------
    jar : str or missing
        As typed in the pantry book; a size that is not said is the product's usual one.
    item : Product
        Product of the catalogue.

    Returns
    -------
    str
        half_pint, pint or quart; kg for produce kept loose.

    Examples
    --------
    >>> size_of("Quart", product("dill_pickles")), size_of(None, product("strawberry_jam"))
    ('quart', 'half_pint')
    """
    usual = item.usual_jar.removesuffix("_bag").removesuffix("_dry").removesuffix("_dish")
    if usual == "kg" or jar is None or pd.isna(jar):  # type: ignore[call-overload]
        return usual
    text = str(jar).lower().replace("_", " ")
    return next((size for size, pattern in _SIZES if re.search(pattern, text)), usual)


def pantry_book(garden: Garden, as_of: object) -> pd.DataFrame:
    """Return the rows of the pantry book up to a day that name a product of the catalogue.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        Last day that counts.

    Returns
    -------
    pandas.DataFrame
        Columns date, product (catalogue key), size, jars (as typed, + put up, - eaten), counted
        (the same in jars of the product's usual size), produce_kg, hours; in order of date.
    """
    book = garden.pantry[garden.pantry["date"] <= pd.Timestamp(as_of)]  # type: ignore[arg-type]
    rows = []
    for row in book.to_dict("records"):
        key = match_product(str(row["product"]))
        if key is None:
            continue
        item = product(key)
        size = size_of(row["jar"], item)
        each = PINTS[size] / PINTS[item.usual_jar]
        rows.append(
            {
                "date": row["date"],
                "product": key,
                "size": size,
                "jars": float(row["change"]),
                "counted": float(row["change"]) * each,
                "produce_kg": float(row["produce_kg"]),
                "hours": float(row["hours"]),
            }
        )
    names = ["date", "product", "size", "jars", "counted", "produce_kg", "hours"]
    table = pd.DataFrame(rows, columns=names)
    table["date"] = pd.to_datetime(table["date"])
    return table.sort_values("date", kind="stable").reset_index(drop=True)


def unknown_products(garden: Garden) -> tuple[str, ...]:
    """Return names of the pantry book that the catalogue does not know; they are left out."""
    names = dict.fromkeys(garden.pantry["product"].astype(str))
    return tuple(name for name in names if match_product(name) is None)


def shelf(garden: Garden, as_of: object) -> pd.DataFrame:
    """List what stands on the shelf, by the day it was put up, with its best-by day.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        Day of the list.

    Returns
    -------
    pandas.DataFrame
        Columns product, label, put_up (date), jars (of the product's usual size), best_by, past
        (whether best_by has gone by). The oldest jars count as eaten first (common practice, no
        source).
    """
    book = pantry_book(garden, as_of)
    rows = []
    for key, mine in book.groupby("product", sort=True):
        item = product(str(key))
        put_up = mine[mine["counted"] > 0]
        left = put_up["counted"].to_numpy(float).copy()
        eaten = -float(mine.loc[mine["counted"] < 0, "counted"].sum())
        before = np.concatenate([[0.0], np.cumsum(left)[:-1]])
        left = left - np.clip(eaten - before, 0.0, left)
        for day, jars in zip(put_up["date"], left, strict=True):
            if jars > 1e-9:
                best_by = day + pd.Timedelta(days=best_by_days(item))
                rows.append((str(key), item.label, day, jars, best_by))
    table = pd.DataFrame(rows, columns=["product", "label", "put_up", "jars", "best_by"])
    for name in ("put_up", "best_by"):
        table[name] = pd.to_datetime(table[name])
    table["past"] = table["best_by"] < pd.Timestamp(as_of)  # type: ignore[arg-type]
    return table
