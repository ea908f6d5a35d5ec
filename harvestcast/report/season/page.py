"""Parts of the page of the season's end; its notebook calls the same ones."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast import figures
from harvestcast.frames.season_tables import MEASURES
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.season import measures
from harvestcast.report.season.results import SeasonEnd, looked_back
from harvestcast.report.season.words import (
    VERDICTS,
    best_words,
    chance_in,
    chances_of,
    date_words,
    since_of_crop,
    value_of,
    verdict,
)
from harvestcast.season.messages import said
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

if TYPE_CHECKING:
    from harvestcast.season.review.varieties import VarietyReview

SHOWN: tuple[tuple[str, str], ...] = (
    ("kg_per_plant", "Yield a plant"),
    ("kg_per_row_m", "Yield of row"),
    ("kg_per_m2", "Yield of bed"),
    ("count_per_plant", "Pieces a plant"),
    ("first_pick_days", "To first pick"),
    ("first_pick_dd", "Heat to first pick"),
    ("peak_week_share", "In the heaviest week"),
    ("canner_kg_per_plant", "All at once (14 days), a plant"),
    ("steady_weeks", "Steady weeks"),
    ("oversize_share", "Oversize"),
    ("damaged_share", "Damaged"),
    ("fruit_kg", "One fruit"),
    ("pick_hours_per_kg", "Picking time"),
)
"""Measures of the tables, in the words of the page."""


@page.in_own_words
def head(season: SeasonEnd) -> Piece:
    """Return the title and what to read first."""
    review = season.review
    # The first text explains the columns of the tables; the page has words of its own for that.
    return page.title(
        f"The season's end: {season.place}, {review.season}",
        [f"{len(review.table)} varieties compared; ranges hold nine times in ten."],
        page.bullets(
            [wording.sentence(wording.clean(line)) for line in review.text[1:]],
            "One season says little of a single planting.",
        ),
    )


def variety_tables(season: SeasonEnd) -> Piece:
    """Return one table a crop: every variety with its measures and their intervals."""
    review, units = season.review, season.units
    parts = []

    def dated(name: str) -> Callable[[pd.Series], str]:
        return lambda row: date_words(row, name, units, year=review.crosses_new_year)

    for crop, own in review.table.groupby("crop", sort=True):
        chances = chances_of(review, str(crop), "kg_per_plant")
        cells = [
            Cell(heading="Variety", words=page.column("variety")),
            *_measure_cells(own, units, review),
            Cell(heading="First pick", words=dated("first_pick_date")),
            Cell(heading="A tenth in by", words=dated("date_10")),
            Cell(heading="Half in by", words=dated("date_50")),
            Cell(heading="Nine tenths in by", words=dated("date_90")),
            Cell(
                heading="Heaviest week from",
                words=dated("peak_week_start"),
            ),
            Cell(
                heading=_best_heading(review, str(crop)),
                words=chance_in(chances),
            ),
            Cell(heading="Rests on", words=page.column("how_sure")),
        ]
        name = wording.clean(crop).capitalize()
        caption = f"{name}: nine times in ten within brackets"
        parts.append(page.under(name, page.turned(own, cells, caption=caption)))
    return page.join(parts) if parts else page.paragraph("No variety was picked.", "none")


def _best_heading(review: VarietyReview, crop: str) -> str:
    return f"Best yield a plant{' so far' if crop in review.no_verdict else ''}"


def _measure_cells(own: pd.DataFrame, units: Units, review: VarietyReview) -> list[Cell]:
    cells = []
    for measure, name in SHOWN:
        if own[measure].notna().any():
            unit = measures.measure_unit(MEASURES[measure][0], units)
            cells.append(
                Cell(
                    heading=name if unit in name.lower() else f"{name}, {unit}",
                    words=value_of(measure, units, review),
                    number=True,
                )
            )
    return cells


def rankings(season: SeasonEnd, measure: str = "kg_per_plant", table: str = "measures") -> Piece:
    """Return, per crop with several varieties, one measure with its intervals, best first."""
    review, units = season.review, season.units
    frame = getattr(review, table)
    unit = MEASURES[measure][0]
    more = MEASURES[measure][1] != "less"
    label = f"{dict(SHOWN).get(measure, measure)}, {measures.measure_unit(unit, units)}"
    made = []
    for crop, own in frame.loc[frame["measure"] == measure].groupby("crop", sort=True):
        known = own.dropna(subset=["estimate", "q05", "q95"])
        if len(known) < 2:
            continue
        known = known.sort_values("estimate", ascending=not more, kind="stable")
        chances = chances_of(review, str(crop), measure)
        shown = pd.DataFrame(
            {
                "variety": known["variety"].astype(str),
                "low": measures.in_measure_unit(known["q05"].to_numpy(float), unit, units),
                "middle": measures.in_measure_unit(known["estimate"].to_numpy(float), unit, units),
                "high": measures.in_measure_unit(known["q95"].to_numpy(float), unit, units),
                "p_best": known["variety"].astype(str).map(chances).astype(float),
            }
        )
        given: dict[str, Any] = {
            "units": units,
            "label": label,
            "title": wording.clean(crop).capitalize(),
            "best": best_words(review, str(crop)),
        }
        ax = figures.ranking(shown, **given)
        made.append(page.figure(ax, figures.ranking_alt(shown, **given)))
    return page.grid(made, "No crop has two varieties to compare.")


@page.in_own_words
def by_measure(season: SeasonEnd, measure: str) -> Piece:
    """Return the ranking by another measure; nothing where none is asked for.

    Parameters
    ----------
    season : SeasonEnd
        Results.
    measure : str
        A measure of :data:`harvestcast.frames.season_tables.MEASURES`: ``steady_weeks``,
        ``first_pick_days``, ``oversize_share`` ...

    Raises
    ------
    ValueError
        Where there is no such measure.
    """
    if measure not in MEASURES:
        raise ValueError(f"there is no measure {measure!r}; there are {', '.join(MEASURES)}")
    name = dict(SHOWN).get(measure, measure)
    return page.section(f"Ranked by: {name}", "", [rankings(season, measure)])


def curves(season: SeasonEnd) -> Piece:
    """Return, per crop, the yield so far of its varieties against degree-days."""
    made = []
    for crop, own in season.review.cumulative.groupby("crop", sort=True):
        own = own.loc[own["degree_days"].notna() & (own["plants"] > 0)]
        if not len(own):
            continue
        names = ["picked_kg", "q05_kg", "q50_kg", "q95_kg"]
        each = own.assign(**{name: own[name] / own["plants"] for name in names})
        title = wording.clean(crop).capitalize()
        since = since_of_crop(season.review, str(crop), season.units)
        ax = figures.cumulative_heat(each, units=season.units, title=title, since=since)
        alt = figures.cumulative_heat_alt(each, units=season.units, title=title)
        made.append(page.figure(ax, alt))
    return page.grid(made, "No planting has both a date and a number of plants.")


def calendar(season: SeasonEnd) -> Piece:
    """Return the season's picks week by week, all varieties in one figure."""
    weeks = season.review.calendar
    if not len(weeks):
        return page.paragraph("Nothing was picked.", "none")
    pairs = zip(weeks["variety"], weeks["crop"], strict=True)
    named = weeks.assign(variety=[f"{v} ({wording.clean(c)})" for v, c in pairs])
    title = f"The picks of {season.review.season}"
    ax = figures.pick_calendar(named, units=season.units, title=title)
    alt = figures.pick_calendar_alt(named, units=season.units, title=title)
    return page.grid([page.figure(ax, alt)], "")


def ways(season: SeasonEnd) -> Piece:
    """Return the yield of every variety in this season, an average one and over all seasons."""
    review = season.review
    unit = measures.measure_unit("kg", season.units)
    tables = (
        ("This season", review.measures),
        ("An average year", review.normalised),
        ("All seasons", review.pooled),
    )
    return _measure_table(
        season,
        [(f"{name}, {unit} a plant", frame, "kg_per_plant") for name, frame in tables],
        "Yield a plant; nine times in ten within the range in brackets",
    )


def canner_or_table(season: SeasonEnd) -> Piece:
    """Return how much a variety brings at once, and for how long it feeds the table."""
    frame, units = season.review.measures, season.units
    wanted = ("canner_kg_per_plant", "peak_week_share", "steady_weeks")
    named = dict(SHOWN)
    return _measure_table(
        season,
        [
            (f"{named[name]}, {measures.measure_unit(MEASURES[name][0], units)}", frame, name)
            for name in wanted
        ],
        "At once and week by week; nine times in ten within the range in brackets",
    )


def _measure_table(
    season: SeasonEnd, columns: list[tuple[str, pd.DataFrame, str]], caption: str
) -> Piece:
    """Return a row a variety, a column a measure."""
    wide: dict[tuple[str, str], dict[str, str]] = {}
    for number, (_, frame, measure) in enumerate(columns):
        for _, row in frame.loc[frame["measure"] == measure].iterrows():
            key = (str(row["crop"]), str(row["variety"]))
            wide.setdefault(key, {})[f"c{number}"] = measures.measured(
                row["estimate"], row["q05"], row["q95"], MEASURES[measure][0], season.units
            )
    table = pd.DataFrame(
        [{"name": f"{v} ({wording.clean(c)})", **row} for (c, v), row in sorted(wide.items())]
    ).reindex(columns=["name", *(f"c{number}" for number in range(len(columns)))])
    cells = [
        Cell(heading=heading, words=page.column(f"c{number}"), number=True)
        for number, (heading, _, _) in enumerate(columns)
    ]
    return page.table(
        table,
        [Cell(heading="Variety", words=page.column("name")), *cells],
        caption=caption,
        empty="Nothing was picked.",
        stacked=True,
    )


def told_apart(season: SeasonEnd) -> Piece:
    """Return, for the yield a plant, which varieties the log tells apart."""
    pairs = season.review.told_apart
    own = pairs.loc[pairs["measure"] == "kg_per_plant"]
    return page.table(
        own,
        [
            Cell(
                heading="Better",
                words=lambda row: (
                    f"{row['variety']} over {row['other']} ({wording.clean(row['crop'])})"
                ),
            ),
            Cell(
                heading="With chance",
                words=lambda row: wording.chance(row["probability_better"]),
                number=True,
            ),
            Cell(
                heading="So",
                words=verdict,
            ),
        ],
        caption="Yield a plant: what the log can and cannot tell apart (beyond ten to one)",
        empty="No crop has two varieties to compare.",
        stacked=True,
    )


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


@page.in_own_words
def which_variety(season: SeasonEnd) -> Piece:
    """Return the section that ranks the varieties by what a plant of each brings."""
    return page.section(
        "Which variety earned its place",
        "Each figure is what the variety would bring on average over many plantings like this "
        "one; the range holds that average nine times in ten. One or two plants say little, so "
        "their ranges are wide: where ranges overlap, the log does not tell the varieties apart. "
        "The number at the right is the chance of being the best of its crop.",
        [
            rankings(season),
            told_apart(season),
            page.under(
                "This season, an average one, and all of them",
                page.paragraph(
                    "The middle column brings the yield to the weather of an average year, so "
                    "that one hot summer does not decide; the last takes every season of the log "
                    "together."
                ),
                ways(season),
            ),
        ],
    )


@page.in_own_words
def plantings(season: SeasonEnd) -> Piece:
    """Return the section with every planting: its days, what it brought, what was noted of it."""
    units = season.units

    def day(row: pd.Series, column: str) -> str:
        if pd.isna(row[column]):
            return ""
        return wording.day(row[column], units, weekday=False)

    def name(row: pd.Series) -> str:
        bed = "" if pd.isna(row["bed"]) else f", {wording.clean(row['bed'])}"
        return f"{wording.clean(row['crop'])}, {wording.clean(row['variety'])}{bed}"

    def each(row: pd.Series) -> str:
        if pd.isna(row["kg_per_plant"]):
            return ""
        return wording.mass(row["kg_per_plant"], units)

    table = page.table(
        season.review.by_bed,
        [
            Cell(heading="Planting", words=name),
            Cell(heading="Planted", words=lambda row: day(row, "planted")),
            Cell(heading="First pick", words=lambda row: day(row, "first_pick")),
            Cell(heading="Last pick", words=lambda row: day(row, "last_pick")),
            Cell(
                heading="Harvest",
                words=lambda row: wording.mass(row["mass_kg"], units),
                number=True,
            ),
            Cell(heading="A plant", words=each, number=True),
            Cell(
                heading="Noted",
                words=lambda row: "" if pd.isna(row["notes"]) else wording.clean(row["notes"]),
            ),
        ],
        caption="As logged; sowings of a variety that the picks do not tell apart are one",
        empty="Nothing was picked.",
        stacked=True,
    )
    return page.section(
        "Planting by planting",
        "When each was first and last picked, what it brought, and what you noted of it, in the "
        "plantings and at the picks: taste, pests, what to do otherwise.",
        [page.folded("Every planting", table)],
    )


@page.in_own_words
def at_once_or_steady(season: SeasonEnd) -> Piece:
    """Return the section on what fills a canner and what feeds the table."""
    return page.section(
        "For the canner and for the table",
        "A variety that brings much at once fills a canner; one that brings a little for many "
        "weeks feeds the table.",
        [canner_or_table(season)],
    )


@page.in_own_words
def how_it_came(season: SeasonEnd) -> Piece:
    """Return the section on how the harvest came in, over heat and week by week."""
    return page.section(
        "How the harvest came in",
        "Yield so far against the heat since the day named below each figure, with the range that "
        "holds nine seasons in ten.",
        [
            page.folded("Figures crop by crop", curves(season)),
            page.under(
                "Week by week",
                page.paragraph(
                    "A larger mark is a heavier week of that variety; a dash is a week in which "
                    "nothing was found."
                ),
                page.folded("Figure of the weeks", calendar(season)),
            ),
        ],
    )


@page.in_own_words
def lessons(season: SeasonEnd) -> Piece:
    """Return the section on what the season taught the kitchen."""
    return page.section("What the season taught the kitchen", "", [kitchen(season)])


@page.in_own_words
def all_figures(season: SeasonEnd) -> Piece:
    """Return the section with every measure of every variety."""
    return page.section("All figures", "", [page.folded("Tables", variety_tables(season))])


@page.in_own_words
def keep_or_drop(season: SeasonEnd) -> Piece:
    """Return the section on which varieties stay, and what each brought in every season."""
    review, units = season.review, season.units

    def kind(row: pd.Series) -> str:
        return f"{wording.clean(row['variety'])} ({wording.clean(row['crop'])})"

    def evidence(row: pd.Series) -> str:
        names = {"kg_m2": "kg_per_m2", "low": "q05", "high": "q95", "chance": "chance_better",
                 "other_kg_m2": "against_kg_per_m2", "seasons": "seasons", "plants": "plants",
                 "days": "days_sooner"}  # fmt: skip
        other = "" if pd.isna(row["against"]) else row["against"]
        facts = {fact: row[name] for fact, name in names.items()}
        return wording.clean(said(row["code"], units=units, other=other, **facts).text)

    def noted(row: pd.Series) -> str:
        return "" if pd.isna(row["notes"]) else wording.clean(row["notes"])

    def in_average(row: pd.Series) -> str:
        middle, low, high = (row[f"average_{name}"] for name in ("kg_per_plant", "q05", "q95"))
        return measures.measured(middle, low, high, "kg", units)

    def picked(row: pd.Series) -> str:
        days = [
            wording.day(row[name], units, weekday=False) for name in ("first_pick", "last_pick")
        ]
        return "" if pd.isna(row["first_pick"]) else " to ".join(days)

    verdicts = page.table(
        review.verdicts,
        [
            Cell(heading="Variety", words=kind),
            Cell(heading="Verdict", words=lambda row: VERDICTS[row["verdict"]]),
            Cell(heading="Evidence", words=evidence),
            Cell(heading="Noted", words=noted),
        ],
        caption="By yield of bed over all seasons that are over, in average weather; nine times "
        "in ten within brackets",
        empty="No season of the log is over yet.",
        stacked=True,
    )
    unit = measures.measure_unit("kg", units)
    each = page.table(
        review.over_seasons,
        [
            Cell(heading="Variety", words=kind),
            Cell(heading="Season", words=page.column("label")),
            Cell(heading="Plants", words=lambda row: wording.count(row["plants"]), number=True),
            Cell(heading="Picked", words=picked),
            Cell(
                heading=f"As it was, {unit} a plant",
                words=lambda row: measures.measured(
                    row["kg_per_plant"], float("nan"), float("nan"), "kg", units
                ),
                number=True,
            ),
            Cell(heading=f"In average weather, {unit} a plant", words=in_average, number=True),
            Cell(heading="Noted", words=noted),
        ],
        caption="Nine times in ten within brackets",
        empty="No season of the log is over yet.",
        stacked=True,
    )
    return page.section(
        "Keep, try again or drop",
        "Each variety is held against the best other one of its crop. It goes where it hardly ever "
        "brings more of a bed, and gets another try where the log cannot tell yet. This weighs "
        "yield alone: taste, earliness and what keeps well are yours to weigh, and your notes "
        "stand beside it.",
        [
            page.folded("Variety by variety", verdicts),
            page.under("Season by season", page.folded("Every season", each)),
        ],
    )


PARTS = (
    head,
    which_variety,
    keep_or_drop,
    at_once_or_steady,
    how_it_came,
    plantings,
    lessons,
    all_figures,
)
"""The parts of the page in their order; the notebook shows the same."""
PARAMETERS = ("year", "seed", "measure")


def parts(
    folder: str | Path,
    *,
    results: SeasonEnd | None = None,
    say: Callable[[str], None] | None = None,
    year: int | None = None,
    seed: int = 1,
    measure: str | None = None,
) -> list[Piece]:
    """Return the parts of the page of a garden's season.

    Parameters
    ----------
    folder : path
        The garden folder.
    results : SeasonEnd, optional
        Results computed already; ``year`` and ``seed`` are theirs then.
    say : callable, optional
        Told what is being done.
    year, seed
        As :func:`harvestcast.report.season.results.looked_back` takes them.
    measure : str, optional
        A measure to rank by besides the yield a plant, as :func:`by_measure` takes it.

    Raises
    ------
    TypeError
        Where the results are those of another report.
    """
    found = looked_back(folder, year=year, seed=seed, say=say) if results is None else results
    if not isinstance(found, SeasonEnd):
        raise TypeError(f"a season's page is made of a SeasonEnd, not of a {type(found).__name__}")
    made = [part(found) for part in PARTS]
    return [*made, by_measure(found, measure)] if measure is not None else made
