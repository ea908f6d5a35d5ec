"""Spreadsheet files (.xlsx, .ods) as tables of text, within limits that stop a packed bomb."""

from __future__ import annotations

import datetime as dt
import io
import math
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import IO, Any
from xml.etree import ElementTree

from harvestcast.errors import InputError
from harvestcast.records.tables.findings import refuse
from harvestcast.records.tables.text import (
    MOST_COLUMNS,
    Table,
    check_row,
    looks_like_heading,
    parse_text,
    read_bytes,
    to_table,
)

MOST_UNPACKED = 64 * 1024**2
"""Largest total size of a workbook once unpacked."""
MOST_TAGS = 3_000_000
"""Most tags of a workbook, all parts together: three quarters of a million cells."""
MOST_OTHER_TAGS = 300_000
"""Most tags in a part that holds neither cells nor texts: styles and the like, slow to read."""
MOST_CELLS = 4_000_000
"""Most cells of a workbook, empty and repeated ones counted too."""
SHEET_KINDS = (".xlsx", ".ods")
_LAST_ROW = 1_048_576
_LAST_COLUMN = 16_384 + MOST_COLUMNS
_FORMULA = re.compile(rb"<(\w{1,20}:)?f[\s/>]")
_HOLDS_CELLS = re.compile(rb"<(\w{1,20}:)?(sheetData|sst|table-row)[\s/>]")


def read_tables(path: Path, name: str | None = None, *, hidden: bool = False) -> tuple[Table, ...]:
    """Return every table of a file: one of a text file, one a sheet of a workbook.

    Parameters
    ----------
    path : pathlib.Path
        A delimited text file, .xlsx or .ods.
    name : str, optional
        Name to use in messages.
    hidden : bool
        Whether sheets that are hidden in the workbook are read too.

    Raises
    ------
    harvestcast.errors.InputError
        Where it cannot be read.
    """
    file = name or path.name
    content = read_bytes(path, file)
    if path.suffix.casefold() not in SHEET_KINDS:
        table = parse_text(content, file)
        return (table,) if table.heading else ()
    formulas = _formulas(content, file)
    try:
        if path.suffix.casefold() == ".ods":
            tables = list(_ods(content, file))
        else:
            tables = list(_xlsx(content, file, formulas=formulas, hidden=hidden))
    except InputError:
        raise
    except Exception:  # a hostile workbook can break the reading library anywhere
        raise refuse("sheet.damaged", file) from None
    return tuple(table for table in tables if table.heading)


def main_table(tables: tuple[Table, ...], file: str) -> Table:
    """Return the table to read where only one is wanted: the longest that has a heading."""
    if not tables:
        return Table(file=file, heading=(), heading_line=1, rows=())
    return max(tables, key=lambda t: (looks_like_heading(t.heading), len(t.rows)))


def _formulas(content: bytes, file: str) -> bool:
    """Look through a packed file before it is opened; return whether a sheet holds formulas.

    Raises
    ------
    harvestcast.errors.InputError
        Where it is larger than the limits, or holds what no spreadsheet needs.
    """
    formulas, tags = False, 0
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            members = packed.infolist()
            if len(members) > 2000 or sum(m.file_size for m in members) > MOST_UNPACKED:
                raise refuse("sheet.unpacked", file, mb=MOST_UNPACKED // 1024**2)
            for member in members:
                if member.flag_bits & 1:
                    raise refuse("sheet.locked", file)
                # Whatever its name: the list of contents may call any part a sheet.
                with packed.open(member) as part:
                    seen = _look_through(part, file, MOST_TAGS - tags)
                formulas |= seen.formulas
                tags += seen.tags
    except InputError:
        raise
    except Exception:  # zipfile raises many kinds for damaged archives
        raise refuse("sheet.none", file) from None
    return formulas


@dataclass(frozen=True, slots=True)
class _Seen:
    """What stands in a part of a packed file."""

    tags: int
    formulas: bool


def _look_through(part: IO[bytes], file: str, most: int) -> _Seen:
    tags, formulas, cells, tail = 0, False, False, b""
    while block := part.read(1 << 20):
        # Zero bytes stand between the letters of UTF-16, which is allowed in a part.
        plain = tail + block.replace(b"\0", b"")
        # Neither format needs a document type; it only serves entity bombs.
        if b"<!DOCTYPE" in plain:
            raise refuse("sheet.not_plain", file)
        tags += block.count(b"<")
        formulas |= _FORMULA.search(plain) is not None
        cells |= _HOLDS_CELLS.search(plain) is not None
        tail = plain[-40:]
        if tags > (most if cells else min(most, MOST_OTHER_TAGS)):
            raise _too_many_cells(file)
    return _Seen(tags, formulas)


def cell_text(value: Any) -> str:
    """Return a spreadsheet cell as the text a person would type.

    Examples
    --------
    >>> cell_text(12.0), cell_text(dt.datetime(2026, 7, 5)), cell_text(None)
    ('12', '2026-07-05', '')
    """
    if value is None:
        return ""
    if isinstance(value, dt.datetime):
        return value.date().isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else repr(float(value))
    if isinstance(value, float):
        if not math.isfinite(value) or abs(value) >= 1e15:
            return repr(value)
        plain = f"{value:.10f}".rstrip("0").rstrip(".")
        # Three decimals read like a thousands mark; a cell that holds a number is no such case.
        return f"{plain}0" if re.fullmatch(r"-?\d+\.\d{3}", plain) else plain
    return str(value).strip()


def _xlsx(content: bytes, file: str, *, formulas: bool, hidden: bool) -> Iterator[Table]:
    import openpyxl

    values = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    typed = (
        openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=False)
        if formulas
        else None
    )
    lines = count = 0
    try:
        for sheet in values.worksheets:
            if sheet.sheet_state != "visible" and not hidden:
                continue
            # The size a sheet claims may be false in either direction; only its cells count.
            sheet.reset_dimensions()
            rows: list[tuple[int, tuple[str, ...]]] = []
            twin = None
            if typed is not None:
                typed[sheet.title].reset_dimensions()
                twin = typed[sheet.title].iter_rows(values_only=True)
            for line, cells in enumerate(sheet.iter_rows(values_only=True), 1):
                # One part may be named as many sheets, so all of them are counted together.
                lines += 1
                count += len(cells)
                if lines > _LAST_ROW:
                    raise refuse("sheet.too_many", file, what="rows")
                if count > MOST_CELLS:
                    raise _too_many_cells(file)
                source = next(twin, ()) if twin is not None else ()
                texts = _row(cells, file, line, len(rows))
                kept = list(texts)
                for n, (text, formula) in enumerate(zip_longest(texts, source, fillvalue="")):
                    if not text and isinstance(formula, str) and formula.startswith("="):
                        if not is_sum(formula):
                            raise refuse("sheet.formula", file, line, "", formula)
                        kept += [""] * (n + 1 - len(kept))
                        kept[n] = formula
                texts = tuple(kept)
                if any(texts):
                    rows.append((line, texts))
            yield to_table(rows, file, sheet=sheet.title)
    finally:
        values.close()
        if typed is not None:
            typed.close()


def is_sum(formula: str) -> bool:
    """Return whether a formula sums up other cells; without a stored result it stays as typed.

    A sum of picks is no pick, so nobody needs its result. Where one is wanted it is no number.

    Examples
    --------
    >>> is_sum("=SUM(B3:B9)"), is_sum("= average(B3:B9)"), is_sum("=B3*0.45"), is_sum("12")
    (True, True, False, False)
    """
    return re.match(r"=\s*(SUM|AVERAGE|SUBTOTAL|COUNTA?|MIN|MAX)\(", formula, re.I) is not None


def _too_many_cells(file: str) -> InputError:
    return refuse("sheet.cells", file)


def _row(cells: tuple[Any, ...], file: str, line: int, number: int) -> tuple[str, ...]:
    texts = [cell_text(cell) for cell in cells[: MOST_COLUMNS * 40]]
    while texts and not texts[-1]:
        texts.pop()
    check_row(texts, file, line, number)
    return tuple(texts)


_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def _ods(content: bytes, file: str) -> Iterator[Table]:
    """Read an OpenDocument spreadsheet (ISO/IEC 26300-3) row by row.

    Streamed, because a sheet may claim a million repeated empty rows and a reader that
    builds the whole document would build them.
    """
    with zipfile.ZipFile(io.BytesIO(content)) as packed, packed.open("content.xml") as part:
        rows: list[tuple[int, tuple[str, ...]]] = []
        line, title, depth, count = 1, "", 0, 0
        holder: ElementTree.Element | None = None
        for event, element in ElementTree.iterparse(part, events=("start", "end")):
            if element.tag == f"{_TABLE}table":
                depth += 1 if event == "start" else -1
                if event == "start":
                    holder = element
                    rows, line, title = [], 1, element.get(f"{_TABLE}name", "")
                elif depth == 0:
                    yield to_table(rows, file, sheet=title)
                    element.clear()
            elif event == "end" and element.tag == f"{_TABLE}table-row":
                repeated = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
                texts = _ods_row(element, file, line)
                check_row(texts, file, line, len(rows) + (repeated if texts else 0))
                count += len(texts) * repeated
                if count > MOST_CELLS:
                    raise _too_many_cells(file)
                if texts:
                    cells = tuple(texts)
                    rows.extend((line + n, cells) for n in range(repeated))
                line += repeated
                element.clear()
                if holder is not None:
                    holder.clear()  # or a million emptied rows would pile up below it


def _ods_row(row: ElementTree.Element, file: str, line: int) -> list[str]:
    texts: list[str] = []
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        repeated = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
        kind = cell.get(f"{_OFFICE}value-type", "")
        if kind == "date":
            text = cell.get(f"{_OFFICE}date-value", "")[:10]
        elif kind in ("float", "currency"):
            text = cell_text(float(cell.get(f"{_OFFICE}value", "nan")))
        else:
            # Paragraphs right below the cell; those of a comment or a drawing lie deeper.
            text = " ".join("".join(_words(p)) for p in cell.findall(f"{_TEXT}p")).strip()
        if not text and (formula := cell.get(f"{_TABLE}formula")):
            text = formula.partition(":")[2]
            if not is_sum(text):
                raise refuse("sheet.formula", file, line)
        # Empty cells are commonly repeated to the right edge of the sheet.
        texts.extend([text] * min(repeated, MOST_COLUMNS + 1))
        if len(texts) > _LAST_COLUMN:
            raise refuse("sheet.too_many", file, line, what="columns")
    while texts and not texts[-1]:
        texts.pop()
    return texts


def _words(paragraph: ElementTree.Element) -> Iterator[str]:
    """Yield the pieces of a paragraph; a mark for a space, tab or new line is a space."""
    yield paragraph.text or ""
    for child in paragraph:
        if child.tag in (f"{_TEXT}s", f"{_TEXT}tab", f"{_TEXT}line-break"):
            yield " "
        elif child.tag != f"{_OFFICE}annotation":
            yield from _words(child)
        yield child.tail or ""
