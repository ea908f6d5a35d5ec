"""The pantry book in the words of the catalogue: jars on the shelf, oldest eaten first."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.kitchen.handbook.amounts import best_by_days
from harvestcast.kitchen.handbook.products import (
    PINTS,
    Product,
    match_product,
    nearest_products,
    product,
)
from harvestcast.kitchen.messages import Said, notice, notices
from harvestcast.records.typed.jar_sizes import jar_size

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

_NO_SIZE = frozenset({"jar", "glass", "bag", "freezer bag", "container", "dish", "box", "loose"})
"""Words that name a vessel and leave its size to the product; nothing is odd about them."""


OTHER = "other"
"""Size of a jar that is none of half_pint, pint and quart; it is counted by what it holds."""


def size_of(jar: object, item: Product) -> tuple[str, float]:
    """Return the size of a jar, bag or container as typed, and the pints of food in it.

    Parameters
    ----------
    jar : str or missing
        As typed in the pantry book; a size that is not said is the product's usual one.
    item : Product
        Product of the catalogue.

    Returns
    -------
    size : str
        half_pint, pint, quart or :data:`OTHER`; kg for produce kept loose.
    pints : float
        Pints in one.

    Raises
    ------
    ValueError
        Where a size is said that cannot be read for certain.

    Examples
    --------
    >>> size_of("Quart", product("dill_pickles")), size_of(None, product("strawberry_jam"))
    (('quart', 2.0), ('half_pint', 0.5))
    """
    usual = item.usual_jar.removesuffix("_bag").removesuffix("_dry").removesuffix("_dish")
    none = usual == "kg" or jar is None or pd.isna(jar)  # type: ignore[call-overload]
    said = None if none else jar_size(str(jar))
    if said is None:
        return usual, PINTS[usual]
    return said.size or OTHER, said.pints


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
        Columns date, product (catalogue key), size (as :func:`size_of` says), jars (as typed, + put
        up, - eaten), counted (the same in jars of the product's usual size), produce_kg, hours,
        what, file and line; in order of date.
    """
    book = garden.pantry[garden.pantry["date"] <= pd.Timestamp(as_of)]  # type: ignore[arg-type]
    rows = []
    for row in book.to_dict("records"):
        key = match_product(str(row["product"]))
        if key is None:
            continue
        item = product(key)
        try:
            size, pints = size_of(row["jar"], item)
        except ValueError:
            continue  # said by pantry_notices, as an unknown product is
        each = pints / PINTS[item.usual_jar]
        rows.append(
            {
                "date": row["date"],
                "product": key,
                "size": size,
                "jars": float(row["change"]),
                "counted": float(row["change"]) * each,
                "produce_kg": float(row["produce_kg"]),
                "hours": float(row["hours"]),
                **{name: row[name] for name in ("what", "file", "line")},
            }
        )
    names = ["date", "product", "size", "jars", "counted", "produce_kg", "hours"]
    names += ["what", "file", "line"]
    table = pd.DataFrame(rows, columns=names)
    table["date"] = pd.to_datetime(table["date"])
    return table.sort_values("date", kind="stable").reset_index(drop=True)


def unknown_products(garden: Garden) -> tuple[str, ...]:
    """Return names of the pantry book that the catalogue does not know; they are left out."""
    names = dict.fromkeys(garden.pantry["product"].astype(str))
    return tuple(name for name in names if match_product(name) is None)


def pantry_notices(garden: Garden) -> pd.DataFrame:
    """Say the lines of the pantry book that are not counted as they stand.

    Parameters
    ----------
    garden : Garden
        The garden folder.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame: products that the catalogue lacks and jars without a size (each name
        once, at its first line), and jars eaten that were never put up (every line).
    """
    found: list[tuple[Said, dict[str, Any]]] = []
    lines: Counter[tuple[str, str]] = Counter()

    def once(code: str, facts: dict[str, Any], where: dict[str, Any]) -> None:
        """Say a name at its first line; of the others only the number."""
        name = (where["column"], str(where["value"]))
        lines[name] += 1
        if lines[name] == 1:
            found.append((Said(code, facts), where))

    stock: dict[str, float] = {}
    # Put up before eaten within a day: nobody is asked for the order of a day's lines.
    book = garden.pantry.assign(eaten=garden.pantry["change"] < 0)
    for row in book.sort_values(["date", "eaten"], kind="stable").to_dict("records"):
        name, jar = str(row["product"]), row["jar"]
        where = {"file": "pantry.csv" if pd.isna(row["file"]) else row["file"], "line": row["line"]}
        of_jar = {**where, "column": "jar", "value": str(jar)}
        key = match_product(name)
        if key is None:
            canned = name.casefold().startswith(("canned ", "canned_"))
            facts = {"near": list(nearest_products(name)), "canned": canned}
            once("pantry.unknown", facts, {**where, "column": "product", "value": name})
            continue
        item = product(key)
        try:
            size, pints = size_of(jar, item)
        except ValueError:
            once("pantry.size_unread", {}, of_jar)
            continue
        if not _has_size(jar, item):
            once("pantry.size_unknown", {"usual": size}, of_jar)
        each = pints / PINTS[item.usual_jar]
        left = stock.get(key, 0.0) + float(row["change"]) * each
        stock[key] = max(left, 0.0)
        if left < -1e-9:
            have = max(left - float(row["change"]) * each, 0.0)
            said = Said("pantry.more_eaten", {"label": item.label, "have": have / each})
            change = f"{float(row['change']):g}"
            found.append((said, {**where, "column": "change", "value": change}))
    rows = []
    for said, where in found:
        times = lines[where["column"], str(where["value"])]
        rows.append(notice(replace(said, facts={**said.facts, "times": times}), **where))
    return notices(rows)


def _has_size(jar: object, item: Product) -> bool:
    if jar is None or pd.isna(jar) or item.usual_jar == "kg":  # type: ignore[call-overload]
        return True
    text = str(jar).lower().replace("_", " ").strip()
    plain = text.removesuffix("es") if text.endswith(("sses", "shes", "xes")) else text
    plain = plain.removesuffix("s") if not plain.endswith("ss") else plain
    return plain in _NO_SIZE or jar_size(text) is not None


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
        source); jars eaten that were never put up take nothing off those put up later.
    """
    book = pantry_book(garden, as_of)
    rows = []
    for key, mine in book.groupby("product", sort=True):
        item = product(str(key))
        # Put up before eaten within a day: nobody is asked for the order of a day's lines.
        ordered = mine.assign(eaten=mine["counted"] < 0)
        ordered = ordered.sort_values(["date", "eaten"], kind="stable")
        standing: list[list[Any]] = []  # day and jars, the oldest first
        for day, jars in zip(ordered["date"], ordered["counted"], strict=True):
            if jars > 0:
                standing.append([day, float(jars)])
                continue
            eaten = -float(jars)
            for old in standing:
                taken = min(old[1], eaten)
                old[1] -= taken
                eaten -= taken
            standing = [old for old in standing if old[1] > 1e-9]
        for day, jars in standing:
            if jars > 1e-9:
                best_by = day + pd.Timedelta(days=best_by_days(item))
                rows.append((str(key), item.label, day, jars, best_by))
    table = pd.DataFrame(rows, columns=["product", "label", "put_up", "jars", "best_by"])
    for name in ("put_up", "best_by"):
        table[name] = pd.to_datetime(table[name])
    table["past"] = table["best_by"] < pd.Timestamp(as_of)  # type: ignore[arg-type]
    return table
