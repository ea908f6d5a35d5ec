"""A season looked back on: what its page, summary and JSON are made of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from harvestcast.report.plain import plain, rows
from harvestcast.words.amounts import Units
from harvestcast.words.crops import crops_said_as

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden
    from harvestcast.season.review.varieties import VarietyReview


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeasonEnd:
    """What the season's page shows: the review and the settings it is worded by."""

    place: str
    units: Units
    review: VarietyReview
    crop_words: Mapping[str, str] = field(default_factory=dict)


def season_of(garden: Garden, review: VarietyReview) -> SeasonEnd:
    """Put a review beside the settings of its garden."""
    place = garden.household.place or garden.name
    return SeasonEnd(
        place=place, units=garden.household.units, review=review, crop_words=garden.crop_words
    )


def looked_back(
    folder: str | Path,
    *,
    year: int | None = None,
    seed: int = 1,
    say: Callable[[str], None] | None = None,
) -> SeasonEnd:
    """Open a garden and compare its varieties.

    Parameters
    ----------
    folder : path
        The garden folder.
    year : int, optional
        The season; left out: the last one of the log.
    seed : int
        Seed of the draws.
    say : callable, optional
        Told what is being done.
    """
    from harvestcast.records.garden import open_garden

    tell = say or (lambda words: None)
    tell("reading the garden")
    garden = open_garden(folder)
    from harvestcast.season.review.varieties import compare_varieties

    tell("comparing the varieties")
    wanted = last_season(garden) if year is None else year
    with crops_said_as(garden.crop_words):
        return season_of(garden, compare_varieties(garden, year=wanted, seed=seed))


def last_season(garden: Garden) -> int:
    """Return the last season in which anything that was planted for it bore."""
    from harvestcast.season.yields.plantings import seasons_with_picks

    return max(seasons_with_picks(garden))


def next_season(garden: Garden) -> int:
    """Return the season after the one of the log's last day; of an empty log that of today."""
    import pandas as pd

    last = garden.last_day
    day = pd.Timestamp(dt.date.today()) if last is None else last
    return garden.seasons.of(day) + 1


def summary(season: SeasonEnd, report: str | None = None) -> dict[str, Any]:
    """Return the season as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("season"), ``place``, ``units``, ``year``, ``draws``, ``seed``, ``report``,
        ``text``, ``no_verdict``; the tables ``varieties``, ``plantings``, ``measures``, ``best``,
        ``told_apart``, ``verdicts``, ``over_seasons``, ``average_year``, ``all_seasons``,
        ``kitchen_lessons``, ``over_capacity`` with the columns of
        :mod:`harvestcast.frames.season_tables`; metric, unknown is null.
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
        "plantings": rows(review.by_bed),
        "measures": rows(review.measures),
        "best": rows(review.best),
        "told_apart": rows(review.told_apart),
        "verdicts": rows(review.verdicts),
        "over_seasons": rows(review.over_seasons),
        "average_year": rows(review.normalised),
        "all_seasons": rows(review.pooled),
        "no_verdict": list(review.no_verdict),
        "kitchen_lessons": rows(review.kitchen_lessons),
        "over_capacity": rows(review.over_capacity),
    }
