"""The commands that look over a season: ahead once the beds are in, season at its end."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from harvestcast.report.command.terminal import (
    FOLDER,
    NO_REPORT,
    OUT,
    PDF,
    SEED,
    Day,
    Progress,
    SeasonOf,
    command,
    deliver,
    in_words_of,
    may_write,
    say_left_out,
)


@click.command(
    epilog="Example: harvestcast ahead my_garden --as-of 2026-06-01",
    short_help="What the whole season brings, once the beds are in.",
)
@FOLDER
@click.option("--as-of", type=Day(), help="Last day known, such as 2026-06-01 or 1 June; left "
              "out: the last day of the log or of the weather record.")  # fmt: skip
@SEED
@OUT
@PDF
@NO_REPORT
@command
def ahead(
    folder: Path,
    as_of: dt.date | None,
    seed: int,
    as_json: bool,
    progress: Progress,
    **given: Any,
) -> None:
    """Say what the season brings week by week, and when shelf, jars and freezer are full."""
    from harvestcast.report.season.ahead.results import looked_ahead, summary
    from harvestcast.report.season.ahead.words import terminal

    may_write(**given)
    day = None if as_of is None else as_of.isoformat()
    found = looked_ahead(folder, as_of=day, seed=seed, say=progress)
    in_words_of(found)
    deliver(
        "ahead",
        f"ahead_{found.ahead.as_of.date().isoformat()}",
        found,
        summary=summary,
        terminal=terminal,
        folder=folder,
        as_json=as_json,
        progress=progress,
        **given,
    )


@click.command(
    epilog="Example: harvestcast season my_garden --year 2026",
    short_help="Compare the varieties of a season.",
)
@FOLDER
@click.option("--year", type=SeasonOf(), help="Season, by the year it begins in: 2025, or "
              "2025/26; left out: the last one of the log.")  # fmt: skip
@SEED
@OUT
@PDF
@NO_REPORT
@command
def season(
    folder: Path,
    year: int | None,
    seed: int,
    as_json: bool,
    progress: Progress,
    **given: Any,
) -> None:
    """Compare the varieties of a season, and what it taught the kitchen."""
    from harvestcast.records.garden import open_garden
    from harvestcast.report.check import needs_picks
    from harvestcast.report.season.results import last_season, season_of, summary
    from harvestcast.report.season.words import terminal

    may_write(**given)
    progress("reading the garden")
    garden = open_garden(folder)
    from harvestcast.season.review.varieties import compare_varieties

    in_words_of(garden)
    needs_picks(garden)
    say_left_out(garden, progress)
    progress("comparing the varieties")
    wanted = last_season(garden) if year is None else year
    review = compare_varieties(garden, year=wanted, seed=seed)
    deliver(
        "season",
        f"season_{review.year}",
        season_of(garden, review),
        summary=summary,
        terminal=terminal,
        folder=folder,
        as_json=as_json,
        progress=progress,
        **given,
    )
