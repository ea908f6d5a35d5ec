"""Parts of the page of a back-test."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast import figures
from harvestcast.report.backtest.results import PastWeeks, forecast_again
from harvestcast.report.backtest.words import NOTHING_KNOWN, lead, span_words, within_words
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.words import amounts as wording

PARAMETERS = ("year", "weeks", "seed")
"""What the page can be made with besides the folder."""


@page.in_own_words
def head(past: PastWeeks) -> Piece:
    """Return the title and the verdict."""
    seasons = wording.listing(past.seasons)
    return page.title(
        f"Forecasts looked back on: {past.place}, {seasons}",
        [span_words(past)] if len(past.scores) else [],
        page.bullets(lead(past), NOTHING_KNOWN),
    )


@page.in_own_words
def by_crop(past: PastWeeks) -> Piece:
    """Return, crop by crop, how far off a week was, beside the simplest other forecast."""
    units = past.units

    def mass_of(name: str) -> Callable[[pd.Series], str]:
        return lambda row: wording.mass(row[name], units)

    table = page.table(
        past.by_crop,
        [
            Cell(heading="Crop", words=page.column("crop")),
            Cell(heading="Picked a week", words=mass_of("picked_kg"), number=True),
            Cell(heading="Off by, this forecast", words=mass_of("error_kg"), number=True),
            Cell(heading="Off by, last seven days again", words=mass_of("last_week_error_kg"),
                 number=True),
            Cell(heading="Weeks within the range", words=within_words, number=True),
        ],
        caption="Mean error of a week; the range is meant to hold eight weeks in ten",
        empty="No week was scored.",
        stacked=True,
    )  # fmt: skip
    return page.section(
        "How far off",
        "Beside each error stands that of the simplest forecast there is: as much as came in the "
        "last seven days. In the last row what is picked by the basket weighs most.",
        [table],
    )


@page.in_own_words
def said_and_came(past: PastWeeks) -> Piece:
    """Return a figure a crop: the range that was said of each week, and what came."""
    first = past.scores.loc[past.scores["week"] == 1]
    made = []
    for crop, own in first.groupby("crop", sort=True, observed=True):
        given: dict[str, Any] = {
            "units": past.units,
            "title": wording.clean(str(crop)).capitalize(),
        }
        ax = figures.said_and_came(own, **given)
        made.append(page.figure(ax, figures.said_and_came_alt(own, **given)))
    return page.section(
        "Said and came",
        "Each bar is the range said a week ahead, its line the middle, each diamond what came.",
        [page.grid(made, "No week was scored.")],
    )


PARTS = (head, by_crop, said_and_came)
"""The parts in their order."""


def parts(
    folder: Path,
    *,
    results: PastWeeks | None = None,
    say: Callable[[str], None] | None = None,
    **parameters: Any,
) -> list[Piece]:
    """Return the parts of the page of a garden folder.

    Parameters
    ----------
    folder : path
        The garden folder.
    results : PastWeeks, optional
        Results computed already.
    say : callable, optional
        Told what is being done.
    **parameters
        As :func:`harvestcast.report.backtest.results.forecast_again` takes them.

    Raises
    ------
    TypeError
        Where the results are those of another report.
    """
    past = results if results is not None else forecast_again(folder, say=say, **parameters)
    if not isinstance(past, PastWeeks):
        raise TypeError(f"a back-test is made of PastWeeks, not of {type(past).__name__}")
    return [part(past) for part in PARTS]
