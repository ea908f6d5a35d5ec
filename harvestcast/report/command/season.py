"""The command that looks back on a season: season."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from harvestcast.report.command.terminal import (
    FOLDER,
    NO_REPORT,
    OUT,
    PDF,
    SEED,
    Progress,
    SeasonOf,
    command,
    deliver,
    in_words_of,
    may_write,
    say_left_out,
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
