"""A blank picking sheet: one page of paper for a week, for a pencil."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from harvestcast.records.writing.report_file import write_page
from harvestcast.records.writing.sheet import sheet_lines
from harvestcast.report.html.page import templates
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
ONE_PAGE = 34
"""Varieties that fit on one page beside each other's days."""


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
    rows = sheet_lines(garden)
    unit = wording.mass_unit(garden.household.units)
    place = garden.household.place or garden.name
    spare = max(3, min(8, 20 - len(rows)))
    height = max(3.6, min(9.0, 150 / (len(rows) + spare)))
    names = [", ".join(x for x in (row.crop, row.variety) if x) for row in rows] + [""] * spare
    return (
        templates()
        .get_template("picks.html.j2")
        .render(
            title=f"Picks: {place}",
            unit=unit,
            names=names,
            days=DAYS,
            row_mm=f"{height:.1f}",
            letters_pt=f"{max(6.5, min(10.0, 1.9 * height)):.1f}",
        )
    )


def write_sheet(garden: Garden, out: str | Path) -> Path:
    """Write the sheet to print; whole or not at all."""
    return write_page(out, picking_sheet(garden))
