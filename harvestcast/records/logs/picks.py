"""The pick log: ``picks*.csv`` (or .xlsx, .ods)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from harvestcast.errors import TypedError
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PICK_FIELDS, find_fields, require
from harvestcast.records.tables.rows import CropReader, RowReader
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.dates import DateOrder
from harvestcast.records.typed.numbers import AMOUNT_UNITS, parse_amount
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.units import KG

if TYPE_CHECKING:
    import pandas as pd

GRADES: dict[str, str] = {
    word: grade
    for grade, words in {
        "good": "good ok okay fine first prime normal best g",
        "oversize": "oversize oversized big large overgrown giant o",
        "damaged": "damaged damage bad rotten spoiled split cracked eaten d",
    }.items()
    for word in words.split()
}
PICK_NUMBERS = ("count", "mass", "amount", "oversize", "damaged", "hours")
"""Fields of a pick log that hold numbers."""
_HOURS = {"h": 1.0, "min": 1 / 60}


def read_picks(
    tables: Sequence[Table],
    findings: Findings,
    read_crop: CropReader,
    *,
    order: DateOrder = "year_first",
) -> pd.DataFrame:
    """Return the picks of one or several tables.

    Parameters
    ----------
    tables : sequence of Table
        Tables as found in the folder.
    findings : Findings
        Takes problems and notices.
    read_crop : callable
        Reads the crop of a row.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read.

    Returns
    -------
    pandas.DataFrame
        PICKS frame in the order of date; lines with a problem are left out of it.
    """
    return picks_frame(pick_records(tables, findings, read_crop, order=order))


def pick_records(
    tables: Sequence[Table],
    findings: Findings,
    read_crop: CropReader,
    *,
    order: DateOrder = "year_first",
) -> list[dict[str, Any]]:
    """Return the picks of one or several tables as :func:`read_picks` does, a record each."""
    records: list[dict[str, Any]] = []
    sheets = Counter(table.file for table in tables)
    for table in tables:
        findings.sheet = table.sheet if sheets[table.file] > 1 else ""
        places = find_fields(table, PICK_FIELDS, findings)
        wanted = {"date": "date", "crop": "crop"}
        if not {"count", "mass", "amount"} & set(places):
            wanted["count"] = "count or the weight"
        if not require(table, places, wanted, findings):
            continue
        for row in RowReader(table, places, findings, order=order, number_fields=PICK_NUMBERS):
            records.extend(pick_row(row, read_crop))
    findings.sheet = ""
    return records


def picks_frame(records: Sequence[dict[str, Any]]) -> pd.DataFrame:
    """Return records as a PICKS frame in the order of date."""
    # Loaded late: whoever writes a pick down waits for no table it does not need.
    import pandas as pd

    from harvestcast.frames import PICKS, check_frame

    if not records:
        return PICKS.empty()
    frame = pd.DataFrame(records, columns=PICKS.names)
    frame["date"] = pd.to_datetime(frame["date"])
    return check_frame(frame.sort_values("date", kind="stable"), PICKS)


def pick_row(row: RowReader, read_crop: Callable[[RowReader], str | None]) -> list[dict[str, Any]]:
    """Return the picks of one line, as records of the PICKS frame; none where it has a problem."""
    day = row.date()
    crop = read_crop(row)
    grade = _grade(row)
    unit, known = row.unit_beside(AMOUNT_UNITS)
    if not known:
        return []
    count, mass, valid = amounts_of(row, ("count", "mass", "amount"), unit)
    extras = []
    for other in ("oversize", "damaged"):
        if row.text(other):
            extra_count, extra_mass, extra_valid = amounts_of(row, (other,), unit)
            valid &= extra_valid
            if extra_count or extra_mass:
                extras.append((extra_count, extra_mass, other))
    hours = row.number("hours", factors=_HOURS if row.unit("hours") else None)
    if hours is not None and hours > 24:
        row.problem("hours.too_many", "hours", row.text("hours"))
        valid = False
    _say_second(row)
    if day is None or crop is None or grade is None or not valid:
        return []
    if count is None and mass is None and not extras:
        row.notice("amount.missing", "count", "")
        return []
    base = {
        "date": day,
        "crop": crop,
        "variety": " ".join(row.text("variety").split()) or UNNAMED,
        "bed": row.text("bed") or None,
        "note": "; ".join(text for _, text in row.filled("note")) or None,
        "file": row.table.file,
        "line": row.line,
    }
    amounts = [(count, mass, grade)] if count is not None or mass is not None else []
    return [
        {**base, "count": c, "mass_kg": m, "grade": g, "hours": hours if n == 0 else None}
        for n, (c, m, g) in enumerate([*amounts, *extras])
    ]


def _say_second(row: RowReader) -> None:
    """Say a second column for the same thing that says something else."""
    for field in ("date", "crop", "variety", "bed", "grade"):
        if len(row.places.get(field, ())) < 2:
            continue
        texts = [text for _, text in row.filled(field)]
        if any(text.casefold() != texts[0].casefold() for text in texts[1:]):
            row.notice("column.two", field, texts[1], field=field, used=texts[0][:60])


def _grade(row: RowReader) -> str | None:
    typed = row.text("grade")
    if not typed:
        return "good"
    grade = GRADES.get(typed.casefold())
    if grade is None:
        row.problem("grade.unknown", "grade", typed)
    return grade


def _speaks_of(unit: str | None, field: str, row: RowReader) -> bool:
    """Return whether the unit in a row's unit column is that of a field.

    It decides for the amount of the row whatever the heading says. Where counts and weights have
    a column each, a unit of weight is that of the weight, each or dozen that of the count.
    """
    weighs = unit in KG
    if field == "count":
        return not weighs or not {"mass", "amount"} & set(row.places)
    return field == "amount" or (field == "mass" and (weighs or "count" not in row.places))


def _usual_unit(unit: str | None, field: str, row: RowReader) -> str | None:
    """Return the unit of a bare number of a field whose heading names none."""
    if field in ("mass", "amount"):
        return None
    both = "count" in row.places and {"mass", "amount"} & set(row.places)
    # Beside one amount in pounds or dozens, a bare number of oversize fruit may be either.
    sure = field == "count" or unit in (None, "each") or (unit in KG and both)
    return "each" if sure else None


def amounts_of(
    row: RowReader, fields: tuple[str, ...], unit: str | None, like: str = "amount"
) -> tuple[float | None, float | None, bool]:
    """Return count and mass (kg) of a row, and whether all of its cells could be read.

    ``unit`` is that of the row's unit column; ``like`` says what a cure shows as an example.
    """
    count: float | None = None
    mass: float | None = None
    valid = True
    for field in fields:
        for place, typed in row.filled(field):
            beside = unit if _speaks_of(unit, field, row) else None
            usual = place.unit or _usual_unit(unit, field, row)
            try:
                more_count, more_mass = parse_amount(
                    typed, usual, row.decimal(field), beside=beside
                )
            except TypedError as error:
                facts = {"field": field, "like": "count" if field == "count" else like}
                row.problem_at(place, error.code, typed, **facts, **error.facts)
                valid = False
                continue
            for now, more, name in ((count, more_count, "count"), (mass, more_mass, "weight")):
                if now is not None and more is not None and abs(now - more) > 0.02 * now + 1e-3:
                    row.problem_at(place, "amount.two", typed, what=name)
                    valid = False
            count = more_count if count is None else count
            mass = more_mass if mass is None else mass
    return *_settle_zero(row, count, mass), valid


def _settle_zero(
    row: RowReader, count: float | None, mass: float | None
) -> tuple[float | None, float | None]:
    """Make nothing found the same in count and weight, where it is meant."""
    if count == 0 and mass:
        row.problem("amount.weight_of_none", "count", row.text("count"))
        return count, mass
    if count and mass == 0:
        row.notice("amount.weightless", "mass", 0)
        return count, None
    if count == 0 or (mass == 0 and count is None):
        return 0.0, 0.0
    return count, mass
