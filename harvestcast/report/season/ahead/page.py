"""Parts of the page of the season ahead."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd

from harvestcast import figures
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.season.ahead import words
from harvestcast.report.season.ahead.results import Ahead, looked_ahead
from harvestcast.words import amounts as wording

FIGURES = 8
"""Crops that get a figure of their own, those that bring most."""
GOES = {
    "Eaten": "eaten_kg",
    "Put up": "put_up_kg",
    "Given": "given_kg",
    "Left over": "over_kg",
}


@page.in_own_words
def head(season: Ahead) -> Piece:
    """Return the title and what to read first."""
    ahead = season.ahead
    known = wording.long_day(ahead.as_of, season.units)
    return page.title(
        f"The season ahead: {season.place}, {ahead.season}",
        [f"Known up to {known}; what the beds bring, and what the kitchen can make of it."],
        page.terms(words.brief(season)),
    )


@page.in_own_words
def what_comes(season: Ahead) -> Piece:
    """Return the section on what comes when."""
    ahead, units = season.ahead, season.units
    table = page.table(
        ahead.crops[ahead.crops["p_any"] > 0],
        [
            Cell(heading="Crop", words=page.column("crop")),
            Cell(heading="To come", words=lambda row: words.total(row, season), number=True),
            Cell(
                heading="Picked so far",
                words=lambda row: (
                    wording.mass(row["so_far_kg"], units) if row["so_far_kg"] > 0 else ""
                ),
                number=True,
            ),
            Cell(
                heading="First pick",
                words=lambda row: "" if row["so_far_kg"] > 0 else words.about(row, "first", season),
            ),
            Cell(heading="Brings most", words=lambda row: words.peak(row, season)),
            Cell(
                heading="Nine tenths in by",
                words=lambda row: (
                    ""
                    if pd.isna(row["last_q50"])
                    else wording.day(row["last_q50"], units, weekday=False)
                ),
            ),
            Cell(heading="Where it goes", words=lambda row: words.where_it_goes(row, season)),
        ],
        caption="The middle first; the range holds eight times in ten. Where it goes is a mean.",
        empty="Nothing is forecast.",
        stacked=True,
    )
    return page.section("What comes when", "", [table, _calendar(season)])


def _calendar(season: Ahead) -> Piece:
    weeks, units = season.ahead.calendar, season.units
    if not len(weeks):
        return Piece()
    title = "What comes when"
    ax = figures.pick_calendar(weeks, units=units, title=title)
    alt = figures.pick_calendar_alt(weeks, units=units, title=title)
    note = "A larger mark is a heavier week of that crop, on average."
    return page.grid([page.figure(ax, alt, note)], "")


@page.in_own_words
def shelf(season: Ahead) -> Piece:
    """Return the section on the targets, and what fills up or is used up on the way."""
    ahead = season.ahead
    targets = page.table(
        ahead.shelves,
        [
            Cell(heading="Target", words=page.column("label")),
            Cell(
                heading="On the shelf",
                words=lambda row: f"{row['stock_jars']:.0f} of {row['target_jars']:.0f}",
                number=True,
            ),
            Cell(
                heading="Still wanted",
                words=words.still_wanted,
                number=True,
            ),
            Cell(heading="Likely put up", words=words.jars, number=True),
            Cell(
                heading="All of them",
                words=lambda row: "" if pd.isna(row["p_met"]) else wording.chance(row["p_met"]),
                number=True,
            ),
            Cell(heading="By", words=lambda row: words.about(row, "met", season)),
        ],
        caption="The targets of garden.toml. Still wanted is what the shelf will lack when the "
        "season ends, as some of it is eaten until then",
        empty="garden.toml sets no targets.",
        stacked=True,
    )
    stores = page.table(
        ahead.limits,
        [
            Cell(heading="What", words=lambda row: words.STORES[row["store"]]),
            Cell(
                heading="There is",
                words=lambda row: (
                    "" if pd.isna(row["there"]) else words.amount(row["there"], row["unit"], season)
                ),
                number=True,
            ),
            Cell(heading="Taken", words=lambda row: words.taken(row, season), number=True),
            Cell(heading="Enough?", words=lambda row: words.full(row, season)),
        ],
        caption="Room and jars, if no more is put up than the targets ask for; jars of all sizes "
        "together, counted as pints",
        empty="Nothing is put up, so nothing fills up.",
        stacked=True,
    )
    work = words.hours_line(season)
    lines = [wording.sentence(line) for line in words.left_out_lines(season)]
    return page.section(
        "The shelf, the freezer and the jars",
        "",
        [
            targets,
            *([page.bullets(lines, "")] if lines else []),
            stores,
            *([page.paragraph(wording.sentence(work))] if work else []),
            _filling(season),
        ],
    )


def _filling(season: Ahead) -> Piece:
    room, units = season.ahead.room, season.units
    made = []
    for store in dict.fromkeys(room["store"]):
        own = room[room["store"] == store]
        if not own["q90"].max() > 0:
            continue
        title = words.STORES[store].capitalize()
        ax = figures.filling_up(own, units=units, title=title)
        made.append(page.figure(ax, figures.filling_up_alt(own, units=units, title=title)))
    return page.folded("Figures of what fills up", page.grid(made, "Nothing fills up."))


@page.in_own_words
def too_much_too_little(season: Ahead) -> Piece:
    """Return the section on the weeks with too much and those with too little."""
    return page.section(
        "Weeks of too much and of too little",
        "Too much is what is left over when the household has eaten, the targets are served and "
        "the usual is given away. A crop is on the table where half of the appetite for it can be "
        "eaten.",
        [
            page.under("Likely too much", page.bullets(
                map(wording.sentence, words.glut_lines(season)), "In no week.")),
            page.under("Little on the table", page.bullets(
                map(wording.sentence, words.lean_lines(season)), "In no week.")),
        ],
    )  # fmt: skip


@page.in_own_words
def week_by_week(season: Ahead) -> Piece:
    """Return the section with every week."""
    ahead, units = season.ahead, season.units
    weeks = ahead.weeks[ahead.weeks["q90_kg"] >= wording.SMALL_KG]
    table = page.table(
        weeks.sort_values(["week", "crop"], kind="stable"),
        [
            Cell(
                heading="Week from",
                words=lambda row: wording.day(row["start"], units, weekday=False),
                whole=True,
            ),
            Cell(heading="Crop", words=page.column("crop")),
            Cell(heading="Comes", words=lambda row: words.total(row, season), number=True),
            *(_mean(name, of, season) for name, of in GOES.items()),
        ],
        caption="What comes: the middle, and the range that holds eight times in ten; where it "
        "goes: means",
        empty="Nothing is forecast.",
        stacked=True,
    )
    most = ahead.crops.sort_values("q50_kg", ascending=False)["crop"].head(FIGURES)
    made = []
    none = pd.DataFrame({"start": pd.to_datetime([]), "mass_kg": pd.Series(dtype=float)})
    for crop in most:
        own = weeks[weeks["crop"] == crop]
        if len(own):
            name = wording.clean(crop).capitalize()
            ax = figures.weekly_bands(own, none, units=units, title=name)
            alt = figures.weekly_bands_alt(own, none, units=units, title=name)
            made.append(page.figure(ax, alt))
    return page.section(
        "Week by week",
        "",
        [
            page.folded("Figures crop by crop", page.grid(made, "No crop brings anything.")),
            page.folded("Every week, crop by crop", table, long=True),
        ],
    )


def _mean(name: str, of: str, season: Ahead) -> Cell:
    def words(row: pd.Series) -> str:
        little = row[of] < wording.SMALL_KG
        return "" if little else wording.about_mass(row[of], season.units)

    return Cell(heading=name, words=words, number=True)


@page.in_own_words
def rests_on(season: Ahead) -> Piece:
    """Return what the figures rest on."""
    return page.section("What this rests on", "", [page.bullets(season.ahead.text, "")])


PARTS = (head, what_comes, shelf, too_much_too_little, week_by_week, rests_on)
"""The parts of the page in their order."""
PARAMETERS = ("as_of", "seed")


def parts(
    folder: str | Path,
    *,
    results: Ahead | None = None,
    say: Callable[[str], None] | None = None,
    as_of: str | None = None,
    seed: int = 1,
) -> list[Piece]:
    """Return the parts of the page of the season ahead.

    Parameters
    ----------
    folder : path
        The garden folder.
    results : Ahead, optional
        Results computed already; ``as_of`` and ``seed`` are theirs then.
    say : callable, optional
        Told what is being done.
    as_of, seed
        As :func:`harvestcast.report.season.ahead.results.looked_ahead` takes them.

    Raises
    ------
    TypeError
        Where the results are those of another report.
    """
    found = looked_ahead(folder, as_of=as_of, seed=seed, say=say) if results is None else results
    if not isinstance(found, Ahead):
        raise TypeError(f"this page is made of an Ahead, not of a {type(found).__name__}")
    return [part(found) for part in PARTS]
