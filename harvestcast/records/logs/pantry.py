"""What was put up and eaten: ``pantry.csv``."""

from __future__ import annotations

from typing import Any

import pandas as pd

from harvestcast.errors import TypedError
from harvestcast.frames import PANTRY, check_frame
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PANTRY_FIELDS, find_fields, require
from harvestcast.records.tables.rows import RowReader
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import tidy_name
from harvestcast.records.typed.dates import DateOrder
from harvestcast.records.typed.numbers import KG, parse_amount

_HOURS = {"h": 1.0, "min": 1 / 60}


def read_pantry(
    table: Table, findings: Findings, *, order: DateOrder = "year_first"
) -> pd.DataFrame:
    """Return the pantry book as a PANTRY frame in the order of date."""
    places = find_fields(table, PANTRY_FIELDS, findings)
    wanted = {"date": "date", "product": "product", "change": "change in jars"}
    if not require(table, places, wanted, findings):
        return PANTRY.empty()
    records: list[dict[str, Any]] = []
    numbers = ("change", "produce", "hours")
    for row in RowReader(table, places, findings, order=order, number_fields=numbers):
        record = _row(row)
        if record is not None:
            records.append(record)
    if not records:
        return PANTRY.empty()
    frame = pd.DataFrame(records, columns=PANTRY.names)
    frame["date"] = pd.to_datetime(frame["date"])
    return check_frame(frame.sort_values("date", kind="stable"), PANTRY)


def _row(row: RowReader) -> dict[str, Any] | None:
    day = row.date()
    product = tidy_name(row.text("product"))
    if not product:
        row.problem("product.missing", "product", "")
    change = row.number("change", low=None)
    if not row.text("change"):
        row.problem("change.missing", "change", "")
    produce = produce_of(row)
    hours = row.number("hours", factors=_HOURS if row.unit("hours") else None)
    if day is None or not product or change is None:
        return None
    return {
        "date": day,
        "product": product,
        "jar": tidy_name(row.text("jar")) or None,
        "change": change,
        "what": None,
        "produce_kg": produce,
        "hours": hours,
        "note": row.text("note") or None,
        "file": row.table.file,
        "line": row.line,
    }


def produce_of(row: RowReader) -> float | None:
    """Return the produce that went into a line's jars, kg; None where none is said."""
    typed = row.text("produce")
    unit, known = row.unit_beside(KG)
    if unit and not typed:
        row.problem("produce.bare_unit", "unit", row.text("unit"))
    if not typed or not known:
        return None
    try:
        count, mass = parse_amount(typed, row.unit("produce"), row.decimal("produce"), beside=unit)
    except TypedError as error:
        row.problem(error.code, "produce", typed, like="produce", **error.facts)
        return None
    if mass is None and count:
        row.notice("produce.counted", "produce", typed)
    return mass if mass is not None or count else 0.0
