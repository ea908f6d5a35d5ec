"""The figure of a back-test: what was said, and what came."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from harvestcast.figures.look import INK, MID, PALE, crown, styled, week_axes
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

SEASONS_APART_DAYS = 60
"""Days between two origins from which on they are of two seasons."""


@styled()
def said_and_came(
    scores: pd.DataFrame, *, units: Units, title: str, ax: Axes | None = None
) -> Axes:
    """Draw, week after week, the range that was forecast and the harvest that came.

    Parameters
    ----------
    scores : pandas.DataFrame
        Rows of one crop or variety and one week ahead of a back-test: ``origin``, ``observed``,
        ``q10``, ``q50``, ``q90`` (kg).
    units : {"us", "metric"}
        Units of the axis.
    title : str
        Heading, plain text.
    ax : matplotlib.axes.Axes, optional
        Where to draw; left out: axes of their own.

    Returns
    -------
    matplotlib.axes.Axes
    """
    assert ax is not None
    rows = scores.sort_values("origin")
    # A season apart is drawn a week apart, so that no line seems to join them.
    new = rows["origin"].diff().dt.days.gt(SEASONS_APART_DAYS).cumsum().to_numpy()
    at = np.arange(len(rows)) + new
    low, middle, high, came = (
        wording.in_mass_unit(rows[name].to_numpy(float), units)
        for name in ("q10", "q50", "q90", "observed")
    )
    ax.bar(at, high - low, bottom=low, width=0.62, color=PALE, edgecolor=MID, linewidth=0.6,
           label="said, 8 in 10")  # fmt: skip
    ax.hlines(middle, at - 0.31, at + 0.31, color=INK, linewidth=1.4, label="said, middle")
    ax.plot(at, came, linestyle="none", marker="D", markersize=4.5, markerfacecolor="white",
            markeredgecolor=INK, label="came")  # fmt: skip
    starts = [day + pd.Timedelta(days=1) for day in rows["origin"]]
    week_axes(ax, at, starts, units, "a week")
    if len(at):
        _name_seasons(ax, at, np.flatnonzero(np.diff(new, prepend=-1)), starts, units)
    crown(ax, title, ncols=3)
    return ax


def _name_seasons(
    ax: Axes, at: np.ndarray, firsts: np.ndarray, starts: list[pd.Timestamp], units: Units
) -> None:
    """Write the year under the first week of each season, and few other days."""
    step = max(1, -(-len(at) // 7))
    others = [i for i in range(0, len(at), step) if np.abs(firsts - i).min() >= step]
    shown = sorted({*others, *firsts})
    ax.set_xticks(
        at[shown],
        [
            wording.day(starts[i], units, weekday=False)
            + (f"\n{starts[i].year}" if i in firsts else "")
            for i in shown
        ],
    )


def said_and_came_alt(scores: pd.DataFrame, *, units: Units, title: str) -> str:
    """Return the figure :func:`said_and_came` in words."""
    inside = ((scores["observed"] >= scores["q10"]) & (scores["observed"] <= scores["q90"])).sum()
    return (
        f"{title}: forecast and harvest of {len(scores)} weeks; "
        f"{inside} of them lay within the range."
    )
