"""A blank picking sheet: one page of paper for a week, for a pencil."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from harvestcast.records.writing.report_file import GENERATOR, write_page
from harvestcast.records.writing.sheet import sheet_lines
from harvestcast.report.html import page
from harvestcast.report.html.render import TEMPLATE
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
ONE_PAGE = 34
"""Varieties that fit on one page beside each other's days."""

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
        f"{GENERATOR}"
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


def write_sheet(garden: Garden, out: str | Path) -> Path:
    """Write the sheet to print; whole or not at all."""
    return write_page(out, picking_sheet(garden))
