"""Workbooks as households really keep them, each with the picks that stand in it.

The gardens, people and varieties are invented. Every maker writes one workbook and returns its
picks as (date, crop, variety, count, kg); unknown is None. Whoever reads the workbook back must
find just these.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from harvestcast.units import KG_PER_LB, KG_PER_OZ

Pick = tuple[dt.date, str, str, float | None, float | None]

YELLOW = PatternFill("solid", fgColor="FFF2CC")
GREEN = PatternFill("solid", fgColor="C6E0B4")
RED = PatternFill("solid", fgColor="F8CBAD")
THIN = Border(bottom=Side(style="thin"))
BOLD = Font(bold=True)
MIDDLE = Alignment(horizontal="center")


def a_sheet_a_month(path: Path) -> list[Pick]:
    """Write a calendar: a sheet a month, merged crops over merged varieties over units.

    Days stand as "1 July" without a year; the totals of the month stand below, those of the day
    on the right; what was a good day is coloured.
    """
    kinds = [("Tomatoes", "Copperkin"), ("Tomatoes", "Kettle Red"), ("Cucumbers", "Long Friar"),
             ("Silverbeet", "")]  # fmt: skip
    book = openpyxl.Workbook()
    book.remove(book.active)
    picks: list[Pick] = []
    for month, name, days in ((7, "July", 31), (8, "Aug", 31)):
        sheet = book.create_sheet(name)
        sheet["A1"] = f"The Quillmarsh plot - what came in, {name} 2025"
        sheet["A1"].font = Font(bold=True, size=16)
        sheet.merge_cells("A1:J1")
        # Row 2 is left empty.
        sheet["A3"], sheet["B3"] = "", "Day"
        sheet.merge_cells("C3:F3")
        sheet["C3"] = "Tomatoes"
        sheet.merge_cells("G3:H3")
        sheet["G3"] = "Cucumbers"
        sheet.merge_cells("I3:J3")
        sheet["I3"] = "Silverbeet"
        for left, (_, variety) in zip("CEGI", kinds, strict=True):
            right = chr(ord(left) + 1)
            sheet[f"{left}4"] = variety or None
            sheet.merge_cells(f"{left}4:{right}4")
            sheet[f"{left}5"], sheet[f"{right}5"] = "counted (each)", "weighed (kg)"
        sheet["K3"], sheet["K5"] = "All together", "kg"
        sheet["L3"] = "Remarks"
        for row in (3, 4, 5):
            for cell in sheet[row]:
                cell.font, cell.fill, cell.alignment = BOLD, GREEN, MIDDLE
        sheet.freeze_panes = "C6"
        line = 6
        for day in range(1, days + 1):
            date = dt.date(2025, month, day)
            sheet.cell(line, 1, date.strftime("%a"))
            sheet.cell(line, 2, f"{day} {name}")
            whole = 0.0
            for n, (crop, variety) in enumerate(kinds):
                if (day + 2 * n) % 3 or (month == 7 and day < 9):
                    continue
                count: float | None = 3 + (day * (n + 2)) % 11
                kg: float | None = round(0.13 * (count or 0) * (1 + n / 4), 2)
                if crop == "Silverbeet":
                    count = None
                elif day % 2:
                    kg = None
                sheet.cell(line, 3 + 2 * n, count)
                sheet.cell(line, 4 + 2 * n, kg)
                whole += kg or 0.0
                canon = {"Tomatoes": "tomato", "Cucumbers": "cucumber"}.get(crop, "chard")
                picks.append((date, canon, variety, count, kg))
                if kg and kg > 1.2:
                    sheet.cell(line, 4 + 2 * n).fill = YELLOW
            sheet.cell(line, 11, round(whole, 2) if whole else None)
            if day == 12:
                sheet.cell(line, 12, "hail in the night")
            line += 1
        sheet.cell(line, 1, "Total").font = BOLD
        for column in range(3, 12):
            letter = get_column_letter(column)
            cells = [sheet.cell(row, column).value for row in range(6, line)]
            # Spreadsheets keep the value beside the formula; a file made here has only one of them.
            sheet[f"{letter}{line}"] = round(sum(float(v) for v in cells if v), 2)
            sheet[f"{letter}{line}"].fill = RED
    book.save(path)
    return picks


def a_sheet_a_crop(path: Path) -> list[Pick]:
    """Write a sheet a crop with a block a variety side by side, and sums and means under each."""
    crops = {
        "French beans": ("snap bean", ["Patterwick", "Tall Osric"]),
        "Courgettes": ("zucchini", ["Barge Pole"]),
        "Toms": ("tomato", ["Copperkin", "Kettle Red", "Marsh Bishop"]),
    }
    book = openpyxl.Workbook()
    info = book.active
    info.title = "Read me"
    info["A1"] = "Blue = weighed on the old scales. Sums are at the bottom of each block!"
    info["A2"] = "Beds: A north, B by the wall"
    picks: list[Pick] = []
    for k, (name, (crop, varieties)) in enumerate(crops.items()):
        sheet = book.create_sheet(name)
        for n, variety in enumerate(varieties):
            left = 1 + 4 * n
            sheet.cell(1, left, variety).font = BOLD
            sheet.merge_cells(start_row=1, start_column=left, end_row=1, end_column=left + 2)
            for column, heading in enumerate(("Date", "counted (each)", "weighed (kg)")):
                sheet.cell(2, left + column, heading).border = THIN
            line = 3
            for step in range(14 - 3 * n):
                date = dt.date(2025, 7, 3 + k + n) + dt.timedelta(days=3 * step)
                count: float | None = 4 + (5 * step + n) % 9
                kg: float | None = round((0.02, 0.3, 0.15)[k] * (count or 0) + 0.01 * step, 3)
                if step % 4 == 1:
                    count = None
                sheet.cell(
                    line, left, dt.datetime.combine(date, dt.time())
                ).number_format = "d/m/yy"
                sheet.cell(line, left + 1, count)
                sheet.cell(line, left + 2, kg)
                if step % 5 == 0:
                    sheet.cell(line, left + 2).fill = PatternFill("solid", fgColor="9DC3E6")
                picks.append((date, crop, variety, count, kg))
                line += 1
            sheet.cell(line + 1, left, "TOTAL").font = BOLD
            own = [p for p in picks if p[1:3] == (crop, variety)]
            sheet.cell(line + 1, left + 1, sum(p[3] or 0 for p in own))
            sheet.cell(line + 1, left + 2, round(sum(p[4] or 0 for p in own), 3))
            sheet.cell(line + 2, left, "average")
            sheet.cell(line + 2, left + 2, round(sum(p[4] or 0 for p in own) / len(own), 3))
    book.save(path)
    return picks


def a_running_list(path: Path) -> list[Pick]:
    """Write a long list: the day only once, two varieties in one cell, a sum after each week."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Sheet1"
    sheet["A1"] = "PICKING 2025"
    sheet.merge_cells("A1:F1")
    headings = ("When", "What we picked", "Which kind", "How many", "Weight", "who")
    for column, heading in enumerate(headings, 1):
        sheet.cell(2, column, heading).font = BOLD
    picks: list[Pick] = []
    line, week = 3, [0, 0.0]
    for step in range(24):
        date = dt.date(2025, 7, 14) + dt.timedelta(days=step)
        rows: list[tuple[str, str, Any, Any, str]] = [
            ("Tomatoes", "Copperkin & Kettle Red" if step % 3 == 0 else "Copperkin",
             6 + step % 5, f"{1 + step % 3} lb {step % 7 + 1} oz", "tomato"),
            ("Tomatoes", "Kettle Red" if step % 2 else "Copperkin/Kettle Red", 3, None, "tomato"),
            ("Broad beans", "", None, f"{8 + step} oz", "fava bean"),
        ]  # fmt: skip
        for n, (crop, variety, count, weight, canon) in enumerate(rows):
            if (step + n) % 4 == 3:
                continue
            sheet.cell(
                line,
                1,
                date.strftime("%d %b").lstrip("0") if not _dated(sheet, line, date) else None,
            )
            sheet.cell(line, 2, crop)
            sheet.cell(line, 3, variety or None)
            sheet.cell(line, 4, count)
            sheet.cell(line, 5, weight)
            sheet.cell(line, 6, "me" if n else "Jo")
            kg = _kg(weight)
            two = "&" in variety or "/" in variety
            picks.append((date, canon, "" if two else variety, count, kg))
            week[0] += count or 0
            week[1] += kg or 0.0
            line += 1
        if step % 7 == 6:
            sheet.cell(line, 1, "week total").fill = YELLOW
            sheet.cell(line, 4, week[0])
            sheet.cell(line, 5, f"{week[1] / KG_PER_LB:.1f} lb")
            line, week = line + 2, [0, 0.0]
    sheet.cell(line, 1, "Grand total").font = BOLD
    sheet.cell(line, 4, sum(p[3] or 0 for p in picks))
    book.save(path)
    return picks


def _dated(sheet: Any, line: int, date: dt.date) -> bool:
    """Return whether the day stands in a line above already."""
    said = date.strftime("%d %b").lstrip("0")
    return any(sheet.cell(row, 1).value == said for row in range(max(3, line - 3), line))


def _kg(weight: str | None) -> float | None:
    if weight is None:
        return None
    words = weight.split()
    factors = {"lb": KG_PER_LB, "oz": KG_PER_OZ}
    return sum(float(n) * factors[unit] for n, unit in zip(words[::2], words[1::2], strict=True))
