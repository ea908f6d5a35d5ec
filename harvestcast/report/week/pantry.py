"""The part of the week's page that holds the shelf against its targets."""

from __future__ import annotations

import pandas as pd

from harvestcast import figures
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.week import words
from harvestcast.report.week.results import Week
from harvestcast.words import amounts as wording


def pantry(week: Week) -> Piece:
    """Return the shelf against its targets."""
    units = week.units
    kept = set(week.kept_out["product"]) if len(week.kept_out) else set()
    paced = (
        "; each runs out on the day named at the present pace of eating"
        if week.wanted["run_out"].notna().any()
        else ""
    )
    table = page.table(
        week.wanted,
        [
            Cell(heading="Product", words=page.column("label")),
            Cell(heading="Counted in", words=page.column("unit")),
            Cell(heading="On the shelf", words=lambda row: _jars(row["stock_jars"]), number=True),
            Cell(heading="Wanted", words=lambda row: _jars(row["wanted_jars"]), number=True),
            Cell(
                heading="This plan adds",
                words=lambda row: (
                    "none, see below" if row["product"] in kept else _jars(row["planned_jars"])
                ),
                number=True,
            ),
            Cell(heading="Target", words=lambda row: _jars(row["target_jars"]), number=True),
            Cell(heading="Empty by", words=lambda row: _empty(row, week)),
        ],
        caption="Shelf, plan and target in the size named: a quart is two pints; wanted is what "
        "the shelf lacks of its target at the season's end, when some of today's is eaten or past "
        f"its best{paced}",
        empty="No targets are set in garden.toml and nothing stands in pantry.csv.",
        stacked=True,
    )
    if not len(week.wanted):
        return table
    title = "The pantry against its targets"
    named = week.wanted["label"] + ", " + week.wanted["unit"]
    shown = week.wanted.assign(label=named)
    ax = figures.pantry_shelf(shown, units=units, title=title)
    alt = figures.pantry_shelf_alt(shown, units=units, title=title)
    out = [wording.sentence(f"{n}: {why}") for n, why in words.kept_out_words(week.kept_out)]
    said = page.bullets(out, "") if out else Piece("")
    return page.join([table, said, page.grid([page.figure(ax, alt)], "")])


def _empty(row: pd.Series, week: Week) -> str:
    """Return when a shelf is eaten, or how much of it keeps less long than that."""
    if pd.isna(row["run_out"]):
        return ""
    late = row.get("unfinished_jars", float("nan"))
    if late >= 0.5:
        return f"{late:.0f} of {_jars(row['stock_jars'])} past their best before they are eaten"
    return f"{wording.day(row['run_out'], week.units, weekday=False)}, {row['run_out'].year}"


def _jars(value: float) -> str:
    return wording.plain_number(float(value), 1) if pd.notna(value) else wording.UNKNOWN
