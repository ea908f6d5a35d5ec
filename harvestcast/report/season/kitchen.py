"""The part of the season's page that says what the season taught the kitchen."""

from __future__ import annotations

import pandas as pd

from harvestcast import figures
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.season.page import SeasonEnd
from harvestcast.words import amounts as wording


def kitchen(season: SeasonEnd) -> Piece:
    """Return what the season taught the kitchen, and the weeks beyond capacity."""
    review, units = season.review, season.units
    lessons = review.kitchen_lessons
    counted = lessons.loc[lessons["lesson"] == "target", "day"]
    on_day = f" on {wording.day(counted.max(), units, weekday=False)}" if len(counted) else ""
    named = (("jars", "Jars filled (promised)"), ("hours", "Hours taken (planned)"),
             ("target", f"On the shelf{on_day} (wanted)"))  # fmt: skip
    wide: dict[str, dict[str, str]] = {}
    for kind, _ in named:
        for _, row in lessons.loc[lessons["lesson"] == kind].iterrows():
            is_so, was_to_be = (wording.plain_number(row[c], 1) for c in ("happened", "expected"))
            wide.setdefault(str(row["subject"]), {})[kind] = f"{is_so} ({was_to_be})"
    table = page.table(
        pd.DataFrame([{"product": name, **row} for name, row in sorted(wide.items())]).reindex(
            columns=["product", *(kind for kind, _ in named)]
        ),
        [
            Cell(heading="Product", words=page.column("product")),
            *(Cell(heading=head, words=page.column(kind), number=True) for kind, head in named),
        ],
        caption="What happened; in brackets what the handbook or the household had expected",
        empty="The pantry book of this season holds nothing to learn from.",
        stacked=True,
    )
    spoiled = lessons.loc[lessons["lesson"] == "spoiled"]
    said = [
        f"{wording.clean(row['subject']).capitalize()}: {wording.mass(row['happened'], units)} "
        "had no use on record: more than the household eats at most, gives away and put up."
        for _, row in spoiled.iterrows()
    ]
    parts = [table, page.bullets(said, "Everything picked had a use.")]
    return page.join([*parts, _weeks_over(season)])


def _weeks_over(season: SeasonEnd) -> Piece:
    weeks = season.review.over_capacity.dropna(subset=["picked_kg", "over_kg"])
    if not len(weeks):
        none = "The weeks beyond capacity are not known: hours or equipment are not set."
        return page.paragraph(none, "none")
    title = "Weeks beyond capacity"
    ax = figures.weeks_over(weeks, units=season.units, title=title)
    alt = figures.weeks_over_alt(weeks, units=season.units, title=title)
    return page.grid([page.figure(ax, alt)], "")
