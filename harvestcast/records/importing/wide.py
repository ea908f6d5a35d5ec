"""Tables with a column a crop or variety, or a column a day, as one line a pick."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from harvestcast.records.logs.picks import amounts_of
from harvestcast.records.tables.headings import PICK_FIELDS, Place, split_heading
from harvestcast.records.tables.rows import RowReader, year_of_name
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import canonical_crop, tidy_name
from harvestcast.records.typed.dates import DateOrder, YearsOf, parse_date
from harvestcast.records.typed.numbers import AMOUNT_UNITS, KG, unit_of
from harvestcast.records.typed.varieties import UNNAMED, variety_key

_WORDS = re.compile(
    r"\b(count|counts|counted|weighed|number|qty|quantity|weight|wt|mass|picked|harvest|harvested|total|"
    r"oversized?|damaged|of|no)\b"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CropColumn:
    """One column of a wide table: its crop, variety, grade and unit, and the crop as typed."""

    index: int
    heading: str
    crop: str
    variety: str
    name: str
    grade: str
    unit: str | None
    said: bool
    """Whether the heading names the unit."""


def crop_columns(
    table: Table,
    aliases: Mapping[str, str],
    varieties: Mapping[str, Sequence[str]],
    unit: str | None,
    taken: Collection[int] = (),
) -> list[CropColumn]:
    """Return the columns whose heading names a crop or a planted variety.

    Parameters
    ----------
    table : Table
        Table.
    aliases : mapping of str to str
        The household's own crop names.
    varieties : mapping of str to sequence of str
        Planted varieties of each crop.
    unit : str or None
        Unit of columns whose heading names none.
    taken : collection of int
        Columns that hold something else.
    """
    known = {name for line in PICK_FIELDS.values() for name in line.split("|")}
    columns = []
    for index, heading in enumerate(text[:200] for text in table.heading):
        if not heading or index in taken or split_heading(heading)[0] in known:
            continue
        plain, here = _unit(heading)
        words = plain.casefold()
        grade = "oversize" if "oversize" in words else "damaged" if "damaged" in words else "good"
        if here is None and re.search(r"\b(count|counts|number|qty|quantity|no)\b", words):
            here = "each"
        name = " ".join(_WORDS.sub(" ", words).split()).strip(" -:/,")
        found = name_of(name, plain, aliases, varieties)
        if found is not None:
            columns.append(
                CropColumn(
                    index=index,
                    heading=heading,
                    crop=found[0],
                    variety=found[1],
                    name=found[2],
                    grade=grade,
                    unit=here or unit,
                    said=here is not None,
                )
            )
    return columns


_REMARK = re.compile(r"\s*[(\[](?:in|with|without|after|before|incl|excl)\b[^)\]]*[)\]]\s*$", re.I)
"""What brackets say of how something was weighed: "kg (in the pod)"."""


def _unit(heading: str) -> tuple[str, str | None]:
    """Return a heading without its unit, and the unit; brackets may hold a variety instead.

    Examples
    --------
    >>> _unit("Tomatoes (kg)"), _unit("Tomatoes (Old Wimble)"), _unit("Broad beans kg (in pod)")
    (('Tomatoes', 'kg'), ('Tomatoes (Old Wimble)', None), ('Broad beans', 'kg'))
    """
    heading = _REMARK.sub("", heading)
    match = re.fullmatch(r"(.*[^\s-])\s*[(\[_ ,-]\s*([^\W\d_]+|#)\.?\s*[)\]]?\s*", heading)
    if match:
        word = "each" if match[2] == "#" else match[2]
        unit = unit_of(word)
        if unit in AMOUNT_UNITS:
            return re.sub(r"\s+in$", "", match[1]), unit
    return heading, None


def name_of(
    name: str,
    typed: str,
    aliases: Mapping[str, str],
    varieties: Mapping[str, Sequence[str]],
) -> tuple[str, str, str] | None:
    """Return the crop and variety that a heading names, and the crop as typed; or None.

    Examples
    --------
    >>> name_of("cucumbers", "Cucumbers", {}, {})
    ('cucumber', '', 'cucumbers')
    >>> name_of("tomato - red barn", "Tomato - Red Barn", {}, {})
    ('tomato', 'Red Barn', 'tomato')
    >>> name_of("red barn", "Red Barn", {}, {"tomato": ["Red Barn"]})
    ('tomato', 'Red Barn', '')
    """
    for crop, names in varieties.items():
        for variety in names:
            if variety_key(variety) == variety_key(name) and canonical_crop(name, aliases) is None:
                return crop, variety, ""
    whole = canonical_crop(name, aliases)
    if whole is None and name in {tidy_name(crop) for crop in varieties}:
        whole = name
    if whole is not None:
        return whole, "", name
    for first, second in _splits(name):
        found = canonical_crop(first, aliases)
        if found is not None and second:
            start = typed.casefold().find(second)
            variety = typed[start : start + len(second)] if start >= 0 else second
            return found, " ".join(variety.split()), first
    return None


def _splits(name: str) -> list[tuple[str, str]]:
    parts = re.split(r"\s*[-:/(),]\s*|\s+[\u2013\u2014]\s+", name, maxsplit=1)
    splits = []
    if len(parts) == 2:
        first, second = parts[0].strip(), parts[1].strip(" )")
        splits += [(first, second), (second, first)]
    words = name.split()
    for n in range(1, len(words)):
        splits.append((" ".join(words[n:]), " ".join(words[:n])))
        splits.append((" ".join(words[:n]), " ".join(words[n:])))
    return splits


def wide_row(row: RowReader, columns: Sequence[CropColumn]) -> tuple[list[dict[str, Any]], bool]:
    """Return the picks of one line of a wide table, and whether all its cells could be read."""
    day = row.date()
    unit, valid = row.unit_beside(AMOUNT_UNITS)
    if not valid:
        return [], False
    groups: dict[tuple[str, str, str], list[Place]] = {}
    for column in columns:
        place = Place(column.index, column.heading, column.unit)
        typed = row.through({"amount": [place]}).text("amount")
        if typed and unit and column.said and (unit in KG) != (column.unit in KG):
            row.problem_at(place, "amount.heading_unit", typed, unit=unit)
            valid = False
        else:
            groups.setdefault((column.crop, column.variety, column.grade), []).append(place)
    note = "; ".join(text for _, text in row.filled("note")) or None
    records: list[dict[str, Any]] = []
    for (crop, variety, grade), places in groups.items():
        read, whole = _record(row, places, unit, crop, variety, grade)
        valid &= whole
        if read is not None and day is not None:
            records.append({**read, "date": day, "note": note if not records else None})
    return records, valid and day is not None


def day_columns(
    table: Table, order: DateOrder, year: int | YearsOf | None = None
) -> dict[int, date]:
    """Return the columns whose heading is a date that can be read."""
    found = {}
    for index, heading in enumerate(table.heading):
        try:
            found[index] = parse_date(heading, order, year or year_of_name(table.file))
        except ValueError:
            continue
    return found


def with_units_apart(table: Table, index: int) -> tuple[Table, int]:
    """Return a table with the units that stand behind its crops in a column of their own.

    Returns
    -------
    table : Table
        With that column last, where a crop names a unit.
    column : int
        The place of that column; -1 where there is none.

    Examples
    --------
    >>> rows = ((2, ("Beans (kg)", "3")), (3, ("Squash (each)", "1")))
    >>> table = Table(file="f", heading=("Crop", "1 May"), heading_line=1, rows=rows)
    >>> with_units_apart(table, 0)[0].rows
    ((2, ('Beans', '3', 'kg')), (3, ('Squash', '1', 'each')))
    """
    last = max([len(table.heading), *(len(cells) for _, cells in table.rows)])
    parted = [_unit(cells[index] if index < len(cells) else "") for _, cells in table.rows]
    if not any(unit for _, unit in parted):
        return table, -1
    rows = []
    for (line, cells), (crop, unit) in zip(table.rows, parted, strict=True):
        filled = [*cells, *[""] * (last - len(cells)), unit or ""]
        filled[index] = crop if unit else filled[index]
        rows.append((line, tuple(filled)))
    heading = (*table.heading, *[""] * (last - len(table.heading)), "unit")
    return replace(table, heading=heading, rows=tuple(rows)), last


def by_day_row(
    row: RowReader, crop: str | None, days: Mapping[int, date], unit: str | None
) -> tuple[list[dict[str, Any]], bool]:
    """Return the picks of one line of a table with a column a day."""
    variety = " ".join(row.text("variety").split())
    beside, valid = row.unit_beside(AMOUNT_UNITS)
    if not valid:
        return [], False
    records: list[dict[str, Any]] = []
    for index, day in days.items():
        place = Place(index, row.table.heading[index], unit)
        read, whole = _record(row, [place], beside, crop or "", variety, "good")
        valid &= whole
        if read is not None and crop is not None:
            records.append({**read, "date": day, "note": None})
    return records, valid and crop is not None


def _record(
    row: RowReader,
    places: Sequence[Place],
    unit: str | None,
    crop: str,
    variety: str,
    grade: str,
) -> tuple[dict[str, Any] | None, bool]:
    """Return the pick of one crop on a line, but for its day, and whether it could be read."""
    part = row.through({"amount": places})
    count, mass, whole = amounts_of(part, ("amount",), unit, "cell")
    if count is None and mass is None:
        return None, whole
    return {
        "crop": crop,
        "variety": variety or UNNAMED,
        "bed": row.text("bed") or None,
        "count": count,
        "mass_kg": mass,
        "grade": grade,
        "file": row.table.file,
        "line": row.line,
    }, whole
