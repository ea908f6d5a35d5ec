"""The command that plans next year's beds: next."""

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
    "next",
    epilog="Example: harvestcast next my_garden --year 2027 --probability 0.9",
    short_help="How many plants to set next year, and when.",
)
@FOLDER
@click.option("--year", type=SeasonOf(), help="Season to plan, by the year it begins in: 2027, or "
              "2027/28; left out: the one after the log's last.")  # fmt: skip
@click.option("--probability", type=click.FloatRange(0.5, 0.99), default=0.9, show_default=True,
              help="Share of years in which each target is met.")  # fmt: skip
@click.option("--seeds", type=click.Path(dir_okay=False, path_type=Path), help="Write what to "
              "order to this CSV file, for a spreadsheet.")  # fmt: skip
@SEED
@OUT
@PDF
@NO_REPORT
@command
def next_(
    folder: Path,
    year: int | None,
    probability: float,
    seeds: Path | None,
    seed: int,
    as_json: bool,
    progress: Progress,
    **given: Any,
) -> None:
    """Plan next season's beds so that appetite and pantry are met with little left over."""
    from harvestcast.records.garden import open_garden
    from harvestcast.records.writing.report_file import check_target, write_table
    from harvestcast.report.next.results import next_of, summary
    from harvestcast.report.next.words import terminal
    from harvestcast.report.season.results import next_season

    may_write(**given)
    if seeds is not None:
        check_target(seeds, "table")
    progress("reading the garden")
    garden = open_garden(folder)
    from harvestcast.season.next.plan import plan_next_season

    in_words_of(garden)
    say_left_out(garden, progress)
    progress("planning the beds")
    wanted = next_season(garden) if year is None else year
    plan = plan_next_season(garden, year=wanted, probability=probability, seed=seed)
    if seeds is not None:
        # Whole numbers without a decimal point, though some of them are unknown.
        write_table(seeds, plan.seeds.convert_dtypes())
    deliver(
        "next",
        f"next_{plan.year}",
        next_of(garden, plan),
        summary=summary,
        terminal=terminal,
        folder=folder,
        as_json=as_json,
        progress=progress,
        **given,
    )
