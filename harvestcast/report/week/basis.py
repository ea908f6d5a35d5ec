"""Parts of the week's page that say what it rests on: cautions, checks, data, notices."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.week.results import Week
from harvestcast.words import amounts as wording


def cautions(week: Week) -> Piece:
    """Return the safety cautions of the planned batches, each with its source."""
    said = []
    for _, row in week.cautions.iterrows():
        said.append(
            f"{wording.clean(row['topic']).capitalize()} ({wording.clean(row['applies_to'])}): "
            f"{wording.clean(row['caution'])} Source: {wording.clean(row['source'])}."
        )
    return page.bullets(said, "No batch is planned that needs a caution.")


def checks(week: Week) -> Piece:
    """Return how the forecast was made and which of its checks failed."""
    failed = week.checks.loc[~week.checks["passed"]]
    passed = int(week.checks["passed"].sum())
    said = (
        f"The forecast rests on {week.draws} ways in which the coming weeks may go; {passed} of "
        f"{len(week.checks)} model checks passed."
    )
    table = page.table(
        failed,
        [
            Cell(heading="Crop", words=page.column("crop")),
            Cell(heading="Variety", words=page.column("variety")),
            Cell(heading="Check", words=page.column("check")),
            Cell(
                heading="Found",
                words=lambda row: (
                    wording.UNKNOWN if pd.isna(row["statistic"]) else f"{row['statistic']:.3g}"
                ),
                number=True,
            ),
            Cell(
                heading="Must be",
                words=lambda row: f"{row['operator']} {row['threshold']:.3g}",
                number=True,
            ),
            Cell(heading="What it means", words=page.column("comment")),
        ],
        caption="Model checks that failed",
        empty="No model check failed.",
        stacked=True,
    )
    leans = week.checks.loc[week.checks["code"] == "forecast.leans", "comment"]
    said = " ".join([said, *leans])
    return page.join([page.paragraph(said), page.paragraph(_solved(week)), table])


def _solved(week: Week) -> str:
    return searched(week.solve)


def searched(solve: Mapping[str, Any]) -> str:
    """Return how near the best a plan is known to be, from ``status`` and ``gap``."""
    best = str(solve.get("status", "")).lower().startswith("optimal")
    gap = solve.get("gap")
    if gap is None or pd.isna(gap):
        return "" if best else "It is not known how much better another plan could be."
    done = "The search for the plan came to its end" if best else "The search ran out of time"
    return f"{done}: another plan could be better by at most {100 * float(gap):.1f}%."


def spans(week: Week) -> Piece:
    """Return how much was written down, and from when to when."""
    units = week.units
    return page.table(
        week.spans,
        [
            Cell(heading="Table", words=page.column("table")),
            Cell(heading="Rows", words=lambda row: wording.count(row["rows"]), number=True),
            Cell(
                heading="From",
                words=lambda row: (
                    ""
                    if pd.isna(row["first"])
                    else wording.long_day(row["first"], units, weekday=False)
                ),
            ),
            Cell(
                heading="To",
                words=lambda row: (
                    ""
                    if pd.isna(row["last"])
                    else wording.long_day(row["last"], units, weekday=False)
                ),
            ),
        ],
        caption="What was written down up to the day of the forecast",
        empty="",
        stacked=True,
    )


def left_out(week: Week) -> Piece:
    """Return the plantings without a forecast and why."""
    return page.table(
        week.left_out,
        [
            Cell(heading="Crop", words=page.column("crop")),
            Cell(heading="Variety", words=page.column("variety")),
            Cell(heading="Bed", words=page.column("bed")),
            Cell(heading="Why", words=page.column("reason")),
        ],
        caption="Plantings without a forecast",
        empty="Every planting has a forecast.",
        stacked=True,
    )


def notices(week: Week) -> Piece:
    """Return what was odd in the files and what was done about it."""
    return page.table(
        week.notices,
        [
            Cell(heading="File", words=page.column("file")),
            Cell(
                heading="Line",
                words=lambda row: "" if pd.isna(row["line"]) else f"{row['line']:.0f}",
            ),
            Cell(heading="Column", words=page.column("column")),
            Cell(heading="Typed", words=page.column("value")),
            Cell(heading="Odd", words=page.column("odd")),
            Cell(heading="Done", words=page.column("done")),
        ],
        caption="What was odd, and what was done about it",
        empty="Nothing in the files was odd.",
        stacked=True,
    )


@page.in_own_words
def safety(week: Week) -> Piece:
    """Return the section with what to mind at the canner."""
    topics = wording.listing(
        dict.fromkeys(wording.clean(t).lower() for t in week.cautions["topic"])
    )
    return page.section("Safety", "", [page.folded(f"Mind: {topics or 'nothing'}", cautions(week))])


@page.in_own_words
def rests_on(week: Week) -> Piece:
    """Return the section on what the numbers rest on."""
    return page.section(
        "What the numbers rest on",
        "",
        [
            checks(week),
            page.under("What was written down", page.folded("Tables and days", spans(week))),
            page.under("Left out of the forecast", page.folded("Plantings", left_out(week))),
            page.under("Odd things in the files", page.folded("Odd things", notices(week))),
        ],
    )
