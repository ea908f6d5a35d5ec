"""The command that looks ahead over the whole season: ahead."""

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
    from harvestcast.report.ahead.results import looked_ahead, summary
    from harvestcast.report.ahead.words import terminal

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
