"""Parts of the page of the season's end; the notebook calls them in turn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.frames.season_tables import MEASURES
from harvestcast.report import figures
from harvestcast.report.html import page
from harvestcast.report.html.handover import read_aside
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.season import measures
from harvestcast.report.season.words import (
    best_words,
    chance_in,
    chances_of,
    date_words,
    plainly,
    since_of_crop,
    value,
    value_of,
    verdict,
)
from harvestcast.report.week.results import plain, rows
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonEnd:
    """What the season's page shows: the review and the settings it is worded by."""

    place: str
    units: Units
    review: VarietyReview


def season_of(garden: Garden, review: VarietyReview) -> SeasonEnd:
    """Put a review beside the settings of its garden."""
    place = garden.household.place or garden.name
    return SeasonEnd(place=place, units=garden.household.units, review=review)


def read(path: str | Path) -> SeasonEnd:
    """Return results that the command line put aside for the notebook it runs."""
    return read_aside(path, SeasonEnd)


def summary(season: SeasonEnd, report: str | None = None) -> dict[str, Any]:
    """Return the season as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("season"), ``place``, ``units``, ``year``, ``draws``, ``seed``, ``report``,
        ``text``, ``no_verdict``; the tables ``varieties``, ``measures``, ``best``, ``told_apart``,
        ``average_year``, ``all_seasons``, ``kitchen_lessons``, ``over_capacity`` with the columns
        of :mod:`harvestcast.frames.season_tables`; metric, unknown is null.
    """
    review = season.review
    return {
        "kind": "season",
        "place": season.place,
        "units": season.units,
        "year": review.year,
        "season": review.season,
        "draws": review.draws,
        "seed": review.seed,
        "report": report,
        "text": list(review.text),
        "lines": [{"code": line.code, "facts": plain(line.facts)} for line in review.lines],
        "varieties": rows(review.table),
        "measures": rows(review.measures),
        "best": rows(review.best),
        "told_apart": rows(review.told_apart),
        "average_year": rows(review.normalised),
        "all_seasons": rows(review.pooled),
        "no_verdict": list(review.no_verdict),
        "kitchen_lessons": rows(review.kitchen_lessons),
        "over_capacity": rows(review.over_capacity),
    }


def terminal(season: SeasonEnd, *, strong: bool = False) -> str:
    """Return the short summary for the terminal."""
    review, units = season.review, season.units
    head = f"{wording.clean(season.place)}: the season of {review.season}"
    out = [f"\x1b[1m{head}\x1b[0m" if strong else head]
    unit = measures.measure_unit("kg", units)
    for crop, own in review.table.groupby("crop", sort=True):
        out.append(f"\n{wording.clean(crop)} ({unit} a plant, 9 times in 10 within the range)")
        chances = chances_of(review, str(crop), "kg_per_plant")
        for _, row in own.iterrows():
            name = wording.clean(row["variety"])
            first = wording.day(row["first_pick_date"], units, year=review.crosses_new_year)
            words = (
                f"  {name}: {value(row, 'kg_per_plant', units) or wording.UNKNOWN}; first pick "
                f"{first}"
            )
            if str(row["variety"]) in chances:
                chance = wording.chance(chances[str(row["variety"])])
                words += f"; {best_words(review, str(crop))} with chance {chance}"
            out.append(words)
    said = [plainly(line) for line in review.text[1:]]
    return "\n".join([*out, *(["", *said] if said else [])])


def head(season: SeasonEnd) -> Piece:
    """Return the title and what to read first."""
    review = season.review
    # The first text explains the columns of the tables; the page has words of its own for that.
    return page.join(
        [
            page.title(
                f"The season's end: {season.place}, {review.season}",
                [f"{len(review.table)} varieties compared; ranges hold nine times in ten."],
            ),
            page.bullets(
                [wording.sentence(plainly(line)) for line in review.text[1:]],
                "One season says little of a single planting.",
            ),
        ]
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
        parts.append(Piece(f"<h3>{page.text(crop).capitalize()}</h3>"))
        parts.append(
            page.turned(
                own,
                cells,
                caption=f"{wording.clean(crop).capitalize()}: nine times in ten within brackets",
            )
        )
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


def by_measure(season: SeasonEnd, measure: str | None) -> Piece:
    """Return the ranking by another measure; nothing where none is asked for.

    Parameters
    ----------
    season : SeasonEnd
        Results.
    measure : str or None
        A measure of :data:`harvestcast.frames.season_tables.MEASURES`: ``steady_weeks``,
        ``first_pick_days``, ``oversize_share`` ...

    Raises
    ------
    ValueError
        Where there is no such measure.
    """
    if measure is None:
        return Piece("")
    if measure not in MEASURES:
        raise ValueError(f"there is no measure {measure!r}; there are {', '.join(MEASURES)}")
    name = dict(SHOWN).get(measure, measure)
    return page.join([Piece(f"<h3>Ranked by: {page.text(name)}</h3>"), rankings(season, measure)])


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
    named = weeks.assign(variety=[f"{variety} ({crop})" for variety, crop in pairs])
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
        [{"name": f"{variety} ({crop})", **row} for (crop, variety), row in sorted(wide.items())]
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
                words=lambda row: f"{row['variety']} over {row['other']} ({row['crop']})",
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
