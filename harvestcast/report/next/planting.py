"""The parts of next season's page that say what goes where and when, and what to order."""

from __future__ import annotations

from typing import Any

import pandas as pd

from harvestcast import figures
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.next.results import NextSeason
from harvestcast.report.next.words import how, kind, planted, standing, where
from harvestcast.report.season import measures
from harvestcast.units import KG_PER_OZ
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units


def beds(season: NextSeason) -> Piece:
    """Return what to plant, how many and when, in the order of the days."""
    plan, units = season.plan, season.units
    shown = pd.concat([standing(plan), planted(plan)])
    grounds = {str(basis): i for i, basis in enumerate(dict.fromkeys(shown["basis"]), 1)}
    table = page.table(
        shown,
        [
            Cell(
                heading="Plant",
                words=lambda row: (
                    f"{_when(row, units)}: {wording.count(row['plants'])} {kind(row)}{where(row)}"
                ),
            ),
            Cell(
                heading="Picked",
                words=lambda row: span(row["first_pick"], row["last_pick"], units),
            ),
            Cell(
                heading="Harvest",
                words=lambda row: (
                    wording.mass(row["mean_kg"], units)
                    + (f" [{grounds[str(row['basis'])]}]" if len(grounds) > 1 else "")
                ),
                number=True,
            ),
            bed_cell(units),
            Cell(heading="Why", words=lambda row: wording.clean(row["reason"])),
        ],
        caption="What to plant; the harvest is the mean of the possible seasons",
        empty="Nothing needs to be planted for the targets that are set.",
        stacked=True,
    )
    if not len(shown):
        return table
    title = "What goes in when"
    ax = figures.sowing_calendar(shown, units=units, title=title)
    alt = figures.sowing_calendar_alt(shown, units=units, title=title)
    figure = page.folded("Figure of the year", page.grid([page.figure(ax, alt)], ""))
    return page.join([table, _grounds(grounds), figure])


def _when(row: pd.Series, units: Units) -> str:
    if row["how"] == "stands":
        return how(row)
    # The year stands where the harvest falls into another one.
    year = any(pd.notna(day) and day.year != row["date"].year for day in
               (row["first_pick"], row["last_pick"]))  # fmt: skip
    return f"{how(row)} {wording.day(row['date'], units, weekday=False, year=year)}"


def _grounds(grounds: dict[str, int]) -> Piece:
    if len(grounds) == 1:
        return page.paragraph(f"All of it rests on {next(iter(grounds))}.", "notes")
    return page.notes(grounds, "Rests on")


def bed_cell(units: Units, *, at_once: bool = False) -> Cell:
    """Return the column of a table that holds bed area."""
    # What the beds take at once is shown as fine as their limit, or a rounded figure beats it.
    return Cell(
        heading=f"Bed{' at once' if at_once else ''}, {measures.measure_unit('m2', units)}",
        words=lambda row: wording.significant(
            measures.in_measure_unit(row["area_m2"], "m2", units), 4 if at_once else 2
        ),
        number=True,
    )


def span(first: Any, last: Any, units: Units) -> str:
    """Return two days as a span, "about" where they are one."""
    if pd.isna(first) or pd.isna(last):
        return wording.UNKNOWN
    year = first.year != last.year
    days = [wording.day(day, units, weekday=False, year=year) for day in (first, last)]
    return " to ".join(days) if days[0] != days[1] else f"about {days[0]}, all at once"


@page.in_own_words
def to_plant(season: NextSeason) -> Piece:
    """Return the section on what to plant and when."""
    return page.section(
        "What to plant",
        "How many of each variety, and on which day. Several rows of one variety are sowings one "
        "after another.",
        [beds(season)],
    )


@page.in_own_words
def places(season: NextSeason) -> Piece:
    """Return the section on which bed takes which row."""
    units, table = season.units, season.plan.places
    if table["bed"].isna().all():
        lead = (
            "The plantings name no bed. With a bed in every row of plantings.csv the plan says "
            "where each crop goes, and what stood there before."
        )
        return page.section("Which bed takes what", lead, [])
    shown = page.table(
        table,
        [
            Cell(heading="Bed", words=lambda row: "none" if pd.isna(row["bed"])
                 else wording.clean(row["bed"])),
            Cell(
                heading="Row",
                words=lambda row: f"{wording.count(row['plants'])} {kind(row)}",
            ),
            Cell(heading="Stands", words=lambda row: _stands(row, units)),
            bed_cell(units),
            Cell(heading="Rotation", words=lambda row: wording.clean(row["says"])),
        ],
        caption="A row may be split over beds",
        empty="Nothing is planted.",
        stacked=True,
    )  # fmt: skip
    title = "The beds over the year"
    ax = figures.beds_year(table, units=units, title=title)
    alt = figures.beds_year_alt(table, units=units, title=title)
    figure = page.grid([page.figure(ax, alt)], "")
    return page.section(
        "Which bed takes what",
        "Beds are as large as the most that stood in each at once. Families come back to a bed "
        "after as many years as extension services ask for, as far as room and the log allow. "
        "What has always stood at a trellis or a fence goes to a bed whose name says so. Under "
        "glass goes what grew there before.",
        [page.folded("Bed by bed", shown), page.folded("Figure of the beds", figure)],
    )


def _stands(row: pd.Series, units: Units) -> str:
    if row["code"] == "place.stands" or pd.isna(row["date"]):
        return "all year"
    if pd.isna(row["until"]):
        return f"from {wording.day(row['date'], units, weekday=False)}"
    return span(row["date"], row["until"], units)


@page.in_own_words
def seeds(season: NextSeason) -> Piece:
    """Return the section with the seed list."""
    units = season.units
    table = page.table(
        season.plan.seeds,
        [
            Cell(heading="Variety", words=kind),
            Cell(
                heading="Plants",
                words=lambda row: wording.count(row["plants"]),
                number=True,
            ),
            Cell(heading="Seeds", words=_seeds, number=True),
            Cell(heading="Weight", words=lambda row: _grams(row["grams"], units), number=True),
            Cell(heading="Sow indoors", words=lambda row: _indoors(row, units)),
            Cell(
                heading="In the bed",
                words=lambda row: wording.day(row["in_bed"], units, weekday=False),
            ),
            Cell(
                heading="Seed keeps",
                words=lambda row: (
                    ""
                    if pd.isna(row["keeps_years"])
                    else f"{row['keeps_years']:.0f} years"
                    if row["keeps_years"] != 1
                    else "1 year"
                ),
            ),
        ],
        caption="One row a variety; several sowings of one are together",
        empty="Nothing is to be sown or set out.",
        stacked=True,
    )
    return page.section(
        "What to order",
        "Seeds for the plants that are to stand, with what does not come up (the least that seed "
        "in commerce must do) and some to spare: a tenth in the bed, three tenths for young "
        "plants. Weights follow from a trade chart of seeds in a gram and are rough. Where your "
        "log counts the seeds sown and not the plants that stood, order as many as there are "
        "plants.",
        [
            page.folded("Seed by seed", table),
            page.paragraph(
                "A spreadsheet gets the same with harvestcast next FOLDER --seeds seeds.csv.",
                "notes",
            ),
        ],
    )


def _seeds(row: pd.Series) -> str:
    if pd.isna(row["seeds"]):
        return f"{wording.count(row['plants'])} sets or young plants"
    return wording.count(row["seeds"])


def _grams(grams: float, units: Units) -> str:
    if pd.isna(grams):
        return ""
    if units == "us":
        ounces = grams / 1000 / KG_PER_OZ
        return f"{ounces:.0f} oz" if ounces >= 1 else f"{max(ounces, 0.01):.2f} oz"
    return wording.mass(grams / 1000, units) if grams >= 30 else f"{max(grams, 0.1):.1f} g"


def _indoors(row: pd.Series, units: Units) -> str:
    if pd.isna(row["indoors_from"]):
        return ""
    return span(row["indoors_from"], row["indoors_to"], units)
