"""Blank sheets to write picks on: one page of paper, or a spreadsheet with drop-downs."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.records.writing import replace_file
from harvestcast.report import page
from harvestcast.report.notebook import TEMPLATE
from harvestcast.report.wording import Units, clean

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
ONE_PAGE = 34
"""Varieties that fit on one page beside each other's days."""
ROWS = 1000
"""Rows of the spreadsheet that have drop-downs."""

_STYLE = """
@page { size: landscape; margin: 10mm; }
.blank-sheet { max-width: none; padding: 0 1rem; }
.blank-sheet h1 { font-size: 15pt; margin: 0.2rem 0; }
.blank-sheet p { font: 9pt/1.3 var(--plain); margin: 0 0 0.3rem; max-width: none; }
.blank-sheet table { table-layout: fixed; }
.blank-sheet th, .blank-sheet td { border: 1px solid #555; padding: 0 0.3rem; font-size: ROWSIZEpt;
  height: ROWHEIGHTmm; vertical-align: middle; overflow: hidden; white-space: nowrap; }
.blank-sheet thead th { height: 6mm; }
.blank-sheet col.name { width: 26%; }
"""


def varieties_of(garden: Garden) -> pd.DataFrame:
    """Return the varieties of the garden's latest season, a row each.

    Parameters
    ----------
    garden : Garden
        The household's log.

    Returns
    -------
    pandas.DataFrame
        ``crop``, ``variety``; sorted. Those planted or picked in the last year of the log, or
        all where that year has none, and plantings without a date.
    """
    parts = [
        garden.plantings[["crop", "variety", "date"]],
        garden.picks[["crop", "variety", "date"]],
    ]
    rows = pd.concat([part for part in parts if len(part)] or [parts[0]], ignore_index=True)
    last = rows["date"].max()
    if pd.notna(last):
        rows = rows.loc[rows["date"].isna() | (rows["date"] > last - pd.Timedelta(days=365))]
    named = rows[["crop", "variety"]].astype(str).drop_duplicates()
    return named.sort_values(["crop", "variety"]).reset_index(drop=True)


def picking_sheet(garden: Garden) -> str:
    """Return one page to print: a row a variety, a column a day, for a pencil.

    Parameters
    ----------
    garden : Garden
        The household's log; its crops and varieties are printed.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    rows = varieties_of(garden)
    unit = "lb" if garden.household.units == "us" else "kg"
    place = garden.household.place or garden.name
    spare = max(3, min(8, 20 - len(rows)))
    height = max(3.6, min(9.0, 150 / (len(rows) + spare)))
    names = [_named(row["crop"], row["variety"]) for _, row in rows.iterrows()] + [""] * spare
    body = "".join(
        f'<tr><th scope="row">{page.text(name)}</th>{"<td></td>" * len(DAYS)}</tr>'
        for name in names
    )
    heads = "".join(f'<th scope="col">{day}</th>' for day in DAYS)
    style = _STYLE.replace("ROWHEIGHT", f"{height:.1f}").replace(
        "ROWSIZE", f"{max(6.5, min(10.0, 1.9 * height)):.1f}"
    )
    css = (TEMPLATE / "style.css").read_text("utf-8") + style
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "img-src data:; style-src 'unsafe-inline'\">"
        f'<link rel="icon" href="data:,"><title>{page.text(f"Picks: {place}")}</title>'
        f'<style>{css}</style></head><body><main class="blank-sheet">'
        f"<h1>{page.text(f'Picks: {place}')}</h1>"
        f"<p>Week from Monday ____________ . Write how many, or the weight with {unit}; 0 where "
        "you looked and found none; nothing where you did not look. A number in a ring is "
        "oversize.</p>"
        f'<div class="table"><table><colgroup><col class="name"></colgroup><thead><tr>'
        f'<th scope="col">Crop and variety</th>{heads}</tr></thead><tbody>{body}</tbody>'
        "</table></div></main></body></html>\n"
    )


def _named(crop: str, variety: str) -> str:
    return crop if variety == "unnamed" else f"{crop}, {variety}"


def write_sheet(garden: Garden, out: str | Path) -> Path:
    """Write the sheet to print; whole or not at all."""
    return _written(out, picking_sheet(garden).encode("utf-8"))


def _written(out: str | Path, content: bytes) -> Path:
    out = Path(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    replace_file(out, content)
    return out


def write_workbook(garden: Garden, out: str | Path) -> Path:
    """Write a spreadsheet for picks, with drop-downs for crop, variety and grade.

    Parameters
    ----------
    garden : Garden
        The household's log; its crops and varieties are offered.
    out : path
        File ending in ``.xlsx``; put beside ``garden.toml`` under a name that starts with
        ``picks`` it is read as part of the log.

    Returns
    -------
    pathlib.Path
    """
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.worksheet.datavalidation import DataValidation

    units: Units = garden.household.units
    heads = ("date", "crop", "variety", "count", f"weight_{'lb' if units == 'us' else 'kg'}",
             "grade", "note")  # fmt: skip
    rows = varieties_of(garden)
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "picks"
    for column, (head, width) in enumerate(zip(heads, (12, 18, 22, 8, 10, 10, 30), strict=True), 1):
        cell = sheet.cell(1, column, head)
        cell.font = Font(bold=True)
        sheet.column_dimensions[cell.column_letter].width = width
    sheet.freeze_panes = "A2"
    for line in range(2, ROWS + 2):
        sheet.cell(line, 1).number_format = "yyyy-mm-dd"
    # The lists stand two columns in, so that no reader takes them for a table of picks.
    lists = book.create_sheet("choices")
    lists.sheet_state = "hidden"
    for line, (_, row) in enumerate(rows.iterrows(), 1):
        for column, value in ((3, clean(row["crop"])), (4, clean(row["variety"]))):
            cell = lists.cell(line, column)
            cell.value = value
            cell.data_type = "s"  # a name that starts with = is a name, not a formula
    crops = list(dict.fromkeys(rows["crop"]))
    for line, crop in enumerate(crops, 1):
        cell = lists.cell(line, 6)
        cell.value = clean(crop)
        cell.data_type = "s"
    varieties = "OFFSET(choices!$D$1,MATCH($B2,choices!$C:$C,0)-1,0,COUNTIF(choices!$C:$C,$B2),1)"
    choices = [("F", '"good,oversize,damaged"')]
    if len(rows):
        choices += [("B", f"choices!$F$1:$F${len(crops)}"), ("C", varieties)]
    for letter, formula in choices:
        # Other names may be typed as well: a garden gets new crops.
        rule = DataValidation(
            type="list", formula1=formula, allow_blank=True, showErrorMessage=False
        )
        sheet.add_data_validation(rule)
        rule.add(f"{letter}2:{letter}{ROWS + 1}")
    number = DataValidation(type="decimal", operator="greaterThanOrEqual", formula1="0",
                            allow_blank=True, errorTitle="picks",
                            error="A count or weight is 0 or more.")  # fmt: skip
    sheet.add_data_validation(number)
    number.add(f"D2:E{ROWS + 1}")
    buffer = io.BytesIO()
    book.save(buffer)
    return _written(out, buffer.getvalue())
