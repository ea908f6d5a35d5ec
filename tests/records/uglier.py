"""Three more workbooks as households keep them; invented, like those of :mod:`tests.records.ugly`.

Written by somebody who had not read the importer. Every maker writes one workbook and returns its
picks as (date, crop, variety, count, kg). What a basket holds is not known, and is no pick here.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter

from harvestcast.units import KG_PER_LB
from tests.records.ugly import Pick

GREY = PatternFill("solid", fgColor="D9D9D9")
PINK = PatternFill("solid", fgColor="F8CBAD")
BOLD = Font(bold=True)


def a_wall_calendar(path: Path) -> list[Pick]:
    """Write a month a sheet, crops down and days across, sums by formula, a year on one sheet only.

    Nothing is stored beside the formulas, as programs leave them that never calculate.
    """
    crops = [("Gurken (Stk)", "cucumber", "each"), ("Tomaten (kg)", "tomato", "kg"),
             ("Zucchini (Stk)", "zucchini", "each"), ("Mangold (g)", "chard", "g")]  # fmt: skip
    book = openpyxl.Workbook()
    book.remove(book.active)
    picks: list[Pick] = []
    for month, name, days in ((7, "Juli 2025", 31), (8, "August", 31), (9, "September", 30)):
        sheet = book.create_sheet(name)
        sheet["A1"] = f"Ernte {name}"
        sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=days + 2)
        sheet.cell(2, 1, "Gemüse").font = BOLD
        for day in range(1, days + 1):
            sheet.cell(2, day + 1, day).fill = GREY
            if dt.date(2025, month, day).weekday() > 4:
                sheet.cell(2, day + 1).fill = PINK
        sheet.cell(2, days + 2, "Summe").font = BOLD
        for line, (heading, crop, unit) in enumerate(crops, 3):
            sheet.cell(line, 1, heading)
            for day in range(1, days + 1):
                if (day * (line + month)) % 5 != 1:
                    continue
                number = 1 + (day + line) % 6
                value = {"each": number, "kg": number / 4, "g": 50 * number}[unit]
                sheet.cell(line, day + 1, value)
                kg = {"each": None, "kg": value, "g": value / 1000}[unit]
                date = dt.date(2025, month, day)
                picks.append((date, crop, "", value if unit == "each" else None, kg))
            last = get_column_letter(days + 1)
            sheet.cell(line, days + 2, f"=SUM(B{line}:{last}{line})")
        sheet.cell(line + 1, 1, "Summe")
        for day in range(1, days + 1):
            letter = get_column_letter(day + 1)
            sheet.cell(line + 1, day + 1, f"=SUM({letter}3:{letter}{line})")
    book.save(path)
    return picks


def a_sheet_a_crop_with_months(path: Path) -> list[Pick]:
    """Write a sheet a crop: months in merged cells, weights as they are said, sums by formula.

    One sheet has no year; those beside it have one in their title.
    """
    book = openpyxl.Workbook()
    book.remove(book.active)
    picks: list[Pick] = []
    for n, (name, title, crop) in enumerate((
        ("Tomatoes", "Tomatoes 2025 - tunnel", "tomato"),
        ("Runner beans", "Runner beans 2025", "snap bean"),
        ("Courgettes", "Courgettes by the shed", "zucchini"),
    )):  # fmt: skip
        sheet = book.create_sheet(name)
        sheet["A1"] = title
        sheet["A1"].font = Font(bold=True, size=14)
        for column, heading in enumerate(("Month", "Day", "How much", "Remarks"), 1):
            sheet.cell(3, column, heading).font = BOLD
        line = 4
        for month, said in ((7, "July"), (8, "August")):
            first = line
            for step in range(8):
                day = 2 + 3 * step + n
                kg = round(0.4 + 0.3 * ((step + n) % 5), 1)
                words = (f"{kg} kg", f"ca. {kg} kg", f"{round(kg * 1000)}g")[step % 3]
                sheet.cell(line, 2, day)
                sheet.cell(line, 3, words)
                if step == 4:
                    sheet.cell(line, 4, "after rain")
                    sheet.cell(line, 3).comment = Comment("Jo weighed it", "me")
                if kg > 1.2:
                    sheet.cell(line, 3).fill = PINK
                picks.append((dt.date(2025, month, day), crop, "", None, kg))
                line += 1
            sheet.cell(first, 1, said)
            sheet.merge_cells(start_row=first, start_column=1, end_row=line - 1, end_column=1)
            sheet.cell(line, 1, "sum")
            sheet.cell(line, 3, f"=SUM(C{first}:C{line - 1})")
            line += 1
    book.save(path)
    return picks


def blocks_with_baskets(path: Path) -> list[Pick]:
    """Write a block a crop side by side: a row of units, two varieties in a cell, some baskets."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "2025"
    blocks = [
        ("Tomatoes", ["Copperkin", "Copperkin + Kettle Red"], "tomato"),
        ("Cucumbers", ["Long Friar", "Long Friar / Crispwick", "Crispwick"], "cucumber"),
    ]
    picks: list[Pick] = []
    for n, (name, varieties, crop) in enumerate(blocks):
        left = 1 + 5 * n
        sheet.cell(1, left, name).font = BOLD
        sheet.merge_cells(start_row=1, start_column=left, end_row=1, end_column=left + 3)
        for column, (heading, unit) in enumerate(
            (("Date", ""), ("Variety", ""), ("Number", "pcs"), ("Weight", "lb"))
        ):
            sheet.cell(2, left + column, heading).font = BOLD
            sheet.cell(3, left + column, unit or None).fill = GREY
        line = 4
        for step in range(12):
            date = dt.date(2025, 7, 6) + dt.timedelta(days=2 * step + n)
            for k, variety in enumerate(varieties[: 1 + step % len(varieties)]):
                count: Any = 3 + (step + 2 * k) % 7
                pounds: Any = round(0.3 * count + 0.1 * step, 1)
                if (step + k) % 4 == 3:
                    count = None
                cell: Any = f"about {pounds}" if step % 5 == 2 else pounds
                sheet.cell(line, left, f"{date.month}/{date.day}" if k == 0 else None)
                sheet.cell(line, left + 1, variety)
                sheet.cell(line, left + 2, count)
                sheet.cell(line, left + 3, cell)
                two = "+" in variety or "/" in variety
                if step == 7 and k == 0:  # nobody knows what a basket holds
                    sheet.cell(line, left + 2, None)
                    sheet.cell(line, left + 3, "1 basket")
                else:
                    picks.append((date, crop, "" if two else variety, count, pounds * KG_PER_LB))
                line += 1
        sheet.cell(line, left, "Total").font = BOLD
        for column in (2, 3):
            letter = get_column_letter(left + column)
            sheet.cell(line, left + column, f"=SUM({letter}4:{letter}{line - 1})")
    book.save(path)
    return picks
