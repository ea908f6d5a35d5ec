"""The command for the coming week: week."""

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
    command,
    deliver,
    in_words_of,
    may_write,
)


@click.command(
    epilog="Example: harvestcast week my_garden --as-of 2026-07-19 --out this_week.html",
    short_help="What is coming, what to put up, what to buy.",
)
@FOLDER
@click.option("--as-of", type=Day(), help="Last day known, such as 2026-07-19 or 19 July; left "
              "out: the last day of the log.")  # fmt: skip
@click.option("--weeks", type=click.IntRange(1, 12), default=3, show_default=True,
              help="Weeks ahead.")  # fmt: skip
@click.option("--afresh", is_flag=True, help="Plan anew: what was decided before does not stand.")
@SEED
@OUT
@PDF
@NO_REPORT
@command
def week(
    folder: Path,
    as_of: dt.date | None,
    weeks: int,
    afresh: bool,
    seed: int,
    as_json: bool,
    progress: Progress,
    **given: Any,
) -> None:
    """Say what is coming, what to put up on which day, what to buy, what is left over.

    Writes the week's report as one HTML file and a short summary to the terminal. What was decided
    before stands unless something real has changed, and then the change is named.
    """
    from harvestcast.report.week.results import planned_week
    from harvestcast.report.week.summary import summary
    from harvestcast.report.week.words import terminal

    may_write(**given)
    day = None if as_of is None else as_of.isoformat()
    found = planned_week(
        folder, as_of=day, weeks=weeks, seed=seed, say=progress, today=dt.date.today(),
        note=progress.note, afresh=afresh,
    )  # fmt: skip
    in_words_of(found)
    deliver(
        "week",
        f"week_{found.as_of.date().isoformat()}",
        found,
        summary=summary,
        terminal=terminal,
        folder=folder,
        as_json=as_json,
        progress=progress,
        **given,
    )
