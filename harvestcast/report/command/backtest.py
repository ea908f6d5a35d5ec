"""The command that scores past forecasts: backtest."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from harvestcast.report.command.terminal import (
    FOLDER,
    SEED,
    Progress,
    SeasonOf,
    command,
    in_words_of,
    show,
    show_json,
)


@click.command(
    epilog="Example: harvestcast backtest my_garden --year 2026 --weeks 2",
    short_help="How far off past forecasts were.",
)
@FOLDER
@click.option("--year", type=SeasonOf(), help="Season, by the year it begins in: 2025, or "
              "2025/26; left out: the last one of the log.")  # fmt: skip
@click.option("--weeks", type=click.IntRange(1, 8), default=1, show_default=True,
              help="Weeks ahead.")  # fmt: skip
@SEED
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path),
              help="CSV file for every forecast and its score.")  # fmt: skip
@command
def backtest(
    folder: Path,
    year: int | None,
    weeks: int,
    seed: int,
    out: Path | None,
    as_json: bool,
    progress: Progress,
) -> None:
    """Forecast a past season again from what was known, and say how far off it was."""
    from harvestcast.growth.backtest import backtest as score
    from harvestcast.records.garden import open_garden
    from harvestcast.records.writing.report_file import check_target, write_table
    from harvestcast.report import backtest as words
    from harvestcast.report.check import needs_picks

    if out is not None:
        check_target(out, "table")
    progress("reading the garden")
    garden = open_garden(folder)
    in_words_of(garden)
    needs_picks(garden)
    progress("forecasting week after week")
    bar = sys.stderr.isatty()
    if bar:
        progress.broken()  # the bar has a line of its own
    scores = score(garden, year, weeks=weeks, by="crop", seed=seed, progress=bar)
    progress.done()
    if out is not None:
        write_table(out, scores)
    table = words.against_last_week(garden, scores)
    if as_json:
        show_json(words.summary(garden, scores, table))
        return
    show(words.terminal(garden, scores, table))
