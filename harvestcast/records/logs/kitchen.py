"""The kitchen book, ``kitchen.csv``: what was counted, bought, put up, used, given, thrown out.

A line with a jar or bag is about preserves and becomes a row of the pantry; every other line is
about jars, ingredients, room or produce lying there.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from harvestcast.errors import TypedError
from harvestcast.frames import KITCHEN, PANTRY, FrameSpec, check_frame
from harvestcast.records.logs.pantry import produce_of
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import KITCHEN_FIELDS, find_fields, require
from harvestcast.records.tables.rows import RowReader
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import tidy_name
from harvestcast.records.typed.dates import DateOrder
from harvestcast.records.typed.quantities import Quantity, parse_quantity

NAME = "kitchen."
"""What the name of the book begins with: kitchen.csv, and no other file about a kitchen."""

WHATS: dict[str, str] = {
    word: what
    for what, words in {
        "counted": "counted count on_hand in_stock",
        "bought": "bought",
        "put_up": "put_up filled",
        "used": "used eaten ate",
        "given": "given gave given_away gave_away",
        "fed": "fed",
        "thrown_out": "thrown_out threw_out thrown_away composted",
    }.items()
    for word in words.split()
}
"""What a line may say was done, in the words people use."""

_HOURS = {"h": 1.0, "min": 1 / 60}


def read_kitchen(
    table: Table, findings: Findings, *, order: DateOrder = "year_first"
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the kitchen book: its lines without preserves, and its preserves as pantry rows.

    Parameters
    ----------
    table : Table
        The book.
    findings : Findings
        Takes every line that cannot be used.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read.

    Returns
    -------
    kitchen : pandas.DataFrame
        Table KITCHEN, in order of date and line.
    pantry : pandas.DataFrame
        Table PANTRY: ``change`` is above zero for what was put up, below for what is gone.
    """
    places = find_fields(table, KITCHEN_FIELDS, findings)
    wanted = {"date": "date", "what": "what was done", "item": "what it was done with",
              "amount": "how much"}  # fmt: skip
    records: dict[str, list[dict[str, Any]]] = {"kitchen": [], "pantry": []}
    if require(table, places, wanted, findings):
        numbers = ("amount", "produce", "hours")
        for row in RowReader(table, places, findings, order=order, number_fields=numbers):
            found = _row(row)
            if found is not None:
                records[found[0]].append(found[1])
    return _frame(records["kitchen"], KITCHEN), _frame(records["pantry"], PANTRY)


def _frame(records: list[dict[str, Any]], spec: FrameSpec) -> pd.DataFrame:
    if not records:
        return spec.empty()
    frame = pd.DataFrame(records).reindex(columns=spec.names)
    frame["date"] = pd.to_datetime(frame["date"])
    return check_frame(frame.sort_values("date", kind="stable"), spec)


def _row(row: RowReader) -> tuple[str, dict[str, Any]] | None:
    day = row.date()
    typed = row.text("what")
    what = WHATS.get("_".join(tidy_name(typed).replace("-", " ").split()))
    if what is None:
        row.problem("kitchen.what", "what", typed)
    item = tidy_name(row.text("item"))
    if not item:
        row.problem("kitchen.item_missing", "item", "")
    amount = _amount(row)
    jar = tidy_name(row.text("jar")) or None
    preserve = jar is not None or what == "put_up"
    if preserve and what in ("counted", "bought"):
        row.problem("kitchen.shelf_counted", "what", typed)
        return None
    if amount is not None and jar == "kg" and amount.mass_kg is not None:
        amount = Quantity(count=amount.mass_kg)  # laid up loose, by weight
    if preserve and amount is not None and amount.count is None:
        row.problem("kitchen.jars_counted", "amount", row.text("amount"))
        return None
    produce = produce_of(row)
    hours = row.number("hours", factors=_HOURS if row.unit("hours") else None)
    if day is None or what is None or not item or amount is None:
        return None
    where = {
        "date": day, "what": what, "note": row.text("note") or None,
        "file": row.table.file, "line": row.line,
    }  # fmt: skip
    if not preserve:
        amounts = {name: getattr(amount, name) for name in ("count", "mass_kg", "volume_l")}
        return "kitchen", {**where, "item": item, **amounts}
    sign = 1.0 if what == "put_up" else -1.0
    change = sign * float(amount.count or 0.0)
    rest = {"product": item, "jar": jar, "change": change, "produce_kg": produce, "hours": hours}
    return "pantry", {**where, **rest}


def _amount(row: RowReader) -> Quantity | None:
    typed = row.text("amount")
    if not typed:
        row.problem("kitchen.amount_missing", "amount", "")
        return None
    try:
        return parse_quantity(typed, row.decimal("amount"))
    except TypedError as error:
        row.problem(error.code, "amount", typed, like="number", **error.facts)
        return None
