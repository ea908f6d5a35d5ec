"""A blank picking sheet, and a spreadsheet to type picks into."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.records.garden import Garden
from harvestcast.records.tables.findings import refuse
from harvestcast.records.tables.spreadsheets import read_tables
from harvestcast.records.typed.crops import PERENNIALS
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.records.writing.one_pick import PICK_HEADINGS, safe_text
from harvestcast.records.writing.safely import cannot_write, new_file, replace_file

if TYPE_CHECKING:
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

ROWS_TO_TYPE = 1000
"""Lines of the spreadsheet that carry the drop-down lists."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One line of the blank picking sheet: a crop and variety, and the unit it is weighed in."""

    crop: str
    variety: str
    bed: str
    unit: str


def sheet_lines(garden: Garden, year: int | None = None) -> tuple[SheetLine, ...]:
    """Return the lines of a picking sheet, from the garden's own crops.

    Parameters
    ----------
    garden : Garden
        Garden.
    year : int, optional
        Only what was planted in that year, and perennials; left out: the last year in which
        anything was planted.

    Returns
    -------
    tuple of SheetLine
        One line a crop and variety, in the order of their names; crops that have settings
        but no planting follow without a variety.
    """
    plantings = garden.plantings
    seasons = garden.seasons
    years = seasons.of_each(plantings["date"])
    if year is None and years.notna().any():
        year = int(years.max())
    # Garlic stands from the year before; what was removed before this year is gone.
    near = years.isna() | (years == year) | _perennial(plantings, garden)
    if year is not None:
        before = seasons.span(year).start - pd.Timedelta(days=153)
        near |= (years == year - 1) & (plantings["date"] >= before)
        near &= plantings["removed"].isna() | (seasons.of_each(plantings["removed"]) >= year)
    unit = "lb" if garden.household.units == "us" else "kg"
    lines: dict[tuple[str, str], SheetLine] = {}
    words = garden.crop_words
    for row in plantings[near].to_dict("records"):
        crop, variety = words.get(str(row["crop"]), str(row["crop"])), str(row["variety"])
        bed = "" if pd.isna(row["bed"]) else str(row["bed"])
        known = lines.get((crop, variety))
        beds = sorted({b for b in (*(known.bed.split(", ") if known else ()), bed) if b})
        lines[crop, variety] = SheetLine(
            crop=crop,
            variety="" if variety == UNNAMED else variety,
            bed=", ".join(beds),
            unit=unit,
        )
    planted = {crop for crop, _ in lines}
    for crop in (words.get(name, name) for name in garden.household.crops):
        if crop not in planted:
            lines[crop, ""] = SheetLine(crop=crop, variety="", bed="", unit=unit)
    return tuple(lines[key] for key in sorted(lines))


def _perennial(plantings: pd.DataFrame, garden: Garden) -> pd.Series:
    own = {crop for crop, settings in garden.household.crops.items() if settings.perennial}
    return plantings["crop"].isin(PERENNIALS | own)


def write_template(garden: Garden, path: str | Path, year: int | None = None) -> Path:
    """Write a spreadsheet with drop-down lists of the garden's crops, varieties and grades.

    Parameters
    ----------
    garden : Garden
        Garden.
    path : str or pathlib.Path
        New .xlsx file; one that begins with ``picks`` is read as a pick log where it stands
        in the garden folder. A sheet that was written before and is blank still is written anew.
    year : int, optional
        As for :func:`sheet_lines`.

    Raises
    ------
    harvestcast.errors.InputError
        Where the file exists and is no blank sheet, or cannot be written.
    """
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    target = Path(path)
    lines = sheet_lines(garden, year)
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "picks"
    heading = PICK_HEADINGS[garden.household.units]
    for column, name in enumerate(heading, 1):
        sheet.cell(1, column, name).font = Font(bold=True)
        sheet.column_dimensions[get_column_letter(column)].width = 14
    sheet.freeze_panes = "A2"
    lists = book.create_sheet("lists")
    _lists(sheet, lists, heading, [(line.crop, line.variety) for line in lines])
    content = io.BytesIO()
    try:
        book.save(content)  # by way of the system's temporary folder
    except OSError as error:
        raise cannot_write(target.name, error) from None
    if is_blank_sheet(target):
        replace_file(target, content.getvalue())
        return target
    try:
        new_file(target, content.getvalue())
    except FileExistsError:
        raise refuse("sheet.exists", target.name, free=free_sheet(target).name) from None
    return target


def is_blank_sheet(path: str | Path) -> bool:
    """Return whether a file is a spreadsheet of :func:`write_template` with nothing typed in."""
    target = Path(path)
    if target.suffix.casefold() != ".xlsx" or not target.is_file():
        return False
    try:
        tables = read_tables(target)
    except InputError:
        return False
    headings = {tuple(heading) for heading in PICK_HEADINGS.values()}
    return len(tables) == 1 and tables[0].heading in headings and not tables[0].rows


def free_sheet(path: str | Path) -> Path:
    """Return the path itself where it is free or a blank sheet, else one beside it that is."""
    target = Path(path)
    names = [target, *(target.with_stem(f"{target.stem}-{n}") for n in range(2, 1000))]
    return next((p for p in names if not p.exists() or is_blank_sheet(p)), target)


def _lists(
    sheet: Worksheet, lists: Worksheet, heading: tuple[str, ...], pairs: list[tuple[str, str]]
) -> None:
    """Write the lists to a hidden sheet and tie the columns of the log to them."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    lists.sheet_state = "hidden"  # the reader of pick logs passes over hidden sheets
    crops = sorted({crop for crop, _ in pairs})
    for row, crop in enumerate(crops, 1):
        _text(lists, row, 1, crop)
    varieties = [(crop, variety) for crop, variety in pairs if variety]
    for row, (crop, variety) in enumerate(varieties, 1):
        _text(lists, row, 3, crop)
        _text(lists, row, 4, variety)
    last = ROWS_TO_TYPE + 1
    letters = {name: get_column_letter(n) for n, name in enumerate(heading, 1)}
    weight = next(name for name in heading if name.startswith("weight"))
    crop_cell = f"${letters['crop']}2"
    # Varieties stand sorted by crop, so those of one crop are one block of the list.
    block = (
        f"OFFSET(lists!$D$1,MATCH({crop_cell},lists!$C:$C,0)-1,0,"
        f"COUNTIF(lists!$C:$C,{crop_cell}),1)"
    )
    rules: dict[str, DataValidation] = {"grade": _choice('"good,oversize,damaged"', strict=True)}
    if crops:
        rules["crop"] = _choice(f"lists!$A$1:$A${len(crops)}", strict=False)
    if varieties:
        rules["variety"] = _choice(block, strict=False)
    for name in ("count", weight):
        rules[name] = DataValidation(
            type="decimal", operator="greaterThanOrEqual", formula1="0", allow_blank=True
        )
        rules[name].error = "Type a number; 0 where you looked and found none."
        rules[name].showErrorMessage = True
    for name, rule in rules.items():
        rule.add(f"{letters[name]}2:{letters[name]}{last}")
        sheet.add_data_validation(rule)
    for row in range(2, last + 1):
        sheet[f"{letters['date']}{row}"].number_format = "yyyy-mm-dd"


def _choice(formula: str, *, strict: bool) -> DataValidation:
    from openpyxl.worksheet.datavalidation import DataValidation

    rule = DataValidation(type="list", formula1=formula, allow_blank=True)
    # A new crop or variety may be typed; the program only asks whether it is meant.
    rule.errorStyle = "stop" if strict else "warning"
    rule.error = "This is not in the list." if strict else "This is not in the list. Keep it?"
    rule.showErrorMessage = True
    return rule


def _text(sheet: Worksheet, row: int, column: int, text: str) -> None:
    cell = sheet.cell(row, column, safe_text(text))
    cell.data_type = "s"
