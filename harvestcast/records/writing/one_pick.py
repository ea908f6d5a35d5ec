"""One pick as a line in the hand of the file it goes to: its columns, units and marks."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from harvestcast.records.tables.headings import Place
from harvestcast.records.tables.rows import RowReader
from harvestcast.records.tables.text import TextShape
from harvestcast.units import KG
from harvestcast.words.crops import crop_word

PICK_HEADINGS: dict[str, tuple[str, ...]] = {
    "metric": ("date", "crop", "variety", "count", "weight_kg", "grade", "bed", "hours", "note"),
    "us": ("date", "crop", "variety", "count", "weight_lb", "grade", "bed", "hours", "note"),
}
"""Headings of a new pick log, in the household's units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PickLine:
    """One pick to be written down.

    ``unit`` is the unit of mass that was typed, for files that name it in a column or cell;
    ``inferred`` says that the variety was not typed but is the only one planted.
    """

    date: date
    crop: str
    variety: str = ""
    bed: str = ""
    count: float | None = None
    mass_kg: float | None = None
    unit: str = "kg"
    grade: str = "good"
    hours: float | None = None
    note: str = ""
    inferred: bool = False


def safe_text(text: str) -> str:
    """Return a text on one line that no spreadsheet takes for a formula.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("two  lines")
    ("'=1+1", 'two lines')
    """
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return f"'{plain}" if plain.startswith(("=", "+", "-", "@")) else plain


def number_text(value: float, comma: bool = False, small: bool = False) -> str:
    """Return a number to four decimals that can be read in one way only.

    ``small`` says that it is a number of grams or ounces, where a point may mark thousands.

    Examples
    --------
    >>> number_text(12.0), number_text(1.4742), number_text(1.234, comma=True)
    ('12', '1.4742', '1,2340')
    """
    plain = f"{value:.4f}"
    whole, _, part = plain.partition(".")
    short = part.rstrip("0")
    if not short:
        return whole
    if not comma:
        return f"{whole}.{short if len(short) != 3 or not small else part}"
    return f"{whole},{short if len(short) != 3 else part}"


def cells_of(
    pick: PickLine, places: Mapping[str, Sequence[Place]], rows: RowReader, width: int
) -> list[str] | None:
    """Return the cells of a pick, or None where the file has no column for part of it.

    The crop stands there as the household calls it.

    Parameters
    ----------
    pick : PickLine
        What was picked.
    places : mapping of str to sequence of Place
        Columns of the file.
    rows : RowReader
        Rows of the file; they know its decimal mark.
    width : int
        Number of columns.
    """
    comma = "comma" in (rows.decimal("mass"), rows.decimal("count"), rows.decimal("amount"))
    comma |= rows.decimal("count") == "unsure"
    said: dict[str, str] = {"date": pick.date.isoformat(), "crop": safe_text(crop_word(pick.crop))}
    for field, text in (("variety", pick.variety), ("bed", pick.bed), ("note", pick.note)):
        if text:
            said[field] = safe_text(text)
    if pick.grade != "good":
        said["grade"] = pick.grade
    if pick.hours is not None:
        places_h = places.get("hours", ())
        minutes = bool(places_h) and places_h[0].unit == "min"
        said["hours"] = number_text(pick.hours * (60 if minutes else 1), comma)
    if pick.count is not None:
        said.update(_count(pick.count, places, comma, alone=pick.mass_kg is None))
    if pick.mass_kg is not None and not (pick.count == 0 and pick.mass_kg == 0):
        said.update(_mass(pick.mass_kg, pick.unit, places, comma, alone=pick.count is None))
    if any(field not in places for field in said):
        return None
    cells = [""] * width
    for field, text in said.items():
        cells[places[field][0].index] = text
    return cells


def _count(
    count: float, places: Mapping[str, Sequence[Place]], comma: bool, *, alone: bool
) -> dict[str, str]:
    if "count" not in places and "amount" in places and "unit" in places and alone:
        return {"amount": number_text(count, comma), "unit": "each"}
    dozen = "count" in places and places["count"][0].unit == "dozen"
    return {"count": number_text(count / 12 if dozen else count, comma)}


def _mass(
    mass_kg: float, typed: str, places: Mapping[str, Sequence[Place]], comma: bool, *, alone: bool
) -> dict[str, str]:
    field = "mass" if "mass" in places or not alone else "amount"
    if alone and "unit" in places and not {"mass", "amount"} & set(places):
        field = "count"  # one column of quantities, with the unit beside it
    if field not in places:
        return {"mass": ""}
    unit = places[field][0].unit if field != "count" else None
    measure = unit or typed
    text = number_text(mass_kg / KG[measure], comma, small=measure in ("g", "oz"))
    if unit is not None:
        return {field: text}
    if "unit" in places:
        return {field: text, "unit": typed}
    return {field: f"{text} {typed}"}


def line_of(cells: Sequence[str], shape: TextShape) -> str:
    """Return cells as one line of a delimited text file, its line end included."""
    text = io.StringIO()
    csv.writer(text, delimiter=shape.delimiter, lineterminator=shape.newline).writerow(cells)
    return text.getvalue()
