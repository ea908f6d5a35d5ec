"""Words and figures of the season's end: the same ones in the terminal and on the page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.frames.season_tables import MEASURES
from harvestcast.report.season import measures
from harvestcast.season.review.tables import APART
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

if TYPE_CHECKING:
    from harvestcast.report.season.results import SeasonEnd
    from harvestcast.season.review.varieties import VarietyReview

VERDICTS = {"keep": "keep", "try_again": "try again", "drop": "drop"}
"""What becomes of a variety, in words; the plan of next season uses the same."""
COUNTED = ("first_pick_days", "first_pick_dd")
"""Measures that count from a day: the planting, or the new year of what stood before it."""


def value(row: pd.Series, measure: str, units: Units) -> str:
    """Return a measure of a variety with its range."""
    unit = MEASURES[measure][0]
    return measures.measured(
        row[measure], row[f"{measure}_q05"], row[f"{measure}_q95"], unit, units
    )


def value_of(measure: str, units: Units, review: VarietyReview) -> Callable[[pd.Series], str]:
    """Return the words of a cell: a measure, and from when on it counts where not from planting."""

    def words(row: pd.Series) -> str:
        said = value(row, measure, units)
        if not said or measure not in COUNTED:
            return said
        since = since_when(review, str(row["crop"]), str(row["variety"]), units)
        return f"{said} from {since}" if since else said

    return words


def since_when(review: VarietyReview, crop: str, variety: str, units: Units) -> str:
    """Return the day from which heat of a variety counts; empty where that is its planting.

    Of what stands from year to year, and where no planting is written down, it is the beginning of
    the year.
    """
    mine = [frame[(frame["crop"] == crop) & (frame["variety"] == variety)]
            for frame in (review.table, review.by_bed)]  # fmt: skip
    day, planted = mine[0]["counted_from"].min(), mine[1]["planted"].min()
    return "" if day == planted or pd.isna(day) else wording.day(day, units, weekday=False)


def since_of_crop(review: VarietyReview, crop: str, units: Units) -> str:
    """Return from when on the heat of the varieties of a crop counts."""
    names = review.table.loc[review.table["crop"] == crop, "variety"].astype(str)
    days = dict.fromkeys(since_when(review, crop, name, units) or "planting" for name in names)
    return " or ".join(days) or "planting"


def best_words(review: VarietyReview, crop: str) -> str:
    """Return what being best means: of the picks so far where the rest may turn it round."""
    return "best so far" if crop in review.no_verdict else "best"


def chance_in(chances: dict[str, float]) -> Callable[[pd.Series], str]:
    """Return the words of a cell: the chance of being best."""
    # A variety may stand in the table without a chance: too little is known to rank it.
    return lambda row: wording.chance(chances[row["variety"]]) if row["variety"] in chances else ""


def chances_of(review: VarietyReview, crop: str, measure: str) -> dict[str, float]:
    """Return the chance of every variety of a crop to be its best by a measure."""
    best = review.best
    own = best.loc[(best["crop"] == crop) & (best["measure"] == measure)]
    return {str(r["variety"]): float(r["probability_best"]) for _, r in own.iterrows()}


def date_words(row: pd.Series, name: str, units: Units, *, year: bool = False) -> str:
    """Return a date with its range, and with its year where the season crosses New Year."""
    if pd.isna(row[name]):
        return ""
    days = [row[name], *(row[f"{name}{end}"] for end in ("_q05", "_q95"))]
    middle, low, high = (wording.day(day, units, weekday=False, year=year) for day in days)
    return middle if pd.isna(days[1]) or pd.isna(days[2]) else f"{middle} ({low} to {high})"


def verdict(row: pd.Series) -> str:
    """Return whether the log tells two varieties apart."""
    if row["told_apart"]:
        return "told apart"
    # Sure enough, but a season that is not over yet may turn it round.
    return "no verdict yet" if row["probability_better"] >= APART else "not told apart"


def verdict_lines(review: VarietyReview) -> list[str]:
    """Return what stays, gets another try and goes, of the crops with several varieties."""
    told = review.verdicts
    told = told[told["against"].notna()]
    lines = []
    for code, words in VERDICTS.items():
        own = told[told["verdict"] == code]
        names = [
            f"{wording.clean(row['variety'])} ({wording.clean(row['crop'])})"
            for _, row in own.iterrows()
        ]
        if names:
            lines.append(f"{words.capitalize()}, by yield alone: {', '.join(names)}.")
    return lines


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
            words = (
                f"  {name}: {value(row, 'kg_per_plant', units) or wording.UNKNOWN}; first pick "
                f"{wording.day(row['first_pick_date'], units, year=review.crosses_new_year)}"
            )
            best = chances.get(str(row["variety"]), float("nan"))
            if best == best:
                words += f"; {best_words(review, str(crop))} with chance {wording.chance(best)}"
            out.append(words)
    said = [*verdict_lines(review), *(wording.clean(line) for line in review.text[1:])]
    return "\n".join([*out, *(["", *said] if said else [])])
