"""One foreign table, whatever its shape, as lines of a preview and picks."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from typing import Any

from harvestcast.errors import TypedError
from harvestcast.records.importing.blocks import (
    Block,
    month_column,
    with_month_column,
    with_month_headings,
    with_months,
    year_said,
)
from harvestcast.records.importing.wide import (
    CropColumn,
    by_day_row,
    crop_columns,
    day_columns,
    name_of,
    wide_row,
    with_units_apart,
)
from harvestcast.records.logs.picks import PICK_NUMBERS, pick_row
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PICK_FIELDS, Place, field_of, find_fields
from harvestcast.records.tables.rows import CropReader, RowReader, is_blank, year_of_name
from harvestcast.records.tables.spreadsheets import is_sum
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.dates import DateOrder, YearsOf, orders_shown, parse_date
from harvestcast.records.typed.numbers import Decimal
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.units import KG
from harvestcast.words.crops import crop_word
from harvestcast.words.days import WEEKDAYS, spoken
from harvestcast.words.numbers import short_number

_DITTO = frozenset({'"', "\u3003", "''", "ditto", "do", "do.", "same"})
_SUMS = re.compile(
    r"([^\W\d_]+ |sub)?(total|sum|average|mean|avg|summe|gesamt|somme|suma|totale|totaal)s?\b",
    re.IGNORECASE,
)
_MANY_LINES = 5
_HALF_A_YEAR = 182
"""Days by which one line lies before the one above it where New Year lies between them. [d]"""
_TITLE = re.compile(
    r"\b((19|20)\d\d|our|my|the|log|logs|list|sheet|tally|picks?|picking|record|records|data|"
    r"harvest|harvests|yield|yields|garden)\b",
    re.IGNORECASE,
)
"""Words of a sheet's name that are no part of a crop's or variety's."""
_UNIT_WORDS = {"degC": "degrees C", "degF": "degrees F", "each": "count", "h": "hours"}

Reader = Callable[[RowReader], tuple[list[dict[str, Any]], bool]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the caller settled, and what the garden knows."""

    units: str
    aliases: Mapping[str, str]
    planted: Mapping[str, Sequence[str]]
    order: DateOrder
    year: int | YearsOf | None
    unit: str | None
    decimal: Decimal | None
    crop: str | None
    columns: Mapping[str, str]
    """What headings, in small letters, are said to mean."""
    reader: CropReader
    """Learns what the crops are called in the files."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRead:
    """A table read: lines of the preview with their picks, columns, and hints on its dates."""

    lines: list[tuple[dict[str, Any], list[dict[str, Any]]]] = field(default_factory=list)
    columns: list[dict[str, Any]] = field(default_factory=list)
    hints: set[DateOrder] = field(default_factory=set)
    names: frozenset[str] = frozenset()
    is_log: bool = True
    """Whether it can be read, or looks so much like a log that what it lacks must be said."""


def read_lines(
    block: Block, asked: Asked, findings: Findings, lent: int | YearsOf | None = None
) -> TableRead:
    """Return every line of a plain table with what it means.

    ``lent`` is the year that the other sheets of the workbook agree on.
    """
    table = with_month_headings(block.table)
    fields = {h: found for h, means in asked.columns.items()
              if (found := field_of(means, PICK_FIELDS))}  # fmt: skip
    places = find_fields(table, PICK_FIELDS, Findings(), say=False, named=fields)
    if asked.unit is not None:
        places = {f: [_with_unit(p, f, asked.unit) for p in found] for f, found in places.items()}
    year = asked.year or year_said(table) or lent
    days = day_columns(table, asked.order, year)
    taken_up = {place.index for found in places.values() for place in found}
    crops = crop_columns(table, asked.aliases, asked.planted, asked.unit, taken_up)
    if "date" in places:
        table = with_month_column(table, places["date"][0].index)
        table = with_months(table, places["date"][0].index)
    if "crop" in places and len(days) > 1 and "unit" not in places:
        table, apart = with_units_apart(table, places["crop"][0].index)
        places |= {"unit": [Place(apart, "unit")]} if apart >= 0 else {}
    sums = _bare_sums(table, places["date"][0].index) if "date" in places else set()
    table, carried = _carry_dates(table, places, sums)
    shape, reader = _reader(replace(block, table=table), places, days, crops, asked, findings)
    wide = shape in ("wide", "by_day")
    cells = [*days] if shape == "by_day" else [column.index for column in crops]
    rows = RowReader(
        table,
        {**places, "amount": [Place(n, "") for n in cells]} if wide else places,
        findings,
        order=asked.order,
        number_fields=PICK_NUMBERS,
        year=year,
        decimal=asked.decimal,
    )
    is_log = reader is not None or "date" in places
    read = TableRead(hints=_hints(table, places), names=block.names, is_log=is_log)
    if year is not None and asked.year is None:
        _say_year(table, places, days, year, findings)
    for line, text in table.skipped:
        read.lines.append((_line(table, line, "left out", text, "stands above the heading"), []))
    for index, heading in enumerate(table.heading):
        taken = _taken_for(index, places, crops, days, shape)
        if taken == "not used" and index == month_column(table):
            taken = "the month of the date"
        whole = " - ".join(filter(None, (block.about, heading)))
        read.columns.append(
            {"file": table.file, "sheet": table.sheet or None, "heading": whole}
            | {"taken_for": taken}
        )
        used = index < table.width and any(
            index < len(cells) and cells[index] for _, cells in table.rows
        )
        known = _weekdays(table, index) or _SUMS.match(heading) is not None
        if taken == "not used" and reader is not None and used and not known:
            place = (table.file, table.heading_line, heading, "")
            findings.notice("heading.unknown", *place, importing=True, wide=wide)
    if wide and asked.unit is None:
        unsaid = [c.index for c in crops if c.unit is None] if shape == "wide" else list(days)
        _say_unsaid(table, unsaid, places, findings)
    for row in rows.every():
        is_sum = row.line in sums or _is_sum(row.cells)
        if is_sum and reader is not None:
            typed = " | ".join(row.cells)[:300]
            read.lines.append((_line(table, row.line, "left out", typed, "a sum, not a pick"), []))
            continue
        read.lines.append(_read_line(row, reader, wide, asked, findings, row.line in carried))
    if isinstance(year, int):
        _say_new_year(table, places, read, year, findings)
    return read


def _is_sum(cells: Sequence[str]) -> bool:
    """Return whether a line is called a sum, or holds sums by formula and no pick."""
    first = next((cell for cell in cells if cell), "")
    others = [cell for cell in cells if cell and not is_sum(cell)]
    formulas = len(others) < sum(map(bool, cells))
    return bool(_SUMS.match(first)) or (formulas and not any(map(_has_digit, others)))


def _has_digit(cell: str) -> bool:
    return any(map(str.isdigit, cell))


def _say_new_year(
    table: Table,
    places: Mapping[str, Sequence[Place]],
    read: TableRead,
    year: int,
    findings: Findings,
) -> None:
    """Say where days without a year fall back from autumn to spring: they may pass New Year."""
    cells = _cells(table, [place.index for place in places.get("date", ())[:1]])
    if not any(_has_no_year(typed) for typed in cells):
        return
    days = [(line["line"], picks[0]["date"]) for line, picks in read.lines if picks]
    for (_, before), (line, after) in pairwise(days):
        if (before - after).days > _HALF_A_YEAR and before.year == after.year == year:
            place = (table.file, line, "date", "")
            season = str(YearsOf(year))
            findings.notice("date.new_year", *place, before=before, after=after, season=season)
            return


def _say_year(
    table: Table,
    places: Mapping[str, Sequence[Place]],
    days: Mapping[int, date],
    year: int | YearsOf,
    findings: Findings,
) -> None:
    """Say once that dates without a year are read as of the year of the file, sheet or title."""
    cells = [*_cells(table, [place.index for place in places.get("date", ())[:1]])]
    cells += [table.heading[n] for n in days]
    without = [typed for typed in cells if _has_no_year(typed)]
    if without and year_of_name(table.file) is None:
        place = (table.file, table.heading_line, "date", without[0])
        findings.notice("date.year_above", *place, used=str(year))


def _weekdays(table: Table, index: int) -> bool:
    """Return whether a column holds nothing but the days of the week, which the date says too."""
    return all(
        any(day.casefold().startswith(cell.casefold().strip(".")) for day in WEEKDAYS)
        for cell in _cells(table, [index])
        if cell and not _SUMS.match(cell)
    )


def _has_no_year(typed: str) -> bool:
    try:
        parse_date(typed)
    except TypedError as error:
        return error.code == "date.no_year"
    return False


def _say_unsaid(
    table: Table, columns: Sequence[int], places: Mapping[str, Sequence[Place]], findings: Findings
) -> None:
    """Say once that bare numbers may be counts or weights, not on every line."""
    if "unit" in places:
        return
    bare = [
        table.heading[n]
        for n in columns
        if any(n < len(c) and re.fullmatch(r"[\d.,/ ]*[1-9][\d.,/ ]*", c[n]) for _, c in table.rows)
    ]
    if bare:
        headings = ", ".join(bare)[:200]
        findings.problem("number.no_units", table.file, table.heading_line, "", headings)


def _read_line(
    row: RowReader,
    reader: Reader | None,
    wide: bool,
    asked: Asked,
    findings: Findings,
    carried: bool,
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    table = row.table
    typed = " | ".join(row.cells)[:300]
    if reader is None:
        return _line(table, row.line, "not read", typed, "this table is no pick log"), []
    if row.cells == table.heading:
        return _line(table, row.line, "left out", typed, "the heading again"), []
    row.findings = Findings()
    found, whole = ([], False) if row.too_wide() else reader(row)
    problems, oddities = row.findings.problems, row.findings.oddities
    findings.extend(row.findings, without={"number.no_unit"} if wide else ())
    if carried:
        findings.notice("date.carried", table.file, row.line, "date", "")
    words = [meaning_of(record, asked.units) for record in found]
    words += [p.rule for p in problems]
    words += [f"{odd}: {done}" for odd, done in oddities]
    if carried:
        words.append("date taken from the line above")
    if found:
        became = "read" if whole and not problems else "in part"
    elif problems:
        became = "not read"
    else:
        became = "left out"
        words = words or ["nothing is written on the line"]
    return _line(table, row.line, became, typed, "; ".join(words)), found


def _line(table: Table, line: int, became: str, typed: str, meaning: str) -> dict[str, Any]:
    return {
        "file": table.file,
        "sheet": table.sheet or None,
        "line": line,
        "became": became,
        "typed": typed,
        "meaning": meaning,
    }


def _with_unit(place: Place, name: str, unit: str) -> Place:
    fits = name == "amount" or (name == "mass" and unit in KG)
    return replace(place, unit=unit) if fits and place.unit is None else place


def _carry_dates(
    table: Table, places: Mapping[str, Sequence[Place]], sums: Collection[int]
) -> tuple[Table, frozenset[int]]:
    """Give lines without a date, or with a ditto mark, the date of the line above; not sums."""
    if "date" not in places:
        return table, frozenset()
    index = places["date"][0].index
    last, rows, carried = "", [], set()
    for line, cells in table.rows:
        typed = cells[index] if index < len(cells) else ""
        other = next((cell for n, cell in enumerate(cells) if n != index and cell), "")
        without = is_blank(typed) or typed.casefold() in _DITTO
        if without and last and other and not _SUMS.match(other) and line not in sums:
            cells = tuple(
                last if n == index else c
                for n, c in enumerate([*cells, *[""] * (index + 1 - len(cells))])
            )
            carried.add(line)
        elif not is_blank(typed) and not _SUMS.match(typed):
            last = typed
        rows.append((line, cells))
    return replace(table, rows=tuple(rows)), frozenset(carried)


def _bare_sums(table: Table, index: int) -> set[int]:
    """Return the lines that hold nothing but the sums of the lines above, and no word for it.

    Sums of all lines so far, or of those since the last sums; one column that agrees by chance is
    none, unless many lines stand above it.
    """
    found = set()
    whole: dict[int, list[float]] = {}
    part: dict[int, list[float]] = {}
    for line, cells in table.rows:
        there = {n: _float(cell) for n, cell in enumerate(cells) if cell}
        numbers = {n: value for n, value in there.items() if value is not None}
        if index not in there and numbers and len(numbers) == len(there):
            for above in (whole, part):
                fit = [
                    abs(value - sum(above.get(n, ()))) <= 0.005 * abs(value) + 0.01
                    and len(above.get(n, ())) > 1
                    for n, value in numbers.items()
                ]
                if all(fit) and (len(fit) > 1 or len(above[next(iter(numbers))]) > _MANY_LINES):
                    found.add(line)
        if line in found:
            part = {}
            continue
        for n, value in numbers.items():
            whole.setdefault(n, []).append(value)
            part.setdefault(n, []).append(value)
    return found


def _float(cell: str) -> float | None:
    return float(cell.replace(",", ".")) if re.fullmatch(r"\d+([.,]\d+)?", cell) else None


def _reader(
    block: Block,
    places: Mapping[str, Sequence[Place]],
    days: Mapping[int, date],
    crops: Sequence[CropColumn],
    asked: Asked,
    findings: Findings,
) -> tuple[str, Reader | None]:
    """Return the shape of a table and the function that reads one of its lines."""
    table = block.table
    read_crop = asked.reader
    amounts = bool({"count", "mass", "amount"} & set(places))
    if "date" in places and "crop" in places and amounts:
        return "long", lambda row: (pick_row(row, read_crop), True)
    if "crop" in places and len(days) > 1:
        return "by_day", lambda row: by_day_row(row, read_crop(row), days, asked.unit)
    if "date" in places and crops:
        for column in crops:
            read_crop.met(column.crop, column.name)
        return "wide", lambda row: wide_row(row, crops)
    about = _about(block, asked)
    if "date" in places and amounts and about is not None:
        one, variety, typed = about
        read_crop.met(one, typed)
        place = (table.file, table.heading_line, "", block.about or table.sheet)
        findings.notice("crop.one_for_all", *place, crop=f"{one} {variety}".strip(),
                        given=bool(asked.crop))  # fmt: skip
        return "one_crop", lambda row: (_named(pick_row(row, lambda _: one), variety), True)
    missing = [
        word
        for word, there in (
            ("date", "date" in places or len(days) > 1),
            ("crop", "crop" in places or bool(crops)),
            ("count or weight", amounts or bool(crops) or len(days) > 1),
        )
        if not there
    ]
    headings = ", ".join(h for h in table.heading if h)[:200]
    findings.problem(
        "column.no_crop" if missing[:1] == ["crop"] else "column.none",
        table.file,
        table.heading_line,
        "",
        table.sheet,
        missing=missing,
        headings=headings,
    )
    return "none", None


def _about(block: Block, asked: Asked) -> tuple[str, str, str] | None:
    """Return the crop that a whole table is about, perhaps its variety, and the crop as typed."""
    over = block.about
    sheet = asked.columns.get(block.table.sheet.casefold(), block.table.sheet)
    typed = asked.crop or _TITLE.sub(" ", sheet).strip(" -_,:")
    given = name_of(typed.casefold(), typed, asked.aliases, asked.planted)
    found = name_of(over.casefold(), over, asked.aliases, asked.planted) if over else None
    if asked.crop is None and found is not None and (given is None or given[0] == found[0]):
        title = given is not None and found[1] and found[1].casefold() != over.casefold()
        # "Our beans" over the sheet of the beans is a title, no variety.
        return given if title else found
    return given and (given[0], over or given[1], given[2])


def _named(records: list[dict[str, Any]], variety: str) -> list[dict[str, Any]]:
    """Return picks with the variety that stands over their table, where they name none."""
    for record in records:
        if variety and record["variety"] == UNNAMED:
            record["variety"] = variety
    return records


def _cells(table: Table, indexes: Sequence[int]) -> Iterator[str]:
    return (cells[n] for _, cells in table.rows for n in indexes if n < len(cells))


def _taken_for(
    index: int,
    places: Mapping[str, Sequence[Place]],
    crops: Sequence[CropColumn],
    days: Mapping[int, date],
    shape: str,
) -> str:
    if shape == "wide":
        for column in crops:
            if column.index == index:
                name = f"{crop_word(column.crop)} {column.variety}".strip()
                grade = "" if column.grade == "good" else f", {column.grade}"
                unit = _UNIT_WORDS.get(str(column.unit), column.unit) or "unit not said"
                return f"{name}{grade}, {unit}"
    if shape == "by_day" and index in days:
        return f"picks of {spoken(days[index])}"
    unread = {"wide": {"count", "mass", "amount"}, "none": set(PICK_FIELDS)}.get(shape, set())
    for name, found in places.items():
        for place in found:
            if place.index == index and name not in unread:
                words = {"mass": "weight", "note": "note"}.get(name, name)
                unit = f" in {_UNIT_WORDS.get(place.unit, place.unit)}" if place.unit else ""
                return f"{words}{unit}"
    return "not used"


def _hints(table: Table, places: Mapping[str, Sequence[Place]]) -> set[DateOrder]:
    """Return the orders of day and month that the unmistakable dates of a table show."""
    cells = list(table.heading)
    for place in places.get("date", ()):
        cells += [row[place.index] for _, row in table.rows if place.index < len(row)]
    return orders_shown(cells)


def meaning_of(record: Mapping[str, Any], units: str) -> str:
    """Return a pick in words.

    Examples
    --------
    >>> meaning_of({"date": "2026-07-05", "crop": "cucumber", "variety": "unnamed",
    ...             "count": 12.0, "mass_kg": None, "grade": "good"}, "metric")
    '2026-07-05 cucumber: 12'
    """
    unit = "lb" if units == "us" else "kg"
    amounts = []
    count, mass = record["count"], record["mass_kg"]
    if count is not None:
        amounts.append("none" if count == 0 else f"{count:g}")
    if mass:
        amounts.append(f"{short_number(mass / KG[unit])} {unit}")
    variety = "" if record["variety"] == UNNAMED else f" {record['variety']}"
    grade = "" if record["grade"] == "good" else f" ({record['grade']})"
    return f"{record['date']} {crop_word(record['crop'])}{variety}: {', '.join(amounts)}{grade}"
