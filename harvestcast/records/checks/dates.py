"""Dates that can hardly be meant: a month or a year mistaken on one day of a log kept in order.

Everything here is only said, never changed.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from harvestcast.records.tables.findings import Findings
from harvestcast.words.days import spoken

NEAR_DAYS = 7
"""Days within which the lines around a stray one lie of each other."""
FAR_DAYS = 20
"""Days by which a stray line is away from both."""
ORDERED = 0.9
"""Share of lines that follow the one before in time from which on a file is kept in order."""
FEWEST = 5
"""Days with picks before the last one from which a jump at the end of a file can be told."""


def say_stray_dates(picks: pd.DataFrame, findings: Findings) -> None:
    """Say days that lie far from those of the lines before and after.

    Parameters
    ----------
    picks : pandas.DataFrame
        PICKS frame.
    findings : Findings
        Takes one notice a stray day of a file.
    """
    known = picks.dropna(subset=["file", "line", "date"])
    for file, lines in known.groupby("file", sort=True):
        lines = lines.sort_values("line", kind="stable")
        dates = lines["date"].to_numpy().astype("datetime64[D]")
        starts = np.flatnonzero(np.concatenate(([True], dates[1:] != dates[:-1])))
        day, first = dates[starts], lines["line"].to_numpy()[starts]
        for place, around in _strays(day.astype(np.int64)):
            findings.notice(
                "date.stray",
                str(file),
                int(first[place]),
                "date",
                spoken(day[place].item()),
                around=[day[i].item() for i in around],
            )


def _strays(day: np.ndarray) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield the places of stray days among those of a file, with the days they are far from."""
    if len(day) < 2 or (np.diff(day) > 0).mean() < min(ORDERED, 1.0 - 1.5 / (len(day) - 1)):
        return
    for place in range(1, len(day)):
        before = abs(day[place] - day[place - 1])
        if place + 1 < len(day):
            after = abs(day[place + 1] - day[place])
            near = abs(day[place + 1] - day[place - 1]) <= NEAR_DAYS
            if near and before > FAR_DAYS and after > FAR_DAYS:
                yield place, (place - 1, place + 1)
        # At the end nothing follows: only what is a month or a year off is told from a pause.
        elif (
            place >= FEWEST
            and np.median(np.abs(np.diff(day[:place]))) <= NEAR_DAYS
            and any(abs(before - off) <= NEAR_DAYS / 2 for off in (31, 365))
        ):
            yield place, (place - 1,)
