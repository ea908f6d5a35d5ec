"""The command that scores past forecasts: backtest."""

from __future__ import annotations

import sys
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
)


@click.command(
    epilog="Example: harvestcast backtest my_garden --year 2026 --weeks 2",
    short_help="How far off past forecasts were.",
)
@FOLDER
@click.option("--year", type=SeasonOf(), help="Season, by the year it begins in: 2025, or "
              "2025/26; left out: all seasons of the log.")  # fmt: skip
@click.option("--weeks", type=click.IntRange(1, 8), default=1, show_default=True,
              help="Weeks ahead.")  # fmt: skip
@SEED
@click.option("--csv", type=click.Path(dir_okay=False, path_type=Path),
              help="CSV file for every forecast and its score.")  # fmt: skip
@OUT
@PDF
@NO_REPORT
@command
def backtest(
    folder: Path,
    year: int | None,
    weeks: int,
    seed: int,
    csv: Path | None,
    as_json: bool,
    progress: Progress,
    **given: Any,
) -> None:
    """Forecast past seasons again from what was known, and say how far off it was."""
    from harvestcast.records.writing.report_file import check_target, write_table
    from harvestcast.report.backtest.results import forecast_again
    from harvestcast.report.backtest.words import summary, terminal

    may_write(**given)
    if csv is not None:
        check_target(csv, "table")

    def say(words: str) -> None:
        progress(words)
        if bar:
            progress.broken()  # the bar has a line of its own

    bar = sys.stderr.isatty()
    past = forecast_again(folder, year=year, weeks=weeks, seed=seed, say=say, bar=bar)
    in_words_of(past)
    if csv is not None:
        write_table(csv, past.scores)
    deliver(
        "backtest",
        "backtest",
        past,
        summary=summary,
        terminal=terminal,
        folder=folder,
        as_json=as_json,
        progress=progress,
        **given,
    )
